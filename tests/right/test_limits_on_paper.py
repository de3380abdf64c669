"""Which sprites does a line lose, and who touches whom? The flock and the regatta, worked out by hand from the drawings.

What the sprites of line y fetch is counted at line y - 1: Curlew fetches them in the slots of the line before.
"""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import numpy as np

import vdpsim
from vdpsim.chip.model import Chip
from vdpsim.testing import assert_sprite, assert_sprites

SCENES = Path(__file__).resolve().parents[2] / "scenes"


def drawn(name, **collisions):
    """The first frame of a shipped scene, on Curlew with these collisions other than in its file."""
    data = tomllib.loads((SCENES / "chips/curlew.chip.toml").read_text(encoding="utf-8"))
    data["collisions"].update(collisions)
    chip = Chip.model_validate_json(json.dumps(data))
    return vdpsim.render(vdpsim.load_scene(SCENES / f"{name}.scene.toml", chip=chip))


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


def test_regatta_fetches():
    """Curlew brings 2 bytes a fetch: a cell 1, a row of a tile (8 dots, 4 bytes) 2, a character 1 and its glyph's row 1.

    Nothing scrolls, so that a line has 288 / 8 = 36 cells: lines 0 to 191 cost 36 + 72 in each layer. The strip, lines 192 to
    215, costs 288 / 6 = 48 cells and 48 glyphs; the far layer is off there. near 192 x 108 + 24 x 96 = 23,040; far 192 x 108 =
    20,736.

    Sprites: a row of 16 dots is 4 fetches, one of 32 is 8, and what is dropped fetches nothing. Lapwings 14 x 16 x 4 - 2 x 8 x
    4 = 832; sails 9 x 32 x 8 - 16 x 8 = 2176; three terns, avocet and curlew 5 x 16 x 4 = 320; the visitor 32 x 4 = 128; two
    punts 2 x 16 x 8 = 256: 3712. In all 47,488.
    """
    lapwings = [(40 + (0, 4, 8, 4)[number % 4], 16, 4) for number in range(14)]
    sails = [(96, 32, 8)] * 4 + [(104, 32, 8)] * 4 + [(112, 32, 8)]
    others = [(y, 16, 4) for y in (16, 16, 161, 136, 163)] + [(145, 32, 4), (168, 16, 8), (170, 16, 8)]
    clients = {
        "near.cells": by_line((0, 192, 36), (192, 24, 48)),
        "near.pattern": by_line((0, 192, 72)),
        "near.glyphs": by_line((192, 24, 48)),
        "far.cells": by_line((0, 192, 36)),
        "far.pattern": by_line((0, 192, 72)),
        "sprites.pattern": line_before(*lapwings, *sails, *others, (48, 8, -8), (112, 16, -8)),
    }
    check(drawn("regatta"), clients, 47_488)


def test_regatta_drops():
    """The lapwings, sprites 0 to 13, begin on lines 40, 44, 48 and 44 in turns and are 16 lines high: those of 40 end on 55 and
    those of 48 begin on 48, so that lines 48 to 55 have all 14, and the last two are too many for 12 a line: ``count``. On
    lines 44 to 47 there are 4 + 7 = 11, on 56 to 59 there are 7 + 3 = 10.

    The sails, sprites 14 to 22, lie on lines 96 to 127 (four), 104 to 135 (four) and 112 to 143 (the ninth). Lines 104 to 111
    have 8 x 32 = 256 dots, which fit; lines 112 to 127 have 288, and the last is too many: ``dots``. From 128 on the first four
    have ended. Every other line has fewer: the terns, the punts and the visitor keep clear of these lines.
    """
    frame = drawn("regatta")
    assert_sprite(frame, 12).dropped(lines=(48, 55), reason="count")
    assert_sprite(frame, 13).dropped(lines=(48, 55), reason="count")
    assert_sprite(frame, 22).dropped(lines=(112, 127), reason="dots")
    assert_sprites(frame, "dropped").in_the_frame().exactly(2 * 8 + 16)
    for line, found in ((47, 11), (48, 14), (56, 10), (111, 8), (112, 9), (128, 5)):
        assert_sprites(frame, "found").on_line(line).exactly(found)


TOUCHES = [(23, 23, 24, 149), (176, 25, 27, 131), (176, 26, 27, 147), (178, 29, 30, 265)]


def test_regatta_collisions():
    """The two terns (23, 24), 14 dots apart at 134 and 148 on line 16: dot 14 or 15 of the left one must meet dot 0 or 1 of
    the right one in the same row. Only row 7 of a tern, ``.44.....5666116b``, has its dot 1 and its dot 15; row 6 ends with
    dot 14 but begins with 8, and so does row 8, which begins with 2. So line 16 + 7 = 23, dot 134 + 15 = 149.

    The punt's rim (27) is row 8, opaque from edge to edge, line 168 + 8 = 176, and the rows above it are empty. The avocet's
    feet (25) are its row 15, ``...33.33........``, line 161 + 15 = 176, from dot 128 + 3 = 131 on; the visitor's shoes (26) are
    row 31, ``.....8888888....``, line 145 + 31 = 176, from dot 142 + 5 = 147 on. Both end there.

    The curlew (29) has the same feet as the avocet: line 163 + 15 = 178 = 170 + 8, the second punt's rim (30), and dot
    262 + 3 = 265. Reeds hide that dot, but on Curlew hidden dots count. The sails are boats, and boat and boat are no pair.
    """
    frame = drawn("regatta")
    assert frame.collisions.tolist() == TOUCHES
    assert frame.collision_flags == 0b111
    assert frame.sources[frame.source[178, 265]] == "near"


def test_regatta_collisions_if_hidden_dots_did_not_count():
    """Then what touches behind the reeds is not told; all else is."""
    assert drawn("regatta", hidden_dots=False).collisions.tolist() == TOUCHES[:3]


def test_regatta_collisions_if_bird_and_visitor_were_a_pair():
    """The tern above (28) ends with row 14, a single dot 8: line 136 + 14 = 150, dot 142 + 8 = 150. There is the visitor's hat
    (26), row 5 from dot 6 to 8, line 145 + 5 = 150. The avocet, dots 128 to 143, keeps clear of the visitor, whose first dot
    is 142 + 4 = 146.
    """
    assert drawn("regatta", pairs=[["bird", "visitor"]]).collisions.tolist() == [(150, 26, 28, 150)]


def test_flock_fetches():
    """The near layer is text all over: 48 cells and 48 glyphs on each of 216 lines, 20,736. far.scroll_x is 232 = 29 x 8: 36
    cells, 36 + 72 fetches a line, 23,328.

    Sprites: lapwings 14 x 16 x 4 less two on 10 lines, 896 - 80 = 816; swans 9 x 16 x 8 less one on 10 lines, 1152 - 80 =
    1072; four terns and two posts 6 x 16 x 4 = 384; the visitor 32 x 4 = 128; the harrier 16 x 8 = 128: 2528. In all 46,592.
    """
    lapwings = [(y, 16, 4) for y in (24, 26, 28, 30, 30, 28, 26, 24, 24, 26, 28, 30, 30, 28)]
    swans = [(98, 16, 8)] * 8 + [(104, 16, 8)]
    others = [(y, 16, 4) for y in (148, 150, 140, 140, 140, 150)] + [(138, 32, 4), (58, 16, 8)]
    clients = {
        "near.cells": by_line((0, 216, 48)),
        "near.glyphs": by_line((0, 216, 48)),
        "far.cells": by_line((0, 216, 36)),
        "far.pattern": by_line((0, 216, 72)),
        "sprites.pattern": line_before(*lapwings, *swans, *others, (30, 10, -8), (104, 10, -8)),
    }
    check(drawn("flock"), clients, 46_592)


def test_flock_drops():
    """The lapwings, sprites 0 to 13, begin on lines 24 to 30 and end on lines 39 to 45: all 14 lie on lines 30 to 39, where 12
    fit. Lines 28 and 29 have those of 24, 26 and 28: 3 + 3 + 4 = 10; lines 40 and 41 those of 26, 28 and 30: 3 + 4 + 4 = 11.

    The swans, sprites 14 to 22: eight on lines 98 to 113 are 256 dots, which fit; the ninth begins on 104 and is too many to 113.
    """
    frame = drawn("flock")
    assert_sprite(frame, "lapwing_12").dropped(lines=(30, 39), reason="count")
    assert_sprite(frame, "lapwing_13").dropped(lines=(30, 39), reason="count")
    assert_sprite(frame, "swan_8").dropped(lines=(104, 113), reason="dots")
    assert_sprites(frame, "dropped").in_the_frame().exactly(3 * 10)
    for line, found in ((29, 10), (30, 14), (40, 11)):
        assert_sprites(frame, "found").on_line(line).exactly(found)


def test_flock_collisions():
    """Tern (23) at 33, 148 and post (24) at 40, 150: dot i of the post is the tern's i + 7, row p the tern's p + 2. Rows 1 to 12
    of the post are opaque from dot 4 to 9, the tern's 11 to 16. In rows 5 to 9 of the tern, lines 153 to 157, the first of
    its dots from 11 on is 13, 12, 11, 11 and 11: dots 46, 45, 44, 44 and 44 of the line. Rows 3, 4 and 10 end before dot 11.

    Terns (25, 26) at 120 and 131, line 140, the right one mirrored: dot 120 + i of the line is i of the left and 26 - i of the
    right, so both i and 26 - i must be there. Row 5 has 13: dot 133; row 6 has 12 and 14: 132; row 7 has 11 and 15: 131; row
    8 has 12 and 14, not 15: 132. Row 9 ends with 12. So lines 145 to 148.

    Visitor (28) at 208, 138 and post (29) at 214, 150: dot i of the post is the visitor's i + 6, row p the visitor's p + 12. The
    post's rows 1 to 15 begin with dot 4, the visitor's 10, and the visitor has a dot 10 in each of rows 13 to 27: lines 151
    to 165, dot 218. Row 0 of the post is the visitor's dots 11 to 14, and row 12 of the visitor ends with 10.

    The tern (27) at 200, 140 lies over the visitor, dots 208 to 215, but bird and visitor are no pair; post (29) begins at 218.
    """
    first = [(153, 23, 24, 46), (154, 23, 24, 45), (155, 23, 24, 44), (156, 23, 24, 44), (157, 23, 24, 44)]
    second = [(145, 25, 26, 133), (146, 25, 26, 132), (147, 25, 26, 131), (148, 25, 26, 132)]
    third = [(line, 28, 29, 218) for line in range(151, 166)]
    frame = drawn("flock")
    assert frame.collisions.tolist() == sorted(first + second + third)
    assert frame.collision_flags == 0b111
