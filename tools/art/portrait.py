"""A heron's portrait in 256 colours, painted in light and shade and brought to the chip's colours at the end.

Law: ``portrait`` gives a plane of 288 x 192 entries and its 256 colours, all on the grid of four bits a channel. Entries 0 and
16 are ink, 224 and 240 what is written on it. Knows no scene.
"""

from __future__ import annotations

from collections import Counter

import numpy as np

from .canvas import _ORDER, Chance, Field, Plane, noise

WIDE, HIGH = 288, 192
FIXED = {0: (0, 1, 2), 16: (0, 1, 2), 224: (15, 11, 4), 240: (15, 14, 13)}
"""Entries that the text uses, as values of four bits."""

Y, X = np.mgrid[:HIGH, :WIDE].astype(float) + 0.5


def _mix(picture: Field, colour: tuple[float, float, float] | Field, cover: Field) -> None:
    picture += (np.asarray(colour) - picture) * np.clip(cover, 0, 1)[..., None]


def _edge(distance: Field, width: float = 1.0) -> Field:
    """1 inside (negative distance), 0 outside, with a soft edge."""
    return np.clip(0.5 - distance / width, 0, 1)


def _path(points: list[tuple[float, float, float]]) -> tuple[Field, Field, Field]:
    """For a thick curved line (x, y, half width): distance to its edge, place along it 0 to 1, side -1 to 1 across."""
    knots = np.array(points)
    steps = np.linspace(0, len(points) - 1, 26 * (len(points) - 1))
    fine = np.stack([_spline(knots[:, axis], steps) for axis in range(3)], axis=1)
    best, place, side = np.full((HIGH, WIDE), 1e9), np.zeros((HIGH, WIDE)), np.zeros((HIGH, WIDE))
    for number in range(len(fine) - 1):
        (x, y, half), (dx, dy) = fine[number], fine[number + 1, :2] - fine[number, :2]
        length = float(np.hypot(dx, dy)) or 1.0
        along = np.clip(((X - x) * dx + (Y - y) * dy) / length**2, 0, 1)
        across = ((X - x - along * dx) * dy - (Y - y - along * dy) * dx) / length
        away = np.hypot(X - x - along * dx, Y - y - along * dy)
        wide = half + along * (fine[number + 1, 2] - half)
        nearer = away - wide < best
        best = np.where(nearer, away - wide, best)
        place = np.where(nearer, (number + along) / (len(fine) - 1), place)
        side = np.where(nearer, np.clip(across / np.maximum(wide, 0.1), -1, 1), side)
    return best, place, side


def _spline(values: Field, steps: Field) -> Field:
    padded = np.concatenate([[2 * values[0] - values[1]], values, [2 * values[-1] - values[-2]]])
    left = np.minimum(steps.astype(int), len(values) - 2)
    t = steps - left
    a, b, c, d = (padded[left + offset] for offset in range(4))
    return 0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3)


def _background(picture: Field) -> None:
    """Reeds and water far out of focus: soft bands and discs of light."""
    down, across = Y / HIGH, X / WIDE
    top, bottom = np.array([0.55, 0.66, 0.62]), np.array([0.10, 0.22, 0.24])
    picture[:] = top + (bottom - top) * (down**0.8)[..., None]
    _mix(picture, (0.95, 0.78, 0.50), 0.75 * np.exp(-(((across - 0.80) / 0.38) ** 2) - ((down - 0.12) / 0.42) ** 2))
    haze = noise(HIGH, WIDE, 2, 9, 3)
    _mix(picture, (0.30, 0.42, 0.22), 0.55 * np.clip(haze * 0.9 + down - 0.15, 0, 1))
    chance = Chance(8)
    for _ in range(34):
        x, width, lean = chance.between(-10, WIDE + 10), chance.between(2, 8), chance.between(-0.25, 0.15)
        shade = chance.between(0, 1)
        away = np.abs(X - x - lean * (HIGH - Y)) / width
        tone = (0.18 + 0.46 * shade, 0.28 + 0.34 * shade, 0.14 + 0.16 * shade)
        _mix(picture, tone, 0.42 * np.exp(-(away**2)) * np.clip(down * 1.5 - 0.25 + 0.3 * shade, 0, 1))
    for _ in range(26):
        x, y, radius = chance.between(0, WIDE), chance.between(0, HIGH * 0.75), chance.between(5, 15)
        away = np.hypot(X - x, Y - y)
        ring = 0.09 * _edge(away - radius, 2.5) + 0.06 * np.exp(-(((away - radius + 1) / 1.6) ** 2))
        _mix(picture, (1.0, 0.92, 0.68), ring)


def _feathers(place: Field, side: Field, long: float, fine: float, seed: int) -> Field:
    """Streaks along a path, -1 to 1."""
    table = noise(64, 128, 16, 64, seed)
    rows = np.clip((place * long) % 64, 0, 63).astype(int)
    columns = ((side + 1) * fine).astype(int) % 128
    found: Field = table[rows, columns]
    return found


def _neck(picture: Field) -> None:
    distance, place, side = _path([(70, 214, 58), (84, 178, 43), (124, 140, 26), (133, 108, 21), (122, 76, 22), (134, 54, 24)])
    streak = _feathers(place, side, 210, 30, 21)
    light = np.clip(0.62 + 0.42 * side - 0.22 * side**2 + 0.12 * streak, 0, 1)
    shade, bright = np.array([0.30, 0.34, 0.42]), np.array([0.93, 0.92, 0.90])
    colour = shade + (bright - shade) * light[..., None]
    _mix(picture, (0.03, 0.06, 0.08), 0.5 * _edge(distance - 3, 9))
    _mix(picture, colour, _edge(distance, 1.6))
    marks = (np.abs(side - 0.36 + 0.05 * np.sin(place * 61)) < 0.10) & (np.sin(place * 92) > -0.2) & (place > 0.12) & (place < 0.72)
    _mix(picture, (0.10, 0.12, 0.18), 0.8 * (marks & (distance < -1)))
    chance = Chance(31)
    for _ in range(26):
        x, y, long = chance.between(66, 122), chance.between(140, 180), chance.between(14, 30)
        bend = chance.between(-4, 8)
        for step in range(int(long) * 2):
            part = step / (long * 2)
            at = np.hypot(X - x - bend * part * part, Y - y - long * part)
            _mix(picture, (0.90, 0.91, 0.92) if (step + int(x)) % 9 else (0.6, 0.64, 0.7), 0.5 * (1 - part) * _edge(at - 0.9, 1.2))


def _head(picture: Field) -> None:
    distance, place, side = _path([(104, 60, 8), (124, 51, 20), (150, 53, 19), (172, 58, 11)])
    streak = _feathers(place, side, 90, 18, 41)
    light = np.clip(0.80 - 0.36 * side - 0.25 * side**2 + 0.08 * streak, 0, 1)
    colour = np.array([0.46, 0.49, 0.56]) + np.array([0.53, 0.48, 0.40]) * light[..., None]
    _mix(picture, colour, _edge(distance, 1.6))
    lower, along, across = _path([(162, 62, 7), (190, 66, 6.2), (226, 71, 3.6), (262, 76, 0.6)])
    tone = np.array([0.86, 0.52, 0.16]) + np.array([0.10, 0.22, 0.16]) * np.clip(-across, -1, 1)[..., None]
    tone -= 0.16 * np.clip(0.4 - along, 0, 1)[..., None]
    _mix(picture, tone, _edge(lower, 1.4))
    upper, along, across = _path([(158, 55, 8), (188, 60, 6.4), (226, 67.5, 3.6), (265, 75.5, 0.5)])
    tone = np.array([0.93, 0.68, 0.24]) + np.array([0.08, 0.20, 0.26]) * np.clip(-across * 1.2, -1, 1)[..., None]
    _mix(picture, tone, _edge(upper, 1.4))
    _mix(picture, (0.40, 0.24, 0.12), 0.9 * _edge(_path([(160, 64, 0.9), (190, 66.5, 0.8), (226, 71.5, 0.6), (260, 76, 0.3)])[0], 1.2))
    _mix(picture, (0.36, 0.24, 0.14), 0.8 * _edge(_path([(180, 57, 1.0), (192, 59.5, 0.7)])[0], 1.2))
    for points in (
        [(152, 40, 2.5), (136, 35, 6.5), (116, 38, 5.5), (92, 50, 3.4), (58, 70, 0.5)],
        [(140, 38, 3), (112, 46, 3.5), (82, 64, 2.2), (52, 92, 0.4)],
    ):
        crest, along, across = _path(points)
        gleam = np.clip(0.5 - across, 0, 1) * (0.7 + 0.3 * _feathers(along, across, 70, 12, 51))
        _mix(picture, np.array([0.04, 0.05, 0.10]) + np.array([0.12, 0.15, 0.24]) * gleam[..., None], _edge(crest, 1.4))
    bare, _, _ = _path([(150, 55, 3), (162, 57, 4.5), (172, 59, 2)])
    _mix(picture, (0.66, 0.66, 0.40), 0.8 * _edge(bare, 3))
    away = np.hypot(X - 150, Y - 51.5)
    _mix(picture, (0.10, 0.09, 0.10), _edge(away - 7.6, 1.4))
    _mix(picture, np.array([0.98, 0.80, 0.16]) - np.array([0.10, 0.30, 0.1]) * np.clip((Y - 48) / 9, 0, 1)[..., None], _edge(away - 6.5, 1.2))
    _mix(picture, (0.02, 0.02, 0.04), _edge(away - 3.4, 1.1))
    _mix(picture, (1.0, 1.0, 0.97), _edge(np.hypot(X - 147.8, Y - 49.2) - 1.5, 1.0))


def _body(picture: Field) -> None:
    distance, place, side = _path([(-20, 190, 40), (30, 176, 34), (78, 186, 22)])
    scales = np.sin(place * 70 + 4 * np.abs(side)) * np.cos(side * 9)
    light = np.clip(0.5 - 0.45 * side + 0.18 * scales, 0, 1)
    colour = np.array([0.20, 0.25, 0.33]) + np.array([0.36, 0.38, 0.40]) * light[..., None]
    _mix(picture, colour, _edge(distance, 2.0))


def portrait() -> tuple[Plane, list[str]]:
    """The entries (192, 288) and their colours."""
    picture = np.zeros((HIGH, WIDE, 3))
    _background(picture)
    _body(picture)
    _neck(picture)
    _head(picture)
    fade = 1 - 0.28 * (((X / WIDE - 0.5) * 1.5) ** 2 + ((Y / HIGH - 0.45) * 1.4) ** 2)
    picture *= np.clip(fade, 0, 1)[..., None]
    threshold = (np.tile(_ORDER, (HIGH // 4, WIDE // 4)) + 0.5) / 16
    grid = np.clip(np.floor(np.clip(picture, 0, 1) * 15 + threshold[..., None]), 0, 15).astype(int)
    return _entries(grid)


def _entries(grid: np.ndarray) -> tuple[Plane, list[str]]:
    """The 256 colours that are used most, in order of brightness, and the nearest of them for each dot."""
    flat = [tuple(dot) for dot in grid.reshape(-1, 3).tolist()]
    used = Counter(flat)
    for colour in FIXED.values():
        used.pop(colour, None)
    chosen = sorted(sorted(used, key=lambda colour: (-used[colour], colour))[: 256 - len(FIXED)], key=lambda c: (2 * c[0] + 4 * c[1] + c[2], c))
    chosen += [(0, 0, 0)] * (256 - len(FIXED) - len(chosen))
    free = iter(chosen)
    colours = [FIXED[entry] if entry in FIXED else next(free) for entry in range(256)]
    table = np.array(colours)
    nearest = {one: int((((table - np.array(one)) * (3, 4, 2)) ** 2).sum(axis=1).argmin()) for one in set(flat)}
    plane = np.array([nearest[one] for one in flat], np.uint8).reshape(HIGH, WIDE)
    return plane, [f"#{r:x}{g:x}{b:x}" for r, g, b in colours]
