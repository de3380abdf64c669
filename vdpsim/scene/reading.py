"""A scene file before it is built: its tables, its chip, and which of its lists can be looked at.

Law: what is wrong is collected and never raised. A file or a chip that is wrong comes in two ways with other values where it is:
what is found both ways hangs on none of these. Where a table of the chip cannot be mended, lists that hang on it are not
built: of these only the tables' own shape and the files that they name are looked at.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, NamedTuple

from ..chip.load import EVERY, OWN, none_of_it, read_chip
from ..chip.model import Chip, Table
from ..files.problems import InputError, Problem
from ..files.toml.tables import LARGEST, Fault, Source
from .contents.assets import Assets
from .findings import Findings, Place, Together, WrongError
from .model import LISTS, SceneFile, SceneHead
from .tables.contents import SpriteTable
from .tables.values import Keys, Sourced

if TYPE_CHECKING:
    from ..files.toml.ways import Ways

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


def read_tables(source: Source, assets: Assets, problems: list[Problem]) -> tuple[tuple[Way, ...], set[str]]:
    """The file's head and its tables with their numbers, in two ways where it is wrong; and lists that lack a table's values.

    The ways differ in values that are wrong; of tables for which there are no others only the files are looked at.
    """
    whole, found = source.faults(SceneFile, source.data)
    if whole is not None:
        return (Way(whole, {key: list(enumerate(getattr(whole, key))) for key in LISTS}),), set()
    reading = _Reading(source, assets, found)
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

    def __init__(self, source: Source, assets: Assets, told: list[Fault]) -> None:
        self.source, self.assets, self.told = source, assets, told
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
        if issubclass(model, Sourced) and isinstance(data, dict):
            self._tell(place, "; ".join(model.wrong(_meant(model, data))))
        found = self._mended(place, model, data)
        if found is None:
            self.failed.add(str(place[0]))
            self._look_at_files(place, data)
            return ()
        one, other = found.ways
        if one.made.name != other.made.name if isinstance(one.made, SpriteTable) else one.other or other.other:
            self.failed.add(str(place[0]))
        return one.made, other.made

    def _look_at_files(self, place: Place, data: Any) -> None:
        """Tell which files that a table names cannot be read."""
        for key, look in (("png", self.assets.picture), ("picture", self.assets.picture), ("raw", self.assets.read)):
            name = data.get(key) if isinstance(data, dict) else None
            try:
                look(name, key) if isinstance(name, str) else None
            except WrongError as wrong:
                self._tell((*place, *wrong.sub), wrong.message)

    def _mended(self, place: Place, model: type[Table], data: Any) -> Ways[Any] | None:
        from ..files.toml.mending import Asked  # noqa: PLC0415 - right files need none of it
        from ..files.toml.ways import mended, unsaid  # noqa: PLC0415

        self.mended += 1
        ways = mended(self.source, Asked(model), data) if self.mended <= MOST_MENDED else None
        if ways is not None:
            further = [fault._replace(place=(*place, *fault.place)) for fault in ways.further]
            self.told += unsaid(further, self.told)
        return ways

    def _tell(self, place: Place, message: str) -> None:
        """Tell a mistake that is not yet told."""
        if message and (place, message) not in [(fault.place, fault.message) for fault in self.told]:
            self.told.append(Fault(place, message))


def _meant(model: type[Table], data: dict[str, Any]) -> Keys:
    """The known keys that ``data`` has or, by one that is not known, may be meant to have."""
    from difflib import get_close_matches  # noqa: PLC0415 - right files need none of it

    # A misspelt key says which source was meant, so that it is not also told that there is none.
    known = {field.alias or name for name, field in model.model_fields.items()}
    return frozenset(
        near for key in data for near in ([key] if key in known else get_close_matches(key, sorted(known), 1))
    )


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
    """The chip that the file names, in several ways where its file is wrong, and the keys of that in whose place anything stands.

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


@contextmanager
def working(findings: Findings, assets: Assets, place: Place, table: Any) -> Iterator[None]:
    """Work on ``table`` as ``Findings.table`` has it; where it ends early the files that it names are looked at all the same."""
    with findings.table(*place):
        try:
            yield
        except WrongError as wrong:
            each = Together()
            each.keep(wrong)
            each(look_at_file, assets, table)
            each.done()


def look_at_file(assets: Assets, table: Any) -> None:
    """Look whether the files that ``table`` names can be used. Raises WrongError."""
    for name in {"png", "picture"} & set(type(table).model_fields):
        if getattr(table, name) is not None:
            assets.picture(getattr(table, name), name)
    if getattr(table, "raw", None) is not None:
        assets.raw(table.raw, "raw", table.offset, table.length)
