"""From a chip file to a Chip: a whole, checked one or, for whoever looks at a scene meanwhile, as much of it as is right.

Law: everything that is wrong with a file is found in one go, but for what hangs on a table that is wrong itself. In the place
of such a table stands one that nobody asks for: who looks at a chip of this kind looks first at which tables are wrong.
Knows the chip's own file and no other.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any, NamedTuple

from ..door.given import path as path_of
from ..door.given import text as text_of
from ..files.problems import InputError, Problem
from ..files.toml.tables import Source
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


UNFELT = {"ladder", "exclusive", "transparent", "margin", "left"}
"""Keys of layers and sprites that say how something shows, and nothing of what can be loaded, set or moved."""


class Partly(NamedTuple):
    """A chip, the keys of its file in whose place something else stands or that do not agree with others, and what is wrong."""

    chip: Chip
    wrong: frozenset[str]
    problems: list[Problem]


def none_of_it() -> Chip:
    """A chip of which every table is wrong."""
    return Chip.model_validate_json(json.dumps(STAND_IN))


def read_chip(source: Source) -> Partly:
    """The chip in ``source``, as much of it as is right."""
    chip, problems = source.parsed(Chip, source.data)
    wrong: frozenset[str] = frozenset()
    if chip is None:
        right = {key: data for key, data in source.data.items() if key in EVERY and _alone(source, key, data)}
        needed = frozenset(key for key, field in Chip.model_fields.items() if field.is_required())
        wrong = (EVERY.intersection(source.data) | needed) - right.keys()
        chip = source.part(Chip, STAND_IN | right)
        if chip is None:
            return Partly(none_of_it(), EVERY, problems)
    found = list(check(chip, wrong))
    problems = problems + [source.problem(place, message) for place, message in found]
    return Partly(chip, wrong | {_hung_on(place) for place, _ in found}, problems)


def _hung_on(place: tuple[str | int, ...]) -> str:
    """The table at ``place``, or the key in it by which alone it is wrong."""
    return next((str(key) for key in place[1:] if key in UNFELT), str(place[0]))


def _alone(source: Source, key: str, data: Any) -> bool:
    """Whether what stands at ``key`` is right in itself."""
    return source.part(Chip, STAND_IN | {key: data}) is not None


def load_chip(path: str | Path) -> Chip:
    """The chip described by the file at ``path``. Raises InputError with the mistakes in it."""
    return chip_from(Source.read(path_of("path", path)))


def parse_chip(text: str, name: str = "chip") -> Chip:
    """The chip described by ``text`` in TOML; ``name`` stands for the file in messages. Raises InputError."""
    return chip_from(Source(text_of("text", text), text_of("name", name)))


def chip_from(source: Source) -> Chip:
    """The chip in ``source``. Raises InputError with the mistakes in it."""
    chip, _, problems = read_chip(source)
    if problems:
        raise InputError(problems)
    return chip
