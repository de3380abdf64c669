"""``vdpsim fit``: pictures, sprite sheets and fonts as a chip's patterns, maps and palette, and what that cost."""

from __future__ import annotations

import argparse
import math
import os
import sys
import time
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import vdpsim
from vdpsim import art
from vdpsim.door.shown import printable, shown_path

from ..art_values import colour, number_list, size, whole_count
from ..files import CHIP_HELP, chip_file, is_folder, outputs, own_scene_file, replace_argument, say_first
from ..say import as_json, say

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

ABOUT = """\
Converts pictures, sprite sheets and fonts to what a chip allows: its tiles, banks and colours. Prints what was used
and what was lost. With -o it also writes a scene that shows the result, with its assets."""
EXAMPLES = """\
examples:
  vdpsim fit photo.jpg --chip scenes/chips/curlew.chip.toml --layer far --scale -o out/portrait/
  vdpsim fit level.png --chip scenes/chips/curlew.chip.toml --layer near --max-tiles 256
  vdpsim fit photo.jpg --chip scenes/chips/curlew.chip.toml --layer far.picture --scale --dither diffusion -o out/
  vdpsim fit heron.png --chip scenes/chips/curlew.chip.toml --sprites 16x16 -o out/heron/
  vdpsim fit hills.png reeds.png birds.png --chip scenes/chips/curlew.chip.toml --layer far --layer near --sprites 16x16
  vdpsim fit font.psf.gz --chip scenes/chips/curlew.chip.toml --glyphs -o out/font/
  vdpsim fit boat.png --chip scenes/chips/curlew.chip.toml --sprites 32x32 --scene scenes/ferry.scene.toml

several pictures share one palette. Give --layer or --sprites once for each picture, in the same order, or once for all.
The same goes for --banks and --transparent, where - means all banks, or no colour

pictures: PNG, JPEG, GIF, WebP, BMP, TIFF and others. Fonts: PSF, BDF, PCF and .hex, gzipped or not, or a picture with
--cell. A picture smaller than the layer goes to its top left

colours: first it tries to keep the colour of every dot, rounded to the nearest colour that the chip has. If that fails it
chooses colours, and the report names the lost ones and where they were. It says "there is no way" only if that is proved

files: NAME.scene.toml with its patterns, maps and bitmaps as raw bytes, the chip's file, and for each picture
NAME-compare.png (original, result, difference), NAME-banks.png (the bank of each tile) and NAME-report.txt

exit status: 0 done, even if colours were lost; 2 an error, nothing is written
"""
PATIENCE = 1.0
"""Seconds after which progress is shown."""


class _Target(argparse.Action):
    """Gathers --layer and --sprites in the order in which they are given."""

    def __call__(
        self, parser: argparse.ArgumentParser, options: argparse.Namespace, values: Any, option: str | None = None
    ) -> None:
        del parser
        options.targets = [*(options.targets or ()), (option, values)]


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("pictures", metavar="PICTURE", nargs="+", help="a picture or, with --glyphs, a font")
    parser.add_argument("--chip", metavar="CHIP", required=True, type=chip_file, help=CHIP_HELP)
    parser.add_argument(
        "--layer",
        metavar="LAYER",
        dest="targets",
        action=_Target,
        help="the layer that the picture is for: LAYER or LAYER.MODE",
    )
    parser.add_argument(
        "--sprites",
        metavar="WxH",
        dest="targets",
        action=_Target,
        type=size,
        help="the picture is a sheet of sprites, in cells of W x H dots",
    )
    parser.add_argument("--glyphs", action="store_true", help="the file is a font for a text mode")
    parser.add_argument("--mode", metavar="MODE", help="the layer's mode (default: the first that can hold it)")
    parser.add_argument("--cell", metavar="WxH", type=size, help="size of a glyph in dots, if the font is a picture")
    parser.add_argument("--max-tiles", metavar="N", type=whole_count, help="use at most N patterns")
    parser.add_argument(
        "--over",
        choices=("merge", "error"),
        default="merge",
        help="if there are more: merge similar tiles (default), or stop",
    )
    parser.add_argument(
        "--banks", metavar="LIST", type=number_list, action="append", help="use only these banks, such as 0:4 or 2,5,7"
    )
    parser.add_argument(
        "--dither",
        choices=("none", "ordered", "diffusion"),
        default="none",
        help="how to mix colours (default none)",
    )
    parser.add_argument(
        "--keep", metavar="LIST", type=number_list, help="palette entries not to change, such as 0:16,240"
    )
    parser.add_argument(
        "--scene",
        metavar="SCENE",
        type=own_scene_file,
        help="a scene file whose palette is kept; its colours are used too",
    )
    parser.add_argument(
        "--transparent",
        metavar="COLOUR",
        type=colour,
        action="append",
        help='dots of this colour are transparent, such as "#f0f"',
    )
    parser.add_argument("--scale", action="store_true", help="shrink a picture that is larger than the screen")
    parser.add_argument(
        "--seed",
        metavar="N",
        type=whole_count,
        default=0,
        help="another seed may find a better result (default 0)",
    )
    parser.add_argument("-o", "--output", metavar="DIR/", help="folder for the scene and its assets")
    replace_argument(parser)
    parser.add_argument("--json", action="store_true", help="print the report as JSON")


def run(options: argparse.Namespace) -> int:
    """Do it."""
    wrong = _misused(options)
    if wrong:
        raise vdpsim.InputError([vdpsim.Problem("vdpsim fit", 0, place, message) for place, message in wrong])
    chip = vdpsim.load_chip(options.chip)
    with _Bar() as bar:
        found = _glyphs(options, chip) if options.glyphs else _fitted(options, chip, bar)
    if options.output:
        from vdpsim.art.scenes.scene_out import put  # noqa: PLC0415 - only here

        with outputs(options) as files:
            written = put(files, found, options.output, options.chip)
            say_first(files, lambda: _say(found, written, options))
    else:
        _say(found, [], options)
    return 0


def _say(found: Sequence[art.Art | art.FittedGlyphs], written: Sequence[Path], options: argparse.Namespace) -> None:
    """The report, and which files there are."""
    if options.json:
        say(as_json([_data(one) for one in found]), end="")
    else:
        say("\n".join(_text(one) for one in found), end="")
        if written:
            say(f"\nwritten: {', '.join(printable(path) for path in written if path.name.endswith('.scene.toml'))}")
            say(f"         and {len(written) - _scenes(written)} other files in {printable(Path(options.output))}/")


def _scenes(written: Sequence[Path]) -> int:
    return sum(path.name.endswith(".scene.toml") for path in written)


def _misused(options: argparse.Namespace) -> list[tuple[str, str]]:
    """What is wrong with the command line as a whole."""
    wrong = []
    targets = options.targets or []
    count = len(options.pictures)
    if options.glyphs:
        wrong += [("--sprites", "a font has no sprites")] * any(name == "--sprites" for name, _ in targets)
        if count > 1:
            wrong.append(("--glyphs", f"takes one font, got {count}"))
    elif not targets:
        wrong.append(("--layer", "give --layer LAYER, --sprites WxH or --glyphs"))
    for place, given in (("--layer", targets), ("--banks", options.banks), ("--transparent", options.transparent)):
        if given and len(given) not in (1, count):
            each = f", or once for each of the {count} pictures" if count > 1 else ""
            wrong.append((place, f"must be given once{each}, got {len(given)}"))
    if options.cell and not options.glyphs:
        wrong.append(("--cell", "needs --glyphs"))
    if options.output and os.path.lexists(options.output) and not is_folder(options.output):
        wrong.append(("-o", f"must be a folder, DIR/, got {shown_path(options.output)}"))
    return wrong


def _glyphs(options: argparse.Namespace, chip: vdpsim.Chip) -> list[art.FittedGlyphs]:
    layer = options.targets[0][1] if options.targets else None
    return [art.fit_glyphs(options.pictures[0], chip, layer=layer, mode=options.mode, cell=options.cell)]


def _fitted(options: argparse.Namespace, chip: vdpsim.Chip, bar: _Bar) -> list[art.Art]:
    count = len(options.pictures)
    targets, banks, clear = (
        given if len(given) > 1 else given * count
        for given in (options.targets, options.banks or [None], options.transparent or [None])
    )
    asks = []
    for at, (picture, (name, target)) in enumerate(zip(options.pictures, targets, strict=True)):
        where = {"sprites": target} if name == "--sprites" else {"layer": target, "mode": options.mode}
        asks.append(
            art.Ask(
                picture,
                max_tiles=options.max_tiles,
                over=options.over,
                banks=banks[at],
                transparent=clear[at],
                scale=options.scale,
                **where,
            )
        )
    keep: dict[int, tuple[int, int, int] | None] = dict.fromkeys(options.keep or ())
    if options.scene:
        keep.update(art.entries_of(options.scene))
    return list(art.fit_together(asks, chip, dither=options.dither, keep=keep, seed=options.seed, progress=bar))


def _text(one: art.Art | art.FittedGlyphs) -> str:
    return one.text() if isinstance(one, art.FittedGlyphs) else one.report.text()


def _data(one: art.Art | art.FittedGlyphs) -> dict[str, Any]:
    """A result's figures for programs; a PSNR without loss is null."""
    if isinstance(one, art.FittedGlyphs):
        return {"name": one.name, **dict(one.rows()), "notes": list(one.notes)}
    found = asdict(one.report)
    loss = found["loss"]
    loss["psnr"] = None if math.isinf(loss["psnr"]) else loss["psnr"]
    if found["unlimited"] is not None and math.isinf(found["unlimited"]):
        found["unlimited"] = None
    return found


class _Bar:
    """A progress bar on stderr, for a person at a terminal, once it takes a while."""

    def __init__(self) -> None:
        self.begun = time.monotonic()
        self.seen = sys.stderr.isatty()
        self.bar: Progress | None = None
        self.task: TaskID | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        if self.bar is not None:
            self.bar.stop()

    def __call__(self, done: float) -> None:
        """Show that ``done``, 0 to 1, of the work is done."""
        if not self.seen or (self.bar is None and time.monotonic() - self.begun < PATIENCE):
            return
        if self.bar is None:
            from rich.console import Console  # noqa: PLC0415 - takes as long to load as a frame to draw
            from rich.progress import BarColumn, TaskProgressColumn, TextColumn, TimeRemainingColumn  # noqa: PLC0415
            from rich.progress import Progress as Shown  # noqa: PLC0415

            shape = (TextColumn("fitting"), BarColumn(), TaskProgressColumn(), TimeRemainingColumn())
            self.bar = Shown(*shape, console=Console(stderr=True), transient=True)
            self.bar.start()
            self.task = self.bar.add_task("", total=1.0)
        assert self.task is not None
        self.bar.update(self.task, completed=done)
