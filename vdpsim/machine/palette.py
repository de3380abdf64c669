"""A running chip's palette: packed words that know how to show themselves.

Law: a view of the state's own words; what is set here is set there.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from ..chip.model import PaletteTable
from ..door.notebook import by_notebook


class PaletteWords(np.ndarray[Any, np.dtype[np.uint32]]):
    """The palette's packed words, uint32 (entries,), an array like any other; ``table``: the chip's, None for a part of it."""

    table: PaletteTable | None = None

    @classmethod
    def of(cls, words: npt.NDArray[np.uint32], table: PaletteTable) -> PaletteWords:
        """The whole palette of a chip."""
        view = words.view(cls)
        view.table = table
        return view

    _repr_html_ = by_notebook("palettes", "palette_html")
