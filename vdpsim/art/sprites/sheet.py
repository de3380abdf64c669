"""A sheet of sprites on its way into the chip's sizes and pattern numbers: what is drawn on it, cell by cell, and found again.

Law: a cell of the sheet becomes one sprite with its drawing trimmed, or none where nothing is drawn in it. Two drawings are alike
where a record's flips show one by the other's image; of several ways the plainest wins, then the earlier image. Where each sprite
has to stand to look as on the sheet is told in dots. Knows no file.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ...chip.model import SpritesTable
from ...scene.contents.match import shown
from ..arrays import Block, Dots, Mask, Numbers, Size, Way
from ..colours.units import Coloured, Scheme, Units
from ..fitted import FittedSprites
from ..job import FittingJob, PatternCount
from ..results import Placed
from ..tiles import cut
from .numbering import NumberedImages, numbered, sizes_of, smallest


@dataclass(frozen=True)
class Drawing:
    """What is drawn in a cell: the box around its opaque dots, and where that lies in the cell."""

    cell: int
    left: int
    top: int
    across: int
    down: int

    @property
    def box(self) -> tuple[slice, slice]:
        """Its lines and dots in the cell."""
        return slice(self.top, self.top + self.down), slice(self.left, self.left + self.across)

    @classmethod
    def trimmed(cls, cell: int, shows: Mask) -> Drawing:
        """What is drawn in ``cell``, whose opaque dots are ``shows`` (down, across), some at least."""
        lines, dots = np.flatnonzero(shows.any(axis=1)), np.flatnonzero(shows.any(axis=0))
        left, top = int(dots[0]), int(lines[0])
        return cls(cell, left, top, int(dots[-1]) - left + 1, int(lines[-1]) - top + 1)

    def image(self, rgb: Dots, shows: Mask) -> Block:
        """Its dots (down, across, 4) in the cell's ``rgb`` and ``shows``: colour, 0 where transparent, and opaque or not."""
        opaque = shows[self.box][..., None]
        return np.concatenate([np.where(opaque, rgb[self.box], 0), opaque], axis=2)


def flips(layout: Sequence[str]) -> list[Way]:
    """Every setting of the flips that a record's ``layout`` has, the plainest first."""
    names = [name for name in ("flip_x", "flip_y") if name in layout]
    found = [{name: number >> at & 1 for at, name in enumerate(names)} for number in range(1 << len(names))]
    return sorted(found, key=lambda way: sum(way.values()))


def unlike(images: Sequence[Block], options: Sequence[Way]) -> tuple[list[int], list[tuple[int, Way]]]:
    """The places of the ``images`` that no earlier one shows, and of each image which of those shows it, in which way."""
    known: dict[tuple[Size, bytes], tuple[int, Way]] = {}
    first: list[int] = []
    of: list[tuple[int, Way]] = []
    for at, image in enumerate(images):
        size = image.shape[1], image.shape[0]
        key = size, image.tobytes()
        if key not in known:
            for way in options:
                drawn = np.ascontiguousarray(shown(image[None], way)).tobytes()
                known.setdefault((size, drawn), (len(first), way))
            first.append(at)
        of.append(known[key])
    return first, of


@dataclass(eq=False, repr=False, kw_only=True)
class SheetJob(FittingJob):
    """A sheet, the dots of each of its cells across and down, and at most how many unlike sprites it may have."""

    sprites: SpritesTable
    cell_size: Size
    limit: int | None

    def __post_init__(self) -> None:
        """Raise InputError where the sheet is not whole cells, is empty, or a drawing is larger than every size."""
        super().__post_init__()
        self.cell, self.thing = self.cell_size, "sprite"
        self._check_shape()
        self._see_ground()
        across, down = self.cell
        self.rows, self.columns = self.opaque.shape[0] // down, self.opaque.shape[1] // across
        shows = cut(self.opaque, across, down)
        self.drawings = [Drawing.trimmed(at, one) for at, one in enumerate(shows) if one.any()]
        if not self.drawings:
            raise self.wrong("sprites", "nothing is drawn on the sheet: every dot is transparent")
        self.sizes = [self._size(one) for one in self.drawings]
        self._find(cut(self.asked, across, down), shows)

    def _check_shape(self) -> None:
        lines, dots = self.opaque.shape
        across, down = self.cell
        if self.sprites.transparent is None:
            raise self.wrong("sprites", f"sprites of {self.chip.name} have no value that shows nothing")
        if lines % down or dots % across:
            raise self.wrong("sprites", f"the sheet must be a multiple of {across}x{down} dots, is {dots}x{lines}")

    def _see_ground(self) -> None:
        """A sheet without transparent dots: the colour that all four corners have is the ground."""
        corners = self.asked[[0, 0, -1, -1], [0, -1, 0, -1]]
        if self.opaque.all() and (corners == corners[0]).all():
            red, green, blue = corners[0].tolist()
            self.opaque = (self.asked != corners[0]).any(axis=2)
            self.notes.append(
                f"no dot was transparent: the corners' colour, #{red:02x}{green:02x}{blue:02x}, is the ground"
            )

    def _size(self, one: Drawing) -> Size:
        found = smallest(self.sprites, one.across, one.down)
        if found is None:
            known = ", ".join(f"{wide}x{high}" for wide, high in sizes_of(self.sprites))
            place = f"column {one.cell % self.columns}, row {one.cell // self.columns}"
            told = f"the drawing at {place} must fit one of {known}, has {one.across}x{one.down} dots"
            raise self.wrong("sprites", told)
        return found

    def _find(self, tiles: Dots, shows: Mask) -> None:
        """The images that are wanted, and by which of them, flipped in which way, each drawing is shown."""
        images = [one.image(tiles[one.cell], shows[one.cell]) for one in self.drawings]
        first, self.of = unlike(images, flips(tuple(self.sprites.fields.layout)))
        self.images = [images[at] for at in first]
        self.image_sizes = [self.sizes[at] for at in first]

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

    def settle(self, coloured: Coloured, scheme: Scheme) -> None:
        """Take what became of the images. Raises InputError where they are more than there are numbers."""
        self.take(coloured, scheme, 1 << self.sprites.bits_per_dot)
        self.view = coloured.view
        self.values = [self._values(at, image, coloured) for at, image in enumerate(self.images)]
        self.numbered = numbered(self.sprites, self.values, self.image_sizes)
        self._check_count(self.numbered)

    def _values(self, at: int, image: Block, coloured: Coloured) -> Dots:
        """The values (down, across) of an image."""
        opaque, clear = image[..., 3] == 1, self.sprites.transparent or 0
        if self.dithers:
            shades, one_view = self.shades.only(int(self.view[at])), np.zeros(opaque.shape, np.int64)
            value = shades.dithered(image[..., :3], opaque, one_view, self.dithering, clear)
        else:
            value = coloured.value[at, : opaque.size].reshape(opaque.shape)
        return np.where(opaque, value, clear).astype(np.uint8)

    def _check_count(self, found: NumberedImages) -> None:
        top = self.sprites.fields.top_number
        if self.limit is not None and found.count > self.limit:
            raise self.wrong("max_tiles", f"must be at most {self.limit} unlike sprites, are {found.count}")
        if found.numbers > top + 1:
            told = f"pattern numbers of sprites go from 0 to {top}"
            raise self.wrong("sprites", f"{told}, {found.count} unlike sprites need {found.numbers} of them")

    def fitted(self, kept: Collection[int]) -> FittedSprites:
        """The result."""
        placed, banks = [], np.full(self.rows * self.columns, -1, np.int64)
        rgb = np.zeros_like(self.asked)
        for one, size, (image, way) in zip(self.drawings, self.sizes, self.of, strict=True):
            placed.append(self._placed(one, size, image, way))
            banks[one.cell] = placed[-1].bank
            self._draw(rgb, one, shown(self.values[image][None], way)[0], int(self.view[image]))
        view, value = self._dots_shown()
        report = self.report(rgb, view, value, self.opaque, kept, self._count())
        return FittedSprites(
            **self.result(rgb, report, banks.reshape(self.rows, self.columns), {}),
            cell=self.cell,
            images=self.numbered.boxes,
            first=self.numbered.first,
            sprites=tuple(placed),
        )

    def _placed(self, one: Drawing, size: Size, image: int, way: Mapping[str, int]) -> Placed:
        """The sprite of a drawing: a flipped image lies at the other side of its box, so the box stands further out."""
        flip_x, flip_y = way.get("flip_x", 0), way.get("flip_y", 0)
        dx, dy = one.left - flip_x * (size[0] - one.across), one.top - flip_y * (size[1] - one.down)
        bank = self.reach.views[int(self.view[image])].bank
        return Placed(one.cell, size, self.numbered.place[image], flip_x, flip_y, bank, dx, dy)

    def _draw(self, rgb: Dots, one: Drawing, value: Dots, view: int) -> None:
        """Draw one drawing's ``value`` on the sheet as the chip shows it."""
        top = one.cell // self.columns * self.cell[1] + one.top
        left = one.cell % self.columns * self.cell[0] + one.left
        shows = value != self.sprites.transparent
        rgb[top : top + one.down, left : left + one.across][shows] = self.shades.of(view, value[shows])

    def _dots_shown(self) -> tuple[Numbers, Numbers]:
        """View and value (n,) of every dot that the images show."""
        shows = [image[..., 3] == 1 for image in self.images]
        value = np.concatenate([value[opaque] for value, opaque in zip(self.values, shows, strict=True)])
        return np.repeat(self.view, [np.count_nonzero(opaque) for opaque in shows]), value.astype(np.int64)

    def _count(self) -> PatternCount:
        return PatternCount(
            things="sprites",
            there=len(self.drawings),
            asked=len(self.images),
            used=self.numbered.numbers,
            limit=self.sprites.fields.top_number + 1,
            bound=self.scheme.bound,
        )
