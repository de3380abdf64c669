"""Records put together frame by frame.

Law: of each kind the frames come in order, so that one is whole as soon as the next begins; no more than a frame of each kind is
held, and no more than ``MOST`` records of it. A frame that comes again after a later one is a mistake.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from .kinds import KINDS
from .parsing import ODD, UNTOLD, Columns, Ints

MOST = 1 << 21
"""The most records of one kind in a frame."""


class OutOfOrderError(ValueError):
    """A frame's records come after those of a later frame, or are too many."""


class Framed(NamedTuple):
    """A kind's records of one frame, without the frame's number; ``last``: none of that kind come after it."""

    kind: str
    frame: int
    columns: Columns
    last: bool


def by_frame(records: Iterable[tuple[str, Columns]]) -> Iterator[Framed]:
    """Runs of records as whole frames. Raises OutOfOrderError."""
    held: dict[str, tuple[int, list[Columns]]] = {}
    count: Counter[str] = Counter()
    for kind, frame, many, part in _runs(records):
        before, parts = held.get(kind, (frame, []))
        if frame < before:
            raise OutOfOrderError(f"{kind} records of frame {frame} come after those of frame {before}")
        if frame > before:
            yield Framed(kind, before, _joined(kind, parts), last=False)
            parts, count[kind] = [], 0
        parts.append(part)
        count[kind] += many
        if count[kind] > MOST:
            raise OutOfOrderError(f"frame {frame} has more than {MOST:,} {kind} records, the most that are taken")
        held[kind] = frame, parts
    for kind, (frame, parts) in held.items():
        yield Framed(kind, frame, _joined(kind, parts), last=True)


def _runs(records: Iterable[tuple[str, Columns]]) -> Iterator[tuple[str, int, int, Columns]]:
    """Records that follow each other and are of one frame: their kind, the frame, how many they are, their columns."""
    for kind, columns in records:
        numbers = columns["frame"]
        cuts = [0, *(np.flatnonzero(np.diff(numbers)) + 1).tolist(), len(numbers)]
        for start, end in pairwise(cuts):
            if start < end:
                part = {name: column[start:end] for name, column in columns.items() if name != "frame"}
                yield kind, int(numbers[start]), end - start, part


def _joined(kind: str, parts: list[Columns]) -> Columns:
    """Parts of a frame as one: of a column that a part lacks, nothing is told there."""
    if len(parts) == 1:
        return parts[0]
    names = [
        (number, field.name) for number, field in enumerate(KINDS[kind]) if any(field.name in part for part in parts)
    ]
    odd = [part.get(ODD, _nothing(part)) for part in parts]
    found = {}
    for number, name in names:
        for at, part in enumerate(parts):
            if name not in part:
                odd[at] = odd[at] | 1 << number + UNTOLD
        found[name] = np.concatenate([part.get(name, _nothing(part)) for part in parts])
    told = np.concatenate(odd)
    return {**found, ODD: told} if told.any() else found


def _nothing(part: Columns) -> Ints:
    return np.zeros(len(next(iter(part.values()))), np.int64)
