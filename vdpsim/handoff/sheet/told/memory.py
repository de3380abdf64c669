"""The memory map: who owns which bytes of video memory in the scene, and which are free.

Law: owners and holes are the budget's; nothing is worked out here.
"""

from __future__ import annotations

from ....budgets.memory import MemoryBudget
from ....files.problems import hexadecimal
from ..drawn.memory import memory_drawn
from ..parts import Grid, Picture, Section, Words
from .wording import plain, size


def memory_map(memory: MemoryBudget, scene: str) -> Section:
    """The section; ``scene`` is the scene's name."""
    if not memory.allotted:
        return Section(
            "Memory map", (Words(f"The scene {scene} puts nothing into the {size(memory.size)} of video memory."),)
        )
    rows = tuple(
        (
            hexadecimal(row.first, memory.size),
            hexadecimal(row.last, memory.size),
            plain(row.bytes),
            row.owner or "(free)",
        )
        for row in memory.allotted
    )
    told = f"Video memory of {size(memory.size)} as the scene {scene} uses it; {plain(memory.free)} bytes are free."
    picture = Picture("memory", memory_drawn(memory), "The memory map, to scale; what is free is grey.")
    return Section(
        "Memory map",
        (Words(told), picture, Grid("Who owns which bytes", ("first", "last", "bytes", "owner"), rows, (0, 1, 2))),
    )
