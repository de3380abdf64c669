"""The marsh by moonlight, in dots twice as wide as high, with 128 colours, and three shares of glitter on the water.

Law: ``painted`` is 160 x 176 dots, entries 0 to 127. Water is drawn from pairs of entries: n below 16 is still, n + 64 the same
water with the moon on it, so that another bit 6 of its dots, and nothing else, moves the glitter; ``cells`` gives that bit
alone. Above the water no dot's entry follows from the share. Knows no scene file and no chip.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

import numpy as np

from ..canvas import Chance, Field, Plane, dithered, inside, line, noise, put, ridge, run, smooth_noise
from . import owl
from .night import AMBER, BUFF, DARK, HIGH, HORIZON, MOON, NIGHT, PALE, SHINE, STILL, WIDE, WOOD, Dots, colours, sky

MOVING = range(24, 88)
"""The columns in which the glitter moves: eight bytes of a plane's line."""


def _shore(plane: Plane) -> None:
    """The far bank: woods in two depths, and mist that lies before them."""
    back = 87 - 3 * ridge(WIDE, (4, 9, 31), (1.2, 0.8, 0.5), 31)
    front = 91 - 3.2 * np.maximum(ridge(WIDE, (5, 13, 40), (1.1, 0.8, 0.5), 32), -0.6)
    for x in range(WIDE):
        for y in range(round(float(back[x])), HORIZON):
            near_moon = np.exp(-abs(2 * x - MOON[0]) / 90)
            deep = (y - back[x]) / 8
            place = 9 + 4 * near_moon + 4.0 * deep + ((y * 5 + x * 3) % 8) / 8
            plane[y, x] = NIGHT[int(np.clip(place, 0, 20))]
        for y in range(round(float(front[x])), HORIZON):
            plane[y, x] = DARK[2 if (y - front[x]) > 1 else 4]


def _depth() -> Field:
    """0 at the horizon to 1 at the lower edge, for each line of the water."""
    return np.arange(HIGH - HORIZON) / (HIGH - HORIZON - 1)


def _water_level() -> Field:
    """How light (0 to 15) the still water is: it gives back the sky, the woods darken its far edge."""
    high = HIGH - HORIZON
    x = np.arange(WIDE)[None, :]
    depth = _depth()[:, None]
    away = np.abs(2 * x + 1 - MOON[0])
    level = 9.0 - 7.4 * depth**0.8 + 4.4 * np.exp(-away / (26 + 60 * depth)) * (1 - 0.35 * depth)
    bank = np.clip(1 - depth * 9, 0, 1)
    level = level - 6.0 * bank + noise(high, WIDE, 30, 7, 41) * (0.5 + 0.8 * depth)
    mist = np.exp(-(((depth - 0.035) / 0.02) ** 2)) + 0.55 * np.exp(-(((depth - 0.13) / 0.03) ** 2)) * (
        0.6 + 0.5 * noise(1, WIDE, 1, 5, 42)
    )
    found: Field = np.clip(level + 4.5 * mist, 0, 15)
    return found


def glitter(share: int) -> Dots:
    """The dots of the whole picture on which the moon glitters, one of three shares: dashes, dense below the moon.

    What differs from share to share lies in the columns ``MOVING``.
    """
    found = np.zeros((HIGH, WIDE), np.bool_)
    chance, moving = Chance(51), Chance(60 + share)
    for y in range(HORIZON + 3, HIGH):
        depth = (y - HORIZON) / (HIGH - HORIZON)
        spread = 4 + 19 * depth
        for _ in range(3 + int(3 * (1 - depth)) + (y % 2)):
            middle = MOON[0] / 2 + (chance.next() + chance.next() - 1) * spread
            length = chance.between(0.8, 1.5 + 6 * depth)
            kept = chance.next() < 0.3
            drift = 0.0 if kept else moving.between(-4, 4) * (0.4 + depth)
            if not kept and moving.next() < 0.3:
                continue
            start = max(round(middle + drift - length / 2), MOVING.start)
            found[y, start : min(max(round(middle + drift + length / 2), start + 1), MOVING.stop)] = True
        if chance.next() < 0.3:
            far = chance.whole(0, WIDE - 4)
            found[y, far : far + chance.whole(1, 2 + int(3 * depth))] = True
    return found & _open_water()


def _water(plane: Plane, share: int) -> None:
    """Still water, streaked, and the moon's path on it."""
    high = HIGH - HORIZON
    part = dithered(_water_level(), STILL, 0.95)
    chance = Chance(43)
    for y in range(4, high):
        depth = y / high
        for _ in range(4):
            length, change = chance.whole(3, 4 + int(14 * depth)), chance.whole(0, 1) * 4 - 2
            u = chance.whole(0, WIDE - 1)
            shade = int(np.clip(int(part[y, u]) + change, 0, 15))
            run(part, u, y, length, shade, wrap=True)
    plane[HORIZON:] = part
    moving = glitter(share)
    plane[moving] += SHINE[0] - STILL[0]


def _mill(plane: Plane) -> None:
    """A wind pump on the far side: tower, cap and four sails against the sky, a lit window, and its image in the water."""
    x, foot = 126, 99
    for y in range(58, foot):
        half = 3.4 + (y - 58) * 0.085
        for u in range(round(x - half), round(x + half) + 1):
            lit = (x - u) / half
            plane[y, u] = WOOD[int(np.clip(2.6 + 4.6 * lit + (((y * 5 + u * 3) % 8) / 8), 0, 10))]
        if y % 6 == 0:
            run(plane, round(x - half), y, round(2 * half) + 1, WOOD[1])
    for v, half in ((57, 4.2), (56, 4.2), (55, 3.6), (54, 2.8), (53, 1.6)):
        run(plane, round(x - half), v, round(2 * half) + 1, WOOD[2])
        put(plane, round(x - half), v, WOOD[8])
    for u in range(-13, 15):
        rise = round(2.5 * (1 - (u / 14) ** 2) + float(ridge(28, (5, 11), (0.8, 0.5), 61)[u + 13]))
        for v in range(foot - rise, foot + 1):
            put(plane, x + u, v, DARK[3 if v > foot - rise else 7])
    for turn in range(4):
        angle = 0.45 + turn * np.pi / 2
        _sail(plane, (x - 2.0, 57.0), angle)
    for v in (74, 75, 76, 77):
        put(plane, x, v, AMBER)
    for v in (88, 89):
        put(plane, x - 2, v, BUFF[2])
    for y in range(foot + 1, foot + 34):
        away = y - foot
        half = 6.2 - away * 0.06
        sway = round(float(np.sin(y * 1.9)) * (0.3 + away / 24))
        if (y * 7) % 5 < 4 - away // 14:
            start = round(x - half) + sway
            stretch = plane[y, start : start + round(2 * half)]
            stretch[stretch < 16] = np.maximum(stretch[stretch < 16].astype(int) - 4, 0)
    for y in range(foot + 14, foot + 30, 3):
        put(plane, x + y % 2, y, BUFF[1 + (y % 2)])


def _sail(plane: Plane, hub: tuple[float, float], angle: float) -> None:
    """One sail of the mill: a stock with a lattice on one side; across, dots are twice as wide."""
    along, aside = (np.cos(angle), np.sin(angle)), (-np.sin(angle), np.cos(angle))

    def at(far: float, off: float) -> tuple[float, float]:
        return hub[0] + (along[0] * far + aside[0] * off) / 2, hub[1] + along[1] * far + aside[1] * off

    line(plane, at(0, 0), at(31, 0), WOOD[8])
    line(plane, at(8, 5), at(31, 5), WOOD[6])
    for far in range(8, 32, 4):
        line(plane, at(far, 0), at(far, 5), WOOD[6])


def _reed(
    plane: Plane, foot: tuple[float, float], high: float, lean: float, shade: int, rim: int, chance: Chance
) -> None:
    """One stem with two leaves; tall ones bear a plume, of some of which the moon lights the side that it shines on."""
    x, y = foot
    lit = chance.next() < 0.55
    for step in range(int(high)):
        part = step / high
        put(plane, round(x + lean * part * part), round(y - step), shade)
    tip = (x + lean, y - high)
    for _ in range(2):
        part, side = chance.between(0.2, 0.7), (1 if chance.next() < 0.5 else -1)
        root = (x + lean * part * part, y - high * part)
        long = chance.between(5, 12)
        line(plane, root, (root[0] + side * long * 0.4, root[1] - long), shade)
    toward = -1 if x > MOON[0] / 2 else 1
    if lit:
        put(plane, round(tip[0] - lean * 0.2), round(tip[1] + high * 0.1), rim)
    if high > 34:
        for step in range(10):
            drop = round(tip[0] + 0.05 * step * lean), round(tip[1] - 5 + step)
            put(plane, *drop, rim if lit and 1 < step < 7 else shade)
            if 2 < step < 9:
                put(plane, drop[0] - toward, drop[1], shade)


def _reeds(plane: Plane) -> None:
    """Reeds before all, from back to front darker: high at both sides, low in the middle, the moon on those at its back."""
    chance = Chance(71)
    shore = 172 - 2 * smooth_noise(WIDE, 12, 72)
    for number, (shade, rim, count, share) in enumerate(
        (
            (DARK[7], DARK[15], 54, 1.0),
            (DARK[5], DARK[13], 62, 0.86),
            (DARK[3], DARK[10], 80, 0.7),
            (DARK[0], DARK[6], 120, 0.5),
        )
    ):
        for _ in range(count):
            u = chance.between(-2, WIDE + 2)
            side = abs(u - 74) / 80
            high = (7 + 92 * side**2.6 + chance.between(-5, 14)) * share
            _reed(plane, (u, HIGH + 1 + number), high, chance.between(-0.06, 0.1) * high, shade, rim, chance)
    y, _ = np.mgrid[:HIGH, :WIDE]
    plane[y >= shore[None, :] + 2] = DARK[0]


@cache
def _reed_dots() -> Dots:
    """Where reeds stand before the water."""
    plane = np.full((HIGH, WIDE), 255, np.uint8)
    _reeds(plane)
    found: Dots = plane != 255
    return found


def _open_water() -> Dots:
    """The dots on which the moon may glitter: water that neither reeds nor the mill's lamp cover."""
    found = ~_reed_dots()
    found[:HORIZON] = False
    found[:, 116:138] = False
    return found


def _heron(plane: Plane) -> None:
    """A heron that stands in the moon's path, a dark shape with a bright back."""
    body = ((64, 134), (67, 131), (70, 131), (73, 135), (76, 140), (72, 141), (67, 140))
    plane[inside(plane.shape, body)] = DARK[1]
    line(plane, (65, 135), (64, 127), DARK[1])
    line(plane, (64, 127), (65, 122), DARK[1])
    line(plane, (65, 121), (66, 121), DARK[1])
    run(plane, 62, 121, 5, DARK[0])
    run(plane, 59, 122, 4, DARK[1])
    run(plane, 64, 120, 3, DARK[1])
    put(plane, 67, 122, DARK[0])
    for u, v in ((66, 130), (67, 130), (68, 130), (69, 130), (64, 119), (65, 119)):
        put(plane, u, v, PALE[3])
    for u in (69, 71):
        line(plane, (u, 141), (u, 152), DARK[0])
    for y in range(153, 166):
        if y % 3:
            run(plane, 66 + (y % 2), y, 6 - (y - 153) // 3, STILL[1])


def painted(share: int = 0) -> Plane:
    """The picture with the glitter's ``share``, 0 to 2."""
    plane = np.zeros((HIGH, WIDE), np.uint8)
    sky(plane)
    _shore(plane)
    _water(plane, share)
    _mill(plane)
    _heron(plane)
    _reeds(plane)
    return plane


def pictures() -> list[tuple[str, Plane, Sequence[str]]]:
    """The painting with the glitter's first share, and the sheet of sprites."""
    return [("moonlit.png", painted(), colours()), ("owl.png", owl.sheet(), colours()[112:])]


def cells() -> list[tuple[str, bytes]]:
    """Bit 6 of the water's dots where the glitter moves, for the other two shares: column by column of eight dots, from above."""
    water = np.s_[HORIZON:, MOVING.start : MOVING.stop]
    planes = [np.packbits(painted(share)[water] >> 6 & 1, axis=1) for share in (1, 2)]
    return [(f"moonlit-glitter-{number}.cells", one.T.tobytes()) for number, one in enumerate(planes, 1)]
