"""A hidden folder beside the files that a run writes, in which they lie until all are there.

Law: its name is made by the system and no other has it, nothing in it is followed out of it, and it is locked for as long as its
run lives. A folder whose lock is free was left by a run that was ended by force: the next run there removes it, and never
one that is in use or of another owner. Knows no result.
"""

from __future__ import annotations

import os
import re
import shutil
import stat
import time
from collections.abc import Iterator
from contextlib import suppress
from errno import EWOULDBLOCK
from pathlib import Path

from .held import lock as locked

BEFORE, AFTER = ".vdpsim-", ".tmp"
LOCK = "lock"

OLD = 86_400.0
"""Seconds after which a folder is taken to be left where the file system knows no locks."""

_NAME = re.compile(rf"{re.escape(BEFORE)}\w+{re.escape(AFTER)}")
_TRIES = 100


class Hidden:
    """A hidden folder in ``folder``. Raises OSError where it cannot be made.

    ``stage`` names where a target of ``folder`` is to be written for now; ``staged`` lists what was.
    """

    def __init__(self, folder: Path) -> None:
        for place in _ours(folder):
            clean(place)
        self._lock: int | None
        self.path, self._lock = _made(folder)
        self._tops: dict[Path, Path] = {}
        self._made = set[Path]()
        self._kept = 0
        self._left = False

    def stage(self, top: Path, target: Path) -> Path:
        """Where ``target`` is to be written: in a tree of its own that becomes ``top``, which is target or a folder to be."""
        root = self._tops.setdefault(top, self.path / str(len(self._tops)))
        staged = root / target.relative_to(top)
        if staged != root and staged.parent not in self._made:
            staged.parent.mkdir(parents=True, exist_ok=True)
            self._made.add(staged.parent)
        return staged

    def staged(self) -> Iterator[tuple[Path, Path]]:
        """What was staged, and where it goes: whole trees where their folder is not there yet, else file by file."""
        for top, root in self._tops.items():
            yield from _parts(root, top)

    def aside(self) -> Path:
        """A name for an old file to be kept by."""
        self._kept += 1
        return self.path / f"old-{self._kept}"

    def remove(self) -> None:
        """Take the folder away with all that is in it; where that fails, the next run does it."""
        with suppress(OSError):
            if not self._left:
                _emptied(self.path)
                self.path.rmdir()
        if self._lock is not None:
            os.close(self._lock)
            self._lock = None

    def leave(self) -> None:
        """Leave the folder to the user, since something in it could not be put back: without a lock nobody removes it."""
        self._left = True
        with suppress(OSError):
            (self.path / LOCK).unlink()


def clean(folder: Path) -> None:
    """Remove the hidden folders in ``folder`` that runs of this user have left. What cannot be removed stays."""
    try:
        with os.scandir(folder) as found:
            names = [one.path for one in found if _NAME.fullmatch(one.name) and one.is_dir(follow_symlinks=False)]
    except OSError:
        return
    for name in names:
        with suppress(OSError):
            _clean(Path(name))


def _clean(path: Path) -> None:
    if hasattr(os, "geteuid") and path.lstat().st_uid != os.geteuid():
        return
    try:
        lock = os.open(path / LOCK, os.O_RDWR | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_NOFOLLOW", 0))
    except FileNotFoundError:
        path.rmdir()  # stays where anything is in it: a run's lock comes first and goes last
        return
    try:
        if stat.S_ISREG(os.fstat(lock).st_mode) and _free(lock, path):
            _emptied(path)
            path.rmdir()
    finally:
        os.close(lock)


def _emptied(path: Path) -> None:
    """Remove what is in ``path``, its lock last."""
    with os.scandir(path) as found:
        names = sorted((one for one in found), key=lambda one: one.name == LOCK)
    for one in names:
        if one.is_dir(follow_symlinks=False):
            shutil.rmtree(one.path)
        else:
            os.unlink(one.path)  # noqa: PTH108 - a DirEntry is no Path


def _free(lock: int, path: Path) -> bool:
    """Whether nobody has the lock, which is ours then; where no locks are known, whether the folder is old enough."""
    got = locked(lock)
    return time.time() - path.lstat().st_mtime > OLD if got is None else got


def _made(folder: Path) -> tuple[Path, int]:
    """A new hidden folder and its lock. Another run may take it for one that was left, until it is locked: then comes another."""
    from tempfile import mkdtemp  # noqa: PLC0415 - takes a while to load, and most commands write nothing

    for _ in range(_TRIES):
        path = Path(mkdtemp(AFTER, BEFORE, folder))
        try:
            lock = os.open(path / LOCK, os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_CLOEXEC", 0), 0o600)
        except FileNotFoundError:
            continue
        except OSError:
            path.rmdir()
            raise
        if locked(lock) is not False:
            with suppress(OSError):
                if os.path.samestat((path / LOCK).stat(), os.fstat(lock)):
                    return path, lock
        os.close(lock)
    raise OSError(EWOULDBLOCK, "hidden folders are removed as soon as they are made", str(folder))


def _ours(folder: Path) -> Iterator[Path]:
    """``folder``, the folder around it, and those around both for as long as they are this user's: where a run may have been."""
    yield folder
    for number, place in enumerate(folder.parents):
        try:
            foreign = hasattr(os, "geteuid") and place.stat().st_uid != os.geteuid()
        except OSError:
            return
        if number and foreign:
            return
        yield place


def _parts(staged: Path, target: Path) -> Iterator[tuple[Path, Path]]:
    if staged.is_dir() and target.is_dir():
        for one in sorted(staged.iterdir()):
            yield from _parts(one, target / one.name)
    elif os.path.lexists(staged):
        yield staged, target
