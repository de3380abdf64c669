"""How the CPU's bytes land where every line gives it the slots that leave it furthest behind.

Law: bytes land by the rule of a drawn frame (DEVELOPERS.md, "The CPU's pace"). A line takes, of the sets of slots that it may
give the CPU, the one that is worst for it; what is told is a bound for every choice of them. Plain Python.

Why that is a bound. Moments t and landings L are worked out from earlier ones by taking the later of two, adding, and finding
the next slot: where no moment and no landing is earlier, none that follows is, and no byte lands sooner. What a line leaves
behind is a state: how many bytes have landed, and when each of the bytes for which the queue has a place is at hand, 0 where
that is past. After a line the fewest bytes of all its sets have landed, and each of the next bytes is at hand at the
latest of their moments, where it has landed with some counting as 0: every state that a set could have left is at least as
far, byte by byte, and so it stays on any lines that come. With a queue of one byte there is one moment in a state: fewest bytes
and then latest moment is what one of the sets leaves, and the bound is reached. With more, several sets may have their share
in it: then fewer bytes may be told than land in any frame, and never more.

A set that holds all slots of another leaves the CPU no further behind, since a byte finds its next slot no later there; it is not
tried.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from itertools import accumulate
from typing import NamedTuple

from ..chip.line.rates import Pace, line_slots
from ..chip.model import Chip

MOST_FRAMES = 120
"""Frames after which a refill is given up."""

CpuSlots = tuple[int, ...]
"""Slots of a line that the CPU can have, in order."""

LandingState = tuple[int, ...]
"""When the next bytes are at hand, in short: how many are already, then the moments of those after them, in units of the pace
from the beginning of a line's slots. Left out at the end are those that come a loop of the CPU after the one before."""

BEGUN: LandingState = (1,)
"""The state at the start of a transfer: its first byte is at hand."""


class LandingStep(NamedTuple):
    """A line or a frame: bytes that land, those of them in blank slots, and the state that is left."""

    landed: int
    blank: int
    after: LandingState


class FrameLanding(NamedTuple):
    """A frame: its step, and how many bytes have landed by the end of each of its lines."""

    step: LandingStep
    by_line: tuple[int, ...]


class Landing:
    """Lets bytes without end land from the first slot after the picture on, frame after frame.

    ``picture``: the sets of slots that lines of the picture can leave the CPU; ``last``: those that the last line below it
    can, in whose slots sprites and line buffers may be prepared; ``empty``: what the other lines below leave it.
    """

    def __init__(self, chip: Chip, picture: Sequence[CpuSlots], last: Sequence[CpuSlots], empty: CpuSlots) -> None:
        line, height = line_slots(chip), chip.frame.height
        self.chip, self.pace = chip, Pace.of(chip)
        under = chip.frame.lines_per_frame - height
        self._lines = [0] * (under - 1) + [1] * min(under, 1) + [2] * height
        self._sets = [smallest(sets) for sets in ([empty], last, picture)]
        self._blank = (line.slots, line.slots, line.blank)
        self._steps: dict[tuple[int, LandingState], LandingStep] = {}
        self._frames: dict[LandingState, FrameLanding] = {}

    def in_a_frame(self) -> tuple[int, int]:
        """Bytes that land within a frame's time, and those of them that land in blank slots."""
        return self._frame(BEGUN).step[:2]

    def lines_for(self, wanted: Sequence[int]) -> dict[int, int | None]:
        """For each number of bytes, 1 or more, the lines until the last has landed; None where it has not in MOST_FRAMES."""
        found: dict[int, int | None] = dict.fromkeys(wanted)
        left = sorted(found, reverse=True)
        state, landed = BEGUN, 0
        for number in range(MOST_FRAMES):
            frame = self._frame(state)
            while left and left[-1] <= landed + frame.step.landed:
                line = bisect_left(frame.by_line, left[-1] - landed)
                found[left.pop()] = number * len(self._lines) + line + 1
            if not left:
                break
            landed, state = landed + frame.step.landed, frame.step.after
        return found

    def _frame(self, state: LandingState) -> FrameLanding:
        """A frame that begins with ``state``; worked out once."""
        if state not in self._frames:
            steps, now = [], state
            for kind in self._lines:
                steps.append(self._step(kind, now))
                now = steps[-1].after
            by_line = tuple(accumulate(step.landed for step in steps))
            self._frames[state] = FrameLanding(
                LandingStep(by_line[-1], sum(step.blank for step in steps), now), by_line
            )
        return self._frames[state]

    def _step(self, kind: int, state: LandingState) -> LandingStep:
        """A line that leaves the CPU furthest behind; worked out once. Kind 0: below the picture, 1: the last there, 2: in it."""
        if self.pace is not None and not state[0] and state[1] > self.pace.line:  # nothing is at hand before it ends
            return LandingStep(0, 0, (0, *[moment - self.pace.line for moment in state[1:]]))
        key = kind, state
        if key not in self._steps:
            sets, blank = self._sets[kind], self._blank[kind]
            if self.pace is None:
                self._steps[key] = min(LandingStep(len(slots), bisect_left(slots, blank), state) for slots in sets)
            else:
                at_hand = [0] * state[0] + list(state[1:])
                self._steps[key] = furthest_behind(self.pace, [run(self.pace, slots, at_hand, blank) for slots in sets])
        return self._steps[key]


class LineLanding(NamedTuple):
    """What a line's slots give: bytes landed, those in blank slots, and when each byte is at hand that has a place after it.

    Left out at the end are bytes that come a loop of the CPU after the one before, from the line's end on: no slot of this
    line holds them up.
    """

    landed: int
    blank: int
    at_hand: list[int]


def run(pace: Pace, slots: CpuSlots, at_hand: Sequence[int], blank: int) -> LineLanding:
    """Let bytes land in ``slots``, the first of them at hand as ``at_hand`` says; ``blank`` of the line's slots are blank."""
    moments, taken = list(at_hand), list[int]()
    place, byte, end = -1, 0, len(slots)
    while True:
        place = bisect_left(slots, pace.first_slot(moments[byte]), place + 1)
        if place == end:
            break
        taken.append(slots[place])
        byte += 1
        if byte == len(moments):
            moments.append(_follows(pace, moments, taken))
    while len(moments) < byte + pace.queue and moments[-1] < pace.line:
        moments.append(_follows(pace, moments, taken))
    return LineLanding(byte, bisect_left(taken, blank), [max(0, moment - pace.line) for moment in moments[byte:]])


def _follows(pace: Pace, moments: Sequence[int], taken: CpuSlots | list[int]) -> int:
    """When the byte after those of ``moments`` is at hand, once the first of them have ``taken`` their slots."""
    freed = len(moments) - pace.queue
    return (max(moments[-1], taken[freed] * pace.slot) if freed >= 0 else moments[-1]) + pace.byte


def furthest_behind(pace: Pace, runs: Sequence[LineLanding]) -> LandingStep:
    """The fewest bytes that have landed in any of ``runs``, and each byte after them at hand at the latest of its moments."""
    fewest = min(one.landed for one in runs)
    many = min(pace.queue, max(one.landed - fewest + len(one.at_hand) for one in runs))
    runs = [one._replace(at_hand=_as_many(pace, one.at_hand, many)) for one in runs]
    worst = min(runs, key=lambda one: (one.landed, [-moment for moment in one.at_hand], one.blank))
    at_hand = worst.at_hand
    if pace.queue > 1:
        for one in runs:
            ahead = one.landed - worst.landed
            at_hand = at_hand[:ahead] + [max(pair) for pair in zip(at_hand[ahead:], one.at_hand, strict=False)]
    return LandingStep(worst.landed, worst.blank, _short(pace, at_hand))


def _as_many(pace: Pace, at_hand: list[int], many: int) -> list[int]:
    """The moments of ``many`` bytes, of which ``at_hand`` has the first."""
    last, more = at_hand[-1], many - len(at_hand)
    return [*at_hand, *range(last + pace.byte, last + (more + 1) * pace.byte, pace.byte)] if more > 0 else at_hand


def _short(pace: Pace, at_hand: list[int]) -> LandingState:
    """Moments as a state holds them."""
    end = len(at_hand)
    while end > 1 and at_hand[end - 1] == at_hand[end - 2] + pace.byte:
        end -= 1
    past = at_hand.count(0)
    return (past, *at_hand[past:end])


def smallest(sets: Iterable[CpuSlots]) -> list[CpuSlots]:
    """Those of ``sets`` that hold all slots of no other."""
    found: list[frozenset[int]] = []
    least: list[CpuSlots] = []
    for slots in sorted(set(sets), key=lambda one: (len(one), one)):  # whatever a set holds has come before it
        every = frozenset(slots)
        if not any(map(every.issuperset, found)):
            found.append(every)
            least.append(slots)
    return least
