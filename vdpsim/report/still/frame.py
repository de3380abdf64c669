"""What happened in a frame, as tables: what vanished, what was written, what collided; and its sprites.

Law: says what is told of the frame. Whatever has a place is a link to it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import islice
from typing import Any

from ...budgets.told.section import plural
from ...chip.model import Chip
from ..told.vanished import Gone, lines_told, reason_told, runs, unread_told, vanished
from .markup import Markup, escaped, joined, table, tag, to_dot

Json = Mapping[str, Any]

MOST_PAIRS = 200
"""Pairs of sprites that are listed; the rest is counted."""


def frame_parts(chip: Chip, number: int, told: Json) -> dict[str, Markup]:
    """The parts of the page that are about frame ``number``, by their places."""
    return {
        "vanished": _vanished(chip, number, told),
        "happened": joined(_happened(number, told))
        or tag("p", "Nothing was written, raised or moved, and nothing collided."),
        "sprite-table": _sprites(number, told),
    }


def _names(told: Json) -> dict[int, str]:
    return {one["number"]: one["name"] or f"sprite {one['number']}" for one in told["sprites"]}


def _link(number: int, told: Json, line: int, dot: int, said: str) -> Markup:
    """What is said of a place, as a link to it where its line is in the picture: there to the nearest dot."""
    width, height = told["size"]
    return to_dot(number, line, min(max(dot, 0), width - 1), said) if 0 <= line < height else escaped(said)


def _vanished(chip: Chip, number: int, told: Json) -> Markup:
    """A row a sprite, with all its lines and reasons; what is not known of is told before."""
    gone, unread = vanished(told["drops"]), _unread(told)
    if not gone:
        return unread or tag("p", "Every sprite shows wherever it stands.")
    of = {one: [each for each in gone if each.sprite == one] for one in dict.fromkeys(one.sprite for one in gone)}
    head = ["sprite", "lines", "why", "lines in all"]
    rows = [_gone_row(chip, number, told, each) for each in of.values()]
    sprites, lines = len(of), sum(one.number for one in gone)
    are = plural(sprites, "sprite") + (" is" if sprites == 1 else " are")
    said = f"{sprites} {are} not shown, on {lines} {plural(lines, 'line')} in all."
    return joined((unread, tag("p", said), table("Sprites that vanish", head, rows, 1)))


def _unread(told: Json) -> Markup:
    """On which lines sprites are not found because their records were not read."""
    if not told["unread"]:
        return Markup("")
    height = told["size"][1]
    lines = [line for line in told["unread"] if line < height]
    places = [lines_told(runs(lines))] if lines else []
    places += ["line 0 of the next frame"] if len(lines) < len(told["unread"]) else []
    said = unread_told(sum(count for count, _ in told["unread"].values()))
    return tag("p", f"Of {' and of '.join(places)} {said}.", class_="caution")


def _gone_row(chip: Chip, number: int, told: Json, gone: Sequence[Gone]) -> list[object]:
    sprite = gone[0].sprite
    name = _names(told).get(sprite, f"sprite {sprite}")
    x = next((one["x"] for one in told["sprites"] if one["number"] == sprite), 0)
    links = joined(_parted((_link(number, told, one.lines[0][0], x, one.where) for one in gone), Markup("<br>")))
    why = joined(_parted((reason_told(chip, one.reason) for one in gone), Markup("<br>")))
    return [name, links, why, sum(one.number for one in gone)]


def _parted(parts: Iterator[Any], between: Markup) -> Iterator[Any]:
    for at, one in enumerate(parts):
        yield from (between, one) if at else (one,)


def _happened(number: int, told: Json) -> Iterator[Markup]:
    late = [line for line, count in enumerate(told["missed"]) if count]
    if late:
        said = f"{sum(told['missed']):,} accesses come too late, on {lines_told(runs(late))}; what they were for does not show."
        yield tag("p", said, class_="caution")
    yield from _writes(number, told)
    yield from _collisions(number, told)
    if told["raised"]:
        rows = [(_link(number, told, line, dot, f"{line}, {dot}"), flag) for line, dot, flag in told["raised"]]
        yield table("Flags raised", ["line, dot", "flag"], rows)
    if told["transfers"]:
        yield _transfers(told["transfers"])


def _writes(number: int, told: Json) -> Iterator[Markup]:
    if told["writes"]:
        rows = [
            (_link(number, told, one["line"], one["dot"], f"{one['line']}, {one['dot']}"), one["what"])
            for one in told["writes"]
        ]
        yield table("Timed writes", ["line, dot", "what"], rows)
    if told["moreWrites"]:
        yield tag("p", f"and {told['moreWrites']:,} more writes")


def _collisions(number: int, told: Json) -> Iterator[Markup]:
    """A row a pair of sprites."""
    pairs: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for line, one, other, dot in told["collisions"]:
        pairs.setdefault((one, other), []).append((line, dot))
    names = _names(told)
    rows = [
        (
            f"{names.get(one, one)} and {names.get(other, other)}",
            _link(number, told, *places[0], lines_told(runs([line for line, _ in places]))),
            len(places),
        )
        for (one, other), places in islice(pairs.items(), MOST_PAIRS)
    ]
    if rows:
        yield table("Collisions", ["sprites", "lines", "lines in all"], rows, 1)
    if len(pairs) > MOST_PAIRS:
        yield tag("p", f"and {len(pairs) - MOST_PAIRS:,} more pairs")
    if told["moreCollisions"]:
        yield tag("p", f"and {told['moreCollisions']:,} more collisions, which have no marks in the picture")


def _transfers(transfers: Sequence[Sequence[Any]]) -> Markup:
    head = ["transfer", "first byte: line, slot", "last byte: line, slot", "bytes", "slots waited", "ended"]
    rows = [
        (number, f"{a}, {b}", f"{c}, {d}", f"{count:,}", f"{waited:,}", "yes" if ended else "goes on")
        for number, a, b, c, d, count, waited, ended in transfers
    ]
    return table("The CPU's transfers", head, rows, 3)


def _sprites(number: int, told: Json) -> Markup:
    gone = [sprite for _, sprite, _ in told["drops"]]
    names = _names(told)
    rows = [
        (
            one["number"],
            _link(number, told, one["y"], one["x"], names[one["number"]]),
            one["x"],
            one["y"],
            f"{one['width']} x {one['height']}",
            gone.count(one["number"]) or "",
        )
        for one in told["sprites"]
    ]
    head = ["number", "name", "x", "y", "size", "lines it is dropped on"]
    return table("As the table stands when the frame begins", head, rows, 4) if rows else tag("p", "None is enabled.")
