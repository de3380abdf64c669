"""Is a fault told that lies where few look: below the picture, beside every frame, where a shift leaves nothing to compare?"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from ponds import BARE, FRAME, MAP, PICTURE, SCENE, D, H, L, Rows, S, W, capture, little, pond, rows
from soaked import few

import vdpsim


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    return pond(tmp_path_factory.mktemp("pond"))


@pytest.fixture(scope="module")
def every(folder) -> Rows:
    return rows(folder)


def verified(tmp_path: Path, folder: Path, told: Rows, **given: bool) -> vdpsim.Verified:
    return vdpsim.verify(capture(tmp_path / "capture.txt", told), folder, **given)


def exported(place: Path, text: str, frame: Mapping[str, Any], picture: np.ndarray, frames: int) -> Path:
    """A scene on a pond with another frame."""
    vdpsim.export(little(place, picture, text, frame), place / "out", frames=range(frames), only=["vectors"])
    return place / "out"


PLACES = [(str(L), "0"), ("-1", "5"), ("12", str(S)), ("12", "-1"), ("9999", "9999999")]


@pytest.mark.parametrize(
    ("place", "late"),
    few([(place, late) for late in (0, 3) for place in PLACES], lambda one: one[1] == 0 or one[0] in PLACES[:2]),
)
def test_an_access_where_no_frame_has_one_is_told(tmp_path, folder, every, place, late):
    told = []
    for row in every:
        if row[0] == "access":
            frame, at = divmod((int(row[1]) * L + int(row[2])) * S + int(row[3]) + late, L * S)
            told.append(["access", str(frame), *map(str, divmod(at, S)), *row[4:]])
    assert verified(tmp_path, folder, told).same
    wild = ["access", "1", *place, "0", "000123", "0000"]
    where = next(number for number, row in enumerate(told) if row[1] == "1") + 9
    found = verified(tmp_path, folder, [*told[:where], wild, *told[where:]])
    assert not found.same and found.outcomes["access"].wrong == 1 and "address 0x000123" in found.text()


def test_dots_beside_the_picture_are_counted(tmp_path, folder, every):
    told = [row for row in every if row[0] == "dot"]
    found = verified(tmp_path, folder, [*told, ["dot", "2", str(H), "0", "7"], ["dot", "2", "3", str(D - 1), "7"]])
    assert found.same and "beside the picture, and not compared: 2 dots of the capture" in found.text()


@pytest.mark.parametrize("frame", ["0", "1", "2"])
def test_a_flag_below_the_picture_that_does_not_come_is_told(tmp_path, folder, every, frame):
    """Nothing else of most captures lies on that line; what is told at the frame's end says that it is over."""
    told = [row for row in every if row[0] in {"dot", "flag", "left"}]
    gone = next(row for row in told if row[0] == "flag" and row[1] == frame and row[4] == "0")
    assert int(gone[2]) == H
    found = verified(tmp_path, folder, [row for row in told if row != gone])
    assert not found.same and found.first[1][:4] == (int(frame), H, int(gone[3]), "missing")


def test_a_capture_that_ends_with_the_picture_need_not_have_the_flags_below(tmp_path, folder, every):
    told = [row for row in every if row[0] == "dot" or (row[0] == "flag" and not (row[1] == "2" and row[2] == str(H)))]
    found = verified(tmp_path, folder, told)
    assert found.same and found.outcomes["flag"].absent > 0


def test_what_a_shift_moves_out_of_all_frames_came_nevertheless(tmp_path, folder, every):
    """Dots eight lines late; the only drop lies on a line that by this shift is one of the frame before the first."""
    dots = [[*row[:2], str(int(row[2]) + 8), *row[3:]] for row in every if row[0] == "dot" and int(row[2]) < H - 8]
    drop = next(row for row in every if row[0] == "drop" and int(row[2]) < 8)
    drops = [row for row in every if row[0] == "drop" and row[1:3] == drop[1:3]]
    found = verified(tmp_path, folder, dots + drops)
    assert list(found.shifts) == ["dot"] and found.outcomes["drop"].seen == len(drops)
    assert found.strange == () and "not in the folder" not in found.text()


WIDE = {**FRAME, "dots_per_line": 5 * W // 2}


@pytest.mark.parametrize(("late", "same"), [(W // 2, True), (W // 2 + 1, False), (W - 4, False)])
def test_a_shift_that_leaves_little_to_compare_is_none(tmp_path, late, same):
    """Blanking longer than the picture: a shift may move nearly all out of it, and what is left would excuse the rest."""
    picture = np.random.default_rng(6).integers(0, 16, MAP)
    folder = exported(tmp_path, SCENE.partition("[[sprites]]")[0], WIDE, picture, 1)
    shown = {tuple(map(int, row[2:4])): row[4] for row in rows(folder, "dot")}
    told = [["dot", "0", str(line), str(dot), shown.get((line, dot - late), "0")] for line, dot in np.ndindex(H, W)]
    found = verified(tmp_path, folder, told)
    assert found.same == same and (found.outcomes["dot"].seen > H * W // 2) != same


def test_wrong_dots_do_not_hide_a_latency_where_most_of_a_line_is_blanking(tmp_path):
    """Shifts that leave nothing to compare leave nothing unlike: there are more of them than are looked at closely."""
    folder = exported(tmp_path, SCENE, WIDE, PICTURE, 1)
    shown = {tuple(map(int, row[2:4])): row[4] for row in rows(folder, "dot")}
    told = [["dot", "0", str(line), str(dot), shown.get((line, dot - 2), "0")] for line, dot in np.ndindex(H, W)]
    for line in range(BARE, H):
        told[line * W + 20][4] = "1f"
    found = verified(tmp_path, folder, told)
    assert found.shifts == {"dot": (0, 2, 0)} and found.outcomes["dot"].wrong == H - BARE


SIZED = {"sizes": [[W + 8, H + 4], [W, H]], **{name: FRAME[name] for name in FRAME if name not in {"width", "height"}}}
SIZES = SCENE + '[[writes]]\nframe = 0\nline = 3\nregister = "picture_size"\nvalue = 1\n'


def test_the_blanking_of_a_smaller_picture_is_blanking(tmp_path):
    """A capture of all dots of all frames, late by two: what the second frame shows below its lines is nobody's business."""
    picture = np.random.default_rng(4).integers(0, 16, MAP)
    folder = exported(tmp_path, SIZES, SIZED, picture, 2)
    every = rows(folder)
    shown = {tuple(map(int, row[1:4])): row[4] for row in every if row[0] == "dot"}
    assert (1, H - 1, W - 1) in shown and (1, H, 0) not in shown and (1, 0, W) not in shown
    for late in (0, 2):
        told = []
        for frame, line, dot in np.ndindex(2, L, D):
            from_line, from_dot = divmod(line * D + dot - late, D)
            told.append(["dot", *map(str, (frame, line, dot)), shown.get((frame, from_line, from_dot), "0")])
        ends = [row for row in every if row[0] in {"flag", "left"}]
        flags = [[*row[:3], str(int(row[3]) + late), row[4]] if row[0] == "flag" else row for row in ends]
        found = verified(tmp_path, folder, told + flags)
        assert found.same and (found.outcomes["dot"].seen, found.outcomes["dot"].absent) == (
            (H + 4) * (W + 8) + H * W,
            0,
        )
        gone = next(row for row in flags if row[:2] == ["flag", "1"] and row[4] == "0")
        assert int(gone[2]) == H
        found = verified(tmp_path, folder, told + [row for row in flags if row != gone])
        assert not found.same and found.first[1][:2] == (1, H)


def test_the_first_record_counts_behind_a_mark_of_utf_8_too(tmp_path, folder, every):
    told = [row for row in every if row[0] == "dot"]
    for colour, same in ((told[0][5], True), (f"{int(told[0][5], 16) ^ 1:06x}", False)):
        place = capture(tmp_path / "capture.txt", [[*told[0][:5], colour, *told[0][6:]], *told[1:]])
        place.write_bytes(b"\xef\xbb\xbf" + place.read_bytes().replace(b"\n", b"\r\n"))
        found = vdpsim.verify(place, folder)
        assert found.same is same and found.outcomes["dot"].seen == len(told)


def test_the_first_line_says_that_something_had_to_be_constant(tmp_path, folder, every):
    told = [row for row in every if row[0] == "access"]
    assert verified(tmp_path, folder, told).text().splitlines()[0].endswith(": the same, as far as it goes")
    for change in (
        lambda row: [*row[:3], str(int(row[3]) + 1), *row[4:]],
        lambda row: [*row[:5], f"{int(row[5], 16) + 64:x}", *row[6:]],
        lambda row: [row[0], str(int(row[1]) + 1), *row[2:]],
    ):
        found = verified(tmp_path, folder, [change(row) for row in told])
        assert found.same and ": the same but for a constant shift" in found.text().splitlines()[0]
