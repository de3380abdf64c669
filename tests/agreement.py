"""Where two accounts of the same lines differ, in words.

Law: every part that the rules fix is compared exactly; what comes back is empty only where all of it agrees. A difference
says where it is (line, dot, client) and what each side has. Only the first few are told: one wrong fetch is enough to look at.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import islice
from typing import Any

import numpy as np
from twin_result import TwinResult, clients

from vdpsim.chip.model import Chip
from vdpsim.engine import Result
from vdpsim.engine.frame import ColoursOverTime
from vdpsim.state.state import State

TOLD = 6
"""Differences told of each part."""

PLANES = ("indices", "source", "rung", "sprite", "rgb")


def differences(chip: Chip, twin: TwinResult, result: Result) -> list[str]:
    """Where the engine's ``result`` departs from the twin's."""
    found: list[str] = []
    if twin.first != result.first:
        found.append(f"first line: twin {twin.first}, engine {result.first}")
    for name in PLANES:
        found += islice(_plane(name, getattr(twin, name), getattr(result, name).tolist()), TOLD)
    edge = result.border_rgb.tolist()
    found += islice(_rows("border colour", [list(colour) for colour in twin.edge], edge), TOLD)
    names = clients(chip)
    if tuple(names) != result.log.clients:
        found.append(f"clients: twin {tuple(names)}, engine {result.log.clients}")
    ours = [[counts[name] for name in names] for counts in twin.counts]
    for name, column, others in _columns(names, ours, result.log.counts.tolist()):
        found += islice(_rows(f"fetches of {name}", column, others), TOLD)
    found += islice(_rows("sprites found", twin.found, result.log.found.tolist()), TOLD)
    found += islice(_rows("sprites drawn", twin.drawn, result.log.drawn.tolist()), TOLD)
    found += islice(_records("drops", twin.drops, result.drops.tolist()), TOLD)
    found += islice(_records("collisions", twin.collisions, result.collisions.tolist()), TOLD)
    if twin.collision_flags != result.collision_flags:
        found.append(f"collision flags: twin {twin.collision_flags:#b}, engine {result.collision_flags:#b}")
    found += islice(_records("raised flags", twin.raised, result.raised.tolist()), TOLD)
    return found + time_differences(chip, twin, result)


def time_differences(chip: Chip, twin: TwinResult, result: Result) -> list[str]:
    """Where the two give slots differently: who had them, what was missed, every access, what the CPU moved."""
    found: list[str] = []
    names = clients(chip)
    missed = [[lost[name] for name in names] for lost in twin.missed]
    for name, column, others in _columns(names, missed, result.missed.tolist()):
        found += islice(_rows(f"missed of {name}", column, others), TOLD)
    if (result.slots is not None) != (chip.time is not None):
        found.append(f"slots: {'some' if result.slots else 'none'} in the engine's result")
    if result.slots is None:
        return found
    slot_names = [*names, "refresh", "cpu"]
    if (result.slots.first, list(result.slots.clients)) != (twin.slot_first, slot_names):
        found.append(f"slots: {result.slots.first} {result.slots.clients} and {twin.slot_first} {slot_names}")
    ours = [[counts[name] for name in slot_names] for counts in twin.slots]
    for name, column, others in _columns(slot_names, ours, result.slots.counts.tolist()):
        found += islice(_rows(f"slots of {name}", column, others), TOLD)
    unread = [0] * len(twin.unread) if result.slots.unread is None else result.slots.unread.tolist()
    found += islice(_rows("accesses of a table that is not read", twin.unread, unread), TOLD)
    per_line = int(chip.frame.dots_per_line * Fraction(chip.memory.accesses_per_dot or 0))
    idle = [per_line - sum(counts) for counts in ours]
    found += islice(_rows("idle slots", idle, result.slots.idle.tolist()), TOLD)
    found += islice(_records("transfers", twin.transfers, result.transfers.tolist()), TOLD)
    if result.trace is not None:
        told = [(line, slot, slot_names[client], *access) for line, slot, client, *access in result.trace.tolist()]
        found += islice(_rows("trace", twin.trace, told, "record"), TOLD)
    return found


def plane_differences(chip: Chip, twin: TwinResult, result: Result) -> list[str]:
    """Where the sources alone, which the engine keeps when it is asked to, depart from the twin's."""
    found: list[str] = []
    names = set(result.planes) | set(*twin.planes[:1])
    for name in sorted(names):
        if name not in result.planes or name not in (twin.planes or [{}])[0]:
            found.append(f"plane {name}: only one of the two has it")
            continue
        plane = result.planes[name]
        seen = [
            [entry if opaque else None for entry, opaque in zip(entries, marks, strict=True)]
            for entries, marks in zip(plane.entry.tolist(), plane.opaque.tolist(), strict=True)
        ]
        found += islice(_plane(f"plane {name}", [planes[name] for planes in twin.planes], seen), TOLD)
        if plane.fed is not None:
            columns = zip(plane.fed.cell.tolist(), plane.fed.word.tolist(), plane.fed.data.tolist(), strict=True)
            told = [[_fed(*dot, chip.memory.bytes_per_access) for dot in zip(*row, strict=True)] for row in columns]
            found += islice(_plane(f"feeds of {name}", [feeds[name] for feeds in twin.fed], told), TOLD)
    return found + list(islice(_standing(result), TOLD))


def _fed(cell: int, word: int, data: int, width: int) -> tuple[int | None, int, int] | None:
    """What fed a dot, as the twin tells it: of its data the access that has the first byte."""
    return None if data < 0 else (None if cell < 0 else cell, word, data // width * width)


def _standing(result: Result) -> Iterator[str]:
    """Where the source with the lowest rung is not the one that shows."""
    if not result.height:
        return
    stands: list[Any] = [plane.standing for plane in result.planes.values()]
    backdrop = len(result.rungs) - 1
    rungs = np.stack([np.where(one.rung == 255, backdrop, one.rung) for one in stands])
    lowest = rungs.min(axis=0)
    yield from _plane("lowest rung", result.rung.tolist(), lowest.tolist())
    for number, one in enumerate(stands, 1):
        shows = (lowest == rungs[number - 1]) & (lowest < backdrop)
        for name, other in (("entry", result.indices), ("sprite", result.sprite)):
            ours = getattr(one, name)
            if ours is not None and not np.array_equal(ours[shows], other[shows]):
                yield f"standing {name} of source {number} is not what shows"
        if not (result.source[shows] == number).all():
            yield f"source {number} has the lowest rung, another shows"


def state_differences(first: State, second: State) -> list[str]:
    """Where two states depart from each other."""
    found: list[str] = []
    carried = ("status", "ports", "ahead", "buffers", "kept", "waiting", "transfers", "held")
    for name in ("frame", "line", "collision_flags", "next_frame", "names", *carried):
        one, other = getattr(first, name), getattr(second, name)
        if one != other:
            found.append(f"state {name}: {one} and {other}")
    for name in ("memory", "palette", "sprites", "controls"):
        one, other = getattr(first, name).reshape(-1).tolist(), getattr(second, name).reshape(-1).tolist()
        found += islice(_rows(f"state {name}", one, other, "at"), TOLD)
    return found


def result_differences(first: Result, second: Result) -> list[str]:
    """Where two results of the engine depart from each other."""
    found: list[str] = []
    for name in ("frame", "first", "collision_flags", "sources", "rungs"):
        one, other = getattr(first, name), getattr(second, name)
        if one != other:
            found.append(f"{name}: {one} and {other}")
    if (first.log.clients, first.log.first) != (second.log.clients, second.log.first):
        found.append(
            f"log: {first.log.clients} from {first.log.first} and {second.log.clients} from {second.log.first}"
        )
    for name in (*PLANES, "border_rgb", "drops", "collisions", "collision_groups", "raised", "missed", "transfers"):
        found += islice(_rows(name, getattr(first, name).tolist(), getattr(second, name).tolist()), TOLD)
    for name in ("slots", "trace"):
        if (getattr(first, name) is None) != (getattr(second, name) is None):
            found.append(f"{name}: only one of the two has it")
    if first.slots is not None and second.slots is not None:
        one, other = first.slots, second.slots
        if (one.clients, one.per_line, one.first) != (other.clients, other.per_line, other.first):
            found.append(
                f"slots: {one.clients} {one.per_line} {one.first}, {other.clients} {other.per_line} {other.first}"
            )
        found += islice(_rows("slots", one.counts.tolist(), other.counts.tolist()), TOLD)
    if first.trace is not None and second.trace is not None:
        found += islice(_rows("trace", first.trace.tolist(), second.trace.tolist(), "record"), TOLD)
    for name in ("counts", "found", "drawn"):
        found += islice(
            _rows(f"log {name}", getattr(first.log, name).tolist(), getattr(second.log, name).tolist()), TOLD
        )
    if first.planes or second.planes:
        found += _alone_differences(first, second)
    return found


def _alone_differences(first: Result, second: Result) -> list[str]:
    """Where two results of the engine depart in what is kept on request: each source alone, and the palette over time."""
    if set(first.planes) != set(second.planes):
        return [f"planes: {', '.join(first.planes)} and {', '.join(second.planes)}"]
    found: list[str] = []
    for name, one in first.planes.items():
        other = second.planes[name]
        parts = [(f"{name} {part}", getattr(one, part), getattr(other, part)) for part in ("entry", "opaque", "rgb")]
        for what in ("standing", "fed"):
            mine, yours = getattr(one, what), getattr(other, what)
            if (mine is None) != (yours is None):
                found.append(f"{name} {what}: only one of the two has it")
            elif mine is not None:
                fields = mine.__dataclass_fields__
                pairs = {part: (getattr(mine, part), getattr(yours, part)) for part in fields}
                if what == "fed":  # of a line that is in the line buffer already, a slice cannot say it
                    pairs = {part: (np.where(b == -1, -1, a), b) for part, (a, b) in pairs.items()}
                parts += [(f"{name} {what} {part}", *pair) for part, pair in pairs.items()]
        for label, ours, theirs in parts:
            if (ours is None) != (theirs is None) or (ours is not None and not np.array_equal(ours, theirs)):
                found.append(f"{label}: not the same")
    if (first.colours is None) != (second.colours is None):
        found.append("colours: only one of the two has them")
    elif first.colours is not None and second.colours is not None:
        found += islice(_rows("colours", stretches(first.colours), stretches(second.colours), "stretch"), TOLD)
    return found


def stretches(colours: ColoursOverTime) -> list[tuple[int, int, int, bytes]]:
    """Line, dot, backdrop and palette from each instant on in which one of the two is not what it was before on its line."""
    found: list[tuple[int, int, int, bytes]] = []
    for line, dot, version, backdrop in colours.starts.tolist():
        here = (line, dot, backdrop, colours.tables[version].tobytes())
        if not found or found[-1][0] != line or found[-1][2:] != here[2:]:
            found.append(here)
    return found


def _plane(name: str, ours: Sequence[Any], theirs: Sequence[Any]) -> Iterator[str]:
    if ours == theirs:
        return
    if len(ours) != len(theirs):
        yield f"{name}: {len(ours)} lines and {len(theirs)}"
    for line, (row, other) in enumerate(zip(ours, theirs, strict=False)):
        if len(row) != len(other):
            yield f"{name} line {line}: {len(row)} dots and {len(other)}"
        for dot, (one, two) in enumerate(zip(row, other, strict=False)):
            if one != two and (not isinstance(one, tuple) or two is None or list(one) != list(two)):
                yield f"{name} line {line} dot {dot}: {one} and {two}"


def _columns(
    names: list[str], ours: list[list[int]], theirs: list[list[int]]
) -> Iterator[tuple[str, list[Any], list[Any]]]:
    if any(len(row) != len(names) for row in theirs):
        yield "all clients", ours, theirs
        return
    for column, name in enumerate(names):
        yield name, [row[column] for row in ours], [row[column] for row in theirs]


def _rows(name: str, ours: Sequence[Any], theirs: Sequence[Any], place: str = "line") -> Iterator[str]:
    if ours == theirs:
        return
    if len(ours) != len(theirs):
        yield f"{name}: {len(ours)} rows and {len(theirs)}"
    for index, (one, other) in enumerate(zip(ours, theirs, strict=False)):
        if one != other:
            yield f"{name} {place} {index}: {one} and {other}"


def _records(name: str, ours: list[Any], theirs: list[Any]) -> Iterator[str]:
    if ours == theirs:
        return
    for record in ours:
        if record not in theirs:
            yield f"{name}: only the twin has {record}"
    for record in theirs:
        if record not in ours:
            yield f"{name}: only the engine has {record}"
    if sorted(ours) == sorted(theirs):
        yield f"{name}: another order, {ours} and {theirs}"
    elif len(ours) != len(theirs):
        yield f"{name}: {len(ours)} records and {len(theirs)}"
