"""Records that have a place each in a grid of lines and steps: the dots of a picture, the slots of a frame.

Law: what is there is compared. A frame's window reaches from the first to the last step that came anywhere in it; within the
window, and on lines of which anything came, what is wanted and did not come is missing. All else that did not come is absent,
and no fault: the lines and steps beside, what lies before the capture begins and after it ends.
An access at a line or in a slot that no frame has is one too many.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import numpy.typing as npt

from ..records.framed import Framed
from ..records.index import Index, sizes
from ..records.parsing import Columns
from .outcome import BESIDE, EXTRA, MISSING, TWICE, UNLIKE, Difference, Outcome, odd_bits, row
from .shift import NONE, Shift, period, step_of

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

COMPARED = {"dot": ("entry", "colour"), "access": ("client", "address", "value")}
"""The kinds that have a grid, and which of their columns are compared."""


class Grid:
    """A kind of record, compared frame by frame."""

    def __init__(self, index: Index, kind: str, shift: Shift, *, whole: bool) -> None:
        self.kind, self.shift, self.whole = kind, shift, whole
        self.step = step_of(kind) or "dot"
        dots = kind == "dot"
        self.lines, self.steps = (index.height, index.width) if dots else (index.lines_per_frame, period(index, kind))
        self.sizes = sizes(index) if dots else dict[int, tuple[int, int]]()
        self.late = shift.lines * period(index, kind) + shift.steps
        self.per_line = period(index, kind)
        self.outcome = Outcome(kind, shift, np.zeros(index.lines_per_frame, np.bool_))
        self.begun = False
        self.quiet: tuple[int | None, ...] | None = None

    def gap(self, number: int, expected: Columns) -> None:
        """Nothing came of frame ``number``."""
        many = len(expected.get("line", ()))
        if not self.whole:
            self.outcome.absent += many
        elif many:
            first = Difference(number, *self._place(expected, 0), MISSING, (row(self.kind, expected, 0),), ())
            self.outcome.note(first, MISSING, many, np.unique(expected["line"]))

    def frame(self, one: Framed, expected: Columns) -> Bools:
        """Compare a frame; bool (lines x steps,), the places that differ."""
        size = self.sizes.get(one.frame, (self.lines, self.steps))
        at, inside = self._places(one.columns, size)
        came = {name: column[inside] for name, column in one.columns.items()}
        wanted = np.full(self.lines * self.steps, -1, np.int64)
        if expected:
            where, there = self._places(expected, size)
            wanted[where[there]] = np.flatnonzero(there)
        arrived = np.full(len(wanted), -1, np.int64)
        arrived[at] = np.arange(len(at))
        gone = np.flatnonzero((wanted >= 0) & (arrived < 0))
        sorts = {
            UNLIKE: at[self._unlike(came, expected, wanted[at])],
            EXTRA: np.unique(at[wanted[at] < 0]),
            TWICE: np.flatnonzero(np.bincount(at, minlength=len(wanted)) > 1),
            MISSING: gone[self._window(at, one)[gone]] if len(gone) else gone,
        }
        self.outcome.seen += int((wanted[at] >= 0).sum())
        self.outcome.outside += len(inside) - len(at)
        self.outcome.absent += len(gone) - len(sorts[MISSING])
        wrong = np.zeros(len(wanted), np.bool_)
        for sort, places in sorts.items():
            wrong[places] = True
            if len(places):
                first = int(places.min())
                told = self._told(one.frame, first, sort, expected, wanted[first], came, at)
                self.outcome.note(told, sort, len(places), np.unique(places // self.steps))
        self._beside(one, inside, expected, size)
        self._nowhere(one, inside)
        self.begun = True
        return wrong

    def _places(self, columns: Columns, size: tuple[int, int]) -> tuple[Ints, Bools]:
        """The places of records that lie within the frame's lines and steps, and which do."""
        line, step = columns["line"], columns[self.step]
        inside = (line >= 0) & (line < size[0]) & (step >= 0) & (step < size[1])
        return (line * self.steps + step)[inside], inside

    def _place(self, columns: Columns, at: int) -> tuple[int, int]:
        return int(columns["line"][at]), int(columns[self.step][at])

    def _unlike(self, came: Columns, expected: Columns, wanted: Ints) -> Bools:
        """Which of those that came have another value than is wanted."""
        wrong, there = np.zeros(len(wanted), np.bool_), wanted >= 0
        if not there.any():
            return wrong
        for name in COMPARED[self.kind]:
            if name in came:
                unlike = expected[name][wanted] != came[name]
                odd = odd_bits(self.kind, came, name)
                wrong |= unlike if odd is None else (unlike | odd[0]) & ~odd[1]
        return wrong & there

    def _window(self, at: Ints, one: Framed) -> Bools:
        """Bool (lines x steps,): where the capture would have something if anything had come."""
        if self.whole:
            return np.ones(self.lines * self.steps, np.bool_)
        window = np.zeros((self.lines, self.steps), np.bool_)
        if len(at):
            line, step = np.divmod(at, self.steps)
            columns = np.arange(int(step.min()), int(step.max()) + 1)
            if self.kind == "dot" and self.shift.steps:
                columns = np.unique(step)  # those of a line may come on two, with what no picture shows between them
            window[np.ix_(np.unique(line), columns)] = True
            if not self.begun:
                window.reshape(-1)[: int(at.min())] = False
            if one.last:
                window.reshape(-1)[int(at.max()) + 1 :] = False
        return window.reshape(-1)

    def _told(
        self, number: int, place: int, sort: str, expected: Columns, wanted: Ints, came: Columns, at: Ints
    ) -> Difference:
        line, step = divmod(place, self.steps)
        arrived = np.flatnonzero(at == place)[:2].tolist()
        return Difference(
            number,
            line,
            step,
            sort,
            (row(self.kind, expected, int(wanted)),) if wanted >= 0 else (),
            tuple(row(self.kind, came, each) for each in arrived),
        )

    def _beside(self, one: Framed, inside: Bools, expected: Columns, size: tuple[int, int]) -> None:
        """Count what the shift moves out of the picture and what yet shows something there.

        A design that is late shows one thing in the blanking before its picture, or the backdrop; what else was within the
        picture as it came may be a picture that a fault has moved.
        """
        if self.kind != "dot" or self.shift[:2] == NONE[:2] or inside.all():
            return
        out = {name: column[~inside] for name, column in one.columns.items()}
        line, step = out["line"] + self.shift.lines, out[self.step] + self.shift.steps
        line, step = line + step // self.per_line, step % self.per_line
        frame_lines = len(self.outcome.lines)
        within = (line % frame_lines < size[0]) & (step < size[1])
        loud = np.flatnonzero(within & ~self._is_quiet(out, within, expected))
        if len(loud):
            place = int(line[loud[0]] % frame_lines), int(step[loud[0]])
            found = Difference(one.frame, *place, BESIDE, (), (row(self.kind, out, int(loud[0])),))
            self.outcome.note(found, BESIDE, len(loud), np.unique(line[loud] % frame_lines))

    def _nowhere(self, one: Framed, inside: Bools) -> None:
        """Accesses at a line or in a slot that no frame has: a counter that runs too far, or a sign that is wrong."""
        if self.kind == "dot" or inside.all():
            return
        out = {name: column[~inside] for name, column in one.columns.items()}
        found = Difference(one.frame, *self._place(out, 0), EXTRA, (), (row(self.kind, out, 0),))
        self.outcome.note(found, EXTRA, int((~inside).sum()), out["line"])

    def _is_quiet(self, out: Columns, within: Bools, expected: Columns) -> Bools:
        """Which records show the backdrop, are not known, or show what the first such record of the capture shows."""
        name = "entry" if "entry" in out else "colour"
        odd = odd_bits(self.kind, out, name)
        known = ~(odd[0] | odd[1]) if odd else np.ones(len(within), np.bool_)
        backdrop = expected[name][expected["source"] == 0] if expected else np.empty(0, np.int64)
        loud = within & known & ~np.isin(out[name], backdrop)
        if self.quiet is None and loud.any():
            self.quiet = (int(out[name][np.flatnonzero(loud)[0]]),)
        return ~loud if self.quiet is None else ~loud | (out[name] == self.quiet[0])


def codes(kind: str, columns: Columns, names: tuple[str, ...]) -> Ints:
    """One number for the columns ``names`` of each record: equal for equal ones and, but for rare chances, for no others."""
    code = np.zeros(len(columns["line"]), np.int64)
    for name in names:
        # 2**64 over the golden ratio, made odd, as int64 has it: it spreads numbers that lie close (Knuth, TAOCP 3, 6.4).
        code = (code ^ columns[name]) * np.int64(-7046029254386353131)
        code ^= code >> np.int64(29)
        odd = odd_bits(kind, columns, name)
        if odd is not None:
            code = np.where(odd[0] | odd[1], np.int64(-2), code)
    return code


def compared(kind: str, came: Columns) -> Iterator[tuple[str, ...]]:
    """Columns to hunt by: all that are compared and came, then without the one that may be off by a constant."""
    names = tuple(name for name in COMPARED[kind] if name in came)
    yield names
    fewer = tuple(name for name in names if name not in {"entry", "address"})
    if fewer and fewer != names:
        yield fewer
