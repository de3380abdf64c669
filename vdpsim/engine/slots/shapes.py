"""Which of the lines to be drawn fetch alike: each line's shape, from what its layers drew.

Law: lines of one shape are served together, so most frames are served as a few lines. What tells rows apart is packed into
whole numbers, by which they are compared without looking at what they mean. Knows no slot and no sprite.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.line.serving import BELOW, Shape, Stretch
from ..layers import ModePart
from ..layers.common import Groups
from ..timeline import Timeline

Ints = npt.NDArray[np.int64]

BITS = (11, 11, 11, 11, 1, 1, 3)
"""Bits of fine, first, last, left, skip, kept and mode in a row's code."""


@dataclass(eq=False, repr=False)
class LayerRows:
    """A layer's rows: a ``code`` for what each fetches (0: nothing), which cells are ``turned``, its part and its place there.

    ``timeline`` has the rows. ``row_of_line`` int64 (lines,): the first row that is fetched in a line's slots; -1 for none.
    ``parts`` are the layer's, ``groups`` the groups of each.
    """

    timeline: Timeline
    row_of_line: Ints
    parts: Sequence[ModePart]
    groups: list[Groups]
    code: Ints
    turned: Ints
    part: Ints
    place: Ints

    @classmethod
    def of(cls, parts: Sequence[ModePart], timeline: Timeline, first: int, last: int) -> LayerRows:
        """The rows of ``timeline``, fetched in the slots of the lines from ``first`` up to but not including ``last``."""
        row_of_line = np.full(last - first, -1, np.int64)
        row_of_line[timeline.slot_line[timeline.row_of_line] - first] = timeline.row_of_line
        every = [part.drawn.groups() for part in parts]
        code, turned, part_of, place = np.zeros((4, len(timeline.line)), np.int64)
        for number, (part, groups) in enumerate(zip(parts, every, strict=True)):
            rows = slice(None) if part.chosen is None else part.chosen
            code[rows] = _codes(part, groups, timeline.left[rows])
            if groups.turned is not None:
                turned[rows] = _numbered([row.tobytes() for row in groups.turned.astype(np.bool_)])
            part_of[rows], place[rows] = number, np.arange(len(groups.first))
        return cls(timeline, row_of_line, parts, every, code, turned, part_of, place)

    def stretch(self, row: int) -> Stretch | None:
        """What is fetched for ``row``; None where nothing is, or where there is no such row (-1)."""
        if row < 0 or not self.code[row]:
            return None
        part, groups = self.parts[self.part[row]], self.groups[self.part[row]]
        place = int(self.place[row])
        turned = b"" if groups.turned is None else groups.turned[place].astype(np.bool_).tobytes()
        return Stretch(
            mode=part.index,
            fine=int(groups.fine[place]),
            first=int(groups.first[place]),
            last=int(groups.last[place]),
            left=int(self.timeline.left[row]),
            skip=bool(part.skips is not None and part.skips[place]),
            kept=bool(part.kept is not None and part.kept.rows[place]),
            turned=turned if 1 in turned else b"",
        )


def _codes(part: ModePart, groups: Groups, left: Ints) -> Ints:
    """For each row of ``part`` a number that tells what it fetches; 0 for nothing."""
    skip: Any = 0 if part.skips is None else part.skips.astype(np.int64)
    kept: Any = 0 if part.kept is None else part.kept.rows.astype(np.int64)
    packed: Any = 0
    fields = (groups.fine + 1024, groups.first, groups.last + 1, left, skip, kept, part.index)
    for field, bits in zip(fields, BITS, strict=True):
        packed = (packed << bits) + field
    return np.where(groups.last >= groups.first, packed + 1, 0)  # and 1, as 0 is taken by rows that fetch nothing


def _numbered(keys: Sequence[bytes]) -> list[int]:
    """Each of ``keys`` as a number, the same for the same, in the order in which they come up."""
    known: dict[bytes, int] = {}
    return [known.setdefault(key, len(known)) for key in keys]


def distinct(values: Ints) -> tuple[Ints, Ints]:
    """Where each distinct value stands first, and which of them each value is, numbered in the order of the values.

    ``numpy.unique`` gives the same; on the few hundred lines of a frame it takes 1.4 times as long.
    """
    order = np.argsort(values, kind="stable")
    in_order = values[order]
    fresh = np.ones(len(values), np.bool_)
    fresh[1:] = in_order[1:] != in_order[:-1]
    number = np.empty(len(values), np.int64)
    number[order] = np.cumsum(fresh) - 1
    return order[fresh], number


def line_shapes(
    timeline: Timeline, before: Timeline | None, layers: Sequence[LayerRows], first: int, last: int
) -> tuple[list[Shape], Ints]:
    """The shapes of the lines from ``first`` up to but not including ``last``, and each line's number among them, int64 (lines,).

    ``timeline`` has the picture's lines among them, and ``before`` the lines that line buffers are filled with there.
    """
    shapes = [BELOW] if last > timeline.last or not timeline.lines else []
    of_line = np.zeros(last - first, np.int64)

    begins, ends = timeline.row_of_line, np.append(timeline.row_of_line[1:], len(timeline.line))
    lines, numbers = _alike(timeline, _told_apart(timeline, layers, first), begins, ends)
    picture = slice(max(timeline.first - first, 0), max(timeline.first - first, 0) + timeline.lines)
    of_line[picture] = numbers + len(shapes)
    for line in lines.tolist():
        rows = range(int(begins[line]), int(ends[line]))
        shapes.append(_shape(timeline, layers, line + timeline.first - first, rows, picture=True))

    for line in [] if before is None else before.slot_line.tolist():
        if not timeline.first <= line < timeline.last:
            of_line[line - first] = len(shapes)
            shapes.append(_shape(timeline, layers, line - first, range(0), picture=False))
    return shapes, of_line


def _told_apart(timeline: Timeline, layers: Sequence[LayerRows], first: int) -> Ints:
    """int64 (codes, rows): what tells the timeline's rows apart; of a line buffer's at the first row of each line."""
    found = []
    lines = slice(timeline.first - first, timeline.last - first)
    for layer in layers:
        for code in (layer.code, layer.turned):
            if not code.any():
                continue
            if layer.timeline is timeline:
                found.append(code)
                continue
            at = layer.row_of_line[lines]
            spread = np.zeros(len(timeline.line), np.int64)
            spread[timeline.row_of_line] = np.where(at >= 0, code[np.maximum(at, 0)], 0)
            found.append(spread)
    return np.stack(found or [timeline.left])


def _alike(timeline: Timeline, codes: Ints, begins: Ints, ends: Ints) -> tuple[Ints, Ints]:
    """The first line of each shape, and the number of each line's shape; lines count from the timeline's first.

    A line's rows are those from ``begins`` up to but not including ``ends``.
    """
    if not timeline.whole:
        spans = zip(begins.tolist(), ends.tolist(), strict=True)
        return distinct(np.array(_numbered([codes[:, begin:end].tobytes() for begin, end in spans]), np.int64))
    lines = numbers = np.zeros(timeline.lines, np.int64)
    # Codes are made small numbers before they are put together: as they are, two of them would not go into 64 bits.
    for code in codes:
        lines, numbers = distinct(distinct(code)[1] + numbers * len(code))
    return lines, numbers


def _shape(timeline: Timeline, layers: Sequence[LayerRows], place: int, rows: range, *, picture: bool) -> Shape:
    """The shape of a line, the one at ``place`` of those to be drawn, which has these ``rows`` of the timeline."""
    found = []
    for layer in layers:
        fetched = rows if layer.timeline is timeline else [int(layer.row_of_line[place])]
        found.append(tuple(layer.stretch(row) for row in fetched))
    return Shape(picture, tuple(found))
