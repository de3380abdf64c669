"""Time on the line, worked by hand: which slot each access gets, what is late by one slot, what a transfer tears.

The chips are those of ``paper.py``: 64 dots of 80, so that 16 dots of blanking stand before dot 0. With one access a dot a line
has slots 0 to 79, of which 0 to 15 are blank; dot d shows at slot 16 + d, and what it needs has to be over by then, in slot
15 + d at the latest.
"""

from __future__ import annotations

from functools import partial
from typing import Any

import paper
import pytest
from agreement import state_differences
from paper import BITMAP, SPRITES, TILES, at, holding, small_chip, sprite
from refusal import refused
from twin import TwinResult

from vdpsim.chip.registers import registers
from vdpsim.engine import NotInTimeError, Plan, draw
from vdpsim.state.state import State, Waiting
from vdpsim.state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, SpriteWrite, Transfer

COLOURED = {**TILES, "bits_per_dot": 4, "cell_bytes": 2}
"""A cell of 2 bytes, a row of 4: six accesses of one byte."""


HIDDEN = {"a.bitmap": {"when": "in time", "lead": 1}}
"""A layer that is switched off where nothing else is said: the slots are for others."""


both = partial(paper.both, damage=True)
"""The twin's frame, damage and all."""


def in_time(lead: int, **more: Any) -> dict[str, Any]:
    """A client that asks from ``lead`` dots before its dots show."""
    return {"when": "in time", "lead": lead, **more}


def timed(
    *modes: Any, clients: dict[str, Any], rate: Any = 1, share: Any = None, refresh: Any = None, **tables: Any
) -> Any:
    """A small chip with a time table; ``share`` is what the CPU has of the slots."""
    time = {"clients": clients}
    if share:
        time["cpu"] = share
    if refresh:
        time["refresh"] = refresh
    memory = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": rate}
    return small_chip(*modes, memory=memory, time=time, **tables)


def tiles(lead: int, *, mode: Any = TILES, pattern: dict[str, Any] | None = None, **tables: Any) -> Any:
    """A chip with one tile layer, whose cells and patterns are fetched from ``lead`` dots before they show."""
    return timed(mode, clients={"a.cells": in_time(lead), "a.pattern": pattern or in_time(lead)}, **tables)


def slots_of(twin: TwinResult, line: int) -> dict[int, str]:
    """Who had which slot of ``line``."""
    return {slot: client for where, slot, client, _, _ in twin.trace if where == line}


def lines(*texts: str) -> dict[int, str]:
    """``"14 a.cells"`` and the like, as ``slots_of`` tells it."""
    return {int(text.split()[0]): text.split()[1] for text in texts}


# Both sides of a lead


@pytest.mark.parametrize(("lead", "missed", "shown"), [(6, 0, 64), (5, 8, 0)])
def test_six_accesses_need_a_lead_of_six(lead, missed, shown):
    """A cell of two accesses, then a row of four, for dot d in slots 10 + d to 15 + d: with lead 6 the cell may go from
    slot 16 + d - 6 = 10 + d on and all is there. With lead 5 it goes in 11 + d and 12 + d, the row in 13 + d to 15 + d, and
    the row's fourth access is late: 1 for each of 8 groups, none of which shows; the other 8 x 5 accesses are made.
    """
    twin = both(holding(tiles(lead, mode=COLOURED), {0: bytes(256), 512: b"\x11" * 512}, a__t__patterns=512))
    assert twin.missed[20] == {"a.cells": 0, "a.pattern": missed}
    assert twin.slots[20] == {"a.cells": 16, "a.pattern": 32 - missed, "refresh": 0, "cpu": 0}
    assert sum(source == 1 for source in twin.source[20]) == shown
    first = 16 - lead
    assert [access for access in twin.trace if access[0] == 20 and access[1] < 16] == [
        (20, first, "a.cells", 2 * 32, 0),
        (20, first + 1, "a.cells", 2 * 32 + 1, 0),
        *[(20, first + 2 + step, "a.pattern", 512 + 4 * 4 + step, 0x11) for step in range(min(4, lead - 2))],
    ]


def test_a_missed_fetch_is_an_error_unless_the_damage_is_wanted():
    """The chip above with lead 5: refused, and nothing has happened."""
    state = holding(tiles(5, mode=COLOURED))
    before = state.copy()
    with refused(NotInTimeError, "a.pattern"):
        draw(Plan(state.chip), state)
    assert state_differences(before, state) == []


@pytest.mark.parametrize(("lead", "missed", "old"), [(9, 1, 0), (10, 0, 8)])
def test_a_turned_cell_has_to_share_with_the_next(lead, missed, old):
    """Cell 0 is turned: 1 + 8 accesses for dot 0, by slot 15. With lead 9 its cell goes in slot 7 and its row from slot 8
    on; but in slot 15 the next cell, which stands before patterns, may go (16 + 8 - 9 = 15) and does: seven of the row, the
    eighth is late. With lead 10 the cell goes in slot 6, seven of the row in 7 to 13, the next cell in 14, the eighth in
    15.
    """
    mode = {**TILES, "cell": {"pattern": "2:0", "turn": "5"}, "transparent": 0}
    state = holding(
        tiles(lead, mode=mode), {0: bytes([0b100_000]), 512: b"\xff" * 8, 520: bytes(56)}, a__t__patterns=512
    )
    state.memory[1:128] = 1
    twin = both(state)
    cell = 16 - lead
    row = [f"{slot} a.pattern" for slot in range(cell + 1, cell + 8)]
    assert {slot: who for slot, who in slots_of(twin, 0).items() if slot < 16} == lines(
        f"{cell} a.cells", *row, f"{cell + 8} a.cells", *(["15 a.pattern"] if lead == 10 else [])
    )
    assert twin.missed[0] == {"a.cells": 0, "a.pattern": missed}
    assert len(at(twin.indices[:1], 1)) == old


# One slot fewer


@pytest.mark.parametrize(("lead", "reserved", "shown"), [(4, False, 64), (4, True, 8), (5, True, 64)])
def test_a_reserved_slot_makes_the_last_in_the_order_late(lead, reserved, shown):
    """Two layers, four accesses for each 8 dots: with lead 4 slots 12 + d to 15 + d, in the order of the table a's cell,
    b's cell, a's row, b's row. Every eighth slot from 6 is the CPU's: 22 = 14 + 8 and so on, but not 14, which is blank. So
    b's row is late for all groups but the first, 7 of them; with lead 5 slot 11 + d is there instead.
    """
    share = {"active": "reserved", "every": 8, "at": [6]} if reserved else {"active": "none"}
    names = ["a.cells", "b.cells", "a.pattern", "b.pattern"]
    chip = timed(TILES, TILES, clients=dict.fromkeys(names, in_time(lead)), share=share, ladder=[{"source": "b"}])
    twin = both(holding(chip))
    assert twin.missed[7] == {**dict.fromkeys(names, 0), "b.pattern": (64 - shown) // 8}
    assert [dot for dot, _ in at(twin.source[7:8], 2)] == list(range(shown))
    of_dot_8 = {slot: who for slot, who in slots_of(twin, 7).items() if 24 - lead <= slot < 24}
    order = iter(names)
    assert of_dot_8 == {slot: next(order) for slot in range(24 - lead, 24) if not (reserved and slot == 22)}


@pytest.mark.parametrize(("slots", "missed"), [(14, 0), (15, 1)])
def test_refresh_pushes_a_fetch_one_slot_too_late(slots, missed):
    """Refresh comes first and takes slots 0 to 13: cell 0 in 14, its row in 15. One more and the cell goes in 15: the row
    is late, and dots 0 to 7 are missing. The other groups do not notice.
    """
    twin = both(holding(tiles(2, refresh={"slots": slots})))
    begin = {slot: who for slot, who in slots_of(twin, 3).items() if slot < 24}
    late = [f"{slots} a.cells"] if missed else ["14 a.cells", "15 a.pattern"]
    refresh = [f"{slot} refresh" for slot in range(slots)]
    assert begin == lines(*refresh, *late, "22 a.cells", "23 a.pattern")
    assert twin.missed[3]["a.pattern"] == missed
    assert [dot for dot, _ in at(twin.source[3:4], 0)] == list(range(8 * missed))


def test_refresh_goes_on_below_the_picture():
    """Its pattern has slots 5, 25, 45 and 65; three a line are wanted, on every line of the frame."""
    twin = both(holding(tiles(2, refresh={"slots": 3, "every": 20, "at": [5]})))
    assert [sorted(slot for slot, who in slots_of(twin, line).items() if who == "refresh") for line in (0, 69)] == [
        [5, 25, 45],
        [5, 25, 45],
    ]
    assert [counts["refresh"] for counts in twin.slots] == [3] * 70


@pytest.mark.parametrize(("lead", "late"), [(3, 0), (2, 8)])
def test_a_client_has_only_the_slots_of_its_pattern(lead, late):
    """Rows only in slots that are 6 modulo 8, that is 14 + d: with lead 3 the cell goes in 13 + d. With lead 2 it goes in
    14 + d itself, and the row's next slot is 22 + d, after the dots.
    """
    twin = both(holding(tiles(lead, pattern=in_time(3, every=8, at=[6]))))
    assert twin.missed[0] == {"a.cells": 0, "a.pattern": late}
    assert twin.slots[0]["a.pattern"] == 8 - late


@pytest.mark.parametrize(("refresh", "missed"), [(None, 0), ({"slots": 1}, 1)])
def test_a_bitmap_fetched_in_blanking_fills_it(refresh, missed):
    """64 dots at 2 bits are 16 accesses: just the 16 blank slots. With one gone to refresh the last is missed, dots 60 to
    63.
    """
    twin = both(holding(timed(BITMAP, clients={"a.bitmap": {"when": "blanking"}}, refresh=refresh)))
    assert twin.missed[9] == {"a.bitmap": missed}
    assert twin.slots[9]["a.bitmap"] == 16 - missed
    assert max(slots_of(twin, 9)) == 15
    assert [dot for dot, _ in at(twin.source[9:10], 0)] == list(range(64 - 4 * missed, 64))


# Rates that are no whole numbers


@pytest.mark.parametrize(("rate", "slots", "blank"), [("3/2", 120, 24), ("5/7", 57, 11), ("1/3", 26, 5)])
def test_slots_are_whole(rate, slots, blank):
    """80 dots: 120; 400 / 7 = 57.1; 26.7. 16 dots: 24; 80 / 7 = 11.4; 5.3. The CPU takes what there is: on line 0 all blank
    slots, and on line 69, below the picture, all. (3 x 1024 bytes outlast the frame: the most that it takes is 64 x 24 + 6
    x 120 = 2256.)
    """
    state = holding(timed(BITMAP, clients=HIDDEN, rate=rate, share={"active": "none"}), a__enable=0)
    state.waiting = tuple(Waiting(number, -80, 0, bytes(1024), 1) for number in range(3))
    state.transfers = 3
    twin = both(state)
    assert (twin.slots[0]["cpu"], twin.slots[69]["cpu"]) == (blank, slots)


@pytest.mark.parametrize(("lead", "shown"), [(3, [8, 40]), (4, list(range(0, 64, 8)))])
def test_a_fraction_of_a_slot_serves_nobody(lead, shown):
    """5/7 accesses a dot. Dot d shows (16 + d) x 5/7 slots after the beginning: 11.4, 17.1, 22.9, 28.6, 34.3, 40, 45.7,
    51.4 for d = 0, 8, ... 56; whole slots over by then: 11, 17, 22, 28, 34, 40, 45, 51. Lead 3 begins at (13 + d) x 5/7:
    9.3, 15, 20.7, 26.4, 32.1, 37.9, 43.6, 49.3, first whole slots 10, 15, 21, 27, 33, 38, 44, 50: two slots for d = 8 and
    40, else one, in which the cell goes. Lead 4 begins at 8.6, 14.3, 20, 25.7, 31.4, 37.1, 42.9, 48.6: from 9, 15, 20, 26,
    32, 38, 43, 49 on two slots for each.
    """
    twin = both(holding(tiles(lead, rate="5/7")))
    assert [dot for dot, _ in at(twin.source[:1], 1)] == [dot + step for dot in shown for step in range(8)]
    assert twin.missed[0] == {"a.cells": 0, "a.pattern": 8 - len(shown)}
    assert sum(twin.slots[0].values()) == 8 + len(shown)


# Sprites


CROWD = [sprite(3 * number, 30, pattern=1) for number in range(20)]
ONES = {512 + 4: b"\xff" * 4}


@pytest.mark.parametrize(("refresh", "drawn"), [(0, 16), (3, 13)])
def test_so_many_sprites_as_there_are_blank_slots(refresh, drawn):
    """20 sprites of one access each on lines 30 to 33: 16 blank slots take sprites 0 to 15; with three for refresh, 0 to
    12.
    """
    chip = timed(
        BITMAP,
        clients={**HIDDEN, "sprites": {"when": "blanking"}},
        sprites={**SPRITES, "count": 20},
        refresh={"slots": refresh} if refresh else None,
    )
    twin = both(holding(chip, ONES, CROWD, a__enable=0, sprites__patterns=512))
    assert twin.drops == [(line, number, "slots") for line in range(30, 34) for number in range(drawn, 20)]
    assert (twin.found[30], twin.drawn[30], twin.slots[30]["sprites.pattern"]) == (20, drawn, drawn)
    assert max(slots_of(twin, 30)) == 15


def test_slots_are_taken_in_the_order_of_the_walk():
    """Front to back the last of the table comes first, and the front gives way: the walk goes 0, 1, 2, ... ``per_line``
    leaves 18 of them, of which 16 have slots.
    """
    rules = {**SPRITES, "count": 20, "front": "last", "dropped": "front", "per_line": 18}
    chip = timed(BITMAP, clients={**HIDDEN, "sprites": {"when": "blanking"}}, sprites=rules)
    twin = both(holding(chip, ONES, CROWD, a__enable=0, sprites__patterns=512))
    assert twin.drops[:4] == [(30, 16, "slots"), (30, 17, "slots"), (30, 18, "count"), (30, 19, "count")]


@pytest.mark.parametrize(("refresh", "drops"), [(0, []), (1, [3])])
def test_a_table_in_memory_is_scanned_first(refresh, drops):
    """Records of 3 bytes: y in the second, so that the scan of 4 records takes 4 slots; then for each sprite the first and
    third byte and one of its row: 4 + 4 x 3 = 16, all blank slots. With one for refresh sprite 3 gets its record but not
    its row.
    """
    chip = timed(
        BITMAP,
        clients={**HIDDEN, "sprites": {"when": "blanking"}},
        sprites={**SPRITES, "table": "memory"},
        refresh={"slots": refresh} if refresh else None,
    )
    records = b"".join(CROWD[:4])
    twin = both(holding(chip, {**ONES, 256: records}, a__enable=0, sprites__patterns=512, sprites__table=256))
    assert twin.drops == [(line, number, "slots") for line in range(30, 34) for number in drops]
    scan = [(256 + 3 * number + 1, 30) for number in range(4)]
    each = [
        access
        for number in range(4)
        for access in ((256 + 3 * number, 3 * number), (256 + 3 * number + 2, 1), (512 + 4 + 1, 0xFF))
    ]
    told = [access[3:] for access in twin.trace if access[0] == 31 and access[2].startswith("sprites")]
    assert told == (scan + each)[: 16 - refresh]
    assert twin.slots[10]["sprites.table"] == 4


SHORT: dict[str, tuple[int, int, list[tuple[int, str]]]] = {
    "first/back": (6, 3, [(0, "slots"), (1, "count"), (2, "count")]),
    "first/back, one fewer": (5, 2, [(0, "slots"), (1, "count")]),
    "last/back": (6, 3, [(2, "slots"), (1, "count"), (0, "count")]),
    "last/back, one fewer": (5, 2, [(1, "slots"), (0, "count")]),
    "last/front": (2, 1, [(0, "slots")]),
    "last/front, one fewer": (1, 0, []),
}
"""Front and who is dropped; the slots, how many sprites are found, and those dropped, in the order of the walk."""


@pytest.mark.parametrize("name", SHORT)
def test_a_sprite_is_there_once_its_record_is_read(name):
    """Records of 3 bytes: y in the second, enable in the third, so that the scan of 4 takes 8 slots, two each. Of 16 blank slots
    refresh leaves ``slots``: with 2n of them n records are read and their sprites found, with one fewer n - 1. One of them is
    what a line may have; it finds no slot either. Line 20 has the scan alone.
    """
    (front, dropped), (slots, found, drops) = name.partition(",")[0].split("/"), SHORT[name]
    fields = {"x": "6:0", "y": "14:8", "pattern": "18:16", "enable": "20"}
    rules = {**SPRITES, "fields": fields, "table": "memory", "front": front, "dropped": dropped, "per_line": 1}
    clients = {**HIDDEN, "sprites": {"when": "blanking"}}
    chip = timed(
        BITMAP,
        clients=clients,
        sprites=rules,
        refresh={"slots": 16 - slots},
        status={"address": 900, "cleared": "read", "dropped": 0},
    )
    records = b"".join(sprite(3 * number, 30, pattern=1, priority=1) for number in range(4))
    twin = both(holding(chip, {**ONES, 256: records}, a__enable=0, sprites__patterns=512, sprites__table=256))
    assert (twin.found[30], twin.drawn[30]) == (found, 0)
    assert twin.drops == [(line, *drop) for line in range(30, 34) for drop in drops]
    assert twin.raised == [(line, 0, "dropped") for line in range(30, 34) if drops]
    assert (twin.unread[20], twin.unread[30], twin.unread[65]) == (8 - slots, 8 - slots, 0)
    assert (twin.slots[20], twin.slots[30]) == (twin.slots[30], twin.slots[20])
    scan = [256 + 3 * number + byte for number in range(4) for byte in (1, 2)]
    assert [access[3] for access in twin.trace if access[0] == 31 and access[2].startswith("sprites")] == scan[:slots]


def test_sprites_of_the_next_line_have_the_whole_line():
    """``line before``: 80 slots on line 29 for the sprites of line 30. Told for line 30, counted at line 29; none are
    fetched on line 33, as none show on 34. The bitmap's 16 accesses, one in slot 15, 19, ... 75, come first and push the
    sprites to the others.
    """
    rules = {**SPRITES, "count": 66}
    chip = timed(BITMAP, clients={"a.bitmap": in_time(1), "sprites": {"when": "line before"}}, sprites=rules)
    table = [sprite(number, 30, pattern=1) for number in range(66)]
    twin = both(holding(chip, ONES, table, sprites__patterns=512))
    assert [twin.slots[line]["sprites.pattern"] for line in range(28, 35)] == [0, 64, 64, 64, 64, 0, 0]
    assert [twin.drawn[line] for line in range(28, 35)] == [0, 0, 64, 64, 64, 64, 0]
    assert twin.drops[:2] == [(30, 64, "slots"), (30, 65, "slots")]
    who = slots_of(twin, 29)
    assert sorted(slot for slot in who if who[slot] == "a.bitmap") == list(range(15, 79, 4))


def test_line_0_was_prepared_before_it_began():
    """A sprite on lines 0 to 3 is moved to line 40 by a write before line 0: too late for line 0, which was prepared from
    what stood here, in no slot of the log; line 1 is prepared on line 0, after the write. On the last line nothing is
    prepared for line 0 of the next frame: the sprite is elsewhere by then.
    """
    chip = timed(BITMAP, clients={**HIDDEN, "sprites": {"when": "line before"}}, sprites={**SPRITES, "count": 1})
    state = holding(chip, ONES, [sprite(8, 0, pattern=1)], a__enable=0, sprites__patterns=512)
    twin = both(state, [SpriteWrite(0, 1, bytes([40]))])
    assert sorted({line for _, line in at(twin.sprite, 0)}) == [0, 40, 41, 42, 43]
    assert [line for line, counts in enumerate(twin.slots) if counts["sprites.pattern"]] == [39, 40, 41, 42]
    assert state.ahead is not None and (state.ahead.found, state.ahead.kept) == (0, ())
    state.sprites[0, 1] = 0  # back to line 0, after line 0 was prepared
    assert sorted({line for _, line in at(both(state).sprite, 0)}) == [1, 2, 3]


def test_the_last_line_prepares_line_0():
    """As above, but the sprite stays: it shows on line 0 of the next frame although it was moved away between the frames."""
    chip = timed(BITMAP, clients={**HIDDEN, "sprites": {"when": "line before"}}, sprites={**SPRITES, "count": 1})
    state = holding(chip, ONES, [sprite(8, 0, pattern=1)], a__enable=0, sprites__patterns=512)
    twin = both(state)
    assert [line for line, counts in enumerate(twin.slots) if counts["sprites.pattern"]] == [0, 1, 2, 69]
    assert state.ahead is not None
    word = int.from_bytes(sprite(8, 0, pattern=1), "little")
    assert (state.ahead.found, state.ahead.drops, state.ahead.kept) == (1, (), ((0, word, 0, b"\xff"),))
    assert sorted({line for _, line in at(both(state, [SpriteWrite(0, 1, bytes([40]))]).sprite, 0)}) == [
        0,
        40,
        41,
        42,
        43,
    ]


@pytest.mark.parametrize(("refresh", "drawn"), [(14, 66), (15, 65)])
def test_line_0_has_the_slots_of_an_empty_line(refresh, drawn):
    """66 sprites on line 0. Nothing was prepared: 80 slots of an empty line, less what refresh takes of every line."""
    chip = timed(
        BITMAP,
        clients={**HIDDEN, "sprites": {"when": "line before"}},
        sprites={**SPRITES, "count": 66},
        refresh={"slots": refresh},
    )
    twin = both(holding(chip, ONES, [sprite(0, 0, pattern=1)] * 66, a__enable=0, sprites__patterns=512))
    assert (twin.found[0], twin.drawn[0]) == (66, drawn)


# The CPU


STRIPE = {8 * row + column: bytes([column]) for row in range(0, 16, 2) for column in range(8)}
"""Cells 0 to 7 of each row of the map show patterns 0 to 7, which stand at 512, 8 bytes each, and are blank."""


@pytest.mark.parametrize("blanking", [True, False])
def test_reserved_slots_tear_a_line(blanking):
    """Cell k goes in slot 14 + 8k, its row in 15 + 8k. The CPU has slots 16, 32, 48 and 64. From line 8, dot 0 on it fills
    row 0 of patterns 0, 3 and 6, a byte in 16, 32 and 48. Rows 0, 3 and 6 are fetched in slots 15, 39 and 63: on line 8 the
    first is still the old one, the others are new. On line 16, which shows the same rows, all three are. ``blanking`` plays
    no part: when the next blanking comes the transfer is over.
    """
    share = {"active": "reserved", "every": 16, "at": [0], "blanking": blanking}
    state = holding(tiles(2, share=share), STRIPE, a__t__patterns=512)
    twin = both(state, [Transfer(8, 512, b"\xff" * 3, 0, step=24)])
    assert [access[1:] for access in twin.trace if access[2] == "cpu"] == [
        (16, "cpu", 512, 0xFF),
        (32, "cpu", 536, 0xFF),
        (48, "cpu", 560, 0xFF),
    ]
    assert [dot for dot, _ in at(twin.indices[8:9], 1)] == [*range(24, 32), *range(48, 56)]
    assert [dot for dot, _ in at(twin.indices[16:17], 1)] == [*range(8), *range(24, 32), *range(48, 56)]
    assert twin.transfers == [(0, 8, 16, 8, 48, 3, 30, True)]  # of slots 16 to 48 thirty brought no byte


@pytest.mark.parametrize(("dot", "slot", "new"), [(21, 37, True), (22, 40, False)])
def test_a_byte_is_there_from_the_next_slot_on(dot, slot, new):
    """Cell 3 goes in slot 38 and its row in 39. A byte that the CPU has at dot 21 lands in slot 37 and is seen; at dot 22
    slots 38 and 39 are taken, and in 40 it is too late for this line.
    """
    state = holding(tiles(2, share={"active": "free"}), STRIPE, a__t__patterns=512)
    twin = both(state, [Transfer(8, 512 + 3 * 8, b"\xff", dot)])
    assert [access[1] for access in twin.trace if access[2] == "cpu"] == [slot]
    assert bool(at(twin.indices[8:9], 1)) == new
    assert twin.transfers == [(0, 8, slot, 8, slot, 1, slot - 16 - dot, True)]


def test_a_row_is_of_one_piece():
    """Rows of four accesses, pattern 0 everywhere. For dot 8 the cell goes in slot 16, the row in 17, 18, 20 and 21, as 19
    is the CPU's. The byte that lands there is the row's fourth, yet dots 8 to 15 show what was there when the row's first
    access was made; dots 16 and on show the new byte. It is read as the old one in slot 21 and as the new one in slot 29.
    """
    mode = {**TILES, "bits_per_dot": 4}
    chip = tiles(8, mode=mode, share={"active": "reserved", "every": 8, "at": [3], "blanking": False})
    twin = both(holding(chip, a__t__patterns=512), [Transfer(8, 512 + 3, b"\x99", 3)])
    last = [(slot, value) for line, slot, _, address, value in twin.trace if line == 8 and address == 515]
    assert last == [(12, 0), (19, 0x99), (21, 0), (29, 0x99), *((29 + 8 * step, 0x99) for step in range(1, 6))]
    assert [dot for dot, _ in at(twin.indices[8:9], 9)] == [dot for k in range(2, 8) for dot in (8 * k + 6, 8 * k + 7)]


FREE = {"active": "free"}


def empty(**tables: Any) -> Any:
    """A chip of which nothing asks for slots but the CPU."""
    tables = {"share": FREE, **tables}
    return timed(BITMAP, clients=HIDDEN, constants={"a.enable": 0}, registers={"a.scroll_x": SCROLL}, **tables)


SCROLL = {"bits": 6, "effect": "at once"}


def cpu_slots(twin: TwinResult) -> list[tuple[int, int]]:
    """Line and slot of each byte that lands."""
    return [access[:2] for access in twin.trace if access[2] == "cpu"]


PACE = {"clock": 3_000_000, "cycles_per_byte": 4}
"""4 cycles of 3 MHz are 4/3 dots of 1 MHz."""


@pytest.mark.parametrize(
    ("queue", "slots", "waited"),
    [(1, [16, 18, 20, 22, 24, 25, 27], (4, 10)), (2, [16, 18, 19, 20, 22, 23, 24], (2, 7))],
)
def test_the_cpu_has_its_bytes_at_its_own_pace(queue, slots, waited):
    """Two transfers from line 10, dot 0 on, which is slot 16; moments are told from there. A queue of one byte: each is at
    hand 4/3 after the slot of the one before it began: 0, 0 + 4/3 -> 2, 2 + 4/3 -> 4, 6, 8. The second transfer's first byte
    is at hand when a place is free, at 8, and has the slot after that, 9; its second follows at 9 + 4/3 -> 11.

    Of two bytes: each is at hand 4/3 after the byte before it, as no slot is later than that by 4/3: 0, 4/3 -> 2, 8/3 -> 3, 4,
    16/3 -> 6. The second transfer's first byte is at hand at 16/3 as well, and has 7; its second max(16/3, 6) + 4/3 = 22/3 -> 8.
    """
    twin = both(holding(empty(cpu={**PACE, "queue": queue})), [Transfer(10, 0, b"12345"), Transfer(10, 100, b"67")])
    assert cpu_slots(twin) == [(10, slot) for slot in slots]
    assert twin.transfers == [
        (0, 10, 16, 10, slots[4], 5, waited[0], True),
        (1, 10, slots[5], 10, slots[6], 2, waited[1], True),
    ]


@pytest.mark.parametrize(
    ("rate", "slots"), [("1", [16, 18, 20]), ("2", [32, 35, 38]), ("1/2", [8, 9, 10]), ("3/2", [24, 26, 28])]
)
def test_a_byte_waits_for_a_slot_that_begins(rate, slots):
    """Three bytes from dot 16 of the line on, a queue of one. At 1 they are at hand at 16, 17.3 and 18 + 1.3. At 2 a slot
    begins each half dot: 16, 17.3 -> 17.5, 18.8 -> 19. At 1/2 each two dots: 16, 17.3 -> 18, 19.3 -> 20. At 3/2 slots begin
    at 16, 17 1/3 and 18 2/3, just when the bytes are at hand: nothing is rounded.
    """
    chip = empty(cpu={**PACE, "queue": 1}, rate=rate)
    assert cpu_slots(both(holding(chip), [Transfer(10, 0, b"123")])) == [(10, slot) for slot in slots]


@pytest.mark.parametrize(
    ("queue", "slots"),
    [
        (1, [0, 10]),
        (3, [0, 1, 2, 10]),
        (4, [0, 1, 2, 3, 10]),
        (7, [0, 1, 2, 3, 4, 5, 6, 10]),
        (8, [0, 1, 2, 3, 4, 5, 6, 7]),
        (9, [0, 1, 2, 3, 4, 5, 6, 7]),
    ],
)
def test_the_queue_holds_so_many_bytes_and_no_more(queue, slots):
    """A byte takes 10 dots, and only the 16 blank slots of a line are the CPU's. Begun at line 10, dot 0, bytes are at hand
    there and 10, 20, ... 60 dots later: 7 of them before line 11, if the queue holds as many. The eighth would be 70 dots
    later, at 6 of that line.

    Queue 3: three land in slots 0, 1 and 2. The fourth is begun when slot 0 is, and at hand at 10. The fifth is at hand at
    20, the sixth at 30, the seventh, as the fourth has landed, at 40: three for line 12, and so on. Queue 7: seven, and
    the eighth is begun when slot 0 is: at 10. Queue 8: the eighth is at hand at 6, and has the slot after the seventh's. More
    than that a line has no use for: 80 dots are 8 bytes.
    """
    chip = empty(share={"active": "none"}, cpu={"clock": 1_000_000, "cycles_per_byte": 10, "queue": queue})
    twin = both(holding(chip), [Transfer(10, 0, bytes(100))])
    assert [slot for line, slot in cpu_slots(twin) if line == 11] == slots
    assert [slot for line, slot in cpu_slots(twin) if line == 12] == slots


@pytest.mark.parametrize(("cycles", "second"), [(1, (10, 56)), (2, (11, 0))])
def test_what_is_at_hand_after_the_last_slot_has_begun_waits_for_the_next_line(cycles, second):
    """5/7 accesses a dot: 57 slots of 1.4 dots in a line of 80. Dot 60 is 76 dots after the line's beginning, 54.3 slots:
    slot 55 begins at 77. A dot later, at 78, comes slot 56, the last, at 78.4; two dots later, at 79, none is left.
    """
    chip = empty(rate="5/7", cpu={"clock": 1_000_000, "cycles_per_byte": cycles})
    assert cpu_slots(both(holding(chip), [Transfer(10, 0, b"12", 60)])) == [(10, 55), second]


def test_what_has_not_landed_goes_on_in_the_next_frame():
    """6 bytes from line 69, dot 60 on: four in slots 76 to 79, two in slots 0 and 1 of the next frame's line 0. One more,
    begun at dot 70, which lies in the blanking before that line, 6 dots after it began: slot 6.
    """
    state = holding(empty())
    twin = both(state, [Transfer(69, 9, b"abcdef", 60), Transfer(69, 0, b"z", 70)])
    assert twin.transfers == [(0, 69, 76, 69, 79, 4, 0, False), (1, -1, -1, -1, -1, 0, 0, False)]
    assert state.waiting == (Waiting(0, 0, 9, b"abcdef", 1, 4), Waiting(1, 6, 0, b"z", 1, 0))
    assert both(state).transfers == [(0, 0, 0, 0, 1, 2, 0, True), (1, 0, 6, 0, 6, 1, 0, True)]
    assert tuple(state.waiting) == ()
    assert (state.transfers, bytes(state.memory[9:15]), state.memory[0]) == (2, b"abcdef", ord("z"))


@pytest.mark.parametrize(
    ("queue", "at_hand", "slots"),
    [(1, [("1/3",), ()], [1, 3, 6]), (2, [("0", "1"), ()], [0, 1, 6]), (3, [("0", "1"), ("6",)], [0, 1, 6])],
)
def test_the_bytes_that_are_known_already_go_on_in_the_next_frame(queue, at_hand, slots):
    """Four bytes of 4/3 dots from line 69, dot 61 on, and one from dot 70 on, 6 into the next line. Queue 1: two land in 77
    and 79; the third is at hand at 79 + 4/3, 1/3 into the next frame: slot 1; the fourth 4/3 after that: 2 1/3 -> 3.

    Queue 2: in 77, and at 78 1/3 -> 79; the third is at hand at 79 2/3, past when the frame ends, the fourth at 81. The other
    transfer's byte has a place, and so is known, from a queue of 3 bytes on.
    """
    state = holding(empty(cpu={**PACE, "queue": queue}))
    both(state, [Transfer(69, 9, b"abcd", 61), Transfer(69, 0, b"z", 70)])
    assert [tuple(str(moment) for moment in one.at_hand) for one in state.waiting] == at_hand
    assert cpu_slots(both(state)) == [(0, slot) for slot in slots]


def test_a_transfer_that_was_put_into_a_state_goes_on_from_its_start():
    """Two of four bytes are done, and nothing says when the others are at hand: the next is at the start, which is past, and
    lands in slot 0; the last 4/3 after that slot began, in slot 2.
    """
    state = holding(empty(cpu=PACE))
    state.waiting, state.transfers = (Waiting(0, -30, 5, b"abcd", 1, 2),), 1
    assert cpu_slots(both(state)) == [(0, 0), (0, 2)]
    assert bytes(state.memory[5:9]) == b"\0\0cd"


def test_without_its_blanking_the_cpu_waits_for_the_picture():
    """Two bytes from line 62, dot 63 on: slot 79, then not in the 16 blank ones of line 63 but in slot 16. A third, begun
    on line 63, dot 63, lands there in 79. From line 64 on all slots are blank: a fourth waits for the next frame's picture.
    """
    state = holding(empty(share={**FREE, "blanking": False}))
    writes = [Transfer(62, 0, b"12", 63), Transfer(63, 2, b"3", 63), Transfer(64, 3, b"4")]
    assert both(state, writes).transfers == [
        (0, 62, 79, 63, 16, 2, 16, True),
        (1, 63, 79, 63, 79, 1, 0, True),
        (2, -1, -1, -1, -1, 0, 64 + 5 * 80, False),
    ]
    assert both(state).transfers == [(2, 0, 16, 0, 16, 1, 16, True)]


# Kept cells


def cells_fetched(twin: TwinResult, end: int = 17) -> list[int]:
    """How many cells each of the first lines fetches."""
    return [counts["a.cells"] for counts in twin.slots[:end]]


def keeping() -> State:
    """A tile layer that keeps its cells, pattern 0 blank and pattern 1 full."""
    clients = {"a.cells": in_time(2, keep=True), "a.pattern": in_time(1)}
    bits = {"backdrop": 4, "a.scroll_x": 8, "a.scroll_y": 7, "a.t.map": 10, "a.t.patterns": 7}
    own = {name: {"bits": count, "effect": "at once"} for name, count in bits.items()}
    chip = timed(TILES, clients=clients, registers=own)
    return holding(chip, {520: b"\xff" * 8}, a__t__patterns=512)


def test_cells_are_kept_for_their_row():
    """8 cells on lines 0, 8 and 16; on the lines between their words are kept, and a row needs one slot alone: 15 + d. A
    cell that is written before line 3 shows on line 8, when it is fetched again.
    """
    twin = both(keeping(), [MemoryWrite(3, 0, b"\1"), MemoryWrite(3, 16, b"\1")])
    assert cells_fetched(twin) == [8, *[0] * 7, 8, *[0] * 7, 8]
    assert {slot for slot in slots_of(twin, 3) if slot < 24} == {15, 23}
    assert at(twin.indices[:16], 1) == [(dot, line) for line in range(8, 16) for dot in range(8)]


def test_kept_cells_outlive_a_change_of_the_patterns():
    """The first cell names pattern 0. Memory says 1 from line 3 on, and from line 4 on patterns lie elsewhere: there pattern
    0 is full and pattern 1 blank. The word is kept, so lines 4 to 7 show pattern 0 of the new place, as do the cells below.
    """
    writes = [MemoryWrite(3, 0, b"\1"), MemoryWrite(0, 640, b"\xff" * 8), RegisterWrite(4, "a.t.patterns", 640)]
    twin = both(keeping(), writes)
    assert [line for dot, line in at(twin.indices[:16], 1) if dot == 0] == list(range(4, 16))


@pytest.mark.parametrize(
    ("write", "again"),
    [
        (RegisterWrite(3, "backdrop", 2, 1), [3, 4]),
        (PaletteWrite(3, 0, (5,), 63), [3, 4]),
        (PaletteWrite(3, 0, (5,), 64), []),
        (PaletteWrite(3, 0, (5,), 0), []),
        (RegisterWrite(3, "a.scroll_x", 1, 0), [3]),
        (RegisterWrite(3, "a.t.map", 128, 0), [3]),
        (RegisterWrite(3, "a.t.patterns", 128, 0), []),
        (RegisterWrite(3, "a.scroll_y", 1, 0), [7]),
        (RegisterWrite(3, "a.scroll_y", 8, 0), [3]),
        (RegisterWrite(3, "a.scroll_y", 64, 0), []),
        (RegisterWrite(3, "a.scroll_x", 128, 0), [3]),
    ],
)
def test_what_ends_the_keeping(write, again):
    """A write that counts at once in the middle of line 3, dots 1 to 63, has cells fetched on it and on the line after. One
    at dot 0 or in blanking does so where it changes the map, its row or the scroll across. Scrolled down by 1 the next row
    begins on line 7, not 8; by 8, on line 3 at once, and then 8; by 64, a whole map, nothing changes. Scrolled across by
    128, a whole map, the count is another although the cells are the same.
    """
    fetched = [line for line, count in enumerate(cells_fetched(both(keeping(), [write]), 16)) if count]
    assert fetched == sorted({0, *again, *([8] if again != [7] else []), *([15] if again == [7] else [])})


def test_a_text_keeps_the_cells_of_its_rows():
    """4 rows of 8 lines: cells on lines 0, 8, 16 and 24, none from line 32 on, where the margin is."""
    mode = {
        "name": "x",
        "kind": "text",
        "glyph": [8, 8],
        "cell_bytes": 1,
        "cell": {"character": "3:0"},
        "columns": 4,
        "rows": 4,
    }
    chip = timed(mode, clients={"a.cells": in_time(2, keep=True), "a.glyphs": in_time(1)})
    twin = both(holding(chip))
    assert [line for line, counts in enumerate(twin.slots) if counts["a.cells"]] == [0, 8, 16, 24]
    assert [counts["a.glyphs"] for counts in twin.slots[:64]] == [4] * 32 + [0] * 32


# Registers, ports and flags, byte by byte


def test_a_register_is_written_byte_by_byte():
    """Rows of patterns of 8 bytes: ``a.t.patterns`` counts in eights up to 1016, 127 eights, 7 bits in one byte.
    ``a.t.map`` has 10 bits in two. Low byte 0x34, then high byte 0xFE, of which bits 0 and 1 count: 0x234. The patterns'
    byte 0xC5 is 0x45 in 7 bits, times 8.
    """
    state = holding(small_chip(TILES))
    known = registers(state.chip)
    low, patterns = known["a.t.map"].address, known["a.t.patterns"].address
    both(state, [PortWrite(5, low, 0x34), PortWrite(5, low + 1, 0xFE, 3), PortWrite(6, patterns, 0xC5)])
    assert (state.value("a.t.map"), state.value("a.t.patterns")) == (0x234, 0x45 * 8)


PORTS = [
    {"target": "memory", "address": 0x100, "data": 0x102, "step": 0x103, "advance": 2},
    {"target": "palette", "address": 0x110, "data": 0x111},
    {"target": "sprites", "address": 0x120, "data": 0x121},
]


@pytest.mark.parametrize("with_time", [False, True])
def test_a_port_counts_on(with_time):
    """Memory from 0x3FF in steps of 2: 0x3FF, then 0x401 modulo 1024 = 1; then a step of 255, so that the last byte goes to
    3 and 258 is next. An entry of 12 bits is two bytes: bytes 5 and 6 are the high one of entry 2 and the low one of entry
    3. Sprite byte 4 is the y of record 1.
    """
    tables = {"sprites": SPRITES, "ports": PORTS}
    if with_time:
        clients = {**HIDDEN, "sprites": {"when": "blanking"}}
        chip = timed(BITMAP, clients=clients, share=FREE, **tables)
    else:
        chip = small_chip(BITMAP, **tables)
    state = holding(chip, a__enable=0, sprites__enable=0)
    memory = [(0x100, 0xFF), (0x101, 0x03), (0x102, 7), (0x102, 8), (0x103, 255), (0x102, 9)]
    palette = [(0x110, 5), (0x111, 0xFA), (0x111, 0xBC)]
    both(state, [PortWrite(4, *byte, 9) for byte in [*memory, *palette, (0x120, 4), (0x121, 77), (0x777, 1)]])
    assert [state.memory[address] for address in (0x3FF, 1, 3)] == [7, 8, 9]
    assert (state.palette[2], state.palette[3], state.sprites[1, 1]) == (0xA02, 0x0BC, 77)
    assert state.ports == [[258, 255], [7, 1], [5, 1]]
    assert state.transfers == (3 if with_time else 0)


STATUS = {
    "address": 0x200,
    "line": 7,
    "picture_end": 0,
    "dropped": 2,
    "collision": 5,
    "groups": 0x201,
    "cleared": "write",
}
MEETING = {
    "sprites": {**SPRITES, "per_line": 3},
    "collisions": {"groups": ["hull", "reef"], "pairs": [["hull", "reef"], ["reef", "reef"]]},
    "status": STATUS,
}
HULLS = [
    sprite(20, 30, pattern=1),
    sprite(24, 30, pattern=1, group=1),
    sprite(30, 30, pattern=1, group=1),
    sprite(0, 33),
]
"""0 and 1 meet at dot 24, 1 and 2 at dot 30, on lines 30 to 33; sprite 3 is one too many on line 33."""


def test_flags_are_raised_in_order_of_time():
    """The line flag at line 31, the collision at the line's leftmost, dot 24; on line 33 a drop at dot 0; the picture ends
    before line 64.
    """
    state = holding(small_chip(BITMAP, **MEETING), ONES, HULLS, sprites__patterns=512, line_flag=31, a__enable=0)
    twin = both(state)
    collisions = [(line, 24, "collision") for line in (30, 31, 32, 33)]
    assert twin.raised == sorted([*collisions, (31, 0, "line"), (33, 0, "dropped"), (64, 0, "picture_end")])
    assert (state.status, state.collision_flags) == (0b1010_0101, 0b11)


@pytest.mark.parametrize(
    ("dot", "status", "groups"), [(23, 0x20, 0b11), (24, 0x20, 0b11), (25, 0, 0b10), (30, 0, 0b10), (31, 0, 0b00)]
)
def test_a_raise_comes_after_a_clear_of_the_same_instant(dot, status, groups):
    """On line 33, the last on which they meet, status and groups are cleared. Up to dot 24, where 0 (hull) and 1 (reef)
    meet, all is raised once more. Up to dot 30, where 1 and 2 meet, their group is; that is no raise of the status, which
    the line has had.
    """
    plan = {**MEETING, "sprites": SPRITES, "status": {**STATUS, "picture_end": None, "line": None}}
    state = holding(small_chip(BITMAP, **plan), ONES, HULLS, sprites__patterns=512, a__enable=0)
    both(state, [PortWrite(33, 0x200, 0xFF, dot), PortWrite(33, 0x201, 0xFF, dot)])
    assert (state.status, state.collision_flags) == (status, groups)


@pytest.mark.parametrize(("address", "status", "groups"), [(0x200, 0, 0b11), (0x201, 0x20, 0), (0x111, 0x20, 0b11)])
def test_each_address_clears_its_own_and_a_ports_byte_clears_nothing(address, status, groups):
    """All are written below the meeting, on line 60: the status, the groups, the data of a port of the palette."""
    plan: dict[str, Any] = {**MEETING, "sprites": SPRITES, "ports": PORTS}
    plan["status"] = {**STATUS, "picture_end": None, "line": None}
    state = holding(small_chip(BITMAP, **plan), ONES, HULLS, sprites__patterns=512, a__enable=0)
    both(state, [PortWrite(60, address, 0xFF)])
    assert (state.status, state.collision_flags) == (status, groups)
