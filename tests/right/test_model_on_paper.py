"""Single sentences of "The model, exactly", each on a chip small enough for paper: what is missed, latched, torn, waited for.

The chips are those of ``paper.py``: 64 dots of 80, so that 16 dots of blanking stand before dot 0, 64 lines of 70. With one
access a dot a line has slots 0 to 79, of which 0 to 15 are blank; dot d shows at slot 16 + d.
"""

from __future__ import annotations

from functools import partial
from typing import Any

import paper
import pytest
from paper import BITMAP, SPRITES, TEXT, TILES, at, holding, small_chip, sprite
from twin import TwinResult

from vdpsim.chip.line.clients import scan_of
from vdpsim.state.state import Waiting
from vdpsim.state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, SpriteWrite, Transfer

BEFORE = {"when": "line before"}
BLANKING = {"when": "blanking"}
AT_ONCE = {"effect": "at once"}
ONES = bytes([0x55]) * 256
"""A bitmap of 2 bits a dot in which every dot has value 1."""

both = partial(paper.both, damage=True)
"""The twin's frame, which has to be the engine's."""


def timed(*modes: Any, clients: dict[str, Any], rate: Any = 1, **tables: Any) -> Any:
    """A small chip with a time table; ``cpu_share`` and ``refresh`` go into it."""
    time: dict[str, Any] = {"clients": clients}
    for key, name in (("cpu_share", "cpu"), ("refresh", "refresh")):
        if key in tables:
            time[name] = tables.pop(key)
    return small_chip(
        *modes, memory={"size": 1024, "bytes_per_access": 1, "accesses_per_dot": rate}, time=time, **tables
    )


def in_time(lead: int, **more: Any) -> dict[str, Any]:
    """A client that asks from ``lead`` dots before its dots show."""
    return {"when": "in time", "lead": lead, **more}


def accesses(twin: TwinResult, client: str, line: int) -> list[tuple[int, int, int]]:
    """(slot, address, value) of each access of ``client`` in the slots of ``line``."""
    return [(slot, address, value) for where, slot, who, address, value in twin.trace if (where, who) == (line, client)]


def shown(twin: TwinResult, dot: int, entry: int) -> list[int]:
    """The lines whose dot ``dot`` shows ``entry``."""
    return [line for where, line in at(twin.indices, entry) if where == dot]


# Bursts


@pytest.mark.parametrize(("dot", "slot"), [(7, 14), (8, 17), (9, 19), (11, 23)])
def test_a_burst_reads_what_memory_holds_at_its_first_access(dot, slot):
    """Two slots a dot: dot 0 shows at slot 32. The eight cells have slots 0 to 7; a row of 4 bytes is fetched in even slots from
    8 dots before it shows, that of the first cell in 16, 18, 20 and 22. The row's last byte, which the CPU makes 0x11, lands in a
    slot before 16 and shows in dots 6 and 7, or after it, also before 22, where that byte is asked for, and does not. The other
    cells' rows, all of the same pattern, are begun after it.
    """
    clients = {"a.cells": BLANKING, "a.pattern": in_time(8, every=2, at=[0])}
    chip = timed({**TILES, "bits_per_dot": 4}, clients=clients, rate=2, cpu_share={"active": "none"})
    state = holding(chip, a__t__patterns=512)
    state.waiting, state.transfers = (Waiting(0, dot, 515, b"\x11", 1, 0),), 1
    twin = both(state)
    assert [place for place, *_ in accesses(twin, "cpu", 0)] == [slot]
    assert [place for place, *_ in accesses(twin, "a.pattern", 0)][:5] == [16, 18, 20, 22, 32]
    torn = [6, 7] if slot < 16 else []
    assert [x for x, line in at(twin.indices, 1) if line == 0] == torn + [x for x in range(8, 64) if x % 8 > 5]


@pytest.mark.parametrize(("order", "halves"), [("little", [0x2211, 0x4433]), ("big", [0x1122, 0x3344])])
def test_the_accesses_of_a_burst_are_traced_one_after_the_other(order, halves):
    """A row of 4 bytes in two accesses of two: the trace has them at 512 and 514, each with what stood there."""
    memory = {"size": 1024, "bytes_per_access": 2, "accesses_per_dot": 1, "byte_order": order}
    time = {"clients": {"a.cells": BLANKING, "a.pattern": in_time(8)}}
    chip = small_chip({**TILES, "bits_per_dot": 4}, memory=memory, time=time)
    twin = both(holding(chip, {512: b"\x11\x22\x33\x44"}, a__t__patterns=512))
    read = [access[1:] for access in accesses(twin, "a.pattern", 0)]
    assert read == [(512, halves[0]), (514, halves[1])] * 8


# Kept cells


@pytest.mark.parametrize(("refresh", "late"), [(14, False), (15, True)])
def test_a_missed_cell_is_kept_and_its_pattern_fetched_on_the_next_line(refresh, late):
    """Cells go in slots 6 modulo 8 from two dots before they are due: that of dot 0 in slot 14, its row in slot 15. With refresh
    in slots 0 to 14 that cell is missed, and its row with it, on lines 0 and 8, where cells are fetched. On the lines
    between no cell is fetched: the word is the missed one's, what memory held at slot 0 of line 0 and of line 8, which says 1
    until line 3, and until line 9. Its pattern is fetched in slot 15 and shows.
    """
    clients = {"a.cells": in_time(2, every=8, at=[6], keep=True), "a.pattern": in_time(1)}
    chip = timed(TILES, clients=clients, refresh={"slots": refresh})
    state = holding(chip, {0: b"\1", 16: b"\1", 520: b"\xff" * 8}, a__t__patterns=512)
    twin = both(state, [MemoryWrite(3, 0, b"\0"), MemoryWrite(9, 16, b"\0")])
    lost = [1 if late and line in (0, 8) else 0 for line in range(16)]
    assert [missed["a.cells"] for missed in twin.missed[:16]] == lost
    assert [missed["a.pattern"] for missed in twin.missed[:16]] == lost
    assert [counts["a.pattern"] for counts in twin.slots[:16]] == [8 - each for each in lost]
    assert shown(twin, 0, 1) == [line for line in range(16) if not lost[line]]
    assert [dot for dot, line in at(twin.source, 0) if line == 8] == (list(range(8)) if late else [])


@pytest.mark.parametrize(("dot", "word"), [(12, 1), (13, 0)])
def test_the_word_of_a_cell_that_was_begun_is_what_its_first_access_met(dot, word):
    """Cells of two bytes, but only slots 5 modulo 8 from three dots before they are due: each has one access, 13 + d, and its
    second is missed on line 0. A byte of the CPU's, 1 for the first cell, lands in slot 12, before that cell's first access,
    or in slot 14, after it. Lines 1 to 7 keep the word that memory held at the first access, and show its pattern: 1 is full.
    """
    mode = {**TILES, "cell_bytes": 2}
    clients = {"a.cells": in_time(3, every=8, at=[5], keep=True), "a.pattern": in_time(1)}
    chip = timed(mode, clients=clients, cpu_share={"active": "none"})
    state = holding(chip, {520: b"\xff" * 8}, a__t__patterns=512)
    state.waiting, state.transfers = (Waiting(0, dot, 0, b"\1", 1, 0),), 1
    twin = both(state)
    assert [slot for slot, *_ in accesses(twin, "cpu", 0)] == [12 if word else 14]
    assert accesses(twin, "a.cells", 0)[0] == (13, 0, word)
    assert [missed["a.cells"] for missed in twin.missed[:8]] == [8] + [0] * 7
    assert [line for line in shown(twin, 0, 1) if line < 8] == (list(range(1, 8)) if word else [])
    assert twin.source[0] == [0] * 64
    assert twin.source[1:8] == [[1] * 64] * 7


# Line buffers


def buffered(*modes: Any, free: str = "", **tables: Any) -> Any:
    """A chip of bitmaps that are fetched a line ahead, but for the layer ``free``, which fetches in time."""
    clients = {f"{name}.bitmap": BEFORE if name != free else in_time(4) for name, _ in zip("abc", modes, strict=False)}
    return timed(*modes, clients=clients, rate=2, **tables)


@pytest.mark.parametrize(("dot", "first"), [(0, 11), (1, 12)])
def test_the_bank_is_that_of_dot_0_of_the_line_before_and_the_colours_those_of_the_dot(dot, first):
    """The bank changes on line 10, the bank's colour on line 20 at dot 32. The bank counts from line 11 on, or from 12 where it
    is written at dot 1; the colour from dot 32 of line 20, which was fetched before.
    """
    state = holding(buffered(BITMAP), {0: ONES})
    twin = both(state, [RegisterWrite(10, "a.bank", 2, dot), PaletteWrite(20, 9, (0xF00,), 32)])
    assert shown(twin, 5, 1) == list(range(first))
    assert shown(twin, 5, 9) == list(range(first, 64))
    assert [x for x in range(64) if twin.rgb[20][x] == (255, 0, 0)] == list(range(32, 64))


def test_a_buffered_layer_has_its_say_anew_at_each_dot_with_the_mode_that_it_asked_for():
    """a is fetched in time and switches b off; b, in a line buffer, switches c off and sets the ladder to itself alone. a is
    off from line 20, dot 32 on. Line 20 of b was not fetched, as a was there at dot 0 of line 19, nor is line 21; but b asks
    for its mode on both, so that from dot 32 of line 20 on it has its say: c is off and b has nothing to show.
    From line 22 on b shows.
    """
    modes = [{**BITMAP, "exclusive": ["b"]}, {**BITMAP, "exclusive": ["c"], "ladder": [{"source": "b"}]}, BITMAP]
    ladder = [{"source": "a"}, {"source": "c"}]
    chip = buffered(*modes, free="a", ladder=ladder)
    state = holding(chip, {0: ONES}, a__b__bitmap=0, b__b__bitmap=0, c__b__bitmap=0)
    twin = both(state, [RegisterWrite(20, "a.enable", 0, 32)])
    assert twin.source[19] == [1] * 64
    assert twin.source[20] == [1] * 32 + [0] * 32
    assert (twin.source[21], twin.source[22]) == ([0] * 64, [2] * 64)
    fetched = [line for line, counts in enumerate(twin.slots) if counts["b.bitmap"]]
    assert fetched == [*range(21, 63), 69]


def test_what_is_in_the_buffer_does_not_show_where_another_layer_switches_it_off():
    """a switches b off from line 20, dot 32 on. b's line 20 was fetched and does not show there. Its line 21 was fetched too, on
    line 20, at whose dot 0 a was not there, and does not show at all; from line 21 on nothing is fetched for b.
    """
    modes = [{**BITMAP, "exclusive": ["b"]}, BITMAP]
    chip = buffered(*modes, free="a", ladder=[{"source": "b"}, {"source": "a"}])
    twin = both(holding(chip, {0: ONES}, a__enable=0), [RegisterWrite(20, "a.enable", 1, 32)])
    assert twin.source[20] == [2] * 32 + [1] * 32
    assert twin.source[21] == [1] * 64
    assert [line for line, counts in enumerate(twin.slots) if counts["b.bitmap"]] == list(range(21))


@pytest.mark.parametrize(("effect", "entry"), [("at once", 5), ("next line", 1), ("next frame", 1)])
def test_line_0_is_fetched_before_writes_for_the_next_frame_count(effect, entry):
    """The bank becomes 1 on line 69, dot 0, in whose slots line 0 of the next frame is fetched: at once, it counts for that. For
    the next line or the next frame it counts from line 0 on, at whose dot 0 line 1 is fetched. Entries 1 and 5 are value 1 of
    banks 0 and 1.
    """
    register = {"a.bank": {"bits": 2, "effect": effect}}
    state = holding(buffered(BITMAP, registers=register), {0: ONES})
    both(state, [RegisterWrite(69, "a.bank", 1)])
    twin = both(state, last=2)
    assert (twin.indices[0][0], twin.indices[1][0]) == (entry, 5)


def test_a_first_line_without_a_buffer_is_that_of_the_state_before_any_write():
    """Nothing has been fetched for line 0: the state's bank 0 and memory hold for it, not what is written at its dot 0."""
    state = holding(buffered(BITMAP), {0: ONES})
    twin = both(state, [RegisterWrite(0, "a.bank", 1), MemoryWrite(0, 0, bytes([0xAA]) * 256)])
    assert [twin.indices[line][0] for line in (0, 1)] == [1, 6]


# Line 0 of a state in which nothing was prepared


@pytest.mark.parametrize(("refresh", "drawn"), [(14, 66), (15, 65)])
def test_the_empty_line_has_refresh_and_nothing_reserved(refresh, drawn):
    """66 sprites of an access each; every second slot is the CPU's, but none of a line below the picture, as which the empty line
    before line 0 counts: 80 slots less those of refresh. On line 0, for line 1, refresh and the CPU leave sprites fewer.
    """
    chip = timed(
        BITMAP,
        clients={"a.bitmap": in_time(1), "sprites": BEFORE},
        sprites={**SPRITES, "count": 66},
        refresh={"slots": refresh},
        cpu_share={"active": "reserved", "every": 2, "at": [1]},
    )
    state = holding(chip, {516: b"\xff" * 4}, [sprite(8, 0, pattern=1)] * 66, a__enable=0, sprites__patterns=512)
    twin = both(state)
    assert twin.found[:2] == [66, 66]
    assert twin.drawn[:2] == [drawn, 80 - 32 - refresh]  # slots 17, 19, ... 79 are the CPU's


def test_no_transfer_has_a_slot_of_the_empty_line():
    """Sprites in slots 1 modulo 2, so that the CPU could have slot 0. Its byte has waited since before, yet line 0 shows what
    memory says: it lands in slot 0 of line 0, in time for line 1, whose row it is not.
    """
    chip = timed(
        BITMAP,
        clients={"a.bitmap": in_time(1), "sprites": {**BEFORE, "every": 2, "at": [1]}},
        sprites=SPRITES,
        cpu_share={"active": "free"},
    )
    state = holding(chip, {516: b"\xff\0\0\0"}, [sprite(8, 0, pattern=1)], a__enable=0, sprites__patterns=512)
    state.waiting, state.transfers = (Waiting(0, -80, 516, b"\0", 1, 0),), 1
    twin = both(state)
    assert accesses(twin, "cpu", 0) == [(0, 516, 0)]
    assert [dot for dot, line in at(twin.source, 2) if line == 0] == list(range(8, 16))


@pytest.mark.parametrize("count", [1, 3])
def test_line_0_has_its_sprites_over_turned_patterns_of_256_bytes(count):
    """16 x 16 dots of a byte each, in all of which row v has v, turned, so that dot u of every line shows 15 - u; the sprites of
    line 0, eight dots each from dot 0 on, show value 1 over them.
    """
    mode = {**TILES, "tile": 16, "bits_per_dot": 8, "cell": {"pattern": "1:0", "turn": "5"}}
    chip = timed(
        mode,
        clients={"a.cells": in_time(48), "a.pattern": in_time(24), "sprites": BEFORE},
        rate=4,
        sprites={**SPRITES, "transparent": 0},
        ladder=[{"source": "sprites"}, {"source": "a"}],
        palette={"entries": 256, "bank_size": 256, "red": "11:8", "green": "7:4", "blue": "3:0"},
    )
    pattern = b"".join(bytes([row]) * 16 for row in range(16))
    memory = {0: b"\x21" * 128, 256: pattern, 512 + 4: b"\xff" * 4}
    table = [sprite(8 * number, 0, pattern=1) for number in range(count)] + [sprite(0, 100)] * (4 - count)
    twin = both(holding(chip, memory, table, sprites__patterns=512))
    turned = [15 - dot % 16 for dot in range(64)]
    assert twin.indices[0] == [1] * (8 * count) + turned[8 * count :]
    assert twin.indices[4:] == [turned] * 60


# Sprites: bursts and records


def one_in_two(table: str, share: str) -> Any:
    """Sprites of 16 dots, two accesses a row, in the even blank slots; the CPU has the odd ones, and of others its ``share``."""
    sprites = {**SPRITES, "table": table, "count": 2, "sizes": [[16, 4]], "pattern_bytes": 8}
    return timed(
        BITMAP,
        clients={"a.bitmap": in_time(1), "sprites": {**BLANKING, "every": 2, "at": [0]}},
        sprites=sprites,
        cpu_share={"active": share},
    )


def test_a_burst_of_sprites_is_one_row_of_one_sprite():
    """Rows of two bytes in slots 0 and 2, and 4 and 6. On line 30 the CPU's bytes land in slots 1, 3 and 5: on the second byte
    of pattern 1, whose burst has begun; on both of pattern 2, whose burst begins between them. The trace tells what was read.
    """
    chip = one_in_two("chip", "none")
    state = holding(chip, {}, [sprite(0, 30, 1), sprite(32, 30, 2)], a__enable=0, sprites__patterns=512)
    writes = [Transfer(29, 521, b"\xff", 64), Transfer(29, 528, b"\xff", 64), Transfer(29, 529, b"\xff", 64)]
    twin = both(state, writes)
    assert [slot for slot, *_ in accesses(twin, "cpu", 30)] == [1, 3, 5]
    assert accesses(twin, "sprites.pattern", 30) == [(0, 520, 0), (2, 521, 0), (4, 528, 0xFF), (6, 529, 0)]
    assert [dot for dot, line in at(twin.source, 2) if line == 30] == list(range(32, 40))


@pytest.mark.parametrize(("dot", "there"), [(63, True), (64, False)])
def test_a_record_and_its_traced_accesses_are_those_of_slot_0(dot, there):
    """Records of three bytes from 256 on, y in the second: scanned in slots 0 and 2, the first and third bytes of sprite 0 in 4
    and 6, its row in 8 and 10. A byte that lands on x of sprite 0 in slot 79 of line 29 is there at slot 0 of line 30; one that
    lands in slot 1, before x is fetched in slot 4, is not: x is 8 and the trace says so.
    """
    chip = one_in_two("memory", "free")
    table = sprite(8, 30, 1) + sprite(8, 100, 1)
    state = holding(chip, {256: table, 520: b"\xff" * 8}, a__enable=0, sprites__table=256, sprites__patterns=512)
    twin = both(state, [Transfer(29, 256, bytes([40]), dot)])
    assert [access[:2] for access in twin.trace if access[2] == "cpu"] == [(29, 79) if there else (30, 1)]
    x = 40 if there else 8
    assert accesses(twin, "sprites.table", 30) == [(0, 257, 30), (2, 260, 100), (4, 256, x), (6, 258, 1)]
    assert [where for where, line in at(twin.source, 2) if line == 30] == list(range(x, x + 16))


# A port's bytes and the scene's own writes


PORT = [{"target": "sprites", "address": 0x120, "data": 0x121}]


@pytest.mark.parametrize(
    ("port", "own", "y"),
    [
        ((19, 5), 20, 50),  # put off from line 19: first, and so written over
        ((20, 0), 20, 40),  # the same instant: in the order given, the port's bytes last
        ((20, 5), 20, 40),  # put off to line 21
        ((68, 5), 69, 50),
        ((69, 5), 69, 40),  # put off to line 0 of the next frame
    ],
)
def test_of_a_ports_byte_and_a_sprite_write_the_later_in_time_wins(port, own, y):
    """The port writes y 40, the scene's own write y 50."""
    state = holding(small_chip(BITMAP, sprites=SPRITES, ports=PORT), {}, [sprite(0, 0)], a__enable=0)
    line, dot = port
    writes = [SpriteWrite(own, 1, bytes([50])), PortWrite(line, 0x120, 1, dot), PortWrite(line, 0x121, 40, dot)]
    both(state, writes)
    assert state.sprites[0, 1] == y


def test_at_one_instant_the_order_given_decides():
    """The same two at line 20, dot 0, the scene's own write last."""
    state = holding(small_chip(BITMAP, sprites=SPRITES, ports=PORT), {}, [sprite(0, 0)], a__enable=0)
    both(state, [PortWrite(20, 0x120, 1), PortWrite(20, 0x121, 40), SpriteWrite(20, 1, bytes([50]))])
    assert state.sprites[0, 1] == 50


@pytest.mark.parametrize(("dot", "line_0"), [(0, []), (1, [0])])
def test_a_ports_byte_on_the_last_line_counts_for_nothing_before_it(dot, line_0):
    """Line 0 of the next frame is prepared in the slots of line 69 from what is in force at its dot 0. A sprite on lines 0 to 3
    is moved to line 40 there: at dot 0 in time, at dot 1 line 0 has it still.
    """
    chip = timed(
        BITMAP, clients={"a.bitmap": in_time(1), "sprites": BEFORE}, sprites={**SPRITES, "count": 1}, ports=PORT
    )
    state = holding(chip, {516: b"\xff" * 4}, [sprite(8, 0, pattern=1)], a__enable=0, sprites__patterns=512)
    both(state, [PortWrite(69, 0x120, 1, dot), PortWrite(69, 0x121, 40, dot)])
    assert sorted({line for _, line in at(both(state).sprite, 0)}) == [*line_0, 40, 41, 42, 43]


@pytest.mark.parametrize(("dot", "last"), [(0, 0xAA), (1, 0x55)])
def test_so_does_a_byte_for_memory_on_a_chip_without_time(dot, last):
    """64 lines, all of them the picture. The bitmap's last of 16 lines lies at 240, where a port writes a byte on line 63."""
    frame = {"width": 64, "height": 64, "dot_clock": 1_000_000, "dots_per_line": 80, "lines_per_frame": 64}
    chip = small_chip(BITMAP, frame=frame, ports=[{"target": "memory", "address": 0x120, "data": 0x122}])
    state = holding(chip, {0: ONES})
    twin = both(state, [PortWrite(63, 0x120, 240, dot), PortWrite(63, 0x121, 0, dot), PortWrite(63, 0x122, 0xAA, dot)])
    assert twin.indices[63][:4] == [last & 3] * 4
    assert state.memory[240] == 0xAA


# What a transfer has waited


@pytest.mark.parametrize(
    ("writes", "rate", "waited"),
    [
        ([(10, 0, 3)], 1, [0]),
        ([(10, 0, 1)], 1, [0]),
        ([(10, 1, 2)], "1/2", [0]),
        ([(10, 0, 3), (10, 0, 2)], 1, [0, 3]),
        ([(10, 0, 3), (10, 2, 2)], 1, [0, 1]),
        ([(10, 0, 3), (10, 3, 2)], 1, [0, 0]),
        ([(69, 63, 1)], 1, [0]),
        ([(69, 63, 2)], 1, [0]),
        ([(69, 63, 1), (69, 63, 1)], 1, [0, 1]),
        ([(69, 64, 1)], 1, [0]),
    ],
)
def test_a_transfer_that_every_slot_since_its_start_brought_a_byte_has_waited_for_none(writes, rate, waited):
    """All slots are the CPU's, a byte each. One that starts where the one before it still has three bytes to bring waits for
    those, one that starts a dot before that one's last byte, for one slot. On the last line's last slot one byte lands; what is
    left goes on in the next frame, and what has not started here has not waited.
    """
    chip = timed(
        BITMAP, clients={"a.bitmap": in_time(1)}, rate=rate, cpu_share={"active": "free"}, constants={"a.enable": 0},
        registers={"a.scroll_x": {"bits": 6, **AT_ONCE}},
    )  # fmt: skip
    twin = both(
        holding(chip),
        [Transfer(line, 100 * number, bytes(count), dot) for number, (line, dot, count) in enumerate(writes)],
    )
    assert [record[6] for record in twin.transfers] == waited


def test_a_kept_word_stays_while_its_patterns_move():
    """Cells are fetched on line 0 and kept; the cell's byte goes from 1 to 0 before line 2, patterns move to 256 at its end.
    Pattern 1 is full at 512 and half at 256, pattern 0 is empty at both.
    """
    chip = timed(TILES, clients={"a.cells": {**BLANKING, "keep": True}, "a.pattern": BLANKING}, rate=2)
    state = holding(chip, {0: b"\1", 520: b"\xff" * 8, 264: b"\xf0" * 8}, a__t__patterns=512)
    twin = both(state, [MemoryWrite(2, 0, b"\0"), RegisterWrite(2, "a.t.patterns", 256, dot=70)])
    assert [len([dot for dot, y in at(twin.indices, 1) if y == line]) for line in range(10)] == [8] * 3 + [4] * 5 + [
        0
    ] * 2


# Conditions and the sprite table


@pytest.mark.parametrize(
    ("when", "shows"),
    [("priority = 0", True), ("priority = 1", False), ("priority < 1", True), ("priority >= 1", False)],
)
def test_a_text_has_no_priority_and_counts_as_0(when, shows):
    """The layer's other mode has the field. Every dot of the text, columns and margins, stands on the rung or on none."""
    tiles = {**TILES, "cell": {"pattern": "2:0", "priority": "7"}}
    text = {**TEXT, "transparent": None}
    layers = [{"name": "a", "modes": [tiles, text]}]
    chip = small_chip(tiles, layers=layers, ladder=[{"source": "a", "when": when}])
    twin = both(holding(chip, a__mode=1, a__below=1))
    assert {source for row in twin.source for source in row} == {1 if shows else 0}


@pytest.mark.parametrize(("when", "shows"), [("priority = 0", True), ("priority = 1", False)])
def test_so_do_tiles_in_whose_cells_the_field_is_not(when, shows):
    """The mode above line 32 has the field, with priority 1 in all its cells; the mode from there on has not."""
    modes = [{**TILES, "cell": {"pattern": "2:0", "priority": "7"}}, {**TILES, "name": "u"}]
    layers = [{"name": "a", "modes": modes}]
    chip = small_chip(TILES, layers=layers, ladder=[{"source": "a", "when": when}])
    twin = both(holding(chip, {0: b"\x80" * 128}, a__split=32, a__below=1))
    assert [set(row) for row in twin.source] == [{0 if shows else 1}] * 32 + [{1 if shows else 0}] * 32


@pytest.mark.parametrize(
    ("order", "width", "words"),
    [("little", 1, [1, 3]), ("big", 1, [0, 2]), ("little", 2, [0, 1]), ("big", 2, [0, 1]), ("big", 4, [0])],
)
def test_a_scan_reads_the_words_that_hold_y_and_enable(order, width, words):
    """Bits 15 to 8 and 31 of a record of 4 bytes: its second byte and its last, counted from the low end."""
    fields = {"x": "7:0", "y": "15:8", "pattern": "18:16", "enable": "31"}
    sprites = {**SPRITES, "table": "memory", "record_bytes": 4, "fields": fields}
    memory = {"size": 1024, "bytes_per_access": width, "byte_order": order}
    chip = small_chip(TILES, sprites=sprites, memory=memory)
    assert scan_of(chip).words == tuple(words)
    alone = {**sprites, "fields": {**fields, "enable": None, "y": "14:12, 6:3"}}
    alone["fields"] = {name: bits for name, bits in alone["fields"].items() if bits and name != "x"} | {"x": "23:19"}
    chip = small_chip(TILES, sprites=alone, memory=memory)
    wanted = {("little", 1): [0, 1], ("big", 1): [2, 3], ("little", 2): [0], ("big", 2): [1], ("big", 4): [0]}
    assert scan_of(chip).words == tuple(wanted[order, width])
