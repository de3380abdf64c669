"""The vectors of a folder: its stimulus and its expected records, a frame at a time.

Law: one file of stimulus, and a file for each kind of expected record; every file begins with what its columns
are. Holds no frame.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...chip.model import Chip
from ..drawn import Drawn
from ..records.kinds import STIMULI, header, width
from .expected import outcomes, records
from .stimulus import beginning, timed

FOLDER = "vectors"
STIMULUS = f"{FOLDER}/stimulus.txt"

Pieces = Iterator[tuple[str, bytes]]
"""Paths within the folder, each with bytes that are added to that file."""


def path_of(kind: str) -> str:
    """The file of a kind of expected record."""
    return f"{FOLDER}/{kind}.txt"


class Vectors:
    """Makes the vectors of a chip; ``counted`` has how many records of each kind the frame had that was made last."""

    def __init__(self, chip: Chip) -> None:
        self.chip, self.kinds = chip, outcomes(chip)
        self.counted: dict[str, int] = {}

    def begin(self) -> Pieces:
        """The headers."""
        yield STIMULUS, b"# what is to be done, in this order; README.md says when\n" + header(*STIMULI)
        for kind in self.kinds:
            yield path_of(kind), header(kind)

    def frame(self, one: Drawn) -> Pieces:
        """A frame's records."""
        self.counted = {}
        stimulus = b"".join((*beginning(one.start, one.before), *timed(one.start, one.writes, one.chip)))
        self.counted["stimulus"] = stimulus.count(b"\n")
        yield STIMULUS, stimulus
        for kind in self.kinds:
            text = records(self.chip, kind, one.result, one.left)
            self.counted[kind] = len(text) // width(kind)
            yield path_of(kind), text
