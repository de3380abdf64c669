"""The bench: each row is a ratio of two times, measured in turns in one run, with the target that it must hold.

Law: a row is a function that returns its value; the table and the JSON are made from the same rows. Every frame that is timed
is read as a user reads it: indices, rgb, source, log.total, drops, collisions. Exit status 1 where a target is not held.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from io import BytesIO
from pathlib import Path
from statistics import median

import numpy as np
from bench_scenes import Bench, bench, large
from PIL import Image

from vdpsim import Frame, MemoryWrite, PaletteWrite, RegisterWrite, SpriteWrite, Write

Run = Callable[[int], object]
"""Something to be timed; it is given the round's number. A run's attribute ``before``, if any, is called first, untimed."""

ROUNDS = 60

IN_A_ROW = 5
"""How often each side runs in its turn."""
PATIENCE = 8
"""How many times as many rounds are tried as are wanted."""

INTERRUPTED = 0.05
"""The share of a run's time that the processor may have spent on something else."""


@dataclass(frozen=True)
class Row:
    """One line of the bench: ``measure`` gives the value, which holds where it is at most ``target``."""

    name: str
    target: float
    unit: str
    measure: Callable[[], float]


ROWS: list[Row] = []


def row(name: str, target: float, unit: str = "x") -> Callable[[Callable[[], float]], Callable[[], float]]:
    """Make a function that measures into a row of the bench."""

    def add(measure: Callable[[], float]) -> Callable[[], float]:
        ROWS.append(Row(name, target, unit, measure))
        return measure

    return add


def times(runs: Iterable[Run], rounds: int = ROUNDS, *, inside: bool = True) -> list[list[float]]:
    """Seconds of each of ``runs``, called in turns with the round's number; the first two rounds are not counted.

    Runs ``inside`` this process take a turn of ``IN_A_ROW``, as frames are drawn one after the other: what each finds in the
    processor's caches is then mostly its own. A round counts when none of its runs was interrupted: the longer of two runs is
    interrupted more often, so that on a busy machine a ratio would shift without anything having become faster. Runs
    ``inside`` tell it by their CPU time; those that wait for other processes cannot, and all their rounds count. Where too
    few rounds count, stderr says so.
    """
    runs = list(runs)
    found: list[list[float]] = []
    for number in range(2 + rounds * (PATIENCE if inside else 1)):
        taken, clean = [], True
        for run in runs:
            spent = 0.0
            for again in range(IN_A_ROW if inside else 1):
                getattr(run, "before", str)(number * IN_A_ROW + again)
                start, cpu = time.perf_counter(), time.process_time()
                run(number * IN_A_ROW + again)
                wall = time.perf_counter() - start
                clean &= not inside or wall - (time.process_time() - cpu) < INTERRUPTED * wall
                spent += wall
            taken.append(spent)
        if number >= 2 and clean:
            found.append(taken)
        if len(found) == rounds:
            break
    if len(found) < rounds:
        print(f"busy machine: only {len(found)} of {rounds} rounds were not interrupted", file=sys.stderr)
    if not found:
        sys.exit("busy machine: nothing could be measured")
    return [list(column) for column in zip(*found, strict=True)]


def ratio(first: Run, second: Run, rounds: int = ROUNDS, *, inside: bool = True) -> float:
    """How many times as long ``first`` takes as ``second``: the median over the rounds."""
    return median(a / b for a, b in zip(*times([first, second], rounds, inside=inside), strict=True))


def read(frame: Frame) -> int:
    """Look at everything that a frame yields."""
    return (
        len(frame.indices)
        + len(frame.rgb)
        + len(frame.source)
        + frame.log.total
        + len(frame.drops)
        + len(frame.collisions)
    )


class Drawer:
    """Draws a frame, all of it; the timed writes are compiled once, and what moves from frame to frame is set untimed."""

    def __init__(self, made: Bench, writes: Iterable[Write] = ()) -> None:
        self.made, self.program = made, made.machine.compile(writes)

    def before(self, number: int) -> None:
        """Scroll, and move some sprites."""
        self.made.step(number % 64)

    def __call__(self, _number: int) -> int:
        """Draw and read."""
        return read(self.made.machine.frame(self.program))


def cut(made: Bench) -> Run:
    """Paste what the bench scene shows with Pillow: each tile of both layers, and each sprite by its mask.

    Tiles and sprites are cut and flipped beforehand. Tiles are pasted without a mask, the quickest that Pillow can.
    """
    width, height = made.size
    memory = made.machine.memory
    layers = []
    for name in reversed(made.layers):
        cells = memory[made.maps[name] :][: 2 * 2 * made.page**2].view("<u2").reshape(2, made.page, made.page)
        cells = np.concatenate(list(cells), axis=1)
        tiles = [
            _image(memory[made.patterns[name] + 32 * (int(cell) & 511) :][:32], 8, int(cell) >> 11 & 1)
            for cell in cells.ravel()
        ]
        layers.append((cells.shape, tiles))
    start = made.machine.registers["sprites.patterns"]
    sprites = []
    for sprite in reversed(made.machine.sprites):
        image = _image(memory[start + 128 * sprite.pattern :][:128], 16, sprite.flip_x)
        sprites.append((image, image.point([0] + [255] * 255, "L"), sprite.x, sprite.y))

    def paste(number: int) -> object:
        picture = Image.new("L", (width, height))
        for speed, ((rows, columns), tiles) in enumerate(layers, 1):
            left, top = 5 + speed * (number % 64), 3 + number % 64
            for y in range(-(top % 8), height, 8):
                line = (y + top) // 8 % rows * columns
                for x in range(-(left % 8), width, 8):
                    picture.paste(tiles[line + (x + left) // 8 % columns], (x, y))
        for image, mask, x, y in sprites:
            picture.paste(image, (x, y), mask)
        return picture

    return paste


def _image(data: np.ndarray, side: int, flip: int) -> Image.Image:
    dots = np.stack([data >> 4, data & 15], axis=-1).reshape(side, side).astype(np.uint8)
    return Image.fromarray(np.ascontiguousarray(dots[:, ::-1] if flip else dots))


def every_line(made: Bench, write: Callable[[int], Write]) -> float:
    """A frame with a write on every line, in frames without one."""
    height = made.size[1]
    return ratio(Drawer(made, [write(line) for line in range(height)]), Drawer(made))


@row("frame / Pillow paste", 0.4)
def _paste() -> float:
    made = bench()
    return ratio(Drawer(made), cut(made))


@row("frame / PNG encoding, level 6", 0.8)
def _encode() -> float:
    made = bench()
    picture = Image.fromarray(made.machine.frame().indices)
    return ratio(Drawer(made), lambda _: picture.save(BytesIO(), "PNG", compress_level=6))


@row("scroll change on every line / frame", 1.5)
def _scroll() -> float:
    return every_line(bench(), lambda line: RegisterWrite(line, "near.scroll_x", line * 7 % 512))


@row("bank change on every line / frame", 1.5)
def _bank() -> float:
    return every_line(bench(cell_bank=False), lambda line: RegisterWrite(line, "near.bank", line % 8))


@row("palette change on every line / frame", 1.5)
def _palette() -> float:
    return every_line(bench(), lambda line: PaletteWrite(line, 3, (line * 19 % 4096,)))


@row("sprite table rewritten on every line / frame", 12)
def _table() -> float:
    made = bench()
    table = made.machine.state.sprites.copy()
    return every_line(made, lambda line: SpriteWrite(line, 0, np.roll(table, line, axis=0).tobytes()))


@row("patterns rewritten on every line / frame", 12)
def _patterns() -> float:
    made = bench()
    data = np.random.default_rng(3).integers(0, 256, 128, np.uint8).tobytes()
    return every_line(made, lambda line: MemoryWrite(line, made.patterns["near"] + 128 * (line % 128), data))


@row("1024x768, 6 layers, 512 sprites: time a dot and layer / bench scene's", 1.0)
def _large() -> float:
    small, big = bench(), large()
    share = [size[0] * size[1] * len(made.layers) for made in (small, big) for size in [made.size]]
    return ratio(Drawer(big), Drawer(small), ROUNDS // 4) * share[0] / share[1]


PLAIN = """
import sys, numpy
from PIL import Image
Image.fromarray(numpy.arange(288 * 216).astype(numpy.uint8).reshape(216, 288)).save(sys.argv[1])
"""


@row("vdpsim render, whole process / numpy + Pillow process", 2.5)
def _process() -> float:
    """Both processes find their modules compiled, as an installed package has them after the first run."""
    env = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    scene = Path(__file__).resolve().parents[1] / "scenes" / "saltmarsh.scene.toml"
    with tempfile.TemporaryDirectory() as folder:
        target = str(Path(folder, "x.png"))
        ours = [str(Path(sys.executable).with_name("vdpsim")), "render", str(scene), "-o", target]
        plain = [sys.executable, "-c", PLAIN, target]
        run = partial(subprocess.run, check=True, env=env)
        return ratio(lambda _: run(ours), lambda _: run(plain), ROUNDS // 4, inside=False)


def main(argv: list[str] | None = None) -> int:
    """Measure and print what the command line asks for."""
    parser = argparse.ArgumentParser(
        prog="tools/bench", description="How fast, as ratios that are measured in one run."
    )
    parser.add_argument(
        "--json", action="store_true", help="a list of name, value, target, holds, unit instead of a table"
    )
    parser.add_argument("--only", metavar="WORD", default="", help="only the rows whose name has this word")
    options = parser.parse_args(argv)
    chosen = [each for each in ROWS if options.only.lower() in each.name.lower()]
    if not chosen:
        parser.error(f"no row has {options.only!r} in its name; there are: {'; '.join(each.name for each in ROWS)}")
    found = []
    for each in chosen:
        value = each.measure()
        holds = value <= each.target
        found.append(
            {"name": each.name, "value": round(value, 3), "target": each.target, "holds": holds, "unit": each.unit}
        )
        if not options.json:
            told = "holds" if holds else "DOES NOT HOLD"
            print(f"{each.name:<72} {value:8.3f} {each.unit}  at most {each.target:<5g} {told}", flush=True)
    if options.json:
        print(json.dumps(found, indent=2))
    return 0 if all(each["holds"] for each in found) else 1


if __name__ == "__main__":
    sys.exit(main())
