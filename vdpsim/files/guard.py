"""What a command must not write over: what it has read, and what is a person's; and the record of what commands have written.

Law: a file that was read in this run is never written over, and one that vdpsim has not written, or that was changed since, only
where that is asked for. All such files are told at once, before any is written. A file that holds the wanted bytes already
is in nobody's way. The record lies where the XDG Base Directory Specification has the state of programs, outside of any folder
of results, and is nobody else's to read. A line says that these bytes were put under that name; lines are only added, each
run's at one go, until the file is so long that its older half is left out. A damaged line is no line, and whatever fails about
the record fails no run. Knows no chip and no scene.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import NamedTuple

from .held import lock as locked
from .problems import InputError, Problem
from .reading import Seen, UnreadableError, digest_of, fresh, reads, stamp

LARGEST = 4 << 20
"""Bytes; a longer record loses its older half."""

_READ = 4 * LARGEST
_BEGIN = re.compile(r"\n([0-9a-f]{32})")
_LINE = re.compile(r'([0-9a-f]{32}) (".+")')


READ = "is read by this command, so it is not written over: give another name"

FOREIGN = (
    "another file is there already, not written by vdpsim or changed since: "
    "give another name, or --replace to write over it"
)


def place() -> Path:
    """The record's file. Raises OSError where no home is known."""
    given = os.environ.get("XDG_STATE_HOME", "")
    if not given and os.name == "nt":  # pragma: no cover - another system's place
        given = os.environ.get("LOCALAPPDATA", "")
    if given and Path(given).is_absolute():  # the specification has relative ones ignored
        return Path(given) / "vdpsim" / "written"
    try:
        return Path.home() / ".local" / "state" / "vdpsim" / "written"
    except RuntimeError as error:
        raise OSError(2, str(error)) from None


def known(paths: Iterable[str]) -> dict[str, set[str]]:
    """The digests of all that was ever written under each of the real ``paths``, as far as it is on record."""
    found = {path: set[str]() for path in paths}
    with suppress(OSError, UnreadableError):
        text = f"\n{fresh(place(), _READ).decode('ascii', 'replace')}\n"
        for path, digests in found.items():
            digests.update(_digests(text, f" {json.dumps(path)}\n"))
    return found


def _digests(text: str, end: str) -> Iterator[str]:
    """The digests of the lines of ``text`` that end so; a long record is not taken apart line by line for a few paths."""
    at = text.find(end)
    while at >= 0:
        line = _BEGIN.fullmatch(text, max(0, at - 33), at)
        if line:
            yield line[1]
        at = text.find(end, at + 1)


def note(files: Iterable[tuple[str, str]]) -> None:
    """Put on record what is written: pairs of a real path and a digest. Raises OSError."""
    lines = "".join(f"\n{digest} {json.dumps(path)}" for path, digest in files)
    if not lines:
        return
    record = place()
    record.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    with _alone(record):
        _append(record, f"{lines}\n".encode("ascii"))
        if record.stat().st_size > LARGEST:
            _shorten(record)


def _append(record: Path, data: bytes) -> None:
    """Add ``data`` at one go. A line may have been cut off before: ours begin with a new one."""
    flags = os.O_WRONLY | os.O_APPEND | os.O_CREAT | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_NONBLOCK", 0)
    file = os.open(record, flags, 0o600)
    try:
        while data:
            data = data[os.write(file, data) :]
    finally:
        os.close(file)


def _shorten(record: Path) -> None:
    """Leave out what stands twice, and the older half."""
    try:
        found = list(dict.fromkeys(reversed(list(_lines(fresh(record, _READ))))))
    except UnreadableError:  # far too long to be ours: begin anew
        found = []
    lines, left = list[str](), LARGEST // 2
    for digest, path in found:
        lines.append(f"{digest} {path}\n")
        left -= len(lines[-1])
        if left < 0:
            break
    new = record.with_name(f"{record.name}.new")
    with os.fdopen(os.open(new, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w", encoding="ascii") as file:
        file.writelines(reversed(lines))
    new.replace(record)


def _lines(data: bytes) -> Iterator[tuple[str, str]]:
    """The digest and, as JSON writes it, the path of each line."""
    for line in data.decode("ascii", "replace").splitlines():
        found = _LINE.fullmatch(line)
        if found:
            yield found[1], found[2]


@contextmanager
def _alone(record: Path) -> Iterator[None]:
    """A block in which no other run touches the record, where the file system knows locks."""
    lock = os.open(record.with_name("lock"), os.O_RDWR | os.O_CREAT | getattr(os, "O_CLOEXEC", 0), 0o600)
    try:
        locked(lock, wait=True)
        yield
    finally:
        os.close(lock)


class Guard(NamedTuple):
    """Keeps what is a person's: ``replace`` gives it up; ``told`` is told, in a line, where the record cannot be written."""

    replace: bool
    told: Callable[[str], None]

    def wanted(self, results: Mapping[str, tuple[str, str]]) -> dict[str, Seen]:
        """Which of the ``results`` are to be written, of a name for messages and a digest for each real path; and noted.

        With each what is there now: whoever writes later must find the same.
        Raises InputError with all that must not be written over.
        """
        on_record, seen = known(results), reads()
        problems: list[Problem] = []
        wanted: dict[str, Seen] = {}
        for path, (name, digest) in results.items():
            try:
                found = Path(path).stat()
            except OSError:  # there is none yet
                wanted[path] = None
                continue
            read = seen is not None and seen.has(path, found)
            there = _digest(path)
            ours = there in on_record[path]
            if there == digest and (read or not ours):
                continue
            if read or not (ours or self.replace):
                problems.append(Problem(name, 0, "", READ if read else FOREIGN))
            else:
                wanted[path] = stamp(path, found)
        if problems:
            raise InputError(problems)
        self._note([(path, results[path][1]) for path in wanted])
        return wanted

    def _note(self, files: list[tuple[str, str]]) -> None:
        """Put on record what is written now: before it is, so that a run that is ended by force leaves nobody's files."""
        try:
            note(files)
        except OSError as error:
            self.told(f"cannot note which files were written ({error.strerror}): the next run will need --replace")


def _digest(path: str) -> str:
    try:
        return digest_of(path)
    except UnreadableError:
        return ""
