"""Where every command's text leaves: ``say`` to stdout, ``tell`` to stderr, ``as_json`` for programs, ``console`` for tables.

Law: no command prints past these. Nothing that a terminal would obey comes out of a text (``vdpsim/door/shown.py``), and what the
stream's encoding cannot show is written as an escape: no text makes an exception. What stdout does not take is an OutputError;
what stderr does not take is lost, since there is nowhere left to tell it.
"""

from __future__ import annotations

import json
import os
import shutil
import sys
import textwrap
from collections.abc import Iterator, Sequence
from contextlib import suppress
from itertools import groupby
from typing import TYPE_CHECKING, Any, TextIO

from ..door.shown import WIDEST, block

if TYPE_CHECKING:
    from rich.console import Console


class OutputError(OSError):
    """Standard output does not take what is written to it."""


def open_streams() -> None:
    """Make the process's own streams usable, whatever it was started with.

    A stream that was closed gets a file in its place, so that no file which is opened later is taken for it: stdout one that
    refuses every write, stderr one that swallows it. What an encoding cannot show becomes escapes, also in what is not ours.
    """
    for number, flags in ((0, os.O_RDONLY), (1, os.O_RDONLY), (2, os.O_WRONLY)):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, flags)  # takes the lowest number that is free, which is this one
    if sys.stdout is None:
        sys.stdout = open(1, "w", encoding="utf-8", closefd=False)  # noqa: SIM115 - for as long as the process lasts
    if sys.stderr is None:
        sys.stderr = open(2, "w", encoding="utf-8", closefd=False)  # noqa: SIM115
    for stream in (sys.stdout, sys.stderr):
        stream.reconfigure(errors="backslashreplace")  # type: ignore[union-attr]


def say(text: object, end: str = "\n") -> None:
    """Write ``text`` to stdout. Raises OutputError."""
    try:
        _put(sys.stdout, f"{text}{end}")
    except OSError as error:
        raise OutputError(error.errno, error.strerror or str(error)) from None
    except (AttributeError, ValueError):  # no stream, or one that is closed
        raise OutputError(9, "it is closed") from None


def flush() -> None:
    """See that all of it is out. Raises OutputError."""
    try:
        sys.stdout.flush()
    except OSError as error:
        raise OutputError(error.errno, error.strerror or str(error)) from None
    except (AttributeError, ValueError):
        return  # nothing was said, or ``say`` would have told


def tell(text: object) -> None:
    """Write ``text`` and the end of the line to stderr."""
    with suppress(OSError, ValueError, AttributeError):
        _put(sys.stderr, f"{text}\n")
        sys.stderr.flush()


def tell_over(text: object) -> None:
    """Write ``text`` to a terminal's stderr, over what was told so before."""
    with suppress(OSError, ValueError, AttributeError):
        sys.stderr.write("\r")
        _put(sys.stderr, str(text))
        sys.stderr.flush()


def as_json(data: Any) -> str:
    """``data`` as JSON of ASCII alone, with an end of line: the same bytes in every encoding."""
    return json.dumps(data, indent=2, default=str).replace("\x7f", "\\u007f") + "\n"


def console() -> Console:
    """Where tables are drawn, for a person at a terminal; what stands in them has to be made printable first."""
    from rich.console import Console  # noqa: PLC0415 - takes as long to load as a frame to draw

    plain = bool(os.environ.get("NO_COLOR"))  # no-color.org; without a colour system there is no bold either
    return Console(highlight=False, markup=False, emoji=False, color_system=None if plain else "auto")


def wide() -> int:
    """Columns that a text may take: the terminal's, or 120 where there is none."""
    return shutil.get_terminal_size((WIDEST, 24)).columns if sys.stdout is not None and sys.stdout.isatty() else WIDEST


def broken(text: str, width: int) -> Iterator[str]:
    """The lines of ``text``, broken at spaces where some are wider than ``width``; indented ones go on under where they began."""
    for indented, some in groupby(text.split("\n"), lambda line: (not line.strip(), line.startswith(" "))):
        lines = list(some)
        if max(map(len, lines)) <= width:
            yield from lines
        elif any(indented):
            for line in lines:
                yield from _continued(line, width)
        else:
            yield from textwrap.wrap(" ".join(lines), width, break_on_hyphens=False)


def _continued(line: str, width: int) -> list[str]:
    """An indented ``line`` as several; those of a command end as a shell wants it, so that they can be copied."""
    text = line.strip()
    start, ends = line[: len(line) - len(line.lstrip())], text.startswith("vdpsim ") and "   " not in text
    room = width - 2 * ends
    *parts, last = textwrap.wrap(
        text, room, initial_indent=start, subsequent_indent=f"{start}    ", break_on_hyphens=False
    ) or [""]
    return [*(f"{part} \\" if ends else part for part in parts), last]


def listed(rows: Sequence[tuple[str, str]], indent: int = 2) -> str:
    """Rows of a name and what it is, the second in a column of its own, broken at the end of the line."""
    column = indent + max((len(name) for name, _ in rows), default=0) + 2
    column = min(column, wide() // 2)
    lines = []
    for name, about in rows:
        head = f"{' ' * indent}{name}"
        if len(head) > column - 2 and about:
            lines.append(head)
            head = ""
        lines += textwrap.wrap(
            about,
            max(20, wide() - 1),
            initial_indent=f"{head:<{column}}",
            subsequent_indent=" " * column,
            break_on_hyphens=False,
        ) or [head]
    return "\n".join(line.rstrip() for line in lines)


def _put(stream: TextIO, text: str) -> None:
    encoding = getattr(stream, "encoding", None) or "utf-8"
    stream.write(block(text).encode(encoding, "backslashreplace").decode(encoding))
