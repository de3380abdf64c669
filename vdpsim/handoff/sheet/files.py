"""A chip's data sheet as files: a page, Markdown, and the drawings beside it.

Law: what the sheet says is put together here once, from the chip, the scene's memory and one budget; both files say the same.
Knows no file system.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from ...budgets.budget import budget
from ...budgets.memory import memory_budget
from ...chip.controls import once
from ...chip.model import Chip
from ...scene import Scene
from .as_html import as_html
from .as_markdown import as_markdown
from .parts import Section, Sheet
from .told.blocks import block_diagram
from .told.budgeted import budgeted, memory_map
from .told.clients import clients
from .told.cpu_side import ports, register_map
from .told.features import features
from .told.layers import ladders, layers, palette
from .told.layouts import layouts
from .told.sprites import limits, sprites
from .told.timing import timing

DRAWINGS = "sheet"
"""The folder of the drawings that ``sheet.md`` shows."""


def sheet_files(scene: Scene) -> Iterator[tuple[str, bytes]]:
    """The data sheet of the scene's chip: paths within the folder of the hand-off, each with its bytes, UTF-8.

    ``sheet.html`` is one page without scripts that needs no other file; ``sheet.md`` says the same with the drawings in
    ``sheet/*.svg``. The memory map is that of ``scene``; the budget is the chip's own, as ``vdpsim budget`` tells it.
    """
    made = data_sheet(scene)
    yield "sheet.html", as_html(made).encode()
    yield "sheet.md", as_markdown(made, DRAWINGS).encode()
    for picture in made.pictures:
        yield f"{DRAWINGS}/{picture.name}.svg", picture.svg.encode()


def data_sheet(scene: Scene) -> Sheet:
    """All that the data sheet says."""
    chip = scene.chip
    about = (*((chip.about,) if chip.about.strip() else ()), f"Memory as the scene {scene.name} uses it.")
    return Sheet(f"{chip.name}: data sheet", about, tuple(_sections(scene)))


def _sections(scene: Scene) -> Iterator[Section]:
    chip = scene.chip
    rows = [(row.start, row.end, row.owner) for row in scene.layout]
    found = replace(once(chip, "_budget", lambda: budget(chip)), memory=memory_budget(chip, rows))
    before, after = once(chip, "_sheet", lambda: (tuple(_before(chip)), tuple(_after(chip))))
    yield from before
    yield memory_map(found.memory, scene.name)
    yield from after
    yield budgeted(found)


def _before(chip: Chip) -> Iterator[Section]:
    """What stands before the scene's memory, and is the same of every scene of the chip."""
    yield features(chip)
    yield block_diagram(chip, once(chip, "_budget", lambda: budget(chip)).on_chip)
    yield timing(chip)
    yield clients(chip)


def _after(chip: Chip) -> Iterator[Section]:
    """What stands between the scene's memory and the budget; as above."""
    yield layers(chip)
    yield layouts(chip)
    yield palette(chip)
    yield from sprites(chip)
    yield ladders(chip)
    yield register_map(chip)
    yield from ports(chip)
    yield limits(chip, once(chip, "_budget", lambda: budget(chip)))
