"""Art to look at: what was asked for, what the chip shows, and how far they are apart; and which bank each tile has.

Law: a picture follows from the result alone. In a difference black is alike, and a dot is the brighter the further its furthest
channel is from the one asked for: white is 64 of 255 or more. Banks have colours that people with any colour vision tell apart by
their lightness too, and their numbers where there is room.
"""

from __future__ import annotations

from colorsys import hls_to_rgb

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from ...door.given import instance
from ...images.dots import checker, difference, larger
from ..arrays import Colour, Dots, Mask
from ..results import Art

GAP, LINE = 8, 14
PAPER, INK = (24, 24, 24), (232, 232, 232)

WIDE = 400
"""A picture that is smaller is shown larger, each dot as so many that it comes near to this."""


def compared(art: Art) -> Image.Image:
    """Original, result and difference side by side, small pictures enlarged; transparent dots on a checker."""
    lines, dots = instance("art", art, Art, "fitted art with a picture").opaque.shape
    scale = max(1, min(8, WIDE // max(dots, lines)))
    parts = [
        ("asked for", _on_checker(art.asked, art.opaque)),
        (f"{art.target} of {art.chip.name}", _on_checker(art.rgb, art.opaque)),
        (_told(art), np.where(art.opaque[..., None], difference(art.asked, art.rgb), 0).astype(np.uint8)),
    ]
    wide = max(dots * scale, 180)
    picture = Image.new("RGB", (GAP + len(parts) * (wide + GAP), LINE + GAP + lines * scale + GAP), PAPER)
    pen, font = ImageDraw.Draw(picture), ImageFont.load_default_imagefont()
    for at, (told, shown) in enumerate(parts):
        left = GAP + at * (wide + GAP)
        pen.text((left, GAP // 2), told.encode("latin-1", "replace").decode("latin-1"), fill=INK, font=font)
        picture.paste(Image.fromarray(larger(shown, scale)), (left, LINE + GAP))
    return picture


def _told(art: Art) -> str:
    loss = art.report.loss
    return "no dot differs" if loss.none else f"difference: {loss.psnr:.2f} dB"


def _on_checker(rgb: Dots, opaque: Mask) -> Dots:
    return np.where(opaque[..., None], rgb, checker(*opaque.shape))


def bank_map(art: Art) -> Image.Image:
    """A field for each tile, or for each cell of a sheet, in the colour of its bank, with a legend of how many have it."""
    rows, columns = instance("art", art, Art, "fitted art with a picture").banks.shape
    lines, dots = art.opaque.shape
    side = max(8, -(-dots // columns), -(-lines // rows))
    scale = max(1, min(8, WIDE // max(side * columns, 1)))
    fields = np.zeros((rows, columns, 3), np.uint8)
    names = sorted(int(bank) for bank in np.unique(art.banks))
    for bank in names:
        fields[art.banks == bank] = bank_colour(bank)
    wide, high = _scaled(dots, columns, scale), _scaled(lines, rows, scale)
    across, down = np.arange(wide) * columns // wide, np.arange(high) * rows // high
    shown = fields[down][:, across]
    legend = 2 * GAP + LINE * len(names)
    picture = Image.new("RGB", (max(wide, 180) + 2 * GAP, high + 2 * GAP + legend), PAPER)
    picture.paste(Image.fromarray(shown), (GAP, GAP))
    pen, font = ImageDraw.Draw(picture), ImageFont.load_default_imagefont()
    for at, bank in enumerate(names):
        top = high + 2 * GAP + LINE * at
        pen.rectangle((GAP, top, GAP + 10, top + 10), fill=bank_colour(bank), outline=INK)
        count = int((art.banks == bank).sum())
        things = art.report.things or "picture"
        told = f"nothing shows: {count}" if bank < 0 else f"bank {bank}: {count} {things}"
        pen.text((GAP + 16, top), told, fill=INK, font=font)
    return picture


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
