"""How late each access can come at most, told from stretches of time in which no open slot is idle.

Law: the second bound of ``bound.py``, which asks for it client by client, in the order in which they are served. Such a stretch
begins where no client up to the one that is bounded has any work left, so that only what is asked for from there on counts:
what came before has been done. Holds only where every client may have every slot; a slot that nobody may have would be idle.
"""

from __future__ import annotations

import numpy as np

from .taken import BoundedWay, LineClients, Slots

MOST_STARTS, MOST_ENDS = 128, 512
"""Moments at which a busy stretch may begin, and end, that the second bound looks at, where a line has more slots than these."""


class Busy:
    """The second bound: stretches that begin where no client up to the one that is bounded has any work left.

    From there on no open slot is idle until the access that is asked about is done; so it is done as soon as there were as
    many open slots as accesses that were asked for since the beginning by those before it, and by itself up to this one. What
    waits for its cell counts as asked for from the cell's own beginning on: until then the cell asks in its place.
    """

    def __init__(self, lines: LineClients) -> None:
        self.lines, slots = lines, lines.slots
        step = 1 if slots <= MOST_ENDS else -(-slots // MOST_STARTS)
        self.starts = np.arange(0, slots, step)
        self.ends = np.append(np.arange(0, slots, -(-slots // MOST_ENDS)), slots)
        open_before = np.concatenate([[0], np.cumsum(lines.open)])
        # a stretch that begins between this start and the next has at least the slots from the last moment between them on
        begun = np.minimum(self.starts + step - 1, slots)
        self.supply = open_before[self.ends][None, :] - open_before[begun][:, None]
        self._known: dict[tuple[int, tuple[int, ...], tuple[str, ...]], Slots] = {}

    def latest(self, layer: int, mode: int, way: BoundedWay, begins: Slots) -> Slots:
        """The latest slot of each access, given from which slot on each is asked for at the latest."""
        left = self._left(layer, mode, way)
        first = np.searchsorted(begins, self.starts)  # the accesses of each stretch are those from here on
        rows, places = np.nonzero(np.arange(len(begins))[None, :] >= first[:, None])
        # one search for all rows: each row is lifted above all that stand before it, so that together they are in order
        lift = int(left.max()) + len(begins) + 2
        flat = (left + lift * np.arange(len(left))[:, None]).reshape(-1)
        found = np.searchsorted(flat, places + 1 - first[rows] + lift * rows) - rows * len(self.ends)
        done = np.append(self.ends, self.lines.slots + 1)[np.minimum(found, len(self.ends))] - 1
        latest = np.zeros(len(begins), np.int64)
        np.maximum.at(latest, places, done)
        return latest

    def _left(self, layer: int, mode: int, way: BoundedWay) -> Slots:
        """From each start up to each end: the slots that those before leave at least, never fewer at a later end."""
        left = self.supply - self._others(layer, mode)
        for own in way.asked.values():
            left -= self._asked(*own)
        return np.maximum.accumulate(np.clip(left, 0, None), axis=1)

    def _asked(self, early: Slots, late: Slots) -> Slots:
        """How many accesses can be asked for from each start on up to each end."""
        found: Slots = np.searchsorted(early, self.ends)[None, :] - np.searchsorted(late, self.starts)[:, None]
        return np.maximum(found, 0)

    def _others(self, layer: int, mode: int) -> Slots:
        """The same of all clients before, of other layers and of sprites, at most."""
        lines = self.lines
        found = np.zeros(self.supply.shape, np.int64)
        for beside in lines.ways.together(layer, mode, picture=lines.picture):
            asked = np.zeros(self.supply.shape, np.int64)
            for other, modes in beside.items():
                asked += self._of_layer(other, modes)
            np.maximum(found, asked, out=found)
        if lines.of_sprites is not None:
            found[0] += len(lines.of_sprites.latest)  # they ask from slot 0 on
        return found

    def _of_layer(self, layer: int, modes: tuple[int, ...]) -> Slots:
        """What a layer's clients that come before ask for at most in any of ``modes``."""
        names = tuple(self.lines.done_of(layer))
        key = (layer, modes, names)
        if key not in self._known:
            most = np.zeros(self.supply.shape, np.int64)
            for way in (way for mode in modes for way in self.lines.modes[layer][mode]):
                asked = [self._asked(*way.asked[one]) for one in names if one in way.asked]
                np.maximum(most, np.sum(asked, axis=0) if asked else 0, out=most)
            self._known[key] = most
        return self._known[key]
