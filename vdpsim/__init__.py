"""vdpsim: what a video chip on paper would draw, and every memory fetch that it would make.

Law: the one public door. Every name that users may rely on stands in ``__all__``, by theme; each is loaded when it is
first asked for, so that ``import vdpsim`` costs next to nothing.

>>> import vdpsim
>>> scene = vdpsim.load_scene("scenes/saltmarsh.scene.toml")
>>> frame = vdpsim.render(scene)
>>> frame.save("marsh.png", scale=3)
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from .door.lazy import names_of
from .version import __version__

if TYPE_CHECKING:
    from .budgets.budget import Budget, budget, witness_of
    from .budgets.told.data import budget_data
    from .budgets.witness.witness import Witness
    from .chip.design import design_warnings
    from .chip.line.displays import DISPLAYS, Display, display_warnings
    from .chip.line.presets import display_frame, frame_text
    from .chip.line.rates import frame_rate, line_rate
    from .chip.load import load_chip, parse_chip
    from .chip.model import Chip
    from .comparing.beside import side_by_side
    from .comparing.compare import Comparison, compare
    from .comparing.compared import comparison_data
    from .engine import NotInTimeError
    from .engine.frame import Log, Plane, Result, SlotLog
    from .engine.join import join
    from .engine.ladder import Rule, Sources
    from .files.problems import InputError, Problem
    from .handoff.export import export
    from .images.png import png_bytes
    from .machine.machine import Machine, frames, render
    from .output.animation import Animation, animation
    from .output.bus import bus_map, trace_npz
    from .output.flashes import Flashes, flashes
    from .output.frame import Frame, source_map, views
    from .output.logs import log_data, log_text
    from .report.page import report_page
    from .scene import Scene, load_scene
    from .scene.schemas import schema
    from .state.state import State
    from .state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, SpriteWrite, Transfer, Write
    from .sweeping.sweep import Sweep, sweep
    from .sweeping.workers import SweepStoppedError

__all__ = [  # noqa: RUF022 - grouped by theme
    # the chip
    "Chip", "load_chip", "parse_chip", "line_rate", "frame_rate",
    # the display that it is meant for
    "Display", "DISPLAYS", "display_frame", "frame_text", "display_warnings",
    # what of it can never come about
    "design_warnings",
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
    # material for the hardware side
    "export",
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
    ".budgets.budget": ("Budget", "budget", "witness_of"),
    ".comparing.compare": ("Comparison", "compare"),
    ".comparing.compared": ("comparison_data",),
    ".sweeping.sweep": ("Sweep", "sweep"),
    ".sweeping.workers": ("SweepStoppedError",),
    ".budgets.told.data": ("budget_data",),
    ".budgets.witness.witness": ("Witness",),
    ".output.bus": ("bus_map", "trace_npz"),
    ".chip.design": ("design_warnings",),
    ".chip.line.displays": ("DISPLAYS", "Display", "display_warnings"),
    ".chip.load": ("load_chip", "parse_chip"),
    ".chip.model": ("Chip",),
    ".chip.line.presets": ("display_frame", "frame_text"),
    ".chip.line.rates": ("line_rate", "frame_rate"),
    ".engine": ("NotInTimeError",),
    ".engine.frame": ("Log", "Plane", "Result", "SlotLog"),
    ".engine.join": ("join",),
    ".engine.ladder": ("Rule", "Sources"),
    ".output.logs": ("log_data", "log_text"),
    ".images.png": ("png_bytes",),
    ".machine.machine": ("Machine", "frames", "render"),
    ".state.state": ("State",),
    ".state.writes": ("MemoryWrite", "PaletteWrite", "PortWrite", "RegisterWrite", "SpriteWrite", "Transfer", "Write"),
    ".output.frame": ("Frame", "source_map", "views"),
    ".files.problems": ("InputError", "Problem"),
    ".output.animation": ("Animation", "animation"),
    ".output.flashes": ("Flashes", "flashes"),
    ".report.page": ("report_page",),
    ".handoff.export": ("export",),
    ".scene": ("Scene", "load_scene"),
    ".scene.schemas": ("schema",),
    ".comparing.beside": ("side_by_side",),
}
__getattr__, __dir__ = names_of(__name__, _HOMES)
