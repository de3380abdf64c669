"""Is a budget true? No line that is drawn uses more than it says, and some line uses all of it.

The budget is arithmetic on the chip's description; the engine, which agrees with the twin access by access, draws random scenes of
random chips. A budget that says "fits" is held to it: nothing may be late, and no sprite that the limits promise may lack a slot.
"""

from __future__ import annotations

from itertools import product

import numpy as np
from hypothesis import assume, given, note, settings
from hypothesis import strategies as st
from strategies import chips, states, writes

from vdpsim.budgets.budget import budget
from vdpsim.budgets.line import lines_budget
from vdpsim.budgets.reach import _choices, _resolved, kinds, most_accesses, reachable
from vdpsim.chip.model import Chip
from vdpsim.engine import Plan, draw
from vdpsim.memory import PaletteWrite, PortWrite, RegisterWrite, State, Transfer

EXAMPLES = max(1, settings.default.max_examples // 2)


def without_cuts(chip: Chip, timed):
    """The writes that do not fall into the middle of a line of the picture (bytes through ports may)."""
    width = chip.frame.width
    plain = [write for write in timed if not isinstance(write, PortWrite)]
    return [w for w in plain if not (isinstance(w, RegisterWrite | PaletteWrite) and 0 < w.dot < width)]


@settings(max_examples=EXAMPLES)
@given(st.data())
def test_no_line_uses_more_than_the_worst(data):
    """Slots used by picture and refresh stay at or below the worst line, each layer's client below its own most; fits means fits."""
    chip = data.draw(chips())
    assume(chip.time is not None)
    state, timed = data.draw(states(chip)), without_cuts(chip, data.draw(writes(chip)))
    found = budget(chip)
    note(chip.model_dump_json(exclude_defaults=True))
    result = draw(Plan(chip), state, timed, damage=True)
    used = result.slots.counts[:, :-1].sum(axis=1)
    assert used.max() <= found.worst_line.used
    if not found.lines.late:
        for column, name in enumerate(result.slots.clients[:-1]):
            if not name.startswith("sprites."):
                most = max(line.by_client[name] for line in (*found.lines.kinds, found.lines.below))
                assert result.slots.counts[:, column].max() <= most, name
    if found.proved and found.fits:
        assert not result.missed.any()
        if chip.sprites and (chip.sprites.per_line is not None or chip.sprites.dots_per_line is not None):
            assert "slots" not in result.drops["reason"].tolist()
    if found.proved and result.missed.any():
        assert found.lines.late


def worst_scene(chip: Chip, line) -> State | None:
    """A state in which line 0 of the picture, with the sprites that ask for slots there, is ``line``; None where none was found."""
    state = State.at_reset(chip)
    can = reachable(chip)

    def put(name: str, value: int) -> None:
        state.controls[state.names.index(name)] = value

    def value_for(name: str, fits) -> bool:
        """Set the first reachable value that ``fits``."""
        for value in can[name]:
            if fits(value):
                put(name, value)
                return True
        return False

    chosen = next(
        modes for modes in product(*(list(_choices(chip, layer, can)) for layer in chip.layers)) if _resolved(chip, modes) == line.kind
    )
    for layer, mode, stretches in zip(chip.layers, chosen, line.shape, strict=True):
        put(f"{layer.name}.enable", int(mode is not None))
        if mode is None:
            continue
        if len(layer.modes) > 1:
            above = mode in can[f"{layer.name}.mode"] and value_for(f"{layer.name}.split", lambda split: split > 0)
            if above:
                put(f"{layer.name}.mode", mode)
            elif not (value_for(f"{layer.name}.split", lambda split: split == 0) and mode in can[f"{layer.name}.below"]):
                return None
            else:
                put(f"{layer.name}.below", mode)
        stretch = stretches[0]
        if stretch is None:
            return None
        size = {"tiles": lambda m: m.tile, "bitmap": lambda m: 8 * chip.memory.bytes_per_access // m.bits_per_dot}
        if layer.modes[mode].kind in size and layer.modes[mode].scroll:
            group = size[layer.modes[mode].kind](layer.modes[mode])
            value_for(f"{layer.name}.scroll_x", lambda value, group=group, fine=stretch.fine: value % group == fine)
        if stretch.turned:
            state.memory[:] = 0xFF
    return state if chip.sprites is None or crowd(chip, state, 1 if ahead(chip) else 0) else None


def ahead(chip: Chip) -> bool:
    return chip.time.clients["sprites"].when == "line before"


def crowd(chip: Chip, state: State, line: int) -> bool:
    """Put the sprites that ask for most accesses on ``line``, first in the walk; the others elsewhere, if they can be."""
    table = chip.sprites
    _, chosen, _ = most_accesses(chip)
    layout = table.fields.layout
    if state.names.index("sprites.enable") is None or state.value("sprites.enable") == 0:
        return False
    sizes = [size for size, count in chosen for _ in range(count)]
    first_in_walk = (table.front == "first") == (table.dropped == "back")
    records = np.zeros((table.count, table.record_bytes), np.uint8)
    for place in range(table.count):
        number = place if first_in_walk else table.count - 1 - place
        values = {"y": line}
        if place < len(sizes):
            values |= {"size": sizes[place], "enable": 1}
        else:
            values |= {"y": line + 1, "enable": 0}
        word = sum(layout[name].put(value) for name, value in values.items() if name in layout)
        records[number] = np.frombuffer(word.to_bytes(table.record_bytes, chip.memory.byte_order), np.uint8)
    if table.table == "chip":
        state.sprites[:] = records
        return True
    at = state.value("sprites.table") + np.arange(records.size)
    state.memory[at % chip.memory.size] = records.reshape(-1)
    return True


@settings(max_examples=EXAMPLES)
@given(st.data())
def test_some_scene_reaches_the_worst_line(data):
    """For each chip a state is made whose first lines are the worst line: it uses exactly what the budget says."""
    chip = data.draw(chips())
    assume(chip.time is not None)
    lines = lines_budget(chip)
    worst = max(lines.kinds, key=lambda line: line.used)
    turned = any(stretch.turned for (stretch,) in worst.shape if stretch)
    assume(not (turned and chip.sprites and chip.sprites.table == "memory"))  # the table would have to lie in the map
    state = worst_scene(chip, worst)
    assume(state is not None)
    note(chip.model_dump_json(exclude_defaults=True))
    result = draw(Plan(chip), state, damage=True)
    assert result.slots.counts[0, :-1].sum() == worst.used
    assert bool(result.missed[0].any()) == bool(worst.missed)


@settings(max_examples=EXAMPLES)
@given(st.data())
def test_the_cpu_lands_at_least_what_the_budget_says(data):
    """Bytes without end from the end of the picture on: within a frame's time at least ``bytes_per_frame`` land."""
    chip = data.draw(chips())
    assume(chip.time is not None)
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


def test_every_kind_of_line_is_among_the_kinds(curlew=None):
    """Kinds by hand: two layers a and b of one mode each, both can be disabled: four kinds."""
    from paper import TILES, small_chip

    assert [kind.modes for kind in kinds(small_chip(TILES, TILES))] == [(0, 0), (0, None), (None, 0), (None, None)]
