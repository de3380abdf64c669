"""Sanderling on paper: what its three scenes fetch, what its dearest line costs, and what its registers hold.

Throughout an access is two bytes and a line shows 320 dots. What a sprite on line y fetches is counted at line y - 1, since the
line buffer is filled while the line before shows.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

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

    A look at the table is an access for each of 40 records, on every line: y, size and enable stand in its first two bytes. A
    sprite that the line shows takes the record's other four bytes, 2 accesses, and for each tile of 8 dots a row of 4 bytes, 2.
    """
    table = by_line((0, HIGH, 40), *((y - 1, lines, 2) for y, _, lines in boxes))
    pattern = by_line(*((y - 1, lines, across // 8 * 2) for y, across, lines in boxes))
    return {"sprites.table": table, "sprites.pattern": pattern}


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
    used = frame.slots.counts[:, : -1].sum(axis=1)
    assert used[117:125].tolist() == [320] * 8
    assert used[:HIGH].max() == 320


@pytest.mark.parametrize(("frame", "pin", "terns"), [(0, None, (60, 74)), (288, 80, (72, 85))])
def test_reserve(frame, pin, terns):
    """The near band stands above the picture (near.scroll_y is 64) and fetches nothing. The map's 16 dots are an access of the
    bitmap; two blocks of 8 dots lie over them, 2 cells of two bytes: 20 and 40 on each line, wherever the sheet stands.

    The pin begins at line 224, below the picture, and ends at 224 - 144 = 80. The terns' lines go up and down by 30, a line
    every 6th and 7th frame: after 288 // 6 = 48 steps 60 - 48 = 12 back from the top, so 60 + 12; after 288 // 7 = 41 steps 19
    of the way back is left, 74 + 19.
    """
    terns = terns if frame == 0 else (60 + 12, 74 + 19)
    boxes = [(y, 16, 16) for y in terns] + ([(pin, 16, 32)] if pin else [])
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
