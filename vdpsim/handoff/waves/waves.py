"""The waveform of a folder: some lines of each frame, written as they are drawn.

Law: holds the frame at hand and nothing of those before but the line that the next one follows. Lines that follow each other
have one time without a gap; where the next one is not wanted, or there is none, every signal is unknown from the line's end on.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from operator import itemgetter

from ...chip.model import Chip
from ...door.given import instance
from ...door.shown import value as shown
from ...engine import Plan
from ...engine.frame import Result
from ..drawn import Drawn
from .changes import Before, Lines
from .dump import Dump, writer
from .moments import Moments, slots_of
from .queue import Held, held
from .signals import UNKNOWN, remarks, signals

FILE = "waves.vcd"

AROUND = 1
"""Lines before and after the fullest that are shown where none are asked for."""


def check_lines(chip: Chip, lines: range | None) -> None:
    """Raise TypeError or ValueError where a frame of ``chip`` has not these ``lines``."""
    if lines is None:
        return
    instance("lines", lines, range, "a range or None")
    end = chip.frame.lines_per_frame
    if lines.step != 1 or not lines or lines.start < 0 or lines.stop > end:
        told = f"range(A, B), A below B, within lines 0 to {end - 1} of a frame of {chip.name}"
        raise ValueError(f"lines must be {told}, got {shown(lines)}")


def chosen(drawn: Result, lines_per_frame: int) -> range:
    """The fullest line of a frame (the first of such), with the one before and the one after it.

    Fullest: most slots used or, where a chip has no time table, most fetches.
    """
    first, counts = (drawn.slots.first, drawn.slots.used) if drawn.slots else (drawn.log.first, drawn.log.totals)
    fullest = first + int(counts.argmax()) if len(counts) else first
    return range(max(0, fullest - AROUND), min(lines_per_frame, fullest + AROUND + 1))


class Waves:
    """Makes the waveform of ``frames``, which follow each other: of each the ``lines``, by default what ``chosen`` finds.

    ``counted``: it has no records. Raises ValueError where there are no such lines, InputError where pyvcd is not installed.
    """

    def __init__(self, chip: Chip, frames: range, lines: range | None = None) -> None:
        check_lines(chip, lines)
        writer()
        self.chip, self.frames, self.lines = chip, frames, lines
        self.counted: dict[str, int] = {}
        self._plan: Plan | None = None
        self._dump: Dump | None = None
        self._width = chip.frame.width if len(chip.frame.every_size) == 1 else None

    def begin(self) -> Iterator[tuple[str, bytes]]:
        """Nothing: time begins with the first frame."""
        yield from ()

    def frame(self, one: Drawn) -> Iterator[tuple[str, bytes]]:
        """What the next frame adds, a line at a time."""
        self.lines = self.lines or chosen(one.result, one.chip.frame.lines_per_frame)
        lines = Lines(one.chip, one.result, self._held(one), self._before(one.result.frame))
        self._dump = self._dump or self._opened(lines.moments, one.result)
        for line in self.lines:
            self._line(lines, line, self._dump)
            yield FILE, self._dump.taken()
        self._width = one.chip.frame.width

    def _held(self, one: Drawn) -> Held:
        """What the chip holds of the CPU's bytes; nothing where it has no time table."""
        if one.result.trace is None:
            return []
        self._plan = self._plan or Plan(self.chip)
        return held(self._plan, one.start, one.writes, one.result.trace)

    def _before(self, frame: int) -> Before | None:
        """The line before line 0 of a frame, where there is one and how long it was is known."""
        known = frame > 0 and self._width is not None
        return Before(frame - 1, self.chip.frame.lines_per_frame - 1, self._width or 0) if known else None

    def _opened(self, moments: Moments, drawn: Result) -> Dump:
        assert self.lines is not None
        begin = moments.picoseconds(moments.begin(drawn.frame, self.lines[0]))
        return Dump(signals(self.chip), remarks(self.chip, slots_of(self.chip), drawn.rungs), begin)

    def _line(self, lines: Lines, line: int, dump: Dump) -> None:
        """All changes of a line, in order of time."""
        moments = lines.moments
        begin = moments.begin(lines.drawn.frame, line)
        at = cache(lambda tick: moments.picoseconds(begin + tick))  # most signals change at the same ticks
        found = [(at(tick), run.signal, value) for run in lines.runs(line) for tick, value in run.changes()]
        dump.change(sorted(found, key=itemgetter(0)))
        if not self._goes_on(lines.drawn.frame, line):
            dump.change((at(moments.line), signal, UNKNOWN) for signal in dump.names)

    def _goes_on(self, frame: int, line: int) -> bool:
        """Whether the line that follows is wanted too."""
        assert self.lines is not None
        whole = len(self.lines) == self.chip.frame.lines_per_frame
        return line + 1 in self.lines or (whole and frame + 1 in self.frames)
