"""Sky, hills, water, mud, reeds and boards: the land that the birds live in.

Law: each function draws one thing onto a plane, in entries that it is given; chance comes from a seed. What goes round (sky,
water) ends on the right as it begins on the left. Knows no scene and no chip.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .canvas import Chance, Field, Plane, box, dithered, line, put, ridge, run


def sky(high: int, wide: int, ramp: Sequence[int], power: float = 1.0) -> Plane:
    """A gradient down the ramp; it depends on the line alone, so that tiles repeat."""
    down = (np.arange(high) / (high - 1)) ** power * (len(ramp) - 1)
    return dithered(np.repeat(down[:, None], wide, axis=1), ramp)


def cloud(plane: Plane, x: int, y: int, half: int, thick: float, shades: Sequence[int], seed: int) -> None:
    """A long flat cloud around ``x``, ``y``, lit from below: ``shades`` from its dark back to its bright edge; goes round."""
    chance = Chance(seed)
    back = ridge(2 * half, (3, 7, 15), (0.5, 0.35, 0.25), seed)
    belly = ridge(2 * half, (4, 9), (0.5, 0.4), seed + 1)
    wide = plane.shape[1]
    for u in range(-half, half):
        bend = (1 - (u / half) ** 2) ** 0.6
        up = thick * bend * (0.75 + back[u + half])
        down = 0.5 + 0.4 * thick * bend * (0.5 + 0.6 * belly[u + half])
        if up + down < 0.8:
            continue
        for v in range(-int(up), int(down) + 1):
            part = (v + up) / (up + down)
            level = np.array([[part * (len(shades) - 0.6)]])
            shade = dithered(np.tile(level, (4, 4)), shades, 0.8)[(y + v) % 4, (x + u) % 4]
            put(plane, (x + u) % wide, y + v, int(shade))
    for _ in range(half // 8):
        side = 1 if chance.next() < 0.5 else -1
        start = x + side * round(half * chance.between(0.75, 1.25))
        run(
            plane,
            start,
            y + chance.whole(-1, 2),
            chance.whole(3, 4 + half // 6),
            shades[-1 - chance.whole(0, 1)],
            wrap=True,
        )


def hills(plane: Plane, tops: Field, bottom: int, shades: Sequence[int], mist: float = 0.5) -> None:
    """A range with its crest at the lines ``tops``: the first shade on the crest, the others below as the mist thickens."""
    for x, top in enumerate(tops.round().astype(int).tolist()):
        for y in range(max(top, 0), bottom):
            depth = (y - top) / max(bottom - top, 1)
            level = np.array([[depth**0.8 * mist * len(shades)]])
            pattern = (0.5, 8.5, 2.5, 10.5, 12.5, 4.5, 14.5, 6.5, 3.5, 11.5, 1.5, 9.5, 15.5, 7.5, 13.5, 5.5)
            place = int(min(level[0, 0] + pattern[y % 4 * 4 + x % 4] / 16, len(shades) - 1))
            plane[y, x] = shades[place]


def tree_line(plane: Plane, base: Field, shades: tuple[int, int, int], seed: int, size: int = 4) -> None:
    """Round tree tops that stand on the lines ``base``: lit on the right, dark at the foot."""
    dark, middle, light = shades
    chance = Chance(seed)
    x = 0
    wide = plane.shape[1]
    while x < wide:
        radius = chance.whole(2, size)
        foot = int(base[x % wide])
        for v in range(-radius, radius + 1):
            for u in range(-radius, radius + 1):
                if u * u + v * v <= radius * radius + 1:
                    lit = u - v
                    entry = light if lit > radius * 0.7 else middle if lit > -radius * 0.5 else dark
                    if 0 <= foot - radius + v < plane.shape[0]:
                        plane[foot - radius + v, (x + u) % wide] = entry
        x += chance.whole(2, radius + 2)


def water(plane: Plane, top: int, bottom: int, ramp: Sequence[int], seed: int, period: int, glint: int | None) -> None:
    """Still water that reflects the ramp, with streaks that grow longer towards the viewer; repeats every ``period`` dots."""
    high = bottom - top
    part = np.zeros((high, period), np.uint8)
    level = (np.arange(high) / (high - 1)) ** 0.75 * (len(ramp) - 1)
    part[:] = dithered(np.repeat(level[:, None], period, axis=1), ramp, 0.85)
    chance = Chance(seed)
    for y in range(high):
        depth = y / high
        for _ in range(int(period / 26 * (1 - 0.35 * depth))):
            length = chance.whole(3, 4 + int(16 * depth))
            away = chance.whole(-2, 2) or 1
            place = int(np.clip(round(level[y]) + away, 0, len(ramp) - 1))
            x = chance.whole(0, period - 1)
            run(part, x, y, length, ramp[place], wrap=True)
            if depth > 0.45 and length > 6:
                run(part, x + 2, y + 1, length - 4, ramp[place], wrap=True)
        if glint is not None and chance.next() < 0.5:
            run(part, chance.whole(0, period - 1), y, 1 + int(3 * depth), glint, wrap=True)
    for start in range(0, plane.shape[1], period):
        plane[top:bottom, start : start + period] = part[:, : plane.shape[1] - start]


def glitter(plane: Plane, x: int, top: int, bottom: int, shades: Sequence[int], seed: int) -> None:
    """The sun's path on the water below it: dashes, dense at the horizon."""
    chance = Chance(seed)
    for y in range(top, bottom):
        depth = (y - top) / (bottom - top)
        width = 5 + 20 * depth
        for _ in range(3 if depth < 0.5 else 2):
            if chance.next() < 0.95 - 0.55 * depth:
                away = (chance.next() + chance.next() - 1) * width
                length = chance.whole(2, 4 + int(7 * depth))
                entry = shades[0] if abs(away) < width * 0.35 else shades[-1]
                run(plane, round(x + away - length / 2), y, length, entry)


def island(plane: Plane, x: int, y: int, half: int, mud: Sequence[int], grass: Sequence[int], seed: int) -> None:
    """A bank of mud with grass on its back and its broken reflection: ``mud`` dark, middle, wet edge; ``grass`` dark to light."""
    chance = Chance(seed)
    back = ridge(2 * half, (4, 9, 23), (1.6, 0.8, 0.5), seed)
    for u in range(-half, half):
        bend = 1 - (u / half) ** 2
        rise = int(bend * (2.2 + half / 22) + back[u + half] * bend)
        deep = int(1 + bend * 2.4)
        for v in range(-rise, deep):
            shade = mud[0] if v >= deep - 1 else mud[1] if (u + v) % 5 or v < 0 else mud[2]
            put(plane, x + u, y + v, shade)
        if rise > 1:
            for v in range(-rise - 1, -rise + 2):
                put(plane, x + u, y + v, grass[(u * 7 + v * 3) % 5 // 3])
            if chance.next() < 0.55:
                tall = chance.whole(1, 2 + half // 24)
                for v in range(tall):
                    put(plane, x + u, y - rise - 1 - v, grass[min(v + 1, len(grass) - 1)])
        put(plane, x + u, y + deep, mud[2])
        for v in range(1, rise + 3):
            if chance.next() < 0.62 - 0.11 * v:
                run(plane, x + u, y + deep + v, chance.whole(2, 5), mud[0])


def reed(
    plane: Plane,
    x: float,
    base: int,
    tall: int,
    lean: float,
    greens: tuple[int, int],
    plume: Sequence[int],
    *,
    thick: bool,
) -> None:
    """One reed: a stalk that bends the further up the more, leaves that hang from it, and a plume (none where it is empty)."""
    dark, light = greens
    last = x
    for step in range(tall):
        part = step / tall
        at = x + lean * part * part
        put(plane, round(at), base - step, light)
        if thick and part < 0.75:
            put(plane, round(at) - 1, base - step, dark)
        last = at
    for number in range(2 + tall // 16):
        part = 0.25 + 0.2 * number
        if part > 0.9:
            break
        start, side = base - int(tall * part), (-1 if (number + int(x)) % 2 else 1)
        root, long = x + lean * part * part, max(3, tall // 6)
        for step in range(long):
            u, v = side * (1 + step * 0.8), step * 1.3 - step * step * 0.09
            put(plane, round(root + u), start - round(v), dark if side < 0 else light)
    if plume:
        top = base - tall
        side = 1 if lean >= 0 else -1
        for step in range(7 + tall // 14):
            width = min(step, 2 + tall // 30, 7 + tall // 14 - step)
            for u in range(width + 1):
                entry = plume[(step + 2 * u) % len(plume)]
                put(plane, round(last + side * (step * 0.35 + u * 0.9 - 0.5)), top + step - 2 + u // 2, entry)


def reeds(
    plane: Plane,
    left: int,
    right: int,
    base: int,
    tall: Field,
    greens: Sequence[tuple[int, int]],
    plume: Sequence[int],
    seed: int,
    density: float = 1.0,
) -> None:
    """A bed of reeds from back to front; ``tall`` gives the height for each dot from ``left`` to ``right``."""
    chance = Chance(seed)
    for rank, shades in enumerate(greens):
        front = rank / max(len(greens) - 1, 1)
        for _ in range(int((right - left) * density * (0.34 + 0.1 * front))):
            x = chance.whole(left, right - 1)
            height = tall[x - left] * chance.between(0.62, 1.0) * (1 - 0.24 * front)
            if height < 4:
                continue
            lean = chance.between(-0.1, 0.24) * height
            bloom = plume if height > 26 and chance.next() < 0.4 else ()
            reed(plane, x, base, int(height), lean, shades, bloom, thick=height > 22)


def boardwalk(
    plane: Plane, left: int, right: int, deck: int, wood: Sequence[int], foot: int, *, rail: bool = True
) -> None:
    """A walkway seen from the side: ``wood`` from dark to light; posts down to the line ``foot``, a rail above."""
    dark, brown, tan, light = wood
    for x in range(left + 6, right, 32):
        box(plane, x, deck + 5, 4, foot - deck - 5, dark)
        box(plane, x + 1, deck + 5, 2, foot - deck - 5, brown)
        if rail:
            box(plane, x, deck - 17, 4, 17, dark)
            box(plane, x + 1, deck - 17, 2, 17, tan)
            run(plane, x, deck - 18, 4, light)
    if rail:
        for y in (deck - 15, deck - 8):
            run(plane, left, y - 1, right - left, light)
            run(plane, left, y, right - left, brown)
            run(plane, left, y + 1, right - left, dark)
    run(plane, left, deck, right - left, light)
    run(plane, left, deck + 1, right - left, tan)
    run(plane, left, deck + 2, right - left, brown)
    run(plane, left, deck + 3, right - left, brown)
    run(plane, left, deck + 4, right - left, dark)
    for x in range(left, right, 8):
        for y in range(deck, deck + 4):
            put(plane, x, y, dark)


def hide(plane: Plane, x: int, base: int, wood: Sequence[int], roof: Sequence[int]) -> None:
    """A hut for watching birds, 56 dots wide, on posts: slits to look out of, boards, a roof of reed."""
    dark, brown, tan, light = wood
    box(plane, x + 4, base - 34, 48, 34, brown)
    for v in range(0, 34, 4):
        run(plane, x + 4, base - 34 + v, 48, dark)
        run(plane, x + 4, base - 33 + v, 48, tan)
    for u in (x + 4, x + 51):
        box(plane, u, base - 34, 1, 34, dark)
    for u in (x + 9, x + 31):
        box(plane, u - 1, base - 26, 18, 8, light)
        box(plane, u, base - 25, 16, 6, dark)
        run(plane, u - 1, base - 18, 18, dark)
    for step in range(13):
        start, stop = x + 12 - step, x + 44 + step
        for u in range(start, stop):
            shade = roof[(u * 5 + step * 3) % 7 % len(roof)]
            put(plane, u, base - 46 + step, roof[0] if step in (0, 12) else shade)
    for u in (x + 8, x + 26, x + 46):
        box(plane, u, base, 4, 22, dark)
        box(plane, u + 1, base, 2, 22, brown)
    line(plane, (x + 9, base + 2), (x + 27, base + 18), dark)
    line(plane, (x + 29, base + 18), (x + 47, base + 2), dark)
