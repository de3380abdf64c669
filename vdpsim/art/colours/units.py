"""Things that show one bank each, and what became of them: what all ways of colouring share.

Law: knows reaches and dots, no maps and no files.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any

import numpy as np
import numpy.typing as npt

from ...chip.colour import expand, nearest
from ...chip.model import Chip
from ...colour.numbers import number_of
from ..arrays import Colour
from .reach import Reach, View

KeptEntries = Mapping[int, Colour | None]
"""Entries that are not to be changed, and the colour that each has; None where nobody may rely on it."""

LIGHT = (299, 587, 114)
"""How light red, green and blue are, in thousandths: the weights of Rec. 601 luma."""


@dataclass(frozen=True, eq=False, repr=False)
class Units:
    """Things of a source that show one bank each: ``rgb`` (n, dots, 3), ``opaque`` (n, dots), ``weight`` (n,), how often.

    ``name`` is for messages.
    """

    rgb: npt.NDArray[np.uint8]
    opaque: npt.NDArray[np.bool_]
    weight: npt.NDArray[Any]
    reach: Reach
    name: str = "it"


@dataclass(frozen=True, eq=False, repr=False)
class Coloured:
    """What became of a source's units.

    ``view`` (n,): the place of each one's in ``reach.views``. ``value`` (n, dots): what its dots have, -1 where they are
    transparent. ``exact``: every dot has its own colour, as near as the chip has it; where not, ``why`` says why, in words.
    """

    reach: Reach
    view: npt.NDArray[np.int64]
    value: npt.NDArray[np.int64]
    exact: bool
    why: str = ""


@dataclass(frozen=True, eq=False, repr=False)
class Scheme:
    """The sources as they are coloured, and the colour of every entry that has one; kept entries are among them.

    ``pages``: how many different banks all sources together have. ``bound``: fewer than this cannot hold what was asked, proved;
    0 where colours had to be chosen.
    """

    sources: tuple[Coloured, ...]
    colours: dict[int, Colour] = field(default_factory=dict)
    pages: int = 0
    bound: int = 0


@dataclass(frozen=True, eq=False, repr=False)
class EntryRoom:
    """Entries of a page: those that are ``free``, and the colours that are ``fixed`` there, with their entries."""

    free: Sequence[int]
    fixed: Mapping[Colour, int]

    @classmethod
    def of(cls, usable: Sequence[int], seen: Sequence[int], kept: KeptEntries) -> EntryRoom:
        """``usable``: entries that may get a colour, but for ``kept`` ones. ``seen``: entries whose kept colours may be used."""
        fixed: dict[Colour, int] = {}
        for entry in seen:
            shade = kept.get(entry)
            if shade is not None:
                fixed.setdefault(shade, entry)
        return cls([entry for entry in usable if entry not in kept], fixed)


def channels(chip: Chip) -> tuple[int, int, int]:
    """Bits of red, green and blue of the chip's colours."""
    palette = chip.palette
    return palette.red.width, palette.green.width, palette.blue.width


def grid(rgb: npt.NDArray[np.uint8], channels: tuple[int, int, int]) -> npt.NDArray[np.uint8]:
    """8-bit colours (..., 3) as the chip has them: each channel the nearest of its bits' values."""
    found = np.empty(rgb.shape, np.uint8)
    for at, bits in enumerate(channels):
        found[..., at] = _nearest(bits)[rgb[..., at]]
    return found


@cache
def _nearest(bits: int) -> npt.NDArray[np.uint8]:
    """For each 8-bit channel the nearest that ``bits`` bits can show; read-only."""
    table = np.array([expand(nearest(channel, bits), bits) for channel in range(256)], np.uint8)
    table.flags.writeable = False
    return table


def valued(
    units: Units, view: npt.NDArray[np.int64], numbers: npt.NDArray[np.int64], colours: Mapping[int, Colour]
) -> npt.NDArray[np.int64]:
    """The values of dots whose colours, as ``numbers``, stand in their view; -1 where they are transparent."""
    value = np.full(units.opaque.shape, -1, np.int64)
    for at, one in enumerate(units.reach.views):
        mine = view == at
        shades = palette_of(one, colours)
        if mine.any() and shades:
            known = {number_of(shade): number for number, shade in reversed(shades)}
            order = np.array(sorted(known), np.int64)
            which = np.searchsorted(order, numbers[mine]).clip(0, len(order) - 1)
            value[mine] = np.array([known[number] for number in order.tolist()], np.int64)[which]
    value[~units.opaque] = -1
    return value


def palette_of(view: View, colours: Mapping[int, Colour]) -> list[tuple[int, Colour]]:
    """The values of a view whose entries have a colour, and those colours."""
    pairs = zip(view.values, view.entries, strict=True)
    return [(value, colours[entry]) for value, entry in pairs if entry in colours]


def by_light(shade: Colour) -> tuple[int, Colour]:
    """From dark to light."""
    return sum(weight * channel for weight, channel in zip(LIGHT, shade, strict=True)), shade
