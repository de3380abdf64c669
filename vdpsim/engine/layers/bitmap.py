"""Layers of kind ``bitmap``: a value for each dot, fetched an access at a time.

Law: an access is fetched when the dot before it on the line was fed by another. The bitmap wraps at its width and height in
memory; a line takes whole accesses, so the wrap falls between two of them.
"""

from __future__ import annotations

import numpy as np

from ...chip.model import BitmapMode
from .common import Drawn, Groups, Ints, Rows, crop, opaque_dots, to_entries

WORDS = {1: np.uint8, 2: np.uint16, 4: np.uint32, 8: np.uint64}


def draw(rows: Rows) -> Drawn:
    """The dots and fetches of ``rows``. Ties: none; every dot has one value."""
    plan, mode = rows.plan, rows.mode.mode
    assert isinstance(mode, BitmapMode)
    width, per_byte = plan.width, 8 // mode.bits_per_dot
    scroll_x = rows.scroll("x")
    line = (rows.t + rows.scroll("y")) % mode.height
    base = rows.control(f"{rows.mode.prefix}.bitmap") + line * mode.stride_bytes

    start, fine = scroll_x // per_byte, scroll_x % per_byte
    across = (width + per_byte - 2) // per_byte + 1
    alike = bool((start == start[0]).all())
    columns = ((start[:1] if alike else start)[:, None] + np.arange(across)) % mode.row_bytes
    when = rows.when(0)
    if when.shape[1] > 1:  # an instant for each access: spread over its bytes
        access = (start[:, None] + np.arange(across)) // plan.access - (start // plan.access)[:, None]
        when = np.take_along_axis(when, access, axis=1)
    places = rows.memory.translate(when, base[:, None] + columns)
    table = rows.store.dots(mode.bits_per_dot, mode.first_dot)
    words = table.view(WORDS[per_byte])[:, 0].take(places)
    values = crop(words.view(np.uint8).reshape(rows.count, across * per_byte), fine, width)
    offset = rows.mode.base + rows.bank()[:, None] * rows.mode.bank_step

    per_access = 8 * plan.access // mode.bits_per_dot
    first, last = (scroll_x + rows.left) // per_access, (scroll_x + rows.right - 1) // per_access

    def key(at: Ints) -> Ints:
        byte = at * plan.access % mode.row_bytes
        return np.stack([at, (base + byte) % rows.memory.size])

    def groups() -> Groups:
        """What feeds the rows, access by access."""
        begin, most = scroll_x // per_access, (width + per_access - 2) // per_access + 1

        def addresses() -> tuple[Ints, ...]:
            return (base[:, None] + (begin[:, None] + np.arange(most)) * plan.access % mode.row_bytes,)

        return Groups(per_access, most, scroll_x % per_access, first - begin, last - begin, addresses)

    return Drawn(
        to_entries(plan, rows.mode, values, offset),
        opaque_dots(values, mode.transparent),
        (last - first + 1)[None],
        lambda: (key(first), key(last), np.ones((1, rows.count), np.int64)),
        groups,
        {when: bool(when.holds(0)) for when in rows.conditions},
    )
