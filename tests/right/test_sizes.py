"""Random chips whose picture has several sizes: a frame is that of a chip of its size alone, and the next may have another.

The engine is held to the twin over frames whose sizes change, whole and in slices, and to plain chips of each size.
"""

from __future__ import annotations

from random import Random

import numpy as np
import pytest
from agreement import differences, plane_differences, result_differences, state_differences
from hypothesis import given, note, settings
from sized import NAME, can_be_set, little_sized_frame, of_no_address, plain_chip, plain_state, sized_chip
from strategies import randoms
from twin import draw_frame
from twin_cases import chip_from

from vdpsim.chip.model import Chip
from vdpsim.chip.registers import field_names, registers
from vdpsim.engine import Plan, draw, join
from vdpsim.state.state import State
from vdpsim.state.writes import RegisterWrite, Write
from vdpsim.testing.strategies.made.chances import chance
from vdpsim.testing.strategies.made.chips import make_chip
from vdpsim.testing.strategies.made.states import make_state
from vdpsim.testing.strategies.made.timed import make_writes

FEW = max(1, settings.default.max_examples // 10)


def another_size(random: Random, chip: Chip) -> list[Write]:
    """A size written somewhere in the frame, for the next."""
    register = field_names(chip)[NAME]
    value = random.randrange(0, register.top + 1, register.step)
    where = random.randrange(chip.frame.lines_per_frame), random.randrange(chip.frame.dots_per_line)
    return [RegisterWrite(where[0], NAME, value, where[1])]


def frames_of(random: Random, chip: Chip, count: int) -> list[list[Write]]:
    """The writes of some frames, most of which are followed by one of another size."""
    found = []
    for _ in range(count):
        timed = make_writes(random, chip)
        found.append(timed + (another_size(random, chip) if can_be_set(chip) and chance(random, 85) else []))
    return found


def all_agree(chip: Chip, state: State, frames: list[list[Write]], *, planes: bool) -> list[str]:
    """Where engine and twin differ over ``frames``, drawn with one plan one after the other."""
    other, plan, traced = state.copy(), Plan(chip), chip.time is not None
    for timed in frames:
        size = state.value(NAME)
        twin = draw_frame(state, timed)
        result = draw(plan, other, timed, damage=True, trace=traced, planes=planes)
        found = differences(chip, twin, result) + state_differences(state, other)
        found += plane_differences(chip, twin, result) if planes else []
        if result.size != chip.frame.sizes[size] or (result.width, result.height) != result.size:
            found.append(f"{result.width} x {result.height} dots of {result.size}, wanted {chip.frame.sizes[size]}")
        if found:
            return found
    return []


@pytest.mark.unmeasured
@settings(max_examples=FEW)
@given(randoms())
def test_frames_of_changing_sizes_agree(random):
    """Little frames, three in a row: what is fetched ahead for line 0, cells that are kept, transfers that go on from one size to
    the next; every dot, slot, flag and the state after each frame.
    """
    chip = make_chip(random, little_sized_frame, chip_from)
    state = make_state(random, chip)
    frames = frames_of(random, chip, 3)
    note(chip.model_dump_json(exclude_defaults=True))
    found = all_agree(chip, state, frames, planes=chance(random, 25))
    assert not found, "\n".join(found)


@pytest.mark.unmeasured
@settings(max_examples=FEW)
@given(randoms())
def test_frames_of_changing_sizes_drawn_in_slices_agree_with_the_whole(random):
    """Two frames, each cut anywhere: joined they are the frames drawn whole, and the states are the same."""
    chip = make_chip(random, little_sized_frame, chip_from)
    state = make_state(random, chip)
    frames, end = frames_of(random, chip, 2), chip.frame.lines_per_frame
    asked = {"damage": True, "trace": chip.time is not None, "planes": chance(random, 40)}
    other, plan = state.copy(), Plan(chip)
    for timed in frames:
        whole = draw(plan, state, timed, **asked)
        cuts = sorted(random.randrange(end + 1) for _ in range(random.randint(1, 5)))
        joined = join([draw(plan, other, timed, cut, **asked) for cut in [*(cut for cut in cuts if cut < end), end]])
        found = result_differences(whole, joined) + state_differences(state, other)
        assert not found, "\n".join(found)
        assert joined.size == whole.size


@pytest.mark.unmeasured
@settings(max_examples=FEW)
@given(randoms())
def test_a_frame_is_that_of_a_chip_of_its_size_alone(random):
    """Dots, fetches, slots, drops and collisions of two frames are those of a chip that has width and height in its file."""
    chip = sized_chip(random)
    number = random.randrange(len(chip.frame.sizes))
    plain, state = plain_chip(chip, number), make_state(random, chip)
    state.controls[state.names.index(NAME)] = number
    state.next_frame.pop(state.names.index(NAME), None)
    other, traced = plain_state(plain, state), chip.time is not None
    assert plain.frame.sizes == ()
    for _ in range(2):
        timed = of_no_address(chip, make_writes(random, chip))
        one = draw(Plan(chip), state, timed, damage=True, trace=traced)
        two = draw(Plan(plain), other, timed, damage=True, trace=traced)
        for name in (
            "indices",
            "rgb",
            "source",
            "rung",
            "sprite",
            "drops",
            "collisions",
            "missed",
            "raised",
            "transfers",
        ):
            assert np.array_equal(getattr(one, name), getattr(two, name)), name
        assert np.array_equal(one.log.counts, two.log.counts)
        if traced:
            assert np.array_equal(one.slots.counts, two.slots.counts)
            assert np.array_equal(one.trace, two.trace)


@pytest.mark.unmeasured
@settings(max_examples=FEW)
@given(randoms())
def test_a_size_is_the_chip_with_the_same_controls(random):
    """``at_size`` has the same controls, registers and outer edge, and the size's width and height; the file comes back."""
    chip = sized_chip(random)
    outer = chip.frame.width + chip.frame.border.left + chip.frame.border.right
    high = chip.frame.height + chip.frame.border.top + chip.frame.border.bottom
    for number, (width, height) in enumerate(chip.frame.sizes):
        one = chip.at_size(number)
        assert (one.frame.width, one.frame.height, one.frame.number) == (width, height, number)
        assert registers(one) == registers(chip)
        assert one.frame.border.left + width + one.frame.border.right == outer
        assert one.frame.border.top + height + one.frame.border.bottom == high
        assert one.frame.border.right - chip.frame.border.right - one.frame.border.left + chip.frame.border.left in {
            0,
            1,
        }
        assert one.frame.border.bottom - chip.frame.border.bottom - one.frame.border.top + chip.frame.border.top in {
            0,
            1,
        }
        assert one != chip and one.at_size(number) is one
