"""Are signals of a dump found by their bits and by what they do, where one alone fits, and is what is ambiguous told as such?

Every dump is written by hand, of the pond's own records, under names that say nothing.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from dumps import Pen, clocked, numbered, shown
from ponds import D, H, L, Rows, S, W, pond, rows
from refusal import refused
from soaked import few

import vdpsim
from vdpsim.cli import main
from vdpsim.handoff.verifying.wave import habits, signals


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    return pond(tmp_path_factory.mktemp("pond"), frames=range(2))


@pytest.fixture(scope="module")
def every(folder) -> Rows:
    return rows(folder)


NAMES = {"frame": "a", "line": "b", "dot": "c", "valid": "d", "entry": "e", "colour": "f", "slot": "g", "client": "h",
         "address": "i", "data": "j", "busy": "busy", "clk": "k", "de": "l", "index": "m"}  # fmt: skip
"""Names that say nothing; whether a slot is used is found by name alone."""


def foreign(pen: Pen, place: Path, twice: str = "", **names: str) -> Path:
    """The dump under ``NAMES``, or other ``names``; the signal ``twice`` has another name and id code, <, too."""
    code, lines = "none", []
    for words in (line.split() for line in pen.lines):
        if words[0] == "$var":
            name, words[4] = words[4], {**NAMES, **names}[words[4]]
            if name == twice:
                code = words[3]
                lines.append([*words[:3], "<", f"{words[4]}_too", *words[5:]])
        elif words[-1] == code:
            lines.append([*words[:-1], "<"])
        elif "".join(words[0][1:]) == code:
            lines.append([f"{words[0][0]}<"])
        lines.append(words)
    place.write_text("\n".join(map(" ".join, lines)) + "\n", "ascii")
    return place


@pytest.fixture(scope="module")
def numbers(every) -> Pen:
    """A design that numbers what it does."""
    return numbered(every)


@pytest.fixture(scope="module")
def clocks(every) -> Pen:
    """One that has a clock, and says where the picture is."""
    return clocked(every)


def took(found: vdpsim.Verified) -> dict[str, str]:
    return {each.role: each.path.rpartition(".")[2] for each in found.taken}


def test_signals_of_dots_and_accesses_are_found_by_what_they_do(tmp_path, folder, every, numbers, capsys):
    place = foreign(numbers, tmp_path / "w.vcd")
    found = vdpsim.verify(place, folder)
    assert found.same and found.shifts == {}, found.text()
    assert (found.outcomes["dot"].seen, found.outcomes["dot"].outside) == (2 * H * W, 2 * (L * D - H * W))
    assert found.outcomes["access"].seen == sum(row[0] == "access" for row in every)
    assert took(found) == {
        role: NAMES[role] for role in ("frame", "line", "dot", "entry", "slot", "client", "address", "data", "busy")
    }
    assert main(["verify", str(place), "--against", str(folder)]) == 0
    told = capsys.readouterr().out
    for line in (
        f"signal dot is top.c: counts 0 to {D - 1}, dots of a line",
        f"signal line is top.b: counts 0 to {L - 1}, lines of a frame",
        f"signal slot is top.bus.g: counts 0 to {S - 1}, slots of a line",
        "signal frame is top.a: goes on as the line begins again",
        "signal entry is top.ppu.e: 5 bits, and 100% of its numbers are expected of entry",
        "signal busy is top.bus.busy: its name",
    ):
        assert f"  {line}\n" in told
    assert [each["role"] for each in found.data()["signals"]] == [each.role for each in found.taken]


def test_names_that_are_enough_need_no_look_at_what_signals_do(tmp_path, folder, numbers):
    place = foreign(numbers, tmp_path / "w.vcd", line="line", dot="dot", entry="entry", valid="valid")
    assert vdpsim.verify(place, folder).taken == ()


@pytest.mark.parametrize("role", few(["line", "dot", "entry", "frame"], ("line", "entry").__contains__))
def test_two_that_fit_are_told_with_the_words_that_choose_one(tmp_path, folder, numbers, role):
    place = foreign(numbers, tmp_path / "w.vcd", twice=role)
    path = {"entry": "top.ppu.e"}.get(role, f"top.{NAMES[role]}")
    told = rf"w\.vcd: signal {role}: by its bits and what it does could be any of {path}_too, {path}: "
    with refused(vdpsim.InputError, rf"{told}say which, as --signal {role}={path}_too$"):
        vdpsim.verify(place, folder)
    found = vdpsim.verify(place, folder, signals={role: path})
    assert found.same and took(found)[role] == NAMES[role] and "as was said" in found.text()


def test_where_dots_are_found_accesses_that_are_not_are_told_of(tmp_path, folder, numbers):
    found = vdpsim.verify(foreign(numbers, tmp_path / "w.vcd", twice="address"), folder)
    assert found.same and "access" in found.absent
    told = (
        "not compared: signal address by its bits and what it does could be any of top.bus.i_too, top.bus.i: say which"
    )
    assert f"  {told}" in found.text()
    assert len(found.data()["doubts"]) == 1


def test_a_clock_and_what_opens_with_it_are_found_together(tmp_path, folder, clocks):
    found = vdpsim.verify(foreign(clocks, tmp_path / "w.vcd"), folder)
    assert found.same and found.outcomes["dot"].seen == 2 * H * W
    assert took(found) == {"clock": "k", "valid": "l", "entry": "m"}
    assert (
        f"signal valid is bench.l: one bit, 1 for {W} rises of the clock at a time, at most {H} times a frame"
        in found.text()
    )


CLOCKED = [("de", "valid"), ("clk", "clock"), ("index", "entry")]


@pytest.mark.parametrize(("twice", "role"), few(CLOCKED, CLOCKED[:2].__contains__))
def test_two_clocks_or_two_that_open_are_told(tmp_path, folder, clocks, twice, role):
    place = foreign(clocks, tmp_path / "w.vcd", twice=twice)
    name = NAMES[twice]
    with refused(
        vdpsim.InputError,
        rf"signal {role}: by its bits and what it does could be any of bench\.{name}_too, bench\.{name}: ",
    ):
        vdpsim.verify(place, folder)
    found = vdpsim.verify(place, folder, signals={role: f"bench.{name}_too"})
    assert found.same and found.outcomes["dot"].seen == 2 * H * W


def test_a_late_design_with_a_wrong_dot_is_told_so_under_foreign_names_too(tmp_path, folder, every):
    told = [[*row[:4], "01f", *row[5:]] if row[:4] == ["dot", "1", "20", "23"] else row for row in every]
    found = vdpsim.verify(foreign(clocked(told, late=3), tmp_path / "w.vcd"), folder)
    assert found.shifts == {"dot": (0, 3, 0)} and found.outcomes["dot"].wrong == 1
    assert found.first is not None and found.first[1][:3] == (1, 20, 23)


def test_a_signal_that_counts_too_far_or_too_early_is_no_line(tmp_path, folder, every):
    """Both sides of the end: 0 to L - 1 is a line, 0 to L or L - 2 is none; neither is one that leaves a number out."""
    dots = shown(every)
    for top, leaves, fits in ((L - 1, None, True), (L, None, False), (L - 2, None, False), (L - 1, 7, False)):
        pen = Pen({"t.p": 7, "t.q": 7, "t.r": 5})
        numbers = [number for number in range(top + 1) if number != leaves]
        for turn, number in enumerate([*numbers, *numbers]):
            for dot in range(D):
                entry = dots.get((0, number, dot), (0, 0))[0]
                pen.at(1 + turn * D + dot, p=number, q=dot, r=entry)
        place = pen.file(tmp_path / "w.vcd")
        if fits:
            assert took(vdpsim.verify(place, folder))["line"] == "p"
        else:
            with refused(vdpsim.InputError, "there must be entry, colour, or red, green and blue for dots"):
                vdpsim.verify(place, folder)


@pytest.mark.parametrize(("numbers", "fits"), [(15, False), (16, True)])
def test_a_signal_with_few_of_the_numbers_is_none_beside_one_with_many(tmp_path, folder, every, numbers, fits):
    """The pond shows 32 entries: a signal of as many bits with 16 of them could be the entry too, one with 15 could not."""
    pen, dots = Pen({"t.p": 7, "t.q": 7, "t.r": 5, "t.s": 5}), shown(every)
    for turn in range(L + 1):
        for dot in range(D):
            entry = dots.get((0, turn % L, dot), (0, 0))[0]
            pen.at(1 + turn * D + dot, p=turn % L, q=dot, r=entry, s=entry % numbers)
    place = pen.file(tmp_path / "w.vcd")
    if fits:
        with refused(
            vdpsim.InputError, r"signal entry: by its bits and what it does could be any of t\.r, t\.s: say which"
        ):
            vdpsim.verify(place, folder)
    else:
        assert took(vdpsim.verify(place, folder))["entry"] == "r"


def test_very_many_signals_are_not_searched_but_those_of_a_scope_are(tmp_path, folder, clocks, monkeypatch):
    """Four signals, of which three stand in a scope, where three or four are the most."""
    place = foreign(clocks, tmp_path / "w.vcd")
    text = place.read_text().replace(
        "$scope module bench $end", "$scope module top $end\n$var wire 1 ? q $end\n$scope module bench $end", 1
    )
    place.write_text(text.replace("$enddefinitions", "$upscope $end\n$enddefinitions", 1))
    monkeypatch.setattr(signals, "MOST_SEARCHED", 3)
    with refused(vdpsim.InputError, "a dump of more than 3 signals is not searched: say the scope that counts$"):
        vdpsim.verify(place, folder)
    assert vdpsim.verify(place, folder, signals={"scope": "bench"}).same
    monkeypatch.setattr(signals, "MOST_SEARCHED", 4)
    assert vdpsim.verify(place, folder).same


@pytest.mark.parametrize(("looked", "found"), [(15_000, True), (100, False)])
def test_a_frame_of_changes_tells_what_signals_do_and_a_part_of_it_does_not(
    tmp_path, folder, clocks, monkeypatch, looked, found
):
    """Of a clock that rises and falls 2,940 times a frame, and an entry."""
    monkeypatch.setattr(habits, "LOOKED", looked)
    place = foreign(clocks, tmp_path / "w.vcd")
    if found:
        assert took(vdpsim.verify(place, folder)) == {"clock": "k", "valid": "l", "entry": "m"}
    else:
        with refused(vdpsim.InputError, "there must be entry, colour, or red, green and blue for dots"):
            vdpsim.verify(place, folder)


def test_of_very_many_values_the_first_are_counted(monkeypatch):
    monkeypatch.setattr(habits, "MOST_VALUES", 2)
    one = habits.Habit()
    for time, value in enumerate((5, 6, 7, 5, 9)):
        one.sees(value, time)
    assert one.values == {5: 2, 6: 1} and (one.ups, one.falls, one.jumps) == (2, 1, 1)


def test_a_dot_that_has_its_name_is_not_sought(tmp_path, folder, numbers):
    found = vdpsim.verify(foreign(numbers, tmp_path / "w.vcd", dot="dot"), folder)
    assert found.same and found.outcomes["dot"].seen == 2 * H * W
    assert took(found)["dot"] == "dot" and took(found)["line"] == "b"
