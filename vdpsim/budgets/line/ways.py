"""What the layers can fetch in the slots of one line: the ways of each layer, and which of its modes can stand beside which.

Law: nothing that the registers allow on a line without writes in mid-line is missing here; what is too much is said where it
is. Plain Python. Knows no slot.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ...chip.line.clients import buffered
from ...chip.line.serving import Stretch
from ...chip.model import Chip
from ..reach import reachable
from .kinds import Modes, kinds, modes_of
from .stretches import stretches, turns

LayersOn = dict[int, tuple[int, ...]]
"""Layers that can be on at once, by number, each with the modes that it can be in."""


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
        self._together: dict[tuple[int | None, int | None, bool], list[LayersOn]] = {}
        self._of = [
            {mode: stretches(chip, layer, mode, self.can) for mode in self._modes(number)}
            for number, layer in enumerate(chip.layers)
        ]

    def _modes(self, number: int) -> list[int]:
        """The modes of a layer that are on some line: those of the kinds, where all are known, as other layers can hinder one."""
        found = modes_of(self.chip.layers[number], self.can, self.chip.frame.height)
        return sorted(found & {kind.modes[number] for kind in self.kinds} if self.exact else found)

    def of(self, number: int, mode: int, *, picture: bool) -> list[Stretch | None]:
        """The ways in which a layer's mode can fetch, most groups first; below the picture no cells are kept."""
        if not picture and not self.held[number]:
            return []
        return [way for way in self._of[number].get(mode, []) if picture or way is None or not way.kept]

    def modes(self, number: int) -> list[int | None]:
        """The modes in which a layer can be on some line, and None: it is off."""
        return [*self._of[number], None]

    def together(self, layer: int | None, mode: int | None, *, picture: bool) -> list[LayersOn]:
        """Which other layers can fetch beside a ``layer`` in ``mode`` (None: beside nobody), and in which modes.

        Each item is a set of layers that can be on at once, no part of another such set, with all modes that they have in it
        or in a part of it: whatever fetches on a line is within one of them.
        """
        key = (layer, mode, picture)
        if key not in self._together:
            others = [number for number in range(len(self.chip.layers)) if number != layer]
            self._together[key] = (
                largest_sets(self._lines_with(layer, mode, picture=picture), others)
                if self.exact
                else [self._all_that_agree(layer, mode, others)]
            )
        return self._together[key]

    def _lines_with(self, layer: int | None, mode: int | None, *, picture: bool) -> list[Modes]:
        """The kinds of line on which ``layer`` is in ``mode``, those with most layers first."""
        known = [kind.modes for kind in self.kinds if kind.picture == picture]
        return [modes for modes in known if layer is None or modes[layer] == mode]

    def _all_that_agree(self, layer: int | None, mode: int | None, others: Sequence[int]) -> LayersOn:
        """Every mode of the ``others`` that ``layer`` bears beside itself, as though all could be on at once."""
        on = {
            other: tuple(one for one in self._of[other] if layer is None or agree(self, layer, mode, other, one))
            for other in others
        }
        return {other: modes for other, modes in on.items() if modes}

    def beside(self, order: Sequence[int], *, picture: bool) -> Beside:
        """Which modes of each layer can stand beside those of the layers before it in ``order``."""
        return Beside(self, order, picture=picture)


def largest_sets(lines: Iterable[Modes], numbers: Sequence[int]) -> list[LayersOn]:
    """The layers of ``numbers`` that are on together on ``lines``, of which those with most layers come first.

    A set that lies in an earlier one is put into the first such, with its modes.
    """
    found: list[dict[int, set[int]]] = []
    for modes in lines:
        on = {number: mode for number in numbers if (mode := modes[number]) is not None}
        home = next((known for known in found if on.keys() <= known.keys()), None)
        if home is None:
            home = {number: set() for number in on}
            found.append(home)
        for number, mode in on.items():
            home[number].add(mode)
    return [{number: tuple(sorted(modes)) for number, modes in of.items()} for of in found]


class Beside:
    """Tells which modes the next layer of an order can be in, the modes of those before it given."""

    def __init__(self, ways: Ways, order: Sequence[int], *, picture: bool) -> None:
        self._ways, self._order, self._picture = ways, order, picture
        self._next: dict[Modes, list[int | None]] = {}
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
