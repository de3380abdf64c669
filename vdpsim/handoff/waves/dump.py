"""A value change dump (VCD, IEEE 1364-2005, clause 18), written by pyvcd.

Law: the one place that loads pyvcd, which belongs to an extra. Text leaves as it comes; nothing is held but each signal's
last value.
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

    @property
    def names(self) -> Iterable[str]:
        """The signals' scopes and names."""
        return self._known

    def change(self, signal: str, moment: int, value: Value) -> None:
        """From ``moment`` on, no earlier than the one before, a signal is ``value``."""
        self._vcd.change(self._known[signal], moment, value)

    def taken(self) -> bytes:
        """The text that has come since the last time."""
        self._vcd.flush()
        text = self._text.getvalue()
        self._text.seek(0)
        self._text.truncate()
        return text.encode("ascii")
