"""The mistakes found so far in a scene file, with the file and the chip that it is checked against.

Law: code that builds a part raises WrongError for a mistake that stops the table, and calls ``tell`` for one that does not.
Either way the work goes on with the next table, so that independent mistakes are reported together. A list in which a table
has failed is ``muted``: what only follows from the missing table is not reported.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager

from ..chip.model import AnyMode, Chip
from ..door.meant import meant
from ..door.shown import value as value_shown
from ..files.problems import Problem
from ..files.toml.tables import Source

Place = tuple[str | int, ...]
"""Keys and places within lists, from the file's top: where in it something stands."""


class WrongError(Exception):
    """A mistake that stops a table: what is wrong and, in ``sub``, at which key below the table."""

    message: str
    sub: tuple[str | int, ...]

    def __init__(self, message: str, *sub: str | int) -> None:
        super().__init__(message)
        self.message, self.sub = message, sub


class Findings:
    """The problems found in ``source``, which is checked against ``chip``."""

    source: Source
    chip: Chip

    def __init__(self, source: Source, chip: Chip) -> None:
        self.source, self.chip = source, chip
        self.problems: list[Problem] = []
        self.warnings: list[Problem] = []
        self.muted: set[str] = set()

    def tell(self, place: Place, message: str) -> None:
        """Note a mistake at ``place`` and go on."""
        self.problems.append(self.source.problem(place, message))

    def warn(self, place: Place, message: str) -> None:
        """Note what is no mistake, and yet hardly what was meant."""
        self.warnings.append(self.source.problem(place, message))

    @contextmanager
    def table(self, *place: str | int) -> Iterator[None]:
        """Work on the table at ``place``; a WrongError inside is told there and ends the work on that table alone."""
        try:
            yield
        except WrongError as wrong:
            self.tell((*place, *wrong.sub), wrong.message)
            self.muted.add(str(place[0]))

    def targets(self, *kinds: str) -> list[str]:
        """LAYER.MODE of each mode of these kinds."""
        return [f"{layer.name}.{mode.name}" for layer in self.chip.layers for mode in layer.modes if mode.kind in kinds]

    def mode(self, target: str, *kinds: str, key: str = "for") -> AnyMode:
        """The mode that ``target`` names. Raises WrongError, at ``key``, where the chip has none such of these kinds."""
        known = self.targets(*kinds)
        if target not in known:
            what = f"a {' or '.join(kinds)} mode of {self.chip.name}"
            raise WrongError(none_of(target, known, what), key)
        layer, _, mode = target.partition(".")
        return self.chip.layer(layer).mode(mode)


def none_of(given: str, known: Iterable[str], what: str) -> str:
    """The words that say so where a name that was given is none of those allowed."""
    names = list(known)
    return f"{one_of(names, what)}, got {value_shown(given)}{meant(given, names)}"


def one_of(known: Iterable[str], what: str) -> str:
    """The words that say which names are allowed."""
    listed = list(known)
    shown = ", ".join(listed[:40]) + (", ..." if len(listed) > 40 else "")
    return f"must be {what}: {shown}" if listed else f"must be {what}, of which there are none"
