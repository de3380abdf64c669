"""Locks on open files, where the system and the file system know them.

Law: a lock is free again as soon as its process has ended, however it ended. Knows no name.
"""

from __future__ import annotations

from errno import EACCES, EWOULDBLOCK

try:
    from fcntl import LOCK_EX, LOCK_NB, flock
except ImportError:  # pragma: no cover - a system without them
    LOCK_EX = LOCK_NB = 0

    def flock(fd: int, operation: int, /) -> None:
        """As on a file system without locks."""
        raise OSError


def lock(file: int, *, wait: bool = False) -> bool | None:
    """Lock the open ``file`` for this process alone: whether it is; None where no locks are known."""
    try:
        flock(file, LOCK_EX | (0 if wait else LOCK_NB))
    except OSError as error:
        return False if error.errno in {EWOULDBLOCK, EACCES} else None
    return True
