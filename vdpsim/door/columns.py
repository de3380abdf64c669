"""Tables and sentences as lines that are no wider than who reads them has room for.

Law: texts in, lines out; knows no stream and what no text means. A table whose columns are too wide together has the widest of
them folded; where even that is too wide its columns go on in further blocks, each with the first column again. No letter is lost.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from .shown import WIDEST

Row = Sequence[str]

TEXT, NUMBER = 16, 8
"""Columns to which a text, and the name above numbers, is folded at most."""

GAP = 2
"""Blanks between columns."""

FURTHER = 4
"""By how much a sentence's further lines are indented."""


class Block(NamedTuple):
    """Some columns of a table: the lines of their names, and those of their cells."""

    head: list[str]
    rows: list[str]


def folded(text: str, width: int = WIDEST) -> list[str]:
    """The lines of a sentence; those after the first are indented further."""
    if len(text) <= width:
        return [text]
    start = text[: len(text) - len(text.lstrip())]
    return _wrapped(text, width, start, f"{start}{' ' * FURTHER}")


def blocks(rows: Sequence[Row], width: int = WIDEST, *, right: int = 0, like: Sequence[Row] = ()) -> Iterator[Block]:
    """A table, of which the first of ``rows`` names the columns and the last ``right`` columns are numbers.

    ``like``: rows by which the columns are measured, with their names first (left out: these).
    """
    measured = [*zip(*(like or rows), strict=True)]
    numbers = len(measured) - right
    wide = [max(map(len, column)) for column in measured]
    least = [
        min(most, TEXT) if at < numbers else min(most, max([NUMBER, *map(len, column[1:])]))
        for at, (most, column) in enumerate(zip(wide, measured, strict=True))
    ]
    for places in _shared_out(least, width):
        widths = fitted([wide[at] for at in places], [least[at] for at in places], width)
        head, *others = ([*_laid([row[at] for at in places], widths, [at >= numbers for at in places])] for row in rows)
        yield Block(head, [line for row in others for line in row])


def lines(rows: Sequence[Row], width: int = WIDEST, *, right: int = 0, like: Sequence[Row] = ()) -> Iterator[str]:
    """The lines of ``blocks``, those of a further block after an empty one."""
    for number, block in enumerate(blocks(rows, width, right=right, like=like)):
        yield from [""] * bool(number) + block.head + block.rows


def fitted(wide: Sequence[int], least: Sequence[int], width: int) -> list[int]:
    """Widths of columns: as ``wide`` as they are or, where these are too wide together, the widest of them narrower alike."""
    room = width - GAP * (len(wide) - 1)
    most = max(wide)
    while most > 0 and sum(_held(wide, least, most)) > room:
        most -= 1
    return _held(wide, least, most)


def _held(wide: Sequence[int], least: Sequence[int], most: int) -> list[int]:
    return [max(small, min(each, most)) for each, small in zip(wide, least, strict=True)]


def _shared_out(least: Sequence[int], width: int) -> list[list[int]]:
    """The columns' places in as few groups as have room, about as many in each, the first in all of them."""
    others = range(1, len(least))
    for count in range(1, len(least)):
        step = -(-len(others) // count)
        groups = [[0, *others[begin : begin + step]] for begin in range(0, len(others), step)]
        if all(sum(least[at] + GAP for at in group) - GAP <= width for group in groups):
            return groups
    return [[0, at] for at in others] or [[0]]


def _laid(row: Row, widths: Sequence[int], numbers: Sequence[bool]) -> Iterator[str]:
    """The lines of a row."""
    cells = [_cell(text, width, GAP * (at == 0)) for at, (text, width) in enumerate(zip(row, widths, strict=True))]
    for line in range(max(map(len, cells))):
        pieces = [cell[line] if line < len(cell) else "" for cell in cells]
        yield (
            (" " * GAP)
            .join(
                piece.rjust(width) if number else piece.ljust(width)
                for piece, width, number in zip(pieces, widths, numbers, strict=True)
            )
            .rstrip()
        )


def _cell(text: str, width: int, indent: int) -> list[str]:
    """The lines of a cell; blanks that it ends with are kept on each, as what stands above and below is set by them."""
    if len(text) <= width:
        return [text]
    words = text.rstrip()
    end = text[len(words) :]
    return [f"{piece}{end}" for piece in _wrapped(words, width - len(end), further=" " * indent)]


def _wrapped(text: str, width: int, first: str = "", further: str = "") -> list[str]:
    """``text`` in lines that begin with ``first`` and ``further``, broken at blanks, and behind dots of what is too long."""
    found, line, empty = [], first, True
    for word in text.split():
        if not empty and len(line) + 1 + len(word) > width:
            found.append(line)
            line, empty = further, True
        *pieces, last = [word] if len(line) + len(word) <= width else _pieces(word, width - len(further))
        for piece in pieces:
            found.append(f"{line}{piece}")
            line = further
        line, empty = f"{line}{'' if empty else ' '}{last}", False
    return [*found, line]


def _pieces(word: str, width: int) -> list[str]:
    """A word in pieces of at most ``width`` letters, at least one."""
    most = max(1, width)
    return re.findall(rf".{{1,{most}}}$|.{{0,{most - 1}}}\.|.{{1,{most}}}", word)
