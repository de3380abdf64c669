"""A picture as cells: its tiles found again among the patterns.

Law: a tile is what the chip would show for a cell: the pattern, turned, then flipped, in as many ways as the cell's
layout has fields for. Of several ways the plainest wins, then the lowest pattern number. With ``make`` a tile that is not
found becomes a new pattern behind the others.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from ...chip.model import TilesMode
from ..findings import Findings, Together, WrongError
from ..tables.contents import MapTable
from .assets import Assets
from .dots import Dots, cut, lowered
from .formats import Format, formats
from .patterns import Patterns
from .runs import PatternRun

Numbers = npt.NDArray[np.int64]


class Matched(NamedTuple):
    """The cells of a picture, each field (rows, columns)."""

    fields: dict[str, Numbers]

    @property
    def pattern(self) -> Numbers:
        """The pattern numbers."""
        return self.fields["pattern"]

    def mask(self, mode: TilesMode) -> int:
        """The bits of a cell that the picture decides."""
        mask = 0
        for name in self.fields:
            mask |= mode.cell.layout[name].mask
        return mask

    def words(self, mode: TilesMode) -> Numbers:
        """The cells' words, with just these fields."""
        words: Numbers = np.zeros(self.pattern.shape, np.int64)
        for name, values in self.fields.items():
            words |= mode.cell.layout[name].put(values)
        return words


def ways(mode: TilesMode) -> Iterator[dict[str, int]]:
    """Every setting of the turn and flips that the cell's layout has, the plainest first."""
    names: list[str] = [name for name in ("flip_x", "flip_y", "turn") if name in mode.cell.layout]
    settings = [{name: number >> place & 1 for place, name in enumerate(names)} for number in range(1 << len(names))]
    yield from sorted(settings, key=lambda setting: sum(setting.values()))


def shown(patterns: Dots, way: dict[str, int]) -> Dots:
    """What cells with ``way`` show of ``patterns`` (count, down, across): a quarter turn clockwise first, then the flips."""
    if way.get("turn"):
        patterns = np.rot90(patterns, -1, axes=(1, 2))
    if way.get("flip_x"):
        patterns = patterns[:, :, ::-1]
    if way.get("flip_y"):
        patterns = patterns[:, ::-1, :]
    return patterns


def match(findings: Findings, assets: Assets, patterns: Patterns, index: int, table: MapTable) -> Matched:
    """The cells of the table's picture; new patterns are added where it says ``make``. Raises WrongError."""
    mode = findings.mode(table.target, "tiles")
    assert isinstance(mode, TilesMode)
    assert table.picture is not None
    indices = assets.picture(table.picture, "picture").indices
    cut(indices, *mode.tile, table.picture, "picture")  # refuses a picture of half tiles
    each, (down, across) = Together(), (indices.shape[0] // mode.tile[1], indices.shape[1] // mode.tile[0])
    each(_inside, across, down, mode, table)
    made = each(_values, findings, mode, table, indices)
    each.done()
    assert made is not None
    values, fields = made
    finder = _Finder(findings, patterns, mode, table, across)
    cells = finder.cells(values)
    finder.add_made(("maps", index))
    for name in finder.ways[0]:
        fields[name] = np.array([way[name] for _, way in cells], np.int64)
    fields["pattern"] = np.array([number for number, _ in cells], np.int64)
    return Matched({name: numbers.reshape(down, across) for name, numbers in fields.items()})


def _inside(across: int, down: int, mode: TilesMode, table: MapTable) -> None:
    """Raises WrongError where so many cells do not lie within the map."""
    if across + table.at[0] > mode.columns or down + table.at[1] > mode.rows:
        size = f"{across}x{down} cells at {list(table.at)}"
        raise WrongError(
            f"{table.picture} makes {size}, which must lie within {mode.columns}x{mode.rows} cells", "picture"
        )


def _values(findings: Findings, mode: TilesMode, table: MapTable, indices: Dots) -> tuple[Dots, dict[str, Numbers]]:
    """Each tile's values (count, down, across), and the fields that colours decide: the bank of each, where it is asked for."""
    assert table.picture is not None
    if table.banked:
        if mode.cell.bank is None:
            raise WrongError(f"cells of {table.target} have no bank", "banked")
        from .banks import Pieces, by_bank  # noqa: PLC0415 - scenes that name no entries need none of it

        entries = lowered(indices, table.subtract, 255 - table.subtract, table.picture, "picture")
        tiles = cut(entries, *mode.tile, table.picture, "picture")
        pieces = Pieces(tiles, indices.shape[1] // mode.tile[0], table.picture, "tile")
        values, banks = by_bank(findings.chip, mode, mode.cell.bank.top, pieces, "picture")
        return values, {"bank": banks}
    flat = lowered(indices, table.subtract, mode.top_value, table.picture, "picture")
    return cut(flat, *mode.tile, table.picture, "picture"), {}


class _Finder:
    """Finds tiles among the patterns; what is not there it makes, where the table says so."""

    def __init__(self, findings: Findings, patterns: Patterns, mode: TilesMode, table: MapTable, across: int) -> None:
        self.findings, self.patterns, self.table, self.across = findings, patterns, table, across
        self.look = formats(findings, table.target, None)
        self.set = patterns.sets[table.target]
        self.first = self.set.next()
        self.ways = list(ways(mode))
        self.known = _known(self.look, self.set.runs, self.ways)
        self.made: list[Dots] = []

    def cells(self, values: Dots) -> list[tuple[int, dict[str, int]]]:
        """The pattern of each tile, and the way in which it shows it. Raises WrongError."""
        # All tiles in each way as bytes at once: a call of tobytes() for each tile and way takes longer than all the rest.
        raw = [shown(values, way).tobytes() for way in self.ways]
        area = self.look.width * self.look.height
        found = []
        for at in range(len(values)):
            here = slice(at * area, at * area + area)
            cell = self.known.get(raw[0][here])
            if cell is None:
                cell = self._make(values[at], [dots[here] for dots in raw]) if self.table.make else self._missing(at)
            found.append(cell)
        return found

    def _make(self, tile: Dots, shapes: list[bytes]) -> tuple[int, dict[str, int]]:
        """A new pattern for ``tile``, which is ``shapes`` in the ways in which it can be shown."""
        number = self.first + len(self.made)
        for way, shape in zip(self.ways, shapes, strict=True):
            # A tile may look alike in two ways: the plainer comes first, and is kept.
            self.known.setdefault(shape, (number, way))
        self.made.append(tile)
        return number, self.ways[0]

    def _missing(self, at: int) -> tuple[int, dict[str, int]]:
        """Raises WrongError: tile number ``at`` is no pattern. Where patterns have failed to load, anything stands for it."""
        if "patterns" in self.findings.muted:
            return 0, self.ways[0]
        where = f"column {at % self.across}, row {at // self.across}"
        raise WrongError(
            f"{self.table.picture}: the tile at {where} is none of the patterns of {self.table.target} "
            f"({self.patterns.known(self.table.target)}); make = true would add it",
            "picture",
        )

    def add_made(self, place: tuple[str | int, ...]) -> None:
        """Add what was made to the patterns, as made by the table at ``place``."""
        if self.made:
            self.set.add(PatternRun(self.first, 1, self.look.packed(np.stack(self.made)), place))


def _known(
    look: Format, runs: list[PatternRun], options: list[dict[str, int]]
) -> dict[bytes, tuple[int, dict[str, int]]]:
    """What every loaded pattern shows in every way, and the pattern and way that show it."""
    known: dict[bytes, tuple[int, dict[str, int]]] = {}
    drawn = [(run.first, look.unpacked(run.images)) for run in sorted(runs, key=lambda run: run.first)]
    for way in options:  # outermost, so that a pattern as it is comes before any that is turned or flipped
        for first, dots in drawn:
            for number, tile in enumerate(shown(dots, way), first):
                known.setdefault(tile.tobytes(), (number, way))
    return known
