"""The tideline at low water: a far layer of sky, sea and sand, before which the sheet of ``swash`` runs up the beach.

Law: ``far`` is 448 x 176 dots and goes round; every tile of 8 x 8 keeps to one bank of 16 entries, all of which show.
``COLOURS`` are all 128 entries. Knows no scene file.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .. import birds
from ..canvas import Chance, Plane, box, dithered, noise, put, ridge, run, smooth_noise, some
from . import swash, waders
from .swash import WIDE

HIGH, HORIZON, WET, DRY = 176, 56, 104, 128
"""Lines of the far layer, and the lines at which sea, wet sand and dry sand begin."""

SKY = ("#59c", "#6ad", "#7be", "#9ce", "#bde", "#cee", "#dee", "#eee")
CLOUD = ("#abd", "#cde", "#eef", "#fff")
LAND = ("#8ac", "#7a9", "#697", "#c43")
SEA = ("#278", "#389", "#49a", "#5ab", "#7bb", "#9cc", "#bdd", "#eff")
MIRROR = ("#789", "#8aa", "#9bb", "#bcc", "#cdd", "#dde", "#987", "#a97")
SAND = ("#654", "#875", "#a97", "#ba8", "#cb9", "#dca", "#edb", "#fed")
STRAND = ("#321", "#543", "#465", "#b76", "#e98", "#fff", "#89a", "#bcc")
GRASS = ("#231", "#342", "#453", "#674", "#895", "#bb7", "#dc9", "#ed9")
DUNE = SAND
TEXT = ("#023", "#fed", "#7dd", "#fb5")

COLOURS = (
    *SKY, *CLOUD, *LAND,
    *SEA, *MIRROR,
    *SAND, *STRAND,
    *DUNE, *GRASS,
    TEXT[0], *swash.FOAM,
    TEXT[1], *swash.WAVE,
    TEXT[2], *["#000"] * 7,
    TEXT[3], *["#000"] * 7,
    *waders.COLOURS,
    *birds.COLOURS,
)  # fmt: skip
"""Four banks of 16 for the far layer, four of eight for the near one, of which two are used, and two of 16 for sprites."""

_SKY, _CLOUD, _LAND, _SEA, _MIRROR, _SAND, _STRAND, _DUNE, _GRASS = (
    [*range(start, stop)]
    for start, stop in ((0, 8), (8, 12), (12, 16), (16, 24), (24, 32), (32, 40), (40, 48), (48, 56), (56, 64))
)

PUFFS = (
    (20, 54, 46, 15, 1), (96, 56, 34, 9, 2), (172, 52, 56, 21, 3), (252, 56, 36, 8, 4), (316, 50, 50, 17, 5),
    (404, 55, 38, 10, 6),
)  # fmt: skip
"""Clouds that stand on the haze: middle, foot, half length, height, seed."""

WISPS = ((60, 12, 60, 11), (210, 7, 44, 12), (300, 17, 70, 13), (396, 9, 50, 14), (140, 24, 40, 15), (424, 26, 30, 16))


def _puff(plane: Plane, x: int, foot: int, half: int, tall: int, seed: int) -> None:
    """A heap of white rounds with a flat foot: the light comes from the upper left, the foot is lost in the haze."""
    chance = Chance(seed)
    rounds = []
    for _ in range(half * 2 // 3):
        u = (chance.next() + chance.next() - 1) * half
        room = tall * (1 - (u / half) ** 2) ** 0.7
        size = chance.between(2.5, 3 + tall * 0.38)
        rounds.append((x + u, foot - chance.between(0, max(room - size, 1)), size))
    for u, v, size in sorted(rounds, key=lambda one: -one[2]):
        for down in range(int(-size), int(size) + 1):
            for across in range(int(-size), int(size) + 1):
                far = np.hypot(across, down) / size
                y = int(v) + down
                if far > 1 or not 0 <= y < foot:
                    continue
                lit = 2.75 - 0.75 * (across * 0.5 + down * 0.85) / size - (y - foot + tall) / tall * 1.1
                place = np.clip(np.floor(lit + ((y * 5 + int(u + across) * 3) % 8) / 8), 0, 3)
                plane[y, int(u + across) % WIDE] = _CLOUD[int(place)]


def _sky(plane: Plane) -> None:
    """Blue to haze, wisps high up, clouds along the horizon, a low headland with a light on it."""
    down = (np.arange(HORIZON) / (HORIZON - 1)) ** 1.1 * (len(_SKY) - 1)
    plane[:HORIZON] = dithered(np.repeat(down[:, None], WIDE, axis=1), _SKY)
    for x, y, half, seed in WISPS:
        chance = Chance(seed)
        for _ in range(half):
            u = (chance.next() + chance.next() - 1) * half
            v = round((chance.next() - 0.5) * 6 * (1 - abs(u) / half) - u * 0.04)
            run(plane, round(x + u), y + v, chance.whole(4, 16), int(plane[y + v, 0]) + 2, wrap=True)
    for x, foot, half, tall, seed in PUFFS:
        _puff(plane, x, foot, half, tall, seed)
    _headland(plane)


def _headland(plane: Plane) -> None:
    """A far shore, and before it a tongue of dunes with a lighthouse."""
    far, mid, near, red = _LAND
    coast = HORIZON - np.maximum(0, 3 + 2 * smooth_noise(WIDE, 9, 31) - np.abs(np.arange(WIDE) - 296) / 40)
    tongue = HORIZON - np.maximum(0, 9 - np.abs(np.arange(WIDE) - 374) / 9 + 1.5 * smooth_noise(WIDE, 40, 32))
    for x in range(WIDE):
        plane[round(coast[x]) : HORIZON, x] = far
        top = round(tongue[x])
        for y in range(top, HORIZON):
            plane[y, x] = mid if (y - top) < 2 or (x * 3 + y * 5) % 7 < 3 else near
    box(plane, 371, 30, 5, 18, _CLOUD[3])
    box(plane, 375, 30, 1, 18, _CLOUD[0])
    for y in (34, 42):
        box(plane, 371, y, 5, 4, red)
    box(plane, 371, 26, 5, 4, near)
    box(plane, 372, 27, 3, 2, _CLOUD[3])
    run(plane, 370, 29, 7, near)
    run(plane, 372, 25, 3, red)
    put(plane, 373, 24, red)
    for x, wide in ((354, 9), (384, 7)):
        box(plane, x, 45, wide, 4, _CLOUD[3])
        box(plane, x, 43, wide, 2, red)
        put(plane, x + 2, 46, near)
        put(plane, x + 5, 46, near)


def _sea(plane: Plane) -> None:
    """Green-blue that grows lighter towards the shore, and rows of waves that break the higher the nearer they are."""
    high = WET - HORIZON
    period = 224
    level = (np.arange(high) / high) ** 1.2 * 4.6
    part = dithered(np.repeat(level[:, None], period, axis=1), _SEA, 0.9)
    chance = Chance(41)
    for y in range(high):
        depth = y / high
        for _ in range(12 - int(6 * depth)):
            shade = int(np.clip(round(level[y]) + (chance.whole(0, 1) * 2 - 1), 0, 5))
            run(part, chance.whole(0, period - 1), y, chance.whole(3, 5 + int(16 * depth)), _SEA[shade], wrap=True)
    for y, tall, gap, seed in ((5, 1, 0.62, 1), (10, 1, 0.5, 2), (17, 3, 0.35, 3), (27, 5, 0.1, 4), (40, 7, -0.35, 5)):
        _breaker(part, y, tall, gap, seed)
    plane[HORIZON:WET] = np.tile(part, WIDE // period)


def _breaker(part: Plane, y: int, tall: int, gap: float, seed: int) -> None:
    """A wave as it breaks: a dark face, a crest of foam where the noise is above ``gap``, and lace that runs down from it."""
    wide = part.shape[1]
    lift = ridge(wide, (5, 13), (0.8, 0.4), 60 + seed) * (0.6 + tall / 5)
    white = ridge(wide, (6, 15, 37), (0.7, 0.5, 0.25), 70 + seed)
    lace = noise(24, wide, 9, 22, 80 + seed)
    for x in range(wide):
        top = y - round(float(lift[x]))
        for v in range(tall):
            put(part, x, top - v + 1, _SEA[1 if v < tall / 2 else 0] if tall > 1 else _SEA[0])
        strength = float(white[x]) - gap
        if strength <= 0:
            put(part, x, top - tall + 1, _SEA[5])
            continue
        thick = min(tall, 1 + int(strength * tall * 1.6))
        for v in range(thick):
            put(part, x, top - tall + 1 + v, _SEA[7 if v < max(1, thick * 0.6) else 6])
        for v in range(thick, 2 * tall + 2):
            if abs(lace[v, x]) < 0.26 - 0.016 * v - 0.1 * (strength < 0.12):
                put(part, x, top - tall + 1 + v, _SEA[6 if v < thick + 2 else 5])


def _wet(plane: Plane) -> None:
    """Wet sand that gives the sky back: streaks of pale blue on grey, duller and browner the further up the beach."""
    high, period = DRY - WET, 112
    part = np.zeros((high, period), np.uint8)
    field = noise(high, period, 7, 3, 91) * 0.9 + noise(high, period, 14, 8, 92) * 0.5
    down = np.arange(high)[:, None] / high
    part[:] = dithered(3.7 + field * 1.2 - down * 1.2, _MIRROR[:6], 0.9)
    edge = (down - 0.45) * 3.0 + field * 1.3 + np.clip(down - 0.72, 0, 1) * 9
    damp = some(np.clip(edge, 0, 1))
    part[damp] = dithered(0.2 + field * 0.4 + down * 0.8, _MIRROR[6:], 0.8)[damp]
    plane[WET:DRY] = np.tile(part, WIDE // period)


def _dry(plane: Plane) -> None:
    """Sand with ripples, a wrack line of weed and shells, worm casts, and the tracks of small feet."""
    high, period = HIGH - DRY, 112
    down = np.arange(high)[:, None] / high
    field = noise(high, period, 6, 3, 101) * 0.6 + noise(high, period, 20, 14, 102) * 0.35
    bend = noise(high, period, 4, 3, 103)
    y, x = np.mgrid[:high, :period]
    ripple = np.sin((y + 3.2 * bend + 0.8 * np.sin(x * 2 * np.pi / 56)) * 2 * np.pi / 5.5) * np.clip(
        1.15 - down * 1.5, 0, 1
    )
    level = 2.1 + down * 2.9 + field * np.clip(0.4 + 2 * down, 0, 1) + ripple * np.clip(0.25 + 4 * down, 0, 0.75)
    plane[DRY:] = np.tile(dithered(np.clip(level, 1, 6.4), _SAND, 0.9), WIDE // period)
    _wrack(plane)
    _tracks(plane, 20, 168, 300, -22, 141)
    _tracks(plane, 230, 138, 420, 20, 142)
    chance = Chance(111)
    for _ in range(26):
        u, v = chance.whole(0, WIDE - 1), chance.whole(DRY + 3, HIGH - 6)
        for across, line_down, shade in ((0, 0, 1), (1, 0, 2), (-1, 1, 2), (0, 1, 1), (1, 1, 0), (2, 1, 1), (0, -1, 6)):
            put(plane, (u + across) % WIDE, v + line_down, _SAND[shade])


def _wrack(plane: Plane) -> None:
    """What the last tide left: weed in tufts along a waving line, with shells between."""
    chance = Chance(121)
    dark, brown, green, rose, pink, white, grey, pale = _STRAND
    at = 149 + 3 * smooth_noise(WIDE, 11, 122)
    for _ in range(250):
        u = chance.whole(0, WIDE - 1)
        v = round(float(at[u]) + (chance.next() + chance.next() - 1) * 3.5)
        if chance.next() < 0.35 + 0.6 * float(smooth_noise(WIDE, 17, 123)[u]):
            shade = (dark, brown, brown, green)[chance.whole(0, 3)]
            run(plane, u, v, chance.whole(1, 4), shade, wrap=True)
            put(plane, (u + chance.whole(-1, 2)) % WIDE, v - 1, shade)
            put(plane, (u + 1) % WIDE, v + 1, _SAND[1])
    for _ in range(44):
        u, v = chance.whole(0, WIDE - 3), chance.whole(DRY + 4, HIGH - 4)
        light, back = ((white, pale), (pink, rose), (pale, grey))[chance.whole(0, 2)]
        put(plane, u, v, light)
        put(plane, u + 1, v, back)
        if chance.next() < 0.5:
            put(plane, u, v - 1, white)
            put(plane, u + 1, v - 1, light)
        put(plane, u + 1, v + 1, _SAND[1])
        put(plane, u, v + 1, _SAND[1])


def _tracks(plane: Plane, x: int, y: int, length: int, rise: int, seed: int) -> None:
    """A bird's track: three toes a print, one print to each side of the way."""
    chance = Chance(seed)
    for step in range(0, length, 7):
        u = x + step + chance.whole(-1, 1)
        v = y + round(rise * (step / length) ** 1.4) + (2 if step // 7 % 2 else 0)
        for across, down in ((0, 0), (1, -1), (2, 0), (1, 1), (-1, 0)):
            put(plane, (u + across) % WIDE, v + down, _SAND[1 if across > -1 else 2])
        put(plane, (u + 1) % WIDE, v, _SAND[6])


def _tuft(plane: Plane, x: int, foot: int, reach: float, blades: int, seed: int) -> None:
    """Marram grass: blades that rise from one root and bend over with the wind, the lit ones last."""
    chance = Chance(seed)
    for number in range(blades):
        front = number / blades
        length = reach * chance.between(0.55, 1.0)
        lean = chance.between(-0.45, 0.75)
        droop = chance.between(0.1, 0.5)
        shade = _GRASS[min(int(front * 6 + chance.between(0, 1.6)), 7)]
        root = x + chance.between(-3.5, 3.5)
        for step in range(int(length * 1.2)):
            part = step / (length * 1.2)
            u = root + lean * length * part + droop * length * part**3 * (1 if lean > 0 else -0.3)
            v = foot - length * (part - droop * part**3)
            if v >= DRY:
                put(plane, round(u) % WIDE, round(v), shade)


def _dunes(plane: Plane) -> None:
    """The foot of the dunes at the lower edge, with banks of marram; tiles that show any of it change to its bank."""
    x = np.arange(WIDE)
    tall = np.zeros(WIDE)
    for middle, high, half in ((6, 28, 40), (300, 20, 34), (436, 28, 40)):
        tall += high * np.exp(-(((x - middle) / half) ** 2))
    top = HIGH - tall + 2.0 * smooth_noise(WIDE, 23, 131) + 5
    for u in range(WIDE):
        for v in range(max(int(top[u]), DRY), HIGH):
            lit = 6.6 - (v - top[u]) * 0.12 + 0.5 * np.sin(u * 0.3 + v * 0.5) + ((u * 3 + v * 5) % 8) / 8 - 0.5
            plane[v, u] = _DUNE[int(np.clip(lit, 3, 7))]
    chance = Chance(132)
    for number in range(34):
        middle, spread = ((8, 40), (300, 26), (436, 38))[number % 3]
        u = middle + round((chance.next() + chance.next() - 1) * spread)
        _tuft(
            plane,
            u,
            HIGH + 2 - chance.whole(0, max(int(tall[u % WIDE] * 0.7), 1)),
            chance.between(14, 26),
            16,
            150 + number,
        )
    for v in range(DRY, HIGH, 8):
        for u in range(0, WIDE, 8):
            tile = plane[v : v + 8, u : u + 8]
            if tile.max() >= _DUNE[0]:
                tile[(tile >= _STRAND[0]) & (tile < _DUNE[0])] = _DUNE[1]
                tile[tile < _DUNE[0]] += _DUNE[0] - _SAND[0]


def far() -> Plane:
    """Sky and sea, wet sand and dry."""
    plane = np.zeros((HIGH, WIDE), np.uint8)
    _sky(plane)
    _sea(plane)
    _wet(plane)
    _dry(plane)
    _dunes(plane)
    return plane


def pictures() -> list[tuple[str, Plane, Sequence[str]]]:
    """The far layer, the near one in two parts, one for each of its banks, and the sheet of sprites."""
    return [
        ("tideline-far.png", far(), COLOURS),
        ("tideline-wave.png", swash.near()[:16], COLOURS[:80]),
        ("tideline-foam.png", swash.near()[16:], COLOURS[:80]),
        ("waders.png", waders.sheet(), waders.COLOURS),
    ]
