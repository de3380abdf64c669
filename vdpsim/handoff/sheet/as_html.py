"""A data sheet as one page of HTML: no script, and nothing from anywhere else.

Law: every text is escaped, and what would move a cursor or turn the direction of reading stands there as an escape. The page's
own policy forbids scripts and requests to the browser. Knows no chip.
"""

from __future__ import annotations

import html
from collections.abc import Iterator
from functools import lru_cache, singledispatch

from ..markdown import one_line
from .parts import KEPT, Grid, Part, Picture, Points, Section, Sheet, Words
from .style import page_head

SHORT = 24
"""Rows of a table that is not broken between two printed pages."""


def as_html(sheet: Sheet) -> str:
    """The page."""
    return "\n".join(_page(sheet)) + "\n"


def escaped(text: str) -> str:
    """``text`` as the inside of an element, or as an attribute's value within double quotes."""
    return html.escape(one_line(text))


def _page(sheet: Sheet) -> Iterator[str]:
    yield page_head(escaped(sheet.title)).rstrip("\n")
    yield f"<header>\n<h1>{escaped(sheet.title)}</h1>"
    yield from (f"<p>{escaped(text)}</p>" for text in sheet.about)
    links = (f'<li><a href="#{one.anchor}">{escaped(one.title)}</a></li>' for one in sheet.sections)
    yield f'</header>\n<nav aria-label="Contents">\n<ul>{"".join(links)}</ul>\n</nav>\n<main>'
    yield from map(_section, sheet.sections)
    yield "</main>\n</body>\n</html>"


@lru_cache(KEPT)
def _section(section: Section) -> str:
    parts = "\n".join(map(_part, section.parts))
    head = f'<h2 id="{section.anchor}">{escaped(section.title)}</h2>'
    return f'<section aria-labelledby="{section.anchor}">\n{head}\n{parts}\n</section>'


@singledispatch
def _part(part: Part) -> str:
    raise TypeError(f"a data sheet has no {type(part).__name__}")


@_part.register
def _(part: Words) -> str:
    return f"<p>{escaped(part.text)}</p>"


@_part.register
def _(part: Points) -> str:
    kind = "ol" if part.ordered else "ul"
    return f"<{kind}>{''.join(f'<li>{escaped(item)}</li>' for item in part.items)}</{kind}>"


@_part.register
def _(part: Grid) -> str:
    heads = _row(part, "th", ' scope="col"', part.head)
    rows = "\n".join(_row(part, "td", "", row) for row in part.rows)
    caption = escaped(part.caption)
    short = ' class="short"' if len(part.rows) <= SHORT else ""
    table = f"<table{short}>\n<caption>{caption}</caption>\n<thead>{heads}</thead>\n<tbody>\n{rows}\n</tbody>\n</table>"
    return _scroller(caption, table)


def _row(grid: Grid, tag: str, scope: str, texts: tuple[str, ...]) -> str:
    """A row of cells; those of columns of numbers say so."""
    kinds = (' class="right"' if column in grid.right else "" for column in range(len(texts)))
    cells = (f"<{tag}{scope}{kind}>{escaped(text)}</{tag}>" for text, kind in zip(texts, kinds, strict=True))
    return f"<tr>{''.join(cells)}</tr>"


@_part.register
def _(part: Picture) -> str:
    caption = escaped(part.caption)
    return f"<figure>\n{_scroller(caption, part.svg.rstrip())}\n<figcaption>{caption}</figcaption>\n</figure>"


def _scroller(label: str, inside: str) -> str:
    """What may be wider than a small screen, and then is moved sideways by itself, by keys too."""
    return f'<div class="wide" role="region" tabindex="0" aria-label="{label}">{inside}</div>'
