"""The words of the model, and who asks a chip's memory for data.

Law: a word is told as the guide's page of words has it. A client is told by what it fetches, of any layer and any chip.
"""

from __future__ import annotations

import re
from functools import cache
from typing import NamedTuple

from ..guide.pages import page


class Client(NamedTuple):
    """Who has slots: what it is ``about``, and what it costs."""

    about: str
    costs: str


CLIENTS: dict[str, Client] = {
    "LAYER.cells": Client(
        "cells of a layer's map or text, one for each tile or character that a line touches",
        "ceil(cell_bytes / W) accesses for each; on the first line of a row of cells alone, where they are kept",
    ),
    "LAYER.pattern": Client(
        "a row of the pattern of each tile that a line touches",
        "tile x bits_per_dot / 8 bytes in accesses of W, in each plane where planes do not lie together; a turned cell an access "
        "for each of its dots",
    ),
    "LAYER.glyphs": Client("a row of the glyph of each character that a line touches", "one access for each"),
    "LAYER.colours": Client(
        "cells of a bitmap with the colours or the bank of each block of dots",
        "at least one access for each group of dots; on the first line of a row of blocks alone, where they are kept",
    ),
    "LAYER.bitmap": Client(
        "dots of a bitmap, as many as an access brings at a time",
        "width x bits_per_dot / (8 x W) accesses a line",
    ),
    "sprites": Client(
        "all that sprites fetch, in a time table's order: a line ahead or in blanking, each line's sprites one after the other",
        "what sprites.table and sprites.pattern cost",
    ),
    "sprites.table": Client(
        "records of a sprite table in memory: a scan of all of them on each line, then the rest of each that is drawn",
        "accesses of a record that hold y, size or enable x sprites.count on each line; nothing with the table on the chip",
    ),
    "sprites.pattern": Client(
        "a row of the pattern of each sprite that a line draws",
        "width x bits_per_dot / 8 bytes in accesses of W, at least one; of a sprite made of tiles at least one for each tile",
    ),
    "refresh": Client("accesses that keep the memory's contents alive", "time.refresh.slots slots of every line"),
    "cpu": Client(
        "the CPU's bytes on their way into memory, one a slot",
        "the slots that time.cpu reserves; else what others leave",
    ),
}
"""By name, LAYER standing for a layer's own."""


@cache
def words() -> dict[str, str]:
    """The sentences of each word of the guide's page of words, by the word in small letters."""
    found: dict[str, str] = {}
    for item in re.findall(r"^- (.+(?:\n  .+)*)", page("words"), re.MULTILINE):
        for word in re.findall(r"\*\*([^*]+)\*\*", item):
            found.setdefault(word.lower(), " ".join(item.replace("**", "").split()))
    return found


def client_named(name: str) -> str:
    """The client that ``name`` means, alone or with a layer's name or a mode's before it; "" for none."""
    last = name.rpartition(".")[2]
    if name in CLIENTS:
        return name
    return f"LAYER.{last}" if f"LAYER.{last}" in CLIENTS and name.count(".") <= 2 else ""
