"""Colour spaces, and how far two colours or two pictures are apart.

Law: pure functions of numpy arrays whose last axis holds the three parts of a colour; what comes out is float64 of the
same shape, or without the last axis where it is a distance;
what is no array of colours is a TypeError or ValueError. Nothing here knows a chip, a tile or a file. "rgb8" is sRGB
as the palette shows it, 0 to 255 a channel, whole numbers or not; "linear" is light, 0 to 1. Sources: the sRGB curve of
IEC 61966-2-1; OKLab by B. Ottosson, "A perceptual color space for image processing", 2020, matrices of 2021-01-25; CIE
L*a*b* of CIE 15 for the white D65; the difference of G. Sharma, W. Wu and E. Dalal, "The CIEDE2000 color-difference
formula", Color Research and Application 30(1), 2005.
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..door.arrays import array, colours, told

Floats: TypeAlias = NDArray[np.float64]

# Ottosson's matrices from linear sRGB to cone responses, and from their cube roots to lightness and the two opponents.
_CONES = np.array(
    [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
)
_OPPONENTS = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)
_FROM_CONES = np.linalg.inv(_CONES)
_FROM_OPPONENTS = np.linalg.inv(_OPPONENTS)

# Linear sRGB to XYZ by the primaries of ITU-R BT.709 and the white D65, as IEC 61966-2-1 prints it.
XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
_WHITE = XYZ.sum(axis=1)  # XYZ of (255, 255, 255), so that greys have exactly a* = b* = 0


def linear(rgb8: ArrayLike) -> Floats:
    """Light, 0 to 1, of sRGB channels 0 to 255; any shape (the curve works channel by channel)."""
    part = np.asarray(rgb8, dtype=np.float64) / 255
    return np.where(part <= 0.04045, part / 12.92, ((np.maximum(part, 0) + 0.055) / 1.055) ** 2.4)


def encoded(light: ArrayLike) -> Floats:
    """The sRGB channels, 0 to 255 and not rounded, of light; any shape. Light outside 0 to 1 is not clipped."""
    part = np.asarray(light, dtype=np.float64)
    bent = 1.055 * np.maximum(part, 0) ** (1 / 2.4) - 0.055
    return np.asarray(255 * np.where(part <= 0.0031308, 12.92 * part, bent), dtype=np.float64)


def oklab(rgb8: ArrayLike) -> Floats:
    """OKLab of sRGB colours (..., 3): lightness 0 to 1, then green to red and blue to yellow, each about -0.4 to 0.4."""
    return np.asarray(np.cbrt(linear(colours("rgb8", rgb8)) @ _CONES.T) @ _OPPONENTS.T, dtype=np.float64)


def from_oklab(lab: ArrayLike) -> Floats:
    """The sRGB channels, 0 to 255, of OKLab colours (..., 3): not rounded, and not clipped where a screen cannot show them."""
    return encoded((colours("lab", lab) @ _FROM_OPPONENTS.T) ** 3 @ _FROM_CONES.T)


def lab(rgb8: ArrayLike) -> Floats:
    """CIE L*a*b* for the white D65 of sRGB colours (..., 3): L* 0 to 100, a* and b* about -128 to 128."""
    ratio = linear(colours("rgb8", rgb8)) @ XYZ.T / _WHITE
    bent = np.where(ratio > 216 / 24389, np.cbrt(ratio), (24389 / 27 * ratio + 16) / 116)
    x, y, z = bent[..., 0], bent[..., 1], bent[..., 2]
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def _hue(a: Floats, b: Floats) -> Floats:
    """The angle of (a, b) in degrees, 0 up to 360; 0 for a grey."""
    return np.degrees(np.arctan2(b, a)) % 360


def ciede2000(lab1: ArrayLike, lab2: ArrayLike) -> Floats:
    """The CIEDE2000 difference of colours in L*a*b* (..., 3), with all three weights 1; shapes broadcast.

    About 1 is the least that an eye notices. Of two hues that lie exactly opposite, the mean is that of the paper's own
    program; numbers that miss 180 degrees by a rounding may take the other one, which differs by some hundredths.
    """
    first, second = colours("lab1", lab1), colours("lab2", lab2)
    try:
        np.broadcast_shapes(first.shape, second.shape)
    except ValueError:
        raise ValueError(
            f"lab1 and lab2 must be of shapes that broadcast, got {first.shape} and {second.shape}"
        ) from None
    light1, a1, b1 = first[..., 0], first[..., 1], first[..., 2]
    light2, a2, b2 = second[..., 0], second[..., 1], second[..., 2]
    # Greys are spread along a, then chroma and hue are taken (equations 2 to 7).
    seventh = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2) ** 7
    spread = 1.5 - 0.5 * np.sqrt(seventh / (seventh + 25.0**7))
    a1, a2 = a1 * spread, a2 * spread
    chroma1, chroma2 = np.hypot(a1, b1), np.hypot(a2, b2)
    hue1, hue2 = _hue(a1, b1), _hue(a2, b2)
    grey = chroma1 * chroma2 == 0
    # Differences of lightness, chroma and hue (8 to 11).
    turn = hue2 - hue1
    turn = np.where(turn > 180, turn - 360, np.where(turn < -180, turn + 360, turn))
    d_light, d_chroma = light2 - light1, chroma2 - chroma1
    d_hue = 2 * np.sqrt(chroma1 * chroma2) * np.sin(np.radians(np.where(grey, 0.0, turn)) / 2)
    # Their means (12 to 14).
    light, chroma = (light1 + light2) / 2, (chroma1 + chroma2) / 2
    total = hue1 + hue2
    apart = np.where(total < 360, total + 360, total - 360)
    hue = np.where(grey, total, np.where(np.abs(hue1 - hue2) <= 180, total, apart) / 2)
    # Weights of each difference, and the turn of the ellipses among the blues (15 to 22).
    shape = (
        1
        - 0.17 * np.cos(np.radians(hue - 30))
        + 0.24 * np.cos(np.radians(2 * hue))
        + 0.32 * np.cos(np.radians(3 * hue + 6))
        - 0.20 * np.cos(np.radians(4 * hue - 63))
    )
    middle = (light - 50) ** 2
    by_light = d_light / (1 + 0.015 * middle / np.sqrt(20 + middle))
    by_chroma = d_chroma / (1 + 0.045 * chroma)
    by_hue = d_hue / (1 + 0.015 * chroma * shape)
    seventh = chroma**7
    turned = -2 * np.sqrt(seventh / (seventh + 25.0**7)) * np.sin(np.radians(60 * np.exp(-(((hue - 275) / 25) ** 2))))
    square = by_light**2 + by_chroma**2 + by_hue**2 + turned * by_chroma * by_hue
    return np.asarray(np.sqrt(np.maximum(square, 0)), dtype=np.float64)  # a difference of 0 may round below 0


def psnr(first: ArrayLike, second: ArrayLike) -> float:
    """The peak signal-to-noise ratio of two pictures of 8-bit samples and one shape, in dB; infinite where equal.

    Raises TypeError where they are no numbers, ValueError where the shapes differ, there is no sample, or one is beyond 0 to 255.
    """
    one, two = _samples("first", first), _samples("second", second)
    if one.shape != two.shape:
        raise ValueError(f"first and second must be pictures of one shape, got {one.shape} and {two.shape}")
    mean = float(np.mean((one - two) ** 2))
    return float(10 * np.log10(255.0**2 / mean)) if mean else float("inf")


def _samples(name: str, value: ArrayLike) -> Floats:
    allowed = "samples of 0 to 255, at least one"
    found = array(name, value, allowed, "iuf").astype(np.float64)
    if not found.size or not ((found >= 0) & (found <= 255)).all():
        raise ValueError(f"{name} must be {allowed}, got {told(value)}")
    return found
