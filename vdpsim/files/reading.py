"""The one door by which files are read.

Law: nothing is read that is not a regular file, no more than so many bytes of it, and nothing is waited for: the file is
opened without blocking, and it is the open file that is looked at, so that no other can slip into its place. Within ``once``
each file is read at most once, and whoever asks again gets the same answer, be it bytes or an error; under which names was
asked, and what stood there then, is kept: it is the one record of what something was made from. Knows no chip and no scene.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from errno import ENODEV, ENXIO
from hashlib import blake2b
from pathlib import Path
from typing import BinaryIO

FLAGS = os.O_RDONLY
"""How a file is opened: nothing is waited for, and nothing else is opened by it."""

for _name in ("O_NONBLOCK", "O_CLOEXEC", "O_NOCTTY", "O_BINARY"):  # none of them is there on every system
    FLAGS |= getattr(os, _name, 0)

_PIECE = 1 << 20

NO_FILE = "it is no regular file"


class UnreadableError(Exception):
    """A file that cannot be read; its text says why, as ``cannot be read: ...``."""


class TooLongError(UnreadableError):
    """A file of more bytes than are allowed; its text says ``must be at most ... bytes long``."""


Outcome = bytes | UnreadableError
"""What came of reading a file."""


Seen = tuple[int, int, int] | None
"""What tells a file from itself after a change: who it is, how long, and of when; None where there is none."""


def stamp(path: str | os.PathLike[str], found: os.stat_result | None = None) -> Seen:
    """What tells the file at ``path``, links followed, from itself after a change. Raises OSError or ValueError."""
    found = found or Path(path).stat()
    return found.st_ino, found.st_size, found.st_mtime_ns


def seen_at(path: str | os.PathLike[str]) -> Seen:
    """What tells the file at ``path`` from itself after a change, None where nothing can be told of it."""
    try:
        return stamp(path)
    except (OSError, ValueError):
        return None


class Reads:
    """What was read so far: ``outcomes`` by real path; ``known`` are those that there are from the beginning.

    ``asked``: every name that was asked for, whole but with its links, and what stood there before it was first opened.
    """

    def __init__(self, known: Mapping[str, Outcome] | None = None) -> None:
        self.outcomes: dict[str, Outcome] = dict(known or {})
        self.asked: dict[str, Seen] = {}
        self._identities: set[tuple[int, int]] = set()

    @contextmanager
    def apart(self) -> Iterator[dict[str, Seen]]:
        """A block whose names are gathered for themselves, those that were asked for before among them."""
        before, self.asked = self.asked, {}
        try:
            yield self.asked
        finally:
            self.asked = {**self.asked, **before}

    def of(self, names: Iterable[str]) -> dict[str, Outcome]:
        """What came of reading each of ``names``, by real path; those that were never read are left out."""
        paths = {os.path.realpath(name) for name in names if "\0" not in name}
        return {path: self.outcomes[path] for path in sorted(paths & self.outcomes.keys())}

    def note(self, path: str, outcome: Outcome, found: os.stat_result | None) -> None:
        """Keep what came of reading ``path``; ``found`` tells the file that was open."""
        self.outcomes[path] = outcome
        if found is not None:
            self._identities.add((found.st_dev, found.st_ino))

    def has(self, path: str, found: os.stat_result) -> bool:
        """Whether the file at the real path ``path``, of which ``found`` is told, was read: by this name or another."""
        return isinstance(self.outcomes.get(path), bytes) or (found.st_dev, found.st_ino) in self._identities


_READS: ContextVar[Reads | None] = ContextVar("reads", default=None)


def reads() -> Reads | None:
    """What was read so far within ``once``; None outside of it."""
    return _READS.get()


def asked_for(path: str | os.PathLike[str]) -> None:
    """Note within ``once`` that ``path`` was asked for, whatever it is a link to and whether it will be read."""
    known = _READS.get()
    if known is None:
        return
    with suppress(OSError):  # there is no current folder any more, which reading complains of
        name = os.path.abspath(path)  # noqa: PTH100 - links stay as they are: one may lead elsewhere later
        if name not in known.asked:
            known.asked[name] = seen_at(name)


@contextmanager
def once(known: Mapping[str, Outcome] | None = None, *, anew: bool = False) -> Iterator[Reads]:
    """A block, or a function that is decorated with it, in which each file is read at most once.

    It joins the block around it, if there is one; with ``known``, what is known of files beforehand by their real paths, or
    ``anew``, it begins a new one.
    """
    around = _READS.get()
    if around is not None and known is None and not anew:
        yield around
        return
    token = _READS.set(Reads(known))
    try:
        yield _READS.get() or Reads()
    finally:
        _READS.reset(token)


def read(path: str | os.PathLike[str], most: int) -> bytes:
    """The whole file at ``path``, as it was read first within ``once``.

    Raises UnreadableError, and TooLongError above ``most`` bytes.
    """
    known = _READS.get()
    if known is None:
        return fresh(path, most)
    asked_for(path)
    try:
        real = os.path.realpath(path)
    except (OSError, ValueError) as error:
        raise _unreadable(error) from None
    if real not in known.outcomes:
        found: os.stat_result | None = None
        try:
            with opened(path) as file:
                found = os.fstat(file.fileno())
                outcome: Outcome = _bounded(file, most)
        except UnreadableError as error:
            outcome = error
        known.note(real, outcome, found)
    outcome = known.outcomes[real]
    if isinstance(outcome, UnreadableError):
        raise type(outcome)(str(outcome))
    if len(outcome) > most:
        raise _too_long(most)
    return outcome


def fresh(path: str | os.PathLike[str], most: int) -> bytes:
    """The whole file at ``path`` as it is now. Raises UnreadableError, TooLongError above ``most`` bytes."""
    with opened(path) as file:
        return _bounded(file, most)


def digester() -> blake2b:
    """What takes a file's bytes piece by piece and gives their digest."""
    return blake2b(digest_size=16)


def digest(data: bytes) -> str:
    """The digest of a file's bytes, in hexadecimal."""
    found = digester()
    found.update(data)
    return found.hexdigest()


def digest_of(path: str | os.PathLike[str]) -> str:
    """The digest of a file of any size as it is now. Raises UnreadableError."""
    found = digester()
    with opened(path) as file:
        while piece := file.read(_PIECE):
            found.update(piece)
    return found.hexdigest()


@contextmanager
def opened(path: str | os.PathLike[str]) -> Iterator[BinaryIO]:
    """The regular file at ``path``, open. Raises UnreadableError, for what fails within the block too."""
    try:
        number = os.open(path, FLAGS)
        if not stat.S_ISREG(os.fstat(number).st_mode):
            os.close(number)
            raise UnreadableError(f"cannot be read: {NO_FILE}")
        with os.fdopen(number, "rb", buffering=0) as raw:
            yield raw
    except (OSError, ValueError) as error:  # a path with a zero byte is a ValueError
        raise _unreadable(error) from None


def _bounded(file: BinaryIO, most: int) -> bytes:
    found = bytearray()
    while len(found) <= most and (piece := file.read(min(_PIECE, most + 1 - len(found)))):
        found += piece
    if len(found) > most:
        raise _too_long(most)
    return bytes(found)


def _too_long(most: int) -> TooLongError:
    return TooLongError(f"must be at most {most} bytes long")


def _unreadable(error: OSError | ValueError) -> UnreadableError:
    if isinstance(error, ValueError):
        return UnreadableError(f"cannot be read: {error}")
    what = NO_FILE if error.errno in {ENXIO, ENODEV} else error.strerror  # so a socket says that it cannot be opened
    return UnreadableError(f"cannot be read: {what}")
