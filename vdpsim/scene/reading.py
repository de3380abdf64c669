"""A scene file before it is built: its tables, its chip, and which of its lists can be looked at.

Law: what is wrong is collected and never raised. A file or a chip that is wrong comes in two ways with other values where it is:
what is found both ways hangs on none of these. Where a table of the chip cannot be mended, lists that hang on it are not
built: of these only the tables' own shape and the files that they name are looked at.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any, NamedTuple

from ..chip.load import EVERY, OWN, none_of_it, read_chip
from ..chip.model import Chip, Table
from ..files.problems import InputError, Problem
from ..files.toml.tables import LARGEST, Fault, Source
from .contents.assets import Assets
from .findings import Findings, Place, WrongError
from .model import LISTS, SceneFile, SceneHead

if TYPE_CHECKING:
    from ..files.toml.mending import Ways

Tables = dict[str, list[tuple[int, Any]]]
"""The tables of each list that are right in themselves, with their places in the list."""

MOST_MENDED = 30
"""Tables of a scene file that are wrong in themselves and looked at with other values; more are left out."""

SHAPE = frozenset(
    {"name", "frame", "memory", "palette", "layers", "sprites", "collisions", "registers", "constants", "status"}
)
"""What says which controls a chip has, and so what a scene can set, load and move."""

HANG_ON: dict[str, frozenset[str]] = {"palette": frozenset({"palette", "name"}), "contents": SHAPE}
"""Which tables of the chip must not be lost for the scene's palette, and for what it holds, moves and writes."""

WRITES_HANG_ON = {"time": "by", "cpu": "by", "ports": "port"}
"""Which tables of the chip must not be lost for writes with a key."""


class Way(NamedTuple):
    """What stands in a file: its head, and the tables of each list."""

    head: SceneHead
    tables: Tables


def refuse_chip(source: Source) -> None:
    """Raise InputError where the file is a chip file: it has two of a chip's own tables, and names no chip."""
    if "chip" not in source.data and len(OWN & source.data.keys()) > 1:
        raise InputError(
            [Problem(source.name, 0, "", "is a chip file, and must be a scene file, which names its chip")]
        )


def read_tables(source: Source, problems: list[Problem]) -> tuple[tuple[Way, ...], set[str]]:
    """The file's head and its tables with their numbers, in two ways where it is wrong; and lists that lack a table's values.

    The ways differ in values that are wrong; tables for which there are no others are left out.
    """
    whole, found = source.faults(SceneFile, source.data)
    if whole is not None:
        return (Way(whole, {key: list(enumerate(getattr(whole, key))) for key in LISTS}),), set()
    reading = _Reading(source, found)
    ways = tuple(Way(head, {key: [] for key in LISTS}) for head in reading.heads())
    for key, model in LISTS.items():
        listed = source.data.get(key, [])
        if not isinstance(listed, list):
            reading.failed.add(key)
            continue
        for index, data in enumerate(listed):
            for way, table in zip(ways, reading.table((key, index), model, data), strict=False):
                way.tables[key].append((index, table))
    problems += [source.problem(place, message) for place, message, _ in reading.told]
    return ways, reading.failed


class _Reading:
    """The reading of a file in which ``told`` is wrong."""

    def __init__(self, source: Source, told: list[Fault]) -> None:
        self.source, self.told = source, told
        self.failed: set[str] = set()
        self.mended = 0

    def heads(self) -> tuple[SceneHead, SceneHead]:
        """The head in two ways; where that cannot be, its keys that are right in themselves."""
        data = {key: value for key, value in self.source.data.items() if key not in LISTS}
        found = self._mended((), SceneHead, data)
        if found is None:
            right = SceneHead.model_construct(**_right_keys(self.source))
            return right, right
        return found.ways[0].made, found.ways[1].made

    def table(self, place: Place, model: type[Table], data: Any) -> tuple[Table, ...]:
        """The table at ``place`` in two ways; nothing where that cannot be."""
        made = self.source.part(model, data)
        if made is not None:
            return made, made
        found = self._mended(place, model, data)
        if found is None or any(way.other for way in found.ways):
            self.failed.add(str(place[0]))
        return () if found is None else (found.ways[0].made, found.ways[1].made)

    def _mended(self, place: Place, model: type[Table], data: Any) -> Ways[Any] | None:
        from ..files.toml.mending import Asked, mended  # noqa: PLC0415 - right files need none of it

        self.mended += 1
        ways = mended(self.source, Asked(model), data) if self.mended <= MOST_MENDED else None
        if ways is not None:
            found = [fault._replace(place=(*place, *fault.place)) for fault in ways.further]
            self.told += [fault for fault in found if fault not in self.told]
        return ways


def _right_keys(source: Source) -> dict[str, Any]:
    """The keys of the head that are right in themselves, so that the rest of the file can be looked at."""
    right: dict[str, Any] = {}
    for key in SceneHead.model_fields:
        if key in source.data:
            one, _ = source.parsed(SceneHead, {"name": "scene", "chip": "chip", key: source.data[key]})
            if one is not None:
                right[key] = getattr(one, key)
    return right


def read_own_chip(source: Source, assets: Assets, problems: list[Problem]) -> tuple[tuple[Chip, ...], frozenset[str]]:
    """The chip that the file names, in two ways where its file is wrong, and the keys of that in whose place anything stands.

    Where nothing but the palette can be looked at, the chip has its name and palette alone: whatever asks the rest of it asks
    a chip that agrees with itself.
    """
    name = source.data.get("chip")
    if isinstance(name, str):
        try:
            assets.read(name, "chip", LARGEST)
            chips, wrong, found = read_chip(Source.read(assets.root / name))
            problems += found
        except WrongError as error:
            problems.append(source.problem(error.sub, error.message))
        except InputError as error:
            problems += error.problems
        else:
            if wrong & HANG_ON["contents"]:
                chips = tuple(
                    none_of_it().model_copy(update={"name": chip.name, "palette": chip.palette}) for chip in chips
                )
            return chips, wrong
    return (none_of_it(),), EVERY


def look_at_files(findings: Findings, assets: Assets, tables: Tables, keys: Iterable[str]) -> None:
    """Tell which files that tables of the lists ``keys`` name cannot be used, whatever the chip is."""
    for key in keys:
        for index, table in tables[key]:
            with findings.table(key, index):
                look_at_file(assets, table)


def look_at_file(assets: Assets, table: Any) -> None:
    """Look whether the files that ``table`` names can be used. Raises WrongError."""
    for name in {"png", "picture"} & set(type(table).model_fields):
        if getattr(table, name) is not None:
            assets.picture(getattr(table, name), name)
    if getattr(table, "raw", None) is not None:
        assets.raw(table.raw, "raw", table.offset, table.length)
