"""The mistakes found so far in a scene file, with the file and the chip that it is checked against.

Law: code that builds a part raises WrongError for what stops the table, and calls ``tell`` for what does not; what of a table
hangs on no other key of it is looked at ``Together``. Either way the work goes on with the next table, so that independent
mistakes are reported in one round. A list in which a table has failed is ``muted``: what only follows from the missing table,
or from a key that is wrong itself, is not reported.
"""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Iterator
from contextlib import contextmanager
from typing import ParamSpec, TypeVar

from ..chip.model import AnyMode, BitmapMode, Chip
from ..door.shown import meant
from ..door.shown import value as value_shown
from ..files.problems import Problem
from ..files.toml.tables import Source

Place = tuple[str | int, ...]
"""Keys and places within lists, from the file's top: where in it something stands."""

MOST_TOLD = 20
"""Mistakes of one kind that are told of one table."""

Asked = ParamSpec("Asked")
Made = TypeVar("Made")


class WrongError(Exception):
    """A mistake that stops a table: what is wrong and, in ``sub``, at which key below the table; and ``others`` beside it."""

    message: str
    sub: tuple[str | int, ...]

    def __init__(self, message: str, *sub: str | int) -> None:
        super().__init__(message)
        self.message, self.sub = message, sub
        self.others: list[WrongError] = []


class Together:
    """Looks at one table that do not hang on each other: each is taken, and what is wrong is raised together."""

    def __init__(self) -> None:
        self.wrong: dict[tuple[str, Place], None] = {}

    def __call__(self, look: Callable[Asked, Made], *args: Asked.args, **named: Asked.kwargs) -> Made | None:
        """What ``look`` makes of its arguments; None where it raises WrongError, which is kept."""
        try:
            return look(*args, **named)
        except WrongError as wrong:
            self.keep(wrong)
        return None

    def keep(self, wrong: WrongError) -> None:
        """Keep what is wrong, each mistake once, and the first ``MOST_TOLD``."""
        for one in (wrong, *wrong.others):
            if len(self.wrong) < MOST_TOLD:
                self.wrong[one.message, one.sub] = None

    def tell(self, message: str, *sub: str | int) -> None:
        """Keep a mistake."""
        self.keep(WrongError(message, *sub))

    def clear(self, keys: Container[str | int]) -> bool:
        """Whether nothing that is kept is wrong at one of ``keys``, the last of its place."""
        return not any(sub and sub[-1] in keys for _, sub in self.wrong)

    def done(self) -> None:
        """End the work on the table where something is wrong. Raises WrongError with all of it."""
        if self.wrong:
            first, *others = (WrongError(message, *sub) for message, sub in self.wrong)
            first.others = others
            raise first


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
        """Note a mistake at ``place``, once, and go on."""
        problem = self.source.problem(place, message)
        if problem not in self.problems:
            self.problems.append(problem)

    def warn(self, place: Place, message: str) -> None:
        """Note what is no mistake, and yet hardly what was meant."""
        self.warnings.append(self.source.problem(place, message))

    @contextmanager
    def table(self, *place: str | int) -> Iterator[None]:
        """Work on the table at ``place``; a WrongError inside is told there and ends the work on that table alone."""
        try:
            yield
        except WrongError as wrong:
            for one in (wrong, *wrong.others):
                self.tell((*place, *one.sub), one.message)
            self.muted.add(str(place[0]))

    def targets(self, *kinds: str) -> list[str]:
        """LAYER.MODE of each mode of these kinds."""
        return [f"{layer.name}.{mode.name}" for layer in self.chip.layers for mode in layer.modes if mode.kind in kinds]

    def coloured(self) -> dict[str, BitmapMode]:
        """The chip's bitmap modes with colour cells, by LAYER.MODE."""
        modes = {target: self.mode(target, "bitmap") for target in self.targets("bitmap")}
        return {target: mode for target, mode in modes.items() if isinstance(mode, BitmapMode) and mode.colours}

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
