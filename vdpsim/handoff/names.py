"""Names of a chip file as identifiers of other languages: one rule for all of them.

Law: the rule is the docstring of ``escaped``; every file of names follows it, and its words stand in the folder's README.
Two names that it makes alike are a mistake that names both: none is changed to make room for the other. Knows no chip.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from ..door.shown import named
from ..files.problems import InputError, Problem
from .keywords import KEYWORDS, Language

FIRST = "n_"
"""What is put before a name that could not stand by itself: n as in name."""

TITLES: dict[Language, str] = {
    "verilog": "Verilog",
    "vhdl": "VHDL",
    "c": "C",
    "python": "Python",
    "systemrdl": "SystemRDL",
}
CASELESS = frozenset({"vhdl", "systemrdl"})
"""Languages in which ``Near`` and ``near`` are one name, or become one in what is made of it, as SystemRDL's do in C's macros."""

_OTHER = re.compile("[^A-Za-z0-9]+")


def escaped(words: Iterable[str], language: Language, *, upper: bool = False) -> str:
    """The name that ``words``, from the outermost on, have together in ``language``; in capitals where ``upper`` is asked for.

    Every run of characters that are neither an ASCII letter nor a digit is one underscore, and so is the place between two words;
    none stands first or last. Before what is then empty, begins with a digit or is a keyword of the language stands ``n_`` (of
    what is empty ``n`` remains).

    >>> escaped(["near", "text.map"], "c"), escaped(["8 x 8"], "c"), escaped(["in"], "vhdl"), escaped(["in"], "c")
    ('near_text_map', 'n_8_x_8', 'n_in', 'in')
    """
    name = _OTHER.sub("_", " ".join(words)).strip("_")
    name = name.upper() if upper else name
    known = name.lower() if language in CASELESS else name
    if not name or name[0].isdigit() or known in KEYWORDS[language]:
        return (FIRST.upper() + name if upper else FIRST + name).rstrip("_")
    return name


def distinct(
    paths: Iterable[Sequence[str]], language: Language, file: str, *, upper: bool = False
) -> dict[tuple[str, ...], str]:
    """The names of ``paths``, each a path of words, which all stand in one scope; a path that comes again is the same thing.

    Raises InputError for ``file`` with every two paths that get one name: a chip's maker has to rename one of them.
    """
    found: dict[tuple[str, ...], str] = {}
    taken: dict[str, tuple[str, ...]] = {}
    wrong = []
    for path in dict.fromkeys(tuple(path) for path in paths):
        name = found[path] = escaped(path, language, upper=upper)
        first = taken.setdefault(name.lower() if language in CASELESS else name, path)
        if first != path:
            told = (
                f"would be {name} in {TITLES[language]}, as {told_of(first)} is: names must differ in letters or digits"
            )
            wrong.append(Problem(file, 0, told_of(path), told))
    if wrong:
        raise InputError(wrong)
    return found


def told_of(path: Sequence[str]) -> str:
    """A path of words in a message.

    >>> told_of(["near", "scroll x"])
    "'near' 'scroll x'"
    """
    return " ".join(named([repr(word)]) for word in path)
