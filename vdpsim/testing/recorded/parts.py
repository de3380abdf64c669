"""A frame as small files that a person can look at, each part of it apart.

Law: the same frame gives the same files, and what two files say alike is alike. ``.png`` is the plane of entries;
``.palette.csv`` the colour of each entry from the line on which it first shows it; ``.log.csv`` the fetch log; ``.slots.csv`` who
had the slots of each line of the frame, a row wherever that changes, of a chip with a time table; ``.events.json`` drops,
collisions, flags raised and transfers, a record a line. Knows no folder.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping

import numpy as np
from PIL import Image

from ...colour.numbers import numbers_of
from ...engine.frame import Result
from ...images.png import png_bytes
from ...output.frame import Frame
from ...output.logs import log_data, log_text

EVENTS = ("drops", "collisions", "raised", "transfers")
"""What happened in a frame, kind by kind."""


def palette_text(frame: Result) -> str:
    """``line,entry,colour``: a row wherever an entry shows another colour than it did before, from top to bottom."""
    known: dict[int, int] = {}
    rows = ["line,entry,colour"]
    shown = frame.indices.astype(np.int64) << 24 | numbers_of(frame.rgb)
    for line, dots in enumerate(shown, frame.first):
        pairs, first = np.unique(dots, return_index=True)
        for pair in pairs[np.argsort(first)].tolist():
            entry, colour = pair >> 24, pair & 0xFFFFFF
            if known.get(entry) != colour:
                known[entry] = colour
                rows.append(f"{line},{entry},#{colour:06x}")
    return "\n".join(rows) + "\n"


def slots_text(frame: Result) -> str:
    """The slots of every line of the frame, also below the picture: a row wherever they are not those of the line above."""
    lines = log_data(frame)["slots"]
    last = None
    rows = [",".join(lines[0])]
    for line, *counts in (list(one.values()) for one in lines):
        if counts != last:
            rows.append(",".join(map(str, [line, *counts])))
        last = counts
    return "\n".join(rows) + "\n"


def events_text(frame: Result) -> str:
    """Drops, collisions, flags raised and transfers as JSON, a record a line."""
    told = log_data(frame)
    return "".join(f"{json.dumps(record)}\n" for kind in EVENTS for record in told.get(kind, ()))


def entries_png(frame: Frame) -> bytes:
    """The plane of entries as a PNG: in the frame's colours where each entry has one alone, else as greys."""
    image = frame.image()
    return png_bytes(image if image.mode == "P" else Image.fromarray(np.ascontiguousarray(frame.indices)))


ENTRIES = ".png"

TEXTS: Mapping[str, Callable[[Frame], str]] = {
    ".palette.csv": palette_text,
    ".log.csv": lambda frame: log_text(frame, ".csv"),
    ".slots.csv": slots_text,
    ".events.json": events_text,
}
"""The parts that are texts, by the endings of their files."""


def endings(frame: Frame) -> tuple[str, ...]:
    """The endings of all files of ``frame``."""
    return (ENTRIES, *(ending for ending in TEXTS if ending != ".slots.csv" or frame.slots is not None))


def files(frame: Frame) -> dict[str, bytes]:
    """The bytes of all files of ``frame`` by their endings."""
    return {
        ending: entries_png(frame) if ending == ENTRIES else TEXTS[ending](frame).encode() for ending in endings(frame)
    }
