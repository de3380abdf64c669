"""The one door by which files are written: all of a run together, each whole, or none.

Law: bytes go into hidden folders beside their targets; only when all are there do they get their names, and where one cannot, or
anything else fails, all old files are put back. Errors name the file that was to be written, as it was given. Knows no
chip, no scene and no picture.
"""

from __future__ import annotations

import os
import shutil
import stat
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from errno import EBUSY, EEXIST, EINVAL, EISDIR
from pathlib import Path
from types import TracebackType
from typing import Self

from ..door.shown import shown_path
from .guard import Guard
from .held import held
from .hidden import Hidden
from .reading import FLAGS, NO_FILE, Seen, digester, stamp

CHANGED = "was changed while the command ran: nothing is written, run it again"


class GrowingFile:
    """A file to be, whose bytes come piece by piece: ``write`` them. Where the run ends well it is there, whole; else never.

    ``held``: whether its digest will be held against others'; it takes as long as writing does.
    """

    def __init__(self, given: str, staged: Path, *, held: bool) -> None:
        self.given, self.staged = given, staged
        self._digest = digester() if held else None
        self._file = open(staged, "xb")  # noqa: SIM115 - stays open until the run ends

    def write(self, data: bytes) -> None:
        """Add ``data`` at its end. Raises OSError as the system does, with the path as it was given."""
        with _named(self.given):
            self._file.write(data)
        if self._digest is not None:
            self._digest.update(data)

    def close(self) -> None:
        """Nothing comes any more."""
        with _named(self.given):
            self._file.close()

    @property
    def digest(self) -> str:
        """The digest of its bytes so far."""
        assert self._digest is not None
        return self._digest.hexdigest()


@dataclass(eq=False, repr=False)
class _Moves:
    """Renames that were done, and how each is undone: the place it went to, and what comes back from where."""

    done: list[tuple[Hidden, Path, Path, bool]] = field(default_factory=list)

    def put(self, hidden: Hidden, staged: Path, target: Path, seen: Mapping[str, Seen]) -> None:
        """Give ``staged`` the name ``target``; an old file of that name is kept aside, and gives it its mode.

        Raises OSError, too, where the old file is not the one that was ``seen`` there, if any was looked at.
        """
        old, linked = os.path.lexists(target), False
        looked = str(target) in seen
        if looked and old != bool(seen[str(target)]):
            raise OSError(EBUSY, CHANGED)
        aside = hidden.aside() if old else staged
        if old:
            staged.chmod(stat.S_IMODE(target.stat().st_mode))
            linked = _kept(target, aside)
            if looked and not linked and stamp(target) != seen[str(target)]:
                raise OSError(EBUSY, CHANGED)
        os.replace(staged, target)  # noqa: PTH105 - says in its name that an old file gives way
        self.done.append((hidden, target, aside, old))
        if looked and old and linked and stamp(aside) != seen[str(target)]:  # with the name it has, it is the same file
            raise OSError(EBUSY, CHANGED)

    def undo(self) -> None:
        """Put everything back. Raises OSError, once all others are back, where something cannot be."""
        failed: OSError | None = None
        for hidden, target, aside, old in reversed(self.done):
            try:
                os.replace(*((aside, target) if old else (target, aside)))  # noqa: PTH105 - as above
            except OSError as error:
                left = f"what was there before is kept as {aside}" if old else f"{target} stays"
                failed = OSError(error.errno, f"{error.strerror}; {left}")
                if old:
                    hidden.leave()
        if failed:
            raise failed


def _kept(old: Path, aside: Path) -> bool:
    """Keep ``old`` as ``aside`` too: by a second name, or else, which is False, by a copy."""
    try:
        os.link(old, aside)
    except OSError:  # a file system without links, or a file that is not ours to link to
        shutil.copy2(old, aside)
        return False
    return True


class Outputs:
    """Files that a run writes, put in place at its end.

    Used as a context: ``add`` writes each file's bytes beside its target; where the block ends well, all get their names;
    where it ends by an exception or a name cannot be had, everything is as it was. Folders on the way are made, and appear
    with all that is in them. No signal that Python handles comes between the names. With a ``guard`` it writes over nothing
    that is a person's, and raises InputError where it would have to. Raises OSError as the system does, with the path as given.
    """

    def __init__(self, guard: Guard | None = None) -> None:
        self._guard = guard
        self._hidden: dict[Path, Hidden] = {}
        self._results: dict[Path, GrowingFile] = {}
        self._last: list[Callable[[], None]] = []

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        with held():
            try:
                if kind is None:
                    self._finish()
            finally:
                self._clear()

    def add(self, path: str | Path, data: bytes) -> None:
        """Write ``data`` to be the file ``path``, or the file that the link ``path`` points to.

        Raises OSError where it is there and no regular file or write-protected, or was added already.
        """
        file = self.grow(path)
        try:
            file.write(data)
            file.close()
        except BaseException:
            self._dropped(file)
            raise

    def grow(self, path: str | Path) -> GrowingFile:
        """The file ``path``, or the file that the link ``path`` points to, to be written piece by piece.

        Raises OSError where it is there and no regular file or write-protected, or was added already.
        """
        given = os.fspath(path)
        with _named(given):
            target = _target(given)
            if target in self._results:
                raise OSError(EEXIST, "two results of one run would be written to it")
            top, folder = target, target.parent
            while not os.path.lexists(folder) and folder != folder.parent:
                top, folder = folder, folder.parent
            if folder not in self._hidden:
                with held():
                    self._hidden[folder] = Hidden(folder)
            staged = self._hidden[folder].stage(top, target)
            self._results[target] = file = GrowingFile(given, staged, held=self._guard is not None)
            return file

    def _dropped(self, file: GrowingFile) -> None:
        """Take back a file that could not be written, so that it does not count among the results."""
        with suppress(OSError):
            file.close()
        file.staged.unlink(missing_ok=True)
        self._results = {target: one for target, one in self._results.items() if one is not file}

    def expect(self, path: str | Path) -> None:
        """Say beforehand that ``path`` will be written. Raises OSError where it is there and no regular file."""
        with _named(os.fspath(path)):
            _target(os.fspath(path))

    def last(self, act: Callable[[], None]) -> None:
        """Have ``act`` called once nothing stands against the files, just before they get their names."""
        self._last.append(act)

    def _finish(self) -> None:
        for one in self._results.values():
            one.close()
        seen: Mapping[str, Seen] = {}
        if self._guard:
            told = {str(target): (shown_path(one.given), one.digest) for target, one in self._results.items()}
            seen = self._guard.wanted(told)
            for target, one in self._results.items():
                if str(target) not in seen:
                    one.staged.unlink()
        for act in self._last:
            act()
        moves = _Moves()
        try:
            for hidden in self._hidden.values():
                for staged, target in list(hidden.staged()):
                    with _named(self._given(target)):
                        moves.put(hidden, staged, target, seen)
        except BaseException:
            with _named(self._given(moves.done[-1][1] if moves.done else None)):
                moves.undo()
            raise

    def _given(self, place: Path | None) -> str:
        """The name that was given for ``place``, or for the first file in it."""
        found = (one.given for target, one in self._results.items() if place in (target, *target.parents))
        return next(found, str(place))

    def _clear(self) -> None:
        for file in self._results.values():
            with suppress(OSError):
                file.close()
        hidden = list(self._hidden.values())
        self._hidden.clear()
        self._results.clear()
        for one in hidden:
            one.remove()


def write(path: str | Path, data: bytes) -> None:
    """Write the one file ``path`` whole or not at all, whatever is there. Raises OSError as the system does."""
    with Outputs() as outputs:
        outputs.add(path, data)


def _target(given: str) -> Path:
    """The real path to be written. Raises OSError where something is there that is no regular file, or is write-protected."""
    try:
        mode = os.stat(given).st_mode  # noqa: PTH116 - a Path for each of a hundred files takes as long as this
    except FileNotFoundError:
        return Path(os.path.realpath(given))
    if stat.S_ISDIR(mode):
        raise OSError(EISDIR, os.strerror(EISDIR))
    if not stat.S_ISREG(mode):
        raise OSError(EINVAL, f"cannot be written: {NO_FILE}")
    with suppress(
        FileNotFoundError
    ):  # a name can be had although the file is write-protected: the system says whether it is
        os.close(os.open(given, os.O_WRONLY | FLAGS))
    return Path(os.path.realpath(given))


@contextmanager
def _named(given: str) -> Iterator[None]:
    """A block whose OSErrors name the file as it was given, whichever the system was at."""
    try:
        yield
    except OSError as error:
        raise OSError(error.errno, error.strerror or str(error), shown_path(given)) from error
    except ValueError as error:  # a zero byte in a path
        raise OSError(EINVAL, str(error), shown_path(given)) from error
