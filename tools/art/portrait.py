"""The portrait of a curlew among reeds, in 256 colours.

Law: the same dots each time; a picture's indices are the values, or the entries, that its scene takes from it, and every
colour lies on a grid of four bits a channel. Painted in floats,
larger than it is shown, then brought down to the grid. Knows no chip.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw, ImageFilter

from .canvas import Chance, Field, Plane, put

WIDE, HIGH = 288, 216
Point = tuple[float, float]
Dots = npt.NDArray[np.bool_]


def _listed(text: str) -> tuple[str, ...]:
    return tuple(text.split())


SCALE = 4
PALETTE = 256
PORTRAIT_HIGH = 192
Paint = tuple[int, int, int]
Canvas = npt.NDArray[np.float64]
"""Light as numbers 0 to 255 of shape (lines, dots, 3), SCALE times as large as the picture."""

OUTLINE: tuple[Point, ...] = (
    (130, 69), (138, 55), (154, 46), (172, 48), (186, 58), (195, 76), (202, 98), (214, 118), (238, 134), (266, 148), (296, 160),
    (310, 180), (310, 230), (110, 230), (112, 204), (118, 184), (130, 166), (143, 148), (151, 130),
    (153, 112), (150, 98), (142, 88), (132, 80),
)  # fmt: skip
BILL: tuple[Point, ...] = ((134, 74), (98, 66), (58, 84), (30, 134))
EYE = (150, 66)


def _rounded(corners: Sequence[Point], steps: int = 12) -> list[Point]:
    """A closed curve through all corners (Catmull-Rom)."""
    found = []
    count = len(corners)
    for place in range(count):
        a, b, c, d = (np.array(corners[(place + k) % count], float) for k in (-1, 0, 1, 2))
        for step in range(steps):
            t = step / steps
            x, y = 0.5 * (2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t * t + (3 * b - a - 3 * c + d) * t**3)
            found.append((float(x), float(y)))
    return found


def _bent(part: float, bows: Sequence[Point] = BILL) -> Point:
    """The point at ``part`` (0 to 1) of a curve with four controls."""
    a, b, c, d = bows
    rest = 1 - part
    weights = (rest**3, 3 * rest * rest * part, 3 * rest * part * part, part**3)
    return tuple(sum(w * p[axis] for w, p in zip(weights, (a, b, c, d), strict=True)) for axis in (0, 1))  # type: ignore[return-value]


class _Easel:
    """A large canvas; each touch is a shape with a colour, how much it covers, and how soft its edge is (in dots)."""

    def __init__(self, wide: int, high: int) -> None:
        self.size = (wide * SCALE, high * SCALE)
        self.light: Canvas = np.zeros((self.size[1], self.size[0], 3))

    def mask(self, shapes: Sequence[Sequence[Point]], soft: float = 0) -> Field:
        """How much (0 to 1) each dot is covered by the polygons."""
        image = Image.new("L", self.size)
        pen = ImageDraw.Draw(image)
        for shape in shapes:
            pen.polygon([(x * SCALE, y * SCALE) for x, y in shape], fill=255)
        if soft:
            image = image.filter(ImageFilter.GaussianBlur(soft * SCALE))
        return np.asarray(image, np.float64) / 255

    def lay(self, mask: Field, colour: Paint | Canvas, cover: float = 1) -> None:
        """Lay colour where the mask is."""
        part = mask[..., None] * cover
        self.light = self.light * (1 - part) + np.asarray(colour, np.float64) * part

    def small(self) -> npt.NDArray[np.int64]:
        """The picture itself, in whole numbers."""
        image = Image.fromarray(self.light.clip(0, 255).round().astype(np.uint8))
        return np.asarray(image.reduce(SCALE), np.int64)


def _ellipse(x: float, y: float, across: float, down: float) -> list[Point]:
    return [(x + across * math.cos(k * math.tau / 24), y + down * math.sin(k * math.tau / 24)) for k in range(24)]


def _stroke(start: Point, end: Point, thick: float, bow: float = 0.0) -> list[Point]:
    """A brush stroke that swells in its middle; ``bow`` bends it sideways."""
    (x0, y0), (x1, y1) = start, end
    length = math.hypot(x1 - x0, y1 - y0) or 1
    nx, ny = -(y1 - y0) / length, (x1 - x0) / length
    sides: tuple[list[Point], list[Point]] = ([], [])
    for step in range(9):
        t = step / 8
        swell = math.sin(math.pi * (0.08 + 0.9 * t))
        for side, one in zip((-1, 1), sides, strict=True):
            off = bow * math.sin(math.pi * t) + side * thick / 2 * swell
            one.append((x0 + (x1 - x0) * t + nx * off, y0 + (y1 - y0) * t + ny * off))
    return sides[0] + sides[1][::-1]


def _blend(ramp: Sequence[Paint], level: Field) -> Canvas:
    """Colours of ``ramp`` at levels 0 to 1, smoothly."""
    places = np.linspace(0, 1, len(ramp))
    return np.stack([np.interp(level, places, [colour[axis] for colour in ramp]) for axis in range(3)], axis=-1)


def _behind(easel: _Easel) -> None:
    """Evening air: light from the upper left, round patches out of focus, and reeds that grow sharper."""
    high, wide = easel.light.shape[:2]
    y, x = np.mgrid[:high, :wide] / SCALE
    fall = np.clip(1 - np.hypot((x - 62) * 0.8, y - 40) / 235, 0, 1)
    easel.light = _blend(((34, 52, 56), (66, 92, 84), (128, 142, 104), (206, 186, 120), (252, 226, 164)), fall)
    chance = Chance(5)
    for _ in range(46):
        spot = (chance.between(-10, 298), chance.between(-10, 150))
        size = chance.between(5, 17)
        gold = chance.next() < 0.6
        easel.lay(easel.mask([_ellipse(*spot, size, size)], 1.6), (250, 220, 150) if gold else (110, 140, 112), 0.14)
    for count, soft, thick, colours, cover in (
        (34, 5.0, 7.0, ((92, 108, 72), (150, 140, 78), (60, 84, 74)), 0.6),
        (34, 2.2, 3.6, ((84, 92, 52), (176, 150, 82), (54, 74, 60)), 0.7),
    ):
        for _ in range(count):
            _reed_blade(easel, chance, chance.between(-10, 298), thick, soft, colours[chance.whole(0, 2)], cover)


def _reed_blade(
    easel: _Easel, chance: Chance, x: float, thick: float, soft: float, colour: Paint, cover: float
) -> None:
    """One blade from below the picture upward, sometimes with a plume."""
    top = chance.between(-10, 110)
    tip = (x + chance.between(-26, 26), top)
    shapes = [_stroke((x, 236), tip, thick, chance.between(-8, 8))]
    if chance.next() < 0.4:
        shapes.append(_stroke((tip[0], tip[1] - 8), (tip[0] + 2, tip[1] + 22), thick * 1.9, 2))
    easel.lay(easel.mask(shapes, soft), colour, cover)


def _body(easel: _Easel, outline: list[Point]) -> None:
    """Head, neck and breast: a round form in soft light from the upper left, then plumage stroke by stroke."""
    mask = easel.mask([outline])
    form = sum(easel.mask([outline], soft) * part for soft, part in ((4, 0.3), (9, 0.35), (20, 0.35)))
    down, across = np.gradient(np.asarray(form))
    facing = np.clip(0.5 - (across * -0.75 + down * -0.66) * 34, 0, 1)
    y = np.mgrid[: mask.shape[0], : mask.shape[1]][0] / SCALE
    facing = np.clip(facing * 0.86 + 0.12 - np.clip(y - 120, 0, 80) * 0.0022, 0, 1)
    form_light = _blend(((58, 46, 44), (104, 80, 62), (164, 128, 90), (218, 184, 132), (250, 232, 186)), facing)
    easel.lay(easel.mask([outline], 0.3), form_light)
    easel.lay(mask * easel.mask([_ellipse(140, 92, 15, 9)], 4), (248, 232, 196), 0.6)
    easel.lay(mask * easel.mask([_ellipse(120, 214, 40, 40)], 14), (246, 226, 184), 0.45)
    easel.lay(mask * easel.mask([_stroke((136, 54), (192, 64), 9, -7)], 2.0), (84, 60, 46), 0.6)
    easel.lay(mask * easel.mask([_stroke((156, 72), (184, 82), 6, -2)], 2.5), (120, 88, 62), 0.5)
    chance = Chance(23)
    for _ in range(2900):
        x, v = chance.between(112, 292), chance.between(44, 196)
        _feather(easel, mask, facing, chance, (x, v))
    edge = np.clip(mask - easel.mask([[(px + 1.6, py + 1.4) for px, py in outline]], 0.5), 0, 1)
    easel.lay(edge, (255, 240, 200), 0.75)


def _feather(easel: _Easel, mask: Field, facing: Field, chance: Chance, at: Point) -> None:
    """One feather's mark: along the head, down the neck, then along the back."""
    x, y = at
    line_at, dot_at = round(y * SCALE), round(x * SCALE)
    if not (0 <= line_at < mask.shape[0] and 0 <= dot_at < mask.shape[1] and mask[line_at, dot_at] > 0.5):
        return
    if math.hypot(x - EYE[0], y - EYE[1]) < 7.5:
        return
    turn = 1.45 - min(max(y - 120, 0) / 70, 1) * (1.0 if x > 190 else 0.35)
    if y < 84:
        turn = 0.25 if y < 62 else 0.7 if x > 160 else turn
    turn += chance.between(-0.22, 0.22)
    crown = y < 60 and x > 136
    pale = (math.hypot((x - 150) / 1.9, y - 57) < 5 and y < 60) or (x < 152 and 78 < y < 100)
    size = 3.2 if y < 90 else 4.6 if y < 130 else 7.5
    light = float(facing[line_at, dot_at])
    dark = chance.next() < (0.2 if pale else 0.8 if crown else 0.52)
    shade = (62, 44, 36) if dark else (242, 216, 166)
    mixed = tuple(round(part * (0.55 + 0.55 * light) + chance.between(-9, 9)) for part in shade)
    long = size * chance.between(0.7, 1.4)
    wide = size * (0.26 if y < 130 else 0.34)
    end = (x + long * math.cos(turn), y + long * math.sin(turn))
    _touch(easel, _stroke(at, end, wide, chance.between(-0.6, 0.6)), mixed, 0.62 if dark else 0.42, mask)


def _touch(easel: _Easel, shape: list[Point], colour: Sequence[int], cover: float, mask: Field | None = None) -> None:
    """A small touch: only its own corner of the canvas is worked on."""
    xs, ys = [x * SCALE for x, _ in shape], [y * SCALE for _, y in shape]
    left, top = max(0, math.floor(min(xs)) - 3), max(0, math.floor(min(ys)) - 3)
    right, bottom = min(easel.size[0], math.ceil(max(xs)) + 4), min(easel.size[1], math.ceil(max(ys)) + 4)
    if left >= right or top >= bottom:
        return
    image = Image.new("L", (right - left, bottom - top))
    ImageDraw.Draw(image).polygon([(x - left, y - top) for x, y in zip(xs, ys, strict=True)], fill=255)
    part = np.asarray(image.filter(ImageFilter.GaussianBlur(1.2)), np.float64)[..., None] / 255 * cover
    if mask is not None:
        part = part * mask[top:bottom, left:right, None]
    spot = easel.light[top:bottom, left:right]
    easel.light[top:bottom, left:right] = spot * (1 - part) + np.asarray(colour, np.float64) * part


def _face(easel: _Easel) -> None:
    """The long bill, the eye and the pale brow."""
    upper, lower, middle = [], [], []
    for step in range(41):
        part = step / 40
        x, y = _bent(part)
        ahead, behind = _bent(min(part + 0.01, 1)), _bent(max(part - 0.01, 0))
        length = math.hypot(ahead[0] - behind[0], ahead[1] - behind[1])
        nx, ny = -(ahead[1] - behind[1]) / length, (ahead[0] - behind[0]) / length
        half = 4.6 * (1 - part) ** 0.9 + 1.0
        upper.append((x + nx * half, y + ny * half))
        lower.append((x - nx * half, y - ny * half))
        middle.append((x, y))
    if upper[0][1] > lower[0][1]:
        upper, lower = lower, upper
    bill = easel.mask([upper + lower[::-1]], 0.25)
    easel.lay(bill, (66, 50, 48))
    easel.lay(bill * easel.mask([middle[:26] + lower[25::-1]], 0.8), (176, 116, 92), 0.75)
    shine = [(x, y + 1.1) for x, y in upper]
    easel.lay(bill * easel.mask([upper + shine[::-1]], 0.35), (236, 208, 168), 0.7)
    easel.lay(bill * easel.mask([middle + [(x, y + 0.6) for x, y in middle[::-1]]], 0.2), (36, 28, 30), 0.8)
    x, y = EYE
    easel.lay(easel.mask([_stroke((134, 64), (176, 62), 4.4, -2.4)], 0.9), (250, 234, 196), 0.75)
    easel.lay(easel.mask([_stroke((132, 71), (148, 67), 2.6, 0.6)], 0.7), (66, 46, 40), 0.8)
    easel.lay(easel.mask([_ellipse(x, y, 5.3, 5.0)], 0.6), (252, 238, 206), 0.75)
    easel.lay(easel.mask([_ellipse(x, y, 4.4, 4.2)], 0.3), (44, 28, 24))
    easel.lay(easel.mask([_ellipse(x + 0.4, y + 1.4, 3.0, 2.0)], 0.5), (122, 72, 40), 0.8)
    easel.lay(easel.mask([_ellipse(x, y, 2.4, 2.4)], 0.2), (12, 10, 12))
    easel.lay(easel.mask([_ellipse(x - 1.5, y - 1.6, 1.1, 1.0)], 0.15), (255, 252, 240))


def _before(easel: _Easel) -> None:
    """A few reeds between us and the bird, at the sides and low."""
    chance = Chance(77)
    for _ in range(24):
        x = chance.between(-6, 84) if chance.next() < 0.6 else chance.between(244, 294)
        lean = chance.between(-20, 20)
        top = chance.between(96, 176) if x < 200 else chance.between(60, 150)
        warm = chance.next() < 0.5
        soft = chance.between(0.3, 1.4)
        colour = (206, 172, 96) if warm else (58, 72, 44)
        easel.lay(easel.mask([_stroke((x, 230), (x + lean, top), 4.2, lean * 0.2)], soft), colour, 0.9)
        easel.lay(
            easel.mask([_stroke((x - 0.9, 230), (x + lean - 0.5, top), 1.2, lean * 0.2)], soft), (248, 222, 150), 0.5
        )


def portrait_light() -> npt.NDArray[np.int64]:
    """The painting in full colour, (192, 288, 3), 0 to 255."""
    easel = _Easel(WIDE, PORTRAIT_HIGH)
    _behind(easel)
    _body(easel, _rounded(OUTLINE))
    _face(easel)
    _before(easel)
    return easel.small()


INKS = 24
"""So many of the darkest colours are a ramp of their own, so that entry 16, the caption's ground, is truly dark."""


def _palette_of(light: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """256 colours of the 4-4-4 grid (0 to 15), from dark to light.

    Those that the painting has, a ramp of inks, and then the grid's colours that lie closest around the painting's: its
    dots lie between those, and so have more to choose from.
    """
    exact = light.reshape(-1, 3) / 17
    weights: dict[tuple[int, int, int], float] = {}
    for corner in np.ndindex(2, 2, 2):
        cell = np.floor(exact).astype(np.int64) + np.array(corner)
        part = np.abs(1 - np.array(corner) - (exact - np.floor(exact))).prod(axis=1)
        found, back = np.unique(cell.clip(0, 15), axis=0, return_inverse=True)
        sums = np.bincount(back.reshape(-1), weights=part)
        for colour, weight in zip(found.tolist(), sums.tolist(), strict=True):
            key = (colour[0], colour[1], colour[2])
            weights[key] = weights.get(key, 0) + weight
    inks = [(k // 12, (k + 3) // 8, (k + 6) // 7) for k in range(INKS)]
    chosen = dict.fromkeys(inks)
    for colour in sorted(weights, key=lambda one: (-round(weights[one], 3), one)):
        if len(chosen) < PALETTE:
            chosen.setdefault(colour)
    for place in range(PALETTE - len(chosen)):
        chosen.setdefault((15, 15 - place // 16, place % 16))
    colours = np.array(list(chosen), np.int64)
    return np.asarray(colours[np.argsort(colours @ np.array([30, 59, 11]), kind="stable")])


def _diffused(light: npt.NDArray[np.int64], colours: npt.NDArray[np.int64]) -> Plane:
    """Each dot the nearest colour; what is missing goes on to its neighbours, in whole sixteenths."""
    rest = light * 16
    high, wide, _ = light.shape
    plane = np.zeros((high, wide), np.uint8)
    steps = ((0, 1, 7), (1, -1, 3), (1, 0, 5), (1, 1, 1))
    for y in range(high):
        for x in range(wide):
            wanted = rest[y, x]
            nearest = int((((colours * 272) - wanted) ** 2).sum(axis=1).argmin())
            plane[y, x] = nearest
            missed = (wanted - colours[nearest] * 272) * 3 // 4
            for down, aside, part in steps:
                if y + down < high and 0 <= x + aside < wide:
                    rest[y + down, x + aside] += missed * part // 16
    return plane


def portrait() -> tuple[Plane, list[str]]:
    """The painting's dots and its 256 colours, dark to light: entries 0, 16, ... 240 are a ramp for the text."""
    light = portrait_light()
    colours = _palette_of(light)
    return _diffused(light, colours), [f"#{r:x}{g:x}{b:x}" for r, g, b in colours.tolist()]


def fringe(colours: Sequence[str]) -> Plane:
    """Reeds at the right of the caption, from dot 192 on, in the most reed-like colours of bank 4; they are the near layer's."""
    first = 4 * 16
    plane = np.full((24, WIDE), first, np.uint8)
    red, green, blue = np.array([[int(digit, 16) for digit in one[1:]] for one in colours[first : first + 16]]).T
    olive = np.argsort(abs(red - green) + abs(green - blue - 4), kind="stable")
    tones = [first + int(value) for value in olive if value][:3]
    chance = Chance(19)
    for _ in range(64):
        x = 206 + 84 * math.sqrt(chance.next())
        high = (x - 196) * 0.2 + chance.between(2, 5)
        lean = chance.between(-4, 4)
        entry = tones[chance.whole(0, 2)]
        for step in range(round(high)):
            put(plane, round(x + lean * (step / high) ** 2), 23 - step, entry)
            if step > high - 5:
                put(plane, round(x + lean * (step / high) ** 2) + 1, 23 - step, entry)
    return plane
