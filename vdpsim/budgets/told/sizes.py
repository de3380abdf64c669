"""What a budget tells of each size of the picture, where registers let it have several.

Law: says what stands in the Budgets of the sizes and works nothing out. What all sizes have alike is left out here: it stands
in the other sections.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from ...chip.tables.basics import size_name
from ..budget import Budget
from .section import Section

COLUMNS: dict[str, Callable[[Budget], object]] = {
    "verdict": lambda found: found.verdict if found.lines else None,
    "gives way first": lambda found: found.first and found.first.client,
    "slack": lambda found: found.first and found.first.proved,
    "blank slots": lambda found: found.lines and found.lines.blank,
    "used": lambda found: found.lines and found.lines.fullest.used,
    "sprites ask": lambda found: found.sprites and found.sprites.asked,
    "room": lambda found: found.sprites and found.sprites.room,
    "sprites that fit": lambda found: found.sprites and found.sprites.fit,
    "CPU bytes a frame": lambda found: found.cpu and found.cpu.bytes_per_frame,
    "in blanking": lambda found: found.cpu and found.cpu.bytes_in_blanking,
    "bits on the chip": lambda found: found.chip_bits,
    "display warnings": lambda found: len(found.display.warnings),
}
"""What is told of a size, where the sizes differ in it."""

EXPLAINED = {
    "slack": "slack",
    "blank slots": "blank slots",
    "used": "used",
    "room": "room",
    "sprites that fit": "sprites that fit",
    "CPU bytes a frame": "bytes a frame",
    "bits on the chip": "bits",
}
"""The formulas of columns, by the names that they have elsewhere."""


def sizes_section(budget: Budget) -> Iterator[Section]:
    """A row for each size, with a column for each figure in which they differ; nothing where there is just one size."""
    if not budget.sizes:
        return
    columns = {name: [ask(one) for one in budget.sizes] for name, ask in COLUMNS.items()}
    told = {name: values for name, values in columns.items() if len(set(values)) > 1}
    rows = [
        (
            size_name((one.chip.frame.width, one.chip.frame.height)),
            *("" if value is None else f"{value}" for value in values),
        )
        for one, *values in zip(budget.sizes, *told.values(), strict=True)
    ]
    title = (
        f"Sizes of the picture: {len(rows)}, which differ in this"
        if told
        else f"Sizes of the picture: {len(rows)}, alike"
    )
    formulas = tuple(dict.fromkeys(EXPLAINED[name] for name in told if name in EXPLAINED))
    yield Section(f"{title}; each figure below is that of the worst", ("size", *told), tuple(rows), len(told), formulas)
