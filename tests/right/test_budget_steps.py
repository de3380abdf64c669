"""Single steps to a verdict, by hand: where a search turns to, what a stage writes, what sprites take, how stripes lie.

The chip, unless it says otherwise: 64 dots of picture, 80 a line, so 16 blank slots before that of dot 0; an access a dot.
"""

from __future__ import annotations

from itertools import combinations_with_replacement
from typing import Any

import pytest
from paper import SPRITES, TILES, small_chip

from vdpsim.budgets.budget import budget
from vdpsim.budgets.line.bound import bound
from vdpsim.budgets.line.kinds import LineKind, splits_by_side
from vdpsim.budgets.line.line import Line
from vdpsim.budgets.line.ways import Ways
from vdpsim.budgets.line.worst import Worst
from vdpsim.budgets.onchip import on_chip
from vdpsim.budgets.reach import reachable, sprite_accesses
from vdpsim.budgets.told import plain as plain_text
from vdpsim.budgets.told.section import Section
from vdpsim.budgets.told.where import SHORT, where
from vdpsim.budgets.witness import search as searching
from vdpsim.budgets.witness.crowd import SizeCost, choose
from vdpsim.budgets.witness.dressing import Dresser, _stripes
from vdpsim.budgets.witness.scrolling import Scrolls
from vdpsim.budgets.witness.search import MissSearch
from vdpsim.budgets.witness.staging import Stage, Stager
from vdpsim.chip.line.serving import Stretch
from vdpsim.chip.line.slots import Server
from vdpsim.chip.model import Chip

MEMORY = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 1}
STILL = {**TILES, "scroll": False}
LINE = {"name": "b", "kind": "bitmap", "bits_per_dot": 1, "width": 64, "height": 8, "scroll": False}
LETTER = {
    "name": "x", "kind": "text", "glyph": [8, 8], "cell_bytes": 1, "cell": {"character": "3:0"}, "columns": 1, "rows": 8,
}  # fmt: skip


def lead(dots: int) -> dict[str, Any]:
    return {"when": "in time", "lead": dots}


# The search among lines


def two_layers() -> Chip:
    """Each shows still tiles, a line of a bitmap or a letter."""
    clients = {f"{name}.{what}": lead(8) for name in "ab" for what in ("cells", "pattern", "bitmap", "glyphs")}
    return small_chip(
        layers=[{"name": name, "modes": [STILL, LINE, LETTER]} for name in "ab"],
        ladder=[{"source": "a"}, {"source": "b"}],
        memory={**MEMORY, "accesses_per_dot": 2},
        time={"clients": clients},
    )


def search_of(chip: Chip) -> MissSearch:
    return MissSearch(Worst(chip, Server(chip), Ways(chip)), picture=True)


@pytest.mark.parametrize("number", [0, 1])
@pytest.mark.parametrize("mode", [0, 1, 2, None])
def test_one_layer_goes_to_another_mode_and_the_other_stays_as_it_is(number, mode):
    seek = search_of(two_layers())
    for own, beside in ((0, 0), (1, 2), (2, None), (None, 1)):
        before = seek._with([own, beside], first=True)
        after = seek._to_mode(before, number, mode)
        assert after.modes == ((mode, beside) if number == 0 else (own, mode))
        assert after.layers[1 - number] == before.layers[1 - number]
        assert (after.layers[number] is None) == (mode is None)
        assert after.sprites == before.sprites


def test_a_search_begins_with_everything_at_its_fullest():
    """Both in their first mode, in the way that comes first, with as many accesses of sprites as can be; each time."""
    clients = {name: lead(8) for name in ("a.cells", "a.pattern")} | {"sprites": {"when": "blanking"}}
    chip = small_chip(TILES, sprites=SPRITES, memory=MEMORY, time={"clients": clients})
    seek = search_of(chip)
    ways = seek.ways.of(0, 0, picture=True)
    assert len(ways) > 1
    for _ in range(20):
        first = seek._fullest()
        assert (first.modes, first.layers, first.sprites) == ((0,), (ways[0],), 4)
    assert len({(place.layers, place.sprites) for place in (seek._any() for _ in range(60))}) > 4


def test_who_comes_before_leaves_room_for_the_mode_that_is_wanted():
    """Layer a comes first, and its bitmap switches b off: for b to be on a goes to its tiles, and b goes where a is kept."""
    clients = {name: lead(8) for name in ("a.cells", "a.pattern", "a.bitmap", "b.cells", "b.pattern")}
    chip = small_chip(
        layers=[{"name": "a", "modes": [{**LINE, "exclusive": ["b"]}, STILL]}, {"name": "b", "modes": [STILL]}],
        ladder=[{"source": "a"}, {"source": "b"}],
        memory={**MEMORY, "accesses_per_dot": 2},
        time={"clients": clients},
    )
    seek = search_of(chip)
    assert seek.order == (0, 1)
    alone, beside = seek._with([0, None], first=True), seek._with([1, 0], first=True)
    assert seek._to_mode(alone, 1, 0).modes == (1, 0)
    assert seek._to_mode(beside, 0, 0).modes == (0, None)
    assert seek._to_mode(beside, 0, None).modes == (None, 0)
    assert seek._to_mode(beside, 1, None).modes == (1, None)


def scores_of(seek: MissSearch, scores: list[tuple[int, int, int]], beginnings: int) -> int:
    """How many places a search looks at where they score as ``scores`` say and then as the last of it."""
    looked = []
    place = seek._fullest()

    def score(place: Any) -> tuple[int, int, int]:
        looked.append(place)
        return scores[min(len(looked), len(scores)) - 1]

    seek._beginnings = lambda most: iter([place] * beginnings)
    seek._score = score
    assert seek.run() is None
    return len(looked)


@pytest.mark.parametrize(
    ("scores", "beginnings", "looked"),
    [
        ([(0, 5, 9)], 1, 4),  # the beginning, and three neighbours that are no nearer
        ([(0, 5, 9)], 2, 8),
        ([(0, 5, 9), (0, 5, 9), (0, 5, 9), (0, 5, 8)], 1, 7),  # the third is nearer: three more
        ([(0, 5, 9), (0, 6, 1)], 1, 4),
        ([(0, 5, 9), (0, 5, 8), (0, 5, 7), (0, 4, 9)], 1, 7),
    ],
)
def test_a_search_begins_anew_after_so_many_neighbours_in_vain(scores, beginnings, looked, monkeypatch):
    monkeypatch.setattr(searching, "PATIENCE", 3)
    assert scores_of(search_of(two_layers()), scores, beginnings) == looked


def test_a_search_ends_after_so_many_lines(monkeypatch):
    """Four in all: a beginning and three neighbours, though there is patience for more, or three beginnings are left."""
    monkeypatch.setattr(searching, "MOST_TRIED", 4)
    monkeypatch.setattr(searching, "FEWEST_TRIED", 1)
    assert scores_of(search_of(two_layers()), [(0, 5, 9)], 9) == 4
    monkeypatch.setattr(searching, "PATIENCE", 0)
    assert scores_of(search_of(two_layers()), [(0, 5, 9)], 9) == 4
    monkeypatch.setattr(searching, "FEWEST_TRIED", 6)
    assert scores_of(search_of(two_layers()), [(0, 5, 9)], 9) == 6


# Stages


@pytest.mark.parametrize(
    ("place", "frame", "writes"),
    [
        (-1, None, None),
        (0, 1, [(1, 0, "a.enable", 1)]),
        (1, 0, [(0, 1, "a.enable", 1)]),
        (62, 0, [(0, 62, "a.enable", 1)]),
        (63, None, None),
    ],
)
def test_a_register_is_written_at_the_line_that_is_wanted(place, frame, writes):
    """Layer a fills its buffer a line ahead and switches off b, which shows still where a is enabled at this line's dot 0.

    Line 0 can only be that of the frame after: what is written in the first lines of frame 0 has no line before it. On line 63
    nothing follows that a could fill its buffer for, and before the frame nothing shows.
    """
    picture = {**LINE, "bits_per_dot": 4, "height": 16, "exclusive": ["b"]}
    clients = {"a.bitmap": {"when": "line before"}, "b.cells": lead(8), "b.pattern": lead(8)}
    chip = small_chip(picture, STILL, memory=MEMORY, time={"clients": clients})
    line = budget(chip).lines.late[0].line
    assert line.kind.modes == (0, 0)
    stager = Stager(chip, Server(chip), Ways(chip))
    stager._places = lambda line: iter([place])
    assert list(stager._stages(line, still=True)) == []
    stages = list(stager._stages(line, still=False))
    if writes is None:
        assert stages == []
        return
    assert {(one.line, one.frame) for one in stages} == {(place, frame)}
    assert (stages[0].registers, stages[0].writes) == ({"a.enable": 0, "b.enable": 1}, writes)


@pytest.mark.parametrize(
    ("place", "written"), [(0, (0, 69, "a.enable", 1)), (1, (0, 0, "a.enable", 1)), (62, (0, 61, "a.enable", 1))]
)
def test_a_register_that_counts_from_the_next_line_on_is_written_a_line_before(place, written):
    """The same chip, whose frames have 70 lines: for line 0 of frame 1 that is the last line of frame 0."""
    picture = {**LINE, "bits_per_dot": 4, "height": 16, "exclusive": ["b"]}
    clients = {"a.bitmap": {"when": "line before"}, "b.cells": lead(8), "b.pattern": lead(8)}
    registers = {"a.enable": {"bits": 1, "effect": "next line"}, "b.enable": {"bits": 1, "effect": "at once"}}
    chip = small_chip(picture, STILL, memory=MEMORY, registers=registers, time={"clients": clients})
    stager = Stager(chip, Server(chip), Ways(chip))
    stager._places = lambda line: iter([place])
    stages = list(stager._stages(budget(chip).lines.late[0].line, still=False))
    assert (stages[0].registers, stages[0].writes) == ({"a.enable": 0, "b.enable": 1}, [written])


@pytest.mark.parametrize(
    ("line", "fresh", "kept"),
    [(0, False, False), (5, False, True), (6, False, True), (8, False, False), (9, True, False)],
)
def test_cells_of_a_text_are_kept_within_its_rows(line, fresh, kept):
    """Glyphs 6 dots wide and 8 high: cells are fetched on lines 0, 8, 16 and so on, or where the layer was off before."""
    clients = {"a.cells": {**lead(8), "keep": True}, "a.glyphs": lead(8)}
    text = {**LETTER, "glyph": [6, 8]}
    chip = small_chip(text, memory=MEMORY, time={"clients": clients})
    ways = Ways(chip)
    scrolls, layer = Scrolls(chip, Server(chip), ways.can), chip.layers[0]
    found = {
        way.kept: scrolls.registers(layer, layer.modes[0], way, line, split=0, fresh=fresh) is not None
        for way in ways.of(0, 0, picture=True)
        if way is not None
    }
    assert found == {kept: True, not kept: False}


@pytest.mark.parametrize(("line", "shown"), [(23, True), (24, True), (31, True), (32, False), (40, False)])
def test_a_text_shows_on_the_lines_of_its_rows_alone(line, shown):
    """Four rows of glyphs 6 dots wide and 8 high: lines 0 to 31."""
    chip = small_chip(
        {**LETTER, "glyph": [6, 8], "rows": 4},
        memory=MEMORY,
        time={"clients": {"a.cells": lead(8), "a.glyphs": lead(8)}},
    )
    scrolls, layer = Scrolls(chip, Server(chip), reachable(chip)), chip.layers[0]
    ways = Ways(chip).of(0, 0, picture=True)
    assert None in ways
    for way in ways:
        found = scrolls.registers(layer, layer.modes[0], way, line, split=0, fresh=True)
        assert (found is not None) == ((way is not None) == shown)


# The bound


@pytest.mark.parametrize(("slots", "cells", "pattern"), [([0], 14, 13), ([0, 1], 13, 12), ([3], 15, 14)])
def test_sprites_take_no_more_than_their_own_slots(slots, cells, pattern):
    """Four sprites of one access, in the named slots of every four. A tile due at dot 0 has slots 0 to 15, its cell the first
    that no sprite has and its row the next: of slots 0 and 4 that is 1 and 2, of 0, 1, 4 and 5 it is 2 and 3, of 3 it is 0 and
    1.
    """
    clients = {
        "sprites": {"when": "blanking", "every": 4, "at": slots},
        "a.cells": lead(16),
        "a.pattern": lead(16),
    }
    chip = small_chip(STILL, sprites=SPRITES, memory=MEMORY, time={"clients": clients})
    served = budget(chip).lines
    assert (served.least("a.cells"), served.least("a.pattern")) == (cells, pattern)
    found = bound(chip, Server(chip), Ways(chip)).slack
    assert (found["a.cells"], found["a.pattern"]) == (cells, pattern)


@pytest.mark.parametrize(("count", "at_latest", "served"), [(1, 2, 2), (2, 4, 2), (3, 6, 4), (4, 8, 4)])
def test_sprites_take_no_more_than_they_ask_for(count, at_latest, served):
    """A letter's cell has the even ones of 16 blank slots, sprites of one access have all. The n sprites take slots 0 to n - 1,
    and the cell the next even one. The bound knows but that each may have taken one of the cell's: n of slots 0 to 2n are gone.
    """
    clients = {
        "sprites": {"when": "blanking"},
        "a.cells": {"when": "blanking", "every": 2, "at": [0]},
        "a.glyphs": lead(8),
    }
    sprites = {**SPRITES, "count": count, "per_line": count}
    chip = small_chip(LETTER, sprites=sprites, memory=MEMORY, time={"clients": clients})
    spare = budget(chip).lines.spare["a.cells"]
    assert (spare.slot, spare.last) == (served, 15)
    assert 15 - bound(chip, Server(chip), Ways(chip)).slack["a.cells"] == at_latest


@pytest.mark.parametrize(
    ("refresh", "room", "fit"), [(4, 10, 2), (5, 9, 1), (7, 7, 1), (8, 6, 0), (10, 4, 0), (11, 3, 0), (14, 0, 0)]
)
def test_sprites_fit_into_what_their_scan_leaves(refresh, room, fit):
    """Of 16 blank slots the layer has two, for its first tile, and refresh the first ones. A scan of four records takes four,
    and each sprite three. Where there is room for a part of the scan alone no sprite fits, and not fewer than none.
    """
    clients = {"a.cells": lead(8), "a.pattern": lead(8), "sprites": {"when": "blanking"}}
    time = {"clients": clients, "refresh": {"slots": refresh}}
    found = budget(small_chip(STILL, sprites={**SPRITES, "table": "memory"}, memory=MEMORY, time=time)).sprites
    assert (found.room, found.fit) == (room, fit)


def test_where_sprites_can_ask_for_too_many_sums_every_number_is_taken(monkeypatch):
    """Four sprites of 8 x 4 with one bit a dot take one access each, as many as there are or fewer; of two sizes 1 or 2 each."""
    wide = {**SPRITES, "sizes": [[8, 4], [24, 4]], "fields": {**SPRITES["fields"], "size": "21"}}
    chips = [small_chip(STILL, sprites=sprites) for sprites in (SPRITES, wide)]
    exact = [sprite_accesses(chip) for chip in chips]
    assert exact == [[0, 1, 2, 3, 4], [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12]]
    monkeypatch.setattr("vdpsim.budgets.reach.MOST_SUMS", 0)
    assert [sprite_accesses(chip) for chip in chips] == [[0, 1, 2, 3, 4], list(range(13))]


@pytest.mark.parametrize(("number", "dots"), [(0, 99), (2, 99), (5, 99), (5, 40), (3, 23)])
def test_sizes_are_chosen_that_cost_what_is_wanted_wherever_there_are_some(number, dots):
    """Sizes of 8, 16 and 24 dots that cost 4, 6 and 9 accesses: against every choice."""
    each = [SizeCost(8, 4, 0), SizeCost(16, 6, 1), SizeCost(24, 9, 2)]
    ways = [way for count in range(number + 1) for way in combinations_with_replacement(each, count)]
    ways = [way for way in ways if sum(one.dots for one in way) <= dots]
    there = {sum(one.cost for one in way) for way in ways}
    for wanted in range(50):
        found = choose(wanted, each, number=number, dots=dots)
        assert (found is not None) is (wanted in there)
        if found is not None:
            assert sum(each[size].cost for size in found) == wanted
            assert len(found) <= number and sum(each[size].dots for size in found) <= dots


@pytest.mark.parametrize(("rungs", "resolve", "bits"), [(1, True, 640), (2, True, 1280), (2, False, 640)])
def test_sprites_that_are_resolved_rung_by_rung_have_a_line_for_each_rung(rungs, resolve, bits):
    """64 dots of entry 4 and shown 1, twice: one is filled while the other shows."""
    ladder = [{"source": "a"}, *[{"source": "sprites"}] * rungs]
    sprites = {**SPRITES, **({"resolve": "rung by rung"} if resolve else {})}
    found = {kept.name: kept.bits for kept in on_chip(small_chip(STILL, sprites=sprites, ladder=ladder))}
    assert found["sprite line buffers"] == bits


@pytest.mark.parametrize(("client", "slot"), [("a.cells", 7), ("a.pattern", 15)])
def test_the_tile_that_is_nearest_to_being_late_is_named(client, slot):
    """Eight cells and eight rows fill 16 blank slots: the last of each, tile 7, has least to spare."""
    blanking = {"when": "blanking"}
    chip = small_chip(STILL, memory=MEMORY, time={"clients": {"a.cells": blanking, "a.pattern": blanking}})
    spare = budget(chip).lines.spare[client]
    assert (spare.group, spare.slot, spare.slots) == (7, slot, 15 - slot)


@pytest.mark.parametrize(
    ("stretch", "long", "short"),
    [
        (None, "a t below its last row", "a t (no row)"),
        (Stretch(0, 3, 0, 8, 0, False, False, b""), "a t scrolled by 3 of 8 dots", "a t 3/8"),
        (Stretch(0, 3, 0, 8, 0, False, True, b""), "a t scrolled by 3 of 8 dots, cells kept", "a t 3/8 kept"),
    ],
)
def test_a_layer_on_a_line_in_words(stretch, long, short):
    chip = small_chip(TILES, memory=MEMORY, time={"clients": {"a.cells": lead(8), "a.pattern": lead(8)}})
    line = Line(LineKind((0,)), (stretch,), 0)
    assert (where(chip, line), where(chip, line, words=SHORT)) == (long, short)


# What a witness shows


def dresser() -> Dresser:
    """Sprites' table and maps lie at any of 1024 bytes; a table is four records of three bytes."""
    names = ("a.t.map", "a.t.patterns", "sprites.patterns", "sprites.table")
    registers = {name: {"bits": 10, "effect": "at once"} for name in names}
    clients = {name: {"when": "blanking"} for name in ("sprites", "a.cells", "a.pattern")}
    chip = small_chip(
        TILES, sprites={**SPRITES, "table": "memory"}, memory=MEMORY, registers=registers, time={"clients": clients}
    )
    return Dresser(chip, Server(chip), reachable(chip))


@pytest.mark.parametrize(
    ("taken", "at"),
    [
        ([], 0),
        ([range(4)], 4),
        ([range(4), range(4, 16)], 16),
        ([range(12, 13)], 0),  # 0 to 11 are free
        ([range(11, 13)], 13),
        ([range(1012)], 1012),  # the last 12 bytes
        ([range(1013)], 0),  # no such place: the first
    ],
)
def test_the_first_place_that_is_nobodys(taken, at):
    assert dresser()._place("sprites.table", 12, taken) == at


def test_a_table_in_memory_comes_after_the_patterns():
    """A pattern of 8 x 4 dots of a bit is four bytes from 0 on; where no sprite is wanted nothing is laid out."""
    assert list(dresser()._bytes(Stage(3), [(3, 0)])) == [("[registers]", {"sprites.table": 4})]
    assert list(dresser()._bytes(Stage(3), [])) == []


@pytest.mark.parametrize(
    ("given", "rows"),
    [
        # dots 0 to 7 of the first row, 1 to 8 of the second: half of each, downwards, times 3, of 16; 1 for 0 and each fourth
        ((8, 2, 4), ("11331699", "13316991")),
        ((8, 2, 4, 0), ("00001699", "00016990")),  # the first four of eight show what is behind them
        ((9, 1, 4, None, 6), ("991cff125",)),
        ((8, 1, 8), ("0101030301060909",)),  # two digits for eight bits
        ((8, 2, 1, 0, 3), ("01111000", "11110000")),
        ((8, 1, 2), ("11331211",)),  # 3 x 2 is 2 of 4, 3 x 3 is 1
    ],
)
def test_stripes_by_hand(given, rows):
    assert _stripes(*given) == rows


def test_turned_cells_are_written_as_bytes_where_the_map_lies():
    """A map of 16 x 8 cells of a byte, whose bit 3 turns: of the second column every cell is 8, and the map lies from 0 on."""
    tiles = {**STILL, "cell": {"pattern": "2:0", "turn": "3"}}
    registers = {"a.t.map": {"bits": 10, "effect": "at once"}}
    chip = small_chip(
        tiles, memory=MEMORY, registers=registers, time={"clients": {"a.cells": lead(8), "a.pattern": lead(8)}}
    )
    stage = Stage(3, turned={0: (0, bytes([0, 1, 0]))})
    image = [0, 8, *[0] * 14] * 8
    assert list(Dresser(chip, Server(chip), reachable(chip))._bytes(stage, [])) == [
        ("[registers]", {"a.t.map": 0}),
        ("[[writes]]", {"frame": 0, "line": 0, "memory": 0, "bytes": image}),
    ]


# How it is told


@pytest.mark.parametrize(
    ("right", "rows"),
    [
        (0, ["  name  used  x", "  a     7     10", "  bcd   1234  9"]),
        (1, ["  name  used   x", "  a     7     10", "  bcd   1234   9"]),
        (2, ["  name  used   x", "  a        7  10", "  bcd   1234   9"]),
    ],
)
def test_as_many_columns_from_the_right_as_are_numbers_are_set_to_the_right(right, rows, monkeypatch):
    section = Section("Told", ("name", "used", "x"), (("a", "7", "10"), ("bcd", "1234", "9")), right, ())
    monkeypatch.setattr(plain_text, "sections", lambda *_, **__: [section])
    monkeypatch.setattr(plain_text, "verdict_lines", lambda _: ["It fits."])
    lines = plain_text.plain(None).splitlines()
    assert lines[2:6] == ["Told", *rows]


@pytest.mark.parametrize(
    ("split", "line", "after", "found"),
    [
        (range(1, 9), 5, None, (6, 1, None, None)),  # the next line shows the same: no split lies between the two
        (range(1, 9), 5, 6, (7, 1, 6, None)),
        (range(1, 9), 8, 0, (None, None, None, 1)),  # the first line of the next frame: below no split from 1 on
        (range(9), 8, 0, (None, 0, None, 1)),
        (range(4, 9, 4), 4, 5, (8, 4, None, None)),  # 5 is no split that the register can hold
    ],
)
def test_on_which_side_of_a_split_a_line_and_the_next_lie(split, line, after, found):
    """A line lies below a split where it is that line or a later one."""
    assert splits_by_side(split, line, after) == found
