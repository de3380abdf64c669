"""Where a surface lies on each row: which groups of its dots feed the row, which of its lines shows, and what lies outside.

Law: what tiles and bitmaps share, whatever a group of their dots is made of. Groups are numbered from the surface's left edge; a
surface that wraps goes on counting beyond its right one. Reads the scroll controls and no memory.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.controls import scroll_span
from ...chip.model import BitmapMode, Mode, TilesMode
from .common import OUTSIDE, Bools, DrawnRows, Ints, Rows, around


@dataclass(eq=False, repr=False)
class Ground:
    """A surface on the rows: arrays (rows,). A group is ``size`` dots of the picture wide.

    ``line``: which of the surface's own lines shows. Dot 0 of the row is dot ``fine`` of group number ``group``; groups
    ``first`` to ``last``, counted from that one, feed the row, none where ``last`` is below ``first``. ``across``: how many there
    can be.
    ``left``: the picture's dot at which the surface's begins; ``shows``: whether a row has any of it. Both None where it wraps.
    """

    size: int
    across: int
    line: Ints
    group: Ints
    fine: Ints
    first: Ints
    last: Ints
    left: Ints | None = None
    shows: Bools | None = None

    def feeding(self, of_group: Any, dot: Ints) -> Ints:
        """What ``of_group`` tells of the group that feeds ``dot`` (rows,); OUTSIDE and zeros where none does."""
        place = (self.fine + dot) // self.size
        keys: Ints = of_group(self.group + place)
        if self.left is None:
            return keys
        inside = (place >= self.first) & (place <= self.last)
        keys = np.where(inside, keys, 0)
        keys[0] = np.where(inside, keys[0], OUTSIDE)
        return keys


def ground(rows: Rows, mode: TilesMode | BitmapMode, dots: int) -> Ground:
    """The surface of ``mode`` on ``rows``, in groups of so many of its own ``dots``."""
    scroll_x, lines = rows.scroll("x"), rows.t + rows.scroll("y")
    (wide, high), size = mode.extent, dots * mode.double[0]
    across = most_groups(rows.plan.width, size)
    if mode.wrap:
        group, fine = np.divmod(scroll_x, size)
        first, last = (fine + rows.left) // size, (fine + rows.right - 1) // size
        line = around(lines, high)
        line = line if mode.double[1] == 1 else line // mode.double[1]
        return Ground(size, across, line, group, fine, first, last)
    turn_x, turn_y = scroll_span(rows.plan.chip, mode)
    begin, lines = around(scroll_x, turn_x), around(lines, turn_y)
    begin = np.where(begin < wide, begin, begin - turn_x)
    shows = lines < high
    group, fine = np.divmod(begin, size)
    first = np.maximum((fine + rows.left) // size, -group)
    last = np.minimum((fine + rows.right - 1) // size, wide // size - 1 - group)
    first, last = np.where(shows, first, 0), np.where(shows, last, OUTSIDE)
    line = np.where(shows, lines, 0) // mode.double[1]
    return Ground(size, across, line, group, fine, first, last, -begin, shows)


def spread_dots(values: npt.NDArray[Any], mode: Mode) -> npt.NDArray[Any]:
    """Planes of a mode's own dots, the last axis across, as dots of the picture."""
    return values if mode.double[0] == 1 else np.repeat(values, mode.double[0], axis=-1)


def edged(drawn: DrawnRows, rows: Rows, mode: TilesMode | BitmapMode, at: Ground) -> DrawnRows:
    """``drawn``, with what shows outside of a surface that ends at its edges."""
    if at.left is None or at.shows is None:
        return drawn
    dot = np.arange(rows.plan.width) - at.left[:, None]
    inside = (dot >= 0) & (dot < mode.extent[0]) & at.shows[:, None]

    def bordered(plane: npt.NDArray[Any], other: Any) -> npt.NDArray[Any]:
        return np.where(inside, plane, np.asarray(other, plane.dtype))

    return replace(
        drawn,
        entry=bordered(drawn.entry, mode.outside or 0),
        opaque=bordered(drawn.opaque, mode.outside is not None),
        met={when: met if isinstance(met, bool) else bordered(met, when.holds(0)) for when, met in drawn.met.items()},
        fields={name: bordered(plane, 0) for name, plane in drawn.fields.items()},
    )


def most_groups(width: int, size: int) -> int:
    """How many groups of ``size`` dots a line of ``width`` dots can touch."""
    return (width + size - 2) // size + 1
