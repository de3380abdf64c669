"""Images in boxes of the chip's sprite sizes, and their pattern numbers.

Law: an image stands in the smallest of the chip's sizes that holds it, at the upper left. Sizes are placed in the chip's order,
the images of each in the order in which they were found, together from the lowest number on where all of them find room: between
the runs of tiles of those before too. Images that are unlike as colours may have the same values: they share one pattern. Knows
the chip's sprites, no colours.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ...chip.model import SpritesTable
from ...chip.tables.pattern import SpritePattern
from ..arrays import Dots, Size
from ..tiles import PLAIN, alike


@dataclass(frozen=True, eq=False, repr=False)
class NumberedImages:
    """``boxes``: by size uint8 (count, down, across), and ``first`` the pattern number of the first of them.

    ``place``: of each image its place among the boxes of its size. ``numbers``: pattern numbers up to the last that one takes.
    """

    boxes: Mapping[Size, Dots]
    first: Mapping[Size, int]
    place: Mapping[int, int]
    numbers: int

    @property
    def count(self) -> int:
        """How many boxes there are."""
        return sum(map(len, self.boxes.values()))


def sizes_of(sprites: SpritesTable) -> Sequence[Size]:
    """The sizes that a record can name: one where it has no field for them."""
    return sprites.sizes if sprites.fields.size is not None else sprites.sizes[:1]


def smallest(sprites: SpritesTable, across: int, down: int) -> Size | None:
    """The size of fewest dots that holds a drawing, of equals the chip's first; None where none does."""
    sizes = sizes_of(sprites)
    holding = [size for size in sizes if size[0] >= across and size[1] >= down]
    return min(holding, key=lambda size: (size[0] * size[1], sizes.index(size)), default=None)


def numbered(sprites: SpritesTable, values: Sequence[Dots], sizes: Sequence[Size]) -> NumberedImages:
    """The images ``values``, each (down, across), in boxes of ``sizes``, numbered."""
    boxes: dict[Size, Dots] = {}
    first: dict[Size, int] = {}
    place: dict[int, int] = {}
    taken, numbers = _Taken(), 0
    for size in sorted(set(sizes), key=sprites.sizes.index):
        mine = [at for at, one in enumerate(sizes) if one == size]
        whole = np.stack([_boxed(values[at], size, sprites.transparent or 0) for at in mine])
        found = alike(whole, PLAIN)
        place.update(zip(mine, found.of.tolist(), strict=True))
        shape = sprites.patterns[sprites.sizes.index(size)]
        number = taken.take(shape, len(found.first))
        boxes[size], first[size] = whole[found.first], number
        numbers = max(numbers, number + shape.nth(len(found.first) - 1) + -(-shape.extent // shape.step))
    return NumberedImages(boxes, first, place, numbers)


class _Taken:
    """Which bytes from number 0 on are taken."""

    def __init__(self) -> None:
        self.bytes = np.zeros(0, np.bool_)

    def take(self, shape: SpritePattern, count: int) -> int:
        """The lowest number from which ``count`` patterns of ``shape`` lie where nothing does; their bytes are taken then."""
        begins = np.array([shape.nth(place) * shape.step for place in range(count)])
        stretches, each = shape.own
        own = (begins[:, None, None] + np.array(stretches)[:, None] + np.arange(each)).reshape(-1)
        most = -(-len(self.bytes) // shape.step)  # from there on all is free
        all_of = np.zeros(most * shape.step + int(own[-1]) + 1, np.bool_)
        all_of[: len(self.bytes)] = self.bytes
        begins_free = np.flatnonzero(~all_of[: (most + 1) * shape.step : shape.step]).tolist()
        number: int = next(one for one in begins_free if not all_of[own + one * shape.step].any())
        all_of[own + number * shape.step] = True
        self.bytes = all_of[: int(np.flatnonzero(all_of)[-1]) + 1]
        return number


def _boxed(value: Dots, size: Size, clear: int) -> Dots:
    box = np.full((size[1], size[0]), clear, np.uint8)
    box[: value.shape[0], : value.shape[1]] = value
    return box
