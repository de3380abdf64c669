"""Layers that a line buffer holds, worked by hand: which slots fill it, from when a write counts, what is late by one slot.

The chips are those of ``paper.py``: 64 dots of 80 and 64 lines of 70. A line of BITMAP takes 16 accesses, of four dots each; one
of TILES takes eight cells and eight pattern rows, of eight dots each.
"""

from __future__ import annotations

from typing import Any

import pytest
from paper import BITMAP, SPRITES, TILES, at, both, holding, small_chip, sprite
from refusal import refused

from vdpsim.engine import NotInTimeError, Plan, draw
from vdpsim.state.state import LineBuffer
from vdpsim.state.writes import RegisterWrite

BEFORE = {"when": "line before"}
ONES = {0: bytes([0x55]) * 256}
"""Every dot of the bitmap has value 1."""


def buffered(*modes: Any, rate: Any = 1, refresh: int = 0, cells: Any = BEFORE, **tables: Any) -> Any:
    """A chip whose layers are all fetched a line ahead."""
    clients: dict[str, Any] = {}
    for layer, mode in zip("abc", modes, strict=False):
        names = ("bitmap",) if mode["kind"] == "bitmap" else ("cells", "pattern")
        clients |= {f"{layer}.{name}": cells if name == "cells" else BEFORE for name in names}
    if "sprites" in tables:
        clients["sprites"] = BEFORE
    time = {"clients": clients, **({"refresh": {"slots": refresh}} if refresh else {})}
    memory = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": rate}
    return small_chip(*modes, memory=memory, time=time, **tables)


def lines_with(twin: Any, client: str) -> list[int]:
    """The lines in whose slots the client has any."""
    return [line for line, counts in enumerate(twin.slots) if counts[client]]


def test_each_line_fills_the_buffer_for_the_next():
    """Slots 0 to 15 of line y are for line y + 1. Line 63 is the picture's last, so nothing is fetched there, nor below, until
    line 69 fetches line 0 of the next frame. Line 0 of this one was fetched before it, in no slot of the log.
    """
    twin = both(holding(buffered(BITMAP), ONES))
    assert lines_with(twin, "a.bitmap") == [*range(63), 69]
    assert {slot for line, slot, *_ in twin.trace if line == 9} == set(range(16))
    # line 9 fetches line 10, of 16 bytes each; the bitmap has 16 lines
    assert [address for line, _, _, address, _ in twin.trace if line == 9] == list(range(160, 176))
    assert len(at(twin.indices, 1)) == 64 * 64


def test_the_picture_is_the_same_where_nothing_is_written():
    """A line buffer delays what is written, not what is drawn."""
    memory = {0: bytes(range(256)), 512: bytes(range(7, 256, 3))}
    plain = small_chip(BITMAP, TILES)
    held = buffered(BITMAP, TILES)
    values = {"a__scroll_x": 5, "b__scroll_y": 3, "b__t__patterns": 512}
    one, other = (both(holding(chip, memory, **values)) for chip in (plain, held))
    assert (one.indices, one.rgb, one.source) == (other.indices, other.rgb, other.source)


@pytest.mark.parametrize(("dot", "first"), [(0, 11), (1, 12), (63, 12), (64, 12)])
def test_a_write_counts_for_the_line_after_the_one_at_whose_dot_0_it_is_there(dot, first):
    """Scrolled by one at line 10: at its dot 0 in time for line 11, at any later dot for line 12."""
    marks = {16 * line: bytes([0x40]) + bytes(15) for line in range(16)}  # dot 0 of each line of the bitmap has value 1
    twin = both(holding(buffered(BITMAP), marks), [RegisterWrite(10, "a.scroll_x", 1, dot)])
    assert at(twin.indices, 1) == [(0, line) for line in range(first)] + [(63, line) for line in range(first, 64)]


def test_a_layer_is_there_if_it_was_when_its_line_was_fetched():
    """Switched off at line 20 and on again at line 30: line 20 is in the buffer already, line 30 is not."""
    writes = [RegisterWrite(20, "a.enable", 0), RegisterWrite(30, "a.enable", 1)]
    twin = both(holding(buffered(BITMAP), ONES), writes)
    assert sorted({line for _, line in at(twin.indices, 1)}) == [*range(21), *range(31, 64)]
    assert lines_with(twin, "a.bitmap") == [*range(20), *range(30, 63), 69]


def test_sixteen_slots_are_enough_and_fifteen_lose_the_last_four_dots():
    """One access in five dots: 16 slots a line, as many as the bitmap takes. With one of them for refresh dots 60 to 63 are
    lost on every line, line 0 among them, and told on the line that they are missing from.
    """
    fits = both(holding(buffered(BITMAP, rate="1/5"), ONES))
    assert not any(lost["a.bitmap"] for lost in fits.missed)
    assert len(at(fits.indices, 1)) == 64 * 64
    state = holding(buffered(BITMAP, rate="1/5", refresh=1), ONES)
    told = "on line 0 a.bitmap finds no slot in time for 1 of its accesses; 64 are missed on 64 lines in all"
    with refused(NotInTimeError, told):
        draw(Plan(state.chip), state.copy())
    late = both(state, damage=True)
    assert [lost["a.bitmap"] for lost in late.missed] == [1] * 64
    assert [dot for dot, line in at(late.indices, 1) if line == 33] == list(range(60))
    assert state.buffers == {0: LineBuffer(0, (1,) * 60 + (-1,) * 4, (), (("a.bitmap", 1),))}
    # the next frame's line 0 is what is in the buffer
    state.memory[:] = 0
    again = both(state, damage=True)
    assert sorted({line for _, line in at(again.indices, 1)}) == [0]
    assert again.missed[0]["a.bitmap"] == 1


def test_what_the_next_frames_line_0_misses_is_told_there():
    """16 slots a line, which are enough until line 69: scrolled by one there, line 0 takes a 17th access for dot 63 alone, and
    loses it. Scrolled back at line 0, line 1 has all of its own.
    """
    state = holding(buffered(BITMAP, rate="1/5"), ONES)
    twin = both(state, [RegisterWrite(69, "a.scroll_x", 1)], damage=True)
    assert not any(lost["a.bitmap"] for lost in twin.missed)
    assert state.buffers[0].missed == (("a.bitmap", 1),)
    again = both(state, [RegisterWrite(0, "a.scroll_x", 0)], damage=True)
    assert [lost["a.bitmap"] for lost in again.missed] == [1] + [0] * 63
    assert [dot for dot, line in at(again.source, 0) if line == 0] == [63]


def test_what_is_missed_is_held_in_the_order_of_the_chips_clients():
    """A mode without colour cells stands before one that has them; its client stands behind theirs."""
    coloured = BITMAP | {"name": "c", "colours": {"block": [8, 8], "cell_bytes": 1, "cell": {"bank": "0"}}}
    chip = small_chip(
        BITMAP,
        layers=[{"name": "a", "modes": [BITMAP, coloured]}],
        memory={"size": 1024, "bytes_per_access": 1, "accesses_per_dot": "1/5"},
        time={"clients": dict.fromkeys(("a.bitmap", "a.colours"), BEFORE), "refresh": {"slots": 12}},
    )
    state = holding(chip, a__mode=1, a__below=1)
    both(state, damage=True)
    assert [name for name, _ in state.buffers[0].missed] == ["a.colours", "a.bitmap"]


def test_patterns_wait_for_their_cells_and_any_slot_will_do():
    """Eight cells, then the patterns: the first of them in the slot after the eight cells, since cells come first in the list."""
    twin = both(holding(buffered(TILES), {512: bytes([0xFF]) * 64}, a__t__patterns=512))
    who = [(slot, client) for line, slot, client, *_ in twin.trace if line == 40]
    assert who == [(slot, "a.cells") for slot in range(8)] + [(slot, "a.pattern") for slot in range(8, 16)]


def test_kept_cells_are_fetched_once_a_row_of_cells():
    """Rows of eight lines: cells for line 0 on line 69, for line 8 on line 7, and so on; patterns on every line."""
    twin = both(holding(buffered(TILES, cells=BEFORE | {"keep": True})))
    assert lines_with(twin, "a.cells") == [7, 15, 23, 31, 39, 47, 55, 69]
    assert lines_with(twin, "a.pattern") == [*range(63), 69]


@pytest.mark.parametrize(("rate", "drawn"), [("1/4", 4), ("19/80", 3)])
def test_sprites_have_what_the_layers_before_them_leave(rate, drawn):
    """Four sprites of one access each after 16 of the bitmap: 20 slots a line are enough, 19 leave the last without."""
    chip = buffered(BITMAP, rate=rate, sprites=SPRITES)
    table = [sprite(8 * number, 30, pattern=1) for number in range(4)]
    twin = both(holding(chip, ONES | {520: bytes([0xFF]) * 8}, table, sprites__patterns=512))
    assert twin.drawn[30:34] == [drawn] * 4
    assert lines_with(twin, "sprites.pattern") == [29, 30, 31, 32]
    assert [line for line, _, reason in twin.drops if reason == "slots"] == ([] if drawn == 4 else [30, 31, 32, 33])
