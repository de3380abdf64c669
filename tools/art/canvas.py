"""What pictures are drawn on: planes of palette entries, chance that is always the same, and PNG files.

Law: a plane is uint8 (lines, dots) of palette entries; everything follows from its arguments alone, so that the same script
draws the same dots on any machine. Knows no motif.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt
from PIL import Image

Plane = npt.NDArray[np.uint8]
Field = npt.NDArray[np.float64]

ENTRIES = 256
"""Of a palette, at most."""

_ORDER = np.array([[0, 8, 2, 10], [12, 4, 14, 6], [3, 11, 1, 9], [15, 7, 13, 5]])


class Chance:
    """A small generator of its own (splitmix64), so that no library's release changes a picture."""

    def __init__(self, seed: int) -> None:
        self.state = seed * 0x9E3779B97F4A7C15 & (1 << 64) - 1

    def next(self) -> float:
        """A number from 0 up to 1."""
        self.state = self.state + 0x9E3779B97F4A7C15 & (1 << 64) - 1
        mixed = self.state
        mixed = (mixed ^ mixed >> 30) * 0xBF58476D1CE4E5B9 & (1 << 64) - 1
        mixed = (mixed ^ mixed >> 27) * 0x94D049BB133111EB & (1 << 64) - 1
        return ((mixed ^ mixed >> 31) >> 11) / (1 << 53)

    def between(self, low: float, high: float) -> float:
        """A number from ``low`` up to ``high``."""
        return low + (high - low) * self.next()

    def whole(self, low: int, high: int) -> int:
        """A whole number from ``low`` to ``high``."""
        return low + int(self.next() * (high - low + 1))


def smooth_noise(count: int, knots: int, seed: int) -> Field:
    """``count`` values from -1 to 1 that go smoothly through ``knots`` chance values and end as they begin."""
    chance = Chance(seed)
    values = np.array([chance.between(-1, 1) for _ in range(knots)])
    place = np.arange(count) * knots / count
    left = place.astype(int)
    part = place - left
    part = part * part * (3 - 2 * part)
    found: Field = values[left % knots] * (1 - part) + values[(left + 1) % knots] * part
    return found


def ridge(count: int, knots: Sequence[int], weights: Sequence[float], seed: int) -> Field:
    """Several smooth noises added, coarse to fine: a line of hills, or of tree tops."""
    total = np.zeros(count)
    for number, (one, weight) in enumerate(zip(knots, weights, strict=True)):
        total += weight * smooth_noise(count, one, seed + 977 * number)
    return total


def noise(high: int, wide: int, rows: int, columns: int, seed: int) -> Field:
    """A plane of smooth noise from -1 to 1 with ``rows`` x ``columns`` knots that goes round from right to left."""
    chance = Chance(seed)
    values = np.array([[chance.between(-1, 1) for _ in range(columns)] for _ in range(rows + 2)])
    down, across = np.arange(high) * rows / high, np.arange(wide) * columns / wide
    top, left = down.astype(int), across.astype(int)
    v, u = (down - top)[:, None], (across - left)[None, :]
    v, u = v * v * (3 - 2 * v), u * u * (3 - 2 * u)
    right = (left + 1) % columns
    upper = values[top][:, left] * (1 - u) + values[top][:, right] * u
    lower = values[top + 1][:, left] * (1 - u) + values[top + 1][:, right] * u
    found: Field = upper * (1 - v) + lower * v
    return found


def dithered(level: Field, ramp: Sequence[int], softness: float = 1.0) -> Plane:
    """Entries of ``ramp`` for levels 0 to len(ramp) - 1; between two of them a 4 x 4 pattern, as wide as ``softness``."""
    high, wide = level.shape
    threshold = (np.tile(_ORDER, (high // 4 + 1, wide // 4 + 1))[:high, :wide] + 0.5) / 16
    threshold = 0.5 + (threshold - 0.5) * softness
    place = np.clip(np.floor(level + threshold), 0, len(ramp) - 1).astype(int)
    found: Plane = np.array(ramp, np.uint8)[place]
    return found


def put(plane: Plane, x: int, y: int, entry: int) -> None:
    """One dot, where it lies on the plane."""
    if 0 <= y < plane.shape[0] and 0 <= x < plane.shape[1]:
        plane[y, x] = entry


def run(plane: Plane, x: int, y: int, length: int, entry: int, *, wrap: bool = False) -> None:
    """A row of ``length`` dots from ``x`` on; with ``wrap`` it goes on at the left edge."""
    if not 0 <= y < plane.shape[0]:
        return
    places = np.arange(x, x + length)
    places = places % plane.shape[1] if wrap else places[(places >= 0) & (places < plane.shape[1])]
    plane[y, places] = entry


def box(plane: Plane, x: int, y: int, wide: int, high: int, entry: int) -> None:
    """A filled rectangle."""
    plane[max(y, 0) : max(y + high, 0), max(x, 0) : max(x + wide, 0)] = entry


def line(plane: Plane, start: tuple[float, float], end: tuple[float, float], entry: int) -> None:
    """A straight line of single dots."""
    (x0, y0), (x1, y1) = start, end
    steps = max(1, round(max(abs(x1 - x0), abs(y1 - y0))))
    for step in range(steps + 1):
        put(plane, round(x0 + (x1 - x0) * step / steps), round(y0 + (y1 - y0) * step / steps), entry)


def inside(shape: tuple[int, int], corners: Sequence[tuple[float, float]]) -> npt.NDArray[np.bool_]:
    """Which dots' middles lie inside the polygon."""
    y, x = np.mgrid[: shape[0], : shape[1]] + 0.5
    found = np.zeros(shape, np.bool_)
    for (x0, y0), (x1, y1) in zip(corners, [*corners[1:], corners[0]], strict=True):
        crosses = (y0 > y) != (y1 > y)
        with np.errstate(divide="ignore", invalid="ignore"):
            at = (x1 - x0) * (y - y0) / (y1 - y0) + x0
        found ^= crosses & (x < at)
    return found


def oval(shape: tuple[int, int], x: float, y: float, across: float, down: float) -> npt.NDArray[np.bool_]:
    """Which dots' middles lie inside the oval around ``x``, ``y`` with these half axes."""
    v, u = np.mgrid[: shape[0], : shape[1]] + 0.5
    found: npt.NDArray[np.bool_] = ((u - x) / across) ** 2 + ((v - y) / down) ** 2 <= 1
    return found


def stamp(plane: Plane, image: Plane, x: int, y: int) -> None:
    """Lay the dots of ``image`` that are not 0 onto the plane."""
    high, wide = image.shape
    for v in range(high):
        for u in range(wide):
            if image[v, u]:
                put(plane, x + u, y + v, int(image[v, u]))


def from_digits(text: str) -> Plane:
    """A drawing in hex digits, a character a dot; ``.`` is 0."""
    rows = text.strip().split("\n")
    widest = max(map(len, rows))
    return np.array([[int(c, 16) if c != "." else 0 for c in row.ljust(widest, ".")] for row in rows], np.uint8)


def channels(colour: str) -> tuple[int, int, int]:
    """Red, green and blue of ``#rgb`` or ``#rrggbb``."""
    digits = colour[1:] if len(colour) == 7 else "".join(digit * 2 for digit in colour[1:])
    return int(digits[0:2], 16), int(digits[2:4], 16), int(digits[4:6], 16)


def save(path: Path, plane: Plane, colours: Sequence[str]) -> None:
    """The plane as a paletted PNG whose indices are the entries."""
    image = Image.fromarray(plane).convert("P")
    image.putdata(plane.reshape(-1).tolist())
    image.putpalette([channel for colour in colours for channel in channels(colour)])
    path.write_bytes(packed(image))


def packed(image: Image.Image) -> bytes:
    """A PNG file of the image, in the fewest bytes that any of zlib's strategies comes to; few colours become a palette."""
    if image.mode == "RGB" and image.getcolors(ENTRIES):
        image = image.convert("P", palette=Image.Palette.ADAPTIVE, colors=ENTRIES)
    found = []
    for strategy in range(4):
        file = io.BytesIO()
        image.save(file, "png", optimize=True, bits=8, compress_type=strategy)
        found.append(file.getvalue())
    return min(found, key=len)


def some(level: Field) -> npt.NDArray[np.bool_]:
    """Which dots are set when so large a part (0 to 1) of them shall be, in a pattern of 4 x 4."""
    high, wide = level.shape
    return level > (np.tile(_ORDER, (high // 4 + 1, wide // 4 + 1))[:high, :wide] + 0.5) / 16
