"""Layers whose settings hang together: a field of a register sets several of them alike.

Law: settings that no registers allow are left out where that can be told; where it cannot, layers count as free of each other,
so that nothing is missing. Plain Python. Knows no slot and no mode by more than its number.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import product
from math import prod
from typing import TypeVar

from ...chip.model import Chip
from ...chip.registers import field_names

MOST_TIED = 4_096
"""Choices of values of layers that hang together that are looked through; of more they count as free of each other."""

CONTROLS = ("enable", "mode", "below", "split")
"""What says which mode a layer shows."""

Setting = dict[str, int]
"""Controls and their values."""

Offered = TypeVar("Offered")


def asking(chip: Chip, number: int) -> list[str]:
    """The controls that say which mode layer ``number`` shows."""
    layer = chip.layers[number]
    return [f"{layer.name}.{what}" for what in (CONTROLS if len(layer.modes) > 1 else CONTROLS[:1])]


def groups(chip: Chip) -> list[tuple[int, ...]]:
    """The layers by number, those together that a field ties to each other; in order of the first of each."""
    held = field_names(chip)
    found: list[tuple[set[int], set[str]]] = []
    for number in range(len(chip.layers)):
        names = {held[name].name if name in held else name for name in asking(chip, number)}
        mine = [one for one in found if one[1] & names]
        found = [one for one in found if one not in mine]
        found.append(({number}.union(*(one[0] for one in mine)), names.union(*(one[1] for one in mine))))
    return sorted(tuple(sorted(numbers)) for numbers, _ in found)


def settings(
    chip: Chip, group: Sequence[int], can: Mapping[str, range], splits: Callable[[range], Sequence[int]]
) -> list[Setting] | None:
    """Every setting of a group's layers; ``splits``: the values of a split that matter. None where no field ties anything in it.

    None as well where a split hangs together with something else, or where there are too many.
    """
    held = field_names(chip)
    names = [name for number in group for name in asking(chip, number)]
    by_field: dict[str, list[str]] = {}
    for name in names:
        by_field.setdefault(held[name].name if name in held else name, []).append(name)
    mixed = any(len({name.endswith(".split") for name in each}) > 1 for each in by_field.values())
    if mixed or all(len(each) == 1 for each in by_field.values()):
        return None
    values = [splits(can[each[0]]) if each[0].endswith(".split") else can[each[0]] for each in by_field.values()]
    if prod(map(len, values)) > MOST_TIED:
        return None
    return [_setting(by_field, chosen) for chosen in product(*values)]


def _setting(by_field: Mapping[str, Sequence[str]], chosen: Sequence[int]) -> Setting:
    return {name: value for names, value in zip(by_field.values(), chosen, strict=True) for name in names}


def by_fields(chip: Chip, setting: Mapping[str, int]) -> Setting | None:
    """The setting by the names of fields; of what is wired by controls. None where a field would need two values."""
    held, found = field_names(chip), Setting()
    for control, value in setting.items():
        name = held[control].name if control in held else control
        if found.setdefault(name, value) != value:
            return None
    return found


def joined(chip: Chip, offers: Sequence[Sequence[tuple[Offered, Setting]]]) -> Iterator[tuple[list[Offered], Setting]]:
    """Every choice of one of each of the ``offers``, in order, whose settings go together: what was chosen, and all settings."""
    own = {name: field.name for name, field in field_names(chip).items()}

    def chosen(at: int, before: Mapping[str, int]) -> Iterator[tuple[list[Offered], Setting]]:
        if at == len(offers):
            yield [], {}
            return
        for what, setting in offers[at]:
            mine = {own.get(name, name): value for name, value in setting.items()}
            if any(before.get(name, value) != value for name, value in mine.items()):
                continue
            if len(mine) < len(setting) and by_fields(chip, setting) is None:
                continue
            for rest, further in chosen(at + 1, {**before, **mine}):
                yield [what, *rest], {**setting, **further}

    return chosen(0, {})
