"""A budget as plain data, one tree for programs.

Law: says what stands in the Budget and works nothing out; the keys are a promise to whoever reads them.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict, fields
from typing import Any

from ...chip.model import Chip
from ...door.given import instance
from ...door.plain import plain as plain_data
from ..budget import Budget
from ..cpu import CpuBudget
from ..line.line import Spare
from ..line.lines import LineBudget, LinesBudget
from .where import where

Json = dict[str, Any]


def budget_data(budget: Budget) -> Json:
    """The budget as plain data, for JSON: fractions are texts such as ``"15625"`` or ``"2000000/7"``."""
    instance("budget", budget, Budget)
    found: Json = plain_data({key: told(budget) for key, told in KEYS.items()})
    return found


def budget_json(budget: Budget) -> str:
    """``budget_data`` as JSON text."""
    return json.dumps(budget_data(budget), indent=2).replace("\x7f", "\\u007f") + "\n"


def _fields(thing: Any, *, without: tuple[str, ...] = ()) -> Json:
    """A dataclass's fields as they are, which ``asdict`` would copy to the last leaf."""
    return {one.name: getattr(thing, one.name) for one in fields(thing) if one.name not in without}


def _first(found: Budget) -> Json | None:
    first = found.first
    return None if first is None else {**_fields(first, without=("line",)), "where": where(found.chip, first.line)}


def _witness(found: Budget) -> Json | None:
    names = ("frame", "line", "missed", "dropped", "unread", "total", "about")
    witness = found.witness
    return None if witness is None else {name: getattr(witness, name) for name in names}


def _of_lines(told: Callable[[Chip, LinesBudget], Any]) -> Callable[[Budget], Any]:
    """What is told of the lines; None for a chip without a time table."""
    return lambda found: None if found.lines is None else told(found.chip, found.lines)


def _spare(chip: Chip, one: Spare) -> Json:
    found = {"slots": one.slots, "missed": one.missed, "slot": one.slot, "last": one.last}
    return {**found, "where": where(chip, one.line, client=one.client)}


def _line(chip: Chip, one: LineBudget) -> Json:
    clients = {name: _spare(chip, each) for name, each in one.spare.items()}
    return {**_fields(one, without=("kind", "spare")), "slack": one.slack, "clients": clients}


def _clients(chip: Chip, lines: LinesBudget) -> Json:
    return {
        name: {"most": lines.most[name], "proved": lines.least(name), **_spare(chip, spare)}
        for name, spare in lines.spare.items()
    }


def _sprites(found: Budget) -> Json | None:
    sprites = found.sprites
    if sprites is None:
        return None
    at = where(found.chip, sprites.line, client="sprites")
    return {**_fields(sprites, without=("line",)), "more": sprites.more, "where": at}


def _cpu(cpu: CpuBudget) -> Json:
    return {**_fields(cpu, without=("landings",)), "refills": [asdict(one) for one in cpu.refills]}


OF_SIZES = ("verdict", "how", "first", "blank", "worst_line", "clients", "sprites", "cpu", "on_chip", "display")
"""What is told of each size of the picture, under the same keys."""


def _size(found: Budget) -> Json:
    """The chip at one size of its picture."""
    frame = found.chip.frame
    told = {key: KEYS[key](found) for key in OF_SIZES}
    return {"number": frame.number, "size": [frame.width, frame.height], **told}


KEYS: dict[str, Callable[[Budget], Any]] = {
    "chip": lambda found: found.chip.name,
    "verdict": lambda found: found.verdict,
    "how": lambda found: found.how,
    "fits": lambda found: found.fits,
    "cut": lambda found: list(found.cut),
    "first": _first,
    "witness": _witness,
    "slots": _of_lines(lambda _, lines: lines.slots),
    "blank": _of_lines(lambda _, lines: lines.blank),
    "served": _of_lines(lambda _, lines: lines.served),
    "complete": _of_lines(lambda _, lines: lines.complete),
    "worst_line": _of_lines(lambda chip, lines: _line(chip, lines.fullest)),
    "clients": _of_lines(_clients),
    "kinds": _of_lines(lambda chip, lines: [_line(chip, one) for one in lines.kinds]),
    "below": _of_lines(lambda chip, lines: _line(chip, lines.below)),
    "sprites": _sprites,
    "memory": lambda found: {**asdict(found.memory), "free": found.memory.free},
    "cpu": lambda found: found.cpu and _cpu(found.cpu),
    "on_chip": lambda found: [asdict(kept) for kept in found.on_chip],
    "chip_bits": lambda found: found.chip_bits,
    "display": lambda found: asdict(found.display),
    "seen": lambda found: found.seen and asdict(found.seen),
    "sizes": lambda found: [_size(one) for one in found.sizes],
}
"""What stands under each key, in their order."""
