"""Art to look at: what was asked for, what the chip shows, and how far they are apart; and which bank each tile has.

Law: a picture follows from the result alone, and whoever sees it needs no other paper to read it. In a difference black is alike,
and a dot is the brighter the further its furthest channel is from the one asked for: white is 64 of 255 or more. Banks have
colours that people with any colour vision tell apart by their lightness too, and their numbers where there is room.
"""

from __future__ import annotations

from colorsys import hls_to_rgb
from textwrap import wrap

import numpy as np
from PIL import Image, ImageDraw

from ...door.given import instance
from ...images.paper import INK, LETTER, LINE, PAPER, WEDGE_HIGH, wedge, write_lines
from ...images.png import checker, difference, larger
from ..arrays import Colour, Dots, Mask
from ..results import Art

GAP = 8

NARROWEST = 240
"""Dots that a picture gets at least, so that there is room for the words."""

WIDE = 400
"""A picture that is smaller is shown larger, each dot as so many that it comes near to this."""

MOST_SCALE = 8


def compared(art: Art) -> Image.Image:
    """Original, result and difference side by side, small pictures enlarged; transparent dots on a checker.

    Below the difference stands its scale.
    """
    lines, dots = instance("art", art, Art, "fitted art with a picture").opaque.shape
    scale = _scale(max(dots, lines))
    apart = np.where(art.opaque[..., None], difference(art.asked, art.rgb), 0).astype(np.uint8)
    wide = max(dots * scale, NARROWEST)
    size = max(1, wide // WIDE)
    parts = [
        ("asked for", _on_checker(art.asked, art.opaque)),
        (f"{art.target} of {art.chip.name}", _on_checker(art.rgb, art.opaque)),
        (_told(art), apart),
    ]
    heads = [wrap(told, wide // (LETTER * size)) for told, _ in parts]
    top = GAP + LINE * size * max(map(len, heads))
    low = top + lines * scale + GAP
    picture = Image.new("RGB", (GAP + len(parts) * (wide + GAP), low + WEDGE_HIGH * size + GAP), PAPER)
    pen = ImageDraw.Draw(picture)
    for at, (head, (_, shown)) in enumerate(zip(heads, parts, strict=True)):
        left = GAP + at * (wide + GAP)
        write_lines(pen, (left, GAP // 2), head, INK, size=size)
        picture.paste(Image.fromarray(larger(shown, scale)), (left, top))
    wedge(picture, (GAP + 2 * (wide + GAP), low), size)
    return picture


def _scale(side: int) -> int:
    """By how much a picture is enlarged whose longer side has so many dots."""
    return max(1, min(MOST_SCALE, WIDE // max(side, 1)))


def _told(art: Art) -> str:
    loss = art.report.loss
    apart = "no dot differs" if loss.none else f"PSNR {loss.psnr:.2f} dB"
    return f"difference, each dot's furthest channel of 255: {apart}"


def _on_checker(rgb: Dots, opaque: Mask) -> Dots:
    return np.where(opaque[..., None], rgb, checker(*opaque.shape))


def bank_map(art: Art) -> Image.Image:
    """A field for each tile, or for each cell of a sheet, in the colour of its bank, with a legend of how many have it."""
    fields = _fields(instance("art", art, Art, "fitted art with a picture"))
    high, wide = fields.shape[:2]
    banks, counts = np.unique(art.banks, return_counts=True)
    picture = Image.new("RGB", (max(wide, NARROWEST) + 2 * GAP, high + 4 * GAP + LINE * len(banks)), PAPER)
    picture.paste(Image.fromarray(fields), (GAP, GAP))
    pen, top = ImageDraw.Draw(picture), high + 2 * GAP
    things = art.report.things or "picture"
    told = []
    for at, (bank, count) in enumerate(zip(banks.tolist(), counts.tolist(), strict=True)):
        box = (GAP, top + LINE * at, GAP + 10, top + LINE * at + 10)
        pen.rectangle(box, fill=bank_colour(bank), outline=INK)
        told.append(f"nothing shows: {count}" if bank < 0 else f"bank {bank}: {count} {things}")
    write_lines(pen, (GAP + 16, top), told, INK)
    return picture


def _fields(art: Art) -> Dots:
    """uint8 (lines, dots, 3): the bank of each tile or cell as a field of its colour, about as large as the picture."""
    rows, columns = art.banks.shape
    lines, dots = art.opaque.shape
    scale = _scale(max(8, -(-dots // columns), -(-lines // rows)) * columns)
    colours = np.zeros((rows, columns, 3), np.uint8)
    for bank in np.unique(art.banks).tolist():
        colours[art.banks == bank] = bank_colour(bank)
    wide, high = _scaled(dots, columns, scale), _scaled(lines, rows, scale)
    across, down = np.arange(wide) * columns // wide, np.arange(high) * rows // high
    fields: Dots = colours[down][:, across]
    return fields


def _scaled(dots: int, parts: int, scale: int) -> int:
    """Dots of a side of the map: whole fields."""
    return max(dots * scale // parts, 1) * parts


def bank_colour(bank: int) -> Colour:
    """The colour that stands for a bank: neighbours are far apart in hue and in lightness; black where nothing shows."""
    if bank < 0:
        return (0, 0, 0)
    hue, light = bank * 137.508 % 360, (0.55, 0.85, 0.40, 0.70)[bank % 4]  # the golden angle spreads hues evenly
    red, green, blue = (round(255 * part) for part in hls_to_rgb(hue / 360, light, 0.7))
    return red, green, blue
