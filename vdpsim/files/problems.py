"""What is wrong with an input, said once and in one form.

Law: a problem names its file, its place in it, what is allowed and what was given; independent problems are collected
and raised together. Nothing here knows a chip, a scene or a picture.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from ..door.shown import LONGEST_PATH, clipped

LONGEST, LONGEST_PLACE = 400, 160
"""Characters of a message and of a place as they are shown; what a file gives can be of any length."""


class Problem(NamedTuple):
    """One mistake in an input: where it stands and what is wrong with it.

    ``file`` is the path as the user gave it, ``line`` the line number in it counted from 1 (0: not known), ``place`` the
    dotted key, elements of lists by name or else by number from 0 (``layers.near.modes.tiles.cell.bank``, ``maps.0.for``),
    ``message`` the sentence that says what is allowed and what was given.
    """

    file: str
    line: int
    place: str
    message: str

    def __str__(self) -> str:
        """One line that can be shown anywhere: see ``vdpsim/door/shown.py``."""
        where = clipped(self.file, LONGEST_PATH) + (f":{self.line}" if self.line else "")
        place = f": {clipped(self.place, LONGEST_PLACE)}" if self.place else ""
        return f"{where}{place}: {clipped(self.message, LONGEST)}"


class WhereMissing(NamedTuple):
    """Stands beside the type of a key of a file: what is ``told`` where the key is missing."""

    told: str


class InputError(ValueError):
    """The input cannot be used. ``problems`` holds every independent mistake, in the order of the file."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: tuple[Problem, ...] = tuple(sorted(problems))
        super().__init__("\n".join(map(str, self.problems)))


def hexadecimal(address: int, size: int) -> str:
    """``address`` as hardware people write it, with as many digits as the last address of ``size`` bytes needs.

    >>> hexadecimal(0x1f0, 65536)
    '0x01F0'
    """
    return f"0x{address:0{max(2, (max(size - 1, 0).bit_length() + 3) // 4)}X}"
