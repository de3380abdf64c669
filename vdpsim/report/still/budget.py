"""A budget's tables, and what else is still about a chip: roles, values that show nothing, patterns.

Law: says what it is given, in its order.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from .markup import Markup, joined, table, tag, wide

Json = Mapping[str, Any]


def budget(tables: Json) -> Markup:
    """The verdict in sentences, and each section with its formulas folded."""
    return joined((tag("p", tables["told"]), tag("div", *map(_section, tables["sections"]), class_="columns")))


def _section(section: Json) -> Markup:
    made = table(section["title"], section["head"], section["rows"], section["right"])
    if not section["formulas"]:
        return tag("div", made)
    formulas = (tag("p", f"{name} = {formula}") for name, formula in section["formulas"])
    return tag("div", made, tag("details", tag("summary", "formulas"), *formulas))


def key(roles: Iterable[str], colours: Mapping[str, tuple[int, int, int]]) -> Markup:
    """The roles with their colours, and the mark of what is lost, as items of a list."""
    found = (tag("li", swatch(colours[role]), role) for role in roles)
    return joined((*found, tag("li", tag("span", class_="swatch lost"), "too late, or dropped")))


def swatch(colour: Sequence[int]) -> Markup:
    """A colour as a small square."""
    return tag("span", class_="swatch", style=f"background:#{bytes(colour).hex()}")


def definitions(pairs: Iterable[tuple[str, str]]) -> Markup:
    """Names and what is said of each."""
    return joined(joined((tag("dt", name), tag("dd", said))) for name, said in pairs)


def patterns(sheets: Iterable[Json]) -> Markup:
    """Sheets of patterns, each with what it shows."""
    return joined(map(_sheet, sheets))


def _sheet(sheet: Json) -> Markup:
    more = (
        f", the first {sheet['shown']} of {sheet['count']}"
        if sheet["count"] > sheet["shown"]
        else f": {sheet['count']}"
    )
    said = (
        f"{sheet['owner']}{more}, {sheet['width']} x {sheet['height']}, from 0x{sheet['first']:04X} on, "
        f"{sheet['across']} in a row"
    )
    alt = f"{sheet['shown']} patterns of {sheet['owner']}"
    width = sheet["width"] * sheet["across"] * 2
    picture = Markup(tag("img", src=sheet["picture"], class_="pixels", alt=alt, width=width).removesuffix("</img>"))
    return tag("figure", tag("figcaption", said), wide(alt, picture))
