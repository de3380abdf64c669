"""The ways in which a wrong file is mended, and what else is wrong with it, which comes to light then.

Law: what is found in every way in the very same words hangs on nothing that is wrong; of the file itself the first two ways are
asked, of what reads it all of them. Mistakes are told sentence by sentence, as a table that tells several things tells them in
one message. Knows no chip and no scene.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from typing import Any, Generic, NamedTuple

from .data import get_at
from .mending import Asked, Mended, Mending
from .tables import Fault, Model, Source

MOST_WAYS = 4
"""Ways of one file. What looks at what it holds looks once for each."""


class Ways(NamedTuple, Generic[Model]):
    """Two ways to mend a file, and ``more``; the mistakes that are ``further`` in it than those found at first sight."""

    ways: tuple[Mended[Model], Mended[Model]]
    further: list[Fault]
    more: tuple[Mended[Model], ...]


def mended(source: Source, asked: Asked[Model], data: Any) -> Ways[Model] | None:
    """``data``, of ``source``, mended in two ways or more; None where it cannot be."""
    one = Mending(source, asked, data, ())
    first = one.done()
    if first is None:
        return None
    other = Mending(source, asked, data, (one,))
    second = other.done()
    if second is None:
        return None
    both = [place for place in {**one.changed, **other.changed} if asked.unfelt.isdisjoint(place)]
    alike = {str(place[0]) for place in both if get_at(one.data, place) == get_at(other.data, place)}
    if alike - asked.stand_ins.keys():
        return None
    lost, late = first.lost | second.lost | alike, one.keeps(data) or other.keeps(data)
    further = common(one.again(data, late=late), other.again(data, late=late))
    return Ways((first._replace(lost=lost), second._replace(lost=lost)), further, tuple(_more([one, other], lost)))


def _more(ways: list[Mending[Model]], lost: frozenset[str]) -> Iterator[Mended[Model]]:
    """Further ways, as long as each lays something to a key to which none has."""
    while len(ways) < MOST_WAYS:
        asked = {place for way in ways for place in way.changed}
        if not {place for way in ways for place in way.laid} - asked:
            return
        way = ways[0].beside(ways)
        made = way.done()
        if made is None or made.lost - lost or not way.changed.keys() - asked:
            return
        ways.append(way)
        yield made._replace(lost=lost)


def unsaid(further: Iterable[Fault], told: Iterable[Fault]) -> list[Fault]:
    """Those of ``further`` that say more of their place than what is ``told``, and than one another."""
    said = {(one.place, part) for one in told for part in one.message.split("; ")}
    found = []
    for one in sorted(further, key=lambda one: -one.message.count("; ")):
        parts = {(one.place, part) for part in one.message.split("; ")}
        if not parts <= said:
            found.append(one)
            said |= parts
    return found


def common(told: Iterable[Fault], others: Collection[Fault]) -> list[Fault]:
    """What is told both ways, of a table that tells several things at once those of them."""
    found = [fault for fault in told if fault in others]
    tables = [fault for fault in told if fault not in others and fault.kind == "value_error"]
    for fault in tables:
        beside = {part for one in others if one.place == fault.place for part in one.message.split("; ")}
        parts = [part for part in fault.message.split("; ") if part in beside]
        found += [fault._replace(message="; ".join(parts))] if parts else []
    return found
