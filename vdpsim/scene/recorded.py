"""Bus writes that were recorded elsewhere: a table of bytes that the CPU writes, frame by frame.

Law: the file is CSV with the columns ``frame,line,dot,address,value``, a byte a row; rows of one instant act in the order in
which they stand, after what the scene itself writes there. It is read whole, within bounds, and its mistakes are told together.
"""

from __future__ import annotations

import csv
from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import groupby
from pathlib import Path

from ..chip.addresses import listens, writable
from ..chip.model import Chip
from ..door.shown import value as shown
from ..files import UnreadableError, read
from ..files.problems import InputError, Problem
from ..state.writes import PortWrite, fault
from .tables.values import MOST_FRAMES

COLUMNS = ("frame", "line", "dot", "address", "value")

MOST_BYTES = 1 << 26
"""The longest file, in bytes."""

MOST_ROWS = 1 << 20
"""The most writes; each takes some hundred bytes while it is held."""

LONGEST_ROW = 200
"""Characters of a row; five numbers have far fewer."""

MOST_TOLD = 200
"""So many mistakes are told of one file; beyond them how many more there are."""


class RecordedWrites:
    """Recorded writes by frame, with what a scene asks of its timed writes."""

    moves: bool = True
    of_sprite: bool = False

    def __init__(self, by_frame: Mapping[int, Sequence[PortWrite]]) -> None:
        self._by_frame = {frame: tuple(writes) for frame, writes in by_frame.items() if writes}
        self._frames = sorted(self._by_frame)

    def last_before(self, frame: int) -> int | None:
        """The last frame before ``frame`` in which it writes; None where there is none."""
        place = bisect_left(self._frames, frame)
        return self._frames[place - 1] if place else None

    def first_from(self, frame: int) -> int | None:
        """The first frame from ``frame`` on in which it writes; None where there is none."""
        place = bisect_left(self._frames, frame)
        return self._frames[place] if place < len(self._frames) else None

    def rhythm(self, end: int) -> tuple[int, int]:
        """From which frame on, and after how many, it does the same again: once it has come to its end, or to ``end``."""
        last = self.last_before(end)
        return (0 if last is None else last + 1), 1

    def at(self, frame: int) -> list[PortWrite]:
        """What is written in ``frame``."""
        return list(self._by_frame.get(frame, ()))

    def last_at(self, frame: int) -> PortWrite:
        """The last that is written in a frame in which it writes."""
        return self._by_frame[frame][-1]


def load_recorded(path: str | Path, chip: Chip) -> RecordedWrites:
    """The writes in the file ``path``, for ``chip``.

    Numbers are in base ten, or sixteen with 0x before them. Raises InputError with the first 200 mistakes and how many more there
    are: a heading other than ``frame,line,dot,address,value``, a row of other than five numbers or of more than 200 characters,
    an instant outside the frame, a value that is no byte, an address where the chip does not listen, more than 1,048,576 rows.
    """
    name = str(path)
    try:
        text = read(path, MOST_BYTES).decode("utf-8-sig")
    except UnreadableError as error:
        raise InputError([Problem(name, 0, "", str(error))]) from None
    except UnicodeDecodeError as error:
        raise InputError([Problem(name, 0, "", f"is no text in UTF-8: {error.reason} at byte {error.start}")]) from None
    # Not splitlines(), which also ends a line at form feeds and the like: editors, whose line numbers are told, do not.
    first, *lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    heading = tuple(word.strip() for word in first.split(","))
    if heading != COLUMNS:
        given = shown(",".join(heading))
        raise InputError([Problem(name, 1, "", f"must begin with the heading {','.join(COLUMNS)}, got {given}")])
    reader = _Reader(name, chip)
    found = list(reader.numbered(lines))
    if reader.problems:
        raise InputError(reader.told())
    by_frame = groupby(sorted(found, key=lambda each: each[0]), key=lambda each: each[0])
    return RecordedWrites({frame: [write for _, write in each] for frame, each in by_frame})


class _Reader:
    """Rows as writes, and what is wrong with the others."""

    def __init__(self, file: str, chip: Chip) -> None:
        self.file, self.chip = file, chip
        self.problems: list[Problem] = []
        self.more = 0

    def told(self) -> list[Problem]:
        """The mistakes, with a word on those that are not listed."""
        if self.more:
            last = max(problem.line for problem in self.problems)
            return [*self.problems, Problem(self.file, last, "", f"and {self.more} more mistakes after these")]
        return self.problems

    def numbered(self, lines: Iterable[str]) -> Iterator[tuple[int, PortWrite]]:
        """The writes of ``lines``, which begin with line 2 of the file, each with its frame."""
        for line, text in enumerate(lines, 2):
            if not text.strip():
                continue
            if line - 1 > MOST_ROWS:
                self._wrong(line, "", f"must be at most {MOST_ROWS:,} writes")
                return
            if len(text) > LONGEST_ROW:
                self._wrong(line, "", f"must be at most {LONGEST_ROW} characters, got {len(text)}")
                continue
            # Row by row: a quote that is never closed would else take all that follows into one field.
            numbers = self._numbers(line, next(csv.reader([text])))
            if numbers:
                frame, at, dot, address, value = numbers
                write = PortWrite(at, address, value, dot)
                if self._fits(line, frame, write):
                    yield frame, write

    def _numbers(self, line: int, row: list[str]) -> list[int] | None:
        if len(row) != len(COLUMNS):
            self._wrong(line, "", f"must be {len(COLUMNS)} numbers, {','.join(COLUMNS)}, got {len(row)}")
            return None
        numbers = []
        for column, word in zip(COLUMNS, row, strict=True):
            number = _number(word)
            if number is None:
                self._wrong(line, column, f"must be a whole number such as 12 or 0x0C, got {shown(word)}")
            else:
                numbers.append(number)
        return numbers if len(numbers) == len(COLUMNS) else None

    def _fits(self, line: int, frame: int, write: PortWrite) -> bool:
        before = len(self.problems) + self.more
        if frame >= MOST_FRAMES:
            self._wrong(line, "frame", f"must be 0 to {MOST_FRAMES - 1}, got {shown(frame)}")
        reason = fault(self.chip, write)
        if reason:
            self._wrong(line, "", reason)
        elif not listens(self.chip, write.address):
            where = (
                f"must be an address where {self.chip.name} listens: {writable(self.chip)}; got 0x{write.address:02X}"
            )
            self._wrong(line, "address", where)
        return before == len(self.problems) + self.more

    def _wrong(self, line: int, column: str, message: str) -> None:
        if len(self.problems) < MOST_TOLD:
            self.problems.append(Problem(self.file, line, column, message))
        else:
            self.more += 1


def _number(word: str) -> int | None:
    """A whole number of at most ten digits in base ten, or in base sixteen after 0x; None where it is none."""
    digits = word.strip().lower()
    base = 16 if digits.startswith("0x") else 10
    digits = digits.removeprefix("0x") if base == 16 else digits
    # int() alone would take signs, underscores and digits of other scripts, and ever longer for ever more digits.
    allowed = "0123456789abcdef"[:base]
    return int(digits, base) if 0 < len(digits) <= 10 and all(each in allowed for each in digits) else None
