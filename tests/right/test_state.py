"""A chip's state by itself: a copy has all of it and shares nothing that can change; what a write does to it, kind by kind."""

from __future__ import annotations

from copy import deepcopy
from dataclasses import FrozenInstanceError, fields
from fractions import Fraction
from functools import partial

import little
import numpy as np
import pytest

from vdpsim.state.enact import begin_frame, enact, set_register
from vdpsim.state.state import Ahead, KeptCells, LineBuffer, State, Waiting
from vdpsim.state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, SpriteWrite, Transfer

NEVER_CHANGE = (int, str, bytes, Fraction, type(None))
CHANGE = (np.ndarray, list, dict, set, bytearray)
LINE = LineBuffer(0, (1, -1), (("bank", (0, 1)),), (("ground.cells", 2),))
FULL = {
    "next_frame": {2: 5},
    "frame": 3,
    "line": 4,
    "collision_flags": 1,
    "status": 2,
    "ports": [[7, 1]],
    "ahead": Ahead(2, ((1, "count"),), ((0, 9, 1, b"\1"),)),
    "buffers": {0: LINE},
    "kept": {0: KeptCells(0, 1, 2, 3, (4,), 64)},
    "waiting": (Waiting(0, 1, 2, b"\3\4", 1, 1, (Fraction(1, 3),)),),
    "transfers": 6,
    "held": {1: (2, 3)},
}
"""A value for each field of a State that does not make its default."""


def full() -> State:
    state = little.machine().state
    for name, value in FULL.items():
        setattr(state, name, deepcopy(value))
    return state


def inside(value):
    """What can change in ``value``, at whatever depth. Raises AssertionError for a kind that nobody has looked at."""
    if isinstance(value, CHANGE):
        yield value
    if isinstance(value, dict):
        value = (*value, *value.values())
    if isinstance(value, tuple | list):
        for each in value:
            yield from inside(each)
    else:
        assert isinstance(value, (*NEVER_CHANGE, np.ndarray)), f"{type(value)}: can it change?"


def held(state: State):
    return [each for field in fields(state) if field.name != "chip" for each in inside(getattr(state, field.name))]


def alike(one: State, other: State) -> bool:
    pairs = [(getattr(one, field.name), getattr(other, field.name)) for field in fields(State)]
    return all(np.array_equal(a, b) if isinstance(a, np.ndarray) else a == b for a, b in pairs)


def test_the_full_state_has_a_value_of_its_own_in_every_field():
    """So that a field which a copy forgot would show."""
    plain, ours = little.machine().state, full()
    given = {"chip", "memory", "palette", "sprites", "controls", "names"}
    assert {field.name for field in fields(State)} == given | set(FULL)
    assert all(getattr(plain, name) != getattr(ours, name) for name in FULL)


def test_a_copy_has_every_field_and_shares_nothing_that_can_change():
    state = full()
    copy = state.copy()
    assert type(copy) is State
    assert alike(state, copy)
    assert copy.chip is state.chip
    assert len(held(state)) == len(held(copy)) == 10  # 4 arrays, 4 dicts, the list of ports and its one port
    assert not {id(each) for each in held(state)} & {id(each) for each in held(copy)}
    assert not any(np.shares_memory(getattr(state, n), getattr(copy, n)) for n in ("memory", "palette", "sprites"))


@pytest.mark.parametrize(
    "change",
    [
        lambda s: s.memory.__setitem__(0, 255),
        lambda s: s.palette.__setitem__(0, 9),
        lambda s: s.sprites.__setitem__((0, 0), 9),
        lambda s: s.controls.__setitem__(0, 9),
        lambda s: s.next_frame.clear(),
        lambda s: s.ports[0].__setitem__(0, 9),
        lambda s: s.buffers.clear(),
        lambda s: s.kept.clear(),
        lambda s: s.held.clear(),
    ],
)
def test_a_change_of_a_copy_leaves_the_state_alone_and_the_other_way_round(change):
    state, other = full(), full()
    copy = state.copy()
    change(copy)
    assert alike(state, other)
    assert not alike(copy, other)
    untouched = other.copy()
    change(other)
    assert alike(untouched, state)


WRITES = {
    "register": (RegisterWrite(0, "ground.scroll_x", 5), "controls"),
    "palette": (PaletteWrite(0, 3, (1, 2)), "palette"),
    "sprites": (SpriteWrite(0, 6, b"\xaa\xbb"), "sprites"),
    "memory": (MemoryWrite(0, 8190, b"\xaa\xbb"), "memory"),
}


@pytest.mark.parametrize(("write", "field"), WRITES.values(), ids=WRITES)
def test_a_write_changes_its_own_place_and_no_other(write, field):
    before = little.machine().state
    state = before.copy()
    enact(state, write, waits=())
    differ = [
        each.name for each in fields(State) if not np.array_equal(getattr(state, each.name), getattr(before, each.name))
    ]
    assert differ == [field]


def test_writes_lie_where_they_say():
    state = little.machine().state
    for write, _ in WRITES.values():
        enact(state, write, waits=())
    assert state.value("ground.scroll_x") == 5
    assert state.palette[2:6].tolist() == [0x222, 1, 2, 0x555]
    assert state.sprites.tolist()[1] == [0, 0, 0xAA, 0xBB]  # byte 6 is byte 2 of record 1
    assert state.memory[8190:].tolist() == [0xAA, 0xBB]


def test_what_waits_comes_with_the_frame():
    state = little.machine().state
    number = state.names.index("backdrop")
    set_register(state, "backdrop", 7, waits={"backdrop"})
    assert (state.value("backdrop"), state.next_frame) == (0, {number: 7})
    begin_frame(state)
    assert (state.value("backdrop"), state.next_frame, state.frame, state.line) == (7, {}, 1, 0)


def test_a_value_that_need_not_wait_takes_the_place_of_one_that_waits():
    state = little.machine().state
    set_register(state, "backdrop", 7, waits={"backdrop"})
    set_register(state, "backdrop", 9, waits={"ground.scroll_x"})
    assert (state.value("backdrop"), state.next_frame) == (9, {})


def test_a_write_never_changes():
    for write, _ in WRITES.values():
        before = repr(write)
        for change in (
            partial(setattr, write, "line", 3),
            partial(setattr, write, "reed", 3),
            partial(delattr, write, "line"),
        ):
            with pytest.raises(FrozenInstanceError, match=r"field '(line|reed)'"):
                change()
        assert repr(write) == before


@pytest.mark.parametrize("write", [Transfer(0, 0, b"\1"), PortWrite(0, 0x80, 1)])
def test_what_needs_slots_or_ports_first_does_nothing(write):
    before = little.machine().state
    state = before.copy()
    enact(state, write, waits=())
    assert alike(state, before)
