"""HTML, the little of it that a page's still parts need.

Law: every text is escaped, unless it is ``Markup`` already; nothing else makes any. What would be wider than a small screen is
moved sideways by itself, by keys too.
"""

from __future__ import annotations

import html
from collections.abc import Iterable, Sequence

LONG = 14
"""Rows from which a table is folded away behind its caption."""


class Markup(str):
    """Text that is HTML."""

    __slots__ = ()


def escaped(one: object) -> Markup:
    """``one`` as the inside of an element or as an attribute's value; what is HTML stays as it is."""
    return one if isinstance(one, Markup) else Markup(html.escape(str(one)))


def joined(parts: Iterable[object]) -> Markup:
    """The parts, one after the other."""
    return Markup("".join(map(escaped, parts)))


def tag(name: str, *inside: object, **attributes: object) -> Markup:
    """An element; attributes by their names, with ``_`` for ``-`` and one at the end left out; None and False leave one out."""
    said = "".join(
        f' {key.strip("_").replace("_", "-")}="{escaped(value)}"'
        for key, value in attributes.items()
        if value is not None and value is not False
    )
    return Markup(f"<{name}{said}>{joined(inside)}</{name}>")


def table(caption: str, head: Sequence[object], rows: Sequence[Sequence[object]], right: int = 0) -> Markup:
    """A table, the last ``right`` columns of which are numbers; a long one is folded."""
    kinds = [None] * (len(head) - right) + ["right"] * right
    top = tag("tr", *(tag("th", one, scope="col", class_=kind) for one, kind in zip(head, kinds, strict=True)))
    body = (tag("tr", *(tag("td", one, class_=kind) for one, kind in zip(row, kinds, strict=True))) for row in rows)
    made = tag("table", tag("caption", caption), tag("thead", top), tag("tbody", *body))
    box = wide(caption, made)
    return box if len(rows) < LONG else tag("details", tag("summary", f"{caption}: {len(rows)} rows"), box)


def wide(label: str, *inside: object, class_: str = "wide") -> Markup:
    """What may be larger than its place, and then is moved in it."""
    return tag("div", *inside, class_=class_, role="region", tabindex="0", aria_label=label)


def to_dot(frame: int, line: int, dot: int, *inside: object) -> Markup:
    """A link to a dot of a frame."""
    return tag("a", *inside, href=f"#frame={frame}&line={line}&dot={dot}")
