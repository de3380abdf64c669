"""Random chips, states and timed writes: the engine and the twin agree exactly, and slices agree with the whole."""

from __future__ import annotations

import pytest
from agreement import differences, plane_differences, result_differences, state_differences
from hypothesis import given, note, settings
from hypothesis import strategies as st
from little import machine
from strategies import chips, little_chips, states, writes
from twin import draw_frame

from vdpsim.engine import Plan, draw, join
from vdpsim.state.writes import PaletteWrite

FEWER = max(1, settings.default.max_examples // 15)
"""Examples of what follows from the first test as long as nothing is forgotten between two calls."""

BIG = max(1, settings.default.max_examples // 50)
"""Examples of frames as large as a chip file may have them, which the twin draws in seconds."""


def all_agrees(chip, state, timed):
    """Whether engine and twin draw the same from ``state`` on, and stand in the same state after it."""
    other, third, end = state.copy(), state.copy(), chip.frame.lines_per_frame
    twin = draw_frame(state, timed)
    result = draw(Plan(chip), other, timed, end, damage=True, trace=chip.time is not None)
    found = differences(chip, twin, result) + state_differences(state, other)
    found += plane_differences(chip, twin, draw(Plan(chip), third, timed, planes=True, damage=True))
    if found:
        note(chip.model_dump_json(exclude_defaults=True))
    assert not found, "\n".join(found)


@pytest.mark.unmeasured
@settings(max_examples=3 * FEWER)
@given(st.data())
def test_a_whole_frame_agrees(data):
    """Every dot, fetch, drop and collision of a frame, every slot of every line and who had it, and all that the chip holds
    after it; and each layer alone and the sprites alone, which are kept where they are asked for.
    """
    chip = data.draw(little_chips())
    all_agrees(chip, data.draw(states(chip)), data.draw(writes(chip)))


@pytest.mark.unmeasured
@settings(max_examples=BIG)
@given(st.data())
def test_a_frame_of_full_size_agrees(data):
    chip = data.draw(chips())
    all_agrees(chip, data.draw(states(chip)), data.draw(writes(chip)))


@pytest.mark.unmeasured
@settings(max_examples=2 * FEWER)
@given(st.data())
def test_two_frames_with_one_plan_agree(data):
    """The second frame starts from what the first left: registers that waited for it, memory, palette, flags, transfers,
    sprites that were prepared ahead. The first comes out as before where it is drawn once more: the plan remembers nothing of
    a state.
    """
    chip = data.draw(little_chips())
    state = data.draw(states(chip))
    other, again, plan, traced = state.copy(), state.copy(), Plan(chip), chip.time is not None
    first = None
    for _ in range(2):
        timed = data.draw(writes(chip))
        twin = draw_frame(state, timed)
        result = draw(plan, other, timed, damage=True, trace=traced)
        found = differences(chip, twin, result) + state_differences(state, other)
        assert not found, "\n".join(found)
        first = first or (result, timed)
    found = result_differences(first[0], draw(plan, again, first[1], damage=True, trace=traced))
    assert not found, "\n".join(found)


@settings(max_examples=FEWER)
@given(st.data())
def test_a_frame_drawn_in_slices_agrees_with_the_whole(data):
    """Wherever a frame is cut, between any lines and at lines with writes, the joined slices and the state are those of
    the frame drawn whole.
    """
    chip = data.draw(chips())
    state = data.draw(states(chip))
    timed = data.draw(writes(chip))
    end, traced = chip.frame.lines_per_frame, chip.time is not None
    special = sorted({write.line for write in timed} | {write.line + 1 for write in timed} | {chip.frame.height, end})
    cuts = data.draw(st.lists(st.one_of(st.sampled_from(special), st.integers(0, end)), max_size=6))
    asked = {"damage": True, "trace": traced, "planes": data.draw(st.booleans())}
    other, plan = state.copy(), Plan(chip)
    whole = draw(plan, state, timed, **asked)
    parts = [
        draw(plan, other, timed, cut, **asked) for cut in [*sorted(cuts), end] if cut >= other.line and other.frame == 0
    ]
    found = result_differences(whole, join(parts)) + state_differences(state, other)
    assert not found, "\n".join(found)


def test_colours_of_slices_are_those_of_the_whole():
    """Entry 3 from line 10, dot 5 on, entry 0 from line 40 on; the backdrop is 0. Cut before line 20, where nothing is written,
    before line 40 and, below the picture, before line 66: three palettes, and each line begins a stretch.
    """
    it = machine()
    timed = [PaletteWrite(10, 3, (0xFFF,), dot=5), PaletteWrite(40, 0, (0xF00,))]
    before = [(0, 0, 0), (0x33, 0x33, 0x33)]
    between = [(0, 0, 0), (255, 255, 255)]
    after = [(255, 0, 0), (255, 255, 255)]
    wanted = [(line, 0, before if line <= 10 else between if line < 40 else after) for line in range(64)]
    wanted.insert(11, (10, 5, between))
    for cuts in ([70], [20, 70], [10, 11, 40, 66, 70], [64, 70], [0, 70]):
        state = it.state.copy()
        joined = join([draw(Plan(it.chip), state, timed, cut, planes=True) for cut in cuts])
        found = [
            (line, dot, [tuple(joined.colours.tables[version, entry].tolist()) for entry in (0, 3)])
            for line, dot, version, backdrop in joined.colours.starts.tolist()
            if backdrop == 0
        ]
        assert found == wanted, cuts
        assert list(joined.planes) == ["ground", "sprites"]
