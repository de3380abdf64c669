"""Does ``verify`` name each fault at its first place, whatever is changed in a capture that was the same?"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from ponds import BARE, H, Rows, S, W, capture, pond, rows, with_words
from refusal import refused

import vdpsim
from vdpsim.cli import main
from vdpsim.handoff.records.kinds import OUTCOMES
from vdpsim.handoff.verifying.capture import Capture


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    return pond(tmp_path_factory.mktemp("pond"))


@pytest.fixture(scope="module")
def every(folder) -> Rows:
    return rows(folder)


def at(told: Rows, kind: str, *start: int) -> int:
    """Which record is the one of ``kind`` whose numbers begin with ``start``."""
    words = [kind, *map(str, start)]
    return next(number for number, row in enumerate(told) if row[: len(words)] == words)


def verified(tmp_path: Path, folder: Path, told: Rows, **given: object) -> vdpsim.Verified:
    return vdpsim.verify(capture(tmp_path / "capture.txt", told), folder, **given)


def test_the_folders_own_records_are_the_same(tmp_path, folder, every):
    for whole in (False, True):
        found = verified(tmp_path, folder, every, whole=whole)
        assert found.same and not found.shifts and found.frames == 3 and found.first is None
        assert {kind: one.seen for kind, one in found.outcomes.items() if one.seen} == {
            kind: sum(row[0] == kind for row in every) for kind in {row[0] for row in every}
        }
        assert sum(one.absent for one in found.outcomes.values()) == 0
        assert found.text().startswith(f"{tmp_path}/capture.txt against {folder}: the same\n")


def replaced(word: int, text: str):
    return lambda row: [*row[:word], text, *row[word + 1 :]]


FAULTS = {
    # name: kind, the record's first numbers, what is done to it (None: left out), the sort, what the words must have
    "a dot's entry": ("dot", (1, 9, 20), replaced(4, "01f"), "unlike", "came entry 0x01f, colour #"),
    "a dot's colour": ("dot", (1, 9, 20), replaced(5, "123456"), "unlike", "colour #123456"),
    "a dot that is not known": ("dot", (1, 9, 20), replaced(4, "xxx"), "unlike", "came entry not known (x)"),
    "a dot left out": ("dot", (1, 9, 20), lambda _row: None, "missing", "came nothing"),
    "an address": ("access", (2, 11), replaced(5, "000f0e"), "unlike", "address 0x000f0e"),
    "a value": ("access", (2, 11), replaced(6, "beef"), "unlike", "value 0xbeef"),
    "a value's top bit": ("access", (2, 11), replaced(6, "8000000000000000"), "unlike", "value 0x8000000000000000"),
    "a value that is not known": ("access", (2, 11), replaced(6, "zz"), "unlike", "value not known (x)"),
    "a client": ("access", (2, 11), replaced(4, "9"), "unlike", "client number 9"),
    "an access left out": ("access", (2, 11), lambda _row: None, "missing", "came nothing"),
    "an access elsewhere": ("access", (2, 11), replaced(3, str(S - 3)), "missing", "came nothing"),
    "a count of sprites": ("sprites", (0, 5), replaced(4, "7"), "unlike", "drawn 7"),
    "a drop's reason": ("drop", (0,), replaced(4, "2"), "unlike", "dropped for slots"),
    "a drop left out": ("drop", (1,), lambda _row: None, "missing", "came nothing"),
    "a collision's pair swapped": ("collision", (1,), lambda row: [*row[:4], row[5], row[4]], "unlike", "first sprite "),
    "a flag late by a dot": ("flag", (1,), lambda row: [*row[:3], str(int(row[3]) + 1), row[4]], "unlike", "bit"),
    "a flag's bit": ("flag", (1,), replaced(4, "5"), "unlike", "bit 5"),
    "what is left": ("left", (1,), replaced(2, "ff"), "unlike", "status 0xff"),
}  # fmt: skip


@pytest.mark.parametrize("name", FAULTS)
def test_a_planted_fault_is_named_at_its_place(tmp_path, folder, every, name):
    kind, start, change, sort, words = FAULTS[name]
    where = at(every, kind, *start)
    row = every[where]
    found = verified(
        tmp_path, folder, [*every[:where], *with_words(every[where : where + 1], change), *every[where + 1 :]]
    )
    assert not found.same and not found.shifts
    assert found.first is not None
    first_kind, first = found.first
    assert (first_kind, first.frame) == (kind, int(row[1]))
    assert first.line == (-1 if kind == "left" else int(row[2]))
    assert first.sort == sort
    if kind in {"dot", "access"}:
        assert first.step == int(row[3])
    assert {name for name, one in found.outcomes.items() if one.wrong} == {kind}
    assert words in found.text()
    data = json.loads(json.dumps(found.data()))
    assert data["first"]["kind"] == kind and data["first"]["frame"] == int(row[1]) and not data["same"]


def test_one_more_access_is_told(tmp_path, folder, every):
    where = at(every, "access", 1, 12)
    taken = {int(row[3]) for row in every if row[:3] == ["access", "1", "12"]}
    slot = next(slot for slot in range(10, S) if slot not in taken)
    found = verified(
        tmp_path, folder, [*every[:where], [*every[where][:3], str(slot), *every[where][4:]], *every[where:]]
    )
    assert found.first[1][:4] == (1, 12, slot, "extra") and found.outcomes["access"].wrong == 1
    assert "expected nothing" in found.text()


def test_a_record_that_comes_twice_is_told(tmp_path, folder, every):
    for kind, sort in (("access", "twice"), ("dot", "twice"), ("sprites", "extra"), ("drop", "extra")):
        where = at(every, kind, 1)
        found = verified(tmp_path, folder, [*every[:where], every[where], *every[where:]])
        assert (found.first[0], found.first[1].sort) == (kind, sort)


def test_a_frame_left_out_is_counted_and_with_whole_it_is_a_difference(tmp_path, folder, every):
    told = [row for row in every if row[1] != "1"]
    found = verified(tmp_path, folder, told)
    assert found.same and found.frames == 2
    assert found.outcomes["dot"].absent == H * W
    assert "as far as it goes" in found.text() and f"{H * W:,} dots" in found.text()
    found = verified(tmp_path, folder, told, whole=True)
    assert not found.same and found.first[1][:4] == (1, 0, 0, "missing")
    assert found.outcomes["dot"].counts == {"missing": H * W}


def test_two_lines_swapped_are_told_at_the_first_of_them(tmp_path, folder, every):
    told = [
        [*row[:2], {"30": "31", "31": "30"}.get(row[2], row[2]), *row[3:]] if row[0] == "dot" else row for row in every
    ]
    found = verified(tmp_path, folder, told)
    assert not found.same and (found.first[0], *found.first[1][:2]) == ("dot", 0, 30)
    assert (
        found.outcomes["dot"].lines.nonzero()[0].tolist() == [30, 31]
        and "on lines 30 to 31 of frames 0 to 2" in found.text()
    )


def test_who_drew_a_dot_is_told_by_name(tmp_path, folder, every):
    """The frog stands at (4, 3) and the model's picture says that it shows there; the reeds are a layer with accesses."""
    for place, words in (
        ((0, 6, 8), "drawn by sprite frog (0 in the table), which wins at rung 0: sprites"),
        ((0, BARE + 5, 21), "drawn by reeds, which wins at rung 1: reeds"),
    ):
        where = at(every, "dot", *place)
        changed = [*every[:where], [*every[where][:4], "000", "ffffff"], *every[where + 1 :]]
        told = verified(tmp_path, folder, changed).text()
        assert words in told
    assert f"last access of reeds.cells before it: line {BARE + 5}, slot " in told
    assert f"last access of reeds.pattern before it: line {BARE + 5}, slot " in told


def test_the_access_that_is_told_fed_the_dot(tmp_path, folder, every):
    """Its value has the dot's four bits, of a map that was drawn at random: so it is no chance on 8 dots."""
    for dot in range(12, 20):
        where = at(every, "dot", 0, BARE + 2, dot)
        row = every[where]
        told = verified(tmp_path, folder, [*every[:where], [*row[:4], "000", "fedcba"], *every[where + 1 :]]).text()
        assert f"dot {dot}\n" in told and f"last access of reeds.pattern before it: line {BARE + 2}" in told


PARTS = {
    "dots alone": lambda row: row[0] == "dot",
    "accesses alone": lambda row: row[0] == "access",
    "some lines": lambda row: row[0] in {"dot", "access"} and 10 <= int(row[2]) < 20,
    "lines here and there": lambda row: row[0] in {"dot", "access", "sprites"} and int(row[2]) in {3, 4, BARE + 5},
    "the last frame": lambda row: row[1] == "2",
    "a window": lambda row: row[0] == "dot" and 20 <= int(row[2]) < 30 and 5 <= int(row[3]) < 25,
}


def test_a_capture_is_kept_up_to_so_many_numbers_and_says_the_same_when_it_is_looked_at_again(
    tmp_path, folder, every, monkeypatch
):
    path = capture(tmp_path / "capture.txt", every)
    index = vdpsim.verify(path, folder).index

    def looks() -> tuple[Capture, list[Any]]:
        one = Capture(path, index, {}, dict)
        seen = [
            [(each[0], each[1], {name: column.tolist() for name, column in each[2].items()}) for each in one.frames({})]
            for _ in range(2)
        ]
        assert seen[0] == seen[1]
        return one, seen[0]

    first, told = looks()
    size = sum(len(column) for _, columns in first.kept or () for column in columns.values())
    assert size == sum(len(row) - 1 for row in every if row[0] in OUTCOMES)
    for room, kept in ((size, True), (size - 1, False)):
        monkeypatch.setattr("vdpsim.handoff.verifying.capture.KEPT", room)
        one, again = looks()
        assert again == told and (one.kept is not None) is kept


@pytest.mark.parametrize("name", PARTS)
def test_a_part_is_compared_and_what_is_not_there_is_counted(tmp_path, folder, every, name):
    told = [row for row in every if PARTS[name](row)]
    found = verified(tmp_path, folder, told)
    assert found.same and not found.shifts
    assert sum(one.seen for one in found.outcomes.values()) == len(told)
    absent = sum(one.absent for one in found.outcomes.values()) + sum(found.absent.values())
    assert absent == len(every) - len(told)
    assert "not in the capture" in found.text()
    assert not verified(tmp_path, folder, told, whole=True).same


@pytest.mark.parametrize("kind", ["dot", "access"])
def test_a_capture_that_begins_and_ends_within_frames_is_compared_from_there_to_there(tmp_path, folder, every, kind):
    told = [row for row in every if row[0] == kind]
    told = told[1000 : len(told) - 700]
    found = verified(tmp_path, folder, told)
    assert found.same and found.outcomes[kind].seen == len(told) and found.outcomes[kind].absent == 1700
    where = len(told) // 2
    assert not verified(tmp_path, folder, told[:where] + told[where + 1 :]).same


def test_every_form_of_line_is_read(tmp_path, folder, every):
    """White space, comments, other lines, capitals, numbers of any width; a dot without colour, an access without value."""
    lines = ["VCD info: dumpfile", "dots 1 2 3", "#dot 0 0 0 xxx", "", "\t", "dot"[:2]]
    for number, row in enumerate(every):
        if row[0] == "dot":
            short = [row[0], *row[1:4], row[4].lstrip("0") or "0", *row[5 : 5 + number % 2]]
            lines.append("\t ".join(short).upper() if number % 3 == 0 else "  ".join(short) + "  # dot 1 2 3\r")
        elif row[0] == "access":
            lines.append(" ".join([*row[:5], "0000000000" + row[5], *row[6 : 6 + number % 2]]))
        else:
            lines.append(" ".join(row))
    place = tmp_path / "capture.txt"
    place.write_text("\n".join(lines), "ascii")
    found = vdpsim.verify(place, folder)
    assert found.same and found.outcomes["dot"].seen == 3 * H * W


def test_lines_of_one_length_of_which_some_are_no_records_are_told_apart(tmp_path, folder):
    """As long as the dots' lines, and with their columns; and dots in capitals, which are alike but not in lower case."""
    told = [line for line in (folder / "vectors/dot.txt").read_text("ascii").splitlines() if line.startswith("dot")]
    assert len(set(map(len, told))) == 1
    place = tmp_path / "capture.txt"
    for lines in ([*told, told[0].replace("dot", "dog")], [line.upper() for line in told]):
        place.write_text("\n".join(lines) + "\n", "ascii")
        found = vdpsim.verify(place, folder)
        assert found.same and found.outcomes["dot"].seen == 3 * H * W


def test_of_a_frame_some_dots_may_have_no_colour_piece_by_piece(tmp_path, folder, every, monkeypatch):
    """What comes in one piece without colours is not wrong beside those of the next."""
    told = [row[:5] if int(row[2]) < H // 2 else row for row in every if row[:2] == ["dot", "0"]]
    for wrong in (False, True):
        if wrong:
            told[-3] = [*told[-3][:5], "000001"]
        place = capture(tmp_path / "capture.txt", told)
        first = sum(len(" ".join(row)) + 1 for row in told if len(row) == 5)
        monkeypatch.setattr("vdpsim.handoff.verifying.pieces.PIECE", first)
        found = vdpsim.verify(place, folder)
        assert found.same is not wrong and found.outcomes["dot"].seen == H * W
    assert found.first[1][:3] == (0, H - 1, W - 3)


def test_a_value_of_many_digits_is_its_last_64_bits(tmp_path, folder, every):
    """Zeros before it do not count, and the highest bit is no sign."""
    told = list(every)
    number = at(told, "access", 1)
    right = int(told[number][6], 16)
    for text, same in ((f"{right:030x}", True), (f"{right | 1 << 63:020x}", False)):
        told[number] = [*every[number][:6], text]
        found = verified(tmp_path, folder, told)
        assert found.same is same
    assert f"value 0x{right | 1 << 63:x}" in found.text()


def test_what_is_beyond_the_records_that_are_kept_is_counted_all_the_same(tmp_path, folder, every, monkeypatch):
    """A capture without sprites' records, of which each line of three frames has one."""
    told = [row for row in every if row[0] != "sprites"]
    whole = verified(tmp_path, folder, told, whole=True).outcomes["sprites"]
    assert whole.counts == {"missing": 3 * H}
    monkeypatch.setattr("vdpsim.handoff.verifying.listed.KEPT", 1)
    short = verified(tmp_path, folder, told, whole=True).outcomes["sprites"]
    assert (short.counts, short.first) == (whole.counts, whole.first)


def test_nothing_but_what_is_expected_nowhere_is_told(tmp_path, folder, every):
    """An access in a slot that has none, and a dot beside the picture, each alone in its capture."""
    taken = {int(row[3]) for row in every if row[:3] == ["access", "0", "5"]}
    free = next(slot for slot in range(S) if slot not in taken)
    found = verified(tmp_path, folder, [["access", "0", "5", str(free), "1", "0"]])
    assert found.first[1][:4] == (0, 5, free, "extra")
    found = verified(tmp_path, folder, [["dot", "0", "0", str(W), "1", "0"]])
    assert found.same and found.outcomes["dot"].outside == 1


def test_a_folder_without_accesses_names_no_access_before_a_dot(tmp_path, folder, every):
    bare = tmp_path / "bare"
    (bare / "vectors").mkdir(parents=True)
    index = json.loads((folder / "index.json").read_text())
    for one in index["frames"]:
        del one["records"]["access"]
    (bare / "index.json").write_text(json.dumps(index))
    (bare / "vectors/dot.txt").write_bytes((folder / "vectors/dot.txt").read_bytes())
    (tmp_path / "late/vectors").mkdir(parents=True)
    index, lines = json.loads((folder / "index.json").read_text()), (folder / "vectors/access.txt").read_text()
    early = [f"{BARE - 1}", f"{BARE}"]
    kept = [line for line in lines.splitlines() if line.split()[0] != "access" or line.split()[2] not in early]
    for one in index["frames"]:
        one["records"]["access"] = sum(line.split()[:2] == ["access", f"{one['frame']}"] for line in kept)
    (tmp_path / "late/index.json").write_text(json.dumps(index))
    (tmp_path / "late/vectors/access.txt").write_text("\n".join(kept) + "\n")
    (tmp_path / "late/vectors/dot.txt").write_bytes((folder / "vectors/dot.txt").read_bytes())
    told = [row for row in every if row[0] == "dot"]
    told[BARE * W + 9] = [*told[BARE * W + 9][:4], "01f", "123456"]
    assert "last access of reeds" in verified(tmp_path, folder, told).text()
    for other in (bare, tmp_path / "late"):  # none at all, and none on the dot's line and on the one before
        assert "last access" not in verified(tmp_path, other, told).text()


def test_a_lone_dash_says_nothing_of_its_column(tmp_path, folder, every):
    told = with_words(every, lambda row: [*row[:4], "-", row[5]] if row[0] == "dot" else None)
    assert verified(tmp_path, folder, told).same
    told[W + 4][5] = "000001"
    assert verified(tmp_path, folder, told).first[1][:3] == (0, 1, 4)


def test_records_without_a_place_are_counted_and_leave_a_gap(tmp_path, folder, every):
    told = [row for row in every if row[0] == "dot"]
    told[H * W + 904] = ["dot", "1", "xxxx", "x", "xx"]
    found = verified(tmp_path, folder, told)
    assert not found.same and found.unplaced == 1 and "without a place that is known" in found.text()
    assert found.first[1][:4] == (1, *divmod(904, W), "missing")


def test_the_command_says_the_same_and_its_status(tmp_path, folder, every, capsys):
    good = str(capture(tmp_path / "good.txt", every))
    assert main(["verify", good, "--against", str(folder)]) == 0
    assert capsys.readouterr().out == vdpsim.verify(good, folder).text()
    bad = str(capture(tmp_path / "bad.txt", [*every[:-1], ["left", "2", "00", "77"]]))
    assert main(["verify", bad, "--against", str(folder), "--json"]) == 1
    told = json.loads(capsys.readouterr().out)
    assert told == json.loads(json.dumps(vdpsim.verify(bad, folder).data()))
    assert main(["verify", bad, "--against", str(folder), "-o", str(tmp_path / "no.png")]) == 1
    assert "no dots differ" in capsys.readouterr().err and not (tmp_path / "no.png").exists()


def test_the_picture_shows_where_dots_differ(tmp_path, folder, every):
    """White at the two places alone, on the expected picture at a quarter of its brightness; three pictures beside each other."""
    told = list(every)
    for dot in ((1, 10, 3), (1, 20, 29)):
        number = at(told, "dot", *dot)
        told[number] = [*told[number][:4], "000", "00ff00"]
    place = str(capture(tmp_path / "bad.txt", told))
    assert main(["verify", place, "--against", str(folder), "-o", str(tmp_path / "d.png"), "--scale", "2"]) == 1
    dots = np.asarray(Image.open(tmp_path / "d.png").convert("RGB"))[30 : 30 + 2 * H]
    expected, came, where = (
        dots[::2, 8 + place : 8 + place + 2 * W : 2] for place in range(0, 3 * (2 * W + 8), 2 * W + 8)
    )
    model = np.array([[int(row[5][n : n + 2], 16) for n in (0, 2, 4)] for row in every if row[:2] == ["dot", "1"]])
    assert (expected.reshape(-1, 3) == model).all()
    wrong = np.zeros((H, W), bool)
    wrong[10, 3] = wrong[20, 29] = True
    assert (where[wrong] == 255).all() and (where[~wrong] == expected[~wrong] // 4).all()
    assert (came[~wrong] == expected[~wrong]).all() and came[wrong].tolist() == [[0, 255, 0]] * 2


def test_a_picture_is_refused_where_nothing_differs_or_too_much_is_asked(tmp_path, folder, every, monkeypatch):
    with refused(ValueError, "no dots differ: there is nothing to draw"):
        verified(tmp_path, folder, every).picture()
    number = at(told := list(every), "dot", 1, 10, 3)
    told[number] = [*told[number][:4], "000", "00ff00"]
    found = verified(tmp_path, folder, told)
    across, down = found.picture(2).size
    monkeypatch.setattr("vdpsim.handoff.verifying.told.picture.MOST_DOTS", across * down)
    assert found.picture(2).size == (across, down)
    monkeypatch.setattr("vdpsim.handoff.verifying.told.picture.MOST_DOTS", across * down - 1)
    with refused(ValueError, rf"scale must leave at most {across * down - 1:,} dots, got 2: {across} x {down}"):
        found.picture(2)
