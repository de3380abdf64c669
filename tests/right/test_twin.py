"""Random chips, states and timed writes: the engine and the twin agree exactly, and slices agree with the whole."""

from __future__ import annotations

from agreement import differences, plane_differences, result_differences, state_differences
from hypothesis import given, note, settings
from hypothesis import strategies as st
from strategies import chips, states, writes
from twin import draw_frame

from vdpsim.engine import Plan, draw, join

FEWER = max(1, settings.default.max_examples // 4)
"""Examples of what follows from the first test as long as nothing is forgotten between two calls."""


@given(st.data())
def test_a_whole_frame_agrees(data):
    """Every dot, fetch, drop and collision of a frame, and all that the chip holds after it."""
    chip = data.draw(chips())
    state = data.draw(states(chip))
    timed = data.draw(writes(chip))
    other = state.copy()
    twin = draw_frame(state, timed)
    result = draw(Plan(chip), other, timed, chip.frame.lines_per_frame)
    found = differences(chip, twin, result) + state_differences(state, other)
    if found:
        note(chip.model_dump_json(exclude_defaults=True))
    assert not found, "\n".join(found)


@settings(max_examples=FEWER)
@given(st.data())
def test_two_frames_with_one_plan_agree(data):
    """The second frame starts from what the first left: registers that waited for it, memory, palette, flags. The first comes
    out as before where it is drawn once more: the plan remembers nothing of a state.
    """
    chip = data.draw(chips())
    state = data.draw(states(chip))
    other, again, plan = state.copy(), state.copy(), Plan(chip)
    frames = [data.draw(writes(chip)), data.draw(writes(chip))]
    results = []
    for timed in frames:
        twin = draw_frame(state, timed)
        result = draw(plan, other, timed, chip.frame.lines_per_frame)
        results.append(result)
        found = differences(chip, twin, result) + state_differences(state, other)
        if found:
            note(chip.model_dump_json(exclude_defaults=True))
        assert not found, "\n".join(found)
    found = result_differences(results[0], draw(plan, again, frames[0]))
    assert not found, "\n".join(found)


@settings(max_examples=FEWER)
@given(st.data())
def test_each_source_alone_agrees(data):
    """What a layer or the sprites show by themselves, wherever they are covered."""
    chip = data.draw(chips())
    state = data.draw(states(chip))
    timed = data.draw(writes(chip))
    twin = draw_frame(state.copy(), timed)
    result = draw(Plan(chip), state, timed, planes=True)
    found = plane_differences(twin, result)
    assert not found, "\n".join(found)


@given(st.data())
def test_sliced_equals_whole(data):
    """A frame drawn in slices of any size, even line by line, is the frame drawn whole."""
    chip = data.draw(chips())
    state = data.draw(states(chip))
    timed = data.draw(writes(chip))
    end = chip.frame.lines_per_frame
    special = sorted({write.line for write in timed} | {write.line + 1 for write in timed} | {chip.frame.height, end})
    cuts = data.draw(st.lists(st.one_of(st.sampled_from(special), st.integers(0, end)), max_size=6))
    other, plan = state.copy(), Plan(chip)
    whole = draw(plan, state, timed)
    sliced = join(
        [draw(plan, other, timed, cut) for cut in [*sorted(cuts), end] if cut >= other.line and other.frame == 0]
    )
    found = result_differences(whole, sliced) + state_differences(state, other)
    assert not found, "\n".join(found)
