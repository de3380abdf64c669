"""Which registers make the layers fetch in the modes of a wanted line.

Law: what is said here is a proposal for one place in the picture; scroll positions and sprites are for others. Registers stand
as they are from the scene's beginning, and where a line buffer has to be filled under other settings than it is shown with,
they change at dot 0 of the line. Plain Python.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, islice, product
from typing import NamedTuple

from ...chip.model import Chip, Layer
from ...chip.registers import field_names
from ..line.kinds import ASKED_BY, LineKind, ModesAsked, Side, fetched, line_after, sides_there, splits_by_side
from ..line.tied import asking, by_fields, joined
from ..line.ways import Ways

MOST_SETTINGS = 4_000
"""Choices of settings that are looked through for one line."""

MOST_STILL = 2
"""Settings in which nothing changes that are proposed for one line."""

MOST_CHANGES = 120
"""Changes of registers that are tried for one line."""

MOST_LOOKED = 60_000
"""Settings, each with a change, that are looked through for those."""

TRIED_FIRST = (Side.BELOW, Side.ENTERS, Side.LEAVES, Side.ABOVE)
"""The order in which sides of a split are proposed: of two that ask for the same modes the first is taken."""

Setting = dict[str, int]
"""Registers and their values."""


class Offer(NamedTuple):
    """What a layer asks for, and the registers that make it so. A split stands in them as a ``Side``: it fits many lines."""

    asked: ModesAsked
    setting: Setting


class RegisterChange(NamedTuple):
    """The registers in force ``before`` a line, and those from its dot 0 on, ``after``."""

    before: Setting
    after: Setting


class Settings:
    """Proposes registers for kinds of line of one chip."""

    def __init__(self, chip: Chip, ways: Ways) -> None:
        self.chip, self.can, self.held, self.fields = chip, ways.can, ways.held, field_names(chip)
        self._offers: dict[tuple[int, tuple[Side, ...], bool], list[Offer]] = {}
        self._changes: dict[object, list[RegisterChange]] = {}

    def changes(self, kind: LineKind, place: int, *, still: bool) -> list[RegisterChange]:
        """Some registers under which line ``place`` is of ``kind``; ``still``: the same before and after.

        ``place`` is -1 for the line before the frame's first.
        """
        line = max(place, 0)
        after = line_after(self.chip, line)
        sides = tuple(self._sides(layer, line, after) for layer in self.chip.layers)
        # lines that lie alike about all splits have the same proposals, and a picture has few such ways
        key = (kind, place < 0, still, sides, after is None)
        if key not in self._changes:
            offers = [self._offers_of(number, one, last=after is None) for number, one in enumerate(sides)]
            found = self._unchanged(kind, place, offers) if still else self._changed(kind, place, offers)
            self._changes[key] = list(islice(found, MOST_STILL if still else MOST_CHANGES))
        return [
            RegisterChange(self._with_splits(before, line), self._with_splits(later, line))
            for before, later in self._changes[key]
        ]

    def _with_splits(self, setting: Setting, line: int) -> Setting:
        """The setting for this line: each ``Side`` in it becomes a split that lies there."""
        found, after = dict(setting), line_after(self.chip, line)
        for name, side in setting.items():
            if name.endswith(".split"):
                split = splits_by_side(self.can[name], line, after)[side]
                assert split is not None
                found[name] = split
        return found

    def _sides(self, layer: Layer, line: int, after: int | None) -> tuple[Side, ...]:
        """How a line and the next can lie about the layer's split; empty for a layer without one."""
        if len(layer.modes) == 1:
            return ()
        there = sides_there(self.can[f"{layer.name}.split"], line, after)
        return tuple(side for side in TRIED_FIRST if side in there)

    def _offers_of(self, number: int, sides: tuple[Side, ...], *, last: bool) -> list[Offer]:
        """All that the layer can ask for on a line and on the next; ``last``: no line of the picture follows."""
        key = (number, sides, last)
        if key not in self._offers:
            tied = any(len(self.fields[name].controls) > 1 for name in asking(self.chip, number) if name in self.fields)
            found: dict[object, Offer] = {}
            for place, (asked, setting) in enumerate(self._each_setting(self.chip.layers[number], sides)):
                offer = Offer(asked._replace(ahead=None) if last else asked, setting)
                # a tied layer's other settings may go where one does not
                found.setdefault(place if tied else offer.asked, offer)
            self._offers[key] = list(found.values())
        return self._offers[key]

    def _each_setting(self, layer: Layer, sides: Sequence[Side]) -> Iterator[Offer]:
        name, can = layer.name, self.can
        for enable in can[f"{name}.enable"]:
            on = {f"{name}.enable": enable}
            if not enable:
                yield Offer(ModesAsked(None, None), on)
            elif len(layer.modes) == 1:
                yield Offer(ModesAsked(0, 0), on)
            else:
                for side, mode, below in product(sides, can[f"{name}.mode"], can[f"{name}.below"]):
                    value = {"mode": mode, "below": below}
                    asked = ModesAsked(*(value[control] for control in ASKED_BY[side]))
                    yield Offer(asked, {**on, f"{name}.split": side, f"{name}.mode": mode, f"{name}.below": below})

    def _unchanged(self, kind: LineKind, place: int, offers: Sequence[Sequence[Offer]]) -> Iterator[RegisterChange]:
        """Settings under which the layers fetch as is wanted when they were in force before."""
        for asked, setting in islice(self._together(kind, place, offers), MOST_SETTINGS):
            # before the frame's first line: what follows is that line, for which these stand too
            here = [ModesAsked(one.here, one.here) for one in asked] if place < 0 else asked
            if fetched(self.chip, self.held, here) == kind.modes:
                yield RegisterChange(setting, setting)

    def _changed(self, kind: LineKind, place: int, offers: Sequence[Sequence[Offer]]) -> Iterator[RegisterChange]:
        """Settings of which the first is in force before: line buffers were filled under it, and cells kept or not."""
        if place < 0:
            return
        olds = [
            (number, mode, setting)
            for number, each in enumerate(offers)
            for mode, setting in {offer.asked.here: offer.setting for offer in each}.items()
        ]
        changes = [(one,) for one in olds] + [pair for pair in combinations(olds, 2) if pair[0][0] != pair[1][0]]
        settings = islice(self._together(kind, place, offers), MOST_SETTINGS)
        for (chosen, after), change in islice(((one, change) for one in settings for change in changes), MOST_LOOKED):
            asked, before = list(chosen), dict(after)
            for number, mode, setting in change:
                before |= setting
                if self.held[number]:  # its buffer still has what was asked for before
                    asked[number] = ModesAsked(mode, asked[number].ahead)
            if fetched(self.chip, self.held, asked) == kind.modes and by_fields(self.chip, before) is not None:
                yield RegisterChange(before, after)

    def _together(
        self, kind: LineKind, place: int, offers: Sequence[Sequence[Offer]]
    ) -> Iterator[tuple[list[ModesAsked], Setting]]:
        """Offers of all layers that fit and go together: what they ask for, and the settings of all."""
        return joined(self.chip, self._fitting(kind, place, offers))

    def _fitting(self, kind: LineKind, place: int, offers: Sequence[Sequence[Offer]]) -> list[list[Offer]]:
        """Of each layer's offers those that ask for the mode that is wanted; any, where it is to be off: others may see to it."""
        return [
            [
                offer
                for offer in each
                if mode is None or mode == (offer.asked.ahead if held and place >= 0 else offer.asked.here)
            ]
            for mode, held, each in zip(kind.modes, self.held, offers, strict=True)
        ]


def mode_asked(layer: Layer, setting: Setting, line: int) -> int | None:
    """The mode that the layer asks for on a line under a setting whose splits are lines; None where it is off."""
    if not setting[f"{layer.name}.enable"]:
        return None
    if len(layer.modes) == 1:
        return 0
    return setting[f"{layer.name}.{'mode' if line < setting[f'{layer.name}.split'] else 'below'}"]
