"""A frame's log as text: CSV with a row a line, or JSON with all that happened.

Law: the same frame gives the same text; numbers come from the Result and are only written down here. Knows engine/'s
result and no picture.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterator
from typing import Any

import numpy as np

from ..door.given import instance, text
from ..door.shown import value as shown
from ..engine.frame import Result, SlotLog

FORMATS = (".csv", ".json")
"""The endings of a log file's name, which say its format."""

PIECE = 1 << 12
"""Records of an array that are made into Python's values together."""


def _csv(result: Result) -> str:
    """The log as CSV: ``line``, a column a client, ``total``, ``sprites_found``, ``sprites_drawn``, ``sprites_dropped``.

    On a chip with a time table there follow ``refresh``, ``cpu``, ``idle`` and ``missed``.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(_columns(result))
    writer.writerows(_rows(result))
    return out.getvalue()


def _columns(result: Result) -> tuple[str, ...]:
    more = ("refresh", "cpu", "idle", "missed") if result.slots else ()
    return (*result.log.columns, *more)


def _rows(result: Result) -> Iterator[tuple[int, ...]]:
    """A row of numbers for each of the picture's lines, in the order of ``_columns``."""
    rows, slots = result.log.rows(), result.slots
    if slots is None:
        yield from rows
        return
    more = np.column_stack([slots.counts[:, -2:], slots.idle])[: len(rows)]
    missed = result.missed.sum(axis=1)
    for row, (refresh, cpu, idle), late in zip(rows, more.tolist(), missed.tolist(), strict=True):
        yield (*row, refresh, cpu, idle, late)


def log_data(result: Result) -> dict[str, Any]:
    """The log as plain data.

    ``summary``: frame, number of lines, fetches in all and by client, the line with most fetches (the first of such),
    sprites found, drawn and dropped, collision flags. ``lines``: a table a line with the columns of the CSV. ``drops``:
    line, sprite, reason. ``collisions``: line, first, second, dot; of more than 524,288 the first, and the summary says how
    many are left out, as ``collisions_left_out``. ``raised``: line, dot, flag.

    On a chip with a time table also, in the summary, the slots of a line, the fullest line of the frame (the first of such),
    slots used and idle, accesses missed; ``slots``: for every line of the frame, also below the picture, the slots of each
    client, of refresh and of the CPU, used and idle; ``missed``: line, client, accesses; ``transfers``: number, first and last
    line and slot in which a byte landed (-1: none did), bytes, slots waited, whether it ended.
    """
    instance("result", result, Result)
    return {"summary": _summary(result), **{name: list(rows) for name, rows in _lists(result)}}


def _summary(result: Result) -> dict[str, Any]:
    log = result.log
    totals = log.totals
    worst = int(totals.argmax()) if len(totals) else 0
    return {
        "frame": result.frame,
        "lines": len(totals),
        "total": log.total,
        "clients": log.by_client,
        "worst_line": {"line": log.first + worst, "total": int(totals[worst]) if len(totals) else 0},
        "sprites_found": int(log.found.sum()),
        "sprites_drawn": int(log.drawn.sum()),
        "sprites_dropped": int(log.dropped.sum()),
        "collision_flags": result.collision_flags,
        **({"collisions_left_out": result.collisions_left_out} if result.collisions_left_out else {}),
        **_slot_summary(result),
    }


def _lists(result: Result) -> Iterator[tuple[str, Iterator[dict[str, Any]]]]:
    """The lists of the log, each with its rows as they are asked for: a million of them take much room all at once."""
    yield "lines", (dict(zip(_columns(result), row, strict=True)) for row in _rows(result))
    yield "drops", _records(result.drops)
    yield "collisions", _records(result.collisions)
    yield "raised", _records(result.raised)
    if result.slots is not None:
        yield "slots", _slot_lines(result.slots)
        yield "missed", _missed(result)
        yield "transfers", _records(result.transfers)


def _missed(result: Result) -> Iterator[dict[str, Any]]:
    lines, clients = np.nonzero(result.missed)
    counts = result.missed[lines, clients].tolist()
    for line, client, count in zip(lines.tolist(), clients.tolist(), counts, strict=True):
        yield {"line": result.first + line, "client": result.log.clients[client], "accesses": count}


def _slot_summary(result: Result) -> dict[str, Any]:
    slots = result.slots
    if slots is None:
        return {}
    used = slots.used
    fullest = int(used.argmax()) if len(used) else 0
    most = int(used[fullest]) if len(used) else 0
    return {
        "slots_per_line": slots.per_line,
        "fullest_line": {"line": slots.first + fullest, "used": most, "idle": slots.per_line - most},
        "slots_used": int(used.sum()),
        "slots_idle": int(slots.idle.sum()),
        "missed": int(result.missed.sum()),
    }


def _slot_lines(slots: SlotLog) -> Iterator[dict[str, int]]:
    names = ("line", *slots.clients, "used", "idle")
    lines = np.arange(slots.first, slots.first + len(slots.counts))
    for row in np.column_stack([lines, slots.counts, slots.used, slots.idle]).tolist():
        yield dict(zip(names, row, strict=True))


def _json(result: Result) -> str:
    """``log_data`` as text: a record a line, so that two logs can be compared line by line."""
    parts = [f'"summary": {json.dumps(_summary(result), indent=2)}']
    for name, records in _lists(result):
        rows = ",\n".join(f"  {json.dumps(row)}" for row in records)
        parts.append(f'"{name}": [\n{rows}\n]' if rows else f'"{name}": []')
    return "{\n" + ",\n".join(parts) + "\n}\n"


def log_text(result: Result, ending: str) -> str:
    """The log in the format that ``ending`` names. Raises ValueError where it is neither ``.csv`` nor ``.json``."""
    instance("result", result, Result)
    if text("ending", ending) == ".csv":
        return _csv(result)
    if ending == ".json":
        return _json(result)
    raise ValueError(f"a log file ends in {' or '.join(FORMATS)}, got {shown(ending)}")


def _records(array: Any) -> Iterator[dict[str, Any]]:
    for begin in range(0, len(array), PIECE):
        for record in array[begin : begin + PIECE].tolist():
            yield dict(zip(array.dtype.names, record, strict=True))
