"""A sheet of sprites: cut, trimmed, found again, and put into the chip's sizes and pattern numbers.

Law: a cell of the sheet becomes one sprite, or none where nothing is drawn in it; its drawing is trimmed and stands in the
smallest of the chip's sizes that holds it, at the upper left. Two drawings are alike where a record's flips show one by the
other's image. Where each sprite has to stand to look as on the sheet is told in dots.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ..chip.model import Chip, SpritesTable
from ..files.problems import InputError, Problem
from ..images.pictures import Picture
from ..scene.contents.match import shown
from .colours.dither import dither
from .colours.lost import lost
from .colours.reach import Reach
from .colours.units import Colour, Coloured, Kept, Scheme, Units, channels, grid, palette_of
from .fitted import FittedSprites
from .layers import Kind
from .results import Placed, Report, loss
from .scenes.encode import colour_words, sprite_format
from .tiles import PLAIN, Numbers, Way, alike, cut

Dots = npt.NDArray[np.uint8]
Mask = npt.NDArray[np.bool_]
Size = tuple[int, int]


@dataclass(frozen=True)
class _Drawing:
    """What is drawn in a cell: where its trimmed box lies in the cell, and the chip's size that holds it."""

    cell: int
    left: int
    top: int
    across: int
    down: int
    size: Size


@dataclass(eq=False, repr=False)
class SheetJob:
    """A sheet on its way into sprites."""

    chip: Chip
    name: str
    picture: Picture
    cell: Size
    reach: Reach
    kind: Kind
    limit: int | None

    def wrong(self, place: str, message: str) -> InputError:
        """The error that says ``message`` of this sheet."""
        return InputError([Problem(self.picture.name, 0, place, message)])

    @property
    def sprites(self) -> SpritesTable:
        """The chip's sprite engine. Raises InputError where it has none."""
        if self.chip.sprites is None:
            raise self.wrong("sprites", f"{self.chip.name} has no sprites")
        return self.chip.sprites

    def prepare(self) -> None:
        """Cut and trim. Raises InputError where the sheet is not whole cells, or a drawing is larger than every size."""
        self.notes = list(self.picture.notes)
        self.asked, self.opaque = self.picture.rgb, self.picture.opaque
        lines, dots = self.opaque.shape
        across, down = self.cell
        if self.sprites.transparent is None:
            raise self.wrong("sprites", f"sprites of {self.chip.name} have no value that shows nothing")
        if lines % down or dots % across:
            raise self.wrong("sprites", f"the sheet must be a multiple of {across}x{down} dots, is {dots}x{lines}")
        self._see_ground()
        self.columns, self.rows = dots // across, lines // down
        self.tiles, self.shows = cut(self.asked, across, down), cut(self.opaque, across, down)
        self.drawings = [self._trimmed(at) for at in range(len(self.tiles)) if self.shows[at].any()]
        if not self.drawings:
            raise self.wrong("sprites", "nothing is drawn on the sheet: every dot is transparent")
        self._find()

    def _see_ground(self) -> None:
        """A sheet without transparent dots: the colour that all four corners have is the ground."""
        corners = self.asked[[0, 0, -1, -1], [0, -1, 0, -1]]
        if self.opaque.all() and (corners == corners[0]).all():
            red, green, blue = corners[0].tolist()
            self.opaque = (self.asked != corners[0]).any(axis=2)
            self.notes.append(
                f"no dot was transparent: the corners' colour, #{red:02x}{green:02x}{blue:02x}, is the ground"
            )

    def _trimmed(self, cell: int) -> _Drawing:
        shows = self.shows[cell]
        lines, dots = np.flatnonzero(shows.any(axis=1)), np.flatnonzero(shows.any(axis=0))
        left, top = int(dots[0]), int(lines[0])
        across, down = int(dots[-1]) - left + 1, int(lines[-1]) - top + 1
        fields = self.sprites.fields
        sizes = self.sprites.sizes if fields.size is not None else self.sprites.sizes[:1]
        holding = [size for size in sizes if size[0] >= across and size[1] >= down]
        if not holding:
            known = ", ".join(f"{wide}x{high}" for wide, high in sizes)
            place = f"column {cell % self.columns}, row {cell // self.columns}"
            raise self.wrong("sprites", f"the drawing at {place} must fit one of {known}, has {across}x{down} dots")
        best = min(holding, key=lambda size: (size[0] * size[1], sizes.index(size)))
        return _Drawing(cell, left, top, across, down, best)

    def _ways(self) -> list[Way]:
        layout = self.sprites.fields.layout
        names = [name for name in ("flip_x", "flip_y") if name in layout]
        found: list[Way] = [
            {name: number >> at & 1 for at, name in enumerate(names)} for number in range(1 << len(names))
        ]
        return sorted(found, key=lambda way: sum(way.values()))

    def _find(self) -> None:
        """The images that are wanted, and by which of them, flipped in which way, each drawing is shown."""
        known: dict[tuple[Size, bytes], tuple[int, Way]] = {}
        self.images: list[npt.NDArray[Any]] = []
        self.of: list[tuple[int, Way]] = []
        options = self._ways()
        for one in self.drawings:
            lines, dots = slice(one.top, one.top + one.down), slice(one.left, one.left + one.across)
            shows = self.shows[one.cell][lines, dots, None]
            image = np.concatenate([np.where(shows, self.tiles[one.cell][lines, dots], 0), shows], axis=2)
            key = ((one.across, one.down), image.tobytes())
            if key not in known:
                for way in options:
                    drawn = np.ascontiguousarray(shown(image[None], way)).tobytes()
                    known.setdefault((key[0], drawn), (len(self.images), way))
                self.images.append(image)
            self.of.append(known[key])

    def units(self) -> Units:
        """The images, each of which shows one bank."""
        dots = max(image.shape[0] * image.shape[1] for image in self.images)
        rgb, opaque = np.zeros((len(self.images), dots, 3), np.uint8), np.zeros((len(self.images), dots), np.bool_)
        for at, image in enumerate(self.images):
            flat = image.reshape(-1, 4)
            rgb[at, : len(flat)], opaque[at, : len(flat)] = flat[:, :3], flat[:, 3] == 1
        weight = np.bincount([image for image, _ in self.of], minlength=len(self.images))
        return Units(rgb, opaque, weight, self.reach, "sprites")

    def over(self) -> bool:
        """Whether there are more images than are allowed; never: that is an error, told as they are counted."""
        return False

    def settle(self, coloured: Coloured, colours: Mapping[int, Colour]) -> None:
        """Take what became of the images. Raises InputError where they are more than there are numbers."""
        self.reach, self.colours, self.view, self.why = coloured.reach, colours, coloured.view, coloured.why
        self.values: list[Dots] = []
        clear = self.sprites.transparent or 0
        for at, image in enumerate(self.images):
            down, across = image.shape[:2]
            value = coloured.value[at, : down * across].reshape(down, across)
            if self.kind != "none" and not coloured.exact:
                value = self._dithered(image, int(self.view[at]))
            self.values.append(np.where(image[..., 3] == 1, value, clear).astype(np.uint8))
        self._number()

    def _dithered(self, image: npt.NDArray[Any], view: int) -> Numbers:
        pairs = palette_of(self.reach.views[view], self.colours)
        shades = np.array([shade for _, shade in pairs], np.uint8).reshape(-1, 3)
        opaque = image[..., 3] == 1
        which = dither(image[..., :3], opaque, np.zeros(opaque.shape, np.int64), [shades], self.kind)
        return np.array([value for value, _ in pairs], np.int64)[np.where(opaque, which, 0)]

    def _number(self) -> None:
        """Put the images into boxes of the chip's sizes, and number those that are unlike."""
        sprites = self.sprites
        sizes = [self.drawings[[image for image, _ in self.of].index(at)].size for at in range(len(self.images))]
        self.boxes: dict[Size, Dots] = {}
        self.first: dict[Size, int] = {}
        self.place: dict[int, int] = {}
        number = 0
        for size in sorted(set(sizes), key=sprites.sizes.index):
            mine = [at for at, one in enumerate(sizes) if one == size]
            boxes = np.full((len(mine), size[1], size[0]), sprites.transparent, np.uint8)
            for box, at in zip(boxes, mine, strict=True):
                value = self.values[at]
                box[: value.shape[0], : value.shape[1]] = value
            found = alike(boxes, PLAIN)
            self.boxes[size], self.first[size] = boxes[found.first], number
            self.place.update(zip(mine, found.of.tolist(), strict=True))
            number += -(-sprite_format(sprites, size).size_bytes // sprites.step_bytes) * len(found.first)
        self.numbers = number
        count = sum(map(len, self.boxes.values()))
        if self.limit is not None and count > self.limit:
            raise self.wrong("max_tiles", f"must be at most {self.limit} unlike sprites, are {count}")
        if number > sprites.fields.pattern.top + 1:
            told = f"pattern numbers of sprites go from 0 to {sprites.fields.pattern.top}"
            raise self.wrong("sprites", f"{told}, {count} unlike sprites need {number} of them")

    def fitted(self, kept: Kept, scheme: Scheme) -> FittedSprites:
        """The result."""
        placed, banks = [], np.full(self.rows * self.columns, -1, np.int64)
        rgb = np.zeros_like(self.asked)
        for one, (image, way) in zip(self.drawings, self.of, strict=True):
            view = self.reach.views[int(self.view[image])]
            flip_x, flip_y = way.get("flip_x", 0), way.get("flip_y", 0)
            dx = one.left - flip_x * (one.size[0] - one.across)
            dy = one.top - flip_y * (one.size[1] - one.down)
            placed.append(Placed(one.cell, one.size, self.place[image], flip_x, flip_y, view.bank, dx, dy))
            banks[one.cell] = view.bank
            self._draw(rgb, one, shown(self.values[image][None], way)[0], dict(palette_of(view, self.colours)))
        used = {int(view) for view in np.unique(self.view)}
        shows = set()
        for at in used:
            view = self.reach.views[at]
            mine = [value for value, own in zip(self.values, self.view.tolist(), strict=True) if own == at]
            values = np.unique(np.concatenate([value.reshape(-1) for value in mine]))
            shows |= {entry for value, entry in zip(view.values, view.entries, strict=True) if value in values}
        told = lost(grid(self.asked, channels(self.chip)), rgb, self.opaque, self.cell, "sprite", self.why)
        reached = {entry for view in self.reach.views for entry in view.entries}
        report = Report(
            name=self.name,
            target="sprites",
            size=(self.asked.shape[1], self.asked.shape[0]),
            things="sprites",
            there=len(self.drawings),
            asked=len(self.images),
            used=self.numbers,
            limit=self.sprites.fields.pattern.top + 1,
            banks=len(used),
            banks_there=len(self.reach.views),
            together=scheme.pages,
            bound=scheme.bound,
            entries=len(shows),
            free=len(reached - set(self.colours) - set(kept)),
            loss=loss(self.asked, rgb, self.opaque),
            notes=(*self.notes, told) if told else tuple(self.notes),
        )
        return FittedSprites(
            chip=self.chip,
            name=self.name,
            target="sprites",
            asked=self.picture.rgb,
            rgb=rgb,
            opaque=self.opaque,
            banks=banks.reshape(self.rows, self.columns),
            palette=colour_words(self.chip.palette, self.colours),
            registers={},
            report=report,
            cell=self.cell,
            images=self.boxes,
            first=self.first,
            sprites=tuple(placed),
        )

    def _draw(self, rgb: Dots, one: _Drawing, value: Dots, shades: Mapping[int, Colour]) -> None:
        table = np.zeros((256, 3), np.uint8)
        for number, shade in shades.items():
            table[number] = shade
        top = one.cell // self.columns * self.cell[1] + one.top
        left = one.cell % self.columns * self.cell[0] + one.left
        shows = value != self.sprites.transparent
        rgb[top : top + one.down, left : left + one.across][shows] = table[value[shows]]
