"""A scene file before it is built: its tables, its chip, and which of its lists can be looked at.

Law: what is wrong is collected and never raised. Where the chip is wrong too, lists that hang on a wrong table of it are not
built: of these only the tables' own shape and the files that they name are looked at.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from ..chip.load import EVERY, none_of_it, read_chip
from ..chip.model import Chip
from ..files.problems import InputError, Problem
from ..files.toml.tables import LARGEST, Source
from .contents.assets import Assets
from .findings import Findings, WrongError
from .model import LISTS, SceneFile, SceneHead

Tables = dict[str, list[tuple[int, Any]]]
"""The tables of each list that are right in themselves, with their places in the list."""

SHAPE = frozenset({"name", "frame", "memory", "palette", "layers", "sprites", "registers", "constants", "status"})
"""What says which controls a chip has, and so what a scene can set, load and move."""

HANG_ON: dict[str, frozenset[str]] = {
    "palette": frozenset({"palette", "name"}),
    "contents": SHAPE,
    "writes": SHAPE | {"time", "cpu", "ports"},
}
"""Which tables of the chip must be right for the scene's palette, for what it holds and moves, and for its writes."""


def read_tables(source: Source, problems: list[Problem]) -> tuple[SceneHead, Tables, set[str]]:
    """The file's head and its tables with their numbers; tables that are wrong in themselves are left out."""
    whole, found = source.parsed(SceneFile, source.data)
    problems += found
    if whole is not None:
        return whole, {key: list(enumerate(getattr(whole, key))) for key in LISTS}, set()
    head = SceneHead.model_construct(**_right_keys(source))
    tables: Tables = {key: [] for key in LISTS}
    failed = set()
    for key, model in LISTS.items():
        listed = source.data.get(key, [])
        for index, data in enumerate(listed if isinstance(listed, list) else []):
            table = source.part(model, data)
            if table is None:
                failed.add(key)
            else:
                tables[key].append((index, table))
        if not isinstance(listed, list):
            failed.add(key)
    return head, tables, failed


def _right_keys(source: Source) -> dict[str, Any]:
    """The keys of the head that are right in themselves, so that the rest of the file can be looked at."""
    right: dict[str, Any] = {}
    for key in SceneHead.model_fields:
        if key in source.data:
            one, _ = source.parsed(SceneHead, {"name": "scene", "chip": "chip", key: source.data[key]})
            if one is not None:
                right[key] = getattr(one, key)
    return right


def read_own_chip(source: Source, assets: Assets, problems: list[Problem]) -> tuple[Chip, frozenset[str]]:
    """The chip that the file names, as much of it as is right, and the keys of its file that are not.

    Where nothing but the palette can be looked at, the chip has its name and palette alone: whatever asks the rest of it asks
    a chip that agrees with itself.
    """
    name = source.data.get("chip")
    if isinstance(name, str):
        try:
            assets.read(name, "chip", LARGEST)
            chip, wrong, found = read_chip(Source.read(assets.root / name))
            problems += found
        except WrongError as error:
            problems.append(source.problem(error.sub, error.message))
        except InputError as error:
            problems += error.problems
        else:
            if wrong & HANG_ON["contents"]:
                chip = none_of_it().model_copy(update={"name": chip.name, "palette": chip.palette})
            return chip, wrong
    return none_of_it(), EVERY


def look_at_files(findings: Findings, assets: Assets, tables: Tables, keys: Iterable[str]) -> None:
    """Tell which files that tables of the lists ``keys`` name cannot be used, whatever the chip is."""
    for key in keys:
        for index, table in tables[key]:
            with findings.table(key, index):
                for name in {"png", "picture"} & set(type(table).model_fields):
                    if getattr(table, name) is not None:
                        assets.picture(getattr(table, name), name)
                if getattr(table, "raw", None) is not None:
                    assets.raw(table.raw, "raw", table.offset, table.length)
