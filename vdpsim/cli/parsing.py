"""The parser of the command line: how it helps, and how it says what is wrong.

Law: everything that argparse says leaves through ``say`` and ``tell``; what is not known is told with what comes nearest to it.
Knows no command.
"""

from __future__ import annotations

import argparse
import re
import sys
from collections.abc import Iterator
from typing import Any, NoReturn

from ..door.shown import clipped, meant
from .say import broken, say, tell

WRONG = 2
"""The exit status of a command line that is wrong."""

LONGEST = 400
"""Characters of a line that says what is wrong."""


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
