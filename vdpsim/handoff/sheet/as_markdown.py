r"""A data sheet as Markdown: CommonMark 0.31, with tables as GitHub Flavored Markdown has them (4.10).

Law: every text stands there as text: a mark that would mean something has a backslash before it (CommonMark, 2.4). Drawings are
files beside it, each named where it stands. Knows no chip.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import singledispatch

from ...door.shown import printable
from .parts import Grid, Part, Picture, Points, Sheet, Words

_MARKS = re.compile(r"[\\`*\[\]<>|~&!$]|(?<![A-Za-z0-9])_|_(?![A-Za-z0-9])|(?<=:)//|(?<=www)\.")
"""What would begin a mark, an element, a reference, a cell or a link; an underscore between letters does not."""

_OPENING = re.compile(r"^(?:[#+=-]|\d{1,9}(?=[.)]))")
"""What would make a line another thing than a paragraph."""


def as_markdown(sheet: Sheet, folder: str) -> str:
    """The text; its drawings lie in ``folder``."""
    return "\n\n".join(_text(sheet, folder)) + "\n"


def escaped(text: str) -> str:
    """``text`` on one line, as Markdown shows it as it is."""
    told = _MARKS.sub(lambda found: f"\\{found[0]}", " ".join(printable(text).split()))
    return _OPENING.sub(_opened, told)


def _opened(found: re.Match[str]) -> str:
    """The opening without its meaning: a backslash goes before a mark, and behind a number, before its point."""
    return f"{found[0]}\\" if found[0][0].isdigit() else f"\\{found[0]}"


def _text(sheet: Sheet, folder: str) -> Iterator[str]:
    yield f"# {escaped(sheet.title)}"
    yield from map(escaped, sheet.about)
    yield "\n".join(f"- [{escaped(one.title)}](#{one.anchor})" for one in sheet.sections)
    for section in sheet.sections:
        yield f"## {escaped(section.title)}"
        for part in section.parts:
            yield _part(part, folder)


@singledispatch
def _part(part: Part, folder: str) -> str:
    raise TypeError(f"a data sheet has no {type(part).__name__} for {folder}")


@_part.register
def _(part: Words, folder: str) -> str:  # noqa: ARG001 - all parts are asked alike
    return escaped(part.text)


@_part.register
def _(part: Points, folder: str) -> str:  # noqa: ARG001
    return "\n".join(
        f"{f'{number}.' if part.ordered else '-'} {escaped(item)}" for number, item in enumerate(part.items, 1)
    )


@_part.register
def _(part: Grid, folder: str) -> str:  # noqa: ARG001
    lines = ["---:" if column in part.right else "---" for column in range(len(part.head))]
    rows = [part.head, *part.rows]
    told = [_row(map(escaped, row)) for row in rows]
    return "\n".join([f"**{escaped(part.caption)}**", "", told[0], _row(lines), *told[1:]])


@_part.register
def _(part: Picture, folder: str) -> str:
    return f"![{escaped(part.name)}]({folder}/{part.name}.svg)\n\n{escaped(part.caption)}"


def _row(cells: Iterator[str] | list[str]) -> str:
    return f"| {' | '.join(cells)} |"
