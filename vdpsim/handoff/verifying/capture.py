"""A capture: what a design printed, as records, whichever kind of file it is.

Law: a file that begins with ``$`` is a value change dump, any other is text. It is opened anew for each look at it, and no
more than a piece of it is held. Records whose place is not known are left out and counted.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from ...files import UnreadableError
from ...files.problems import InputError, Problem
from ..records.framed import Framed, OutOfOrderError, by_frame
from ..records.index import Index
from ..records.kinds import KINDS, OUTCOMES
from ..records.parsing import ODD, Columns, UnreadableRecordError, parsed
from .pieces import pieces, told_pieces
from .shift import NONE, Shift, moved, step_of
from .wave.dump import UnreadableDumpError
from .wave.sampling import records as sampled

PLACE = ("frame", "line", "dot", "slot")
"""The columns that say where a record lies."""


class Capture:
    """The file ``path``; ``signals`` says which signals of a value change dump are what. Raises InputError.

    ``unplaced``: how many records the last look found of which no place is known.
    """

    def __init__(self, path: str | Path, index: Index, signals: Mapping[str, str]) -> None:
        self.path, self.index, self.signals = str(path), index, signals
        self.unplaced = 0
        try:
            self.dump = next(pieces(path), b"").lstrip()[:1] == b"$"
        except UnreadableError as error:
            raise InputError([Problem(self.path, 0, "", str(error))]) from None
        if signals and not self.dump:
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
        data = told_pieces(self.path)
        found = sampled(data, self.index, self.signals, self.path) if self.dump else parsed(data)
        for kind, columns in found:
            if kind in OUTCOMES:
                placed = moved(self.index, kind, self._placed(kind, columns), shifts.get(kind, NONE))
                yield kind, {**placed, "frame": placed["frame"] + renumbered} if renumbered else placed

    def _placed(self, kind: str, columns: Columns) -> Columns:
        """The records whose place is known."""
        if ODD not in columns:
            return columns
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
