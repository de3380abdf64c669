"""A line that is served, and what is kept of it: how near each client came to being late, and the room that sprites had.

Law: plain data. Knows no way to serve it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from ...chip.line.serving import Job, Shape, Stretch
from .kinds import LineKind


class Line(NamedTuple):
    """A line: its kind, what each layer fetches (None: nothing), and the accesses that its sprites make.

    ``size``: the picture's, by its number, where several sizes are told of together; None where there is one alone.
    """

    kind: LineKind
    layers: tuple[Stretch | None, ...]
    sprites: int
    size: int | None = None

    @property
    def shape(self) -> Shape:
        """The line as a server of slots takes it."""
        return Shape(self.kind.picture, tuple((one,) for one in self.layers))


class Spare(NamedTuple):
    """How near ``client`` comes to being late on ``line``.

    ``slots``: how many slots before the last that serves its latest burst came, below 0 where accesses are ``missed``.
    ``slot``: that of the burst's last access, -1 where it has none; ``last``: the last that would serve. ``group``: whom the
    burst was for.
    """

    slots: int
    missed: int
    client: str
    slot: int
    last: int
    group: int
    line: Line

    @property
    def nearness(self) -> tuple[int, int]:
        """What is compared: less is nearer to being late, or misses more."""
        return self.slots, -self.missed


class ClientWork(NamedTuple):
    """A client's jobs for a stretch, the accesses that they ask for together, and the last slot that would serve each."""

    jobs: Sequence[Job]
    accesses: int
    last: Sequence[int]


class SpriteRoom(NamedTuple):
    """The slots that sprites could have on ``line``."""

    slots: int
    line: Line


NOWHERE = Line(LineKind(()), (), 0)
"""Stands in a ``Spare`` until its line has been served to the end."""
