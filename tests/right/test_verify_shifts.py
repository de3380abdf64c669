"""Is a constant latency or offset found and told, and never taken for what is none?"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from ponds import BARE, MAP, D, H, L, Rows, S, W, capture, pond, rows, with_words
from soaked import few

import vdpsim
from vdpsim.handoff.verifying.shift import Shift


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    return pond(tmp_path_factory.mktemp("pond"))


@pytest.fixture(scope="module")
def every(folder) -> Rows:
    return rows(folder)


def picture(folder: Path, told: Rows) -> np.ndarray:
    """Entries (frames, lines, dots) of records of dots."""
    out = np.full((3, H, W), -1)
    for row in told:
        if row[0] == "dot":
            out[int(row[1]), int(row[2]), int(row[3])] = int(row[4], 16)
    return out


def dots(frames: np.ndarray, outside: Callable[[int, int, int], int | None], late: tuple[int, int] = (0, 0)) -> Rows:
    """What a design prints at each dot of the picture that shows ``frames`` late by lines and dots, and else ``outside``."""
    told, entries = [], frames.tolist()
    for frame, line, dot in np.ndindex(frames.shape):
        from_line, from_dot = divmod(line * D + dot - late[0] * D - late[1], D)
        inside = 0 <= from_line < H and from_dot < W
        entry = entries[frame][from_line][from_dot] if inside else outside(frame, line, dot)
        if entry is not None:
            told.append(["dot", str(frame), str(line), str(dot), f"{entry:x}"])
    return told


def verified(tmp_path: Path, folder: Path, told: Rows) -> vdpsim.Verified:
    return vdpsim.verify(capture(tmp_path / "capture.txt", told), folder)


def blank(_frame: int, _line: int, _dot: int) -> int:
    return 0


LATE = [(0, 1), (0, -4), (1, 0), (2, -3), (0, 3), (0, 15), (0, -1), (-2, 0), (8, 0)]
"""By how many lines and dots a picture comes late; every run tries the first four."""


@pytest.mark.parametrize(("down", "across"), few(LATE, LATE[:4].__contains__))
def test_a_latency_of_all_dots_is_found_and_told(tmp_path, folder, every, down, across):
    late, frames = (down, across), picture(folder, every)
    found = verified(tmp_path, folder, dots(frames, blank, late))
    assert found.same and found.shifts == {"dot": Shift(*late)}
    assert found.outcomes["dot"].seen == (H - abs(late[0])) * (W - abs(late[1])) * 3
    words = [f"{abs(late[1])} dot", f"{abs(late[0])} line"][late[1] == 0]
    assert words in found.text() and ("late" if max(late) > 0 else "early") in found.text()


def test_one_dot_beyond_the_farthest_is_no_latency(tmp_path, folder, every):
    """The pond has less blanking than 64 dots and 8 lines: so far it goes. 65 dots late is a line late and 5 early."""
    frames = picture(folder, every)
    for far, same in ((8, True), (9, False)):
        assert verified(tmp_path, folder, dots(frames, blank, (far, 0))).same is same
    for far in (64, -64):
        found = verified(tmp_path, folder, dots(frames, blank, (0, far)))
        assert found.same and found.shifts == {"dot": Shift(0, far)}
        found = verified(tmp_path, folder, dots(frames, blank, (0, far + far // 64)))
        assert found.same and found.shifts == {"dot": Shift(far // 64, far // 64 * (65 - D))}


def test_a_latency_with_one_dot_wrong_is_told_with_the_dot(tmp_path, folder, every):
    told = dots(picture(folder, every), blank, (0, 2))
    where = (1 * H + 30) * W + 22
    told[where][4] = "1f"
    found = verified(tmp_path, folder, told)
    assert found.shifts == {"dot": Shift(0, 2)} and found.outcomes["dot"].wrong == 1
    assert found.first[1][:4] == (1, 30, 20, "unlike")


def test_a_latency_that_one_frame_breaks_is_not_excused(tmp_path, folder, every):
    """The first two frames are late by 2, the last by 3."""
    frames = picture(folder, every)
    two, three = (dots(frames, blank, (0, late)) for late in (2, 3))
    found = verified(tmp_path, folder, [row for row in two if row[1] != "2"] + [row for row in three if row[1] == "2"])
    assert not found.same and found.shifts == {"dot": Shift(0, 2)} and found.first[1].frame == 2


def test_dots_and_accesses_each_have_their_own_latency(tmp_path, folder, every):
    told = []
    for row in every:
        if row[0] == "access":
            line, slot = divmod(int(row[2]) * S + int(row[3]) + 5, S)
            told.append([*row[:2], str(line), str(slot), *row[4:]])
    told += dots(picture(folder, every), blank, (0, 1))
    found = verified(tmp_path, folder, told)
    assert found.same and found.shifts == {"dot": Shift(0, 1), "access": Shift(0, 5)}


def test_accesses_late_over_the_frames_end_belong_to_the_frame_before(tmp_path, folder, every):
    told = []
    for row in every:
        if row[0] == "access":
            frame, time = divmod(int(row[1]) * L * S + int(row[2]) * S + int(row[3]) + 8 * S, L * S)
            told.append(["access", str(frame), *map(str, divmod(time, S)), *row[4:]])
    found = verified(tmp_path, folder, told)
    assert found.same and found.shifts == {"access": Shift(8, 0)}
    assert found.outcomes["access"].seen == len(told)


def test_flags_and_collisions_may_be_late_as_the_dots_are_and_not_by_themselves(tmp_path, folder, every):
    late = [[*row[:3], str(int(row[3]) + 2), *row[4:]] for row in every if row[0] in {"flag", "collision"}]
    with_dots = verified(tmp_path, folder, dots(picture(folder, every), blank, (0, 2)) + late)
    assert with_dots.same and with_dots.shifts == dict.fromkeys(("dot", "collision", "flag"), Shift(0, 2))
    assert not verified(tmp_path, folder, dots(picture(folder, every), blank) + late).same
    assert not verified(tmp_path, folder, late).same


@pytest.mark.parametrize("by", few([1, -1, 4, 100], (1, -1).__contains__))
def test_frames_numbered_otherwise_are_found(tmp_path, folder, every, by):
    told = [[row[0], str(int(row[1]) + by), *row[2:]] for row in every if int(row[1]) + by >= 0]
    found = verified(tmp_path, folder, told)
    assert found.same and found.renumbered == -by
    assert f"frame N of the capture is frame N {-by:+d} of the folder" in found.text()


def test_an_offset_of_all_entries_or_addresses_is_found(tmp_path, folder, every):
    told = [[*row[:4], f"{int(row[4], 16) + 32:x}"] for row in every if row[0] == "dot"]
    told += [[*row[:5], f"{int(row[5], 16) + 0x40000:x}", *row[6:]] for row in every if row[0] == "access"]
    found = verified(tmp_path, folder, told)
    assert found.same and found.shifts == {"dot": Shift(0, 0, 32), "access": Shift(0, 0, 0x40000)}
    assert "with address 0x40000 more than expected" in found.text()


def test_an_offset_and_a_latency_of_accesses_are_found_together(tmp_path, folder, every):
    told = [
        [*row[:3], str(int(row[3]) + 1), row[4], f"{int(row[5], 16) + 0x800:x}", row[6]]
        for row in every
        if row[0] == "access"
    ]
    assert verified(tmp_path, folder, told).shifts == {"access": Shift(0, 1, 0x800)}


def test_one_entry_for_another_everywhere_is_no_offset(tmp_path):
    """A uniform picture in a wrong colour: every dot is off by the same constant, and nothing else tells that it is one."""
    folder = pond(tmp_path, picture=np.ones(MAP, int))
    told = [[*row[:4], "2"] if row[4] == "001" else row[:5] for row in rows(folder, "dot")]
    assert not verified(tmp_path, folder, told).same


def test_a_scroll_off_by_one_is_not_excused_where_sprites_stand_still(tmp_path, folder, every):
    """The reeds as they would show one dot further left; the sprites, and nothing else, where they belong."""
    frames = picture(folder, every)
    sprite = np.full(frames.shape, -1)
    for row in every:
        if row[0] == "dot":
            sprite[int(row[1]), int(row[2]), int(row[3])] = int(row[8])
    moved = np.concatenate([frames[..., 1:], frames[..., :1]], axis=2)
    behind = np.concatenate([sprite[..., 1:], sprite[..., :1]], axis=2) >= 0
    scrolled = np.where(sprite >= 0, frames, np.where(behind, 5, moved))
    found = verified(tmp_path, folder, dots(scrolled, blank))
    assert not found.same
    assert "without that" in found.text() if found.shifts else found.outcomes["dot"].wrong


def test_a_scroll_off_by_one_without_anything_that_stands_is_told_by_the_dots_beside(tmp_path, folder, every):
    """A design that is early shows blanking behind the picture; this one shows more picture there."""
    frames = picture(folder, every)
    rng = np.random.default_rng(2)
    scrolled = np.concatenate([frames[..., 1:], rng.integers(1, 32, (3, H, 1))], axis=2)
    found = verified(tmp_path, folder, dots(scrolled, blank))
    assert not found.same and found.outcomes["dot"].counts.get("beside", 0) > 100
    assert "beside the picture" in found.text()


def test_one_layer_late_by_a_dot_is_not_excused(tmp_path, folder, every):
    """The sprites are a dot late, the reeds are not: both ways to see it leave dots unlike."""
    frames = picture(folder, every)
    sprite = np.full(frames.shape, -1)
    for row in every:
        if row[0] == "dot":
            sprite[int(row[1]), int(row[2]), int(row[3])] = int(row[8])
    late, shows = np.roll(frames, 1, 2), np.roll(sprite, 1, 2) >= 0
    found = verified(tmp_path, folder, dots(np.where(shows, late, np.where(sprite >= 0, 7, frames)), blank))
    assert not found.same and found.shifts == {} and found.first[1].sort == "unlike"


@pytest.mark.parametrize("wide", [2, 8])
def test_a_periodic_picture_gives_the_smallest_shift_and_says_that_others_fit(tmp_path, wide):
    """Upright stripes of ``wide`` dots and as many between, without sprites on most lines: a shift of 2 x wide fits as well."""
    stripes = np.tile(np.arange(MAP[1]) // wide % 2, (MAP[0], 1))
    folder = pond(tmp_path, frames=range(3), picture=stripes)
    frames = picture(folder, rows(folder))
    told = [row for row in dots(frames, lambda *_: None, (0, 1)) if int(row[2]) >= BARE]
    found = verified(tmp_path, folder, told)
    assert found.same and found.shifts == {"dot": Shift(0, 1)}
    others = found.others["dot"]
    assert Shift(0, 1 + 2 * wide) in others or Shift(0, 1 - 2 * wide) in others
    assert "this is the smallest" in found.text()


def test_a_uniform_picture_has_no_latency_to_find(tmp_path):
    """All shifts fit lines of one entry: none is told. Ten dots wrong at the left are a fault, although a latency of ten dots
    would take them out of the picture.
    """
    folder = pond(tmp_path, picture=np.full(MAP, 5))
    frames = picture(folder, rows(folder))
    still = [row for row in dots(frames, blank) if int(row[2]) >= BARE]
    assert verified(tmp_path, folder, still).shifts == {}
    wrong = [[*row[:4], "9"] if int(row[3]) < 10 else row for row in still]
    found = verified(tmp_path, folder, wrong)
    assert not found.same and found.shifts == {} and found.first[1][:3] == (0, BARE, 0)
    assert found.outcomes["dot"].wrong == 3 * (H - BARE) * 10


def test_a_design_that_is_not_wired_is_no_latency(tmp_path, folder, every):
    frames = picture(folder, every)
    for entries in (np.zeros_like(frames), np.random.default_rng(3).integers(0, 32, frames.shape)):
        found = verified(tmp_path, folder, dots(entries, blank))
        assert not found.same and found.outcomes["dot"].seen == 3 * H * W


def test_a_capture_that_begins_within_a_frame_has_its_latency_told_too(tmp_path, folder, every):
    told = dots(picture(folder, every), blank, (0, 3))[H * W // 2 : 9 * H * W // 4]
    found = verified(tmp_path, folder, told)
    assert found.same and found.shifts == {"dot": Shift(0, 3)}


def test_black_frames_before_a_late_one_do_not_hide_the_latency(tmp_path):
    """Three frames of one entry, on which all shifts fit, then the picture: the hunt is for what fits all of them."""
    uniform = W + 2 * 3  # the picture moves by three dots a frame
    random = np.random.default_rng(1).integers(0, 16, MAP)
    random[:, :uniform] = 3
    folder = pond(tmp_path, frames=range(6), picture=random)
    every = rows(folder, "dot")
    frames = np.full((6, H, W), -1)
    for row in every:
        frames[int(row[1]), int(row[2]), int(row[3])] = int(row[4], 16)
    told = [row for row in dots(frames, lambda *_: 3, (0, 2)) if int(row[2]) >= BARE]
    found = verified(tmp_path, folder, told)
    assert found.same and found.shifts == {"dot": Shift(0, 2)}


def test_what_a_constant_may_be_is_told_with_what_speaks_for_which(tmp_path, folder, every):
    """Dots late without accesses, with right ones, and of a scroll that is wrong by a tile: then other cells are fetched."""
    late = dots(picture(folder, every), blank, (0, 8))
    told = "that is a latency, if it was built so, or a fault that moves all that shows, as a wrong scroll does; "
    accesses = [row for row in every if row[0] == "access"]
    wrong = with_words(
        accesses, lambda row: [*row[:5], f"{int(row[5], 16) + 2:06x}", *row[6:]] if row[4] == "0" else row
    )
    for more, speaks in (
        ([], "accesses, which this capture has not, would tell these apart"),
        (accesses, "all accesses are the same, so that no scroll is wrong by a group of dots or more"),
        (wrong, "accesses differ too, which speaks for a fault"),
    ):
        found = verified(tmp_path, folder, [*late, *more])
        assert found.shifts["dot"] == (0, 8, 0) and told + speaks in found.text()
    banked = with_words(every, lambda row: [*row[:4], f"{int(row[4], 16) + 16:03x}"] if row[0] == "dot" else None)
    told = "that is another base of the palette, if it was built so, or a fault that shows all in another bank"
    assert told in verified(tmp_path, folder, banked).text()
