"""What the clients of a line take of its slots, as far as they have been bounded.

Law: the working state that both bounds share (``bound.py`` with ``others.py``, and ``busy.py``); it grows client by client, in
the order in which they are served. Nothing is concluded here.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from ...chip.line.serving import Stretch
from ...chip.line.slots import Server
from .ways import Ways

Ints = npt.NDArray[np.int32]
Slots = npt.NDArray[Any]


class Taken(NamedTuple):
    """What accesses take: the ``earliest`` and ``latest`` slots of each, in order, and how many have ``begun`` by each column."""

    earliest: Slots
    latest: Slots
    begun: Ints

    def over(self, places: Slots) -> Slots:
        """How many must be over before each of ``places``."""
        return np.searchsorted(self.latest, places)


@dataclass(eq=False)
class BoundedWay:
    """A layer's mode at one scroll position, and what its clients take: those that have been bounded so far."""

    stretch: Stretch
    taken: dict[str, Taken] = field(default_factory=dict)
    asked: dict[str, tuple[Slots, Slots]] = field(default_factory=dict)
    """From which slot on each access of a client can be asked for, in order: at the earliest, and at the latest."""
    cells: tuple[Slots, Slots] | None = None
    """The earliest and latest slots of the last access of each cell."""
    lost: bool = False
    """Whether cells may be missed: what hangs on them then is too."""


class LineClients:
    """The clients of a line of the picture, or of the last one below it, and what is known of each so far.

    ``open``: bool (slots,), those that nobody has before all clients. ``modes``: a layer's ways by mode. ``done``: the clients
    that are bounded; ``of_sprites``: what sprites take, once they are.
    """

    def __init__(self, server: Server, ways: Ways, *, picture: bool) -> None:
        self.server, self.ways, self.picture = server, ways, picture
        self.slots = server.line.slots
        self.open = np.zeros(self.slots, np.bool_)
        self.open[list(server.fresh(picture=picture)[0])] = True
        self.modes = [
            {mode: self._of_mode(number, mode) for mode in ways.modes(number) if mode is not None}
            for number in range(len(ways.chip.layers))
        ]
        self.done: list[str] = []
        self.of_sprites: Taken | None = None

    def done_of(self, layer: int) -> list[str]:
        """The layer's clients that come before the one that is being bounded."""
        return [one for one in self.done if self.server.places[one].layer == layer]

    def _of_mode(self, number: int, mode: int) -> list[BoundedWay]:
        """A mode's ways, one for each scroll position and part of the line that it feeds.

        Of those that differ in nothing else it is the one that keeps no cells and turns all, which asks for most.
        """
        found: dict[tuple[int, int, int], Stretch] = {}
        for stretch in self.ways.of(number, mode, picture=self.picture):
            if stretch is not None and not stretch.kept:
                found.setdefault((stretch.fine, stretch.first, stretch.last), stretch)
        return [BoundedWay(stretch) for stretch in found.values()]
