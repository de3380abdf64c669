"""Is a budget true? No line that is drawn uses more than it says, and some line uses all of it.

The budget is arithmetic on the chip's description; the engine, which agrees with the twin access by access, draws random
scenes of random chips. A budget that says "fits" is held to it: nothing may be late, and no sprite that the limits promise
may lack a slot.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from itertools import product

import numpy as np
from hypothesis import assume, given, note, settings
from hypothesis import strategies as st
from strategies import states, timed_chips, writes

from vdpsim.budgets import line as lines_of_budgets
from vdpsim.budgets.budget import budget
from vdpsim.budgets.line import LineBudget, lines_budget
from vdpsim.budgets.reach import most_accesses, reachable, resolved
from vdpsim.chip.clients import buffered
from vdpsim.chip.model import AnyMode, Chip, Layer
from vdpsim.chip.slots import Stretch, mode_costs
from vdpsim.engine import Plan, draw
from vdpsim.memory import PaletteWrite, PortWrite, RegisterWrite, State, Transfer

EXAMPLES = max(1, settings.default.max_examples // 8)

lines_of_budgets.MOST_WAYS = 300  # so that many chips can be tried; the rest of their lines is bounded, not served


def without_cuts(chip: Chip, timed):
    """The writes that do not fall into the middle of a line of the picture (bytes through ports may)."""
    width = chip.frame.width
    plain = [write for write in timed if not isinstance(write, PortWrite)]
    return [w for w in plain if not (isinstance(w, RegisterWrite | PaletteWrite) and 0 < w.dot < width)]


@settings(max_examples=EXAMPLES)
@given(st.data())
def test_no_line_uses_more_than_the_worst(data):
    """Slots used by picture and refresh stay at or below the worst line, each layer's client below its own most; fits means
    fits.
    """
    chip = data.draw(timed_chips())
    state, timed = data.draw(states(chip)), without_cuts(chip, data.draw(writes(chip)))
    found = budget(chip)
    note(chip.model_dump_json(exclude_defaults=True))
    result = draw(Plan(chip), state, timed, damage=True)
    used = result.slots.counts[:, :-1].sum(axis=1)
    assert used.max() <= found.lines.bound
    for name, most in found.lines.most.items():
        assert result.slots.counts[:, result.slots.clients.index(name)].max() <= most, name
    if found.proved and found.fits:
        assert not result.missed.any()
        if chip.sprites and (chip.sprites.per_line is not None or chip.sprites.dots_per_line is not None):
            assert "slots" not in result.drops["reason"].tolist()
    if found.proved and result.missed.any():
        assert found.lines.late


class Witness:
    """A state in which some line of the picture, with the sprites that ask for slots there, is a line of the budget."""

    def __init__(self, chip: Chip, wanted: LineBudget) -> None:
        self.chip, self.wanted, self.can = chip, wanted, reachable(chip)
        self.state = State.at_reset(chip)
        self.line = -1
        self.tried: dict[str, object] = {}

    def make(self) -> bool:
        """Whether such a state was found; ``state`` is it, and ``line`` the line."""
        marks = {bool(stretch.turned) for _, mode, stretch in self._shown() if mode.kind == "tiles" and mode.cell.turn}
        if len(marks) > 1:
            return False  # some layers' cells turned and some not: they would have to lie apart
        self.state.memory[:] = 0xFF if True in marks else 0
        return self._lines() and (self.chip.sprites is None or self._crowd())

    def _put(self, name: str, fits: Callable[[int], bool]) -> bool:
        """Set a control to the first value that it can have and that ``fits``."""
        for value in self.can[name]:
            if fits(value):
                self.state.controls[self.state.names.index(name)] = value
                return True
        return False

    def _settings(self, layer: Layer, line: int) -> Iterator[tuple[tuple[int | None, int | None], dict[str, int]]]:
        """What the layer asks for on ``line`` and on the next, and the registers that make it so."""
        name, can = layer.name, self.can
        after = (line + 1) % self.chip.frame.lines_per_frame
        shows = after < self.chip.frame.height
        for enable in can[f"{name}.enable"]:
            if not enable:
                yield (None, None), {"enable": 0}
            elif len(layer.modes) == 1:
                yield (0, 0 if shows else None), {"enable": 1}
            else:
                splits = {(line < split, after < split): split for split in can[f"{name}.split"]}
                for (one, two), split in splits.items():
                    for mode, below in product(can[f"{name}.mode"], can[f"{name}.below"]):
                        asked = mode if one else below, (mode if two else below) if shows else None
                        yield asked, {"enable": 1, "split": split, "mode": mode, "below": below}

    def _modes(self, line: int) -> bool:
        """Set registers so that the layers fetch on ``line`` what is wanted there."""
        offers = []
        for number, layer in enumerate(self.chip.layers):
            fetched, seen = self.wanted.kind.modes[number], {}
            for asked, registers in self._settings(layer, line):
                here = asked[buffered(self.chip, layer)]
                if fetched is None or here == fetched:
                    seen.setdefault(self._matters(layer, asked), (asked, registers))
            offers.append(list(seen.values()))
        if str(offers) not in self.tried:
            found = (
                pairs
                for pairs in product(*offers)
                if self._fetched([asked for asked, _ in pairs]) == self.wanted.kind.modes
            )
            self.tried[str(offers)] = next(found, None)
        pairs = self.tried[str(offers)]
        for layer, (_, registers) in zip(self.chip.layers, pairs or (), strict=pairs is not None):
            for name, value in registers.items():
                self._put(f"{layer.name}.{name}", partial(int.__eq__, value))
        return pairs is not None

    def _matters(self, layer: Layer, asked: tuple[int | None, int | None]) -> tuple[object, ...]:
        """What of a layer's two modes can change what is fetched: the one that is fetched, and whom the other switches off."""
        held = buffered(self.chip, layer)
        other = asked[not held]
        return asked[held], None if other is None else layer.modes[other].exclusive

    def _fetched(self, asked: list[tuple[int | None, int | None]]) -> tuple[int | None, ...]:
        here, after = (resolved(self.chip, modes).modes for modes in zip(*asked, strict=True))
        return tuple(
            two if buffered(self.chip, layer) else one
            for layer, one, two in zip(self.chip.layers, here, after, strict=True)
        )

    def _shown(self) -> Iterator[tuple[Layer, AnyMode, Stretch | None]]:
        modes, stretches = self.wanted.kind.modes, self.wanted.shape.layers
        for layer, mode, (stretch,) in zip(self.chip.layers, modes, stretches, strict=True):
            if mode is not None:
                yield layer, layer.modes[mode], stretch

    def _scroll(self) -> bool:
        return all(
            self._put(f"{layer.name}.scroll_x", partial(begins_at, mode_costs(self.chip, mode).size, stretch.fine))
            for layer, mode, stretch in self._shown()
            if stretch and mode.kind != "text" and mode.scroll
        )

    def _lines(self) -> bool:
        """Find a line where each layer fetches what is wanted, and keeps its cells, or does not, as is wanted."""
        last = self.chip.frame.height
        if self.chip.sprites:
            last = min(last, min(self.chip.frame.height - 1, self.chip.sprites.fields.y.top) - ahead(self.chip) + 1)
        for line in range(last):
            held = {layer.name: buffered(self.chip, layer) for layer in self.chip.layers}
            can = self._modes(line) and self._scroll()
            if can and all(
                self._agrees(layer, mode, one, line + held[layer.name]) for layer, mode, one in self._shown()
            ):
                self.line = line
                return True
        return False

    def _agrees(self, layer: Layer, mode: AnyMode, stretch: Stretch | None, line: int) -> bool:
        """Whether what is fetched of ``line`` is ``stretch``: scrolled down, if it has to be, so that it is."""
        line %= self.chip.frame.lines_per_frame
        if mode.kind == "bitmap":
            return True
        keeps = self.chip.time.clients[f"{layer.name}.cells"].keep
        if mode.kind == "text":
            row = self._own_line(layer, mode, line) // mode.glyph[1]
            if (row >= mode.rows) != (stretch is None):
                return False
        if stretch is None or not keeps:
            return True
        same = line > 0 and self._mode_at(layer, line) == self._mode_at(layer, line - 1)
        if not same or stretch.kept == self._same_row(layer, mode, line):
            return same or not stretch.kept
        return (
            mode.kind == "tiles"
            and mode.scroll
            and any(
                self._put(f"{layer.name}.scroll_y", partial(int.__eq__, value))
                and stretch.kept == self._same_row(layer, mode, line)
                for value in self.can[f"{layer.name}.scroll_y"][: 2 * mode.tile]
            )
        )

    def _mode_at(self, layer: Layer, line: int) -> int:
        value = self.state.value
        if len(layer.modes) == 1:
            return 0
        return value(f"{layer.name}.{'mode' if line < value(f'{layer.name}.split') else 'below'}")

    def _own_line(self, layer: Layer, mode: AnyMode, line: int) -> int:
        split = self.state.value(f"{layer.name}.split") if len(layer.modes) > 1 else 0
        return line - split if mode.origin == "zone" and line >= split else line

    def _same_row(self, layer: Layer, mode: AnyMode, line: int) -> bool:
        """Whether ``line`` and the line before show the same row of cells."""
        rows = []
        for one in (line - 1, line):
            own = self._own_line(layer, mode, one)
            if mode.kind == "text":
                rows.append(own // mode.glyph[1])
            else:
                scroll = self.state.value(f"{layer.name}.scroll_y") if mode.scroll else 0
                rows.append((own + scroll) % (mode.rows * mode.tile) // mode.tile)
        return rows[0] == rows[1]

    def _crowd(self) -> bool:
        """Put the sprites that ask for most accesses on their line, first in the walk; the others elsewhere, if they can be."""
        table, state = self.chip.sprites, self.state
        if not self._put("sprites.enable", lambda value: value == 1):
            return True  # there are none, and none were asked for
        line = self.line + ahead(self.chip)
        layout = table.fields.layout
        sizes = [size for size, count in most_accesses(self.chip)[1] for _ in range(count)]
        first_in_walk = (table.front == "first") == (table.dropped == "back")
        records = np.zeros((table.count, table.record_bytes), np.uint8)
        for place in range(table.count):
            number = place if first_in_walk else table.count - 1 - place
            values = {"y": (line + 1) & layout["y"].top, "enable": 0}
            if place < len(sizes):
                values = {"y": line, "size": sizes[place], "enable": 1}
            word = sum(layout[name].put(value) for name, value in values.items() if name in layout)
            records[number] = np.frombuffer(word.to_bytes(table.record_bytes, self.chip.memory.byte_order), np.uint8)
        if table.table == "chip":
            state.sprites[:] = records
            return True
        if state.memory[0]:  # the memory says that all cells are turned: the table would lie among them
            return False
        at = state.value("sprites.table") + np.arange(records.size)
        state.memory[at % self.chip.memory.size] = records.reshape(-1)
        return True


def begins_at(size: int, fine: int, scroll: int) -> bool:
    """Whether the picture begins ``fine`` dots within a group of ``size``."""
    return scroll % size == fine


def ahead(chip: Chip) -> int:
    """How many lines ahead sprites are prepared."""
    return int(chip.sprites is not None and chip.time.clients["sprites"].when == "line before")


@settings(max_examples=EXAMPLES)
@given(st.data())
def test_some_scene_reaches_the_worst_line(data):
    """For a chip a state is made in which a line is the worst line: it uses exactly what the budget says, and misses as much."""
    chip = data.draw(timed_chips())
    lines = lines_budget(chip)
    worst = max(lines.kinds, key=lambda line: line.used)
    witness = Witness(chip, worst)
    found = witness.make()
    turns = any(mode.kind == "tiles" and mode.cell.turn for layer in chip.layers for mode in layer.modes)
    assert found or turns or not lines.sure or lines.late, (
        "a chip that fits has its fullest line where everything asks for most"
    )
    assume(found)
    note(chip.model_dump_json(exclude_defaults=True))
    result = draw(Plan(chip), witness.state, damage=True)
    assert result.slots.counts[witness.line, :-1].sum() == worst.used
    missed = dict.fromkeys(worst.missed, 0)
    for layer in chip.layers:
        line = (witness.line + buffered(chip, layer)) % chip.frame.lines_per_frame
        for number, name in enumerate(result.log.clients):
            if name.startswith(f"{layer.name}.") and line < chip.frame.height:
                missed[name] = int(result.missed[line, number])
    assert sum(missed.values()) == sum(worst.missed.values())
    if not lines.late and worst.sprites <= worst.room:
        assert worst.used in {lines.bound, lines.below.used} or lines.bound == lines.below.used


@settings(max_examples=EXAMPLES)
@given(st.data())
def test_the_cpu_lands_at_least_what_the_budget_says(data):
    """Bytes without end from the end of the picture on: within a frame's time at least ``bytes_per_frame`` land."""
    chip = data.draw(timed_chips())
    found = budget(chip)
    state, timed = data.draw(states(chip)), without_cuts(chip, data.draw(writes(chip)))
    timed = [write for write in timed if not isinstance(write, Transfer)]
    frame = chip.frame
    begin = Transfer(frame.height - 1, 0, bytes(chip.memory.size), frame.width, 0)
    assume(found.cpu.bytes_per_frame <= chip.memory.size)
    plan = Plan(chip)
    first = draw(plan, state, [*timed, begin], damage=True)
    second = draw(plan, state, damage=True, last=frame.height)
    landed = int(first.slots.counts[:, -1].sum() + second.slots.counts[:, -1].sum())
    note(chip.model_dump_json(exclude_defaults=True))
    assert landed >= found.cpu.bytes_per_frame
