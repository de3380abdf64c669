"""A tiled picture as the layer's whole map: what its cells say, and what those around it say.

Law: cells and the layer's other cells stand on the same rung of the ladder. Fields that the layout lacks are not written. Knows
layouts and numbers, no colours.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ...chip.model import TilesMode
from ..arrays import Dots, Numbers
from ..scenes.encode import cell_words
from .tiling import Tiling


def map_of(
    mode: TilesMode, tiling: Tiling, banks: Sequence[int], around: Mapping[str, int], standing: Mapping[str, int]
) -> Numbers:
    """Packed words (rows, columns) of the map: the picture at the upper left, and ``around`` it one cell's fields.

    ``banks``: of each view. ``standing``: fields that every cell has (see ``rung_fields``).
    """
    layout = mode.cell.layout
    other = {name: np.array([number]) for name, number in {**around, **standing}.items() if name in layout}
    words = np.zeros((mode.rows, mode.columns), np.int64)
    words[:] = cell_words(layout, other)[0]
    across = tiling.across
    shape = (len(tiling.number) // across, across)
    words[: shape[0], :across] = cell_words(layout, _fields(mode, tiling, banks, standing)).reshape(shape)
    return words


def _fields(mode: TilesMode, tiling: Tiling, banks: Sequence[int], standing: Mapping[str, int]) -> dict[str, Numbers]:
    """The fields (n,) of the picture's cells."""
    fields = {"pattern": tiling.number}
    for name in tiling.options[0]:
        fields[name] = np.array([option[name] for option in tiling.options], np.int64)[tiling.way]
    if "bank" in mode.cell.layout:
        fields["bank"] = np.array(banks, np.int64)[tiling.view]
    return {**fields, **{name: np.full(len(tiling.number), number) for name, number in standing.items()}}


def place_of(tile: Dots, patterns: Dots) -> int | None:
    """The first of ``patterns`` (k, high, wide) that is ``tile`` (1, high, wide); None where none is."""
    same = (patterns == tile).all(axis=(1, 2))
    return int(same.argmax()) if same.any() else None
