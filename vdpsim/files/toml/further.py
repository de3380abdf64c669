"""Mistakes that come to light in a wrong file once it is mended, beside those that are told at first sight.

Law: sentence by sentence, as a table that tells several things tells them in one message. Knows no file.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from .tables import Fault


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
