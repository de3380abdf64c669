"""From a chip file to a Chip.

Law: either a whole, checked Chip or an InputError with every mistake. Knows the chip's own file and no other.
"""

from __future__ import annotations

from pathlib import Path

from ..door.given import path as path_of
from ..door.given import text as text_of
from ..files.problems import InputError
from ..files.toml.tables import Source
from .model import Chip
from .partly import read_chip


def load_chip(path: str | Path) -> Chip:
    """The chip described by the file at ``path``. Raises InputError with every mistake in it."""
    return chip_from(Source.read(path_of("path", path)))


def parse_chip(text: str, name: str = "chip") -> Chip:
    """The chip described by ``text`` in TOML; ``name`` stands for the file in messages. Raises InputError."""
    return chip_from(Source(text_of("text", text), text_of("name", name)))


def chip_from(source: Source) -> Chip:
    """The chip in ``source``. Raises InputError with every mistake in it."""
    chip, _, problems = read_chip(source)
    if problems:
        raise InputError(problems)
    return chip
