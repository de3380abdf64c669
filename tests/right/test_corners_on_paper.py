"""Corners of "The model, exactly" that a design is easily built around, each on a chip small enough for paper.

The chips are those of ``paper.py``: 64 dots of 80, so that 16 dots of blanking stand before dot 0, 64 lines of 70.
"""

from __future__ import annotations

from functools import cache
from random import Random
from typing import Any

import pytest
from paper import SPRITES, TEXT, TILES, at, both, holding, small_chip, sprite

from vdpsim.chip.controls import controls
from vdpsim.chip.model import BitmapMode, Chip, TextMode
from vdpsim.state.state import State
from vdpsim.state.writes import PaletteWrite, RegisterWrite
from vdpsim.testing.strategies.made.chips import make_chip

SOLID = {516: bytes([0xFF]) * 4}
"""Sprite pattern 1, of patterns from 512 on."""


def timed(when: str, refresh: int = 0, sprites: Any = SPRITES, **tables: Any) -> Chip:
    """A chip whose sprites are fetched ``when``, with one access a dot; its one layer comes after them."""
    memory = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 1}
    clients = {"sprites": {"when": when}, "a.cells": {"when": "blanking"}, "a.glyphs": {"when": "blanking"}}
    time = {"clients": clients, **({"refresh": {"slots": refresh}} if refresh else {})}
    return small_chip(TEXT, sprites=sprites, memory=memory, time=time, **tables)


# Sprites


@pytest.mark.parametrize("when", ["blanking", "line before"])
def test_who_is_behind_a_sprite_without_a_slot_keeps_the_reason_of_count_and_dots(when):
    """Two slots are left, each for a sprite's one access. Of 6 sprites number 4 comes to 40 dots, number 5 is the sixth."""
    sprites = {**SPRITES, "count": 6, "per_line": 5, "dots_per_line": 32}
    state = holding(
        timed(when, refresh=14 if when == "blanking" else 78, sprites=sprites),
        SOLID,
        [sprite(8 * number, 30, 1) for number in range(6)],
        sprites__patterns=512,
        a__enable=0,
    )
    twin = both(state, damage=True)
    reasons = [(2, "slots"), (3, "slots"), (4, "dots"), (5, "count")]
    assert [drop for drop in twin.drops if drop[0] == 31] == [(31, *one) for one in reasons]
    assert (twin.found[31], twin.drawn[31]) == (6, 2)
    assert not any(count for line in twin.missed for count in line.values())  # of sprites nothing is missed


@pytest.mark.parametrize(
    ("when", "line", "dot", "lines"),
    [
        ("blanking", 30, 0, [28, 29]),
        ("blanking", 29, 1, [28, 29]),
        ("blanking", 30, 1, [28, 29, 30]),
        ("line before", 30, 0, [28, 29, 30]),
        ("line before", 29, 0, [28, 29]),
        ("line before", 28, 1, [28, 29]),
    ],
)
def test_sprites_are_off_by_what_is_there_at_the_dot_0_that_prepares_them(when, line, dot, lines):
    """A sprite on lines 28 to 31. Switched off on a line that is prepared already, it shows there all the same."""
    state = holding(timed(when), SOLID, [sprite(8, 28, 1)], sprites__patterns=512, a__enable=0)
    twin = both(state, [RegisterWrite(line, "sprites.enable", 0, dot)])
    assert sorted({y for y, row in enumerate(twin.sprite) if 0 in row}) == lines


@pytest.mark.parametrize(("effect", "writes_at"), [("next line", 69), ("next frame", 20)])
def test_line_0_follows_from_the_last_line_without_what_counts_only_from_line_0(effect, writes_at):
    """Sprites are switched off from line 0 of the next frame on; line 69 has prepared its line 0 before that counts."""
    registers = {"others": "default", "sprites.enable": {"bits": 1, "effect": effect}}
    state = holding(
        timed("line before", registers=registers), SOLID, [sprite(8, 0, 1)], sprites__patterns=512, a__enable=0
    )
    both(state, [RegisterWrite(writes_at, "sprites.enable", 0)])
    assert state.value("sprites.enable") == 0
    unheld = both(state.copy())
    assert sorted({y for y, row in enumerate(unheld.sprite) if 0 in row}) == [0]
    state.ahead = None  # as a frame of a scene begins: an empty line is run
    assert not any(0 in row for row in both(state).sprite)


# Colours


def test_far_to_the_right_and_far_down_a_write_counts_from_its_own_dot_on():
    """On line 300 of 320, below the text, where the backdrop shows: it is another from dot 300 on, and red from dot 520 on."""
    frame = {"width": 640, "height": 320, "dot_clock": 1_000_000, "dots_per_line": 700, "lines_per_frame": 330}
    state = holding(small_chip({name: TEXT[name] for name in TEXT if name != "margin"}, frame=frame))
    state.line = 299
    twin = both(state, [RegisterWrite(300, "backdrop", 3, dot=300), PaletteWrite(300, 3, (0xF00,), dot=520)], last=302)
    assert twin.indices[1] == [0] * 300 + [3] * 340
    assert [dot for dot, rgb in enumerate(twin.rgb[1]) if tuple(rgb) == (255, 0, 0)] == list(range(520, 640))


def test_a_bank_counts_from_its_own_dot_on_in_the_middle_of_a_tile():
    """A tile of ones: 8 dots of entry 1; bank 2 from dot 3 on makes them 9. No fetch is made for it."""
    state = holding(small_chip(TILES), {512: bytes([0xFF]) * 64}, a__t__patterns=512)
    twin = both(state, [RegisterWrite(10, "a.bank", 2, dot=3)])
    assert twin.indices[10] == [1] * 3 + [9] * 61
    assert twin.counts[10] == twin.counts[9]


@pytest.mark.parametrize(("colour", "glyph"), [("foreground", 0xFF), ("background", 0)])
def test_a_texts_colours_count_from_their_own_dot_on_in_the_middle_of_a_glyph(colour, glyph):
    """Column 1 has dots 8 to 13, after 2 of margin and 6 of column 0."""
    state = holding(small_chip(TEXT), {512: bytes([glyph]) * 8}, a__x__glyphs=512, **{f"a__x__{colour}": 3})
    twin = both(state, [RegisterWrite(4, f"a.x.{colour}", 5, dot=10)])
    assert twin.indices[4] == [9] * 2 + [3] * 8 + [5] * 52 + [9] * 2
    assert twin.counts[4] == twin.counts[3]


@cache
def chips_by_seed() -> tuple[Chip, ...]:
    """A hundred chips by chance."""
    return tuple(make_chip(Random(seed)) for seed in range(100))


def reaches(chip: Chip) -> list[int]:
    """The last entry to which each mode's palette rule can lead, and that of the sprites."""
    tops = {name: one.top for name, one in controls(chip).items()}
    found = []
    for layer in chip.layers:
        for mode in layer.modes:
            cell = {} if isinstance(mode, BitmapMode) and not mode.colours else fields_of(mode)
            value = 2**mode.bits_per_dot - 1
            names = ("foreground", "background")
            if isinstance(mode, TextMode) or any(name in cell for name in names):
                value = max(
                    cell[name].top if name in cell else tops[f"{layer.name}.{mode.name}.{name}"] for name in names
                )
            bank = cell["bank"].top if "bank" in cell else tops.get(f"{layer.name}.bank", 0)
            found.append(led_to(chip, mode.entries, bank, value))
    if chip.sprites:
        layout = chip.sprites.fields.layout
        bank = layout["bank"].top if "bank" in layout else 0
        found.append(led_to(chip, chip.sprites.entries, bank, 2**chip.sprites.bits_per_dot - 1))
    return found


def fields_of(mode: Any) -> Any:
    """The fields of a mode's cells, of a bitmap those of its colour cells."""
    return mode.colours.cell.layout if isinstance(mode, BitmapMode) else mode.cell.layout


def led_to(chip: Chip, entries: Any, bank: int, value: int) -> int:
    """The entry of a bank and a value."""
    step = chip.palette.bank_size if entries.bank_step is None else entries.bank_step
    return int(entries.base + bank * step + value * entries.value_step)


def test_no_bits_and_no_control_of_a_chip_lead_beyond_its_palette():
    """And some lead to its last entry, so that one more would be too many."""
    rooms = [chip.palette.entries - 1 - most for chip in chips_by_seed() for most in reaches(chip)]
    assert min(rooms) == 0
    assert len(rooms) > 200


def test_addresses_of_cells_are_multiples_of_an_access_and_of_the_cell():
    """So that a cell lies in accesses of its own, however many bytes each has."""
    seen = set()
    for chip in chips_by_seed():
        for layer in chip.layers:
            for mode in layer.modes:
                if isinstance(mode, BitmapMode) and not mode.colours:
                    continue
                what = "colours" if isinstance(mode, BitmapMode) else "map"
                each = mode.colours.cell_bytes if isinstance(mode, BitmapMode) else mode.cell_bytes
                step, wide = controls(chip)[f"{layer.name}.{mode.name}.{what}"].step, chip.memory.bytes_per_access
                assert step % each == step % wide == 0
                seen.add((each, wide))
    assert {(2, 1), (1, 2)} <= seen


def test_a_step_of_a_port_is_its_advance_at_reset():
    chip = small_chip(TILES, ports=[{"target": "palette", "address": 0x80, "data": 0x82, "advance": 3}])
    assert State.at_reset(chip).ports == [[0, 3]]
    assert at(both(State.at_reset(chip)).indices, 1) == []
