"""A frame as pictures: itself, each source alone, and the map of who shows where.

Law: a picture follows from the Result alone, and the same Result gives the
same bytes with the same release of Pillow. A PNG is paletted, and its dots are then the chip's own entry numbers, wherever
each entry has one colour all over the frame and none is above 255; else it is RGB. Files are written whole or not at all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image

from .. import files
from ..door.given import flag, instance, picture_scale
from ..door.given import path as path_of
from ..engine.frame import Result
from ..images.png import larger, png_bytes

LARGEST_SCALE = 16
"""The most picture dots across and down that one dot of the frame can become."""

SOURCE_COLOURS = (
    (86, 86, 86),
    (86, 180, 233),
    (0, 158, 115),
    (240, 228, 66),
    (230, 159, 0),
    (204, 121, 167),
    (0, 114, 178),
    (213, 94, 0),
    (170, 68, 153),
    (255, 255, 255),
)
"""Colours of the source map, in the order of ``Result.sources``: grey for the backdrop, white for a tenth."""

Dots = npt.NDArray[np.uint8]


PARTS = tuple(one.name for one in fields(Result))


@dataclass(frozen=True, repr=False)
class Frame(Result):
    """A Result that shows itself.

    ``border``: dots at the left and right, lines above and below the picture; of a chip whose picture has several sizes they
    are wider around a smaller one, so that all frames with their borders are equally large. ``blank``: how many slots of a
    picture's line are over before its dot 0, on a chip with a time table. ``origin``: what it was drawn from, for whoever
    explains it; None where nobody said so.
    """

    border: tuple[int, int, int, int] = (0, 0, 0, 0)
    blank: int = 0
    origin: Any = None

    @classmethod
    def of(
        cls, result: Result, *, border: tuple[int, int, int, int] = (0, 0, 0, 0), blank: int = 0, origin: object = None
    ) -> Frame:
        """The Frame of ``result``; the arrays are the same, not copies."""
        return cls(**{name: getattr(result, name) for name in PARTS}, border=border, blank=blank, origin=origin)

    def image(self, scale: int = 1, border: bool = False) -> Image.Image:  # noqa: FBT001, FBT002 - frame.image(3, True) reads well
        """The frame as a Pillow image, each dot ``scale`` x ``scale`` (1 to 16), with the border around it where asked.

        Mode ``P`` with the chip's entries as palette, or ``RGB``: see the module's law. Raises ValueError for another scale, or
        for more than 67,108,864 dots, or where no line of the picture was drawn.
        """
        if not self.height:
            raise ValueError("an image needs a line of the picture at least; this frame's lines all lie in blanking")
        left, right, top, bottom = self.border if flag("border", border) else (0, 0, 0, 0)
        wide, high = self.width + left + right, self.height + top + bottom
        scale = picture_scale(scale, LARGEST_SCALE, wide, high)
        table = _one_palette(self.indices, self.rgb)
        dots: npt.NDArray[Any] = self.rgb if table is None else self.indices.astype(np.uint8)
        if border:
            table, dots = self._framed(table, dots)
        image = Image.fromarray(np.ascontiguousarray(larger(dots, scale)))
        if table is not None:
            image.putpalette(table.tobytes(), "RGB")
        return image

    def png(self, scale: int = 1, border: bool = False) -> bytes:  # noqa: FBT001, FBT002 - as image()
        """The bytes of ``image(scale, border)`` as a PNG file."""
        return png_bytes(self.image(scale, border))

    def save(self, path: str | Path, scale: int = 1, border: bool = False) -> None:  # noqa: FBT001, FBT002 - as image()
        """Write the PNG file ``path``, whole or not at all, over whatever file is there. Raises OSError as the system does."""
        files.write(path_of("path", path), self.png(scale, border))

    def __getstate__(self) -> dict[str, Any]:
        """What is pickled: all but where the frame came from, which may be a function of a test's own."""
        return {**vars(self), "origin": None}

    def __repr__(self) -> str:
        lines = f"lines {self.first} to {self.first + self.height - 1}"
        return f"<Frame {self.frame}: {lines} of {self.width} dots, {self.log.total} fetches>"

    def __array__(self, dtype: npt.DTypeLike | None = None, copy: bool | None = None) -> npt.NDArray[Any]:  # noqa: FBT001 - numpy's
        """The colours, uint8 (lines, dots, 3): what ``numpy.asarray(frame)`` gives."""
        dots: npt.NDArray[Any] = self.rgb if dtype is None else self.rgb.astype(dtype, copy=False)
        if copy is False and dots is not self.rgb:
            raise ValueError(f"a Frame is uint8: as {np.dtype(dtype)} it must be copied")
        return dots.copy() if copy and dots is self.rgb else dots

    def _repr_png_(self) -> bytes | None:
        return self.png() if self.height else None

    def _framed(self, table: Dots | None, dots: npt.NDArray[Any]) -> tuple[Dots | None, npt.NDArray[Any]]:
        """The dots with the border around them, and the palette with the border's colours."""
        left, right, top, _ = self.border
        above = top if self.first == 0 else 0
        colours = np.concatenate([np.repeat(self.border_rgb[:1], above, axis=0), self.border_rgb])
        if table is not None:
            entries = _with_colours(table, colours)
            if entries is None:
                table, dots = None, self.rgb
            else:
                table, colours = entries
        wide = np.repeat(colours[:, np.newaxis], left + dots.shape[1] + right, axis=1)
        wide[above : above + self.height, left : left + dots.shape[1]] = dots
        return table, wide


def on_canvas(frame: Frame, canvas: tuple[int, int]) -> Dots:
    """The frame in the middle of a ``canvas``, width and height, with its border as far as that reaches; uint8 (lines, dots, 3).

    Where what is over is odd, a dot more is at the right and a line more below, as ``FrameTable.at_size`` has it.
    """
    if canvas == (frame.width, frame.height):
        return frame.rgb
    dots = np.asarray(frame.image(1, border=True).convert("RGB"))
    left = frame.border[0] - (canvas[0] - frame.width) // 2
    top = frame.border[2] - (canvas[1] - frame.height) // 2
    return dots[top : top + canvas[1], left : left + canvas[0]]


def views(frame: Result, scale: int = 1) -> dict[str, Image.Image]:
    """Each source alone, by its name, and ``source-map``: who shows where, with a legend.

    A source is RGBA: where it shows nothing its dots are transparent.

    Each dot is ``scale`` x ``scale`` (1 to 16). Raises ValueError for another scale, for more than 67,108,864 dots, or where the
    frame was drawn without its planes.
    """
    return dict(each_view(frame, scale))


def each_view(frame: Result, scale: int = 1) -> Iterator[tuple[str, Image.Image]]:
    """What ``views`` gives, one after the other, so that they need not be held all at once. Raises as ``views`` does."""
    scale = _scale(frame, scale)
    if not frame.planes:
        raise ValueError("the frame was drawn without its planes: draw it with planes=True")
    for name, plane in frame.planes.items():
        opaque = plane.opaque[..., np.newaxis]
        alone = np.concatenate([plane.rgb * opaque, opaque * np.uint8(255)], axis=2)
        yield name, Image.fromarray(larger(alone, scale))
    yield "source-map", source_map(frame, scale)


def source_map(frame: Result, scale: int = 1) -> Image.Image:
    """Which source shows at each dot, a colour a source, with a legend below that gives each one's share of the dots.

    Each dot is ``scale`` x ``scale`` (1 to 16, at most 67,108,864 dots; else ValueError); the legend grows half as fast.
    """
    from PIL import ImageDraw  # noqa: PLC0415 - a third of what Pillow takes to load, for the legend alone

    from ..images.paper import INK, LETTER, LINE, PAPER, letter_size, write_lines  # noqa: PLC0415 - as above

    scale = _scale(frame, scale)
    size = letter_size(scale)
    colours = np.array([SOURCE_COLOURS[number % len(SOURCE_COLOURS)] for number in range(len(frame.sources))], np.uint8)
    picture = Image.fromarray(larger(colours[frame.source], scale))
    told = [f"frame {frame.frame}: who shows"]
    for number, name in enumerate(frame.sources):
        share = 100 * np.count_nonzero(frame.source == number) / max(frame.source.size, 1)
        told.append(f"{name} {share:.1f} %")
    wide = max(picture.width, (20 + LETTER * max(map(len, told))) * size)
    legend = Image.new("RGB", (wide, picture.height + (LINE * len(told) + 4) * size), PAPER)
    legend.paste(picture, (0, 0))
    pen = ImageDraw.Draw(legend)
    write_lines(pen, (4 * size, picture.height + 2 * size), told[:1], INK, size=size)
    write_lines(pen, (19 * size, picture.height + (2 + LINE) * size), told[1:], INK, size=size)
    for number, colour in enumerate(colours.tolist()):
        top = picture.height + (3 + LINE * (number + 1)) * size
        box = (4 * size, top, 14 * size - 1, top + 10 * size - 1)
        pen.rectangle(box, fill=tuple(colour), outline=INK)
    return legend


def _scale(frame: Result, scale: int) -> int:
    """``scale``, where a picture of ``frame`` can have it. Raises TypeError or ValueError."""
    instance("frame", frame, Result, "a Frame")
    return picture_scale(scale, LARGEST_SCALE, frame.width, frame.height)


def _one_palette(indices: npt.NDArray[Any], rgb: Dots) -> Dots | None:
    """The colour of each entry up to the highest that shows; None where some entry has two, or one is above 255."""
    top = int(indices.max(initial=0))
    if top > 255:
        return None
    table = np.zeros((top + 1, 3), np.uint8)
    table[indices] = rgb
    return table if np.array_equal(table[indices], rgb) else None


def _with_colours(table: Dots, colours: Dots) -> tuple[Dots, Dots] | None:
    """``table`` with what it lacks of ``colours`` (n, 3) added, and each colour's place in it; None where they are too many."""
    rows = [tuple(row) for row in table.tolist()]
    places: dict[tuple[int, ...], int] = {}
    for colour in map(tuple, colours.tolist()):
        if colour not in places:
            if colour not in rows:
                rows.append(colour)
            places[colour] = rows.index(colour)
    if len(rows) > 256:
        return None
    return np.array(rows, np.uint8), np.array([places[tuple(colour)] for colour in colours.tolist()], np.uint8)
