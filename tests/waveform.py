"""A value change dump read back the plain way, and what a frame's moments are by the model's text.

Law: knows the format as IEEE 1364-2005, clause 18 has it, and nothing of who wrote the file.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from fractions import Fraction

from vdpsim.chip.model import Chip

UNKNOWN = "x"

KEYWORDS = ("$comment", "$date", "$enddefinitions", "$scope", "$timescale", "$upscope", "$var", "$version")

Changes = dict[str, list[tuple[int, int | str]]]
"""By a signal's whole name its changes: when, in units of the timescale, and to what number (``x``: unknown)."""


class Waveform:
    """A file's signals, remarks and time; of a signal that changes twice at one time the later change holds."""

    def __init__(self, text: str) -> None:
        self.remarks: list[str] = []
        self.bits: dict[str, int] = {}
        self.timescale, self.last = "", -1
        self.changes: Changes = {}
        self._times: dict[str, list[int]] = {}
        self._of_code: dict[str, str] = {}
        words = iter(text.split())
        self._declared(words)
        self._read(words)

    def at(self, signal: str, time: int) -> int | str:
        """What a signal is at ``time``."""
        if signal not in self._times:
            self._times[signal] = [at for at, _ in self.changes[signal]]
        place = bisect_right(self._times[signal], time)
        return self.changes[signal][place - 1][1] if place else UNKNOWN

    def _declared(self, words: Iterator[str]) -> None:
        scopes: list[str] = []
        for word in words:
            assert word.startswith("$"), f"no declaration: {word}"
            inner = []
            for each in words:
                if each == "$end":
                    break
                assert each not in KEYWORDS, f"a keyword within {word}: {each}"
                inner.append(each)
            if word == "$enddefinitions":
                return
            if word == "$comment":
                self.remarks.append(" ".join(inner))
            elif word == "$timescale":
                self.timescale = " ".join(inner)
            elif word == "$scope":
                scopes.append(inner[1])
            elif word == "$upscope":
                scopes.pop()
            elif word == "$var":
                name = ".".join([*scopes, inner[3]])
                assert name not in self.bits and inner[2] not in self._of_code
                self.bits[name], self._of_code[inner[2]], self.changes[name] = int(inner[1]), name, []

    def _read(self, words: Iterator[str]) -> None:
        for word in words:
            if word.startswith("#"):
                assert int(word[1:]) > self.last, "time does not go on"
                self.last = int(word[1:])
            elif word not in ("$dumpvars", "$end"):
                value, code = (word[1:], next(words)) if word[0] in "bB" else (word[0], word[1:])
                self._change(self._of_code[code], value)

    def _change(self, name: str, value: str) -> None:
        assert len(value) <= self.bits[name]
        number = UNKNOWN if set(value) == {UNKNOWN} else int(value, 2)
        changes = self.changes[name]
        if changes and changes[-1][0] == self.last:
            changes.pop()
        changes.append((self.last, number))


class Clock:
    """Picoseconds of a chip's moments, by the model's text: "Time on the line" and "The picture's size"."""

    def __init__(self, chip: Chip) -> None:
        frame = chip.frame
        self.dots, self.lines, self.rate = frame.dots_per_line, frame.lines_per_frame, chip.memory.accesses_per_dot
        self.clock = frame.dot_clock

    def moment(self, frame: int, line: int, dots: int | Fraction = 0) -> int:
        """So many dots after the slots of a line begin."""
        whole = (frame * self.lines + line) * self.dots + dots
        return int(whole * 10**12 // self.clock)

    def slot(self, frame: int, line: int, slot: int) -> int:
        """Where a slot begins."""
        assert self.rate is not None
        return self.moment(frame, line, Fraction(slot) / self.rate)

    def dot(self, frame: int, line: int, dot: int, width: int) -> int:
        """Where a dot begins, of a picture so wide."""
        return self.moment(frame, line, self.dots - width + dot)
