"""Do the shipped scenes cost what paper says? Fetches, drops and collisions, worked out by hand from the chips' numbers.

Both chips fetch a line's sprites in the slots of the line before: what a sprite on line y fetches is counted at line y - 1.
No sprite of these scenes lies on line 0, so that none is counted in the frame before.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import vdpsim

SCENES = Path(__file__).resolve().parents[2] / "scenes"


def drawn(name, frame=0, chip=None):
    """Frame ``frame`` of a shipped scene, on its own chip or another."""
    other = vdpsim.load_chip(SCENES / "chips" / f"{chip}.chip.toml") if chip else None
    return vdpsim.render(vdpsim.load_scene(SCENES / f"{name}.scene.toml", chip=other), frame=frame)


def by_line(*spans):
    """216 numbers: ``(first line, lines, each)`` added up."""
    numbers = np.zeros(216, int)
    for first, lines, each in spans:
        numbers[first : first + lines] += each
    return numbers.tolist()


def line_before(*spans):
    """As ``by_line``, each span counted a line above its place: what is fetched for lines ``first`` and on."""
    return by_line(*((first - 1, lines, each) for first, lines, each in spans))


def check(frame, clients, total):
    """The clients' fetches, line by line; every other client fetches nothing."""
    counts = {client: counts.tolist() for client, counts in frame.log.by_line.items()}
    silent = dict.fromkeys(frame.log.clients, by_line())
    assert counts == {**silent, **clients}
    assert frame.log.total == total


def word(scene, register, cell):
    """Cell number ``cell`` of the map that ``register`` points at, two bytes, the low one first."""
    machine = vdpsim.Machine.of(scene)
    at = machine.registers[register] + 2 * cell
    return int(machine.memory[at]) | int(machine.memory[at + 1]) << 8


def test_cells_of_text():
    """Slipway's strip begins at column 1 with a T, character 0x54, in foreground 1 on background 0: 0x0541, and h, 0x68, 0x0681.

    Saltmarsh has foreground 4 on background 1 along its top, 48 times character 0x84: 0x1844; row 1, column 1 is 0x82 in
    foreground 2 on 1: cell 48 + 1, 0x1822.
    """
    slipway, saltmarsh = (vdpsim.load_scene(SCENES / f"{name}.scene.toml") for name in ("slipway", "saltmarsh"))
    assert [word(slipway, "near.text.map", cell) for cell in (1, 2)] == [0x0541, 0x0681]
    assert [word(saltmarsh, "near.text.map", cell) for cell in (0, 47, 49)] == [0x1844, 0x1844, 0x1822]


@pytest.mark.parametrize("chip", ["curlew", "dunlin"])
def test_cells_of_tiles(chip):
    """A pattern is 8 rows of 4 bytes, 32: the cell's bits from 5 on are where it lies. Pattern 210 lies 210 x 32 = 6720 = 0x1A40
    bytes after the first; turned both ways, bits 0 and 1, in bank 2 (8 = 2 x 4) before the birds (0x8000): 0x9A4B.
    """
    near, far = vdpsim.load_chip(SCENES / "chips" / f"{chip}.chip.toml").layers
    turned = {"pattern": 210, "flip_x": 1, "flip_y": 1, "bank": 2}
    layout = near.modes[0].cell.layout
    assert sum(layout[name].put(value) for name, value in (*turned.items(), ("priority", 1))) == 0x9A4B
    assert sum(far.modes[0].cell.layout[name].put(value) for name, value in turned.items()) == 0x1A4B


@pytest.mark.parametrize(
    ("frame", "near", "dragonfly", "total"),
    [(0, 36, 118, 45_568), (63, 37, 120, 46_144)],
)
def test_saltmarsh(frame, near, dragonfly, total):
    """Curlew brings 2 bytes a fetch: a cell is 2 bytes, 1 fetch; a row of 8 dots of 4 bits is 4 bytes, 2 fetches.

    A line of 288 dots that begins s dots into a tile (s = scroll mod 8) touches ceil((s + 288) / 8) cells: 36 for s = 0, else
    37. In frame 0 near.scroll_x is 0: 36 cells; far.scroll_x is 70, s = 6: 37. In frame 63 near.scroll_x is 63 // 2 = 31,
    s = 7: 37 cells; far.scroll_x is 70 + 63 // 4 = 85, s = 5: 37.

    Lines 0 to 191: near 36 (37) cells and 72 (74) pattern fetches, far 37 and 74. Lines 192 to 215: 288 / 6 = 48 characters,
    48 fetches for cells and 48 for glyphs; the far layer is switched off there.

    Sprites: 16 dots are 8 bytes, 4 fetches a line; the boat's 32 dots are 8. Those beyond an edge fetch all the same. Two of
    32 lines, thirteen of 16 and the boat of 16: 2 x 32 x 4 + 13 x 16 x 4 + 16 x 8 = 1216. The dragonfly
    alone moves up and down, a line every sixth frame between 118 and 121: on 120 after 63 // 6 = 10 steps, on the way up.

    Frame 0: near 192 x (36 + 72) + 24 x (48 + 48) = 23,040; far 192 x (37 + 74) = 21,312; with 1216 for sprites 45,568.
    Frame 63: near 192 x (37 + 74) + 2304 = 23,616; 46,144 in all.
    """
    tall = [(141, 32, 4), (127, 32, 4)]
    small = [(y, 16, 4) for y in (30, 20, 43, 31, 42, 24, 52, 38, 83, 84, 101, 92, dragonfly)]
    clients = {
        "near.cells": by_line((0, 192, near), (192, 24, 48)),
        "near.pattern": by_line((0, 192, 2 * near)),
        "near.glyphs": by_line((192, 24, 48)),
        "far.cells": by_line((0, 192, 37)),
        "far.pattern": by_line((0, 192, 74)),
        "sprites.pattern": line_before(*tall, *small, (108, 16, 8)),
    }
    check(drawn("saltmarsh", frame), clients, total)


def test_saltmarsh_loses_no_sprite_and_no_two_touch():
    """Each is 16 lines high: lapwings a, c, d, e begin on lines 30, 43, 31 and 42, the tern b on 38: all five lie on lines 43
    to 45, and no other line has more; a line takes twelve. In frame 0 no two boxes share a dot: lapwings e (lines 42 to 57)
    and f (24 to 39) come nearest, side by side but two lines apart.
    """
    frame = drawn("saltmarsh")
    assert int(frame.log.found.max()) == int(frame.log.found[43]) == 5
    assert (len(frame.drops), len(frame.collisions), frame.collision_flags) == (0, 0, 0)


def test_ferry_on_curlew():
    """Nothing scrolls: 36 cells a line in each layer, 1 fetch a cell, 2 for its row; the far layer goes on below the strip.

    Strip, lines 192 to 215: 48 cells, 48 glyphs. The ferry's 64 dots are 32 bytes, 16 fetches; 16 dots are 4.
    near 192 x 108 + 24 x 96 = 23,040; far 216 x 108 = 23,328; sprites 32 x 16 + 32 x 4 + 6 x 16 x 4 = 1024; 47,392 in all.
    The worst line for sprites, 94: 64 + 5 x 16 = 144 dots of 256, six sprites of twelve: none is dropped.
    """
    frame = drawn("ferry")
    small = [(y, 16, 4) for y in (88, 92, 89, 86, 94, 126)]
    clients = {
        "near.cells": by_line((0, 192, 36), (192, 24, 48)),
        "near.pattern": by_line((0, 192, 72)),
        "near.glyphs": by_line((192, 24, 48)),
        "far.cells": by_line((0, 216, 36)),
        "far.pattern": by_line((0, 216, 72)),
        "sprites.pattern": line_before((94, 32, 16), (121, 32, 4), *small),
    }
    check(frame, clients, 47_392)
    assert len(frame.drops) == 0


def test_ferry_on_dunlin():
    """A byte a fetch: 2 fetches a cell and 4 for its row, 6 where Curlew makes 3; a text cell is one byte here, 1 fetch as there.

    The terns (sprites 2 to 6) lie on lines 88, 92, 89, 86 and 94 and the fifteen below each: all five on 94 to 101, beside
    the ferry's 64 dots: 64 + 5 x 16 = 144 dots, and Dunlin takes 128. The fourth just fits; sprite 6, the last, is dropped
    on these eight lines. On line 102 the tern at 86 has ended: 128 dots, none is dropped.

    The ferry's row is 32 fetches, 16 dots are 8. near 192 x (72 + 144) + 24 x 96 = 43,776; far 216 x 216 = 46,656; sprites
    32 x 32 + 32 x 8 + 6 x 16 x 8 - 8 x 8 = 1984; 92,416 in all.
    """
    frame = drawn("ferry", chip="dunlin")
    small = [(y, 16, 8) for y in (88, 92, 89, 86, 94, 126)]
    clients = {
        "near.cells": by_line((0, 192, 72), (192, 24, 48)),
        "near.pattern": by_line((0, 192, 144)),
        "near.glyphs": by_line((192, 24, 48)),
        "far.cells": by_line((0, 216, 72)),
        "far.pattern": by_line((0, 216, 144)),
        "sprites.pattern": line_before((94, 32, 32), (121, 32, 8), *small, (94, 8, -8)),
    }
    check(frame, clients, 92_416)
    assert frame.drops.tolist() == [(line, 6, "dots") for line in range(94, 102)]


def test_ferry_fits_both_chips():
    """The same cells on both: only where they lie and what they cost differs. Dunlin's colours are Curlew's nearest ones."""
    curlew, dunlin = drawn("ferry"), drawn("ferry", chip="dunlin")
    assert curlew.indices[:94].tolist() == dunlin.indices[:94].tolist()
    assert curlew.indices[102:].tolist() == dunlin.indices[102:].tolist()
    missing = curlew.indices[94:102] != dunlin.indices[94:102]
    assert missing.any() and not missing[:, 12:].any(), "the last tern, at -4, reaches to dot 11"


def test_flock_fetches_and_drops():
    """The near layer is text all over: 48 cells and 48 glyphs a line. far.scroll_x is 232, 29 whole tiles: 36 cells, 72 rows.

    Lapwing i begins on line 24 + 2 d, d = 0 1 2 3 3 2 1 0 0 1 2 3 3 2 for i = 0 to 13: three with d = 0, three with 1, four
    with 2, four with 3. All lie on lines 30 (the last begin) to 39 (the first end): 14 where a line takes 12, so that 12
    and 13 are dropped (count). On lines 28 and 29 there are 3 + 3 + 4 = 10, on 40 and 41 there are 3 + 4 + 4 = 11: none.

    Swans 14 to 21 lie on lines 98 to 113, swan 22 on 104 to 119: together on 104 to 113, 9 x 32 = 288 dots where a line takes
    256 = 8 x 32, so that 22 is dropped there (dots); nine sprites would have been few enough.

    Sprites' fetches: lapwings (14 x 16 - 10 x 2) x 4 = 816; swans (9 x 16 - 10) x 8 = 1072; six of 16 lines and a visitor of
    32: 6 x 16 x 4 + 32 x 4 = 512; the harrier 16 x 8 = 128; 2528. near 216 x 96 = 20,736; far 216 x 108 = 23,328; 46,592.
    """
    frame = drawn("flock")
    lapwings = [(24 + 2 * d, 16, 4) for d in (0, 1, 2, 3, 3, 2, 1, 0, 0, 1, 2, 3, 3, 2)]
    swans = [(98, 16, 64), (104, 16, 8)]
    others = [(148, 16, 4), (150, 16, 8), (140, 16, 12), (138, 32, 4), (58, 16, 8)]
    clients = {
        "near.cells": by_line((0, 216, 48)),
        "near.glyphs": by_line((0, 216, 48)),
        "far.cells": by_line((0, 216, 36)),
        "far.pattern": by_line((0, 216, 72)),
        "sprites.pattern": line_before(*lapwings, (30, 10, -8), *swans, (104, 10, -8), *others),
    }
    check(frame, clients, 46_592)
    assert frame.log.found[[24, 26, 28, 29, 30, 39, 40, 41, 42, 44]].tolist() == [3, 6, 10, 10, 14, 14, 11, 11, 8, 4]
    assert frame.drops.tolist() == [
        *((line, sprite, "count") for line in range(30, 40) for sprite in (12, 13)),
        *((line, 22, "dots") for line in range(104, 114)),
    ]


def test_flock_collisions():
    """Boats see birds and visitors, birds see birds; group 3 (swans, harrier) sees nobody. Rows are counted from 0.

    Tern 23 (a bird, at 33, 148) and post 24 (a boat, at 40, 150): the post is solid from its dot 4 to 11, dots 44 to 51, in
    rows 1 to 15. The tern's dots, 33 + dot: row 5 has 8 to 10 and 13, and 46 is in the post; row 6 has 8 to 10 and 12
    to 14, first 45; rows 7 (8 to 15), 8 (2 to 14) and 9 (4 to 12) hold 11, first 44; row 4 ends at 9, 42, and row 10 too.

    Terns 25 (at 120, 140) and 26 (at 131, 140, flipped: dot i at 146 - i): row 5, 133 on both; row 6, 132 to 134 on both;
    row 7, 25 reaches 135 and 26 begins at 131; row 8, 25 reaches 134 and 26 begins at 132; row 9, 25 ends at 132 and 26
    begins at 134.

    Visitor 28 (at 208, 138) and post 29 (a boat, at 214, 150: dots 218 to 225, in its row 0 from 219): the visitor's rows 13
    to 27 all reach dot 10, which is 218; row 12 ends there too, but meets the post's row 0.

    Tern 27 (at 200, 140) covers the visitor, but no pair of birds and visitors is set; it ends at 215, before the post.
    """
    frame = drawn("flock")
    post = [(153, 46), (154, 45), (155, 44), (156, 44), (157, 44)]
    terns = [(145, 133), (146, 132), (147, 131), (148, 132)]
    expected = [
        *((line, 23, 24, dot) for line, dot in post),
        *((line, 25, 26, dot) for line, dot in terns),
        *((line, 28, 29, 218) for line in range(151, 166)),
    ]
    assert frame.collisions.tolist() == sorted(expected)
    assert frame.collision_flags == 0b111
    assert (frame.sprite[148, 208:216] == 27).any(), "tern 27 stands before the visitor"
