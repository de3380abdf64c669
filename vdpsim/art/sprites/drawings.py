"""What is drawn on a sheet of sprites: cell by cell, trimmed, and found again among the drawings before it.

Law: a cell becomes one drawing, or none where nothing is drawn in it. Two drawings are alike where a record's flips show one by
the other's image; of several ways the plainest wins, then the earlier image. Knows dots and flips, no colours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ...scene.contents.match import shown
from ..arrays import Block, Dots, Mask, Size, Way


@dataclass(frozen=True)
class Drawing:
    """What is drawn in a cell: the box around its opaque dots, and where that lies in the cell."""

    cell: int
    left: int
    top: int
    across: int
    down: int

    @property
    def box(self) -> tuple[slice, slice]:
        """Its lines and dots in the cell."""
        return slice(self.top, self.top + self.down), slice(self.left, self.left + self.across)

    @classmethod
    def trimmed(cls, cell: int, shows: Mask) -> Drawing:
        """What is drawn in ``cell``, whose opaque dots are ``shows`` (down, across), some at least."""
        lines, dots = np.flatnonzero(shows.any(axis=1)), np.flatnonzero(shows.any(axis=0))
        left, top = int(dots[0]), int(lines[0])
        return cls(cell, left, top, int(dots[-1]) - left + 1, int(lines[-1]) - top + 1)

    def image(self, rgb: Dots, shows: Mask) -> Block:
        """Its dots (down, across, 4) in the cell's ``rgb`` and ``shows``: colour, 0 where transparent, and opaque or not."""
        opaque = shows[self.box][..., None]
        return np.concatenate([np.where(opaque, rgb[self.box], 0), opaque], axis=2)


def flips(layout: Sequence[str]) -> list[Way]:
    """Every setting of the flips that a record's ``layout`` has, the plainest first."""
    names = [name for name in ("flip_x", "flip_y") if name in layout]
    found = [{name: number >> at & 1 for at, name in enumerate(names)} for number in range(1 << len(names))]
    return sorted(found, key=lambda way: sum(way.values()))


def unlike(images: Sequence[Block], options: Sequence[Way]) -> tuple[list[int], list[tuple[int, Way]]]:
    """The places of the ``images`` that no earlier one shows, and of each image which of those shows it, in which way."""
    known: dict[tuple[Size, bytes], tuple[int, Way]] = {}
    first: list[int] = []
    of: list[tuple[int, Way]] = []
    for at, image in enumerate(images):
        size = image.shape[1], image.shape[0]
        key = size, image.tobytes()
        if key not in known:
            for way in options:
                drawn = np.ascontiguousarray(shown(image[None], way)).tobytes()
                known.setdefault((size, drawn), (len(first), way))
            first.append(at)
        of.append(known[key])
    return first, of
