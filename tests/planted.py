"""Art that is known to fit: banks are filled with colours first, and things are drawn from them.

Law: every colour of a thing is in a bank that it may show, so a lossless answer exists whatever the shape. The same seed
gives the same art. Knows reaches and dots, no chip and no file.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from vdpsim.art.colours.reach import Reach, View
from vdpsim.art.colours.units import Units

Contents = Mapping[int, int]
"""Of a bank, the number of each entry's colour, or -1."""

SHAPES = ("alike", "common", "kept", "some kept", "two layers", "part of the banks", "unlike banks", "bitmap", "single")


@dataclass(frozen=True)
class Planted:
    """Sources, the kept entries, and how it was made, in words."""

    sources: list[Units]
    kept: dict[int, tuple[int, int, int] | None]
    told: str


def planted(seed: int, shape: str | None = None) -> Planted:
    """Art for 2 to 16 banks of 4 to 16 entries, no entry of them to spare or some, by ``seed``."""
    rng = np.random.default_rng(seed)
    shape = shape or SHAPES[seed % len(SHAPES)]
    banks, size = int(rng.integers(2, 17)), int(rng.integers(4, 17))
    slack, overlap = int(rng.choice([0, 0, 0, 1, 2])), bool(rng.random() < 0.4)
    common = int(rng.choice([size // 4, size // 2])) if shape in {"common", "part of the banks"} else 0
    colours = rng.permutation(4096)
    kept = _kept(rng, shape, banks, size, colours)
    contents = []  # of each bank, the colour of each entry, or -1
    start = 0
    pool = rng.permutation(max(size, int(banks * size * 0.6)))
    for bank in range(banks):
        free = [entry for entry in range(bank * size, bank * size + size) if entry not in kept]
        wanted = list(range(min(common, len(free))))
        more = max(0, len(free) - len(wanted) - slack)
        own = rng.permutation(pool)[:more] if overlap else np.arange(start, start + more)
        start += more
        entries = dict.fromkeys(range(bank * size, bank * size + size), -1)
        entries.update(zip(free, [int(colours[one]) for one in [*wanted, *(own + 100)]], strict=False))
        entries.update({entry: number for entry, number in kept.items() if entry in entries and number is not None})
        contents.append(entries)
    count = int(rng.choice([banks * 4, banks * 10, 300]))
    low, high = [(2, 6), (2, 4), (1, size), (max(1, size // 2), size)][int(rng.integers(4))]
    sources = _sources(rng, shape, contents, size, count, (low, high))
    told = f"seed {seed}: {shape}, {banks} banks of {size}, {slack} spare, {common} common, {count} of {low} to {high}"
    shades = {entry: None if number is None else _shade(number) for entry, number in kept.items()}
    return Planted(sources, shades, told + (", overlapping" if overlap else ""))


def _kept(rng: np.random.Generator, shape: str, banks: int, size: int, colours: np.ndarray) -> dict[int, int | None]:
    """Entries that are kept: in every bank as many or, with ``some kept``, in some banks some; and half of them with a colour."""
    if shape not in {"kept", "some kept"}:
        return {}
    found: dict[int, int | None] = {}
    for bank in range(banks):
        count = size // 3 if shape == "kept" else int(rng.integers(0, size // 2 + 1)) * int(rng.random() < 0.7)
        for entry in rng.choice(size, count, replace=False).tolist():
            usable = rng.random() < 0.5
            found[bank * size + entry] = int(colours[4000 + int(rng.integers(40))]) if usable else None
    return found


def _sources(
    rng: np.random.Generator,
    shape: str,
    contents: Sequence[Contents],
    size: int,
    count: int,
    between: tuple[int, int],
) -> list[Units]:
    banks = range(len(contents))
    whole = [tuple(one) for one in contents]
    if shape == "two layers":
        return [_drawn(rng, contents, whole, banks, part, between) for part in (count // 2, count - count // 2)]
    if shape == "part of the banks":
        half = sorted(rng.choice(len(contents), max(1, len(contents) // 2), replace=False).tolist())
        return [_drawn(rng, contents, whole, banks, count, between), _drawn(rng, contents, whole, half, count, between)]
    if shape == "unlike banks":  # the second sees all of a bank but its first entry, as where value 0 shows nothing
        less = [one[1:] for one in whole]
        return [_drawn(rng, contents, whole, banks, count, between), _drawn(rng, contents, less, banks, count, between)]
    if shape == "bitmap":  # the second sees every entry at once
        every = [tuple(range(len(contents) * size))]
        everything = {entry: number for one in contents for entry, number in one.items()}
        wide = _drawn(rng, [everything], every, range(1), 6, (size, size * 2))
        return [_drawn(rng, contents, whole, banks, count, between), wide]
    if shape == "single":  # the second and third show one bank each
        found = [_drawn(rng, contents, whole, banks, count, between)]
        for _ in range(2):
            home = int(rng.integers(len(contents)))
            one = _drawn(rng, [contents[home]], [whole[home]], range(1), 6, (1, size))
            reach = Reach(_views(whole, banks), single=True)
            found.append(Units(one.rgb, one.opaque, one.weight, reach, one.name))
        return found
    return [_drawn(rng, contents, whole, banks, count, between)]


def _views(seen: Sequence[tuple[int, ...]], banks: Sequence[int]) -> tuple[View, ...]:
    return tuple(View(bank, seen[bank], tuple(range(1, len(seen[bank]) + 1))) for bank in banks)


def _drawn(
    rng: np.random.Generator,
    contents: Sequence[Contents],
    seen: Sequence[tuple[int, ...]],
    banks: Sequence[int],
    count: int,
    between: tuple[int, int],
) -> Units:
    """So many things of ``between`` colours of one of ``banks`` each, of entries that are ``seen``; some dots are transparent."""
    dots = 64
    rgb, opaque = np.zeros((count, dots, 3), np.uint8), np.zeros((count, dots), bool)
    known = [[contents[bank][entry] for entry in seen[bank] if contents[bank][entry] >= 0] for bank in banks]
    for at in range(count):
        mine = known[int(rng.integers(len(known)))]
        few = min(len(mine), int(rng.integers(between[0], max(between) + 1)))
        if few:
            some = rng.choice(mine, few, replace=False)
            rgb[at, :few] = [_shade(int(one)) for one in some]
            opaque[at, :few] = True
            rgb[at], opaque[at] = (part[order] for order in [rng.permutation(dots)] for part in (rgb[at], opaque[at]))
    return Units(rgb, opaque, np.ones(count), Reach(_views(seen, banks), single=False), "it")


def _shade(number: int) -> tuple[int, int, int]:
    """One of the 4096 colours of four bits a channel."""
    return (number >> 8) * 17, (number >> 4 & 15) * 17, (number & 15) * 17
