"""A value change dump (VCD, IEEE 1364-2005, clause 18), whose head and values pyvcd writes.

Law: the one place that loads pyvcd, which belongs to an extra. Text leaves as it comes; nothing is held but each signal's
last value, and between two times that text is taken how each value was written.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Mapping
from types import ModuleType
from typing import Any

from ...files.problems import InputError, Problem
from .changes import Value
from .signals import TOP, Signal

TIMESCALE = "1 ps"


def writer() -> ModuleType:
    """What writes a dump. Raises InputError, which names the extra, where it is not installed."""
    try:
        import vcd  # noqa: PLC0415 - belongs to an extra
    except ImportError:
        message = "the waveform needs pyvcd, which is not installed: pip install 'vdpsim[handoff]', or leave the part waves out"
        raise InputError([Problem("waves.vcd", 0, "", message)]) from None
    return vcd


class Dump:
    """A dump of ``signals`` whose time begins at ``moment``, in picoseconds; ``remarks`` stand at its top.

    Raises as ``writer`` does.
    """

    def __init__(self, signals: Iterable[Signal], remarks: Iterable[str], moment: int) -> None:
        self._text = io.StringIO()
        for words in remarks:
            self._text.write(f"$comment {words} $end\n")
        self._vcd = writer().VCDWriter(self._text, TIMESCALE, date="", version="vdpsim", init_timestamp=moment)
        self._known: Mapping[str, Any] = {
            one.key: self._vcd.register_var((TOP, one.scope), one.name, "wire", one.bits) for one in signals
        }
        self._begin = self._moment = moment
        self._last: dict[str, Value] = {key: one.value for key, one in self._known.items()}
        self._written: dict[tuple[str, Value], str] = {}

    @property
    def names(self) -> Iterable[str]:
        """The signals' scopes and names."""
        return self._known

    def change(self, changes: Iterable[tuple[int, str, Value]]) -> None:
        """Signals by moment, in order of time and none before the last: from the moment on the signal is the value.

        What is so from the beginning on is pyvcd's to write, with the head; of later changes it says how a value is written.
        Writing them here, all at once, takes a third of the time. Raises ValueError where time would run back.
        """
        told, last, written, moment = [], self._last, self._written, self._moment
        for at, signal, value in changes:
            if last[signal] == value:
                continue
            last[signal] = value
            if at == self._begin:
                self._vcd.change(self._known[signal], at, value)
                continue
            if at != moment:
                if at < moment:
                    raise ValueError(f"a change at {at} ps comes after one at {moment} ps")
                moment = at
                told.append(f"#{at}")
            text = written.get((signal, value))
            if text is None:
                text = written[signal, value] = self._known[signal].format_value(value)
            told.append(text)
        self._moment = moment
        if told:
            self._vcd.flush()  # the head, where it is not there yet
            self._text.write("\n".join(told) + "\n")

    def taken(self) -> bytes:
        """The text that has come since the last time."""
        self._vcd.flush()
        text = self._text.getvalue()
        self._text.seek(0)
        self._text.truncate()
        self._written.clear()
        return text.encode("ascii")
