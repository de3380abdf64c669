"""What a frame of a scene is drawn from: its state at the start, with all that the CPU has moved by then, and what was asked for.

Law: no frame is drawn whose drawing does not matter. Without bytes of the CPU under way the scene says itself what a frame
begins with, however late it is. Frames with such bytes are drawn, one after the other, until what they leave comes again:
from there on whole rounds are left out. What was reached is kept, up to a size, and given again; threads may share it. A frame
knows its origin, so that whoever explains it can ask for more of it than was kept. A frame of a running machine has its chip
alone: what the machine held is gone.
"""

from __future__ import annotations

from threading import Lock
from typing import TYPE_CHECKING, NamedTuple
from weakref import WeakKeyDictionary

import numpy as np

from ..chip.model import Chip
from ..door.telling import tell
from ..engine import Plan, Program, Rule, draw
from ..state.state import State

if TYPE_CHECKING:
    from ..scene import Scene


LATEST = 2
"""So many states left last are kept: with two, the frame drawn last and the one after it follow at once."""

STATIONS_APART = 256
"""Frames from one state that is kept for longer to the next; twice as many each time there is no room left."""

ROOM = 1 << 26
"""Bytes of video memory in all states that are kept of a scene, in which there is room for two in any case."""


class Origin(NamedTuple):
    """A frame's ``chip`` and ``rule`` and, where a scene was drawn, that ``scene``, the frame's ``number``, and ``damage``."""

    chip: Chip
    scene: Scene | None = None
    number: int = 0
    rule: Rule | None = None
    damage: bool = False


class _KeptStates:
    """States of one scene, each at the start of its frame. What is in it is never changed."""

    def __init__(self, scene: Scene) -> None:
        self.lock = Lock()
        self.latest: tuple[State, ...] = ()
        self.stations: dict[int, State] = {}
        self.apart = STATIONS_APART
        self.most = ROOM // scene.chip.memory.size - LATEST

    def keep(self, left: State) -> None:
        with self.lock:
            self.latest = (left, *(one for one in self.latest if one.frame != left.frame))[:LATEST]
            if self.most <= 0 or left.frame % self.apart:
                return
            self.stations[left.frame] = left
            while len(self.stations) > self.most:
                self.apart *= 2
                self.stations = {at: one for at, one in self.stations.items() if at % self.apart == 0}

    def before(self, frame: int) -> State | None:
        """The last that is kept of the frames up to ``frame``."""
        with self.lock:
            found = [one for one in (*self.latest, *self.stations.values()) if one.frame <= frame]
        return max(found, key=lambda one: one.frame, default=None)


_KEPT: WeakKeyDictionary[Scene, _KeptStates] = WeakKeyDictionary()
_LOCK = Lock()


def _kept(scene: Scene) -> _KeptStates:
    with _LOCK:
        return _KEPT.setdefault(scene, _KeptStates(scene))


def remember(scene: Scene, left: State) -> None:
    """Keep the state that a drawn frame has left, where the frames after it follow from it. It must not be changed any more."""
    if scene.moves_from is not None and left.frame > scene.moves_from:
        _kept(scene).keep(left)


def reached(plan: Plan, scene: Scene, frame: int) -> State:
    """A fresh state at the start of a scene's ``frame``, with all that the CPU has moved by then.

    Before each frame that has to be drawn on the way, ``telling`` is told.
    """
    first = scene.moves_from
    if first is None or frame <= first:
        return scene.state(frame)
    left = _kept(scene).before(frame) or scene.state(first)
    rounds = _Rounds(scene, frame)
    while True:
        if not left.waiting:
            busy = scene.moves_next(left.frame)
            if busy is None or busy >= frame:
                break
            state = scene.state(busy, left)
        elif left.frame < frame:
            state = scene.state(left.frame, left)
        else:
            break
        tell(scene.name, state.frame, frame)
        program = Program(plan, scene.writes(state.frame))
        draw(plan, state, program, damage=True)  # what another frame misses is no fault of the one that is asked for
        remember(scene, state)
        left = rounds.ahead(state)
    return scene.state(frame, left)


class _Rounds:
    """Looks whether what a frame has left was there before, at the same point of the scene's own round."""

    def __init__(self, scene: Scene, frame: int) -> None:
        self.frame = frame
        self.since, self.period = scene.rhythm(frame)
        self.before: State | None = None
        self.patience = 1

    def ahead(self, left: State) -> State:
        """``left`` or, where it was there before, a copy of it as many whole rounds later as end by the wanted frame."""
        if left.frame < self.since:
            return left
        before = self.before
        if before is None:
            self.before = left
            return left
        passed = left.frame - before.frame
        if passed % self.period:  # the scene itself is elsewhere in its round
            return left
        if _alike(before, left):
            return _later(left, passed, (self.frame - left.frame) // passed, left.transfers - before.transfers)
        # The state that others are held against moves on after twice the time each time: so any round is found, wherever
        # it begins, with one state kept and one comparison a period (R. Brent's way to find cycles).
        if passed >= self.patience * self.period:
            self.before, self.patience = left, 2 * self.patience
        return left


def _alike(one: State, other: State) -> bool:
    """Whether all that follows from two states is the same, but for the numbers of frames and transfers."""
    numbers = [state.transfers - waiting.number for state in (one, other) for waiting in state.waiting]
    half = len(one.waiting)
    return (
        (one.next_frame, one.line, one.collision_flags, one.status, one.ports, one.held)
        == (other.next_frame, other.line, other.collision_flags, other.status, other.ports, other.held)
        and (one.ahead, one.buffers, one.kept) == (other.ahead, other.buffers, other.kept)
        and [each[1:] for each in one.waiting] == [each[1:] for each in other.waiting]
        and numbers[:half] == numbers[half:]
        and all(
            np.array_equal(getattr(one, name), getattr(other, name))
            for name in ("controls", "palette", "sprites", "memory")
        )
    )


def _later(left: State, length: int, rounds: int, transfers: int) -> State:
    """``left`` so many ``rounds`` of ``length`` frames later, each of which begins so many ``transfers``."""
    if not rounds:
        return left
    later = left.copy()
    later.frame += rounds * length
    later.transfers += rounds * transfers
    later.waiting = tuple(one._replace(number=one.number + rounds * transfers) for one in later.waiting)
    return later
