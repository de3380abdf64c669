"""A TOML file as data, with the line on which each key stands; and pydantic's findings as problems.

Law: reading never runs anything and never reads more than ``LARGEST`` bytes. Every finding of one file is raised at once
as an InputError. Knows no chip and no scene.
"""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from .problems import InputError, Problem
from .toml_places import places

LARGEST = 8 << 20
"""Bytes; a larger chip or scene file is refused."""

Loc = tuple[str | int, ...]
Model = TypeVar("Model", bound=BaseModel)


class Source:
    """One TOML text: ``name`` for messages, ``data`` as Python objects, and where each key stands."""

    def __init__(self, text: str, name: str) -> None:
        self.name = name
        try:
            self.data: dict[str, Any] = tomllib.loads(text)
        except (tomllib.TOMLDecodeError, RecursionError) as error:
            found = re.search(r"at line (\d+)", str(error))
            message = f"is not TOML: {error}"
            raise InputError([Problem(name, int(found[1]) if found else 0, "", message)]) from None
        self._lines = places(text)

    @classmethod
    def read(cls, path: str | Path) -> Source:
        """The file at ``path``. Raises InputError where it is missing, too large, not UTF-8 or not TOML."""
        name = str(path)
        try:
            with open(path, "rb") as file:
                raw = file.read(LARGEST + 1)
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            raise InputError([Problem(name, 0, "", f"cannot be read: {reason}")]) from None
        if len(raw) > LARGEST:
            raise InputError([Problem(name, 0, "", f"must be at most {LARGEST} bytes long")])
        try:
            return cls(raw.decode("utf-8"), name)
        except UnicodeDecodeError as error:
            raise InputError([Problem(name, 0, "", f"is not UTF-8 text: byte {error.start} cannot be read")]) from None

    def problem(self, place: Loc, message: str) -> Problem:
        """A problem at ``place``, with the line of the nearest key that can be found."""
        line = next((self._lines[place[:end]] for end in range(len(place), 0, -1) if place[:end] in self._lines), 0)
        return Problem(self.name, line, ".".join(map(str, place)), message)

    def validate(self, model: type[Model]) -> Model:
        """The data as ``model``. Raises InputError with everything that pydantic finds."""
        try:
            return model.model_validate_json(json.dumps(self.data, default=str))
        except ValidationError as error:
            raise InputError(self._told(finding) for finding in error.errors(include_url=False)) from None

    def _told(self, finding: Any) -> Problem:
        place = tuple(part for part in finding["loc"] if not _is_tag(part, finding["loc"], self.data))
        kind, given = finding["type"], finding.get("input")
        message = finding["msg"].removeprefix("Value error, ")
        if kind == "extra_forbidden":
            message = "is not a known key"
        elif kind == "missing":
            message = "is missing"
        elif kind != "value_error":
            message = f"{message[0].lower()}{message[1:]}, got {_short(given)}"
        return self.problem(place, message)


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 80 else f"{text[:77]}..."


def _is_tag(part: str | int, loc: Loc, data: Any) -> bool:
    """Whether ``part`` is a discriminator's tag that pydantic put between the real keys of ``loc``."""
    for step in loc[: loc.index(part)]:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            continue
    return isinstance(part, str) and isinstance(data, dict) and part not in data and data.get("kind") == part
