"""Budgets of chips whose picture has several sizes: at each that of a chip of this size alone, and together the worst of them."""

from __future__ import annotations

from dataclasses import replace
from random import Random
from typing import Any

import pytest
from attack import attack
from attack_judge import lacking, told_slack, witnessed
from attack_judge import witness_of as script_of_budget
from budgeted import any_odd
from paper import BITMAP, small_chip
from sized import plain_chip, set_alone
from soaked import every, few
from witnesses import drawn, loaded, shown

from vdpsim.budgets.budget import Budget, budget, witness_of
from vdpsim.budgets.proof import Proof
from vdpsim.budgets.sizes import worst_proof
from vdpsim.budgets.told.data import budget_data
from vdpsim.budgets.told.plain import plain
from vdpsim.budgets.told.verdict import verdict
from vdpsim.chip.model import Chip
from vdpsim.comparing.compare import compare
from vdpsim.report.tables import budget_tables, scene_budget

NOT_ALL_SERVED = 6
"""A seed whose lines are more than are served, so that what is proved differs from what was found."""

STILL = {**BITMAP, "width": 128, "scroll": False}


@pytest.fixture(autouse=True)
def short_searches(monkeypatch):
    """So that many chips can be tried: of the rest of their lines the bound speaks."""
    monkeypatch.setattr("vdpsim.budgets.proof.MOST_LINES", 300)
    monkeypatch.setattr("vdpsim.budgets.proof.MOST_SERVED", 600)
    monkeypatch.setattr("vdpsim.budgets.witness.search.MOST_TRIED", 100)


def sized_odd(seed: int) -> Chip:
    """An odd chip whose picture has several sizes, of which registers reach two at least."""
    random = Random(seed)
    while True:
        chip = any_odd(random)
        if len(chip.frame.sizes) > 1 and set_alone(chip) and len(budget(chip).sizes) > 1:
            return chip


def figures(found: Budget) -> dict[str, Any]:
    """What a budget tells that does not name a register or count one."""
    lines, cpu, sprites = found.lines, found.cpu, found.sprites
    assert lines is not None and cpu is not None
    return {
        "verdict": found.verdict,
        "slots": (lines.slots, lines.blank, lines.bound, lines.complete),
        "most": lines.most,
        "slack": {name: (spare.slots, spare.missed) for name, spare in lines.spare.items()},
        "proved": {name: lines.least(name) for name in lines.spare},
        "fullest": lines.fullest.used,
        "room": lines.room and lines.room.slots,
        "sprites": sprites and (sprites.asked, sprites.room, sprites.fit, sprites.limit),
        "cpu": (cpu.active, cpu.beside, cpu.below, cpu.bytes_per_frame, cpu.bytes_in_blanking),
        "kept": {kept.name: kept.bits for kept in found.on_chip if kept.name not in {"registers", "ports"}},
    }


@pytest.mark.unmeasured
@pytest.mark.parametrize("seed", every(4, range(16)))
def test_the_budget_of_a_size_is_that_of_a_chip_of_its_size_alone(seed):
    chip = sized_odd(seed)
    for one in budget(chip).sizes:
        assert figures(one) == figures(budget(plain_chip(chip, one.chip.frame.number)))


@pytest.mark.unmeasured
@pytest.mark.parametrize("seed", few(range(16), {*range(0, 16, 4), NOT_ALL_SERVED}.__contains__))
def test_each_figure_is_that_of_the_worst_size(seed):
    found = budget(sized_odd(100 + seed))
    order, weakest = ["does not fit", "open", "fits"], ["witness", "open", "bound", "served", "memory"]
    assert found.verdict == min((one.verdict for one in found.sizes), key=order.index)
    assert found.how == min((one.how for one in found.sizes if one.verdict == found.verdict), key=weakest.index)
    for name, spare in found.lines.spare.items():
        each: list[Any] = [one.lines for one in found.sizes if name in one.lines.spare]
        assert spare.nearness == min(lines.spare[name].nearness for lines in each)
        assert found.lines.least(name) == min(lines.least(name) for lines in each)
        assert found.lines.most[name] == max(lines.most[name] for lines in each)
        at = found.sizes[[one.chip.frame.number for one in found.sizes].index(spare.line.size)]
        assert at.lines.spare[name].slots == spare.slots
    assert found.lines.bound == max(one.lines.bound for one in found.sizes)
    assert found.lines.blank == min(one.lines.blank for one in found.sizes)
    alone: list[Any] = [one.lines for one in found.sizes]
    assert found.lines.complete == all(lines.complete for lines in alone)
    assert not (seed == NOT_ALL_SERVED and found.lines.complete)
    assert found.lines.below.used == max(lines.below.used for lines in alone)
    for name in ("cpu", "cpu_last"):
        assert set(getattr(found.lines, name)) == {slots for lines in alone for slots in getattr(lines, name)}
    assert len(found.lines.kinds) == sum(len(lines.kinds) for lines in alone)
    assert found.lines.served == sum(lines.served for lines in alone)
    for name in ("active", "beside", "below", "bytes_per_frame"):
        assert getattr(found.cpu, name) == min(getattr(one.cpu, name) for one in found.sizes), name
    for number, refill in enumerate(found.cpu.refills):
        needed = [one.cpu.refills[number].lines for one in found.sizes]
        assert refill.lines == (None if None in needed else max(needed))
    for kept in found.on_chip:
        assert kept.bits == max(other.bits for one in found.sizes for other in one.on_chip if other.name == kept.name)
    if found.sprites is not None:
        assert found.sprites.room == min(one.sprites.room for one in found.sizes)
    proved = [one.first.proved for one in found.sizes if one.first]
    assert (found.first.proved if found.first else None) == min(proved, default=None)


@pytest.mark.unmeasured
@pytest.mark.parametrize("seed", every(6, range(30)))
def test_an_attack_that_changes_sizes_does_not_break_it(seed):
    """The adversary of budgets, which sets the size from frame to frame as it does every other register."""
    chip = sized_odd(1_000 + seed)
    found = budget(chip)
    wrong = lacking(chip, found.verdict, attack(chip, seed, 8), told_slack(found)) + witnessed(
        chip, script_of_budget(found)
    )
    assert wrong == []


# By hand


def two_sizes(dots: int, **tables: Any) -> Chip:
    """64 or 72 dots of 2 bits, 16 or 18 accesses, all to be made in the ``dots`` - 64 or ``dots`` - 72 blank slots of a line."""
    return small_chip(
        STILL,
        frame={"sizes": [[64, 64], [72, 66]], "dot_clock": 1_000_000, "dots_per_line": dots, "lines_per_frame": 70},
        memory={"size": 2048, "bytes_per_access": 1, "accesses_per_dot": 1},
        time={"clients": {"a.bitmap": {"when": "blanking"}}},
        **tables,
    )


def test_what_is_shown_to_miss_is_the_worst_size():
    """Of 78 dots 14 and 6 are blank: at 64 dots 2 of 16 accesses are missed, at 72 dots, the second size, 12 of 18."""
    found = budget(two_sizes(78))
    assert [one.witness.missed for one in found.sizes] == [{"a.bitmap": 2}, {"a.bitmap": 12}]
    assert (found.witness.size, found.witness.missed) == ("72x66", {"a.bitmap": 12})
    assert found.lines.spare["a.bitmap"].missed == 12


def test_a_chip_fits_where_it_does_at_each_size():
    """Of 90 dots 26 and 18 are blank: 10 slots to spare and none. Of 89 there are 25 and 17: one access is missed."""
    just, late = budget(two_sizes(90)), budget(two_sizes(89))
    assert [(one.verdict, one.first.slots) for one in just.sizes] == [("fits", 10), ("fits", 0)]
    assert (just.verdict, just.how, just.first.slots, just.first.line.size) == ("fits", "served", 0, 1)
    assert [one.verdict for one in late.sizes] == ["fits", "does not fit"]
    assert (late.verdict, late.how, late.witness.missed) == ("does not fit", "witness", {"a.bitmap": 1})
    assert (late.witness.size, late.witness.at) == ("72x66", " at 72x66")
    assert "of a scene that was drawn for it at 72x66 there is no slot in time for 1 access of a.bitmap" in verdict(
        late
    )
    assert "at 72x66, there is" in late.witness.about.replace(" there is no", ", there is no")


def test_lines_are_all_served_where_they_are_at_each_size_and_the_weakest_of_proofs_stands():
    """Both sizes fit, the first by the bound alone; the lines below its picture have more accesses than those of the second."""
    chip = two_sizes(90)
    served = [Proof(one.verdict, one.how, one.lines, None, ()) for one in budget(chip).sizes]
    lines = served[0].lines
    below = replace(lines.below, used=lines.below.used + 1)
    bound = replace(served[0], how="bound", lines=replace(lines, complete=False, below=below))
    found = worst_proof(chip.each_size, [bound, served[1]])
    assert (found.verdict, found.how, found.lines.complete) == ("fits", "bound", False)
    assert found.lines.below.used == below.used
    assert worst_proof(chip.each_size, served).lines.complete


def test_a_witness_sets_the_size():
    """It is drawn by the chip of all sizes, from files, and shows what was told; so does the line that comes nearest."""
    chip = two_sizes(89)
    found = budget(chip)
    scene = loaded(chip, found.witness)
    assert scene.state(found.witness.frame).value("picture_size") == 1
    assert shown(chip, found.witness).missed == {"a.bitmap": 1}
    fits = two_sizes(90)
    near = witness_of(budget(fits))
    assert near.about == "Line 2 of frame 0 at 72x66 comes nearest to missing an access."
    assert drawn(fits, near).size == (72, 66)


def test_a_size_that_no_register_reaches_is_left_out():
    """Wired to the small size the chip fits, wired to the large one it does not; a witness then sets no size."""
    small = budget(two_sizes(89, registers={"others": "wired"}, constants={"picture_size": 0}))
    large = budget(two_sizes(89, registers={"others": "wired"}, constants={"picture_size": 1}))
    assert (small.verdict, small.sizes, small.lines.blank) == ("fits", (), 25)
    assert (large.verdict, large.sizes, large.lines.blank) == ("does not fit", (), 17)
    assert large.witness.missed == {"a.bitmap": 1}
    assert not any("picture_size" in table for _, table in large.witness.tables)


def test_the_cpu_is_told_of_the_worst_size():
    """Blank slots that the layer leaves: 64 lines x 10 and 6 lines x 90 are 1,180; 66 lines x 0 and 4 lines x 90 are 360."""
    found = budget(two_sizes(90))
    assert [one.cpu.bytes_per_frame for one in found.sizes] == [1180, 360]
    assert found.cpu.bytes_per_frame == 360
    assert "CPU: 360 bytes a frame" in plain(found) and "as long as the picture keeps its size" in plain(found)


def test_sizes_are_told_where_they_differ():
    told = plain(budget(two_sizes(90)))
    section = told[told.index("Sizes of the picture") :].split("\n\n")[0].splitlines()
    assert section[0] == "Sizes of the picture: 2, which differ in this; each figure below is that of the worst"
    assert section[1].split()[:2] == ["size", "slack"] and "verdict" not in section[1]
    assert [line.split()[0] for line in section[2:]] == ["64x64", "72x66"]
    data = budget_data(budget(two_sizes(90)))["sizes"]
    assert [(one["number"], one["size"], one["blank"]) for one in data] == [(0, [64, 64], 26), (1, [72, 66], 18)]
    assert budget_data(budget(small_chip(STILL)))["sizes"] == []
    assert "Sizes of the picture" not in plain(budget(small_chip(STILL)))


def test_sizes_alike_are_told_as_such():
    """Of a chip without a time table and of one height nothing differs but what the chip holds; here that is alike too."""
    chip = small_chip(
        STILL,
        frame={
            "sizes": [[64, 64], [64, 66]],
            "dot_clock": 1_000_000,
            "dots_per_line": 90,
            "lines_per_frame": 70,
            "display": "other",
        },
    )
    assert "Sizes of the picture: 2, alike" in plain(budget(chip))


def test_a_comparison_and_a_page_take_the_worst_size():
    one, other = two_sizes(90), two_sizes(89)
    found = compare([one, other])
    assert [each.verdict for each in found.budgets] == ["fits", "does not fit"]


def test_a_page_tells_the_sizes(tmp_path):
    chip = two_sizes(90)
    near = witness_of(budget(chip))
    told = budget_tables(scene_budget(loaded(chip, near)))
    assert told["sections"][0]["title"].startswith("Sizes of the picture: 2")
