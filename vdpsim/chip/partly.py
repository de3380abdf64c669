"""A chip file of which some tables are wrong: what is right is looked at all the same.

Law: everything that is wrong with a file is found in one go, but for what hangs on a table that is wrong itself. In the place
of such a table stands one that nobody asks for: whoever looks at a chip of this kind looks first at which tables are wrong.
"""

from __future__ import annotations

import json
from typing import Any, NamedTuple

from ..files.problems import Problem
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
    return Partly(chip, wrong | {str(place[0]) for place, _ in found}, problems)


def _alone(source: Source, key: str, data: Any) -> bool:
    """Whether what stands at ``key`` is right in itself."""
    return source.part(Chip, STAND_IN | {key: data}) is not None
