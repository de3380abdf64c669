"""Layers of kind ``bitmap``: a value for each dot, fetched an access at a time.

Law: an access is fetched when the dot before it on the line was fed by another. The bitmap wraps at its width and height in
memory; a line takes whole accesses, so the wrap falls between two of them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ...chip.model import BitmapMode
from .common import DrawnRows, Groups, Ints, Rows, crop, opaque_dots, to_entries

WORDS = {1: np.uint8, 2: np.uint16, 4: np.uint32, 8: np.uint64}
"""For so many dots a byte, the word that holds them all, a byte for each."""


@dataclass(eq=False, repr=False)
class _BitmapPlace:
    """Where in the bitmap each row lies: the dot at which the line begins, and the ``base`` address of the bitmap's line.

    The accesses from number ``first`` to ``last`` of that line feed the row; ``begin`` is the line's first. An access has
    ``per_access`` dots.
    """

    scroll_x: Ints
    base: Ints
    per_access: int
    begin: Ints
    first: Ints
    last: Ints


def _where(rows: Rows, mode: BitmapMode) -> _BitmapPlace:
    scroll_x, line = rows.scroll("x"), (rows.t + rows.scroll("y")) % mode.height
    per_access = 8 * rows.plan.access // mode.bits_per_dot
    return _BitmapPlace(
        scroll_x=scroll_x,
        base=rows.control(f"{rows.mode.prefix}.bitmap") + line * mode.stride_bytes,
        per_access=per_access,
        begin=scroll_x // per_access,
        first=(scroll_x + rows.left) // per_access,
        last=(scroll_x + rows.right - 1) // per_access,
    )


def draw(rows: Rows) -> DrawnRows:
    """The dots and fetches of ``rows``. Ties: none; every dot has one value."""
    mode = rows.mode.mode
    assert isinstance(mode, BitmapMode)
    at = _where(rows, mode)
    values = _values(rows, mode, at)
    offset = rows.mode.base + rows.bank()[:, None] * rows.mode.bank_step

    def key(access: Ints) -> Ints:
        byte = access * rows.plan.access % mode.row_bytes
        return np.stack([access, (at.base + byte) % rows.memory.size])

    return DrawnRows(
        to_entries(rows.plan, rows.mode, values, offset),
        opaque_dots(values, mode.transparent),
        (at.last - at.first + 1)[None],
        lambda: (key(at.first), key(at.last), np.ones((1, rows.count), np.int64)),
        lambda: _groups(rows, mode, at),
        {when: bool(when.holds(0)) for when in rows.conditions},
    )


def _values(rows: Rows, mode: BitmapMode, at: _BitmapPlace) -> npt.NDArray[np.uint8]:
    """The value of each dot, uint8 (rows, width): the dots of a byte are gathered as one word."""
    per_byte = 8 // mode.bits_per_dot
    start, fine = np.divmod(at.scroll_x, per_byte)
    across = _most(rows.plan.width, per_byte)
    alike = bool((start == start[0]).all())  # then a row of columns does for all rows
    columns = ((start[:1] if alike else start)[:, None] + np.arange(across)) % mode.row_bytes
    when = rows.when(0)
    if when.shape[1] > 1:  # an instant for each access: spread over its bytes
        access = (start[:, None] + np.arange(across)) // rows.plan.access - at.begin[:, None]
        when = np.take_along_axis(when, access, axis=1)
    places = rows.memory.translate(when, at.base[:, None] + columns)
    table = rows.store.dots(mode.bits_per_dot, mode.first_dot)
    words = table.view(WORDS[per_byte])[:, 0].take(places)
    return crop(words.view(np.uint8).reshape(rows.count, across * per_byte), fine, rows.plan.width)


def _groups(rows: Rows, mode: BitmapMode, at: _BitmapPlace) -> Groups:
    """What feeds the rows, access by access."""
    across = _most(rows.plan.width, at.per_access)

    def addresses() -> tuple[Ints, ...]:
        accesses = at.begin[:, None] + np.arange(across)
        return (at.base[:, None] + accesses * rows.plan.access % mode.row_bytes,)

    fine = at.scroll_x % at.per_access
    return Groups(at.per_access, across, fine, at.first - at.begin, at.last - at.begin, addresses)


def _most(width: int, size: int) -> int:
    """How many groups of ``size`` dots a line of ``width`` dots can touch."""
    return (width + size - 2) // size + 1
