"""Rows of the bench about time on the line, and about whole processes.

Law: frames with slots are compared with frames of the same chip without its time table.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from functools import partial
from pathlib import Path

from bench_measure import ROUNDS, Drawer, ratio, read, row
from bench_scenes import Bench, bench

ROOT = Path(__file__).resolve().parents[1]


class Timed(Drawer):
    """Draws a frame of a chip that places its fetches in slots; with ``trace`` it keeps every access."""

    def __init__(self, made: Bench, *, trace: bool = False) -> None:
        super().__init__(made)
        self.trace = trace

    def __call__(self, _number: int) -> int:
        """Draw and read, the slots and the trace too."""
        frame = self.made.machine.frame(self.program, trace=self.trace)
        assert frame.slots is not None
        used = int(frame.slots.used.sum())
        return used + (len(frame.trace) if frame.trace is not None else 0) + read(frame)


@row("frame with slots and their log / frame without slots", 1.5)
def _slots() -> float:
    return ratio(Timed(bench(timed=True)), Drawer(bench()))


@row("frame with slots and a trace of every access / frame without slots", 6)
def _trace() -> float:
    return ratio(Timed(bench(timed=True), trace=True), Drawer(bench()))


PLAIN = """
import sys, numpy
from PIL import Image
Image.fromarray(numpy.arange(288 * 216).astype(numpy.uint8).reshape(216, 288)).save(sys.argv[1])
"""


@row("vdpsim render, whole process / numpy + Pillow process", 2.5)
def _process() -> float:
    scene = ROOT / "scenes" / "saltmarsh.scene.toml"
    with tempfile.TemporaryDirectory() as folder:
        target = str(Path(folder, "x.png"))
        ours = [str(Path(sys.executable).with_name("vdpsim")), "render", str(scene), "-o", target]
        plain = [sys.executable, "-c", PLAIN, target]
        run = partial(subprocess.run, check=True, env=_environment())
        return ratio(lambda _: run(ours), lambda _: run(plain), ROUNDS // 4, inside=False)


def _environment() -> dict[str, str]:
    """The environment of processes that find their modules compiled, as an installed package has them after its first run."""
    return {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}


@row("vdpsim budget asked again (its answer is kept), whole process / vdpsim --version", 1.5)
def _budget() -> float:
    command, chip = str(Path(sys.executable).with_name("vdpsim")), str(ROOT / "scenes" / "chips" / "curlew.chip.toml")
    run = partial(subprocess.run, check=True, env=_environment(), stdout=subprocess.DEVNULL)
    return ratio(
        lambda _: run([command, "budget", chip]), lambda _: run([command, "--version"]), ROUNDS // 2, inside=False
    )
