"""Rows of the bench about what is exported for the hardware side.

Law: an export of the shipped scene saltmarsh is compared with rendering the same frames, as a process and frame by frame.
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path
from statistics import median

from bench_measure import ROUNDS, Run, read, row
from bench_time import ROOT, spent

import vdpsim
from vdpsim.handoff.drawn import drawn
from vdpsim.handoff.vectors.vectors import Vectors

SCENE = ROOT / "scenes" / "saltmarsh.scene.toml"
FRAMES = 8


@row("vdpsim export of saltmarsh, a further frame / the frame rendered", 10)
def _frame() -> float:
    """CPU of a frame's vectors, every access and dot as text, over that of the frame as it is rendered without its trace."""
    scene = vdpsim.load_scene(SCENE)
    vectors = Vectors(scene.chip)

    def exported(number: int) -> int:
        frames = drawn(scene, range(number, number + 1), damage=False, traced=True)
        return sum(len(text) for one in frames for _, text in vectors.frame(one))

    turns = [
        (
            _spent_here(exported, number % FRAMES),
            _spent_here(lambda at: read(vdpsim.render(scene, at)), number % FRAMES),
        )
        for number in range(2 + ROUNDS)
    ][2:]
    return float(median(export / render for export, render in turns))


def _spent_here(run: Run, number: int) -> float:
    """CPU seconds of this process."""
    before = time.process_time()
    run(number)
    return time.process_time() - before


@row("vdpsim export --frames 0:8 of saltmarsh, its process / vdpsim render", 10)
def _process() -> float:
    """CPU of processes, in turns; writing PNG files is a part of the one, writing text of the other."""
    frames = ["--frames", f"0:{FRAMES}"]
    with tempfile.TemporaryDirectory() as folder:
        export = ["export", str(SCENE), *frames, "-o", str(Path(folder, "export"))]
        render = ["render", str(SCENE), *frames, "-o", f"{Path(folder, 'render')}/"]
        turns = [(spent(*export), spent(*render)) for _ in range(2 + ROUNDS // 6)][2:]
    return float(median(exported / rendered for exported, rendered in turns))
