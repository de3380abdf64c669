"""Pictures, fonts and assets of strangers: bent byte by byte, then read, fitted to a chip, and put into a scene.

Law: a file is refused with an InputError, or it comes in and what is fitted from it is a scene that loads and draws. Good files
are made here by Pillow and by the tests' own writers, of every kind that is read; the shipped art stands among them.
"""

from __future__ import annotations

import gzip
import os
import sys
import tempfile
import warnings
from collections.abc import Callable
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

import art_files
import numpy as np
from PIL import Image
from soak_bytes import bend_bytes, png_sums
from soak_files import ROOT, ask_frame, bend_files, put_scene, shipped, told
from soak_guard import FaultError, Limits, step

import vdpsim
from vdpsim import art
from vdpsim.chip.model import BitmapMode, Chip, TextMode, TilesMode

LIMITS = Limits()
MODES = ("1", "L", "LA", "P", "PA", "RGB", "RGBA", "CMYK", "YCbCr", "I;16", "I", "F")
KINDS: dict[str, tuple[dict[str, Any], ...]] = {
    "PNG": ({}, {"optimize": True}, {"dpi": (72, 72)}),
    "JPEG": ({}, {"progressive": True}, {"quality": 5}),
    "GIF": ({}, {"save_all": True}),
    "WEBP": ({}, {"lossless": True}, {"save_all": True}),
    "BMP": ({},),
    "TIFF": (
        {},
        *(
            {"compression": one}
            for one in ("tiff_lzw", "tiff_deflate", "packbits", "jpeg", "group4", "tiff_adobe_deflate")
        ),
    ),
    "PPM": ({},),
    "PCX": ({},),
    "TGA": ({}, {"compression": "tga_rle"}),
    "QOI": ({},),
    "JPEG2000": ({}, {"irreversible": True}),
    "AVIF": ({},),
    "ICO": ({},),
}


def good_picture(random: Random) -> bytes:
    """A picture of any kind, mode and size, a small one."""
    if random.randrange(4) == 0:
        return random.choice(shipped_art()).read_bytes()
    while True:
        kind = random.choice(list(KINDS))
        wide, high = random.choice((1, 3, 8, 16, 33, 64)), random.choice((1, 2, 8, 24, 64))
        dots = np.random.default_rng(random.randrange(1 << 30)).integers(
            0, random.choice((2, 5, 256)), (high, wide, 3), np.uint8
        )
        image = Image.fromarray(dots * (255 // int(dots.max(initial=1) or 1)))
        options = dict(random.choice(KINDS[kind]))
        if options.get("save_all"):
            options["append_images"] = [image.transpose(Image.Transpose.ROTATE_180)] * random.choice((1, 3))
        exif = Image.Exif()
        exif[0x0112] = random.randrange(10)
        if kind in {"PNG", "JPEG", "WEBP", "TIFF"} and random.randrange(3) == 0:
            options["exif"] = exif
        if kind in {"PNG", "JPEG", "TIFF", "WEBP"} and random.randrange(4) == 0:
            options["icc_profile"] = random.choice(
                (art_files.srgb_profile, art_files.swapped_profile, art_files.linear_grey_profile)
            )()
        try:
            return art_files.saved(image.convert(random.choice(MODES)), kind, **options)
        except (OSError, ValueError, KeyError, RuntimeError):  # this kind has no such mode, or this Pillow no such kind
            continue


@cache
def shipped_art() -> tuple[Path, ...]:
    """The art of the shipped scenes and of the tests' corpus."""
    homes = (ROOT / "scenes" / "art", ROOT / "tests" / "refuses" / "corpus" / "art")
    return tuple(path for home in homes for path in sorted(home.iterdir()) if path.is_file() and path.stat().st_size)


HEX = "".join(f"{0x41 + at:04X}:{bytes(range(at, at + 16)).hex()}\n" for at in range(30)) + "6797:" + "81" * 32 + "\n"


def good_font(random: Random) -> bytes:
    """A font of any kind, packed with gzip at times."""
    noise, high = random.randbytes(256 * 16), random.choice((8, 14, 16))
    table = b"".join(bytes([33 + at % 90, 0, 0xFF, 0xFF]) for at in range(256))
    across = random.choice((5, 8, 9, 12))
    count = random.choice((1, 8, 256))
    bits = bytes(count * high * ((across + 7) // 8))
    makers: tuple[Callable[[], bytes], ...] = (
        lambda: art_files.psf1(noise[: 256 * high], 0, high),
        lambda: art_files.psf1(noise[: 256 * high], 2, high, table),
        lambda: art_files.psf2(bits, (across, high)),
        lambda: art_files.psf2(
            bits, (across, high), table=b"".join(b"A%c\xff" % (48 + at % 10) for at in range(count))
        ),
        art_files.BDF.encode,
        lambda: art_files.pcf(
            pad=random.choice((1, 2, 4, 8)), high_bit=bool(random.randrange(2)), high_byte=bool(random.randrange(2))
        ),
        lambda: art_files.pcf(
            compressed=True, charset=random.choice((("ISO10646", "1"), ("ISO8859", "15"), ("X", "Y"), None))
        ),
        HEX.encode,
        lambda: good_picture(random),
    )
    data = random.choice(makers)()
    return gzip.compress(data, mtime=0) if random.randrange(6) == 0 else data


def bent_art(random: Random, data: bytes) -> bytes:
    """Art bent: its bytes or, of a gzip file, at times those in it; a PNG's check sums put right at times."""
    way = random.randrange(12)
    if way > 8:
        return data
    if way == 1 and data.startswith(b"\x1f\x8b"):
        return gzip.compress(bend_bytes(random, gzip.decompress(data)), mtime=0)
    data = bend_bytes(random, data)
    return png_sums(data) if data.startswith(art_files.PNG) and way < 6 else data


@cache
def chips() -> tuple[Chip, ...]:
    """The shipped chips and those of the corpus, at times by names that lead astray."""
    good = [vdpsim.load_chip(path) for path in sorted(set(shipped("chip")))]
    odd = [chip.model_copy(update={"name": name}) for chip in good for name in ("../x", "a/b", "..", "\U0001f426")]
    return (*good, *good, *odd)


def ask(random: Random, path: Path, chip: Chip, folder: Path) -> None:
    """The picture fitted to a chip in some way, and the scene of it drawn."""
    targets = [
        f"{one.name}.{mode.name}"
        for one in chip.layers
        for mode in one.modes
        if isinstance(mode, TilesMode | BitmapMode)
    ]
    asks = []
    for _ in range(random.choice((1, 1, 2))):
        options: dict[str, Any] = {"over": random.choice(("merge", "error")), "scale": random.randrange(4) > 0}
        if random.randrange(3) == 0:
            options["max_tiles"] = random.choice((1, 2, 16))
        if random.randrange(3) == 0:
            options["banks"] = random.choice((1, 2, [0], [1, 3], 99, [999], []))
        if random.randrange(4) == 0:
            options["transparent"] = (0, 0, 0)
        if targets and random.randrange(3):
            asks.append(art.Ask(path, layer=random.choice(targets), **options))
        else:
            asks.append(art.Ask(path, sprites=random.choice(((8, 8), (16, 16), (3, 5), (100, 1))), **options))
    keep = random.choice(((), (), range(16), {0: (0, 0, 0), 1: None}, [chip.palette.entries]))
    step("fit")
    found = art.fit_together(
        asks, chip, dither=random.choice(("none", "ordered", "diffusion")), keep=keep, seed=random.randrange(3)
    )
    keep_scene(found, chip, folder)


def keep_scene(found: Any, chip: Chip, folder: Path) -> None:
    """What was fitted, as pictures and as a scene that loads and draws."""
    step("look")
    for one in found:
        if not isinstance(one, art.FittedGlyphs):
            one.report.text()
            art.compared(one)
            art.bank_map(one)
    step("save")
    (folder / "tmp").mkdir()
    before = {*folder.iterdir()}
    tempfile.tempdir = str(folder / "tmp")
    try:
        art.save(found, folder / "kept")
    finally:
        tempfile.tempdir = None
    beyond = {*folder.iterdir(), *(folder / "tmp").iterdir()} - before - {folder / "kept"}
    if beyond:
        raise FaultError("files written beside the folder", str(beyond))
    for place in (folder / "kept").glob("*.scene.toml"):
        step("draw what was saved")
        scene = vdpsim.load_scene(place)
        ask_frame(vdpsim.render(scene, planes=True, damage=True, trace=chip.time is not None), chip)


def as_picture(random: Random, folder: Path) -> None:
    """A picture by itself and fitted."""
    path = folder / f"Bent {random.choice(('a.png', 'b', 'c.TAR.gz', '3.bmp'))}"
    path.write_bytes(bent_art(random, good_picture(random)))
    step("open picture")
    found = art.open_picture(path)
    if found.rgb.shape[:2] != found.opaque.shape or not all(note.isprintable() for note in found.notes):
        raise FaultError("a picture that is none", repr(found.notes))
    ask(random, path, random.choice(chips()), folder)


def as_font(random: Random, folder: Path) -> None:
    """A font by itself and as a chip's glyphs."""
    path, cell = folder / "bent.font", random.choice((None, None, (8, 8), (5, 7), (0, 1)))
    path.write_bytes(bent_art(random, good_font(random)))
    step("read font")
    art.read_font(path, cell=cell)
    chip = random.choice(
        [one for one in chips() if any(isinstance(mode, TextMode) for each in one.layers for mode in each.modes)]
    )
    step("fit glyphs")
    keep_scene([art.fit_glyphs(path, chip, cell=cell)], chip, folder)


def as_asset(random: Random, folder: Path) -> None:
    """An asset of a scene: itself bent, or other art in its place."""
    scene = put_scene(random, folder)
    assets = [path for path in (folder / "art").glob("*") if path.is_file()]
    for path in assets[: random.choice((1, 1, 2))]:
        other = random.choice(
            (path.read_bytes(), path.read_bytes(), good_picture(random), random.randbytes(random.randrange(5000)))
        )
        path.write_bytes(bent_art(random, other))
    step("load scene")
    found = bend_files(random, scene) if random.randrange(4) == 0 else vdpsim.load_scene(scene)
    if found is None:
        return
    step("render")
    ask_frame(vdpsim.render(found, planes=True, damage=True, trace=found.chip.time is not None), found.chip)
    step("entries")
    art.entries_of(scene)


def case(seed: int, number: int, folder: Path) -> str:
    """One bent piece of art. Raises what it should not."""
    random = Random(f"{seed}/art/{number}")  # noqa: S311 - a choice of examples, the same each time
    with warnings.catch_warnings():
        warnings.simplefilter("error")  # what a library warns of would stand on a person's screen
        try:
            random.choice((as_picture, as_picture, as_font, as_font, as_asset))(random, folder)
        except vdpsim.InputError as error:
            step("refusal")
            told(error)
            return "refused"
    return "drawn"
