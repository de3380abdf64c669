"""Signals of a dump found by their bits and by what they do, where their names say nothing.

Law: a signal is taken for a role where it is the only one that fits it; where several fit, that is a mistake that names them
all and shows how to say which. What a signal has to do follows from the folder alone: how far it counts, for how long it
stays, which numbers it has. Synchronisation pulses, channels of colours and the sign of a used slot are never found so.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from typing import NamedTuple

from ....door.shown import clipped, counted, named
from ....files.problems import Problem
from ...records.index import Index
from .dump import WIDEST, Dump, Signal
from .habits import Habit, Runs, habits, runs
from .roles import Chosen, shows_dots

COUNTED = {"dot": "dots of a line", "line": "lines of a frame", "slot": "slots of a line"}
"""Roles that count from 0, and what they count."""

LIKELY = 0.5
"""Of the numbers that a signal changes to at least this part is expected of its role: some may be wrong."""

MANY = 0.5
"""One with fewer different numbers that are expected than this part of another's is none beside it: clients are no entries."""

FEWEST = 4
"""So many different numbers that are expected a signal has at least, where so many are: a frame's number has fewer."""

MOST_CLOCKS = 4
"""Clocks that are tried."""

BEATS = 16
"""How often a clock changes at least."""

Expected = Mapping[str, frozenset[int]]
"""The numbers that a folder's first frame expects of a role."""


class Taken(NamedTuple):
    """A signal that was taken for a role, and why."""

    role: str
    path: str
    why: str


class Fits(NamedTuple):
    """Who was found for which role, and the problems of a kind of which nothing is compared, since several fit."""

    roles: dict[str, Chosen]
    taken: tuple[Taken, ...]
    doubts: tuple[Problem, ...]


Candidates = dict[str, dict[bytes, str]]
"""For each role the signals that fit it by their id codes, each with why."""


def fitted(
    opened: Callable[[], Dump], signals: Sequence[Signal], index: Index, roles: Mapping[str, Chosen], expected: Expected
) -> Fits:
    """Signals for the roles that ``roles`` lacks, of dots and of accesses. Raises UnreadableDumpError."""
    looked = _Looked(opened, signals, index, roles, expected)
    found, taken, doubts = dict[str, Chosen](), list[Taken](), list[Problem]()
    for candidates in (looked.dots, looked.accesses):
        settled, unsettled = _settled(candidates(found))
        if unsettled:
            doubts += [looked.doubt(role, codes) for role, codes in unsettled.items()]
            continue
        for role, (code, why) in settled.items():
            one = looked.signals[code]
            found[role] = Chosen(one, 0, one.bits, inverted=False)
            taken.append(Taken(role, one.path, why))
    return Fits(found, tuple(taken), tuple(dict.fromkeys(doubts)))


def _settled(candidates: Candidates) -> tuple[dict[str, tuple[bytes, str]], Candidates]:
    """Who has which role, a signal one role at most; and the roles that several are left for."""
    left = {role: dict(fitting) for role, fitting in candidates.items()}
    found: dict[str, tuple[bytes, str]] = {}
    while alone := [role for role, fitting in left.items() if len(fitting) == 1]:
        ((code, why),) = left.pop(alone[0]).items()
        found[alone[0]] = code, why
        for fitting in left.values():
            fitting.pop(code, None)
    return found, left


class _Looked:
    """The signals of a dump that have no role yet, with what they do."""

    def __init__(
        self,
        opened: Callable[[], Dump],
        signals: Sequence[Signal],
        index: Index,
        roles: Mapping[str, Chosen],
        expected: Expected,
    ) -> None:
        self.opened, self.index, self.roles, self.expected = opened, index, roles, expected
        self.signals: dict[bytes, Signal] = {}
        for one in signals:
            if one.bits <= WIDEST:
                self.signals.setdefault(one.code, one)
        self.habits = habits(opened(), self.signals.values())
        taken = {one.signal.code for one in roles.values()}
        self.free = {code: habit for code, habit in self.habits.items() if code not in taken and habit.changes}
        self.counts = {role: self._counting(role) for role in COUNTED}
        self.numbered = {code for codes in self.counts.values() for code in codes}

    def doubt(self, role: str, codes: Mapping[bytes, str]) -> Problem:
        """That several fit a role, or none any more: another role has it."""
        paths = [self.signals[code].path for code in codes]
        if not paths:
            return Problem("", 0, f"signal {role}", "the one signal that fits it is taken for something else")
        told = f"by its bits and what it does could be any of {named(paths, 240)}"
        return Problem("", 0, f"signal {role}", f"{told}: say which, as --signal {role}={clipped(paths[0])}")

    def dots(self, _found: Mapping[str, Chosen]) -> Candidates:
        """Who may be what of the dots; nothing where some role has nobody."""
        asks: Candidates = {}
        if not shows_dots(self.roles):
            asks |= next(({role: fits} for role in ("entry", "colour") if (fits := self._holding(role))), {"entry": {}})
        if "dot" not in self.roles:
            asks |= {"dot": self.counts["dot"]} if self.counts["dot"] else self._clocked()
        if "line" not in self.roles and "clock" not in self.roles and "dot" in {*self.roles, *asks}:
            asks["line"] = self.counts["line"]
        return self._with_frame(asks, {})

    def accesses(self, found: Mapping[str, Chosen]) -> Candidates:
        """Who may be what of the accesses; nothing where some role has nobody."""
        asks: Candidates = {}
        if "slot" not in self.roles:
            asks["slot"] = self.counts["slot"]
        if "line" not in self.roles and "line" not in found:
            asks["line"] = self.counts["line"]
        asks |= {role: self._holding(role) for role in ("client", "address") if role not in self.roles}
        if "busy" not in self.roles and "client" in asks:
            unsaid = "no signal is busy, so a slot is used where this is a client"
            asks["client"] = {code: f"{why}; {unsaid}" for code, why in asks["client"].items()}
        if "data" not in self.roles and (data := self._holding("data")):
            asks["data"] = data
        for fits in asks.values():
            for one in found.values():
                fits.pop(one.signal.code, None)
        return self._with_frame(asks, found)

    def _with_frame(self, asks: Candidates, found: Mapping[str, Chosen]) -> Candidates:
        """The candidates, and those for the frame's number, which a dump need not have; {} where a role has none."""
        if not all(asks.values()):
            return {}
        line = {**self.roles, **found}.get("line")
        codes = [line.signal.code] if line else [*asks.get("line", {})]
        if "frame" not in {*self.roles, *found} and "frame_start" not in self.roles and len(codes) == 1:
            frames = self._frames(self.habits[codes[0]])
            asks |= {"frame": frames} if frames else {}
        return asks

    def _counting(self, role: str) -> dict[bytes, str]:
        """Those that count from 0 as far as the role does and begin again; without one, those that have not come so far."""
        index = self.index
        several = {
            "dot": {index.dots_per_line, *(one.width for one in index.frames)},
            "line": {index.lines_per_frame, *(one.height for one in index.frames)},
            "slot": {index.slots_per_line},
        }[role]
        fits = {
            code: habit
            for code, habit in self.free.items()
            if self.signals[code].bits > 1 and _counts(habit, {each - 1 for each in several})
        }
        again = {code: habit for code, habit in fits.items() if habit.falls}
        return {code: f"counts 0 to {max(habit.values)}, {COUNTED[role]}" for code, habit in (again or fits).items()}

    def _frames(self, line: Habit) -> dict[bytes, str]:
        """Those that go on by one, or change, once for each time that the line falls to 0."""
        return {
            code: "goes on as the line begins again"
            for code, habit in self.free.items()
            if line.falls and abs(habit.changes - line.falls) <= 1
            if not habit.jumps and (not habit.falls or self.signals[code].bits == 1)
        }

    def _holding(self, role: str) -> dict[bytes, str]:
        """Those with bits enough for the numbers that are expected, most of whose numbers are such, many different ones."""
        expected = self.expected.get(role, frozenset())
        need = 24 if role == "colour" else max(max(expected, default=0).bit_length(), 1)
        found, many = {}, {}
        for code, habit in self.free.items():
            bits = self.signals[code].bits
            wide = bits == need or (bits > need and role != "colour")
            part = _part(habit, expected) if wide and code not in self.numbered else 0
            if part >= LIKELY:
                found[code] = f"{counted(bits, 'bit')}, and {part:.0%} of its numbers are expected of {role}"
                many[code] = len(habit.values.keys() & expected)
        return {code: why for code, why in found.items() if many[code] >= MANY * max(many.values())}

    def _clocked(self) -> Candidates:
        """Clocks, and signals that are 1 (or 0: blank) for a picture's width of their rises."""
        pairs = [*self._pairs()]
        role = next((role for role in ("valid", "blank") if any(each[1] == role for each in pairs)), None)
        mine = [each for each in pairs if each[1] == role]
        asks: Candidates = {}
        if "clock" not in self.roles:
            asks["clock"] = {clock: "one bit that changes at equal times" for clock, _, _, _ in mine}
        if role is not None and role not in self.roles:
            asks[role] = {gate: f"one bit, {why}" for _, _, gate, why in mine}
        return asks if role else {"clock": {}}

    def _pairs(self) -> Iterator[tuple[bytes, str, bytes, str]]:
        """Each clock with a role, a signal that has it by that clock, and why."""
        given = {role: self.roles[role] for role in ("valid", "blank") if role in self.roles}
        gates = [one.signal.code for one in given.values()] or [
            code for code in self.free if self.signals[code].bits == 1
        ]
        for clock, falling in self._clocks():
            found = runs(self.opened(), clock, [code for code in gates if code != clock], falling=falling)
            for code, each in found.items():
                for role, on in (("valid", 1), ("blank", 0)):
                    turned = role in given and given[role].inverted
                    if (not given or role in given) and (why := self._opens(each, on ^ turned)):
                        yield clock, role, code, why

    def _clocks(self) -> list[tuple[bytes, bool]]:
        """The clocks, and whether they count by their falls."""
        if "clock" in self.roles:
            return [(self.roles["clock"].signal.code, self.roles["clock"].inverted)]
        steady = [
            code
            for code, habit in self.free.items()
            if self.signals[code].bits == 1 and habit.changes >= BEATS and len(habit.spans) <= 2
        ]
        return [(code, False) for code in steady[:MOST_CLOCKS]]

    def _opens(self, found: Runs, on: int) -> str:
        """Why a signal is one that shows where the picture is; empty where it is none."""
        index = self.index
        shown = {length for value, length in found.every if value == on}
        between = [length for value, length in found.every if value != on]
        for one in index.frames:
            beside = index.dots_per_line - one.width
            below = beside + (index.lines_per_frame - one.height) * index.dots_per_line
            lines = [*_stretches(between, below)]
            if shown == {one.width} and {*between} <= {beside, below} and max(lines) <= one.height - 1:
                return f"{on} for {one.width} rises of the clock at a time, at most {one.height} times a frame"
        return ""


def _part(habit: Habit, expected: Collection[int]) -> float:
    """Which part of the numbers that a signal changes to is expected; 0 where these are too few to tell."""
    like = {value: count for value, count in habit.values.items() if value in expected}
    return sum(like.values()) / sum(habit.values.values()) if len(like) >= min(FEWEST, len(expected)) else 0


def _counts(habit: Habit, tops: Collection[int]) -> bool:
    """Whether a signal counts up by one, falls to 0 from one of ``tops`` alone, and never goes beyond."""
    ups = habit.ups >= 2 and not habit.jumps and max(habit.values) <= max(tops)
    return ups and habit.fallen_to <= {0} and len(habit.fallen_from) <= 1 and habit.fallen_from <= set(tops)


def _stretches(between: Sequence[int], below: int) -> Iterator[int]:
    """How many other pauses there are before, between and after those that are as long as ``below``."""
    many = 0
    for length in between:
        if length == below:
            yield many
            many = 0
        else:
            many += 1
    yield many
