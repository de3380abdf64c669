"""What a sweep was asked for: the chip file, the fields that are varied with their values, the scene.

Law: whatever is wrong is refused before any point is worked out, with everything that is wrong of its kind. What points share
is plain data (``points.Task``). Knows no figure.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping
from concurrent.futures import Executor
from contextlib import suppress
from math import prod
from pathlib import Path
from typing import Any

from ..chip.load import chip_from
from ..chip.model import Chip
from ..door.given import instance, whole_number
from ..door.given import path as path_of
from ..door.given import text as text_of
from ..door.shown import value as shown
from ..files import once
from ..files.problems import InputError, Problem
from ..files.toml.tables import Loc, Source
from .fields import place_of, plain_value
from .journal import scene_key
from .points import Task

MOST_POINTS = 100_000
"""Points of one sweep; more are refused."""


def check_files(chip: str | Path | Chip, scene: str | Path | None, journal: str | Path | None) -> None:
    """Raise TypeError or ValueError for what is no path, or no Chip."""
    for name, place in (("scene", scene), ("journal", journal), ("chip", None if isinstance(chip, Chip) else chip)):
        if place is not None:
            path_of(name, place)
    if chip is None:
        raise TypeError("chip must be a path or a Chip, got None")


def check_vary(vary: Mapping[str, Iterable[Any]]) -> None:
    """Raise TypeError where ``vary`` is not a list of values for each name of a field."""
    for name, values in instance("vary", vary, Mapping, "fields with their values").items():
        text_of("a field of vary", name)
        if isinstance(values, bytes):  # as a list it would be numbers that nobody meant
            raise TypeError(f"{name} must have a list of values, got {shown(values)}")


def checked_jobs(jobs: int | None, executor: Executor | None) -> int | None:
    """The number of processes. Raises TypeError or ValueError for none, or for one beside an executor."""
    jobs = None if jobs is None else whole_number("jobs", jobs, -1 << 63)
    if jobs is not None and (jobs < 1 or executor is not None):
        raise ValueError(f"give jobs, 1 or more, or an executor; got jobs={jobs}, executor={executor}")
    if executor is not None:
        instance("executor", executor, Executor, "an Executor or None")
    return jobs


def read_chip(chip: str | Path | Chip) -> tuple[str, Source, Chip]:
    """The chip file's text, empty for a Chip; its data; and the chip. Raises InputError."""
    if not isinstance(chip, Chip):
        source = Source.read(chip)
        return source.text, source, chip_from(source)
    source = Source("", chip.name)
    source.data = chip.model_dump(mode="json", by_alias=True, exclude_unset=True)
    return "", source, chip


def varied(
    source: Source, chip: Chip, vary: Mapping[str, Iterable[Any]]
) -> tuple[dict[str, tuple[Any, ...]], list[Loc]]:
    """The fields with their values, and their places. Raises InputError with everything that is wrong with them."""
    problems: list[Problem] = []
    fields: dict[str, tuple[Any, ...]] = {}
    places: list[Loc] = []
    for name, values in vary.items():
        path = name.strip()
        try:
            place = place_of(path, source.data, chip)
            known = next((other for other, at in zip(fields, places, strict=True) if _share(place, at)), None)
            if known is not None:
                raise ValueError(f"is varied already: {known}")  # noqa: TRY301 - told with the others
            fields[path] = _values(values, place)
            places.append(place)
        except ValueError as error:
            problems.append(Problem(source.name, 0, path, str(error)))
    total = prod(map(len, fields.values()))
    if not vary:
        problems.append(Problem(source.name, 0, "", "nothing is varied: name a field and its values"))
    elif total > MOST_POINTS:
        problems.append(Problem(source.name, 0, "", f"a sweep has at most {MOST_POINTS:,} points, got {total:,}"))
    if problems:
        raise InputError(problems)
    return fields, places


def _share(one: Loc, other: Loc) -> bool:
    """Whether one place is the other, or lies in it."""
    least = min(len(one), len(other))
    return one[:least] == other[:least]


def _values(values: Iterable[Any], place: Loc) -> tuple[Any, ...]:
    if isinstance(values, str | Mapping) or not isinstance(values, Iterable):
        raise ValueError(f"must have a list of values, got {shown(values)}")  # noqa: TRY004 - told as an InputError
    found = tuple(plain_value(value) for value in values)
    if not found:
        raise ValueError("must have one value at least, got none")
    texts = [json.dumps(value) for value in found]
    for number, text in enumerate(texts):
        if text in texts[:number]:
            raise ValueError(f"must have different values, got {text} twice")
    if None in found and isinstance(place[-1], int):
        raise ValueError("is an element of a list, which cannot be left out")
    return found


def task_of(text: str, source: Source, chip: Chip, scene: str | Path | None, frame: int) -> Task:
    """What all points share, with the files that the scene opens on ``chip``, the one that is varied.

    Raises InputError where the scene file cannot be read or is wrong in itself.
    """
    if frame < 0:
        raise InputError([Problem(source.name, 0, "frame", f"frames are numbered from 0, got {frame}")])
    if scene is None:
        return Task(source.name, text, source.data)
    from ..scene.load import scene_from  # noqa: PLC0415 - a sweep without a scene needs none of this
    from ..scene.model import SceneFile  # noqa: PLC0415

    path = Path(os.path.abspath(scene))  # noqa: PTH100 - workers may stand in another folder; links stay as they are
    with once() as reads, reads.apart() as asked:
        told = Source.read(scene)
        told.validate(SceneFile)
        with suppress(Exception):  # which is for each point to complain of
            scene_from(told, path, chip)
        read = reads.of(asked)
    key = scene_key(told, path, read)
    return Task(
        name=source.name,
        text=text,
        data=source.data,
        scene=str(path),
        scene_name=str(scene),
        scene_key=key,
        frame=frame,
        files=read,
    )
