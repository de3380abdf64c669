"""Random chips with a time table: what has to hold of every line, whichever slot goes to whom."""

from __future__ import annotations

from fractions import Fraction
from random import Random

import pytest
from agreement import differences, state_differences
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from paper import BITMAP, holding, small_chip
from refusal import refused
from strategies import randoms, states, timed_chips, writes
from twin import draw_frame
from twin_cases import chip_from, little_chip

from vdpsim.chip.checks import check
from vdpsim.chip.model import Chip
from vdpsim.engine import NotInTimeError, Plan, draw
from vdpsim.state.state import Waiting
from vdpsim.state.writes import MemoryWrite, PortWrite, Transfer
from vdpsim.testing.strategies.made.time_tables import client_order

FEW = max(4, settings.default.max_examples // 15)
"""Examples of what draws more than one frame with the twin, in frames of a few dots and lines."""


def refused_exactly_where_something_is_missed(twin, after, state, timed):
    """Without asking for the damage: NotInTimeError where the twin misses an access, and the state is as it was; else the
    same frame, and the state ``after`` it.
    """
    before = state.copy()
    if any(any(lost.values()) for lost in twin.missed):
        with refused(NotInTimeError, "does not fit: on line "):
            draw(Plan(state.chip), state, timed)
        assert state_differences(before, state) == []
    else:
        found = differences(state.chip, twin, draw(Plan(state.chip), state, timed)) + state_differences(after, state)
        assert not found, "\n".join(found)


@pytest.mark.unmeasured
@settings(max_examples=2 * FEW)
@given(st.data())
def test_every_slot_is_accounted_for(data):
    """No slot serves two; the counts of a line are those of its trace; refresh has all that it wants, on every line; what the CPU
    moved is what its transfers landed; and an access begins where a whole access does. The engine draws the same, or refuses.
    """
    chip = data.draw(timed_chips(little_chip))
    state = data.draw(states(chip))
    timed = data.draw(writes(chip))
    other = state.copy()
    height = chip.at_size(state.value("picture_size")).frame.height if len(chip.each_size) > 1 else chip.frame.height
    twin = draw_frame(state, timed)
    refused_exactly_where_something_is_missed(twin, state, other, timed)
    frame, per_line = chip.frame, int(chip.frame.dots_per_line * Fraction(chip.memory.accesses_per_dot))
    assert len({access[:2] for access in twin.trace}) == len(twin.trace)
    assert twin.trace == sorted(twin.trace, key=lambda access: access[:2])
    told = [dict.fromkeys(counts, 0) for counts in twin.slots]
    for line, slot, client, address, _ in twin.trace:
        assert 0 <= slot < per_line
        assert client == "cpu" or address % chip.memory.bytes_per_access == 0
        told[line][client] += 1
    assert told == twin.slots and len(told) == frame.lines_per_frame
    assert {counts["refresh"] for counts in twin.slots} == {chip.time.refresh.slots if chip.time.refresh else 0}
    assert sum(counts["cpu"] for counts in twin.slots) == sum(record[5] for record in twin.transfers)
    in_picture = [{name: counts[name] for name in twin.counts[0]} for counts in twin.slots[:height]]
    assert in_picture == twin.counts


@pytest.mark.unmeasured
@settings(max_examples=2 * FEW)
@given(st.data())
def test_a_frame_cut_anywhere_leaves_the_same_state(data):
    """Between any two lines engine and twin hold the same: cells that are kept, sprites that are prepared, transfers that
    wait. What they draw from there on is the same as well, and what the twin draws in two parts is what it draws at once.
    """
    chip = data.draw(timed_chips(little_chip))
    state = data.draw(states(chip))
    timed = data.draw(writes(chip))
    end = chip.frame.lines_per_frame
    cut = data.draw(st.one_of(st.integers(1, end - 1), st.sampled_from([chip.frame.height - 1, chip.frame.height])))
    other, at_once, plan = state.copy(), state.copy(), Plan(chip)
    whole = draw_frame(at_once, timed)
    trace, slots, indices = [], [], []
    for last in (min(cut, end - 1), end):
        twin = draw_frame(state, timed, last)
        found = differences(chip, twin, draw(plan, other, timed, last, damage=True, trace=True))
        found += state_differences(state, other)
        assert not found, "\n".join(found)
        trace, slots, indices = trace + twin.trace, slots + twin.slots, indices + twin.indices
    assert (trace, slots, indices) == (whole.trace, whole.slots, whole.indices)
    assert state_differences(state, at_once) == []


def busy_with_transfers(random) -> Chip:
    """A chip of 8 lines of picture of which nothing asks for slots but refresh and the CPU, at any pace and with any queue."""
    cpu = {
        "clock": random.choice([1_000_000, 3_000_000, 7_000_000]),
        "cycles_per_byte": random.choice([1, 4, 20, 90, 700]),
    }
    if random.randint(0, 3):
        cpu["queue"] = random.choice([1, 1, 2, 3, 7, 40, 4096])
    share = {"active": random.choice(["none", "free"]), "blanking": bool(random.randint(0, 3))}
    if not random.randint(0, 2):
        share |= {"active": "reserved", "every": 9, "at": sorted(random.sample(range(9), 2))}
    time = {"clients": {"a.bitmap": {"when": "blanking"}}, "cpu": share}
    if random.randint(0, 1):
        time["refresh"] = {"slots": random.randint(1, 3), "every": 3, "at": [random.randrange(3)]}
    chip = small_chip(
        BITMAP,
        memory={
            "size": 1024,
            "bytes_per_access": 1,
            "accesses_per_dot": random.choice(["1", "1/3", "5/7", "3/2", "2"]),
        },
        time=time,
        constants={"a.enable": 0},
        registers={"a.scroll_x": {"bits": 6, "effect": "at once"}},
        **({"cpu": cpu} if random.randint(0, 9) else {}),
    )
    return chip.model_copy(update={"frame": chip.frame.model_copy(update={"height": 8, "lines_per_frame": 12})})


def some_transfers(random, chip: Chip) -> list[Transfer]:
    """Up to four transfers of one frame, in the order of their start, some of one byte and some that go on for long."""
    found = []
    for _ in range(random.randint(0, 4)):
        start = random.choice([(3, 0), (random.randrange(12), 0), (random.randrange(12), random.randrange(80))])
        data = Random(random.randint(0, 99)).randbytes(random.choice([1, 2, 5, 30, 300]))
        found.append(Transfer(start[0], random.randrange(1024), data, start[1], 3))
    return sorted(found, key=lambda one: (one.line, one.dot))


@settings(max_examples=3 * FEW)
@given(randoms())
def test_transfers_agree_at_any_pace_and_however_frames_are_cut(random):
    """Two frames whole, and cut into lines between which the CPU writes more: engine and twin hold the same after each part."""
    chip = busy_with_transfers(random)
    plan, frames = Plan(chip), [some_transfers(random, chip) for _ in range(2)]
    whole, other = holding(chip), holding(chip)
    cut = random.randint(0, 1)
    for timed in frames:
        ends = [*sorted(random.sample(range(1, 12), random.randint(1, 6))), 12]
        twin = draw_frame(whole, timed)
        trace = [draw(plan, other, timed, last, damage=True, trace=True).trace for last in ends]
        found = state_differences(whole, other)
        assert not found, "\n".join(found)
        names = plan.server.names
        assert [(line, slot, names[c], *more) for part in trace for line, slot, c, *more in part.tolist()] == twin.trace
        for last in ends if cut else ():
            write = Waiting(whole.transfers, 0, random.randrange(1024), b"abc"[: random.randint(1, 3)], 1)
            for state in (whole, other):
                state.waiting, state.transfers = (*state.waiting, write), state.transfers + 1
            twin = draw_frame(whole, timed, last)
            found = differences(chip, twin, draw(plan, other, timed, last, damage=True, trace=True))
            found += state_differences(whole, other)
            assert not found, "\n".join(found)


def roomy(random, chip: Chip) -> Chip:
    """``chip`` with slots enough for everybody: a long blanking, eight accesses a dot, leads as long as can be."""
    clients = {}
    for name in client_order(random, chip):
        clients[name] = {"when": "blanking"} if name == "sprites" else {"when": "in time", "lead": 8192}
    tables = chip.model_dump(mode="json", exclude_defaults=True)
    tables["frame"]["dots_per_line"] += 150
    tables["memory"]["accesses_per_dot"] = 8
    tables["time"] = {"clients": clients}
    made = chip_from(tables)
    assert list(check(made)) == []
    return made


@pytest.mark.unmeasured
@settings(max_examples=FEW)
@given(st.data())
def test_with_slots_enough_time_changes_no_dot(data):
    """The same chip with and without a time table, as long as nothing moves bytes within a line: every dot, drop, collision and
    count of accesses is the same.
    """
    random = data.draw(randoms())
    timed = roomy(random, data.draw(timed_chips(little_chip)))
    untimed = timed.model_copy(update={"time": None})
    state = data.draw(states(timed))
    kinds = (MemoryWrite, PortWrite, Transfer)
    here = [write for write in data.draw(writes(timed)) if not isinstance(write, kinds)]
    other = state.copy()
    other.chip = untimed
    one, two = draw_frame(state, here), draw_frame(other, here)
    assume(not any(any(lost.values()) for lost in one.missed))
    assume(not any(reason == "slots" for *_, reason in one.drops))
    for name in (
        "indices",
        "source",
        "rung",
        "sprite",
        "rgb",
        "drops",
        "collisions",
        "found",
        "drawn",
        "counts",
        "planes",
    ):
        assert getattr(one, name) == getattr(two, name), name
