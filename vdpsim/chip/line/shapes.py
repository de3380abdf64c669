"""What the layers fetch on a line: its shape, by which lines that fetch alike are served once.

Law: a shape says which groups each layer fetches, and neither where they lie in memory nor which line it is. What was worked
out for a shape is kept, since most lines of most frames have one of a few.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar

MOST_KEPT = 20_000
"""Keys for which something is kept; then all is forgotten and worked out anew as it is asked for."""

Found = TypeVar("Found")


class Stretch(NamedTuple):
    """What a layer fetches for a stretch of a line: groups ``first`` to ``last`` of its mode.

    Group k begins at dot k x size - ``fine``, and shows from there or from ``left``, the stretch's first dot. ``skip``: the
    first was fetched by the stretch before. ``kept``: the cells are there already. ``turned``: a byte a group from 0, 1 where
    its cell is turned.
    """

    mode: int
    fine: int
    first: int
    last: int
    left: int
    skip: bool
    kept: bool
    turned: bytes


class Shape(NamedTuple):
    """What the layers fetch in the slots of a line: for each its stretches, None where it shows nothing.

    ``picture``: the line belongs to the picture. A layer that is held in a line buffer has the one stretch of the line after
    it; on a line below the picture such layers alone can have any.
    """

    picture: bool
    layers: tuple[tuple[Stretch | None, ...], ...]


BELOW = Shape(picture=False, layers=())
"""A line below the picture in whose slots no layer fetches."""


def remembered(known: dict[Any, Found], make: Callable[..., Found], *key: Any) -> Found:
    """What ``make(*key)`` gives, out of ``known`` where it stands there."""
    found = known.get(key)
    if found is None:
        if len(known) >= MOST_KEPT:
            known.clear()
        found = known[key] = make(*key)
    return found
