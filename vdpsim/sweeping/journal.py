"""A sweep's journal: what its finished points gave, so that a sweep that was stopped goes on where it was.

Law: a line of JSON for each point, found again by a digest of what was set; the first line has a digest of everything else
that results follow from: the chip file, the scene with its files as they were read, the frame, the program. Where that has
changed, nothing of the journal is used. A line that was cut off is no point. Knows no figure.
"""

from __future__ import annotations

import json
import os
from base64 import b64decode, b64encode
from collections.abc import Mapping
from contextlib import suppress
from functools import cache
from hashlib import blake2b
from pathlib import Path

from .. import files
from ..door.shown import shown_path
from ..files.problems import InputError, Problem
from ..files.toml.tables import Source
from ..version import __version__
from .points import Changes, PointResult, Task

TITLE = "vdpsim sweep journal"

LARGEST = 1 << 29
"""Bytes; a longer journal is refused."""


class Journal:
    """The journal at ``path`` for a sweep whose results follow from ``inputs``. Nothing is written before the first point.

    Raises InputError where another kind of file has that name.
    """

    def __init__(self, path: str | Path, inputs: str) -> None:
        self.path = Path(path)
        self._head = json.dumps({"title": TITLE, "inputs": inputs})
        self._found: dict[str, PointResult] = {}
        self._begun = False
        self._whole = True
        self._read()

    def get(self, changes: Changes, *, pictured: bool) -> PointResult | None:
        """What the point gave, if it is known; with its picture where one is wanted and it is no error."""
        found = self._found.get(point_key(changes))
        if found is None or (pictured and found.picture is None and "error" not in found.figures):
            return None
        return found

    def add(self, changes: Changes, result: PointResult) -> None:
        """Note what a point gave, unless an error that might not come again."""
        if not result.sure:
            return
        picture = None if result.picture is None else b64encode(result.picture).decode()
        line = json.dumps({"point": point_key(changes), "figures": result.figures, "picture": picture})
        if self._begun or self._found:
            self._append(f"{line}\n" if self._whole else f"\n{line}\n")
        else:
            files.write(self.path, f"{self._head}\n{line}\n".encode())
        self._begun = self._whole = True

    def _append(self, text: str) -> None:
        try:
            with open(self.path, "a", encoding="utf-8") as file:
                file.write(text)
        except OSError as error:  # a full disk does not say which file
            raise OSError(error.errno, error.strerror, shown_path(self.path)) from None

    def _read(self) -> None:
        text = self._text()
        if text is None:
            return
        self._whole = text.endswith("\n")
        head, *lines = text.split("\n")
        if text and f'"{TITLE}"' not in head:
            told = "is not a sweep's journal: give another name, or remove it"
            raise InputError([Problem(shown_path(self.path), 0, "", told)])
        for line in lines if head == self._head else ():
            with suppress(ValueError, KeyError, TypeError):  # a line that was cut off
                noted = json.loads(line)
                picture = noted["picture"]
                data = None if picture is None else b64decode(picture, validate=True)
                self._found[noted["point"]] = PointResult(dict(noted["figures"]), data, sure=True)

    def _text(self) -> str | None:
        """The journal as it is; None where there is none."""
        try:
            self.path.stat()
        except FileNotFoundError:
            return None
        except (OSError, ValueError):  # reading says what is wrong
            pass
        try:
            return files.fresh(self.path, LARGEST).decode("utf-8", errors="replace")
        except files.UnreadableError as error:
            raise InputError([Problem(shown_path(self.path), 0, "", str(error))]) from None


def point_key(changes: Changes) -> str:
    """A digest of what is set, and in which order."""
    return _digest(json.dumps(changes).encode())


def inputs_key(task: Task) -> str:
    """A digest of everything but the point that a result follows from."""
    told = [__version__, _program(), task.name, task.text, task.data, task.scene_name, task.scene_key, task.frame]
    return _digest(json.dumps(told, default=str).encode())


def scene_key(source: Source, path: Path, read: Mapping[str, files.Outcome]) -> str:
    """A digest of a scene file and of every other file that was ``read`` for it, by real paths."""
    parts, folder = [json.dumps(source.data, default=str).encode()], os.path.realpath(path.parent)
    for place, data in read.items():
        if isinstance(data, bytes) and place != os.path.realpath(path):
            parts += [os.fsencode(os.path.relpath(place, folder)), data]
    return _digest(*parts)


@cache
def _program() -> str:
    """A digest of the program's own files."""
    home = Path(__file__).resolve().parents[1]
    return _digest(*(path.read_bytes() for path in sorted(home.rglob("*.py"))))


def _digest(*parts: bytes) -> str:
    digest = blake2b(digest_size=16)
    for part in parts:
        digest.update(f"{len(part)}\n".encode())
        digest.update(part)
    return digest.hexdigest()
