"""A picture on its way into a bitmap, which shows one bank.

Law: the whole picture is one thing to be coloured; nothing is cut, nothing merged.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from ...chip.model import BitmapMode
from ..colours.units import Coloured, Scheme, Units
from ..fitted import Fitted
from ..job import PatternCount
from .job import LayerJob


@dataclass(eq=False, repr=False, kw_only=True)
class BitmapJob(LayerJob):
    """A picture and the bitmap that it is for."""

    mode: BitmapMode

    def units(self) -> Units:
        """The whole picture, as the one thing that it is."""
        return Units(self.asked.reshape(1, -1, 3), self.opaque.reshape(1, -1), np.ones(1), self.reach, self.target)

    def settle(self, coloured: Coloured, scheme: Scheme) -> None:
        """Take what became of it."""
        self.take(coloured, scheme, self.mode.top_value + 1)
        self.view = np.zeros(self.opaque.shape, np.int64)
        self.value = np.where(self.opaque, coloured.value.reshape(self.opaque.shape), self.clear)
        if self.dithers:
            self.value = self.shades.dithered(self.asked, self.opaque, self.view, self.dithering, self.clear)

    def over(self) -> bool:
        """Whether it is more than the layer takes: never."""
        return False

    def fitted(self, kept: Collection[int]) -> Fitted:
        """The result."""
        high, wide = self.opaque.shape
        rgb = self.shades.of(self.view, self.value)
        _, rest = self.rest(self.view, self.value)
        bitmap = np.full((self.mode.height, self.mode.width), rest, np.uint8)
        bitmap[:high, :wide] = self.value
        bank = self.reach.views[0].bank if self.opaque.any() else -1
        count = PatternCount(things="", there=1, asked=1, used=1, limit=1, bound=self.scheme.bound)
        report = self.report(rgb, self.view[self.opaque], self.value[self.opaque], self.opaque, kept, count)
        return Fitted(
            **self.result(rgb, report, np.array([[bank]], np.int64), self.settings(0)),
            patterns=np.zeros((0, 0, 0), np.uint8),
            map=np.zeros((0, 0), np.int64),
            bitmap=bitmap,
        )
