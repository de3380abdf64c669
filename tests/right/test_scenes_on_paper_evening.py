"""The evening's scenes on paper: dusk, the tide table and the portrait fetch what their registers and the chip's sizes say.

Each docstring shows the working. Throughout: a line is 288 dots, an access is 2 bytes, and a timed write that changes a
colour or a scroll position fetches nothing itself.
"""

from __future__ import annotations

from pathlib import Path

import pytest

import vdpsim

SCENES = Path(__file__).resolve().parents[2] / "scenes"
CLIENTS = (
    "near.cells",
    "near.pattern",
    "near.glyphs",
    "far.cells",
    "far.pattern",
    "far.glyphs",
    "far.bitmap",
    "sprites.pattern",
)

SMALL_WAVE = [16] * 6 + [17] * 14 + [16] * 10 + [15] * 14 + [16] * 4
LARGE_WAVE = [16] * 4 + [17] * 4 + [18] * 10 + [17] * 4 + [16] * 6 + [15] * 4 + [14] * 10 + [15] * 4 + [16] * 2


def fetched(name: str, frame: int = 0) -> vdpsim.Log:
    log = vdpsim.render(vdpsim.load_scene(SCENES / f"{name}.scene.toml"), frame=frame).log
    assert log.clients == CLIENTS
    return log


def totals(**counts: int) -> dict[str, int]:
    """The named clients' totals (``far__cells`` is far.cells); all others fetch nothing."""
    return dict.fromkeys(CLIENTS, 0) | {name.replace("__", "."): count for name, count in counts.items()}


def lines_of(log: vdpsim.Log, client: str) -> list[int]:
    return [int(count) for count in log.by_line[client]]


def test_dusk_near_layer_stands_still() -> None:
    """near.scroll_x is 0: 288 / 8 = 36 cells a line. A cell of 2 bytes is 1 access; a row of 8 dots of 4 bits is 4 bytes, 2
    accesses: 36 and 72 on each of 216 lines.
    """
    log = fetched("dusk")
    assert lines_of(log, "near.cells") == [36] * 216
    assert lines_of(log, "near.pattern") == [72] * 216


@pytest.mark.parametrize(("frame", "more"), [(0, 14 + 50), (3, 17 + 53)])
def test_dusk_far_layer_scrolls_on_each_line_of_the_water(frame: int, more: int) -> None:
    """Where far.scroll_x is 16, a multiple of 8, a line begins with a cell: 36. At 14, 15, 17 and 18 it begins inside one and
    ends inside another: 37. Lines 0 to 119, the sky, stay at 16.

    Small wave, 48 places: 6 x 16, 14 x 17, 10 x 16, 14 x 15, 4 x 16. It has 30 lines, 120 to 149. Frame 0: places 0 to 29, so
    14 x 17 and nothing else that is not 16: 14 lines of 37 cells. Frame 3 begins 3 places further: places 3 to 32, so 14 x 17
    and 3 x 15: 17.

    Large wave, 48 places: 4 x 16, 4 x 17, 10 x 18, 4 x 17, 6 x 16, 4 x 15, 10 x 14, 4 x 15, 2 x 16; 36 are not 16. Lines 150
    to 215 are 66 = 48 + 18. Frame 0: of places 0 to 17, the first 4 are 16: 36 + 14 = 50. Frame 3: of places 3 to 20 only the
    first is 16: 36 + 17 = 53.

    In all 216 x 36 + 64 = 7840 cells in frame 0, 216 x 36 + 70 = 7846 in frame 3; patterns are twice as many.
    """
    log = fetched("dusk", frame)
    small = [SMALL_WAVE[(place + frame) % 48] for place in range(30)]
    large = [LARGE_WAVE[(place + frame) % 48] for place in range(66)]
    cells = [36 if scroll == 16 else 37 for scroll in ([16] * 120 + small + large)]
    assert sum(cells) == 216 * 36 + more
    assert lines_of(log, "far.cells") == cells
    assert lines_of(log, "far.pattern") == [2 * count for count in cells]


def test_dusk_birds() -> None:
    """A bird is 16 x 8 dots of 4 bits: 8 bytes a row, 4 accesses, on 8 lines. 18 birds: 18 x 8 x 4 = 576; also the two that still
    stand at x = 300, beyond the right edge. In frame 0 they stand at the y of the list below. On line 36 lie those at 29 to 36:
    34, 29, 36 and 33, so 16 accesses; nowhere near 12 sprites or 256 dots. Curlew fetches a line's sprites in the slots of the
    line before, so these 16 are counted at line 35, and the bird at y on lines y - 1 to y + 6.
    """
    tops = [52, 40, 47, 34, 41, 29, 36, 27, 33, 22, 76, 70, 73, 66, 69, 62, 65, 58]
    log = fetched("dusk")
    sprites = lines_of(log, "sprites.pattern")
    assert sprites[35] == 16
    assert sprites == [4 * sum(top <= line + 1 < top + 8 for top in tops) for line in range(216)]
    assert sum(sprites) == 576
    assert not log.dropped.any()


@pytest.mark.parametrize(("frame", "cells"), [(0, 7840), (3, 7846)])
def test_dusk_in_all(frame: int, cells: int) -> None:
    """Near 216 x (36 + 72) = 7776 + 15552 = 23328; far three times its cells (see above); birds 576, wherever they have flown
    by then. Frame 0: 23328 + 23520 + 576 = 47424. Frame 3: 23328 + 23538 + 576 = 47442.
    """
    log = fetched("dusk", frame)
    near = {"near__cells": 7776, "near__pattern": 15552}
    assert log.by_client == totals(**near, far__cells=cells, far__pattern=2 * cells, sprites__pattern=576)
    assert log.total == {0: 47424, 3: 47442}[frame]


def test_tidetable() -> None:
    """The near layer is off and there are no sprites. Lines 0 to 127, chart: 4 bits a dot, 4 dots an access, 288 / 4 = 72. From
    far.split = 128 on, text: 46 columns, a cell of 2 bytes and a glyph's row of 1 byte are an access each, so 46 + 46; the
    margins of 6 dots at either side fetch nothing. In all 128 x 72 + 88 x 92 = 9216 + 8096 = 17312.
    """
    log = fetched("tidetable")
    assert lines_of(log, "far.bitmap") == [72] * 128 + [0] * 88
    assert lines_of(log, "far.cells") == [0] * 128 + [46] * 88
    assert lines_of(log, "far.glyphs") == [0] * 128 + [46] * 88
    assert log.by_client == totals(far__bitmap=9216, far__cells=4048, far__glyphs=4048)
    assert log.total == 17312


def test_portrait() -> None:
    """The near layer is on all the time. Lines 0 to 191, picture: 8 bits a dot, 2 dots an access, 288 / 2 = 144; it is exclusive,
    so the near layer fetches nothing. From far.split = 192 on, text: 46 + 46, and the near layer is back: 36 cells and 72
    accesses of their rows. In all 192 x 144 + 24 x (92 + 108) = 27648 + 4800 = 32448.
    """
    log = fetched("portrait")
    assert lines_of(log, "far.bitmap") == [144] * 192 + [0] * 24
    assert lines_of(log, "far.cells") == [0] * 192 + [46] * 24
    assert lines_of(log, "far.glyphs") == [0] * 192 + [46] * 24
    assert lines_of(log, "near.cells") == [0] * 192 + [36] * 24
    assert lines_of(log, "near.pattern") == [0] * 192 + [72] * 24
    near = {"near__cells": 24 * 36, "near__pattern": 24 * 72}
    assert log.by_client == totals(**near, far__bitmap=27648, far__cells=24 * 46, far__glyphs=24 * 46)
    assert log.total == 32448
