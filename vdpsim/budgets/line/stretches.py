"""What a layer's mode can fetch for one line, at every scroll position.

Law: nothing that the registers allow on a line without writes in mid-line is missing here. Plain Python. Knows no slot and no
other layer.
"""

from __future__ import annotations

from ...chip.controls import scroll_span
from ...chip.line.clients import keeps, mode_costs
from ...chip.line.serving import Stretch
from ...chip.model import AnyMode, BitmapMode, Chip, Layer, TextMode, TilesMode


def stretches(chip: Chip, layer: Layer, index: int, can: dict[str, range]) -> list[Stretch | None]:
    """Every way in which a layer's mode can fetch for a line in which nothing is written; None: nothing at all.

    Of turned cells only the two ends are among them: all cells turned, and none.
    """
    mode = layer.modes[index]
    if isinstance(mode, TextMode):
        return _text(chip, layer, index, mode)
    found: list[Stretch | None] = []
    for fine, first, last in _parts(chip, layer, mode, can):
        for turned in [b"\x01" * (last + 1), b""] if _turns(mode) else [b""]:
            found += _each_kept(
                chip, layer, Stretch(index, fine, first, last, 0, skip=False, kept=False, turned=turned)
            )
    return [*found, *([None] if rows_beyond(chip, layer, mode, can) else [])]


def _parts(chip: Chip, layer: Layer, mode: TilesMode | BitmapMode, can: dict[str, range]) -> list[tuple[int, int, int]]:
    """The groups that can feed a line: (fine, first, last), with most of them first. All of a line's, where the surface wraps."""
    size, width = mode_costs(chip, mode).size, chip.frame.width
    if mode.wrap:
        phases = _phases(can, f"{layer.name}.scroll_x", size) if mode.scrolls("x") else [0]
        return [(fine, 0, (fine + width - 1) // size) for fine in phases]
    turn, found = scroll_span(chip, mode)[0], set()
    for value in _residues(can[f"{layer.name}.scroll_x"], turn) if mode.scrolls("x") else [0]:
        part = part_of_line(mode.extent[0], turn, value, size, width)
        if part is not None:
            found.add(part)
    return sorted(found, key=lambda part: (part[1] - part[2], -part[0], part[1]))


def begin_of(wide: int, turn: int, scrolled: int) -> int:
    """The dot of a surface that ends after ``wide`` dots at which a line begins; below 0 where the surface begins later."""
    begin = scrolled % turn
    return begin if begin < wide else begin - turn


def part_of_line(wide: int, turn: int, scrolled: int, size: int, width: int) -> tuple[int, int, int] | None:
    """The groups of ``size`` dots that feed a line of ``width`` dots, of a surface that ends after ``wide`` dots.

    (fine, first, last) as in a Stretch; None where none does. ``turn``: after how many dots a scroll position comes again.
    """
    group, fine = divmod(begin_of(wide, turn, scrolled), size)
    first, last = max(0, -group), min((fine + width - 1) // size, wide // size - 1 - group)
    return (fine, first, last) if first <= last else None


def rows_beyond(chip: Chip, layer: Layer, mode: TilesMode | BitmapMode, can: dict[str, range]) -> bool:
    """Whether a line can show nothing of a surface that ends at its edges: one above it, below it or beside it."""
    if mode.wrap:
        return False
    (wide, high), (turn_x, turn_y) = mode.extent, scroll_span(chip, mode)
    across = _residues(can[f"{layer.name}.scroll_x"], turn_x) if mode.scrolls("x") else [0]
    down = _residues(can[f"{layer.name}.scroll_y"], turn_y) if mode.scrolls("y") else [0]
    beside = any(wide <= value <= turn_x - chip.frame.width for value in across)
    return beside or any(value + chip.frame.height > high for value in down)


def turns(chip: Chip) -> bool:
    """Whether cells can be turned one by one."""
    return any(_turns(mode) for layer in chip.layers for mode in layer.modes)


def _turns(mode: AnyMode) -> bool:
    return isinstance(mode, TilesMode) and mode.cell.turn is not None


def _text(chip: Chip, layer: Layer, index: int, mode: TextMode) -> list[Stretch | None]:
    across, down = mode.doubled(mode.glyph)
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
    return sorted(_residues(can[name], size), reverse=True)


def _residues(values: range, turn: int) -> set[int]:
    """The remainders modulo ``turn`` of ``values``: they come again after so many at the latest."""
    return {value % turn for value in values[:turn]}
