"""Which kinds of line there are: which modes of the layers can be fetched side by side.

Law: no kind is missing that the registers can bring about on a line without writes in mid-line. In the slots of a line the
layers that are fetched for it follow from the modes asked for on that line, those that a line buffer holds from the modes
asked for on the next. Plain Python. Knows no slot and no scroll position.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from enum import IntEnum
from functools import lru_cache
from itertools import chain, product, starmap
from math import prod
from typing import NamedTuple

from ...chip.line.clients import buffered
from ...chip.model import Chip, Layer
from ..reach import reachable
from .tied import groups, settings

MOST_KINDS = 4_096
"""Choices of modes that are looked through one by one; beyond, layers are held against each other two by two."""

Modes = tuple[int | None, ...]
"""Which mode each layer fetches in a line's slots, by number; None where it fetches nothing."""


class LineKind(NamedTuple):
    """Which mode each layer fetches in a line's slots. A layer that a line buffer holds fetches for the line after.

    ``picture``: the line belongs to the picture.
    """

    modes: Modes
    picture: bool = True

    def name(self, chip: Chip) -> str:
        """The kind in words, such as ``near tiles + far text``."""
        shown = [
            f"{layer.name} {layer.modes[mode].name}{' for the next line' if buffered(chip, layer) else ''}"
            for layer, mode in zip(chip.layers, self.modes, strict=True)
            if mode is not None
        ]
        if not self.picture:
            return " + ".join(["below the picture", *shown])
        return " + ".join(shown) or "no layer"


class ModesAsked(NamedTuple):
    """The mode that a layer asks for on a line, ``here``, and on the next; None where it asks for none that matters."""

    here: int | None
    ahead: int | None


class Side(IntEnum):
    """How a line and the next lie about a layer's split."""

    ABOVE = 0
    """Both above it."""
    BELOW = 1
    """Both below it."""
    ENTERS = 2
    """The next alone below it."""
    LEAVES = 3
    """The line alone below it: the next is the first of the next frame."""


SIDES = tuple(Side)
ASKED_BY = {
    Side.ABOVE: ("mode", "mode"),
    Side.BELOW: ("below", "below"),
    Side.ENTERS: ("mode", "below"),
    Side.LEAVES: ("below", "mode"),
}
"""Which control says the mode on the line, and which on the next."""


def kinds(chip: Chip) -> list[LineKind] | None:
    """Every kind of line that the registers can bring about, those with most layers first.

    Lines below the picture are among them: those on which no layer is fetched and, where a line buffer is filled there, the
    last. None where there are more than MOST_KINDS.
    """
    held = [buffered(chip, layer) for layer in chip.layers]
    found: dict[LineKind, None] = {LineKind((None,) * len(held), picture=False): None}
    looked = 0
    order = [number for group in groups(chip) for number in group]
    places = [order.index(number) for number in range(len(held))]
    for line, offers in lines_asked(chip):
        looked += prod(map(len, offers))
        if looked > MOST_KINDS:
            return None
        for chosen in product(*offers):
            together = tuple(chain.from_iterable(chosen))
            asked = [together[place] for place in places]
            found[LineKind(fetched(chip, held, asked), picture=line >= 0)] = None
    return sorted(found, key=lambda kind: (sum(mode is None for mode in kind.modes), str(kind)))


def fetched(chip: Chip, held: Sequence[bool], asked: Sequence[ModesAsked]) -> Modes:
    """What is fetched in a line's slots, of what each layer has asked for; ``held``: which layers a line buffer holds."""
    here, ahead = (resolved(chip, modes) for modes in zip(*asked, strict=True))
    return tuple(two if is_held else one for one, two, is_held in zip(here, ahead, held, strict=True))


def resolved(chip: Chip, chosen: Sequence[int | None]) -> Modes:
    """What shows of the ``chosen`` modes once each layer, in the chip's order, has switched off those that it excludes."""
    off: set[str] = set()
    for layer, mode in zip(chip.layers, chosen, strict=True):
        if mode is not None and layer.name not in off:
            off.update(layer.modes[mode].exclusive or ())
    pairs = zip(chip.layers, chosen, strict=True)
    return tuple(None if layer.name in off else mode for layer, mode in pairs)


def modes_of(layer: Layer, can: dict[str, range], height: int) -> set[int]:
    """The modes that a layer can be in on some line of the picture."""
    if 1 not in can[f"{layer.name}.enable"]:
        return set()
    if len(layer.modes) == 1:
        return {0}
    split, found = can[f"{layer.name}.split"], set()
    if split[-1] > 0:
        found |= set(can[f"{layer.name}.mode"])
    if split[0] < height:
        found |= set(can[f"{layer.name}.below"])
    return found


def lines_asked(chip: Chip) -> Iterator[tuple[int, tuple[Sequence[tuple[ModesAsked, ...]], ...]]]:
    """Each line that is unlike those before it, -1 for one below the picture before line 0, with what layers can ask for.

    That is told by layers that hang together, each of them having its part, and in the order of ``groups``.

    Even where a frame has no line below the picture, its first line may be prepared as though there were one.
    """
    can = reachable(chip)
    ahead = any(buffered(chip, layer) for layer in chip.layers)
    splits = [can[f"{layer.name}.split"] for layer in chip.layers if len(layer.modes) > 1]
    alike, seen = set(), set()
    for line in range(-1 if ahead else 0, chip.frame.height):
        after = line_after(chip, line)
        # a frame has thousands of lines, but few ways to lie about the splits: the dear step below is taken once for each
        place = (line < 0, after is None, *(sides_there(split, line, after) for split in splits))
        if place in alike:
            continue
        alike.add(place)
        asked = tuple(tuple(each) for group in groups(chip) for each in _offers(chip, group, can, line, after))
        if (line < 0, asked) not in seen:
            seen.add((line < 0, asked))
            yield line, asked


def line_after(chip: Chip, line: int) -> int | None:
    """The line of the picture that follows ``line``; None where the next is below the picture."""
    follows = (line + 1) % chip.frame.lines_per_frame
    return follows if follows < chip.frame.height else None


def _offers(
    chip: Chip, group: Sequence[int], can: dict[str, range], line: int, after: int | None
) -> list[list[tuple[ModesAsked, ...]]]:
    """What the layers of a group can ask for together; of each by itself, where that is not told or is more than MOST_KINDS."""
    layers = [chip.layers[number] for number in group]
    together = settings(chip, group, can, lambda split: _splits(split, line, after))
    if together is not None:
        pairs = {tuple(_pair(layer, setting, line, after) for layer in layers) for setting in together}
        parts = [
            [
                _in_parts(layer, pair, line, after, held=buffered(chip, layer))
                for layer, pair in zip(layers, each, strict=True)
            ]
            for each in pairs
        ]
        now = {tuple(own for own, _ in each) for each in parts}
        before = {tuple(old for _, old in each) for each in parts}  # a held layer's may be from another setting
        if len(now) * len(before) <= MOST_KINDS:
            return [sorted(starmap(_with_before, product(now, before)), key=str)]
    return [[(one,) for one in _asked(chip, layer, can, line, after)] for layer in layers]


def _in_parts(
    layer: Layer, pair: ModesAsked, line: int, after: int | None, *, held: bool
) -> tuple[ModesAsked, int | None]:
    """What matters of a pair: that which one setting says and, of a layer that a line buffer holds, what was said before."""
    matters = _that_matters(layer, pair, line, after, held=held)
    return (matters._replace(here=None), matters.here) if held else (matters, None)


def _with_before(now: Sequence[ModesAsked], before: Sequence[int | None]) -> tuple[ModesAsked, ...]:
    """The parts as one: None before where a layer is not held, or switches nothing off."""
    return tuple(pair if old is None else pair._replace(here=old) for pair, old in zip(now, before, strict=True))


def _splits(split: range, line: int, after: int | None) -> list[int]:
    """One of the splits for each way in which a line and the next can lie about it."""
    return sorted({one for one in splits_by_side(split, line, after) if one is not None})


def _pair(layer: Layer, setting: Mapping[str, int], line: int, after: int | None) -> ModesAsked:
    """The modes on a line and on the next under one setting."""
    if not setting[f"{layer.name}.enable"]:
        return ModesAsked(None, None)
    if len(layer.modes) == 1:
        return ModesAsked(0, 0)
    split, mode, below = (setting[f"{layer.name}.{what}"] for what in ("split", "mode", "below"))
    follows = line if after is None else after
    return ModesAsked(mode if line < split else below, mode if follows < split else below)


def _that_matters(layer: Layer, pair: ModesAsked, line: int, after: int | None, *, held: bool) -> ModesAsked:
    """Of a mode that is not fetched in these slots only what it switches off."""
    here, ahead = pair.here if line >= 0 else None, pair.ahead if after is not None else None
    return ModesAsked(_heard(layer, here), ahead) if held else ModesAsked(here, _heard(layer, ahead))


def _asked(chip: Chip, layer: Layer, can: dict[str, range], line: int, after: int | None) -> list[ModesAsked]:
    """What the layer can ask for; of a mode that is not fetched in these slots only what it switches off matters.

    The buffer of a layer that is held was filled before registers changed, so what it asked for then and what it asks for
    now, be it nothing at all, are each by itself.
    """
    enable, held = can[f"{layer.name}.enable"], buffered(chip, layer)
    pairs = {ModesAsked(None, None)} if 0 in enable else set()
    if 1 in enable:
        pairs |= set(_pairs(layer, can, line, after))
    if held:
        pairs = set(starmap(ModesAsked, product({pair.here for pair in pairs}, {pair.ahead for pair in pairs})))
    found = {_that_matters(layer, pair, line, after, held=held) for pair in pairs}
    return sorted(found, key=str)  # as texts, since None has no place among numbers


def _pairs(layer: Layer, can: dict[str, range], line: int, after: int | None) -> Iterator[ModesAsked]:
    """The modes on a line and on the next under the same registers."""
    if len(layer.modes) == 1:
        yield ModesAsked(0, 0)
        return
    for side in sides_there(can[f"{layer.name}.split"], line, after):
        one, two = ASKED_BY[side]
        here, ahead = can[f"{layer.name}.{one}"], can[f"{layer.name}.{two}"]
        yield from starmap(ModesAsked, zip(here, here, strict=True) if one == two else product(here, ahead))


@lru_cache(4_096)  # layers often have registers alike, and each line is asked about for every one
def sides_there(split: range, line: int, after: int | None) -> tuple[Side, ...]:
    """The ways in which a line and the next can lie about one of the splits that a register can hold."""
    return tuple(side for side, one in zip(SIDES, splits_by_side(split, line, after), strict=True) if one is not None)


def splits_by_side(split: range, line: int, after: int | None) -> tuple[int | None, int | None, int | None, int | None]:
    """For each ``Side``, in order, one of the splits that bring it about; None where there is none."""
    follows = line if after is None else after
    return (
        _within(split, max(line, follows) + 1, split[-1]),
        _within(split, split[0], min(line, follows)),
        _within(split, line + 1, follows),
        _within(split, follows + 1, line),
    )


def _within(values: range, least: int, most: int) -> int | None:
    """The first of ``values`` from ``least`` to ``most``."""
    # ``least`` rounded up to one of the values, as ``//`` rounds what is below 0 down.
    first = max(values[0], values[0] - (values[0] - least) // values.step * values.step)
    return first if first in values and first <= most else None


def _heard(layer: Layer, mode: int | None) -> int | None:
    """The first mode that switches off the same layers; None for one that switches none off."""
    if mode is None or not layer.modes[mode].exclusive:
        return None
    return next(n for n, one in enumerate(layer.modes) if one.exclusive == layer.modes[mode].exclusive)
