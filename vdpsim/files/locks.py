"""Locks on open files, where the system and the file system know them.

Law: a lock is free again as soon as its process has ended, however it ended. Knows no name.
"""

from __future__ import annotations

from contextlib import suppress
from errno import EACCES, EWOULDBLOCK

with suppress(ImportError):  # a system without them
    import fcntl


def lock(file: int, *, wait: bool = False) -> bool | None:
    """Lock the open ``file`` for this process alone: whether it is; None where no locks are known."""
    if "fcntl" not in globals():  # pragma: no cover - as above
        return None
    try:
        fcntl.flock(file, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except OSError as error:
        return False if error.errno in {EWOULDBLOCK, EACCES} else None
    return True
