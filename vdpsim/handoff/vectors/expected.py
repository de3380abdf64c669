"""What is to come out of hardware: a drawn frame as records.

Law: follows from what was drawn alone; whoever compares needs no more than these records and the index that names their
numbers. Each kind's records are in order of time.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import numpy.typing as npt

from ...chip.model import Chip
from ...colour.numbers import numbers_of
from ...engine.frame import Result
from ...state.state import State
from ..records.text import as_text

REASONS = ("count", "dots", "slots")
"""Why a sprite is dropped, by the numbers that records have."""


def outcomes(chip: Chip) -> tuple[str, ...]:
    """The kinds of record that a frame of ``chip`` has, in the order of their files."""
    return tuple(kind for kind, (there, _) in _MAKERS.items() if there(chip))


def records(chip: Chip, kind: str, frame: Result, left: State) -> bytes:
    """The records of ``kind`` of a ``frame``, which has ``left`` this state, as text."""
    return _MAKERS[kind][1](chip, frame, left)


def _dots(_chip: Chip, frame: Result, _left: State) -> bytes:
    high, wide = frame.indices.shape
    line, dot = np.repeat(np.arange(high), wide), np.tile(np.arange(wide), high)
    shown = (frame.indices, numbers_of(frame.rgb), frame.source, frame.rung, frame.sprite)
    return as_text("dot", (frame.frame, line + frame.first, dot, *(each.reshape(-1) for each in shown)))


def _accesses(_chip: Chip, frame: Result, _left: State) -> bytes:
    trace = frame.trace
    assert trace is not None
    names = ("line", "slot", "client", "address", "value")
    return as_text("access", (frame.frame, *(trace[name] for name in names)))


def _counts(kind: str, frame: Result, counts: npt.NDArray[np.int64]) -> bytes:
    line, client = np.nonzero(counts)
    return as_text(kind, (frame.frame, line + frame.first, client, counts[line, client]))


def _fetches(_chip: Chip, frame: Result, _left: State) -> bytes:
    return _counts("fetches", frame, frame.log.counts)


def _missed(_chip: Chip, frame: Result, _left: State) -> bytes:
    return _counts("missed", frame, frame.missed)


def _sprites(_chip: Chip, frame: Result, _left: State) -> bytes:
    lines = np.arange(frame.first, frame.first + frame.height)
    return as_text("sprites", (frame.frame, lines, frame.log.found, frame.log.drawn))


def _drops(_chip: Chip, frame: Result, _left: State) -> bytes:
    drops = frame.drops
    reasons = np.array([REASONS.index(reason) for reason in drops["reason"].tolist()], np.int64)
    return as_text("drop", (frame.frame, drops["line"], drops["sprite"], reasons))


def _collisions(_chip: Chip, frame: Result, _left: State) -> bytes:
    met = frame.collisions
    return as_text("collision", (frame.frame, *(met[name] for name in ("line", "dot", "first", "second"))))


def _flags(chip: Chip, frame: Result, _left: State) -> bytes:
    assert chip.status is not None
    bits, raised = chip.status.bits, frame.raised
    found = np.array([bits[flag] for flag in raised["flag"].tolist()], np.int64)
    return as_text("flag", (frame.frame, raised["line"], raised["dot"], found))


def _left(_chip: Chip, frame: Result, left: State) -> bytes:
    return as_text("left", (frame.frame, left.status, left.collision_flags))


def tells(chip: Chip) -> bool:
    """Whether the chip has a status, or groups that collide."""
    return chip.status is not None or chip.collisions is not None


_MAKERS: Mapping[str, tuple[Callable[[Chip], bool], Callable[[Chip, Result, State], bytes]]] = {
    "dot": (lambda _chip: True, _dots),
    "access": (lambda chip: chip.time is not None, _accesses),
    "fetches": (lambda chip: chip.time is None, _fetches),
    "missed": (lambda chip: chip.time is not None, _missed),
    "sprites": (lambda chip: chip.sprites is not None, _sprites),
    "drop": (lambda chip: chip.sprites is not None, _drops),
    "collision": (lambda chip: chip.collisions is not None, _collisions),
    "flag": (lambda chip: chip.status is not None, _flags),
    "left": (tells, _left),
}
"""For each kind which chips have it, and what makes its records."""
