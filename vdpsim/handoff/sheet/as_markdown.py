"""A data sheet as Markdown: CommonMark 0.31, with tables as GitHub Flavored Markdown has them (4.10).

Law: every text stands there as text. Drawings are files beside it, each named where it stands. Knows no chip.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache, singledispatch

from ..markdown import paragraph, shown, table
from .parts import KEPT, Grid, Part, Picture, Points, Section, Sheet, Words


def as_markdown(sheet: Sheet, folder: str) -> str:
    """The text; its drawings lie in ``folder``."""
    return "\n\n".join(_text(sheet, folder)) + "\n"


def _text(sheet: Sheet, folder: str) -> Iterator[str]:
    yield f"# {shown(sheet.title)}"
    yield from map(paragraph, sheet.about)
    yield "\n".join(f"- [{shown(one.title)}](#{one.anchor})" for one in sheet.sections)
    yield from (_section(section, folder) for section in sheet.sections)


@lru_cache(KEPT)
def _section(section: Section, folder: str) -> str:
    return "\n\n".join([f"## {shown(section.title)}", *(_part(part, folder) for part in section.parts)])


@singledispatch
def _part(part: Part, folder: str) -> str:
    raise TypeError(f"a data sheet has no {type(part).__name__} for {folder}")


@_part.register
def _(part: Words, folder: str) -> str:  # noqa: ARG001 - all parts are asked alike
    return paragraph(part.text)


@_part.register
def _(part: Points, folder: str) -> str:  # noqa: ARG001
    starts = (f"{number}." if part.ordered else "-" for number in range(1, len(part.items) + 1))
    return "\n".join(f"{start} {paragraph(item)}" for start, item in zip(starts, part.items, strict=True))


@_part.register
def _(part: Grid, folder: str) -> str:  # noqa: ARG001
    told = table(list(map(shown, part.head)), (list(map(shown, row)) for row in part.rows), right=part.right)
    return "\n".join([f"**{shown(part.caption)}**", "", *told])


@_part.register
def _(part: Picture, folder: str) -> str:
    return f"![{shown(part.name)}]({folder}/{part.name}.svg)\n\n{paragraph(part.caption)}"
