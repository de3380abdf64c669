"""The files of constants: which sections there are, what they are called in each language, and how the files begin.

Law: every language has the same constants under names that one rule makes of the same words. Knows no file system.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from ...chip.model import Chip
from ..names import distinct
from . import cells, cpu_side, frame, ladders, layers, sprites
from .languages import LANGUAGES, Language, text
from .table import Item, Section

OPENING = """\
{file}: the chip {chip} in numbers, for hardware and for programs.
A name is its words in capitals; every run of other characters than letters and digits is one underscore, and so is the place \
between two words; N_ stands before what a language would not take as a name.
Words in the singular (LAYER_, MODE_, CONTROL_) go before names of the chip, which are numbers to count by; words in the \
plural (LAYERS_, MODES_, CONTROLS_) before tables that have a number for each. -1 stands where there is nothing.
Every chip's file has the same names, but for FIELD_, REGISTER_ and what the chip's layers, modes, groups and sizes are called. \
Of what a chip has not, counts and flags (1: so; 0: not so) are 0, tables with a number for each are empty, all other numbers \
are -1."""
"""The remarks at a file's top."""

OF_LANGUAGE = {
    "verilog": "A table is a vector of 32 bits a number: number n of NAME is NAME[32 * n +: 32], which is unsigned: put it into "
    "a localparam integer before you hold it against -1. Include the file in a module's body. What is as wide as something "
    "that a chip may lack has to stand within generate if (... > 0): a width of 0 is none in Verilog.",
    "vhdl": "A table is an array of integers or, where one has 32 bits, of words.",
    "c": "A table is an initializer: static const int32_t name[] = NAME; one with numbers of 32 bits wants int64_t.",
    "python": "A table is a tuple.",
}


def sections(chip: Chip) -> tuple[Section, ...]:
    """Everything that the files say, in order. Knows no language."""
    return tuple(
        section for part in (frame, cpu_side, layers, cells, ladders, sprites) for section in part.sections(chip)
    )


def constants_files(chip: Chip) -> Iterator[tuple[str, bytes]]:
    """The chip's numbers as ``constants.svh``, ``.vhd``, ``.h`` and ``.py``: each file's name and its bytes.

    Raises InputError where two names of the chip would be one in a language, with all such pairs.
    """
    told = tuple(_plain(section) for section in sections(chip))
    for language in LANGUAGES:
        yield language.file, _file(chip, language, told)


def _file(chip: Chip, language: Language, told: tuple[Section, ...]) -> bytes:
    items = [item.words for section in told for item in section.items]
    names = distinct(items, language.key, language.file, upper=True)
    opening = OPENING.format(file=language.file, chip=plain(chip.name)).split("\n")

    def named(item: Item) -> str:
        return names[item.words]

    return text(language, told, named, [*opening, OF_LANGUAGE[language.key]])


def plain(words: str) -> str:
    """Words as remarks of every language take them: ASCII, and no backslash, which would carry a remark of C to the next line."""
    return re.sub(r"[^ -~]|\\", "_", words)


def _plain(section: Section) -> Section:
    items = tuple(item._replace(about=plain(item.about)) for item in section.items)
    return section._replace(items=items)
