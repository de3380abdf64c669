"""The bench: each row is a ratio of two times, measured in turns in one run, with the target that it must hold.

Law: the table and the JSON are made from the same rows. Rows about frames stand here, those about time and processes in
modules beside it. What was not measured holds nothing.
Exit status 1 where a target is not held, 3 where all that were measured hold but some were not.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from io import BytesIO

import bench_art  # noqa: F401 - its rows are entered as it is loaded
import bench_handoff  # noqa: F401
import bench_largest  # noqa: F401
import bench_packing  # noqa: F401
import bench_report  # noqa: F401
import bench_sweep  # noqa: F401
import bench_time  # noqa: F401
import numpy as np
from bench_measure import ROUNDS, ROWS, Drawer, Run, ratio, row, status, tell
from bench_scenes import Bench, bench, large
from PIL import Image

from vdpsim import MemoryWrite, PaletteWrite, RegisterWrite, SpriteWrite, Write


def cut(made: Bench) -> Run:
    """Paste what the bench scene shows with Pillow: each tile of both layers, and each sprite by its mask.

    Tiles and sprites are cut and flipped beforehand. Tiles are pasted without a mask, the quickest that Pillow can.
    """
    width, height = made.size
    memory = made.machine.memory
    layers = []
    for name in reversed(made.layers):
        cells = memory[made.maps[name] :][: 2 * 2 * made.page**2].view("<u2").reshape(2, made.page, made.page)
        plane = np.concatenate(list(cells), axis=1)
        tiles = [
            _image(memory[made.patterns[name] + 32 * (int(cell) & 511) :][:32], 8, int(cell) >> 11 & 1)
            for cell in plane.ravel()
        ]
        layers.append((plane.shape, tiles))
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
        found.append(tell(each))
        if not options.json:
            print(found[-1].line(), flush=True)
    if options.json:
        print(json.dumps([told.record() for told in found], indent=2))
    return status(found)


if __name__ == "__main__":
    sys.exit(main())
