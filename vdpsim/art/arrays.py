"""Names for the arrays and the words that the whole art room uses.

Law: types alone, nothing that runs.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Literal, TypeAlias

import numpy as np
import numpy.typing as npt

Dots: TypeAlias = npt.NDArray[np.uint8]
"""Values of dots, or 8-bit channels of colours with a last axis of 3."""

Mask: TypeAlias = npt.NDArray[np.bool_]
"""Which dots, tiles or entries are meant."""

Numbers: TypeAlias = npt.NDArray[np.int64]
"""Whole numbers: places, ways, packed words."""

Floats: TypeAlias = npt.NDArray[np.float64]

Block: TypeAlias = npt.NDArray[Any]
"""Dots of any kind: values, colours, or colours with an opacity."""

Colour: TypeAlias = tuple[int, int, int]
"""Red, green and blue, 0 to 255 each."""

Size: TypeAlias = tuple[int, int]
"""Dots across and down."""

Way: TypeAlias = dict[str, int]
"""One setting of the turn and flips of a cell or a sprite."""

Progress: TypeAlias = Callable[[float], None]
"""Is told how much is done, 0 to 1."""

Dithering: TypeAlias = Literal["none", "ordered", "diffusion"]
"""How shades that a bank lacks are mixed."""

OverLimit: TypeAlias = Literal["merge", "error"]
"""What becomes of a picture with more patterns than are allowed."""
