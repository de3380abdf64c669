"""A TOML file as data, with the line on which each key stands; and what is wrong with it as problems.

Law: reading never runs anything and never reads more than ``LARGEST`` bytes. Every finding of one file is raised at once
as an InputError. Knows no chip and no scene.
"""

from __future__ import annotations

import json
import re
import tomllib
from functools import cached_property
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

from pydantic import BaseModel, ValidationError

from ...door.shown import clipped, shown_path
from .. import UnreadableError, read
from ..problems import InputError, Problem
from .places import places, too_deep

TAG_FINDINGS = {"union_tag_invalid", "union_tag_not_found"}

LARGEST = 1 << 20
"""Bytes; a larger chip or scene file is refused."""

MOST_TOLD = 200
"""Mistakes of one kind of finding that are told of one file; beyond, only how many there are."""

MANY, BEGINNING = 5_000, 20
"""Findings beyond which only the first elements of each list are looked at again, and how many elements those are: a finding
takes a thousand times the memory of what it is about."""

PLAIN_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_]{0,39}")
"""Names that stand in a place as they are."""

Loc = tuple[str | int, ...]
Model = TypeVar("Model", bound=BaseModel)


class Fault(NamedTuple):
    """A mistake: where it is, what is wrong, and what pydantic calls it, where pydantic has found it."""

    place: Loc
    message: str
    kind: str = ""


class Source:
    """One TOML text: ``name`` for messages, ``data`` as Python objects, and where each key stands."""

    def __init__(self, text: str, name: str) -> None:
        self.name = name
        deep = too_deep(text)
        if deep:
            raise InputError([Problem(name, deep[0], "", f"is nested too deeply: {deep[1]}")])
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
            raw = read(path, LARGEST)
        except UnreadableError as error:
            raise InputError([Problem(shown_path(path), 0, "", str(error))]) from None
        try:
            return cls(raw.decode("utf-8"), name)
        except UnicodeDecodeError as error:
            raise InputError([Problem(name, 0, "", f"is not UTF-8 text: byte {error.start} cannot be read")]) from None

    @property
    def text(self) -> str:
        """The text as it was read."""
        return self._text

    @cached_property
    def _lines(self) -> dict[Loc, int]:
        """Where each key and the first elements of each list stand; looked for only once something is wrong."""
        return places(self._text)

    def line(self, place: Loc) -> int:
        """The line of ``place`` or of the nearest key around it that can be found; 0 where there is none."""
        return next((self._lines[place[:end]] for end in range(len(place), 0, -1) if place[:end] in self._lines), 0)

    def _called(self, place: Loc) -> Loc:
        """``place`` with elements of lists by their names, where these tell them apart."""
        here: Any = self.data
        called: list[str | int] = []
        for part in place:
            called.append(_name(here, part) if isinstance(here, list) else part)
            try:
                here = here[part]
            except (KeyError, IndexError, TypeError):  # a key that is missing, or a place within a value
                here = None
        return tuple(called)

    def problem(self, place: Loc, message: str) -> Problem:
        """A problem at ``place``, with the line of the nearest key that can be found."""
        return Problem(
            self.name, self.line(place), ".".join(clipped(part, 60) for part in self._called(place)), message
        )

    def validate(self, model: type[Model]) -> Model:
        """The data as ``model``. Raises InputError with everything that is wrong in it."""
        found, problems = self.parsed(model, self.data)
        if found is None:
            raise InputError(problems)
        return found

    def parsed(self, model: type[Model], data: Any) -> tuple[Model | None, list[Problem]]:
        """``data``, this file's or a part of it, as ``model``; or None, with what is wrong in it."""
        found, faults = self.faults(model, data)
        return found, [self.problem(place, message) for place, message, _ in faults]

    def faults(self, model: type[Model], data: Any) -> tuple[Model | None, list[Fault]]:
        """``data``, this file's or a part of it, as ``model``; or None, with what is wrong in it, at places in the data."""
        try:
            return model.model_validate_json(json.dumps(data, default=str)), []
        except ValidationError as error:
            return None, _faults(error, model, data)
        except ValueError:
            return None, [Fault((), "holds a number of too many digits")]

    def part(self, model: type[Model], data: Any) -> Model | None:
        """``data``, a part of this file, as ``model``; None where something is wrong in it."""
        try:
            return model.model_validate_json(json.dumps(data, default=str))
        except ValueError:
            return None


def _name(elements: list[Any], number: str | int) -> str | int:
    """The name of an element that no other one has; else its number."""
    names = [one.get("name") if isinstance(one, dict) else None for one in elements]
    name = names[number] if isinstance(number, int) and number < len(names) else None
    return name if isinstance(name, str) and PLAIN_NAME.fullmatch(name) and names.count(name) == 1 else number


def _faults(error: ValidationError, model: type[Model], data: Any) -> list[Fault]:
    """What is wrong, the first of it where there is very much."""
    from .words import sentence, without_echoes  # noqa: PLC0415 - where nothing is wrong there is nothing to word

    count = error.error_count()
    if count > MANY:
        try:
            model.model_validate_json(json.dumps(_beginning(data), default=str))
            findings = []
        except ValidationError as some:
            findings = some.errors(include_url=False)
    else:
        findings = error.errors(include_url=False)
    told = [
        Fault(_keys(finding["loc"], finding["type"], data), sentence(finding, model), finding["type"])
        for finding in without_echoes(findings)[:MOST_TOLD]
    ]
    if len(findings) > MOST_TOLD or count > MANY:
        told.append(Fault((), f"{count:,} mistakes in all; these are the first"))
    return told


def _beginning(data: Any) -> Any:
    """``data`` with the first elements of each list."""
    if isinstance(data, dict):
        return {key: _beginning(value) for key, value in data.items()}
    return [_beginning(value) for value in data[:BEGINNING]] if isinstance(data, list) else data


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
