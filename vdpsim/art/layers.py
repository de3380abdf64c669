"""A picture on a layer: its tiles or its dots, coloured, merged where they are too many, and put into the layer's map.

Law: the picture lies at the layer's top left. Beyond it the layer shows nothing or, where no value shows nothing, the darkest
colour that the picture has. A pattern is used again in just the ways that the layer's cells have. Knows no file.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from ..chip.controls import registers, rest_values
from ..chip.model import BitmapMode, Chip, TilesMode
from ..files.problems import InputError, Problem
from ..images.pictures import Picture
from ..scene.contents.match import ways
from .colours.dither import dither
from .colours.lost import lost
from .colours.reach import Reach, rung_fields
from .colours.units import Colour, Coloured, Kept, Progress, Scheme, Units, channels, grid, palette_of
from .fitted import Fitted
from .merge import Merged, means_of, merge, nearest
from .results import Report, loss
from .scenes.encode import cell_words, colour_words
from .tiles import PLAIN, Alike, alike, cut, joined, turned

Dots = npt.NDArray[np.uint8]
Numbers = npt.NDArray[np.int64]
Kind = Literal["none", "ordered", "diffusion"]
Over = Literal["merge", "error"]

REFINED = 8
"""How often merged tiles and their patterns are suited to each other once the colours are known."""


def wrong(name: str, place: str, message: str) -> InputError:
    """The error that says ``message`` of the picture ``name``."""
    return InputError([Problem(name, 0, place, message)])


@dataclass(eq=False, repr=False)
class Job:
    """A picture on its way into a layer, and what is common to tiles and bitmaps."""

    chip: Chip
    name: str
    layer: str
    mode: TilesMode | BitmapMode
    picture: Picture
    reach: Reach
    kind: Kind

    def __post_init__(self) -> None:
        self.target = f"{self.layer}.{self.mode.name}"
        self.clear = self.mode.transparent if self.mode.transparent is not None else 0
        self.notes = list(self.picture.notes)
        self.asked, self.opaque = self.picture.rgb, self.picture.opaque
        if self.mode.transparent is None and not self.opaque.all():
            count = int((~self.opaque).sum())
            self.notes.append(f"{self.target} has no value that shows nothing: {count} transparent dots are black")
            self.opaque = np.ones_like(self.opaque)
        self.wanted = self.opaque
        self.cell, self.thing, self.why = (1, 1), "dot", ""

    def wrong(self, place: str, message: str) -> InputError:
        """The error that says ``message`` of this picture."""
        return wrong(self.picture.name, place, message)

    def shown(self, view: Numbers, value: Numbers, colours: Mapping[int, Colour]) -> Dots:
        """The colours (..., 3) of values in views, arrays of one shape; black where a value has none."""
        top = self.mode.top_value + 1
        table = np.zeros((len(self.reach.views), top, 3), np.uint8)
        for at, one in enumerate(self.reach.views):
            for number, shade in palette_of(one, colours):
                table[at, number] = shade
        found: Dots = table[view, value]
        return found

    def dithered(
        self, rgb: Dots, opaque: npt.NDArray[np.bool_], view: Numbers, colours: Mapping[int, Colour]
    ) -> Numbers:
        """Values of a picture whose dots have the views ``view``, all (lines, dots)."""
        palettes = [palette_of(one, colours) for one in self.reach.views]
        shades = [np.array([shade for _, shade in some], np.uint8).reshape(-1, 3) for some in palettes]
        which = dither(rgb, opaque, view, shades, self.kind)
        table = np.zeros((len(palettes), max(map(len, palettes), default=0) + 1), np.int64)
        for at, some in enumerate(palettes):
            table[at, : len(some)] = [value for value, _ in some]
        return np.where(opaque, table[view, which], self.clear)

    def darkest(self, view: Numbers, value: Numbers, colours: Mapping[int, Colour]) -> tuple[int, int]:
        """View and value of the darkest of these dots; (0, the transparent value) where the layer has one."""
        if self.mode.transparent is not None:
            return 0, self.mode.transparent
        pairs = np.unique(np.stack([view.reshape(-1), value.reshape(-1)], axis=1), axis=0)
        light = self.shown(pairs[:, 0], pairs[:, 1], colours) @ np.array([299, 587, 114])
        at, number = pairs[int(light.argmin())].tolist()
        return at, number

    def settings(self, view: int) -> dict[str, int]:
        """Registers that make the layer show this mode, and the one bank of a layer whose cells name none."""
        found = {}
        layer = self.chip.layer(self.layer)
        if len(layer.modes) > 1:
            found[f"{self.layer}.mode"] = [mode.name for mode in layer.modes].index(self.mode.name)
        if self.reach.single and f"{self.layer}.bank" in registers(self.chip):
            found[f"{self.layer}.bank"] = self.reach.views[view].bank
        rest, held = rest_values(self.chip), registers(self.chip)
        for name, value in found.items():
            if name not in held and rest[name] != value:
                told = f"{self.chip.name} is wired to show another mode of {self.layer}: {name} is {rest[name]}"
                raise self.wrong("mode", told)
        return {name: value for name, value in found.items() if name in held}

    def report(
        self, view: Numbers, value: Numbers, rgb: Dots, colours: Mapping[int, Colour], kept: Any
    ) -> dict[str, Any]:
        """What a Report says of dots, whatever they were made from."""
        entry = np.full((len(self.reach.views), self.mode.top_value + 1), -1, np.int64)
        for at, one in enumerate(self.reach.views):
            entry[at, list(one.values)] = one.entries
        shows = np.unique(entry[view[self.opaque], value[self.opaque]])
        reached = {number for one in self.reach.views for number in one.entries}
        wanted = grid(self.asked, channels(self.chip))
        told = lost(wanted, rgb, self.opaque & self.wanted, self.cell, self.thing, self.why)
        return {
            "name": self.name,
            "target": self.target,
            "size": (self.asked.shape[1], self.asked.shape[0]),
            "banks": len(np.unique(view[self.opaque])),
            "banks_there": len(self.reach.views),
            "entries": len(shows),
            "free": len(reached - set(colours) - set(kept)),
            "loss": loss(self.asked, rgb, self.opaque & self.wanted),
            "notes": (*self.notes, told) if told else tuple(self.notes),
        }


class BitmapJob(Job):
    """A picture on its way into a bitmap, which shows one bank."""

    mode: BitmapMode

    def units(self) -> Units:
        """The whole picture, as the one thing that it is."""
        return Units(self.asked.reshape(1, -1, 3), self.opaque.reshape(1, -1), np.ones(1), self.reach, self.target)

    def settle(self, coloured: Coloured, colours: Mapping[int, Colour]) -> None:
        """Take what became of it."""
        self.reach = coloured.reach
        self.coloured, self.colours, self.why = coloured, colours, coloured.why
        self.view = np.zeros(self.opaque.shape, np.int64)
        value = coloured.value.reshape(self.opaque.shape)
        self.value = np.where(self.opaque, value, self.clear)
        if self.kind != "none" and not coloured.exact:
            self.value = self.dithered(self.asked, self.opaque, self.view, colours)

    def over(self) -> bool:
        """Whether it is more than the layer takes: never."""
        return False

    def fitted(self, kept: Kept, scheme: Scheme) -> Fitted:
        """The result."""
        high, wide = self.opaque.shape
        rgb = self.shown(self.view, self.value, self.colours)
        _, rest = self.darkest(self.view, self.value, self.colours)
        bitmap = np.full((self.mode.height, self.mode.width), rest, np.uint8)
        bitmap[:high, :wide] = self.value
        bank = self.reach.views[0].bank
        told = self.report(self.view, self.value, rgb, self.colours, kept)
        return Fitted(
            chip=self.chip,
            name=self.name,
            target=self.target,
            asked=self.picture.rgb,
            rgb=rgb,
            opaque=self.opaque,
            banks=np.array([[bank if self.opaque.any() else -1]], np.int64),
            palette=colour_words(self.chip.palette, self.colours),
            registers=self.settings(0),
            report=Report(
                things="", there=1, asked=1, used=1, limit=1, together=scheme.pages, bound=scheme.bound, **told
            ),
            patterns=np.zeros((0, 0, 0), np.uint8),
            map=np.zeros((0, 0), np.int64),
            bitmap=bitmap,
        )


class TileJob(Job):
    """A picture on its way into a map of tiles."""

    mode: TilesMode

    def prepare(self, limit: int, over: Over) -> None:
        """Cut it; ``limit`` is the most patterns, and ``over`` what to do with more of them. Raises InputError."""
        self.limit, self.beyond = limit, over
        side = self.mode.tile
        self.cell, self.thing = (side, side), "tile"
        lines, dots = self.opaque.shape
        self.down, self.across = -(-lines // side), -(-dots // side)
        frame = self.chip.frame
        seen = (min(frame.height, self.mode.rows * side), min(frame.width, self.mode.columns * side))
        self.surrounded = self.down * side < seen[0] or self.across * side < seen[1]
        spare = ((0, self.down * side - lines), (0, self.across * side - dots))
        rgb = np.pad(self.asked, (*spare, (0, 0)), "edge")
        opaque = np.pad(self.opaque, spare) if self.mode.transparent is not None else np.pad(self.opaque, spare, "edge")
        self.rgb, self.tiles = rgb, cut(rgb, side, side)
        self.clear_at = ~opaque
        self.shows = cut(opaque, side, side)
        self.tiles[~self.shows] = 0
        self.options = list(ways(self.mode))
        self.merged: Merged | None = None
        self.unlimited: float | None = None
        self.alike = self._alike(self.options)

    def _alike(self, options: Sequence[dict[str, int]]) -> Alike:
        return alike(np.concatenate([self.tiles, self.shows[..., None]], axis=3), options)

    def units(self) -> Units:
        """The unlike tiles or, once they were merged, the patterns to be."""
        if self.merged is None:
            chosen = self.alike.first
            weight = np.bincount(self.alike.of, minlength=len(chosen))
            rgb, opaque = self.tiles[chosen], self.shows[chosen]
        else:
            often = np.bincount(self.alike.of)
            weight = np.bincount(self.merged.of, weights=often, minlength=len(self.merged.rgb))
            rgb, opaque = self.merged.rgb, self.merged.opaque
        count = len(rgb)
        return Units(
            rgb.reshape(count, -1, 3), opaque.reshape(count, -1), np.maximum(weight, 1), self.reach, self.target
        )

    def settle(self, coloured: Coloured, colours: Mapping[int, Colour]) -> None:
        """Take what became of the units: find the patterns, and who shows which."""
        self.reach = coloured.reach
        self.colours, self.why = colours, coloured.why
        side = self.mode.tile
        value = np.where(coloured.value < 0, self.clear, coloured.value).reshape(-1, side, side)
        dithering = self.kind != "none" and not coloured.exact
        if self.merged is not None:
            self.why = "tiles were merged"
            self._settle_merged(coloured, value, dithering=dithering)
            return
        self.exact = coloured.exact
        cells = turned(value[self.alike.of], self.alike.way, self.options)
        self.view = coloured.view[self.alike.of]
        if dithering:
            cells = cut(self._dithered(self.rgb, ~self.clear_at, self.view, self.across), side, side)
        self._take(cells)
        self.asked_for = len(self.patterns)

    def _take(self, cells: Numbers) -> None:
        found = alike(cells.astype(np.uint8), self.options)
        self.patterns = cells[found.first].astype(np.uint8)
        self.number, self.way = found.of, found.way

    def _dithered(self, rgb: Dots, opaque: npt.NDArray[np.bool_], view: Numbers, columns: int) -> Numbers:
        side = self.mode.tile
        spread = view.reshape(-1, columns).repeat(side, axis=0).repeat(side, axis=1)
        return self.dithered(rgb, opaque, spread, self.colours)

    def _settle_merged(self, coloured: Coloured, value: Numbers, *, dithering: bool) -> None:
        assert self.merged is not None
        side, merged = self.mode.tile, self.merged
        of, way, view = merged.of, merged.way, coloured.view
        if dithering:
            value = cut(self._dithered(joined(merged.rgb, 1), joined(merged.opaque, 1), view, 1), side, side)
        elif not coloured.exact:
            of, way, view, value = self._refined(of, way, view, value)
        used, place = np.unique(of, return_inverse=True)
        plain = alike(value[used], PLAIN)
        self.patterns = value[used][plain.first].astype(np.uint8)
        item = self.alike.of
        self.number, self.way, self.view = plain.of[place][item], way[item], view[of][item]

    def _refined(self, of: Numbers, way: Numbers, view: Numbers, value: Numbers) -> tuple[Numbers, ...]:
        """Merged tiles and their patterns suited to each other, within the colours that there are."""
        assert self.merged is not None
        first, opaque = self.alike.first, self.merged.opaque.copy()
        tiles, shows = self.tiles[first], self.shows[first]
        weight = np.bincount(self.alike.of)
        side = np.ones((1, self.mode.tile, self.mode.tile), np.int64)
        best, found = np.inf, (of, way, view, value)
        for _ in range(REFINED):
            drawn = self.shown(view[:, None, None] * side, value, self.colours)
            drawn[~opaque] = 0
            of, way, lost = nearest(tiles, shows, drawn, opaque, self.options)
            spare, room = self._room(of, view, value)
            if room >= 0 and float(lost @ weight) < best:
                best, found = float(lost @ weight), (of, way, view, value)
            means = means_of(tiles, weight, of, way, self.options, len(value))
            worst = np.argsort(-lost * weight, kind="stable")[: max(room, 0)]
            new, more = worst[: len(spare)], worst[len(spare) :]
            means[spare[: len(new)]], opaque[spare[: len(new)]] = tiles[new], shows[new]
            means, opaque = np.concatenate([means, tiles[more]]), np.concatenate([opaque, shows[more]])
            view, value = self._within(means, opaque)
        return found

    def _room(self, of: Numbers, view: Numbers, value: Numbers) -> tuple[Numbers, int]:
        """Pairs of a pattern and a view that no tile goes to, or that are there twice; and how many more patterns may be made.

        Pairs that differ in the view alone have one pattern.
        """
        flat = value.reshape(len(value), -1)
        _, first = np.unique(np.concatenate([view[:, None], flat], axis=1), axis=0, return_index=True)
        used = np.intersect1d(first, of)
        patterns = len(np.unique(flat[used], axis=0))
        return np.setdiff1d(np.arange(len(value)), used), self.limit - int(self.surrounded) - patterns

    def _within(self, rgb: Dots, opaque: npt.NDArray[np.bool_]) -> tuple[Numbers, Numbers]:
        """The view of each tile (n, down, across, 3) whose colours lose the least, and its values."""
        count = len(rgb)
        best = np.full(count, np.iinfo(np.int64).max, np.int64)
        view, value = np.zeros(count, np.int64), np.full(opaque.shape, self.clear, np.int64)
        dots = rgb.reshape(-1, 1, 3).astype(np.int64)
        for at, one in enumerate(self.reach.views):
            pairs = palette_of(one, self.colours)
            if not pairs:
                continue
            shades = np.array([shade for _, shade in pairs], np.int64)
            apart = ((dots - shades) ** 2).sum(axis=2)
            which = apart.argmin(axis=1)
            lost = (
                np.where(opaque, apart[np.arange(len(which)), which].reshape(opaque.shape), 0)
                .reshape(count, -1)
                .sum(axis=1)
            )
            numbers = np.array([number for number, _ in pairs], np.int64)[which].reshape(opaque.shape)
            closer = lost < best
            best[closer], view[closer], value[closer] = lost[closer], at, numbers[closer]
        value[~opaque] = self.clear
        return view, value

    def over(self) -> bool:
        """Whether there are more patterns than are allowed. Raises InputError where that is an error."""
        total = len(self.patterns) + self._extra()
        if total <= self.limit or self.merged is not None:
            return False
        if self.beyond == "error":
            told = (
                "" if total == self.asked_for else f", {self.asked_for} of the picture and one for what lies around it"
            )
            raise self.wrong(
                "max_tiles", f"must be at most {self.limit} patterns for {self.target}, needs {total}{told}"
            )
        return True

    def merge(self, progress: Progress | None) -> None:
        """Merge tiles until they are few enough. Raises InputError where not even one could stay."""
        room = self.limit - (1 if self.surrounded else 0)
        if room < 1:
            raise self.wrong("max_tiles", f"must be at least {1 + self.surrounded} for this picture, got {self.limit}")
        rgb = self._picture()
        self.unlimited = loss(self.asked, rgb, self.opaque).psnr
        self.alike = self._alike(PLAIN)
        chosen = self.alike.first
        weight = np.bincount(self.alike.of)
        self.merged = merge(
            self.tiles[chosen], self.shows[chosen], weight, self.options, room, members=self.exact, progress=progress
        )
        self.notes.append(f"{self.asked_for} patterns were merged to {len(self.merged.rgb)}")

    def _blank(self) -> tuple[int, Dots]:
        """The view and the dots of the tile that shows around the picture."""
        cells = turned(self.patterns[self.number], self.way, self.options)
        shape = np.ones_like(cells, np.int64)
        view, value = self.darkest(self.view[:, None, None] * shape, cells, self.colours)
        return view, np.full((1, self.mode.tile, self.mode.tile), value, np.uint8)

    def _extra(self) -> int:
        """How many patterns more than the picture's own are wanted."""
        if not self.surrounded:
            return 0
        _, blank = self._blank()
        return int(not (self.patterns == blank).all(axis=(1, 2)).any())

    def _values(self) -> Numbers:
        cells = turned(self.patterns[self.number], self.way, self.options)
        lines, dots = self.opaque.shape
        return joined(cells, self.across)[:lines, :dots].astype(np.int64)

    def _views(self) -> Numbers:
        side = self.mode.tile
        lines, dots = self.opaque.shape
        spread = self.view.reshape(self.down, self.across).repeat(side, axis=0).repeat(side, axis=1)
        return spread[:lines, :dots]

    def _picture(self) -> Dots:
        return self.shown(self._views(), self._values(), self.colours)

    def fitted(self, kept: Kept, scheme: Scheme) -> Fitted:
        """The result."""
        mode = self.mode
        layout = mode.cell.layout
        patterns = self.patterns
        banks = np.array([view.bank for view in self.reach.views], np.int64)
        standing = rung_fields(mode.ladder or self.chip.ladder, self.layer, layout)
        around: dict[str, int] = {"pattern": 0}
        if self.surrounded:
            at, blank = self._blank()
            if self._extra():
                patterns = np.concatenate([patterns, blank])
            around = {"pattern": int((patterns == blank).all(axis=(1, 2)).argmax()), "bank": int(banks[at])}
        fields = {"pattern": self.number}
        for name in self.options[0]:
            fields[name] = np.array([option[name] for option in self.options], np.int64)[self.way]
        if "bank" in layout:
            fields["bank"] = banks[self.view]
        fields.update({name: np.full(len(self.number), number) for name, number in standing.items()})
        around.update(standing)
        words = np.zeros((mode.rows, mode.columns), np.int64)
        named = {name: np.array([number], np.int64) for name, number in around.items() if name in layout}
        words[:] = cell_words(layout, named)[0]
        shape = (self.down, self.across)
        words[: self.down, : self.across] = cell_words(layout, fields).reshape(shape)
        if self.merged is not None:
            self._see_through()
        rgb = self._picture()
        told = self.report(self._views(), self._values(), rgb, self.colours, kept)
        return Fitted(
            chip=self.chip,
            name=self.name,
            target=self.target,
            asked=self.picture.rgb,
            rgb=rgb,
            opaque=self.opaque,
            banks=np.where(self.shows.any(axis=(1, 2)), banks[self.view], -1).reshape(shape),
            palette=colour_words(self.chip.palette, self.colours),
            registers=self.settings(int(self.view[0])),
            report=Report(
                things="tiles",
                there=len(self.tiles),
                asked=self.asked_for,
                used=len(patterns),
                limit=self.limit,
                bound=scheme.bound if self.merged is None else 0,
                together=scheme.pages,
                unlimited=self.unlimited,
                **told,
            ),
            patterns=patterns,
            map=words,
            bitmap=np.zeros((0, 0), np.uint8),
        )

    def _see_through(self) -> None:
        """A merged tile may be opaque where the picture is not, and the other way round: what shows is what counts."""
        if self.mode.transparent is None:
            return
        shows = self._values() != self.mode.transparent
        changed = int((shows != self.opaque).sum())
        if changed:
            self.notes.append(f"{changed} dots became transparent, or ceased to be, as tiles were merged")
        self.opaque = shows
