"""How a command's process ends before its time, and what holds for as long as it runs."""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from threading import current_thread, main_thread
from types import FrameType

from vdpsim.files import once
from vdpsim.files.held import ENDING


class EndedError(KeyboardInterrupt):
    """A signal ends the run: whatever a command does at an interruption from the keyboard it does here too."""

    def __init__(self, number: int) -> None:
        super().__init__(signal.Signals(number).name)
        self.status = 128 + number


@contextmanager
def the_run() -> Iterator[None]:
    """One command: each file is read once, and a signal that ends it lets it clear up. A signal that is ignored stays so."""
    before = {number: signal.getsignal(number) for number in ENDING}
    ours = [number for number, handler in before.items() if handler in {signal.SIG_DFL, signal.default_int_handler}]
    if current_thread() is not main_thread():
        ours = []
    try:
        for number in ours:
            signal.signal(number, _end)
        with once(anew=True):
            yield
    finally:
        for number in ours:
            signal.signal(number, before[number])


def status_of(end: KeyboardInterrupt) -> int:
    """The exit status that is customary for it: 128 and the signal's number."""
    return end.status if isinstance(end, EndedError) else 128 + signal.SIGINT


def _end(number: int, _: FrameType | None) -> None:
    raise EndedError(number)
