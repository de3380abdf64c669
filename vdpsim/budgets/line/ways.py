"""What the layers can fetch in the slots of one line: the ways of each layer, and which of its modes can stand beside which.

Law: nothing that the registers allow on a line without writes in mid-line is missing here; what is too much is said where it
is. In the slots of a line the layers that are fetched for it follow from the modes asked for on that line, those that a line
buffer holds from the modes asked for on the next. Plain Python. Knows no slot.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from itertools import product
from math import prod
from typing import NamedTuple

from ...chip.line.clients import buffered
from ...chip.line.costs import mode_costs
from ...chip.line.shapes import Stretch
from ...chip.model import AnyMode, BitmapMode, Chip, Layer, TextMode, TilesMode
from ..reach import reachable

MOST_KINDS = 4_096
"""Choices of modes that are looked through one by one; beyond, layers are held against each other two by two."""

Modes = tuple[int | None, ...]
"""Which mode each layer fetches in a line's slots, by number; None where it fetches nothing."""

Asked = tuple[int | None, int | None]
"""The mode that a layer asks for on a line and on the next, None where it asks for none that matters."""


class Kind(NamedTuple):
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


class Ways:
    """The ways of each layer of a chip, and which kinds of line there are.

    ``exact``: every kind was looked through, and ``kinds`` has those that registers allow, with most layers first. Else
    ``kinds`` is empty, and layers are held against each other two by two: no kind is lost, some may never come about.
    """

    def __init__(self, chip: Chip) -> None:
        self.chip, self.can = chip, reachable(chip)
        self.held = [buffered(chip, layer) for layer in chip.layers]
        found = kinds(chip)
        self.exact = found is not None
        self.kinds = tuple(found or ())
        self.turns = turns(chip)
        self._together: dict[tuple[int | None, int | None, bool], list[dict[int, tuple[int, ...]]]] = {}
        self._of = [
            {
                mode: stretches(chip, layer, mode, self.can)
                for mode in sorted(modes_of(layer, self.can, chip.frame.height))
            }
            for layer in chip.layers
        ]

    def of(self, number: int, mode: int, *, picture: bool) -> list[Stretch | None]:
        """The ways in which a layer's mode can fetch, most groups first; below the picture no cells are kept."""
        if not picture and not self.held[number]:
            return []
        return [way for way in self._of[number].get(mode, []) if picture or way is None or not way.kept]

    def modes(self, number: int) -> list[int | None]:
        """The modes in which a layer can be on some line, and None: it is off."""
        return [*self._of[number], None]

    def together(self, layer: int | None, mode: int | None, *, picture: bool) -> list[dict[int, tuple[int, ...]]]:
        """Which other layers can fetch beside a ``layer`` in ``mode`` (None: beside nobody), and in which modes.

        Each item is a set of layers that can be on at once, no part of another such set, with all modes that they have in it
        or in a part of it: whatever fetches on a line is within one of them.
        """
        key = (layer, mode, picture)
        if key not in self._together:
            self._together[key] = self._sets(layer, mode, picture=picture)
        return self._together[key]

    def _sets(self, layer: int | None, mode: int | None, *, picture: bool) -> list[dict[int, tuple[int, ...]]]:
        numbers = [number for number in range(len(self.chip.layers)) if number != layer]
        if not self.exact:
            on = {n: [m for m in self._of[n] if layer is None or agree(self, layer, mode, n, m)] for n in numbers}
            return [{number: tuple(modes) for number, modes in on.items() if modes}]
        kinds = [
            kind.modes
            for kind in self.kinds
            if kind.picture == picture and (layer is None or kind.modes[layer] == mode)
        ]
        wholes: list[frozenset[int]] = []
        for modes in kinds:  # those with most layers come first
            on_now = frozenset(number for number in numbers if modes[number] is not None)
            if not any(on_now <= whole for whole in wholes):
                wholes.append(on_now)
        found: list[dict[int, set[int]]] = [{number: set() for number in sorted(whole)} for whole in wholes]
        for modes in kinds:
            on_now = frozenset(number for number in numbers if modes[number] is not None)
            home = next(of for of, whole in zip(found, wholes, strict=True) if on_now <= whole)
            for number in on_now:
                other = modes[number]
                assert other is not None
                home[number].add(other)
        return [{number: tuple(sorted(modes)) for number, modes in of.items()} for of in found]

    def beside(self, order: Sequence[int], *, picture: bool) -> Beside:
        """Which modes of each layer can stand beside those of the layers before it in ``order``."""
        return Beside(self, order, picture=picture)


class Beside:
    """Tells which modes the next layer of an order can be in, the modes of those before it given."""

    def __init__(self, ways: Ways, order: Sequence[int], *, picture: bool) -> None:
        self._ways, self._order, self._picture = ways, order, picture
        self._next: dict[Modes, list[int | None]] = {}
        if not ways.exact:
            return
        for kind in ways.kinds:
            if kind.picture == picture:
                modes = tuple(kind.modes[number] for number in order)
                for depth, mode in enumerate(modes):
                    known = self._next.setdefault(modes[:depth], [])
                    if mode not in known:
                        known.append(mode)

    def next(self, modes: Modes) -> list[int | None]:
        """The modes of the layer that follows those that are in ``modes``."""
        if self._ways.exact:
            return self._next.get(modes, [])
        if modes not in self._next:
            self._next[modes] = self._two_by_two(modes)
        return self._next[modes]

    def _two_by_two(self, modes: Modes) -> list[int | None]:
        ways, number = self._ways, self._order[len(modes)]
        if not self._picture and not ways.held[number]:
            return [None]
        before = list(zip(self._order, modes, strict=False))
        return [mode for mode in ways.modes(number) if all(agree(ways, number, mode, *other) for other in before)]


def agree(ways: Ways, one: int, mode: int | None, other: int, second: int | None) -> bool:
    """Whether two layers may fetch in these modes side by side.

    Those that are fetched for one line do not switch each other off; where they are fetched for two, all is possible.
    """
    layers, held = ways.chip.layers, ways.held
    if mode is None or second is None or held[one] != held[other]:
        return True
    return not (
        layers[other].name in (layers[one].modes[mode].exclusive or ())
        or layers[one].name in (layers[other].modes[second].exclusive or ())
    )


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


def resolved(chip: Chip, chosen: Sequence[int | None]) -> Modes:
    """What shows once each layer has had its say, in the chip's order."""
    off: set[str] = set()
    for layer, mode in zip(chip.layers, chosen, strict=True):
        if mode is not None and layer.name not in off:
            off.update(layer.modes[mode].exclusive or ())
    pairs = zip(chip.layers, chosen, strict=True)
    return tuple(None if layer.name in off else mode for layer, mode in pairs)


def kinds(chip: Chip) -> list[Kind] | None:
    """Every kind of line that the registers can bring about, those with most layers first.

    Lines below the picture are among them: those on which no layer is fetched and, where a line buffer is filled there, the
    last. None where there are more than MOST_KINDS.
    """
    held = [buffered(chip, layer) for layer in chip.layers]
    found: dict[Kind, None] = {Kind((None,) * len(held), picture=False): None}
    looked = 0
    for line, asked in lines_asked(chip):
        looked += prod(map(len, asked))
        if looked > MOST_KINDS:
            return None
        for pairs in product(*asked):
            here, ahead = (resolved(chip, modes) for modes in zip(*pairs, strict=True))
            modes = tuple(two if is_held else one for one, two, is_held in zip(here, ahead, held, strict=True))
            found[Kind(modes, picture=line >= 0)] = None
    return sorted(found, key=lambda kind: (sum(mode is None for mode in kind.modes), str(kind)))


def lines_asked(chip: Chip) -> Iterator[tuple[int, tuple[Sequence[Asked], ...]]]:
    """Each line that is unlike those before it, -1 for one below the picture before line 0, with what layers can ask for.

    Even where a frame has no line below the picture, its first line may be prepared as though there were one.
    """
    frame, can = chip.frame, reachable(chip)
    ahead = any(buffered(chip, layer) for layer in chip.layers)
    splits = [can[f"{layer.name}.split"] for layer in chip.layers if len(layer.modes) > 1]
    alike, seen = set(), set()
    for line in range(-1 if ahead else 0, frame.height):
        follows = (line + 1) % frame.lines_per_frame
        after = follows if follows < frame.height else None
        sides = (line < 0, after is None, *(side for split in splits for side in _there(split, line, after)))
        if sides in alike:
            continue
        alike.add(sides)
        asked = tuple(tuple(_asked(chip, layer, can, line, after)) for layer in chip.layers)
        if (line < 0, asked) not in seen:
            seen.add((line < 0, asked))
            yield line, asked


def _asked(chip: Chip, layer: Layer, can: dict[str, range], line: int, after: int | None) -> list[Asked]:
    """What the layer can ask for; of a mode that is not fetched in these slots only what it switches off matters.

    The buffer of a layer that is held was filled before registers changed, so what it asked for then and what it asks for
    now, be it nothing at all, are each by itself.
    """
    enable, held = can[f"{layer.name}.enable"], buffered(chip, layer)
    pairs: set[Asked] = {(None, None)} if 0 in enable else set()
    if 1 in enable:
        pairs |= set(_pairs(layer, can, line, after))
    if held:
        pairs = set(product({here for here, _ in pairs}, {ahead for _, ahead in pairs}))
    found = set()
    for here, ahead in pairs:
        one, two = here if line >= 0 else None, ahead if after is not None else None
        found.add((_heard(layer, one), two) if held else (one, _heard(layer, two)))
    return sorted(found, key=str)


def _pairs(layer: Layer, can: dict[str, range], line: int, after: int | None) -> Iterator[Asked]:
    """The modes on a line and on the next under the same registers."""
    if len(layer.modes) == 1:
        yield 0, 0
        return
    split, name = can[f"{layer.name}.split"], layer.name
    above, below = can[f"{name}.mode"], can[f"{name}.below"]
    ways = (
        zip(above, above, strict=True),
        zip(below, below, strict=True),
        product(above, below),
        product(below, above),
    )
    for there, pairs in zip(_there(split, line, after), ways, strict=True):
        if there:
            yield from pairs


def _there(split: range, line: int, after: int | None) -> tuple[bool, ...]:
    """Which of the four there are."""
    return tuple([one is not None for one in sides(split, line, after)])


@lru_cache(4_096)
def sides(split: range, line: int, after: int | None) -> tuple[int | None, int | None, int | None, int | None]:
    """A split of those that a register can hold for each of the ways in which a line and the next can lie about it.

    Both above it, both below it, the next alone below it, the line alone below it; None where there is none.
    """
    follows = line if after is None else after
    return (
        _within(split, max(line, follows) + 1, split[-1]),
        _within(split, split[0], min(line, follows)),
        _within(split, line + 1, follows),
        _within(split, follows + 1, line),
    )


def _within(values: range, least: int, most: int) -> int | None:
    """The first of ``values`` from ``least`` to ``most``."""
    first = max(values[0], values[0] - (values[0] - least) // values.step * values.step)
    return first if first in values and first <= most else None


def _heard(layer: Layer, mode: int | None) -> int | None:
    """The first mode that switches off the same layers; None for one that switches none off."""
    if mode is None or not layer.modes[mode].exclusive:
        return None
    return next(n for n, one in enumerate(layer.modes) if one.exclusive == layer.modes[mode].exclusive)


def stretches(chip: Chip, layer: Layer, index: int, can: dict[str, range]) -> list[Stretch | None]:
    """Every way in which a layer's mode can fetch for a line in which nothing is written; None: nothing at all.

    Of turned cells only the two ends are among them: all cells turned, and none.
    """
    mode = layer.modes[index]
    if isinstance(mode, TextMode):
        return _text(chip, layer, index, mode)
    size, width = mode_costs(chip, mode).size, chip.frame.width
    fines = _phases(can, f"{layer.name}.scroll_x", size) if mode.scroll else [0]
    found: list[Stretch | None] = []
    keeps = _keeps(chip, layer, mode)
    for fine in fines:
        last = (fine + width - 1) // size
        turns = [b""]
        if isinstance(mode, TilesMode) and mode.cell.turn is not None:
            turns = [b"\x01" * (last + 1), b""]
        found += [
            Stretch(index, fine, 0, last, left=0, skip=False, kept=kept, turned=turned)
            for turned in turns
            for kept in keeps
        ]
    return found


def _text(chip: Chip, layer: Layer, index: int, mode: TextMode) -> list[Stretch | None]:
    across, down = mode.glyph
    end = min(chip.frame.width, mode.left + mode.columns * across)
    last = (end - 1 - mode.left) // across
    found: list[Stretch | None] = [
        Stretch(index, -mode.left, 0, last, left=0, skip=False, kept=kept, turned=b"")
        for kept in _keeps(chip, layer, mode)
    ]
    return [*found, None] if mode.rows * down < chip.frame.height else found


def _keeps(chip: Chip, layer: Layer, mode: AnyMode) -> list[bool]:
    if isinstance(mode, BitmapMode) or chip.time is None or not chip.time.clients[f"{layer.name}.cells"].keep:
        return [False]
    return [False, True]


def _phases(can: dict[str, range], name: str, size: int) -> list[int]:
    """The remainders modulo ``size`` of what a control can be, the largest first: most groups are touched there."""
    values = can[name]
    return sorted({value % size for value in values[: size * max(1, values.step)]}, reverse=True)


def turns(chip: Chip) -> bool:
    """Whether cells can be turned one by one."""
    return any(isinstance(m, TilesMode) and m.cell.turn is not None for layer in chip.layers for m in layer.modes)
