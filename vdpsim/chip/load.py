"""From a chip file to a Chip: a whole, checked one or, for whoever looks at a scene meanwhile, as much of it as is right.

Law: everything that is wrong with a file is found in one go, but for what hangs on the very keys that are wrong. A chip that is
partly right comes in several ways with other values where it is wrong: what is true of all hangs on none of these. In the place
of a table that cannot be mended stands one that nobody asks for: who looks at such a chip looks first at which tables are lost.
A chip's text loads as the same chip. Knows the chip's own file and no other.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any, NamedTuple

from ..door.given import path as path_of
from ..door.given import text as text_of
from ..door.shown import value as shown
from ..files.problems import InputError, Problem
from ..files.toml.tables import Fault, Source
from .checks import check
from .model import Chip

STAND_IN: dict[str, Any] = {
    "name": "the chip",
    "frame": {"width": 64, "height": 64, "dot_clock": 1_000_000, "dots_per_line": 64, "lines_per_frame": 64},
    "memory": {"size": 256, "bytes_per_access": 1},
    "palette": {"entries": 2, "bank_size": 2, "red": "0", "green": "1", "blue": "2"},
    "layers": [{"name": "x", "modes": [{"name": "x", "kind": "bitmap", "bits_per_dot": 1, "width": 8, "height": 1}]}],
    "ladder": [{"source": "x"}],
}
"""What a chip has to have."""

EVERY = frozenset(Chip.model_fields)
"""All tables and keys of a chip file."""


OWN = frozenset({"frame", "memory", "layers", "ladder"})
"""Tables that tell a chip file from a scene file."""

UNFELT = frozenset({"ladder", "exclusive", "transparent", "margin", "left", "pairs"})
"""Keys that say how something shows or what is told of it, and nothing of what can be loaded, set or moved."""

CAUSES: tuple[tuple[str, tuple[str, ...] | str], ...] = (
    ("bytes of memory, which has", ("memory", "size")),
    (r"accesses? of \d+ bytes|an even part of one|dots of an access", ("memory", "bytes_per_access")),
    (r"value \d+ x", "bits_per_dot"),
    (r"bank \d+ x", ("palette", "bank_size")),
    ("the palette's last", ("palette", "entries")),
    ("dots above 0 and a field x_bias", ("sprites", "fields", "x_bias")),
    ("value of the size field", ("sprites", "fields", "size")),
    ("must be one of|is no (control|client)|must name other|must be a control", ("layers", "*", "name")),
    ("is no (control|client)|must be a control", ("layers", "*", "modes", "*", "name")),
    ("does not fit a word of", "cell_bytes"),
    ("does not fit a word of", "record_bytes"),
    (r"must be 0 to \d+ .*in steps of", "bits"),
    (r"must be 0 to \d+ in steps of 1,", ("frame", "height")),
    (r"must name a field of sprites .*, got '(\w+)'", ("sprites", "fields", r"\1")),
    (r"must name a field of (\w+) .*, got '(\w+)'", ("layers", r"*\1", "modes", "*", "cell", r"\2")),
    (r"\b(\w+)\.(\w+)\.plane_\d+: is no control", ("layers", r"*\1", "modes", r"*\2", "bits_per_dot")),
    (r"\bsprites\.plane_\d+: is no control", ("sprites", "bits_per_dot")),
    (r"1 control is not named: (\w+)\.(\w+)\.(\w+)", ("layers", r"*\1", "modes", r"*\2", "cell", r"\3")),
)
"""What disagreements may hang on besides the place where they are told, by words of that and their sentences."""

UNKNOWN = "is no (control|client) of this chip|is a register already"
"""What sentences say of keys that are as good as unknown."""


class Partly(NamedTuple):
    """A chip as far as its file is right, and what is ``wrong``.

    ``chips``: one, or several that differ wherever the file is wrong. ``wrong``: keys of the file in whose place anything stands.
    """

    chips: tuple[Chip, ...]
    wrong: frozenset[str]
    problems: list[Problem]


def none_of_it() -> Chip:
    """A chip of which every table is wrong."""
    return Chip.model_validate_json(json.dumps(STAND_IN))


def read_chip(source: Source) -> Partly:
    """The chip in ``source``, as much of it as is right."""
    told = _of_another_kind(source)
    if told:
        return Partly((none_of_it(),), EVERY, [told])
    chip, faults = source.faults(Chip, source.data)
    faults += [Fault(*one) for one in check(chip)] if chip else []
    if chip and not faults:
        return Partly((chip,), frozenset(), [])
    from ..files.toml.data import LEFT_OUT  # noqa: PLC0415 - right files need none of it
    from ..files.toml.mending import Asked  # noqa: PLC0415
    from ..files.toml.ways import mended, unsaid  # noqa: PLC0415

    stand_ins = {key: STAND_IN.get(key, LEFT_OUT) for key in EVERY}
    faults = _registers_first(source, faults)
    found = mended(source, Asked(Chip, check, stand_ins, CAUSES, UNFELT, UNKNOWN), source.data)
    if found is None:
        return Partly((none_of_it(),), EVERY, _told(source, faults))
    every = _registers_first(source, [*faults, *unsaid(found.further, faults)])
    return Partly(tuple(way.made for way in (*found.ways, *found.more)), found.ways[0].lost, _told(source, every))


def _of_another_kind(source: Source) -> Problem | None:
    """What is told of a scene file in a chip file's place; None for any other."""
    named = source.data.get("chip")
    if not isinstance(named, str) or not source.data.keys().isdisjoint(OWN):
        return None
    return Problem(
        source.name, 0, "", f"is a scene file, and must be a chip file; the chip that it names is {shown(named)}"
    )


def _registers_first(source: Source, faults: list[Fault]) -> list[Fault]:
    """Mistakes in the registers as one, where a table is written as though it were one register of a list."""
    given = source.data.get("registers")
    if not isinstance(given, dict) or not any(
        isinstance(given.get(key), int | str) for key in ("name", "bits", "address")
    ):
        return faults
    told = "is a table with one register's own keys: a list of registers is written [[registers]], once for each"
    return [Fault(("registers",), told), *(one for one in faults if one.place[:1] != ("registers",))]


def _told(source: Source, faults: Iterable[Fault]) -> list[Problem]:
    return [source.problem(place, message) for place, message, _ in faults]


def load_chip(path: str | Path) -> Chip:
    """The chip described by the file at ``path``. Raises InputError with the mistakes in it."""
    return chip_from(Source.read(path_of("path", path)))


def parse_chip(text: str, name: str = "chip") -> Chip:
    """The chip described by ``text`` in TOML; ``name`` stands for the file in messages. Raises InputError."""
    return chip_from(Source(text_of("text", text), text_of("name", name)))


def chip_from(source: Source) -> Chip:
    """The chip in ``source``. Raises InputError with the mistakes in it."""
    chips, _, problems = read_chip(source)
    if problems:
        raise InputError(problems)
    return chips[0]


def chip_text(chip: Chip) -> str:
    """A chip as a chip file that loads as the same chip."""
    from ..files.toml.out import document  # noqa: PLC0415 - who reads a chip writes none

    return document(chip.model_dump(mode="json", exclude_unset=True, by_alias=True))
