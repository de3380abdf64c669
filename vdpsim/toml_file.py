"""A TOML file as data, with the line on which each key stands; and what is wrong with it as problems.

Law: reading never runs anything and never reads more than ``LARGEST`` bytes. Every finding of one file is raised at once
as an InputError. Knows no chip and no scene.
"""

from __future__ import annotations

import json
import re
import stat
import tomllib
from functools import cached_property
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from .problems import InputError, Problem
from .toml_places import places
from .toml_words import sentence, without_echoes

TAG_FINDINGS = {"union_tag_invalid", "union_tag_not_found"}

LARGEST = 8 << 20
"""Bytes; a larger chip or scene file is refused."""

DEEPEST = 64
"""Parts of a dotted key; one of more is refused."""

LONGEST_MESSAGE = 1000
"""Characters of what is told of one mistake."""

_DEEP = re.compile(rf"^[ \t]*\[{{0,2}}[ \t]*[\w-]+(?:[ \t]*\.[ \t]*[\w-]+){{{DEEPEST}}}", re.MULTILINE)

Loc = tuple[str | int, ...]
Model = TypeVar("Model", bound=BaseModel)


class Source:
    """One TOML text: ``name`` for messages, ``data`` as Python objects, and where each key stands."""

    def __init__(self, text: str, name: str) -> None:
        self.name = name
        deep = _DEEP.search(text)
        if deep:  # Python's parser takes a time that grows with the square of such a key's length
            line = text.count("\n", 0, deep.end()) + 1
            raise InputError(
                [Problem(name, line, "", f"is nested too deeply: a key must have at most {DEEPEST} parts")]
            )
        try:
            self.data: dict[str, Any] = tomllib.loads(text)
        except RecursionError:
            raise InputError([Problem(name, 0, "", "is nested too deeply to be read")]) from None
        except ValueError as error:  # TOMLDecodeError, or a number of more digits than Python reads
            found = re.search(r"at line (\d+)", str(error))
            raise InputError([Problem(name, int(found[1]) if found else 0, "", f"is not TOML: {error}")]) from None
        self._text = text

    @classmethod
    def read(cls, path: str | Path) -> Source:
        """The file at ``path``. Raises InputError where it is missing, no regular file, too large, not UTF-8 or not TOML."""
        name = str(path)
        try:
            if not stat.S_ISREG(Path(path).stat().st_mode):
                raise InputError([Problem(name, 0, "", "cannot be read: it is no regular file")])
            with open(path, "rb") as file:
                raw = file.read(LARGEST + 1)
        except OSError as error:
            raise InputError([Problem(name, 0, "", f"cannot be read: {error.strerror}")]) from None
        if len(raw) > LARGEST:
            raise InputError([Problem(name, 0, "", f"must be at most {LARGEST} bytes long")])
        try:
            return cls(raw.decode("utf-8"), name)
        except UnicodeDecodeError as error:
            raise InputError([Problem(name, 0, "", f"is not UTF-8 text: byte {error.start} cannot be read")]) from None

    @cached_property
    def _lines(self) -> dict[Loc, int]:
        """Where each key stands; looked for only once something is wrong."""
        return places(self._text)

    def problem(self, place: Loc, message: str) -> Problem:
        """A problem at ``place``, with the line of the nearest key that can be found."""
        line = next((self._lines[place[:end]] for end in range(len(place), 0, -1) if place[:end] in self._lines), 0)
        return Problem(self.name, line, ".".join(map(_printable, place)), _short(message))

    def validate(self, model: type[Model]) -> Model:
        """The data as ``model``. Raises InputError with everything that is wrong in it."""
        found, problems = self.parsed(model, self.data)
        if found is None:
            raise InputError(problems)
        return found

    def parsed(self, model: type[Model], data: Any) -> tuple[Model | None, list[Problem]]:
        """``data``, this file's or a part of it, as ``model``; or None, with what is wrong in it."""
        try:
            text = json.dumps(data, default=str)
        except RecursionError:
            return None, [Problem(self.name, 0, "", "is nested too deeply to be read")]
        except ValueError:
            return None, [Problem(self.name, 0, "", "holds a number of too many digits")]
        try:
            return model.model_validate_json(text), []
        except ValidationError as error:
            findings = without_echoes(error.errors(include_url=False))
            return None, [
                self.problem(_keys(finding["loc"], finding["type"], data), sentence(finding, model))
                for finding in findings
            ]


def _keys(loc: Loc, kind: str, data: Any) -> Loc:
    """``loc`` without the tags that pydantic puts between the real keys where a value may be one of several kinds."""
    found: list[str | int] = []
    for place, part in enumerate(loc):
        last = place == len(loc) - 1
        inside = part in data if isinstance(data, dict) else isinstance(data, list) and part in range(len(data))
        if inside:
            data = data[part]
        elif isinstance(part, str) and not (last and kind == "missing"):
            continue
        found.append(part)
    # A union's tag is looked for under one key, which pydantic does not name in its place.
    return (*found, "kind") if kind in TAG_FINDINGS else tuple(found)


def _short(message: str) -> str:
    """A message without the middle of what it repeats of the file, where that goes on and on."""
    return message if len(message) <= LONGEST_MESSAGE else f"{message[: LONGEST_MESSAGE - 103]}...{message[-100:]}"


def _printable(part: str | int) -> str:
    """A key as it can be printed in one line."""
    text = str(part)
    return text if text.isprintable() and len(text) <= 60 else repr(text[:60])
