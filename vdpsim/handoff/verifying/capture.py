"""A capture: what a design printed, as records, whichever kind of file it is.

Law: a file that begins with ``$`` is a value change dump, any other is text. A long one is opened anew for each look at it, and
no more than a piece of it is held; the numbers of a short one are kept once it was read to its end, since whoever hunts for
shifts looks many times. Records whose place is not known are left out and counted.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from ...files import UnreadableError
from ...files.problems import InputError, Problem
from ..records.framed import Framed, OutOfOrderError, by_frame
from ..records.index import Index
from ..records.kinds import KINDS, OUTCOMES
from ..records.parsing import ODD, Columns, UnreadableRecordError, parsed
from .pieces import pieces, told_pieces
from .shift import NONE, Shift, moved, step_of
from .wave.dump import Dump, UnreadableDumpError
from .wave.fitting import Expected
from .wave.sampling import records as sampled
from .wave.signals import Signals, signals_of

KEPT = 1 << 22
"""How many numbers are kept of a capture: of the records of some frames. Of one that has more, none are."""

PLACE = ("frame", "line", "dot", "slot")
"""The columns that say where a record lies."""


class Capture:
    """The file ``path``; ``asked`` says which signals of a value change dump are what. Raises InputError.

    ``expected``: the numbers that a dump's signals are expected to have, by role, asked for where names do not say which is what.
    ``unplaced``: how many records the last look found of which no place is known. ``signals``: those of a dump, once looked at.
    """

    def __init__(
        self, path: str | Path, index: Index, asked: Mapping[str, str], expected: Callable[[], Expected]
    ) -> None:
        self.path, self.index, self.asked, self.expected = str(path), index, asked, expected
        self.unplaced, self.signals = 0, Signals({})
        self.kept: list[tuple[str, Columns]] | None = None
        self.stopped: tuple[list[tuple[str, Columns]], Iterator[tuple[str, Columns]], int] | None = None
        try:
            self.dump = next(pieces(path), b"").lstrip()[:1] == b"$"
        except UnreadableError as error:
            raise InputError([Problem(self.path, 0, "", str(error))]) from None
        if asked and not self.dump:
            message = "signals are chosen in a value change dump alone; this is a text of records"
            raise InputError([Problem(self.path, 0, "signal", message)])

    def frames(self, shifts: Mapping[str, Shift], renumbered: int = 0) -> Iterator[Framed]:
        """Its records without their shifts, whole frames at a time; each frame's number is ``renumbered`` higher.

        Raises InputError.
        """
        self.unplaced = 0
        try:
            yield from by_frame(self._moved(shifts, renumbered))
        except (UnreadableRecordError, UnreadableDumpError) as error:
            raise InputError([Problem(self.path, error.line, "", str(error))]) from None
        except (UnreadableError, OutOfOrderError) as error:
            raise InputError([Problem(self.path, 0, "", str(error))]) from None

    def _moved(self, shifts: Mapping[str, Shift], renumbered: int) -> Iterator[tuple[str, Columns]]:
        for kind, columns in self._records() if self.kept is None else self.kept:
            if kind in OUTCOMES:
                placed = moved(self.index, kind, self._placed(kind, columns), shifts.get(kind, NONE))
                yield kind, {**placed, "frame": placed["frame"] + renumbered} if renumbered else placed

    def _records(self) -> Iterator[tuple[str, Columns]]:
        """Its records as they stand there, kept at the end if there is room for them.

        Whoever stops on the way leaves what was read, and the rest, to the next: a large dump takes long to read.
        """
        found, rest, room = self.stopped or ([], self._read(), KEPT)
        self.stopped = None
        try:
            yield from tuple(found)
            for kind, columns in rest:
                room -= sum(map(len, columns.values()))
                if room >= 0:
                    found.append((kind, columns))
                else:
                    found.clear()
                yield kind, columns
        except GeneratorExit:
            self.stopped = (found, rest, room) if room >= 0 else None
            raise
        self.kept = found if room >= 0 else None

    def _read(self) -> Iterator[tuple[str, Columns]]:
        """Its records, out of the file. Raises InputError, UnreadableError, UnreadableDumpError, UnreadableRecordError."""
        if not self.dump:
            return parsed(told_pieces(self.path))
        if not self.signals.roles:
            opened = lambda: Dump(pieces(self.path))  # noqa: E731 - a dump is read once; whoever looks opens it anew
            self.signals = signals_of(opened, self.index, self.asked, self.path, self.expected)
        return sampled(Dump(told_pieces(self.path)), self.index, self.signals.roles)

    def _placed(self, kind: str, columns: Columns) -> Columns:
        """The records whose place is known."""
        if ODD not in columns:
            return columns
        # Of each column that says the place both bits of ODD: not known, and 16 above it, UNTOLD, nothing told.
        places = sum(
            0x10001 << at
            for at, field in enumerate(KINDS[kind])
            if field.name in PLACE[:2] or field.name == step_of(kind)
        )
        known = columns[ODD] & places == 0
        self.unplaced += int((~known).sum())
        return columns if known.all() else {name: column[known] for name, column in columns.items()}


def first_frame(capture: Capture) -> int | None:
    """The number of the first frame of which the capture has a record; None where it has none. Raises InputError."""
    return next((one.frame for one in capture.frames({})), None)
