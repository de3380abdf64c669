"""What a layer's mode can fetch for one line, at every scroll position.

Law: nothing that the registers allow on a line without writes in mid-line is missing here. Plain Python. Knows no slot and no
other layer.
"""

from __future__ import annotations

from ...chip.line.clients import keeps
from ...chip.line.costs import mode_costs
from ...chip.line.shapes import Stretch
from ...chip.model import AnyMode, Chip, Layer, TextMode, TilesMode


def stretches(chip: Chip, layer: Layer, index: int, can: dict[str, range]) -> list[Stretch | None]:
    """Every way in which a layer's mode can fetch for a line in which nothing is written; None: nothing at all.

    Of turned cells only the two ends are among them: all cells turned, and none.
    """
    mode = layer.modes[index]
    if isinstance(mode, TextMode):
        return _text(chip, layer, index, mode)
    size, width = mode_costs(chip, mode).size, chip.frame.width
    found: list[Stretch | None] = []
    for fine in _phases(can, f"{layer.name}.scroll_x", size) if mode.scrolls("x") else [0]:
        last = (fine + width - 1) // size
        for turned in [b"\x01" * (last + 1), b""] if _turns(mode) else [b""]:
            found += _each_kept(chip, layer, Stretch(index, fine, 0, last, 0, skip=False, kept=False, turned=turned))
    return found


def turns(chip: Chip) -> bool:
    """Whether cells can be turned one by one."""
    return any(_turns(mode) for layer in chip.layers for mode in layer.modes)


def _turns(mode: AnyMode) -> bool:
    return isinstance(mode, TilesMode) and mode.cell.turn is not None


def _text(chip: Chip, layer: Layer, index: int, mode: TextMode) -> list[Stretch | None]:
    across, down = mode.glyph
    end = min(chip.frame.width, mode.left + mode.columns * across)
    last = (end - 1 - mode.left) // across
    whole = Stretch(index, -mode.left, 0, last, 0, skip=False, kept=False, turned=b"")
    below = [None] if mode.rows * down < chip.frame.height else []  # lines under the last row of text fetch nothing
    return [*_each_kept(chip, layer, whole), *below]


def _each_kept(chip: Chip, layer: Layer, stretch: Stretch) -> list[Stretch]:
    """The stretch with its cells fetched and, where the layer keeps them from line to line, with its cells kept."""
    return [stretch, stretch._replace(kept=True)] if keeps(chip, layer, stretch.mode) else [stretch]


def _phases(can: dict[str, range], name: str, size: int) -> list[int]:
    """The remainders modulo ``size`` of what a control can be, the largest first: most groups are touched there."""
    values = can[name]
    return sorted({value % size for value in values[: size * max(1, values.step)]}, reverse=True)
