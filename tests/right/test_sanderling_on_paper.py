"""Sanderling on paper: what its three scenes fetch, what its dearest line costs, and what its registers hold.

Throughout an access is two bytes and a line shows 320 dots. What a sprite on line y fetches is counted at line y - 1, since the
line buffer is filled while the line before shows.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import vdpsim

SCENES = Path(__file__).resolve().parents[2] / "scenes"
HIGH = 200


def drawn(name, frame=0):
    """Frame ``frame`` of a shipped scene."""
    return vdpsim.render(vdpsim.load_scene(SCENES / f"{name}.scene.toml"), frame=frame)


def by_line(*spans):
    """200 numbers: ``(first line, lines, each)`` added up."""
    numbers = np.zeros(HIGH, int)
    for first, lines, each in spans:
        numbers[first : first + lines] += each
    return numbers.tolist()


def sprites(*boxes):
    """What the table and the patterns of sprites cost on each line, of ``(y, dots across, lines)``.

    A look at the table is an access for each of 40 records: y, size and enable stand in its first two bytes. It is made for every
    line of the picture, so on lines 0 to 198 for the next one, and on the frame's last line for line 0. A sprite that the line
    shows takes the record's other four bytes, 2 accesses, and for each tile of 8 dots a row of 4 bytes, 2.
    """
    table = by_line((0, HIGH - 1, 40), *((y - 1, lines, 2) for y, _, lines in boxes))
    pattern = by_line(*((y - 1, lines, across // 8 * 2) for y, across, lines in boxes))
    return {"sprites.table": table, "sprites.pattern": pattern}


def machine(name):
    """What the chip holds as the scene's frame 0 begins."""
    return vdpsim.Machine.of(vdpsim.load_scene(SCENES / f"{name}.scene.toml"))


def indices(picture):
    """A picture's dots as numbers of its palette."""
    with Image.open(SCENES / "art" / picture) as image:
        return np.asarray(image)


def check(frame, clients):
    """The clients' fetches, line by line; every other client fetches nothing, and no sprite is lost."""
    counts = {client: counts.tolist() for client, counts in frame.log.by_line.items()}
    assert counts == {**dict.fromkeys(frame.log.clients, by_line()), **clients}
    assert len(frame.drops) == 0


STRIP = {"near.cells": (176, 24, 53), "near.glyphs": (176, 24, 53)}
"""Lines 176 to 199 are text: 53 cells of two bytes and 53 glyphs' rows, whatever the far layer is, for it is off."""

RUNNERS = (102, 110, 106, 117, 112, 111, 106, 115, 111)
"""The upper lines of the nine that run, in frame 0."""

STANDING = ((128, 24, 24), (139, 24, 24), (136, 24, 24), (139, 32, 24))
ALOFT = ((34, 24, 16), (27, 24, 16), (44, 24, 16), (36, 24, 16), (54, 24, 16), (14, 16, 16), (26, 32, 16), (43, 32, 16))


@pytest.mark.parametrize(("frame", "top", "near", "lower"), [(0, 74, 20, 0), (63, 77, 21, 3)])
def test_tideline(frame, top, near, lower):
    """The near band is 64 lines; above and below it the layer fetches nothing. A row of a tile of 16 dots is three planes of two
    bytes one after another, 3 accesses, and its cell 1. A line that begins s dots into a tile touches ceil((s + 320) / 16):
    near.scroll_x is 96 in frame 0, s = 0: 20; in frame 63 it is 96 + 63 // 3 = 117, s = 5: 21. near.scroll_y is 438 then, so
    that line 512 - 438 = 74 shows the band's first; after 63 // 3 = 21 steps, 12 down to 426 and 9 up again, 435: line 77.

    The far layer's tiles are 8 dots, four planes of one byte, 2 accesses, and a cell 1. far.scroll_x is 110 and, 63 // 4 = 15
    further, 125: 6 and 5 dots into a tile, both times 41 cells.

    Those that run go with the water: 3 lines further down in frame 63. All others keep their lines.
    """
    clients = {
        "near.cells": by_line((top, 64, near), STRIP["near.cells"]),
        "near.pattern": by_line((top, 64, 3 * near)),
        "near.glyphs": by_line(STRIP["near.glyphs"]),
        "far.cells": by_line((0, 176, 41)),
        "far.pattern": by_line((0, 176, 82)),
        **sprites(*((y + lower, 24, 24) for y in RUNNERS), *STANDING, *ALOFT),
    }
    check(drawn("tideline", frame), clients)


def test_the_fullest_line_of_the_tideline():
    """On lines 118 to 125 all nine run: 9 x 3 tiles x 2 = 54 accesses and 9 x 2 of the table, with the look at it 40 + 18 + 54 =
    112, asked for on lines 117 to 124. Near 20 + 60, far 41 + 82: 203. Refresh has 5. In all 320 of 448.
    """
    frame = drawn("tideline")
    used = frame.slots.counts[:, :-1].sum(axis=1)
    assert used[117:125].tolist() == [320] * 8
    assert used[:HIGH].max() == 320


@pytest.mark.parametrize(("frame", "terns", "pins"), [(0, (60, 74), ()), (288, (60 + 12, 74 + 19), (80,))])
def test_reserve(frame, terns, pins):
    """The near band stands above the picture (near.scroll_y is 64) and fetches nothing. The map's 16 dots are an access of the
    bitmap; two blocks of 8 dots lie over them, 2 cells of two bytes: 20 and 40 on each line, wherever the sheet stands.

    The pin begins at line 224, below the picture, and ends at 224 - 288 / 2 = 80. The terns' lines go up and down by 30, a line
    every 6th and 7th frame: 288 // 6 = 48 steps are 30 down and 18 back, so that 12 are left; 288 // 7 = 41 leave 19.
    """
    boxes = [*((y, 16, 16) for y in terns), *((y, 16, 32) for y in pins)]
    clients = {
        "near.cells": by_line(STRIP["near.cells"]),
        "near.glyphs": by_line(STRIP["near.glyphs"]),
        "far.colours": by_line((0, 176, 40)),
        "far.bitmap": by_line((0, 176, 20)),
        **sprites(*boxes),
    }
    check(drawn("reserve", frame), clients)


def test_moonlit():
    """Sixteen dots of a plane are an access and show on 32 dots of the screen: 10 accesses for each of seven planes, 70 a line,
    where eight bits for each of 320 dots would take 160. The owl is six tiles across, a bat three.
    """
    clients = {
        "near.cells": by_line(STRIP["near.cells"]),
        "near.glyphs": by_line(STRIP["near.glyphs"]),
        "far.bitmap": by_line((0, 176, 70)),
        **sprites((48, 48, 24), (24, 24, 16), (52, 24, 16)),
    }
    check(drawn("moonlit"), clients)


def test_the_dearest_line_of_the_chip():
    """Near scrolled by no whole tile: 21 cells and 63 accesses of their rows; far 41 and 82. Thirteen sprites of 24 dots, as many
    as a line takes and 312 dots, as many as it takes: 40 + 13 x 2 of the table, 312 / 8 x 2 = 78 of patterns. Refresh 5. In all
    356 of 448 slots, and the CPU has its own, one in eight of the 320 that pass while the picture shows.
    """
    found = vdpsim.budget(vdpsim.load_chip(SCENES / "chips/sanderling.chip.toml"))
    assert found.verdict == "fits"
    line = found.worst_line
    asked = {client: count for client, count in line.by_client.items() if count}
    assert asked == {
        "near.cells": 21,
        "near.pattern": 63,
        "far.cells": 41,
        "far.pattern": 82,
        "sprites.table": 66,
        "sprites.pattern": 78,
        "refresh": 5,
    }
    assert (line.used, line.free, line.cpu) == (356, 92, 40)


def test_words_with_fields():
    """Display: all is on, bits 15 to 13, 0xE000; text below, bit 8; the painting, far mode 2, in bits 5:4, 0x20. The split line
    is the upper byte of the next word, 176 = 0xB0, for both layers; the backdrop, 64 or 80, its lower seven bits.
    """
    tideline, moonlit = machine("tideline").registers, machine("moonlit").registers
    assert (tideline["display"], moonlit["display"]) == (0xE100, 0xE120)
    assert (tideline["split and backdrop"], moonlit["split and backdrop"]) == (0xB040, 0xB050)
    assert tideline["near.split"] == tideline["far.split"] == tideline["split"] == 176


def test_a_position_in_two_writes():
    """far.scroll_x is 110 = 0x06E. Its low byte, at address 8, waits for the high bits at 10: 0x2C can be read back, but
    nothing moves until bit 0 of address 10 is written, and then it is 0x12C = 300. Of the near layer's word, at 4 and 5, the low
    byte waits for the high one.
    """
    chip = machine("tideline")
    chip.write(8, 0x2C)
    assert (chip.read(8), chip.registers["far.scroll_x"]) == (0x2C, 110)
    chip.write(10, 0x01)
    assert chip.registers["far.scroll_x"] == 300
    chip.write(4, 0x34)
    assert chip.registers["near.scroll_x"] == 96
    chip.write(5, 0x02)
    assert chip.registers["near.scroll_x"] == 0x234


def test_dots_of_three_planes():
    """Cells of the band lie column by column, 8 a column, two bytes each, the high byte first. Those of the wave have bank 9 and
    show index 72 + value; bit p of the value of dot u in row v is bit 7 - u % 8 of byte number x 48 + v x 6 + 2 p + u // 8.
    """
    chip, picture = machine("tideline"), indices("tideline-wave.png")
    memory, registers = chip.memory, chip.registers
    for x, y in ((0, 4), (19, 7), (100, 11), (333, 6), (447, 15)):
        at = registers["near.shore.map"] + 2 * (x // 16 * 8 + y // 8)
        cell = int(memory[at]) << 8 | int(memory[at + 1])
        assert cell >> 8 & 15 == 9
        u, v = x % 16 ^ (15 if cell >> 12 & 1 else 0), y % 8 ^ (7 if cell >> 13 & 1 else 0)
        row = registers["near.shore.patterns"] + (cell & 255) * 48 + v * 6
        bits = [int(memory[row + 2 * plane + u // 8]) >> 7 - u % 8 & 1 for plane in range(3)]
        assert 72 + bits[0] + 2 * bits[1] + 4 * bits[2] == picture[y, x]


def test_dots_of_seven_planes():
    """Line y of each plane is 20 bytes; plane 6 lies where the scene says, the others wherever there was room."""
    chip, picture = machine("moonlit"), indices("moonlit.png")
    for x, y in ((0, 0), (52, 38), (126, 75), (52, 120), (159, 175)):
        planes = [chip.registers[f"far.night.plane_{plane}"] + 20 * y + x // 8 for plane in range(7)]
        assert sum((int(chip.memory[at]) >> 7 - x % 8 & 1) << plane for plane, at in enumerate(planes)) == picture[y, x]


def test_colours_of_blocks():
    """A block is 8 dots by 5 lines: dot x, y has cell y // 5 x 40 + x // 8, the paper's entry in its first byte, the ink's in its
    second. The frame shows the ink where the sheet's dot is 1.
    """
    chip, frame, ink = machine("reserve"), drawn("reserve"), indices("reserve.png")
    for x, y in ((0, 0), (60, 25), (200, 45), (75, 112), (300, 90), (150, 160)):
        at = chip.registers["far.chart.colours"] + 2 * (y // 5 * 40 + x // 8)
        assert frame.indices[y, x] == chip.memory[at + int(ink[y, x])]


def test_a_sprite_is_a_window_of_its_sheet():
    """The bird that flies at 60, 34 is tile 51 of the waders, the fourth of the sheet's fourth row: dots 24 to 47 of lines 24 to
    39. In bank 6 value v is entry 96 + v; where the sheet has 0 the sky shows.
    """
    frame, sheet = drawn("tideline"), indices("waders.png")[24:40, 24:48]
    shown = frame.indices[34:50, 60:84]
    assert (shown[sheet > 0] == 96 + sheet[sheet > 0]).all()
    assert (shown[sheet == 0] < 96).all()


def test_the_glitter_is_moved_by_the_cpu():
    """In frame 16, from line 200 on, the CPU writes 640 bytes, 8 transfers of 80. A byte takes it 24 cycles, 24 of a line's 448
    dots: they are down within 35 lines, long before line 311. Frame 17 shows the same but for bit 6 of dots of lines 96 to 175.
    """
    before, after = drawn("moonlit", 16), drawn("moonlit", 17)
    assert before.transfers[["bytes", "ended"]].tolist() == [(80, True)] * 8
    scene = vdpsim.load_scene(SCENES / "moonlit.scene.toml")
    chips = [vdpsim.Machine.of(scene, number) for number in (16, 17)]
    at = [chips[0].registers[f"far.night.plane_{plane}"] for plane in range(7)]
    memories = [np.stack([chip.memory[start : start + 4000] for start in at]) for chip in chips]
    planes, places = np.nonzero(memories[0] != memories[1])
    assert set(planes.tolist()) == {6}
    assert set((places // 20).tolist()) <= set(range(96, 176))
    assert set((places % 20).tolist()) <= set(range(3, 11))
    lines = np.flatnonzero((before.indices ^ after.indices == 64).any(axis=1))
    assert lines.min() >= 96 and lines.max() < 176
