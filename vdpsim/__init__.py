"""vdpsim: what a video chip on paper would draw, and every memory fetch that it would make.

Law: the one public door. Every name that users may rely on stands in ``__all__``, by theme; each is loaded when it is
first asked for, so that ``import vdpsim`` costs next to nothing.

>>> import vdpsim
>>> scene = vdpsim.load_scene("scenes/saltmarsh.scene.toml")
>>> frame = vdpsim.render(scene)
>>> frame.save("marsh.png", scale=3)
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .beside import side_by_side
    from .budgets.budget import Budget, budget, witness_of
    from .budgets.compare import Comparison, compare
    from .budgets.compared import comparison_data
    from .budgets.sweep import Sweep, SweepStoppedError, sweep
    from .budgets.told import budget_data
    from .budgets.witness import Witness
    from .bus import bus_map, trace_npz
    from .chip.displays import DISPLAYS, Display, display_warnings
    from .chip.load import load_chip, parse_chip
    from .chip.model import Chip
    from .chip.presets import display_frame, frame_text
    from .chip.timing import frame_rate, line_rate
    from .engine import NotInTimeError
    from .engine.frame import Log, Plane, Result, SlotLog, join
    from .engine.ladder import Rule, Sources
    from .logs import log_data, log_text
    from .machine import Machine, frames, render
    from .memory import (
        MemoryWrite,
        PaletteWrite,
        PortWrite,
        RegisterWrite,
        SpriteWrite,
        State,
        Transfer,
        Write,
    )
    from .picture import Frame, png_bytes, source_map, views
    from .problems import InputError, Problem
    from .report.animation import Animation, animation
    from .report.flashes import Flashes, flashes
    from .report.page import report_page
    from .scene import Scene, load_scene
    from .schemas import schema

__version__ = "0.5.0"

__all__ = [  # noqa: RUF022 - grouped by theme
    # the chip
    "Chip", "load_chip", "parse_chip", "line_rate", "frame_rate",
    # the display that it is meant for
    "Display", "DISPLAYS", "display_frame", "frame_text", "display_warnings",
    # does it fit
    "budget", "Budget", "budget_data", "witness_of", "Witness",
    # which is the better one
    "compare", "Comparison", "comparison_data", "side_by_side",
    # which of many would
    "sweep", "Sweep", "SweepStoppedError",
    # the scene
    "Scene", "load_scene",
    # drawing
    "render", "frames", "Machine", "Rule", "Sources",
    # what a machine holds, and what changes it
    "State", "Write", "RegisterWrite", "PaletteWrite", "SpriteWrite", "MemoryWrite", "Transfer", "PortWrite",
    # what drawing yields
    "Frame", "Result", "Log", "Plane", "join", "views", "source_map", "png_bytes", "log_data", "log_text",
    # a page that explains frames
    "report_page",
    # frames that move, and whether they flash
    "animation", "Animation", "flashes", "Flashes",
    # time on the line
    "SlotLog", "bus_map", "trace_npz", "NotInTimeError",
    # mistakes in files, and the files' own shape
    "InputError", "Problem", "schema",
    "__version__",
]  # fmt: skip

_HOMES = {
    "budgets.budget": ("Budget", "budget", "witness_of"),
    "budgets.compare": ("Comparison", "compare"),
    "budgets.compared": ("comparison_data",),
    "budgets.sweep": ("Sweep", "SweepStoppedError", "sweep"),
    "budgets.told": ("budget_data",),
    "budgets.witness": ("Witness",),
    "bus": ("bus_map", "trace_npz"),
    "chip.displays": ("DISPLAYS", "Display", "display_warnings"),
    "chip.load": ("load_chip", "parse_chip"),
    "chip.model": ("Chip",),
    "chip.presets": ("display_frame", "frame_text"),
    "chip.timing": ("line_rate", "frame_rate"),
    "engine": ("NotInTimeError",),
    "engine.frame": ("Log", "Plane", "Result", "SlotLog", "join"),
    "engine.ladder": ("Rule", "Sources"),
    "logs": ("log_data", "log_text"),
    "machine": ("Machine", "frames", "render"),
    "memory": (
        "MemoryWrite",
        "PaletteWrite",
        "PortWrite",
        "RegisterWrite",
        "SpriteWrite",
        "State",
        "Transfer",
        "Write",
    ),
    "picture": ("Frame", "png_bytes", "source_map", "views"),
    "problems": ("InputError", "Problem"),
    "report.animation": ("Animation", "animation"),
    "report.flashes": ("Flashes", "flashes"),
    "report.page": ("report_page",),
    "scene": ("Scene", "load_scene"),
    "schemas": ("schema",),
    "beside": ("side_by_side",),
}
_WHERE = {name: home for home, names in _HOMES.items() for name in names}


def __getattr__(name: str) -> Any:
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f".{_WHERE[name]}", __name__), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
