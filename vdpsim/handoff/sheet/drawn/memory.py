"""Video memory to scale: who owns which bytes, and what is free.

Law: every stretch has its place and its words, however small it is. Addresses rise from top to bottom.
"""

from __future__ import annotations

from ....budgets.memory import MemoryBudget
from ....files.problems import hexadecimal
from ...drawing.svg import Drawing
from .spread import spread

WIDE, HIGH, LINE, AWAY = 150.0, 420.0, 20.0, 44.0
"""Width and least height of the memory, height of a line of text, and how far beside the memory the texts stand."""


def memory_drawn(memory: MemoryBudget) -> str:
    """The drawing."""
    made, rows, size = Drawing(), memory.allotted, memory.size
    high = max(HIGH, LINE * len(rows))
    step = high / size
    middles = [made.edge + (row.first + row.last + 1) / 2 * step for row in rows]
    places = spread(middles, [LINE] * len(rows), made.edge, made.edge + high)
    texts = made.edge + WIDE + AWAY
    for row, middle, place in zip(rows, middles, places, strict=True):
        made.box(made.edge, made.edge + row.first * step, WIDE, row.bytes * step, "still" if row.free else "mark")
        made.line((made.edge + WIDE, middle), (made.edge + WIDE + 8, middle), (texts - 12, place), (texts - 4, place))
        made.text(texts, place + 4, f"{hexadecimal(row.first, size)}  {row.owner or '(free)'}, {row.bytes:,} bytes")
    said = ", ".join(f"{hexadecimal(row.first, size)} {row.owner or 'free'}" for row in rows)
    return made.svg(f"Video memory of {size:,} bytes: {said}")
