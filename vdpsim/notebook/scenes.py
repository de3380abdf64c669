"""A chip and a scene in a notebook: what they are, who owns which memory, and the patterns that lie there.

Law: the patterns are those of the page; nothing is worked out here.
"""

from __future__ import annotations

from ..chip.model import Chip
from ..report.pictures import pattern_sheets
from ..scene import Scene
from .pieces import heading, image, line, table

MOST_SHEETS = 4
"""Sheets of patterns that are shown."""


def chip_html(chip: Chip) -> str:
    """Its parts, a row each."""
    frame, memory, sprites = chip.frame, chip.memory, chip.sprites
    rows = [
        ("frame", f"{frame.width} x {frame.height} dots of {frame.dots_per_line} x {frame.lines_per_frame}"),
        ("memory", f"{memory.size:,} bytes, {memory.bytes_per_access} an access"),
        ("palette", f"{chip.palette.entries} entries"),
        *(
            (f"layer {layer.name}", ", ".join(f"{mode.name} ({mode.kind})" for mode in layer.modes))
            for layer in chip.layers
        ),
        ("sprites", f"{sprites.count}" if sprites else "none"),
    ]
    return heading(repr(chip)[1:-1]) + (line(chip.about) if chip.about else "") + table(("part", "what it is"), rows)


def scene_html(scene: Scene) -> str:
    """What it is, its memory map, and its first patterns."""
    rows = [(f"0x{row.start:04X}", f"0x{row.last:04X}", row.end - row.start, row.owner) for row in scene.layout]
    shown = heading(repr(scene)[1:-1]) + (line(scene.about) if scene.about else "")
    shown += table(("first", "last", "bytes", "owner"), rows)
    sheets = pattern_sheets(scene)
    for sheet in sheets[:MOST_SHEETS]:
        more = f", the first {sheet['shown']:,}" if sheet["shown"] < sheet["count"] else ""
        told = f"{sheet['owner']}: {sheet['count']:,} patterns of {sheet['width']} x {sheet['height']} dots{more}"
        shown += heading(told) + image(sheet["picture"], told)
    return shown + (
        line(f"and {len(sheets) - MOST_SHEETS} more sheets of patterns") if len(sheets) > MOST_SHEETS else ""
    )
