"""Random chips and scenes that the reference design takes, and the design's run over what is exported of them.

Law: chips are those of ``strategies.py`` with what the design refuses left out by the way they are made; what it refuses all
the same it says itself. Scenes begin with any state and write anything in each of two frames.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from random import Random
from typing import Any

from excepted import as_a_memory
from twin_cases import chip_from, little_frame

import vdpsim
from vdpsim.chip.model import Chip
from vdpsim.scene.scene import Scene, SceneParts
from vdpsim.scene.writes import TimedWrite
from vdpsim.state.enact import begin_frame
from vdpsim.testing.strategies.made.chips import make_chip
from vdpsim.testing.strategies.made.states import make_state
from vdpsim.testing.strategies.made.timed import make_writes

Json = dict[str, Any]

BENCH = Path(__file__).parent / "hardware" / "bench" / "run.py"
FRAMES = 2

EXCEPTED = "held to what a memory gives in "
"""What is said before how many accesses the model's text excepts."""


def design_scene(seed: int, number: int) -> Scene:
    """Scene ``number`` of ``seed``: it begins with any state and writes anything in each of its frames."""
    random = Random(f"{seed}/{number}")
    chip = design_chip(random)
    start = make_state(random, chip)
    begin_frame(start)
    start.frame = 0
    timed = tuple(
        TimedWrite((write.line,), (write,), range(frame, frame + 1), follows=True)
        for frame in range(FRAMES)
        for write in make_writes(random, chip)
    )
    parts = SceneParts(start, {}, None, None, timed, ())
    return Scene(
        name="Random", about="", chip=chip, frames=FRAMES, path=Path("none"), layout=(), sprite_names=(), parts=parts
    )


def design_chip(random: Random) -> Chip:
    """A chip with a little frame and a time table, and with nothing that the design does not do."""
    while True:
        try:
            chip = make_chip(random, _frame, _read)
        except ValueError:  # what is left out left something that the chip's tables do not allow
            continue
        if chip.time is not None and _small(chip):
            return chip


def _small(chip: Chip) -> bool:
    """Small enough to be simulated in seconds."""
    modes = sum(len(layer.modes) for layer in chip.layers)
    return modes <= 3 and (chip.sprites is None or chip.sprites.count <= 12)


def _frame(random: Random) -> Json:
    """A little frame of one size."""
    while True:
        found = little_frame(random)
        if "sizes" not in found:
            return found


def _read(plan: Json) -> Chip:
    """The chip of a plan, from which is left out what the design does not do."""
    for layer in plan["layers"]:
        for mode in layer["modes"]:
            mode.get("cell", {}).pop("turn", None)
            _unturned(mode.get("ladder", []))
    _unturned(plan.get("ladder", []))
    if "sprites" in plan:
        table = plan["sprites"]
        table.setdefault("per_line", 20)
    if "time" in plan:
        for name, client in plan["time"]["clients"].items():
            client.pop("keep", None)
            client["when"] = "line before" if name == "sprites" else client["when"].replace("line before", "in time")
            if client["when"] == "in time":
                client.setdefault("lead", 40)
            else:
                client.pop("lead", None)
    return chip_from(plan)


def _unturned(ladder: list[Json]) -> None:
    """Rungs ask for no field that cells do not have."""
    for rung in ladder:
        if "turn" in rung.get("when", ""):
            del rung["when"]


def design_run(scene: Scene, folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Export the scene into ``folder`` and let the design go through it.

    Where it differs, it does so once more, held to what a memory gives where the model's text excepts that.
    """
    vdpsim.export(scene, folder, frames=range(FRAMES), only=["memory", "vectors", "constants"], damage=True)
    done = bench_run(folder, *words)
    if "differs" in done.stdout and (count := as_a_memory(folder)):
        done = bench_run(folder, *words)
        done.stdout += f"{EXCEPTED}{count} accesses\n"
    return done


def bench_run(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Let the design go through an exported folder."""
    return subprocess.run(
        [sys.executable, BENCH, folder, *words], capture_output=True, text=True, check=False, timeout=300
    )
