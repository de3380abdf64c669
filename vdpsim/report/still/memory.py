"""Video memory as a map: who owns which bytes, in the colours of what they are for, and what is free.

Law: owners and holes are the budget's; what was fetched is what drawing the page's frames touched. Labels stand under the
colours, never on them, and a table says all of it again.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy.typing as npt

from ...budgets.memory import Allotted, MemoryBudget
from ...chip.model import BitmapMode, Chip
from ...output.roles import ROLES, role_of
from .budget import swatch
from .markup import Markup, joined, table, tag

ROWS = 8
"""Rows of the map, each an equal part of memory."""


def memory(chip: Chip, found: MemoryBudget, touched: npt.NDArray[Any] | None) -> Markup:
    """The map and its table. ``touched`` bool (size,): bytes that were fetched; None where nobody knows."""
    owned = sum(row.bytes for row in found.allotted if not row.free)
    rows = found.allotted or (Allotted(0, found.size - 1, "", free=True),)
    largest = max((row.bytes for row in rows if row.free), default=0)
    said = f"{found.size:,} bytes: {owned:,} allotted, {found.free:,} free, {largest:,} of them in one piece."
    head = ["whose", "first", "last", "bytes", *(["fetched in these frames"] if touched is not None else [])]
    listed = [_row(chip, row, touched) for row in rows]
    return joined(
        (tag("p", said), _map(chip, found.size, rows), table("Who owns which bytes", head, listed, len(head) - 1))
    )


def _row(chip: Chip, row: Allotted, touched: npt.NDArray[Any] | None) -> list[object]:
    used = [] if touched is None else [f"{int(touched[row.first : row.last + 1].sum()):,}"]
    return [_named(chip, row), f"0x{row.first:04X}", f"0x{row.last:04X}", f"{row.bytes:,}", *used]


def _named(chip: Chip, row: Allotted) -> Markup:
    return tag("span", "free") if row.free else joined((swatch(ROLES[_role(chip, row.owner)]), row.owner))


def _role(chip: Chip, owner: str) -> str:
    """The role of an owner's bytes; planes apart are those of the mode that they belong to."""
    layer, _, rest = owner.partition(".")
    kinds = {f"{one.name}.{mode.name}": mode for one in chip.layers for mode in one.modes}
    of = kinds.get(f"{layer}.{rest.partition('.')[0]}")
    return role_of(owner, "bitmap" if isinstance(of, BitmapMode) else "patterns")


def _map(chip: Chip, size: int, rows: tuple[Allotted, ...]) -> Markup:
    step = -(-size // ROWS)
    lines = (
        tag("div", tag("span", f"0x{at:04X}", class_="from"), *_parts(chip, rows, at, at + step))
        for at in range(0, size, step)
    )
    return tag("div", *lines, class_="map", aria_hidden="true")


def _parts(chip: Chip, rows: tuple[Allotted, ...], begin: int, end: int) -> Iterator[Markup]:
    """The pieces of a row of the map, bytes ``begin`` to ``end`` - 1; an owner's name stands where its bytes begin."""
    at = begin
    for row in rows:
        first, last = max(row.first, at), min(row.last + 1, end)
        if first < last:
            yield _part(chip, row, last - first, named=row.first >= begin)
            at = last


def _part(chip: Chip, row: Allotted, count: int, *, named: bool) -> Markup:
    told = f"{row.owner or 'free'}, 0x{row.first:04X} to 0x{row.last:04X}, {row.bytes:,} bytes"
    colour = "" if row.free else f";border-top-color:#{bytes(ROLES[_role(chip, row.owner)]).hex()}"
    name = (row.owner or "free") if named else ""
    return tag("span", name, class_="part free" if row.free else "part", title=told, style=f"flex-grow:{count}{colour}")
