"""The parser of the command line: how it helps, how it says what is wrong, and the numbers that it reads.

Law: everything that argparse says leaves through ``say`` and ``tell``; what is not known is told with what comes nearest to it.
What several commands ask for in the same words is read here, once: each number says what is allowed and what was given. Knows no
command.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Iterator
from typing import Any, NoReturn

from ..door.shown import clipped, meant, value
from .say import broken, say, tell

WRONG = 2
"""The exit status of a command line that is wrong."""

LONGEST = 400
"""Characters of a line that says what is wrong."""


LAST_FRAME = 99_999

LAST_LINE = 8191


class Fitted(argparse.RawDescriptionHelpFormatter):
    """Help as it is written, but for lines that are wider than the terminal: these are broken, under where they began."""

    def _fill_text(self, text: str, width: int, indent: str) -> str:
        return "\n".join(broken(super()._fill_text(text, width, indent), width))


class Parser(argparse.ArgumentParser):
    """A parser whose words leave where every text leaves, and that knows its ``declared`` words and the ``parts`` by command."""

    def __init__(self, **given: Any) -> None:
        self.declared: list[argparse.Action] = []
        self.parts: dict[str, Parser] = {}
        super().__init__(**given)

    def _add_action(self, action: argparse.Action) -> Any:
        self.declared.append(action)
        return super()._add_action(action)

    def error(self, message: str) -> NoReturn:
        """Say what is wrong with the command line, in few words however long it is, and end."""
        self.print_usage(sys.stderr)
        tell(f"{self.prog}: error: {clipped(message + self._meant(message), LONGEST)}")
        raise SystemExit(WRONG)

    def _meant(self, message: str) -> str:
        """What may have been meant by a command, an option or a choice that is not known."""
        chosen = re.search(r"argument (\S+): invalid choice: '(.*?)' \(choose from", message)
        if chosen:
            return meant(chosen[2], self.parts or self._choices(chosen[1]))
        unknown = re.search(r"unrecognized arguments: (--?\S+)", message)
        parts = (self, *self.parts.values())
        options = (name for part in parts for one in part.declared for name in one.option_strings)
        return meant(unknown[1], options) if unknown else ""

    def _choices(self, name: str) -> Iterator[str]:
        """The choices of what messages call ``name``."""
        for one in self.declared:
            if name in {"/".join(one.option_strings), one.metavar, one.dest}:
                yield from map(str, one.choices or ())

    def _print_message(self, message: str, file: Any = None) -> None:
        if file is sys.stdout or file is None:
            say(message, end="")
        else:
            tell(message.rstrip("\n"))


def whole(text: str, least: int, most: int) -> int | None:
    """The whole number ``text``, told by its value however many zeros begin it; None where it is none, or not in reach."""
    # By its length first: int() takes ever longer for ever more digits, and isdigit() alone takes those of any script.
    digits = text.lstrip("0") or "0"
    if not (text.isascii() and text.isdigit() and len(digits) <= len(str(most)) and least <= int(digits) <= most):
        return None
    return int(digits)


def number_within(text: str, least: int, most: int) -> int:
    """The whole number ``text``. Raises ArgumentTypeError where it is none, or not from ``least`` to ``most``."""
    found = whole(text, least, most)
    if found is None:
        raise argparse.ArgumentTypeError(f"must be {least} to {most}, got {value(text)}")
    return found


def frame_number(text: str) -> int:
    """A frame, from 0."""
    return number_within(text, 0, LAST_FRAME)


def frame_range(text: str) -> range:
    """``A:B`` or ``A:B:STEP``. Raises ArgumentTypeError where it has no frame."""
    told = f"must be A:B or A:B:STEP with A below B and a STEP from 1, got {value(text)}"
    parts = _parts(text, LAST_FRAME + 1, told)
    if len(parts) not in {2, 3} or parts[0] >= parts[1] or parts[2:] == [0]:
        raise argparse.ArgumentTypeError(told)
    return range(*parts)


def line_range(text: str) -> range:
    """``A:B``. Raises ArgumentTypeError where it has no line."""
    told = f"must be A:B with A below B, got {value(text)}"
    parts = _parts(text, LAST_LINE + 1, told)
    if len(parts) != 2 or parts[0] >= parts[1]:
        raise argparse.ArgumentTypeError(told)
    return range(*parts)


def _parts(text: str, most: int, told: str) -> list[int]:
    """The numbers between colons. Raises ArgumentTypeError: with ``told`` where there is no colon."""
    if ":" not in text:
        raise argparse.ArgumentTypeError(told)
    return [number_within(part, 0, most) for part in text.split(":")]
