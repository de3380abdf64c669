"""What a command must not write over: what it has read, and what is a person's.

Law: a file that was read in this run is never written over, and one that vdpsim has not written, or that was changed since, only
where that is asked for. All such files are told at once, before any is written. A file that holds the wanted bytes already
is in nobody's way. Knows no chip and no scene.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from . import written
from .problems import InputError, Problem
from .reading import Seen, UnreadableError, digest_of, reads, stamp

READ = "is read by this command, so it is not written over: give another name"
FOREIGN = (
    "another file is there already, not written by vdpsim or changed since: "
    "give another name, or --replace to write over it"
)


@dataclass(frozen=True)
class Guard:
    """Keeps what is a person's: ``replace`` gives it up; ``told`` is told, in a line, where the record cannot be written."""

    replace: bool
    told: Callable[[str], None]

    def wanted(self, results: Mapping[str, tuple[str, str]]) -> dict[str, Seen]:
        """Which of the ``results`` are to be written, of a name for messages and a digest for each real path; and noted.

        With each what is there now: whoever writes later must find the same.
        Raises InputError with all that must not be written over.
        """
        known, seen = written.known(results), reads()
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
            ours = there in known[path]
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
            written.note(files)
        except OSError as error:
            self.told(f"cannot note which files were written ({error.strerror}): the next run will need --replace")


def _digest(path: str) -> str:
    try:
        return digest_of(path)
    except UnreadableError:
        return ""
