"""The night over the marsh: the 128 colours of the painting, a sky with the moon, clouds and stars.

Law: dots are twice as wide as high: places on the screen have two dots across for each of the picture. Knows no scene file
and no chip.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from ..canvas import Chance, Field, Plane, dithered, noise, put, run

WIDE, HIGH, HORIZON = 160, 176, 96
MOON, RADIUS = (104, 38), 15
"""The moon's middle on the screen, which has two dots across for each of the picture, and its radius there."""
Dots = npt.NDArray[np.bool_]
Anchor = tuple[int, int, int]


def _ramp(anchors: Sequence[Anchor], count: int) -> list[str]:
    """``count`` colours on the way through the anchors, each as #rrggbb."""
    places = np.linspace(0, len(anchors) - 1, count)
    channels = [np.interp(places, range(len(anchors)), [one[axis] for one in anchors]) for axis in range(3)]
    return ["#" + "".join(f"{round(float(part)):02x}" for part in one) for one in zip(*channels, strict=True)]


_STILL = [(8, 12, 28), (16, 30, 58), (28, 54, 86), (52, 86, 116), (96, 130, 148)]
_SHINE = [(40, 62, 92), (90, 122, 148), (158, 182, 190), (222, 228, 212), (255, 252, 226)]
_NIGHT = [
    (8, 10, 28),
    (12, 20, 46),
    (20, 38, 70),
    (34, 62, 96),
    (60, 94, 122),
    (108, 138, 152),
    (170, 188, 182),
    (226, 230, 206),
]
_DISC = [(158, 164, 158), (204, 204, 182), (238, 234, 206), (255, 254, 236)]
_DARK = [
    (4, 6, 14),
    (8, 14, 24),
    (14, 26, 34),
    (24, 42, 48),
    (40, 62, 64),
    (66, 92, 86),
    (110, 134, 116),
    (170, 184, 150),
]
_WOOD = [(10, 10, 20), (26, 26, 40), (52, 52, 66), (94, 96, 106), (156, 160, 160), (206, 210, 200)]
_BUFF = [(92, 58, 34), (150, 98, 52), (206, 148, 84), (238, 196, 130), (250, 226, 178)]
_PALE = [(252, 250, 232), (222, 224, 214), (176, 188, 192), (122, 142, 158)]
_AMBER, _INK = "#ffbe54", "#080a16"

STILL, SHINE = [*range(16)], [*range(64, 80)]
NIGHT = [*range(16, 56)]
DISC, DARK, WOOD = [*range(56, 64)], [*range(80, 98)], [*range(98, 112)]
AMBER, BUFF, PALE = 112, [*range(114, 120)], [*range(120, 128)]


def colours() -> tuple[str, ...]:
    """All 128: still water, sky, moon, shining water, reeds, wood; and the owl's bank, whose first entry lights the mill."""
    parts = ((_STILL, 16), (_NIGHT, 40), (_DISC, 8), (_SHINE, 16), (_DARK, 18), (_WOOD, 14))
    painted = [colour for anchors, count in parts for colour in _ramp(anchors, count)]
    return (*painted, _AMBER, _INK, *_ramp(_BUFF, 6), *_ramp(_PALE, 8))


def _cloud_field() -> Field:
    """How thick (0 to 1) the clouds are: long and thin high up, flatter and denser towards the horizon."""
    rough = (
        noise(HORIZON, WIDE, 9, 4, 11) + 0.6 * noise(HORIZON, WIDE, 17, 9, 12) + 0.35 * noise(HORIZON, WIDE, 34, 22, 13)
    )
    down = np.arange(HORIZON)[:, None] / HORIZON
    band = np.exp(-(((down - 0.55) / 0.2) ** 2)) + 0.75 * np.exp(-(((down - 0.12) / 0.14) ** 2))
    found: Field = np.clip((rough + 0.7 * band - 0.32) * 1.35, 0, 1)
    return found


def sky(plane: Plane) -> None:
    """Night, paler at the horizon and around the moon; clouds whose edges catch its light; stars where it is dark."""
    y, x = np.mgrid[:HORIZON, :WIDE].astype(float)
    away = np.hypot(2 * x + 1 - MOON[0], (y - MOON[1]) * 1.1)
    glow = np.exp(-away / 30) + 0.5 * np.exp(-away / 90)
    sky = 6.0 + 11 * (y / HORIZON) ** 1.7 + 20 * glow
    thick = _cloud_field()
    upper = np.clip(thick - np.roll(thick, 2 if MOON[1] < HORIZON else -2, axis=0), 0, 1)
    lit = 5.5 + 27 * np.exp(-away / 80) + 26 * upper * np.exp(-away / 140)
    level = sky * (1 - 0.85 * thick) + lit * 0.85 * thick - 2.0 * thick**2
    plane[:HORIZON] = dithered(np.clip(level, 0, 39), NIGHT, 0.95)
    chance = Chance(21)
    for _ in range(150):
        u, v = chance.whole(0, WIDE - 1), int(HORIZON * 0.8 * chance.next() ** 1.2)
        if away[v, u] > 58 and thick[v, u] < 0.08:
            bright = chance.next()
            put(plane, u, v, NIGHT[34] if bright > 0.93 else NIGHT[27] if bright > 0.6 else NIGHT[19])
    _moon(plane)


def _moon(plane: Plane) -> None:
    """The full moon with its grey plains, two streaks of cloud before its lower half."""
    y, x = np.mgrid[:HORIZON, :WIDE].astype(float)
    u, v = (2 * x + 1 - MOON[0]) / RADIUS, (y + 0.5 - MOON[1]) / RADIUS
    disc = u * u + v * v <= 1
    tone = 7.4 - 1.4 * (u * u + v * v) - 0.5 * u
    for cu, cv, size, deep in (
        (-0.35, -0.3, 0.36, 3.4), (0.12, -0.42, 0.26, 2.8), (0.38, -0.12, 0.24, 2.6), (-0.5, 0.12, 0.3, 2.6),
        (0.0, 0.02, 0.2, 1.6), (-0.18, 0.44, 0.2, 1.8), (0.6, 0.28, 0.14, 1.6),
    ):  # fmt: skip
        tone -= 1.5 * deep * np.exp(-((((u - cu) ** 2 + (v - cv) ** 2) / size**2) ** 1.4))
    plane[:HORIZON][disc] = dithered(np.clip(tone, 0, 7), DISC, 0.9)[disc]
    for row, left, length, shade in (
        (43, 40, 13, 30),
        (44, 38, 22, 28),
        (45, 43, 9, 31),
        (49, 50, 12, 29),
        (50, 52, 15, 27),
    ):
        run(plane, left, row, length, NIGHT[shade])
        for end in (left - 2, left + length + 1):
            put(plane, end, row, NIGHT[shade - 3])
