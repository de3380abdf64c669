"""Which entries of the palette a source can show: its banks, and what several sources have in common.

Law: everything follows from the chip's palette rules. A *view* is one bank as one source sees it: the entries of its values,
without the value that shows nothing. A *page* is what views that share entries have in common, so that a colour put there is
seen by all of them. Knows no picture.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from ...chip.controls import cell_bank, controls
from ...chip.model import AnyMode, BitmapMode, Chip, Entries, Rung, SpritesTable
from ...chip.registers import field_names, rest_values
from ...chip.tables.bits import Bits
from ...door.shown import named
from ...door.shown import value as shown


@dataclass(frozen=True)
class View:
    """A bank as a source sees it: ``entries`` and the ``values`` that show them, ascending, each entry once."""

    bank: int
    entries: tuple[int, ...]
    values: tuple[int, ...]

    def value(self, entry: int) -> int:
        """The value that shows ``entry``. Raises ValueError where none does."""
        return self.values[self.entries.index(entry)]


@dataclass(frozen=True)
class Reach:
    """What a source can show: its views, and whether all of it shows the same one (``single``).

    ``part``: banks were left out, as they share entries with others.
    """

    views: tuple[View, ...]
    single: bool
    part: bool = False

    def one(self, at: int) -> Reach:
        """Only the view at place ``at``."""
        return Reach((self.views[at],), self.single, self.part)


def layer_reach(chip: Chip, layer: str, mode: AnyMode, banks: Collection[int] | int | None = None) -> Reach:
    """The views of a tiles or bitmap mode: of the cell's banks, or of those that the layer's register can name.

    ``banks``: only these, or so many from the lowest on. Raises ValueError where one of them is none of the mode's.
    """
    of_cell = cell_bank(mode)
    known: Sequence[int] = layer_banks(chip, layer) if of_cell is None else range(of_cell.top + 1)
    top = mode.top_value
    if isinstance(mode, BitmapMode) and mode.colours is not None and mode.colours.two:
        top = mode.colours.both
    return _reach(chip, mode.entries, top, mode.transparent, _chosen(known, banks), single=of_cell is None)


def layer_banks(chip: Chip, layer: str) -> Sequence[int]:
    """The banks that a layer without banks in its cells can be set to: one, where there is no register for it."""
    name = f"{layer}.bank"
    if name not in controls(chip):
        return (0,)
    register = field_names(chip).get(name)
    if register is None:
        return (rest_values(chip)[name],)
    return range(0, register.top + 1, register.step)


def sprite_reach(chip: Chip, sprites: SpritesTable, banks: Collection[int] | int | None = None) -> Reach:
    """The views of the sprites' banks. Raises ValueError where one of ``banks`` is none of them."""
    field = sprites.fields.bank
    known = range(field.top + 1) if field else range(1)
    top = (1 << sprites.bits_per_dot) - 1
    return _reach(chip, sprites.entries, top, sprites.transparent, _chosen(known, banks), single=False)


def _chosen(known: Sequence[int], banks: Collection[int] | int | None) -> list[int]:
    if banks is None:
        return list(known)
    if isinstance(banks, int):
        if not 1 <= banks <= len(known):
            raise ValueError(f"there are {len(known)} banks, got {shown(banks)}")
        return list(known[:banks])
    wrong = sorted(set(banks) - set(known))
    if wrong or not banks:
        told = f"{known[0]} to {known[-1]}" if len(known) > 1 else f"{known[0]}, the only one"
        raise ValueError(f"banks must be {told}, got {named(wrong) if wrong else 'none'}")
    return sorted(set(banks))


def _reach(
    chip: Chip, entries: Entries, top: int, transparent: int | None, banks: Sequence[int], *, single: bool
) -> Reach:
    """The views of ``banks``. Of banks that share entries only the first is taken, but for a source that shows one alone."""
    base, bank_step, value_step = chip.entry_rule(entries)
    views: list[View] = []
    taken: set[int] = set()
    for bank in banks:
        found: dict[int, int] = {}
        for value in range(top + 1):
            if value != transparent:
                found.setdefault(base + bank * bank_step + value * value_step, value)
        if found and (single or not taken.intersection(found)):
            views.append(View(bank, tuple(found), tuple(found.values())))
            taken.update(found)
    return Reach(tuple(views), single, part=len(views) < len(banks))


def pages(sources: Sequence[Reach]) -> tuple[list[tuple[int, ...]], list[dict[int, int]]] | None:
    """The pages of several sources: the entries of each, and of each source the page of each of its views.

    Pages stand in the order of their lowest entry. None where a page would have several views of one source, or where views
    that share entries have none that all of them see: such sources are fitted one after the other.
    """
    owner: dict[int, int] = {}
    groups: list[list[tuple[int, int]]] = []
    for number, source in enumerate(sources):
        for at, view in enumerate(source.views):
            touched = sorted({owner[entry] for entry in view.entries if entry in owner})
            here = [(number, at)] + [member for other in touched for member in groups[other]]
            for other in touched:
                groups[other] = []
            groups.append(here)
            for member, place in here:
                owner.update(dict.fromkeys(sources[member].views[place].entries, len(groups) - 1))
    found: list[tuple[tuple[int, ...], list[tuple[int, int]]]] = []
    for group in groups:
        if not group:
            continue
        common = set.intersection(*(set(sources[number].views[at].entries) for number, at in group))
        if not common or len({number for number, _ in group}) < len(group):
            return None
        found.append((tuple(sorted(common)), group))
    found.sort()
    places: list[dict[int, int]] = [{} for _ in sources]
    for page, (_, group) in enumerate(found):
        for number, at in group:
            places[number][at] = page
    return [entries for entries, _ in found], places


@dataclass(frozen=True, eq=False)
class EntryGroup:
    """Entries that belong together: all ``entries`` that any of its views sees, and the ``common`` ones that all see.

    ``views``: by the place of its source, the one view that the source has of it.
    """

    entries: tuple[int, ...]
    common: tuple[int, ...]
    views: Mapping[int, View]


def groups(sources: Sequence[Reach]) -> list[EntryGroup] | None:
    """The groups of entries of several sources, in the order of their lowest entry.

    A source with one view that would join several groups sees all of them and joins none; entries that only such sources
    see are groups of their own, those that the same of them see together. None where that is not enough to keep the views
    of each source apart.
    """
    wide = {at for at, source in enumerate(sources) if len(source.views) == 1} if pages(sources) is None else set()
    narrow = [at for at in range(len(sources)) if at not in wide]
    laid = pages([sources[at] for at in narrow])
    if laid is None:
        return None
    members: list[dict[int, View]] = [{} for _ in laid[0]]
    for at, places in zip(narrow, laid[1], strict=True):
        for view, page in places.items():
            members[page][at] = sources[at].views[view]
    taken = {entry for some in members for view in some.values() for entry in view.entries}
    alone: dict[tuple[int, ...], set[int]] = {}
    for entry in sorted({entry for at in wide for entry in sources[at].views[0].entries} - taken):
        alone.setdefault(tuple(at for at in sorted(wide) if entry in sources[at].views[0].entries), set()).add(entry)
    found = []
    for some in members:
        entries = {entry for view in some.values() for entry in view.entries}
        some.update({at: sources[at].views[0] for at in wide if entries.intersection(sources[at].views[0].entries)})
        found.append((entries, some))
    found += [(entries, {at: sources[at].views[0] for at in who}) for who, entries in alone.items()]
    made = []
    for entries, some in found:
        common = entries.intersection(*(view.entries for view in some.values()))
        made.append(EntryGroup(tuple(sorted(entries)), tuple(sorted(common)), some))
    return sorted(made, key=lambda group: group.entries)


def rung_fields(ladder: Sequence[Rung], source: str, layout: Mapping[str, Bits]) -> dict[str, int]:
    """What cells or records of ``source`` have to say to stand on the ladder: nothing where 0 everywhere will do."""
    rungs = [rung.when for rung in ladder if rung.source == source]
    if any(when is None or when.holds(0) for when in rungs):
        return {}
    for when in rungs:
        if when is not None and when.field in layout:
            for number in range(min(layout[when.field].top, 255) + 1):
                if when.holds(number):
                    return {when.field: number}
    return {}
