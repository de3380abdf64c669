"""A chip resolved once: numbers, look-up arrays and ladders, so that drawing only gathers.

Law: all thinking about a chip is done here, before a dot is drawn. A Plan never changes but for its store of decoded
memory, a cache that holds what follows from the memory's bytes and nothing else; so one thread at a time draws with it.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from ..chip.colour import expand
from ..chip.controls import PICTURE_SIZE, address_names, controls, has_cell_bank, once
from ..chip.line.clients import ModeCosts, clients, costs_of, keeps, of_mode
from ..chip.line.slots import Server
from ..chip.model import AnyMode, Chip, Layer, Rung
from ..chip.registers import field_names, fields
from ..chip.tables.bits import Bits
from ..chip.tables.table import Condition, Effect
from ..state.state import State
from .store import SpriteRows, Store

LARGE = 8 << 20
"""Bytes; more than the arrays of a frame take."""

MOST_DOTS = 1 << 22
"""Dots of sprites that are held at once, where they are on several lines; each takes fifty bytes or so."""

NO_RUNG = 255
"""The rung of a sprite that the ladder has no place for."""


class ModePlan(NamedTuple):
    """A mode with what drawing asks of it: its palette rule, where its fetches are counted, its place in the chip.

    ``costs``: what a group of its dots takes; ``bases``: the controls with the addresses of its patterns, glyphs or bitmap.
    """

    mode: AnyMode
    base: int
    bank_step: int
    value_step: int
    prefix: str
    layer: str
    cell_bank: bool
    bank: str | None
    ladder: int | None
    hides: tuple[int, ...] | None
    columns: tuple[int, ...]
    keeps: bool
    costs: ModeCosts
    bases: tuple[str, ...]


class RungPlan(NamedTuple):
    """A rung: its number over all ladders, its source's number, its condition."""

    number: int
    source: int
    when: Condition | None


class LayerPlan(NamedTuple):
    """A layer: its source number, its modes, and the conditions that ladders put on its cells."""

    layer: Layer
    source: int
    modes: tuple[ModePlan, ...]
    conditions: tuple[Condition, ...]


class Plan:
    """Everything that drawing asks of a chip, ready to use. One Plan serves any number of states of its chip.

    Of a chip whose picture has several sizes each has a plan of its own, made when a frame of that size is first drawn: ``of`` a
    state gives it. They share the store.
    """

    width: int
    height: int
    number: dict[str, int]
    sets: dict[str, tuple[Effect, tuple[int, ...]]]
    waits: frozenset[str]
    rungs: tuple[str, ...]

    def __init__(self, chip: Chip, store: Store | None = None) -> None:
        # Each render makes a plan: what is kept ``once`` with the chip makes it take a sixteenth of the time.
        self.chip = chip
        self._at: dict[int, Plan] = {}
        self.width, self.height = chip.frame.width, chip.frame.height
        self.access = chip.memory.bytes_per_access
        self.number, self.sets, self.waits = once(chip, "_numbered", lambda: _numbered(chip))
        self.entry_dtype: npt.DTypeLike = np.uint8 if chip.palette.entries <= 256 else np.uint16
        self.colours: list[tuple[Bits, npt.NDArray[np.uint32]]] = _colours(chip)
        self.store: Store = store or Store(chip.memory.byte_order)
        self.sprite_rows: SpriteRows | None = once(chip, "_sprite_rows", lambda: _sprite_rows(chip))
        _keep_freed_memory()
        self._ladders()
        self.clients: tuple[str, ...] = clients(chip)
        self.column: dict[str, int] = {name: number for number, name in enumerate(self.clients)}
        self.colliding: npt.NDArray[np.bool_] = _colliding(chip)
        self.lines_at_once: int = max(1, MOST_DOTS // _sprite_dots(chip))
        self.server: Server | None = Server(chip) if chip.time else None
        self.bursts: dict[Any, Any] = {}
        self.per_line: int = self.server.line.slots if self.server else 1
        self.layers: tuple[LayerPlan, ...] = once(chip, "_layers", self._made_layers)
        self.sprite_source: int | None = len(chip.source_names) - 1 if chip.sprites else None

    def of(self, state: State) -> Plan:
        """The plan of the size that the state's frame has."""
        return self if self.chip.frame.number is not None else self.at(int(state.controls[self.number[PICTURE_SIZE]]))

    def at(self, size: int) -> Plan:
        """The plan of one size of the picture, by its number."""
        if self.chip.frame.number is None and size not in self._at:
            self._at[size] = Plan(self.chip.at_size(size), self.store)
        return self._at.get(size, self)

    def _ladders(self) -> None:
        """Number the rungs: the chip's own ladder first, then those of exclusive modes in the chip's order."""
        chip = self.chip
        sources = {name: number for number, name in enumerate(chip.source_names)}
        self.ladders: list[tuple[RungPlan, ...]] = []
        self.ladder_of: dict[tuple[str, str], int] = {}
        names: list[str] = []

        def add(ladder: tuple[Rung, ...]) -> None:
            self.ladders.append(
                tuple(RungPlan(len(names) + n, sources[r.source], r.when) for n, r in enumerate(ladder))
            )
            names.extend(map(str, ladder))

        add(chip.ladder)
        for layer in chip.layers:
            for mode in layer.modes:
                if mode.ladder is not None:
                    self.ladder_of[layer.name, mode.name] = len(self.ladders)
                    add(mode.ladder)
        self.backdrop_rung: int = len(names)
        self.rungs = (*names, "backdrop")
        self.source_of_rung: npt.NDArray[np.uint8] = np.zeros(256, np.uint8)
        for ladder in self.ladders:
            for step in ladder:
                self.source_of_rung[step.number] = step.source

    def _made_layers(self) -> tuple[LayerPlan, ...]:
        return tuple(self._layer(number, layer) for number, layer in enumerate(self.chip.layers))

    def _layer(self, number: int, layer: Layer) -> LayerPlan:
        modes, source = [], self.chip.source_names.index(layer.name)
        for index, mode in enumerate(layer.modes):
            base, bank_step, value_step = self.chip.entry_rule(mode.entries)
            bank = f"{layer.name}.bank"
            names = [f"{layer.name}.{client}" for client in of_mode(mode)]
            modes.append(
                ModePlan(
                    mode=mode,
                    base=base,
                    bank_step=bank_step,
                    value_step=value_step,
                    prefix=f"{layer.name}.{mode.name}",
                    layer=layer.name,
                    cell_bank=has_cell_bank(mode),
                    bank=bank if bank in self.number and not has_cell_bank(mode) else None,
                    ladder=self.ladder_of.get((layer.name, mode.name)),
                    hides=None if mode.exclusive is None else tuple(map(self.chip.layer_names.index, mode.exclusive)),
                    columns=tuple(self.column[name] for name in names),
                    keeps=keeps(self.chip, layer, index),
                    costs=costs_of(self.chip)[number][index],
                    bases=address_names(f"{layer.name}.{mode.name}", mode),
                )
            )
        found = {step.when for ladder in self.ladders for step in ladder if step.source == source and step.when}
        return LayerPlan(layer, source, tuple(modes), tuple(sorted(found, key=str)))


class _Numbered(NamedTuple):
    """The controls' numbers; when what a name sets counts, and which controls it sets; the fields that wait for a frame."""

    number: dict[str, int]
    sets: dict[str, tuple[Effect, tuple[int, ...]]]
    waits: frozenset[str]


def _numbered(chip: Chip) -> _Numbered:
    number = {name: number for number, name in enumerate(controls(chip))}
    known = field_names(chip).items()
    sets = {name: (field.effect, tuple(number[each] for each in field.controls)) for name, field in known}
    waits = frozenset(name for name, field in fields(chip).items() if field.effect == "next frame")
    return _Numbered(number, sets, waits)


def _sprite_rows(chip: Chip) -> SpriteRows | None:
    return SpriteRows(chip.sprites, chip.memory.bytes_per_access) if chip.sprites else None


def _sprite_dots(chip: Chip) -> int:
    """The most dots of sprites that a line can have, 1 at least."""
    sprites = chip.sprites
    if sprites is None:
        return 1
    dots = max(width for width, _ in sprites.sizes) * min(sprites.count, sprites.per_line or sprites.count)
    return dots if sprites.dots_per_line is None else min(dots, sprites.dots_per_line)


def _keep_freed_memory() -> None:
    """Let the C library keep the memory of a frame's arrays for the next frame.

    Where that is glibc, it hands large blocks back when they are freed and fetches them anew, page by page, until once a larger
    block has been freed. In a process that draws large frames alone (slipway: 1,600 pages a frame) a frame takes 1.2 times as
    long without this; where files were read before it, there is no difference.
    """
    np.empty(LARGE, np.uint8)


def _colliding(chip: Chip) -> npt.NDArray[np.bool_]:
    """Bool (groups, groups): which group numbers are set to collide; the last stands for all numbers without a name."""
    named = chip.collisions
    groups = range(1 + (len(named.groups) if named else 0))
    return np.array([[named is not None and named.collide(a, b) for b in groups] for a in groups])


def _colours(chip: Chip) -> list[tuple[Bits, npt.NDArray[np.uint32]]]:
    """For red, green and blue: how to take the field from a packed word, and its 8-bit value placed in an RGBX word."""
    found = []
    for place, bits in enumerate(chip.palette.layout.values()):
        scaled = [expand(value, bits.width) << 8 * place for value in range(bits.top + 1)]
        found.append((bits, np.array(scaled, np.uint32)))
    return found


def rgbx(plan: Plan, words: npt.NDArray[np.uint32]) -> npt.NDArray[np.uint32]:
    """Packed colour words as uint32 words whose bytes in memory are red, green, blue and nothing; any shape."""
    out = np.zeros(words.shape, np.uint32)
    for bits, scaled in plan.colours:
        out |= scaled[bits.get(words)]
    return out.astype("<u4")
