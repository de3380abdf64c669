"""Rows of the bench about time on the line, and about whole processes.

Law: frames with slots are compared with frames of the same chip without its time table.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from statistics import median

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
        places = [
            str(Path(folder, name)) for name in ("ours.png", "plain.png")
        ]  # vdpsim writes over its own files alone
        ours = [str(Path(sys.executable).with_name("vdpsim")), "render", str(scene), "-o", places[0]]
        plain = [sys.executable, "-c", PLAIN, places[1]]
        run = partial(subprocess.run, check=True, env=_environment())
        return ratio(lambda _: run(ours), lambda _: run(plain), ROUNDS // 4, inside=False)


def _environment() -> dict[str, str]:
    """The environment of processes that find their modules compiled, as an installed package has them after its first run."""
    return {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}


def spent(*words: str) -> float:
    """CPU seconds that ``vdpsim`` with these words takes, all of its process; it has to end with exit status 0."""
    command = str(Path(sys.executable).with_name("vdpsim"))
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([command, *words], check=True, env=_environment(), stdout=subprocess.DEVNULL)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def against_start(words: Sequence[str], rounds: int) -> float:
    """CPU of ``vdpsim`` with ``words`` beyond that of ``vdpsim --version``, over the latter: the median of turns."""
    spent("--version")  # compiles what is not yet
    turns = [(spent("--version"), spent(*words)) for _ in range(rounds)]
    return median((all_of_it - start) / start for start, all_of_it in turns)


@row("vdpsim budget, first call, CPU of its process beyond vdpsim --version / that", 4)
def _budget() -> float:
    """Where starting takes 60 ms, 4 more of that make 0.3 s in all."""
    return against_start(["budget", str(ROOT / "scenes" / "chips" / "curlew.chip.toml")], ROUNDS // 4)
