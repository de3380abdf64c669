"""A frame's log as text: CSV with a row a line, or JSON with all that happened.

Law: the same frame gives the same text; numbers come from the Result and are only written down here. Knows engine/'s
result and no picture.
"""

from __future__ import annotations

import csv
import io
import json
from typing import Any

from .engine.frame import Result

FORMATS = (".csv", ".json")
"""The endings of a log file's name, which say its format."""


def _csv(result: Result) -> str:
    """The log as CSV: ``line``, a column a client, ``total``, ``sprites_found``, ``sprites_drawn``, ``sprites_dropped``."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(result.log.columns)
    writer.writerows(result.log.rows())
    return out.getvalue()


def log_data(result: Result) -> dict[str, Any]:
    """The log as plain data.

    ``summary``: frame, number of lines, fetches in all and by client, the line with most fetches (the first of such),
    sprites found, drawn and dropped, collision flags. ``lines``: a table a line with the columns of the CSV. ``drops``:
    line, sprite, reason. ``collisions``: line, first, second, dot.
    """
    log = result.log
    totals = log.totals
    worst = int(totals.argmax()) if len(totals) else 0
    return {
        "summary": {
            "frame": result.frame,
            "lines": len(totals),
            "total": log.total,
            "clients": log.by_client,
            "worst_line": {"line": log.first + worst, "total": int(totals[worst]) if len(totals) else 0},
            "sprites_found": int(log.found.sum()),
            "sprites_drawn": int(log.drawn.sum()),
            "sprites_dropped": int(log.dropped.sum()),
            "collision_flags": result.collision_flags,
        },
        "lines": [dict(zip(log.columns, row, strict=True)) for row in log.rows()],
        "drops": _records(result.drops),
        "collisions": _records(result.collisions),
    }


def _json(result: Result) -> str:
    """``log_data`` as text: a record a line, so that two logs can be compared line by line."""
    data = log_data(result)
    parts = [f'"summary": {json.dumps(data["summary"], indent=2)}']
    for name in ("lines", "drops", "collisions"):
        rows = ",\n".join(f"  {json.dumps(row)}" for row in data[name])
        parts.append(f'"{name}": [\n{rows}\n]' if rows else f'"{name}": []')
    return "{\n" + ",\n".join(parts) + "\n}\n"


def log_text(result: Result, ending: str) -> str:
    """The log in the format that ``ending`` names. Raises ValueError where it is neither ``.csv`` nor ``.json``."""
    if ending == ".csv":
        return _csv(result)
    if ending == ".json":
        return _json(result)
    raise ValueError(f"a log file ends in {' or '.join(FORMATS)}, got {ending!r}")


def _records(array: Any) -> list[dict[str, Any]]:
    return [dict(zip(array.dtype.names, record, strict=True)) for record in array.tolist()]
