"""The table that a sweep makes: its columns, a row of figures for each point, and the table as CSV and JSON.

Law: a figure is taken from a Budget or a Frame as it stands there; nothing is worked out beside them. The same rows give the
same bytes. Plain Python.
"""

from __future__ import annotations

import csv
import io
import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ..budgets.budget import Budget, First
    from ..output.frame import Frame

COLUMNS = {
    "verdict": "fits: proved for every line; does not fit: a drawn frame shows it; open: neither",
    "gives_way": "what gives way first, with its slots to spare or the accesses that it misses, on the worst line found",
    "slack": "slots that it has to spare on every line, proved; below 0: it misses, or nothing is known",
    "slots_per_line": "slots of a line",
    "worst_line": "the fullest kind of line: the one with most slots used",
    "used": "slots that the picture and refresh use on it",
    "free": "slots that are left on it",
    "sprites_asked": "most accesses that a line's sprites ask for",
    "sprites_room": "fewest slots that are left for them",
    "sprites_fit": "how many sprites of the dearest size find slots",
    "cpu_bytes_per_frame": "bytes that the CPU can move in a frame",
    "chip_bits": "bits that the chip itself has to hold",
    "memory_free": "bytes of memory that nobody owns; without a scene, all of them",
}
"""Figures of every point, each with its meaning. Empty where the chip has no such thing: slots without a time table."""

SCENE_COLUMNS = {
    "scene_line": "the frame's fullest line",
    "scene_used": "slots that the picture and refresh use on it",
    "scene_missed": "accesses of the frame that come too late",
    "scene_unread": "accesses to the sprite table in memory that found no slot",
    "scene_dropped_count": "sprites dropped because a line has too many, counted on each line",
    "scene_dropped_dots": "sprites dropped because a line has too many dots of them",
    "scene_dropped_slots": "sprites dropped because they found no slots",
    "scene_fetches": "accesses made for the frame's picture",
}
"""Figures of the scene's frame."""

ERROR = "error"
"""The last column: why a point has no figures; empty where it has."""

PointRow = dict[str, Any]

OUTCOMES = {
    "fits": "fit",
    "does not fit": "do not fit",
    "open": "open",
    "no slots": "without a time table",
    "failed": "failed",
}
"""What can become of a point, each with how some of them are called where they are counted."""


def columns(fields: Iterable[str], *, scene: bool) -> tuple[str, ...]:
    """The names of all columns: the point's number, the varied ``fields``, the figures, the error."""
    return ("point", *fields, *COLUMNS, *(SCENE_COLUMNS if scene else ()), ERROR)


def figures(found: Budget, frame: Frame | None = None) -> PointRow:
    """The figures of one point: of its budget and, with a scene, of the ``frame`` that was drawn."""
    lines, sprites = found.lines, found.sprites
    row: PointRow = {
        "verdict": found.verdict if lines else None,
        "gives_way": found.first and gives_way(found.first),
        "slack": found.first and found.first.proved,
        "slots_per_line": lines and lines.slots,
        "worst_line": lines and lines.fullest.name,
        "used": lines and lines.fullest.used,
        "free": lines and lines.fullest.free,
        "sprites_asked": sprites and sprites.asked,
        "sprites_room": sprites and sprites.room,
        "sprites_fit": sprites and sprites.fit,
        "cpu_bytes_per_frame": found.cpu and found.cpu.bytes_per_frame,
        "chip_bits": found.chip_bits,
        "memory_free": found.memory.free,
    }
    if frame is not None:
        seen = found.seen
        reasons = frame.drops["reason"].tolist()
        row |= {
            "scene_line": seen and seen.line,
            "scene_used": seen and seen.used,
            "scene_missed": seen and int(frame.missed.sum()),
            "scene_unread": seen and seen.unread,
            "scene_dropped_count": reasons.count("count"),
            "scene_dropped_dots": reasons.count("dots"),
            "scene_dropped_slots": reasons.count("slots"),
            "scene_fetches": int(frame.log.total),
        }
    return row


def outcome(row: PointRow) -> str:
    """What became of a point, one of ``OUTCOMES``: its verdict, or why it has none."""
    return "failed" if row[ERROR] else str(row["verdict"] or "no slots")


def counted(rows: Sequence[PointRow]) -> str:
    """How many points became what, in words: ``3 fit, 1 do not fit, 2 open``."""
    counts = Counter(map(outcome, rows))
    return ", ".join(f"{counts[one]} {word}" for one, word in OUTCOMES.items() if counts[one])


def gives_way(first: First) -> str:
    """What gives way first, in short: ``far.cells, 1 slot`` before it does, or ``far.cells, 3 missed`` where it has."""
    if first.slots < 0:
        return f"{first.client}, {-first.slots} missed"
    return f"{first.client}, {first.slots} slot{'' if first.slots == 1 else 's'}"


def csv_text(names: Sequence[str], rows: Iterable[PointRow]) -> str:
    """The rows as CSV with a head. Nothing is an empty cell, a truth is ``true`` or ``false``, a list or table is JSON."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(names)
    writer.writerows([cell(row[name]) for name in names] for row in rows)
    return out.getvalue()


def json_text(about: Mapping[str, Any], rows: Iterable[PointRow]) -> str:
    """What the sweep was ``about`` and its rows, as JSON."""
    return json.dumps({**about, "rows": list(rows)}, indent=2, ensure_ascii=False) + "\n"


def cell(value: Any) -> str:
    """A value as it stands in a cell of the CSV."""
    if value is None:
        return ""
    return value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)
