"""How far a layer is to be scrolled so that it fetches what is wanted on a line, and keeps its cells or not.

Law: one layer at a time, its mode given; what the mode's registers are is for others. Plain Python.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Literal

from ...chip.controls import scroll_span
from ...chip.line.clients import keeps, mode_costs
from ...chip.line.serving import Stretch
from ...chip.line.slots import Server
from ...chip.model import AnyMode, BitmapMode, Chip, Layer, TextMode, TilesMode
from ..line.stretches import part_of_line

AXES: tuple[Literal["x"], Literal["y"]] = ("x", "y")

NOTHING_FIXED: Mapping[str, int] = {}

MOST_ACROSS, MOST_DOWN = 64, 128
"""How many positions are looked at: groups across, and lines down."""


class Scrolls:
    """Scrolls the layers of one chip; ``can``: the values that each control can have."""

    def __init__(self, chip: Chip, server: Server, can: dict[str, range]) -> None:
        self.chip, self.server, self.can = chip, server, can

    def registers(
        self,
        layer: Layer,
        mode: AnyMode,
        stretch: Stretch | None,
        line: int,
        *,
        split: int,
        fresh: bool,
        fixed: Mapping[str, int] = NOTHING_FIXED,
    ) -> dict[str, int] | None:
        """The registers by which the layer fetches ``stretch`` for ``line``; None where there are none, {} where none is needed.

        ``split``: the layer's own; ``fresh``: no cells are there to be kept; ``fixed``: controls that have to have a value.
        """
        own = line - split if mode.origin == "zone" and line >= split else line
        if isinstance(mode, TextMode):
            has_row = own // mode.doubled(mode.glyph)[1] < mode.rows
            if has_row != (stretch is not None):
                return None
        if not isinstance(mode, TextMode) and not mode.wrap:
            return self._edged(layer, mode, stretch, own, fresh=fresh, fixed=fixed)
        if stretch is None:
            return {}
        x_name, y_name, size = f"{layer.name}.scroll_x", f"{layer.name}.scroll_y", mode_costs(self.chip, mode).size
        across: Sequence[int] = self.can[x_name][: MOST_ACROSS * size] if mode.scrolls("x") else (stretch.fine % size,)
        down: Sequence[int] = self.can[y_name][:MOST_DOWN] if mode.scrolls("y") else (0,)
        across, down = ((fixed[name],) if name in fixed else each for name, each in ((x_name, across), (y_name, down)))
        x = next((value for value in across if value % size == stretch.fine % size), None)
        y = next((v for v in down if self._kept_as_wanted(layer, mode, stretch, own + v, fresh=fresh)), None)
        if x is None or y is None:
            return None
        return self._set(layer, mode, x, y)

    def _edged(
        self,
        layer: Layer,
        mode: TilesMode | BitmapMode,
        stretch: Stretch | None,
        row: int,
        *,
        fresh: bool,
        fixed: Mapping[str, int],
    ) -> dict[str, int] | None:
        """The registers by which a surface that ends at its edges feeds the stretch; ``row``: the mode's own line."""
        (wide, high), (turn_x, turn_y) = mode.extent, scroll_span(self.chip, mode)
        size, width = mode_costs(self.chip, mode).size, self.chip.frame.width
        x_name, y_name = f"{layer.name}.scroll_x", f"{layer.name}.scroll_y"
        across: Sequence[int] = self.can[x_name][:turn_x] if mode.scrolls("x") else (0,)
        down: Sequence[int] = self.can[y_name][:turn_y] if mode.scrolls("y") else (0,)
        across, down = ((fixed[name],) if name in fixed else each for name, each in ((x_name, across), (y_name, down)))
        parts = {x: part_of_line(wide, turn_x, x, size, width) for x in across}
        lines = {y: (row + y) % turn_y for y in down}
        if stretch is None:  # beside the surface, or else above or below it
            xs, ys = [x for x, part in parts.items() if part is None], [y for y, line in lines.items() if line >= high]
            xs, ys = (xs, list(down)) if xs else (list(across), ys)
        else:
            part = stretch.fine, stretch.first, stretch.last
            xs = [x for x, found in parts.items() if found == part]
            shows = [y for y, line in lines.items() if line < high]
            ys = [y for y in shows if self._kept_as_wanted(layer, mode, stretch, lines[y], fresh=fresh)]
        if not xs or not ys:
            return None
        return self._set(layer, mode, xs[0], ys[0])

    @staticmethod
    def _set(layer: Layer, mode: AnyMode, x: int, y: int) -> dict[str, int]:
        """The registers that scroll the mode to this dot and line."""
        values = {"x": x, "y": y}
        return {f"{layer.name}.scroll_{axis}": values[axis] for axis in AXES if mode.scrolls(axis)}

    def _kept_as_wanted(self, layer: Layer, mode: AnyMode, stretch: Stretch, row: int, *, fresh: bool) -> bool:
        """Whether cells are kept just where they are wanted to be; ``row``: the line of the map or text that is shown."""
        if not keeps(self.chip, layer, layer.modes.index(mode)):
            return True
        return stretch.kept == (not fresh and row % self._tall(mode) > 0)

    def _tall(self, mode: AnyMode) -> int:
        """After how many lines other cells are fetched; for one row of cells, which every line shows, never within a picture."""
        if isinstance(mode, TextMode):
            return mode.doubled(mode.glyph)[1]
        if isinstance(mode, BitmapMode):
            down, rows = mode.colours.block[1] if mode.colours else 1, mode.blocks[1]
        else:
            down, rows = mode.tile[1], mode.rows
        return down * mode.double[1] if rows > 1 else 2 * self.chip.frame.height
