"""The near layer of the tideline: a wave that has broken, and the sheet of water that it sends up the sand.

Law: 448 x 64 dots that go round, in tiles of 16 x 8 with the eight entries of one bank, the first of which shows nothing; tile
rows 0 and 1 are of the second bank. Knows no scene file.
"""

from __future__ import annotations

import numpy as np

from ..canvas import Field, Plane, dithered, noise, ridge, smooth_noise, some

WIDE = 448
"""Dots of both layers, after which they go round."""
NEAR_HIGH, SHEET = 64, 14
"""Lines of the near layer, and that on which the wave has become a sheet of water."""

FOAM = ("#69a", "#8bc", "#add", "#cee", "#eff", "#fff", "#765")
WAVE = ("#167", "#278", "#49a", "#9cc", "#cee", "#eff", "#fff")
CLEAR, _FOAM, CLEAR_TOO, _WAVE = 64, [*range(65, 72)], 72, [*range(73, 80)]


def edge() -> Field:
    """The line of the near layer at which the sheet of water ends: lobes of several waves, one over the other."""
    x = np.arange(WIDE)
    found = np.full(WIDE, 12.0)
    for middle, half, deep in (
        (36, 70, 33), (118, 56, 25), (196, 76, 36), (272, 50, 27), (338, 62, 34), (404, 60, 28), (444, 44, 24), (80, 38, 22),
    ):  # fmt: skip
        away = (x - middle + WIDE // 2) % WIDE - WIDE // 2
        found = np.maximum(found, deep * np.sqrt(np.clip(1 - (away / half) ** 2, 0, 1)))
    return SHEET + found + ridge(WIDE, (19, 47), (0.9, 0.5), 201)


def _sheet(plane: Plane) -> None:
    """Opaque where it comes from the wave, thinner towards its edge of foam, under which the sand is dark."""
    deep, blue, aqua, pale, lit, white, shade = _FOAM
    bound = edge()
    y, _ = np.mgrid[:NEAR_HIGH, :WIDE]
    part = np.clip((y - SHEET) / (bound - SHEET), 0, 1.2)
    lace = np.abs(noise(NEAR_HIGH, WIDE, 12, 28, 211)) + 0.6 * np.abs(noise(NEAR_HIGH, WIDE, 20, 56, 212))
    grain = noise(NEAR_HIGH, WIDE, 16, 20, 213)
    body = dithered(np.clip(2.6 - part * 1.5 + grain * 0.9, 0, 3), [deep, blue, aqua, pale], 0.9)
    inside = (y < bound) & (y >= 8)
    solid = some(np.clip(1.5 - part * 1.15 + grain * 0.2, 0, 1))
    plane[inside & solid] = body[inside & solid]
    webs = inside & (lace < 0.05 + 0.13 * part**2)
    plane[webs] = np.where(lace < 0.04 + 0.07 * part**2, white, lit)[webs]
    rim = bound - y
    thick = 1.6 + 1.2 * smooth_noise(WIDE, 56, 214)
    plane[(rim > 0) & (rim <= thick)] = white
    plane[(rim > thick) & (rim <= thick + 1)] = lit
    plane[(rim <= 0) & (rim > -1)] = shade


def _wave(plane: Plane) -> None:
    """The last wave, as it breaks: a dark face under a thin crest, and foam that tumbles down and runs out in tongues."""
    dark, face, glass, grey, lit, bright, white = _WAVE
    crest = 4 + ridge(WIDE, (5, 11), (2.2, 1.2), 221)
    standing = np.clip(2.2 - 5.5 * ridge(WIDE, (4, 9, 23), (0.8, 0.5, 0.3), 222), 0, 6)
    tongues = ridge(WIDE, (11, 26, 61), (1.6, 1.0, 0.7), 223)
    speck = noise(16, WIDE, 6, 40, 224) * 0.8 + noise(16, WIDE, 12, 90, 225) * 0.5
    for x in range(WIDE):
        top = int(np.clip(round(float(crest[x])), 0, 8))
        fall = min(top + int(standing[x]), 11)
        foot = min(12 + int(tongues[x]), 15)
        for y in range(top, 16):
            if y < fall:
                part = (y - top) / max(fall - top, 1)
                shade = bright if y == top else glass if part < 0.3 else face if part < 0.65 else dark
            elif y <= foot:
                deep = (y - fall) / max(foot - fall, 1)
                level = deep * 1.5 + float(speck[y, x]) * 1.9 + ((x * 3 + y * 5) % 8) / 12
                shade = (white, bright, lit, grey)[int(np.clip(level, 0, 3))]
            else:
                shade = lit if (x + y) % 2 else bright
            plane[y, x] = shade
        if standing[x] < 1 and top > 0 and speck[top, x] > 0:
            plane[top - 1, x] = white


def near() -> Plane:
    """A wave that has broken, and the sheet of water that it sends up the sand; tile rows 0 and 1 are of the second bank."""
    plane = np.full((NEAR_HIGH, WIDE), CLEAR, np.uint8)
    _sheet(plane)
    plane[:16] = CLEAR_TOO
    _wave(plane)
    return plane
