"""Any word's bit layout as a drawing: bits by number, who has which, and a table of what is said of each.

Law: the highest bit is at the left, as in part-select notation; a word of more than 16 bits has rows of 16, the highest on top.
A name that is wider than its box stands under it, at the end of a line from the box; so each is written out, a single bit's too.
A box that does not have all of its field says which bits of it it has. Knows bit layouts, and no register and no cell.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from ...chip.tables.bits import Bits
from .svg import Drawing, width_of

ROW = 16
"""Bits of a row."""

BIT, BOX, LINE, GAP = 44, 42, 18, 20
"""Width of a bit, height of a box and of a line of text, and what lies between a table's columns."""


class Held(NamedTuple):
    """Bits ``bits`` of a word have the bits ``of`` of what is called ``name``; ``of`` None: all of it.

    ``said``: what stands in the table's columns behind its bits and its name.
    """

    name: str
    bits: Bits
    of: Bits | None = None
    said: tuple[str, ...] = ()


class _Row(NamedTuple):
    """Bits ``low`` to ``last`` of a word, in the places of ``bits`` bits from ``low`` on."""

    low: int
    bits: int
    last: int


class _Run(NamedTuple):
    """Neighbouring bits ``high`` to ``low`` of a row, and what their box says."""

    high: int
    low: int
    name: str
    held: bool


def bit_diagram(
    title: str,
    width: int,
    held: Sequence[Held],
    *,
    columns: Sequence[str] = (),
    reset: int | None = None,
    byte_names: Sequence[str] = (),
) -> str:
    """The layout of a word of ``width`` bits, 1 to 64, as SVG.

    ``columns`` are the headings of what each of ``held`` has ``said``; without any, or where nobody holds a bit, there is no
    table. ``reset``: the word's value, as bits in the boxes. ``byte_names``: what stands over each byte, the lowest first (an
    address). Bits that nobody holds are drawn grey and have a dash.
    """
    made = Drawing()
    made.text(made.edge, made.bottom + 12, title, head=True)
    bits = 8 if width <= 8 else ROW
    for low in reversed(range(0, width, bits)):
        _row(made, _Row(low, bits, min(low + bits, width) - 1), held, reset, byte_names)
    if columns and held:
        _table(made, held, columns)
    return made.svg(f"{title}: {', '.join(f'bits {one.bits} {one.name}' for one in held) or 'no bit has a name'}")


def _pieces(one: Held) -> Iterator[tuple[int, int, list[int]]]:
    """A field's parts in its word, its highest bits first: highest bit, lowest bit, and which of its own bits these are."""
    own = list(_numbers(Bits(((one.bits.width - 1, 0),)) if one.of is None else one.of))
    for high, low in one.bits.parts:
        yield high, low, own[: high - low + 1]
        own = own[high - low + 1 :]


def _boxes(row: _Row, one: Held) -> Iterator[_Run]:
    """What of a field lies in a row; where that is not all of it, with its own bits' numbers behind the name."""
    for high, low, own in _pieces(one):
        first, last = min(high, row.last), max(low, row.low)
        if first >= last:
            whole = one.of is None and first - last + 1 == one.bits.width
            which = "" if whole else f"[{_select(own[high - first : high - last + 1])}]"
            yield _Run(first, last, one.name + which, held=True)


def _numbers(bits: Bits) -> Iterator[int]:
    """Bit numbers, from the one that counts most."""
    for high, low in bits.parts:
        yield from range(high, low - 1, -1)


def _select(numbers: Sequence[int]) -> str:
    """Bit numbers, from the one that counts most, in part-select notation."""
    parts: list[list[int]] = []
    for bit in numbers:
        if parts and parts[-1][-1] == bit + 1:
            parts[-1][1:] = [bit]
        else:
            parts.append([bit])
    return ", ".join(":".join(map(str, one)) for one in parts)


def _runs(row: _Row, held: Sequence[Held]) -> list[_Run]:
    """The boxes of a row, from the left: of what holds its bits, and grey ones of what nobody holds."""
    found = [run for one in held for run in _boxes(row, one)]
    free = row.last
    for run in sorted(found, reverse=True):
        if run.high < free:
            found.append(_Run(free, run.high + 1, "-", held=False))
        free = run.low - 1
    if free >= row.low:
        found.append(_Run(free, row.low, "-", held=False))
    return sorted(found, reverse=True)


def _row(made: Drawing, row: _Row, held: Sequence[Held], reset: int | None, byte_names: Sequence[str]) -> None:
    """Put a row under what is there already."""

    def middle(high: int, low: int) -> float:
        return made.edge + (row.low + row.bits - 1 - (high + low) / 2 + 0.5) * BIT

    each = range(row.low, row.last + 1)
    down = made.bottom + 8
    for first in range(row.low, row.last + 1, 8) if byte_names else ():
        made.text(middle(min(first + 7, row.last), first), down + 12, byte_names[first // 8], middle=True)
    down += LINE if byte_names else 0
    for bit in each:
        made.text(middle(bit, bit), down + 12, str(bit), middle=True)
    down += LINE
    below = []
    for run in _runs(row, held):
        wide = (run.high - run.low + 1) * BIT
        at = middle(run.high, run.low)
        made.box(at - wide / 2, down, wide, BOX, "" if run.held else "still")
        if width_of(run.name) + 6 <= wide:
            made.text(at, down + (26 if reset is None else 16), run.name, middle=True)
        else:
            below.append((at, run.name))
    for bit in () if reset is None else each:
        made.text(middle(bit, bit), down + BOX - 7, str((reset or 0) >> bit & 1), middle=True)
    for place, (at, name) in enumerate(reversed(below)):  # the last box first, so that no line crosses a name
        base = down + BOX + (place + 1) * LINE
        made.line((at, down + BOX), (at, base - 4), (at + 5, base - 4))
        made.text(at + 8, base, name)


def _table(made: Drawing, held: Sequence[Held], columns: Sequence[str]) -> None:
    """Put a table of what is said of each under what is there already, the highest bits first."""
    ordered = sorted(held, key=lambda one: -one.bits.highest)
    rows = [("bits", "name", *columns), *((str(one.bits), one.name, *one.said) for one in ordered)]
    down, x = made.bottom + 8, made.edge
    for column in zip(*rows, strict=True):
        for place, what in enumerate(column):
            made.text(x, down + (place + 1) * LINE - 4, what, head=place == 0)
        x += max(map(width_of, column)) + GAP
