"""A sweep's journal: what its finished points gave, so that a sweep that was stopped goes on where it was.

Law: a line of JSON for each point, found again by a digest of what was set; the first line has a digest of everything else
that results follow from: the chip file, the scene with its files, the frame, the program. Where that has changed, nothing
of the journal is used. A line that was cut off is no point. Knows no figure.
"""

from __future__ import annotations

import json
from base64 import b64decode, b64encode
from contextlib import suppress
from functools import cache
from hashlib import blake2b
from pathlib import Path
from stat import S_ISREG
from typing import Any

from .. import __version__, files
from ..problems import InputError, Problem
from ..toml_file import Source
from .points import Changes, Result, Task

TITLE = "vdpsim sweep journal"

LONGEST_NAME = 255
"""Characters; a longer text in a scene file names no file."""

LARGEST = 32 << 20
"""Bytes; no file of a scene is larger."""


class Journal:
    """The journal at ``path`` for a sweep whose results follow from ``inputs``. Nothing is written before the first point.

    Raises InputError where another kind of file has that name.
    """

    def __init__(self, path: str | Path, inputs: str) -> None:
        self.path = Path(path)
        self._head = json.dumps({"title": TITLE, "inputs": inputs})
        self._found: dict[str, Result] = {}
        self._begun = False
        self._read()

    def get(self, changes: Changes, *, pictured: bool) -> Result | None:
        """What the point gave, if it is known; with its picture where one is wanted and it is no error."""
        found = self._found.get(point_key(changes))
        if found is None or (pictured and found.picture is None and "error" not in found.figures):
            return None
        return found

    def add(self, changes: Changes, result: Result) -> None:
        """Note what a point gave, unless an error that might not come again."""
        if not result.sure:
            return
        picture = None if result.picture is None else b64encode(result.picture).decode()
        line = json.dumps({"point": point_key(changes), "figures": result.figures, "picture": picture})
        if not self._begun:
            self._begin()
        with open(self.path, "a", encoding="utf-8") as file:
            file.write(f"{line}\n")

    def remove(self) -> None:
        """Take the journal away, once what the sweep gave is safe."""
        self.path.unlink(missing_ok=True)

    def _begin(self) -> None:
        """The file as it is to be continued: whole lines, of these inputs."""
        self._begun = True
        self.path.parent.mkdir(parents=True, exist_ok=True)
        if not self._found:
            files.write(self.path, f"{self._head}\n".encode())
        elif not self.path.read_bytes().endswith(b"\n"):
            with open(self.path, "a", encoding="utf-8") as file:
                file.write("\n")

    def _read(self) -> None:
        try:
            if not S_ISREG(self.path.stat().st_mode):
                raise InputError([Problem(str(self.path), 0, "", "cannot be read: it is no regular file")])
            text = self.path.read_text("utf-8", errors="replace")
        except FileNotFoundError:
            return
        except OSError as error:
            raise InputError([Problem(str(self.path), 0, "", f"cannot be read: {error.strerror}")]) from None
        head, *lines = text.split("\n")
        if text and f'"{TITLE}"' not in head:
            raise InputError([Problem(str(self.path), 0, "", "is no journal of a sweep: name another or remove it")])
        if head != self._head:
            return
        for line in lines:
            with suppress(ValueError, KeyError, TypeError):  # a line that was cut off
                told = json.loads(line)
                picture = told["picture"]
                data = None if picture is None else b64decode(picture, validate=True)
                self._found[told["point"]] = Result(dict(told["figures"]), data, sure=True)


def point_key(changes: Changes) -> str:
    """A digest of what is set, and in which order."""
    return _digest(json.dumps(changes).encode())


def inputs_key(task: Task) -> str:
    """A digest of everything but the point that a result follows from."""
    told = [__version__, _program(), task.name, task.text, task.data, task.scene_name, task.scene_key, task.frame]
    return _digest(json.dumps(told, default=str).encode())


def scene_key(source: Source, path: Path) -> str:
    """A digest of a scene file and of every file in its folder that it names, under whatever key."""
    root = path.parent.resolve()
    parts = [json.dumps(source.data, default=str).encode()]
    for name in sorted(_names(source.data)):
        with suppress(OSError, ValueError):  # what cannot be read is for the scene's loading to complain of
            file = (root / name).resolve()
            if file.is_relative_to(root) and file.is_file() and file.stat().st_size <= LARGEST:
                parts += [name.encode(), file.read_bytes()]
    return _digest(*parts)


def _names(data: Any) -> set[str]:
    """Every text in ``data`` that could name a file."""
    if isinstance(data, dict):
        return {name for inner in data.values() for name in _names(inner)}
    if isinstance(data, list):
        return {name for inner in data for name in _names(inner)}
    named = isinstance(data, str) and 0 < len(data) <= LONGEST_NAME and data.isprintable()
    return {data} if named else set()


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
