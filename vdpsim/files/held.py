"""What holds for a moment while files are written: signals that wait, and locks on open files.

Law: a signal that comes meanwhile takes effect at the end, as it would have then. Handlers are this process's and belong to its
main thread: in any other nothing needs to be held, since no signal interrupts it. A lock is free again as soon as its process
has ended, however it ended; there are locks where the system and the file system know them. Knows no name of a file.
"""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from errno import EACCES, EWOULDBLOCK
from threading import current_thread, main_thread
from types import FrameType

ENDING = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))
"""Signals that end a run."""


with suppress(ImportError):  # a system without them
    import fcntl


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


def lock(file: int, *, wait: bool = False) -> bool | None:
    """Lock the open ``file`` for this process alone: whether it is; None where no locks are known."""
    if "fcntl" not in globals():  # pragma: no cover - as above
        return None
    try:
        fcntl.flock(file, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except OSError as error:
        return False if error.errno in {EWOULDBLOCK, EACCES} else None
    return True
