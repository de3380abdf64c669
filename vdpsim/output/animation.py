"""Frames as a moving picture: animated PNG, GIF or WebP, each frame shown for as long as the chip shows it.

Law: a frame lasts dots a line x lines a frame / dot clock, a fraction of a second. An animated PNG holds a fraction of two
16-bit numbers, GIF hundredths of a second and WebP thousandths: where the time does not fit, the nearest is written, and
``timing`` says so. An animation is looked at for flashes as it is made, and what was found comes with it. Frames are taken
one after the other and not kept, but for the first of a loop. PNG as in W3C's "PNG Specification, Third Edition".
"""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image

from ..chip.line.rates import frame_rate
from ..chip.model import Chip
from ..colour.numbers import numbers_of, shades_of
from ..door.given import flag, instance, picture_scale, several, text, whole_number
from ..door.shown import value as shown
from ..files.problems import InputError, Problem
from ..images.png import larger
from .flashes import Flashes, Watcher
from .frame import LARGEST_SCALE, Frame, on_canvas

Dots = npt.NDArray[np.uint8]

FORMATS = (".png", ".gif", ".webp")
"""Endings of files that can move."""

MOST_DELAY = 0xFFFF
"""The largest numerator and denominator of an animated PNG's delay."""

UNITS = {".gif": 100, ".webp": 1000}
"""Parts of a second in which the other formats count."""

MOST_UNITS = {".gif": 0xFFFF, ".webp": 0xFFFFFF}
"""How many of these a frame's delay holds: 16 bits in GIF89a's graphic control extension, 24 in a WebP container's frame."""

MOST_MOMENTS = 0x7FFFFFFF
"""Thousandths of a second that all frames of a WebP last at most: its encoder counts them in 32 bits with a sign."""


LONGEST_STEP = 100_000
"""The most frames of a chip for which one of an animation can stand."""


@dataclass(frozen=True, repr=False)
class Animation:
    """``data``: the file's bytes; ``frames`` in it; ``timing`` in words; ``flashes`` that were found."""

    data: bytes
    frames: int
    timing: str
    flashes: Flashes


def animation(
    frames: Iterable[Frame], chip: Chip, ending: str = ".png", *, step: int = 1, scale: int = 1, border: bool = False
) -> Animation:
    """``frames`` of ``chip``, each shown for ``step`` frames' time, over and over, as a file of the kind ``ending``.

    ``ending`` is ``.png``, ``.gif`` or ``.webp``; dots are ``scale`` x ``scale``, with the ``border`` where asked. Where the
    picture has several sizes all frames are as large as the largest, with the border's colour around a smaller one. Raises
    ValueError for another ending, no frame, a step outside 1 to 100,000, or a scale outside 1 to 16, and InputError, which is
    one, where a frame lasts longer than such a file can say.
    """
    if text("ending", ending) not in FORMATS:
        raise ValueError(f"an animation ends in {', '.join(FORMATS)}, got {shown(ending)}")
    instance("chip", chip, Chip)
    step, border, edge = whole_number("step", step, 1, LONGEST_STEP), flag("border", border), chip.frame.border
    wide, high = chip.frame.width + edge.left + edge.right, chip.frame.height + edge.top + edge.bottom
    scale = picture_scale(scale, LARGEST_SCALE, wide, high)
    canvas = None if border else (chip.frame.width, chip.frame.height)
    several("frames", frames, "Frames")
    lasts = step / frame_rate(chip.frame)
    watcher = Watcher(1 / lasts, again=True)
    pictures = _looked_at(frames, watcher, canvas)
    larger_ones = (larger(picture, scale) for picture in pictures)
    if ending == ".png":
        delay, timing = png_delay(lasts)
        data = _apng(larger_ones, delay)
    else:
        count, timing = _counted(lasts, ending)
        data, poorer = _by_pillow(larger_ones, ending, count)
        timing += (
            f"; {poorer} frames have more than 256 colours, which a GIF cannot hold: the nearest were taken"
            if poorer
            else ""
        )
    return Animation(data, watcher.count, timing, watcher.found())


def _looked_at(frames: Iterable[Frame], watcher: Watcher, canvas: tuple[int, int] | None) -> Iterator[Dots]:
    """uint8 (lines, dots, 3) of each frame, as the chip draws it; with its border, or as much of that as fills ``canvas``."""
    for frame in frames:
        instance("each of frames", frame, Frame)
        picture = np.asarray(frame.image(1, border=True).convert("RGB")) if canvas is None else on_canvas(frame, canvas)
        watcher.look(picture, frame.frame)
        yield picture
    if not watcher.count:
        raise ValueError("an animation needs a frame at least, got none")


def png_delay(seconds: Fraction) -> tuple[Fraction, str]:
    """The delay that an animated PNG holds for ``seconds``, and in words how near it is.

    Raises InputError for a time that is 0, negative, or longer than 65,535 seconds.
    """
    if not 0 < seconds <= MOST_DELAY:
        raise _too_long(".png", Fraction(MOST_DELAY), seconds)
    if max(seconds.numerator, seconds.denominator) <= MOST_DELAY:
        return seconds, f"each frame lasts {seconds} s exactly"
    nearest = seconds.limit_denominator(MOST_DELAY) if seconds < 1 else 1 / (1 / seconds).limit_denominator(MOST_DELAY)
    nearest = nearest or Fraction(1, MOST_DELAY)
    away = float(abs(nearest - seconds) * 10**9)
    return (
        nearest,
        f"each frame lasts {nearest} s, the nearest to {seconds} s that the file can hold, {away:.2g} ns away",
    )


def _counted(seconds: Fraction, ending: str) -> tuple[int, str]:
    """How many units of the format come nearest to ``seconds``, one at least, and in words how near that is.

    Raises InputError for more than its field holds.
    """
    unit = UNITS[ending]
    count = max(1, round(seconds * unit))
    if count > MOST_UNITS[ending]:
        raise _too_long(ending, Fraction(MOST_UNITS[ending], unit), seconds)
    given = Fraction(count, unit)
    if given == seconds:
        return count, f"each frame lasts {given} s exactly"
    return count, (
        f"each frame lasts {float(given):g} s, the nearest to {seconds} s that {ending} can hold: "
        f"{float(1 / given):.4g} frames a second for {float(1 / seconds):.4f}"
    )


def _by_pillow(pictures: Iterable[Dots], ending: str, count: int) -> tuple[bytes, int]:
    """The file's bytes, and how many frames lost colours."""
    poorer: list[int] = []
    if ending == ".webp":
        images: Iterator[Image.Image] = (Image.fromarray(picture) for picture in pictures)
        options: dict[str, Any] = {"format": "WEBP", "lossless": True}
    else:
        images = (_of_256(picture, poorer) for picture in pictures)
        options = {"format": "GIF", "disposal": 1}
    first = next(images)
    out = io.BytesIO()
    each = 1000 * count // UNITS[ending]
    if ending == ".webp":
        images = _in_time(images, each)
    try:
        first.save(out, duration=each, loop=0, save_all=True, append_images=images, **options)
    except (OverflowError, struct.error):  # frames that are alike become one that lasts as long as all of them
        raise _too_long(
            ending, Fraction(MOST_UNITS[ending], UNITS[ending]), Fraction(each, 1000), "frames alike "
        ) from None
    return out.getvalue(), len(poorer)


def _in_time(images: Iterator[Image.Image], each: int) -> Iterator[Image.Image]:
    """The frames after the first, while they last no longer than the encoder can count. Raises InputError."""
    for number, image in enumerate(images, 2):
        if number * each > MOST_MOMENTS:
            told = f"its frames must last {MOST_MOMENTS // 1000} s at most in all, got {number} of {each / 1000:g} s"
            raise InputError([Problem("an animation in .webp", 0, "", told)])
        yield image


def _too_long(ending: str, most: Fraction, seconds: Fraction, more: str = "") -> InputError:
    what = f"{more}in a row must last" if more else "a frame must last longer than 0 and"
    told = f"{what} at most {float(most):g} s, got {'several of ' if more else ''}{float(seconds):g} s"
    return InputError([Problem(f"an animation in {ending}", 0, "", told)])


def _of_256(picture: Dots, poorer: list[int]) -> Image.Image:
    """The picture with a palette of its own, exact up to 256 colours; beyond, ``poorer`` has one item more."""
    height, width = picture.shape[:2]
    found, values = np.unique(numbers_of(picture), return_inverse=True)
    colours = shades_of(found)
    if len(colours) > 256:
        poorer.append(len(colours))
        return Image.fromarray(picture).quantize(256, dither=Image.Dither.NONE)
    image = Image.fromarray(values.reshape(height, width).astype(np.uint8))
    image.putpalette(colours.tobytes(), "RGB")
    return image


# Animated PNG


def _chunk(kind: bytes, data: bytes) -> bytes:
    """Length, type, data and CRC-32 of type and data: section 5.3 of the specification."""
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def _apng(pictures: Iterable[Dots], delay: Fraction) -> bytes:
    """An animated PNG of true colour, shown over and over; each frame after the first holds the part that is new.

    A frame that is like the one before it holds its first dot again: a frame cannot be empty.
    """
    parts: list[bytes] = []
    sequence = count = 0
    size = (0, 0)
    before: Dots | None = None
    for picture in pictures:
        top, left, part = (0, 0, picture) if before is None else _new_part(before, picture)
        size = (picture.shape[1], picture.shape[0])
        control = struct.pack(
            ">IIIIIHHBB", sequence, part.shape[1], part.shape[0], left, top, delay.numerator, delay.denominator, 0, 0
        )
        sequence += 1
        parts.append(_chunk(b"fcTL", control))
        data = _packed(part)
        if before is None:
            parts.append(_chunk(b"IDAT", data))
        else:
            parts.append(_chunk(b"fdAT", struct.pack(">I", sequence) + data))
            sequence += 1
        before = picture
        count += 1
    head = struct.pack(">IIBBBBB", *size, 8, 2, 0, 0, 0)
    return b"".join(
        [
            b"\x89PNG\r\n\x1a\n",
            _chunk(b"IHDR", head),
            _chunk(b"acTL", struct.pack(">II", count, 0)),
            _chunk(b"sRGB", b"\0"),
            *parts,
            _chunk(b"IEND", b""),
        ]
    )


def _new_part(before: Dots, now: Dots) -> tuple[int, int, Dots]:
    """The smallest rectangle with all dots that are others now: its top, its left, its dots."""
    other = (before != now).any(axis=2)
    lines, dots = np.flatnonzero(other.any(axis=1)), np.flatnonzero(other.any(axis=0))
    if not len(lines):
        return 0, 0, now[:1, :1]
    top, left = int(lines[0]), int(dots[0])
    return top, left, now[top : lines[-1] + 1, left : dots[-1] + 1]


def _packed(part: Dots) -> bytes:
    """The rows, each behind its filter, packed. Where a row is like the one above it the filter ``up`` makes it all zeros."""
    height, width = part.shape[:2]
    rows = part.reshape(height, width * 3)
    filtered = np.zeros((height, 1 + width * 3), np.uint8)
    filtered[:, 1:] = rows
    like = np.zeros(height, np.bool_)
    like[1:] = (rows[1:] == rows[:-1]).all(axis=1)
    filtered[like, 0], filtered[like, 1:] = 2, 0
    return zlib.compress(filtered.tobytes(), 6)
