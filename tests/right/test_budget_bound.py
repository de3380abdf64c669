"""Is the bound on lateness sound? No line that is served, however it was found, is later than the bound says.

Lines are found by a search that goes uphill towards a miss, and by chance; cells are turned one by one, sprites ask for any
number of accesses. Then each part of the bound is spoilt, and the same check has to see it.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random
from typing import Any

import numpy as np
import pytest
from budgeted import any_odd
from hypothesis import given, note, settings
from hypothesis import strategies as st
from odd_chips import made, odd_plan
from paper import TILES, small_chip
from soaked import every

from vdpsim.budgets.budget import budget
from vdpsim.budgets.line import bound as bounds
from vdpsim.budgets.line import busy, others
from vdpsim.budgets.line.bound import SlackBound, bound
from vdpsim.budgets.line.ways import Ways
from vdpsim.budgets.line.worst import Worst
from vdpsim.budgets.witness.search import MissSearch
from vdpsim.chip.line.serving import Job, Stretch
from vdpsim.chip.line.slots import Server
from vdpsim.chip.model import Chip

EXAMPLES = max(1, settings.default.max_examples // 10)
MEMORY = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 1}


def turned(chip: Chip, layer: int, mode: int | None, way: Stretch | None, random: Random) -> Stretch | None:
    """The way with any of its cells turned, where they can be."""
    of = None if mode is None else chip.layers[layer].modes[mode]
    if way is None or of is None or of.kind != "tiles" or of.cell.turn is None or random.randrange(3) == 0:
        return way
    marks = bytes(random.randrange(2) for _ in range(way.last + 1))
    return way._replace(turned=marks if 1 in marks else b"")


def lines_served(chip: Chip, server: Server, random: Random, tries: int) -> tuple[dict[str, int], int]:
    """The least slack of each client, and the least room, of lines by chance and of those of a search."""
    ways = Ways(chip)
    worst = Worst(chip, server, ways)
    least: dict[str, int] = {}
    for picture in (True, False):
        search = MissSearch(worst, picture=picture)
        search.random = random
        for _ in range(tries):
            place = search._any()
            layers = [
                turned(chip, number, mode, way, random)
                for number, (mode, way) in enumerate(zip(place.modes, place.layers, strict=True))
            ]
            worst.serve_one(place.modes, layers, place.sprites, picture=picture)
        search.run()
    for found in worst.kinds.values():
        for name, spare in found.spare.items():
            least[name] = min(least.get(name, spare.slots), spare.slots)
    rooms = [found.room.slots for found in worst.kinds.values() if found.room is not None]
    return least, min(rooms, default=server.line.slots)


def too_high(chip: Chip, random: Random, tries: int = 12) -> dict[str, tuple[int, int]]:
    """What is told too high by either bound: for each client, and for ``sprites``, what is told and what was seen."""
    server = Server(chip)
    least, room = lines_served(chip, server, random, tries)
    found = {}
    for careful in (False, True):
        told = bound(chip, server, Ways(chip), careful=careful)
        found |= {name: (told.slack[name], slots) for name, slots in least.items() if told.slack[name] > slots}
        found |= {"sprites": (told.room, room)} if told.room > room else {}
    return found


@pytest.fixture(autouse=True)
def _short_searches(monkeypatch):
    monkeypatch.setattr("vdpsim.budgets.witness.search.MOST_TRIED", 60)


@settings(max_examples=EXAMPLES)
@given(st.randoms(use_true_random=False))
def test_no_line_is_later_than_the_bound(random):
    """For odd chips of every sort: patterns, refresh, reserved slots, fractional rates, buffers, kept and turned cells."""
    chip = any_odd(random)
    note(chip.model_dump_json(exclude_defaults=True))
    assert too_high(chip, random) == {}


@pytest.mark.parametrize("seed", every(2, range(16)))
@pytest.mark.parametrize(("square", "columns"), [(0, 2_048), (1_200, 50), (0, 37)])
def test_with_less_care_it_says_nothing_wrong(seed, square, columns, monkeypatch):
    """Where a line has too many slots, ways are put together and moments are left out: sound still."""
    monkeypatch.setattr(others, "MOST_SQUARE", square)
    monkeypatch.setattr(others, "MOST_COLUMNS", columns)
    monkeypatch.setattr(busy, "MOST_STARTS", columns // 3)
    monkeypatch.setattr(busy, "MOST_ENDS", columns)
    chip = any_odd(Random(seed))
    assert too_high(chip, Random(seed), 6) == {}


@pytest.mark.parametrize(("rate", "slots"), [(15, 1_200), (16, 1_280), (26, 2_080)])
def test_lines_of_a_thousand_slots_and_more(rate, slots):
    """80 dots at 15, 16 and 26 accesses a dot: at MOST_SQUARE, beyond it, and beyond MOST_COLUMNS."""
    random = Random(slots)
    for _ in range(2):
        plan = odd_plan(random)
        sizes = plan["frame"].pop("sizes", [[64, plan["frame"].get("height", 64)]])
        plan["frame"] |= {"width": 64, "height": max(high for _, high in sizes), "dots_per_line": 80}
        plan["memory"]["accesses_per_dot"] = rate
        chip = made(plan)
        if chip is not None:
            assert Server(chip).line.slots == slots
            assert too_high(chip, random, 4) == {}


# On paper


def alone(client: dict[str, Any], *, refresh: int = 0) -> Chip:
    """One layer of 8 tiles that stand still, fetched as ``client`` says."""
    time = {"clients": {"a.cells": client, "a.pattern": client}, **({"refresh": {"slots": refresh}} if refresh else {})}
    return small_chip({**TILES, "scroll": False}, memory=MEMORY, time=time)


@pytest.mark.parametrize(("lead", "cells", "pattern"), [(8, 7, 6), (2, 1, 0), (1, 0, -1)])
def test_a_layer_alone_is_bounded_exactly(lead, cells, pattern):
    """A tile due at dot d has slots 16 + d - lead to 15 + d: of its ``lead`` slots the cell has the first, its row the second."""
    chip = alone({"when": "in time", "lead": lead})
    assert bound(chip, Server(chip), Ways(chip)).slack == {"a.cells": cells, "a.pattern": pattern}


@pytest.mark.parametrize(("refresh", "slack"), [(0, 0), (1, -1)])
def test_a_blanking_that_is_full(refresh, slack):
    """16 blank slots for 8 cells and 8 rows: the cells have 0 to 7, the rows 8 to 15. With one of refresh more
    the last row has none.
    """
    chip = alone({"when": "blanking"}, refresh=refresh)
    found = bound(chip, Server(chip), Ways(chip))
    assert found.slack["a.pattern"] == slack
    assert found.layers is (refresh == 0)


def letters_whose_cells_are_late(refresh: int) -> Chip:
    """80 slots, 16 of them blank. 5 letters from dot 20 on: their cells are fetched in the blank slots, their glyphs as late
    as in the slot before the letter shows, the first by slot 35.
    """
    letters = {
        "name": "x", "kind": "text", "glyph": [6, 8], "cell_bytes": 1, "cell": {"character": "3:0"},
        "columns": 5, "rows": 8, "left": 20,
    }  # fmt: skip
    clients = {"a.cells": {"when": "blanking"}, "a.glyphs": {"when": "in time", "lead": 24}}
    return small_chip(letters, memory=MEMORY, time={"clients": clients, "refresh": {"slots": refresh}})


@pytest.mark.parametrize(("refresh", "cells", "glyphs"), [(11, 0, 19), (12, -1, -1)])
def test_what_hangs_on_a_cell_that_may_be_missed_may_be_too(refresh, cells, glyphs):
    """With 11 slots of refresh the 5 cells have slots 11 to 15. The glyph of the first letter, due at dot 20, before slot 36,
    may come from slot 12 on, and no later than its cell may, in slot 15, and before the next: slot 16 at most, 19 before 35.
    With 12 the last letter's cell has none, and its glyph, due 24 dots later, is missed with it.
    """
    chip = letters_whose_cells_are_late(refresh)
    found = bound(chip, Server(chip), Ways(chip))
    assert (found.slack["a.cells"] >= 0, found.slack["a.glyphs"] >= 0) == (cells >= 0, glyphs >= 0)
    assert too_high(chip, Random(1)) == {}
    assert budget(chip).lines.spare["a.glyphs"].slots == glyphs


def test_an_access_that_is_never_made_takes_no_slot_away_from_those_that_are():
    """a: the cell due at dot d in slot d + 8; its row in blanking, so that but the first, in slot 9, come too late before they
    can be asked for. b: letters due at dots 20, 26, 32 and so on, from slot d + 8 on; that at 32 has slot 41, after a's cell in
    slot 40, and 47 would serve: 6 to spare.
    """
    letters = {
        "name": "x", "kind": "text", "glyph": [6, 8], "cell_bytes": 1, "cell": {"character": "3:0"},
        "columns": 5, "rows": 8, "left": 20,
    }  # fmt: skip
    lead = {"when": "in time", "lead": 8}
    clients = {"a.cells": lead, "a.pattern": {"when": "blanking"}, "b.cells": lead, "b.glyphs": lead}
    chip = small_chip({**TILES, "scroll": False}, letters, memory=MEMORY, time={"clients": clients})
    found = budget(chip).lines
    assert (found.spare["a.pattern"].missed, found.spare["b.cells"].slots) == (7, 6)
    assert bound(chip, Server(chip), Ways(chip)).slack["b.cells"] == 6


# Against what is published


def response_times(tasks: Sequence[tuple[int, int]]) -> list[int]:
    """R = C + sum of ceil(R / T) x C of all tasks before, for tasks (C, T) in order of priority."""
    found = []
    for number, (cost, _) in enumerate(tasks):
        response = cost
        while True:
            more = cost + sum(-(-response // period) * other for other, period in tasks[:number])
            if more == response:
                break
            response = more
        found.append(response)
    return found


@pytest.mark.parametrize(
    ("tasks", "published"),
    [
        # Burns, Wellings, Real-Time Systems and Programming Languages, response time analysis: from memory
        ([(3, 7), (3, 12), (5, 20)], [3, 6, 20]),
        # the same book's task set D, of which utilisation alone says nothing: from memory
        ([(5, 20), (10, 40), (40, 80)], [5, 15, 80]),
    ],
)
def test_serving_at_the_critical_instant_takes_the_published_response_times(tasks, published):
    """M. Joseph, P. Pandya, The Computer Journal 29(5), 1986: all tasks released at once, higher ones again every period.

    Each task is a client whose jobs are C accesses, every T slots.
    """
    assert response_times(tasks) == published
    server = Server(alone({"when": "blanking"}))
    free: Sequence[int] = range(160)
    for (cost, period), response in zip(tasks, published, strict=True):
        jobs = [Job(begin, 160, cost) for begin in range(0, 160, period)]
        free, slots = server.give("a.cells", free, jobs, None)
        assert slots[0][-1] + 1 == response


def letters_as_tasks(tasks: Sequence[tuple[int, int]], lead: int) -> Chip:
    """A layer of letters for each task (C, T): cells of C accesses, due every T dots from dot 0 on; an access a dot.

    All are asked for ``lead`` dots before they are due, so that the first of every layer are asked for at once. Glyphs come
    after all cells, so that they are in nobody's way.
    """
    letters = [
        {
            "name": "x", "kind": "text", "glyph": [period, 8], "cell_bytes": cost, "cell": {"character": "3:0"},
            "columns": 64 // period, "rows": 8,
        }
        for cost, period in tasks
    ]  # fmt: skip
    when = {"when": "in time", "lead": lead}
    names = [name for name, _ in zip("abcdef", tasks, strict=False)]
    clients = {f"{name}.{what}": when for what in ("cells", "glyphs") for name in names}
    frame = {"width": 64, "height": 64, "dot_clock": 1_000_000, "dots_per_line": 72 + lead, "lines_per_frame": 70}
    return small_chip(*letters, memory=MEMORY, frame=frame, time={"clients": clients})


@pytest.mark.parametrize(
    "tasks",
    [
        [(2, 5), (1, 7), (2, 8)],
        [(1, 4), (2, 6), (2, 8)],
        [(2, 4), (2, 8), (1, 8)],
        [(1, 4), (1, 5), (1, 6), (2, 8)],
        [(1, 5), (2, 6), (1, 7), (1, 8)],
        [(2, 4), (1, 4), (1, 8)],
    ],
)
def test_the_bound_of_tasks_is_their_response_time(tasks):
    """A cell that is asked for ``lead`` slots before it is due and has its last slot after R has lead - R to spare."""
    lead = 30
    chip = letters_as_tasks(tasks, lead)
    found = bound(chip, Server(chip), Ways(chip)).slack
    assert [lead - found[f"{name}.cells"] for name, _ in zip("abcdef", tasks, strict=False)] == response_times(tasks)


# Faults planted in the bound


def short_windows(monkeypatch) -> None:
    """Each access is said to be done a slot before it may be."""
    done = bounds.Bounder._done
    monkeypatch.setattr(bounds.Bounder, "_done", lambda self, left, count: done(self, left, count) - 1)


def nobody_before(monkeypatch) -> None:
    """Other layers and sprites are left out."""
    monkeypatch.setattr(
        bounds.Bounder, "_others", lambda self, name, layer, mode, at: np.zeros((len(at), len(self.columns)), np.int32)
    )


def no_sprites(monkeypatch) -> None:
    """Sprites take no slot."""
    sprites = bounds.Bounder._sprites

    def without(self: Any) -> int:
        room = sprites(self)
        self.of_sprites = None
        return room

    monkeypatch.setattr(bounds.Bounder, "_sprites", without)


def one_position(monkeypatch) -> None:
    """Layers are looked at where they are scrolled to one position only."""
    of_mode = bounds.Bounder._of_mode
    monkeypatch.setattr(bounds.Bounder, "_of_mode", lambda self, number, mode: of_mode(self, number, mode)[-1:])


def early_over(monkeypatch) -> None:
    """An access of another is said to be over as soon as it may have begun."""
    monkeypatch.setattr(others.Taken, "over", lambda self, places: np.searchsorted(self.earliest, places))


def roomy(monkeypatch) -> None:
    """A slot more for sprites."""
    find = bounds.bound
    monkeypatch.setitem(
        globals(), "bound", lambda *given, **more: SlackBound(find(*given, **more).slack, find(*given, **more).room + 1)
    )


def busy_alone(monkeypatch) -> None:
    """In a busy stretch nobody else asks for anything."""
    monkeypatch.setattr(bounds.Busy, "_others", lambda self, layer, mode: np.zeros(self.supply.shape, np.int64))


def busy_with_others(monkeypatch) -> None:
    """In a busy stretch a layer's own clients before this one ask for nothing."""
    monkeypatch.setattr(bounds.BoundedWay, "asked", property(lambda self: {}, lambda self, value: None), raising=False)


def busy_too_short(monkeypatch) -> None:
    """In a busy stretch every access is done a slot too soon."""
    latest = bounds.Busy.latest
    monkeypatch.setattr(bounds.Busy, "latest", lambda self, *given: latest(self, *given) - 1)


FAULTS = [
    short_windows, nobody_before, no_sprites, one_position, early_over, roomy, busy_alone, busy_with_others, busy_too_short
]  # fmt: skip


AT_FIRST = (10, 7, 31, 29, 2)
"""Seeds of odd chips that show them soon."""


@pytest.mark.parametrize("fault", FAULTS)
def test_a_spoilt_bound_is_seen(fault, monkeypatch):
    """Of some odd chips at least one shows that the bound says too much."""
    fault(monkeypatch)
    assert any(too_high(any_odd(Random(seed)), Random(seed), 6) for seed in (*AT_FIRST, *range(80)))


def test_a_bound_that_never_thinks_of_missed_cells_is_seen(monkeypatch):
    """What hangs on a cell that may be missed is taken to be fetched."""
    monkeypatch.setattr(
        bounds.BoundedWay, "lost", property(lambda self: False, lambda self, value: None), raising=False
    )
    assert "a.glyphs" in too_high(letters_whose_cells_are_late(12), Random(1))
