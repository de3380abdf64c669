"""The expected records of an exported folder, frame by frame in the order of its index.

Law: a folder is checked like any other input: what its files hold must be what its index says. No more than a frame of a kind
is held.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from ...files import UnreadableError
from ...files.problems import InputError, Problem
from ..records.framed import MOST, Framed, OutOfOrderError, by_frame
from ..records.index import Index, read_index
from ..records.kinds import KINDS, OUTCOMES
from ..records.parsing import ODD, Columns, UnreadableRecordError, parsed
from ..vectors.vectors import path_of
from .grid import COMPARED
from .pieces import pieces
from .shift import step_of


class Folder:
    """An exported folder. Raises InputError where it is none, or has no expected records."""

    def __init__(self, path: str | Path) -> None:
        self.path = Path(path)
        self.index: Index = read_index(path)
        counts = [one.records for one in self.index.frames]
        self.totals = {kind: sum(each.get(kind, 0) for each in counts) for kind in OUTCOMES if kind in counts[0]}
        self.numbers = [one.frame for one in self.index.frames]
        if not self.totals:
            self._refuse("", 'has no expected records; export it with the part "vectors"')
        if any(after <= before for before, after in zip(self.numbers, self.numbers[1:], strict=False)):
            self._refuse("index.json", "the frames must be in order")
        self._check_sizes()

    def _check_sizes(self) -> None:
        """See that numbers that are right by themselves are so together, and that a frame is one that can be exported."""
        index = self.index
        pictures = [(one.height, one.width) for one in index.frames]
        for what, largest, whole in (
            ("height", max(high for high, _ in pictures), index.height),
            ("width", max(wide for _, wide in pictures), index.width),
            ("lines_per_frame", index.height, index.lines_per_frame),
            ("dots_per_line", index.width, index.dots_per_line),
        ):
            if largest > whole:
                self._refuse("index.json", f"{what} must be at least {largest}, the picture's own, got {whole}")
        slots = index.slots_per_line * index.lines_per_frame
        if slots > MOST:
            self._refuse("index.json", f"a frame must have at most {MOST:,} slots, got {slots:,}")

    def frames(self, kind: str) -> Iterator[tuple[int, Columns]]:
        """Each frame of the folder with its records of ``kind``, {} where it has none. Raises InputError."""
        name = path_of(kind)
        try:
            found = by_frame(parsed(pieces(self.path / name)))
            for one in self.index.frames:
                many = one.records.get(kind, 0)
                columns: Columns = {}
                if many:
                    framed = next(found, None)
                    self._check(name, kind, one.frame, many, framed)
                    columns = framed.columns if framed else {}
                yield one.frame, columns
        except UnreadableRecordError as error:
            raise InputError([Problem(str(self.path / name), error.line, "", str(error))]) from None
        except (UnreadableError, OutOfOrderError) as error:
            self._refuse(name, str(error))

    def _check(self, name: str, kind: str, frame: int, many: int, framed: Framed | None) -> None:
        """See that a frame is the one that the index tells of."""
        index, step = self.index, step_of(kind)
        got = (framed.kind, framed.frame, len(next(iter(framed.columns.values())))) if framed else (kind, frame, 0)
        if got != (kind, frame, many):
            told = f"{got[2]} {got[0]} records of frame {got[1]}"
            self._refuse(name, f"must have {many} {kind} records of frame {frame} next, as index.json says, got {told}")
        assert framed is not None
        wide = index.slots_per_line if step == "slot" else index.dots_per_line
        ends = [("line", index.lines_per_frame), (step, wide)] if "line" in framed.columns else []
        beyond = any(
            name and (int(framed.columns[name].min()) < 0 or int(framed.columns[name].max()) >= end)
            for name, end in ends
        )
        if beyond or ODD in framed.columns:
            self._refuse(name, f"frame {frame} has {kind} records with a number that is not known, or beyond the frame")
        if kind in COMPARED and step and (np.diff(framed.columns["line"] * wide + framed.columns[step]) <= 0).any():
            self._refuse(name, f"frame {frame} has {kind} records that are out of order, or two at one place")

    def _refuse(self, name: str, message: str) -> None:
        raise InputError([Problem(str(self.path / name), 0, "", message)])


NUMBERS = {"entry": ("dot", "entry"), "colour": ("dot", "colour"), "client": ("access", "client")}
NUMBERS |= {"address": ("access", "address"), "data": ("access", "value")}
"""What a signal of a dump says: the kind of record and the column that has the same."""


def numbers_of(folder: Folder) -> dict[str, frozenset[int]]:
    """The numbers that the first frame expects of each signal of a dump that has numbers of its own. Raises InputError."""
    firsts = {kind: next(iter(folder.frames(kind)))[1] for kind in COMPARED if kind in folder.totals}
    return {
        role: frozenset((np.unique(firsts[kind][column]).astype(np.uint64)).tolist())
        for role, (kind, column) in NUMBERS.items()
        if firsts.get(kind)
    }


class Upcoming:
    """A kind's expected frames, asked for in order."""

    def __init__(self, folder: Folder, kind: str) -> None:
        self._frames = folder.frames(kind)

    def until(self, number: int | None) -> Iterator[tuple[int, Columns]]:
        """The frames up to and including ``number``; None: all that are left."""
        for frame, columns in self._frames:
            yield frame, columns
            if frame == number:
                return


def nothing(kind: str) -> Columns:
    """The records of ``kind`` of a frame that has none."""
    return {field.name: np.empty(0, np.int64) for field in KINDS[kind] if field.name != "frame"}
