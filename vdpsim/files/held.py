"""Signals held back for a moment, so that what must not stop half-way does not.

Law: a signal that comes meanwhile takes effect at the end, as it would have then. Handlers are this process's and belong to its
main thread: in any other nothing needs to be held, since no signal interrupts it. Knows no file.
"""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager
from threading import current_thread, main_thread
from types import FrameType

ENDING = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))
"""Signals that end a run."""


@contextmanager
def held() -> Iterator[None]:
    """A block that no signal of ``ENDING`` interrupts."""
    if current_thread() is not main_thread():
        yield
        return
    came: list[int] = []

    def note(number: int, _: FrameType | None) -> None:
        came.append(number)

    before = {number: signal.getsignal(number) for number in ENDING}
    before = {number: handler for number, handler in before.items() if handler not in {None, signal.SIG_IGN}}
    try:
        for number in before:
            signal.signal(number, note)
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
        for number in dict.fromkeys(came):
            signal.raise_signal(number)
