"""Faults planted in what is told of time: each wrong slot, access, byte, flag and leftover of a state is reported, in its
place.
"""

from __future__ import annotations

import dataclasses
from typing import Any

import numpy as np
import pytest
from agreement import differences, result_differences, state_differences
from paper import SPRITES, TILES, holding, small_chip, sprite
from twin import draw_frame

from vdpsim.engine import Plan, draw
from vdpsim.state.state import Ahead, KeptCells, LineBuffer, Waiting
from vdpsim.state.writes import Transfer

CLIENTS = {
    "a.cells": {"when": "in time", "lead": 1, "keep": True},
    "a.pattern": {"when": "in time", "lead": 1},
    "sprites": {"when": "line before"},
}


@pytest.fixture(scope="module")
def scene():
    """(chip, twin, result, state after it) of a frame in which accesses are late, bytes land, a transfer goes on and flags
    are raised.
    """
    chip = small_chip(
        TILES,
        sprites=SPRITES,
        memory={"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 1},
        time={"clients": CLIENTS, "refresh": {"slots": 2}, "cpu": {"active": "none"}},
        ports=[{"target": "memory", "address": 0x8000, "data": 0x8002}],
        status={"address": 0x8003, "picture_end": 0, "line": 1, "cleared": "read"},
        cpu={"clock": 1_000_000, "cycles_per_byte": 3, "queue": 2},
    )
    state = holding(
        chip, {0: bytes(range(128)), 128: bytes(range(64, 128))}, [sprite(4, 8, 1)], a__t__patterns=128, a__scroll_x=7
    )
    other = state.copy()
    writes = [Transfer(3, 900, b"abc"), Transfer(60, 0, bytes(1000))]
    twin = draw_frame(state, writes)
    return chip, twin, draw(Plan(chip), other, writes, damage=True, trace=True), state, other


def test_the_scene_is_rich_and_agrees(scene):
    chip, twin, result, state, other = scene
    assert differences(chip, twin, result) + state_differences(state, other) == []
    assert result_differences(result, result) == []
    assert result.missed.any()
    assert [record["ended"] for record in result.transfers] == [True, False]
    assert len(result.raised) == 2
    assert state.waiting


def one_more(array: np.ndarray, at: Any) -> np.ndarray:
    """A copy of ``array`` with one place counted one up."""
    copy = array.copy()
    copy[at] += 1
    return copy


def record(array: np.ndarray, at: int, field: str, value: Any) -> np.ndarray:
    """A copy of ``array`` with another value in a field of one record."""
    copy = array.copy()
    assert copy[field][at] != value
    copy[field][at] = value
    return copy


def slots(result, **parts):
    return dataclasses.replace(result, slots=dataclasses.replace(result.slots, **parts))


FAULTS = {
    "missed of a.pattern line 5": lambda r: dataclasses.replace(r, missed=one_more(r.missed, (5, 1))),
    "missed of a.cells: 64 rows and 63": lambda r: dataclasses.replace(r, missed=r.missed[:63]),
    "slots: none in the engine's result": lambda r: dataclasses.replace(r, slots=None),
    "slots: 1 ": lambda r: slots(r, first=1),
    "slots of refresh line 69": lambda r: slots(r, counts=one_more(r.slots.counts, (69, 3))),
    "slots of cpu line 3": lambda r: slots(r, counts=one_more(r.slots.counts, (3, 4))),
    "slots of a.cells: 70 rows and 69": lambda r: slots(r, counts=r.slots.counts[:69]),
    "idle slots line 0": lambda r: slots(r, per_line=81),
    "trace record 0": lambda r: dataclasses.replace(r, trace=record(r.trace, 0, "slot", 1)),
    "trace record 7": lambda r: dataclasses.replace(r, trace=record(r.trace, 7, "address", 1023)),
    "trace record 8": lambda r: dataclasses.replace(r, trace=record(r.trace, 8, "value", 255)),
    "trace record 9": lambda r: dataclasses.replace(r, trace=record(r.trace, 9, "client", 4)),
    "trace: ": lambda r: dataclasses.replace(r, trace=r.trace[1:]),
    "transfers: only the engine has (0, ": lambda r: dataclasses.replace(
        r, transfers=record(r.transfers, 0, "last_slot", 79)
    ),
    "transfers: only the twin has (0, ": lambda r: dataclasses.replace(
        r, transfers=record(r.transfers, 0, "waited", 99)
    ),
    "transfers: only the twin has (1, ": lambda r: dataclasses.replace(
        r, transfers=record(r.transfers, 1, "ended", True)
    ),
    "raised flags: only the engine has (1, 0, ": lambda r: dataclasses.replace(
        r, raised=record(r.raised, 0, "line", 1)
    ),
    "raised flags: only the twin has (64, 0, ": lambda r: dataclasses.replace(
        r, raised=record(r.raised, 1, "flag", "line")
    ),
}


@pytest.mark.parametrize("told", FAULTS)
def test_a_fault_in_the_result_is_told(scene, told):
    chip, twin, result, *_ = scene
    found = differences(chip, twin, FAULTS[told](result))
    assert any(text.startswith(told) for text in found), found


SLICE_FAULTS = {
    "slots: only one of the two has it": lambda r: dataclasses.replace(r, slots=None),
    "trace: only one of the two has it": lambda r: dataclasses.replace(r, trace=None),
    "slots: ": lambda r: slots(r, first=1),
    "slots line 69": lambda r: slots(r, counts=one_more(r.slots.counts, (69, 3))),
    "trace record 8": lambda r: dataclasses.replace(r, trace=record(r.trace, 8, "value", 255)),
    "missed line 5": lambda r: dataclasses.replace(r, missed=one_more(r.missed, (5, 1))),
    "transfers line 0": lambda r: dataclasses.replace(r, transfers=record(r.transfers, 0, "bytes", 9)),
    "raised line 1": lambda r: dataclasses.replace(r, raised=record(r.raised, 1, "dot", 3)),
}


@pytest.mark.parametrize("told", SLICE_FAULTS)
def test_a_fault_between_two_results_is_told(scene, told):
    result = scene[2]
    found = result_differences(result, SLICE_FAULTS[told](result))
    assert any(text.startswith(told) for text in found), found


STATE_FAULTS = {
    "status": 0,
    "ports": [[1, 1]],
    "ahead": Ahead(0, (), ((0, 0, 0, b"\0"),)),
    "buffers": {0: LineBuffer(0, (1,), (), ())},
    "kept": {0: KeptCells(0, 0, 0, 0, (1,), 8)},
    "waiting": (Waiting(1, 0, 0, b"a", 1),),
    "transfers": 9,
}


def test_a_byte_that_is_at_hand_at_another_moment_is_told(scene):
    state = scene[3]
    (one,) = state.waiting
    assert len(one.at_hand) == 2
    other = state.copy()
    other.waiting = (one._replace(at_hand=(one.at_hand[0], one.at_hand[1] + 1)),)
    found = state_differences(state, other)
    assert any(text.startswith("state waiting") for text in found), found


PACE_FAULTS = {
    "as though the queue held a byte more": {"queue": 3},
    "as though it held a byte less": {"queue": 1},
    "a loop that takes a cycle more": {"cycles_per_byte": 4},
}


@pytest.mark.parametrize("fault", PACE_FAULTS)
def test_an_engine_with_another_pace_departs_from_the_twin(scene, fault):
    chip = scene[0]
    other = chip.model_copy(update={"cpu": chip.cpu.model_copy(update=PACE_FAULTS[fault])})
    writes = [Transfer(3, 900, bytes(50))]
    twin = draw_frame(holding(chip), writes)
    assert differences(chip, twin, draw(Plan(chip), holding(chip), writes, damage=True, trace=True)) == []
    found = differences(chip, twin, draw(Plan(other), holding(other), writes, damage=True, trace=True))
    assert any(text.startswith("trace record") for text in found), found


@pytest.mark.parametrize("name", STATE_FAULTS)
def test_a_fault_in_the_state_is_told(scene, name):
    state = scene[3]
    other = state.copy()
    assert getattr(other, name) != STATE_FAULTS[name]
    setattr(other, name, STATE_FAULTS[name])
    found = state_differences(state, other)
    assert any(text.startswith(f"state {name}") for text in found), found
