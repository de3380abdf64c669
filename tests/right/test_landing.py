"""Do the CPU's bytes land at least as a budget says, whatever lines come? Held against a plain account of the rule, byte by
byte, and attacked by a search for the lines that leave the CPU furthest behind.

A line here has 40 dots, of which 32 show, one slot a dot unless a test says otherwise; a frame has 3 lines of picture and 2
below. The lines that come are made up: sets of slots for the CPU, of which any line may have any.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import product
from random import Random

import pytest
from hypothesis import given, settings
from paper import BITMAP, small_chip
from strategies import randoms

from vdpsim.budgets.landing import Landing, LineLanding, furthest_behind, run, smallest
from vdpsim.chip.line.rates import Pace
from vdpsim.chip.model import Chip

DOTS = 40
ALL = tuple(range(DOTS))


def chip_of(
    cycles: int, queue: int = 1, *, rate: str = "1", clock: int = 1_000_000, lines: tuple[int, int] = (3, 2)
) -> Chip:
    """A chip whose CPU takes ``cycles`` of ``clock`` for a byte, at 1 MHz of dots; ``lines`` of picture and below it."""
    memory = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": rate}
    time = {"clients": {"a.bitmap": {"when": "blanking"}}}
    cpu = {"clock": clock, "cycles_per_byte": cycles, "queue": queue}
    made = small_chip(BITMAP, memory=memory, time=time, cpu=cpu)
    frame = {"width": 32, "dots_per_line": DOTS, "height": lines[0], "lines_per_frame": sum(lines)}
    return made.model_copy(update={"frame": made.frame.model_copy(update=frame)})


def landings(chip: Chip, lines: list[tuple[int, ...]]) -> list[int]:
    """On which line each byte lands where ``lines`` are the CPU's slots, one line after the other; the rule as it is told."""
    rate, cpu = Fraction(chip.memory.accesses_per_dot), chip.cpu
    loop = Fraction(cpu.cycles_per_byte * chip.frame.dot_clock, cpu.clock)
    slots = [(number, number * DOTS + slot / rate) for number, line in enumerate(lines) for slot in line]
    at_hand: list[Fraction] = []
    began: list[Fraction] = []
    found = []
    for number, begins in slots:
        byte = len(found)
        if len(at_hand) == byte:
            before = [at_hand[-1]] if byte else []
            before += [began[byte - cpu.queue]] if byte >= cpu.queue else []
            at_hand.append(max(before) + loop if byte else Fraction(0))
        if at_hand[byte] <= begins:
            found.append(number)
            began.append(begins)
    return found


def choices(chip: Chip, picture, last, empty) -> list[list[tuple[int, ...]]]:
    """For each line of a frame, from the first below the picture on, what it may be."""
    below = chip.frame.lines_per_frame - chip.frame.height
    return [[empty]] * max(below - 1, 0) + [list(last)] * min(below, 1) + [list(picture)] * chip.frame.height


def climb(random: Random, chip: Chip, offers: list[list[tuple[int, ...]]]) -> int:
    """The fewest bytes that a search finds to land: one line is exchanged for another where that is no better for the CPU."""
    fewest = 1 << 30
    for _ in range(3):
        lines = [random.choice(offer) for offer in offers]
        here = len(landings(chip, lines))
        for _ in range(12):
            place = random.randrange(len(lines))
            tried = [*lines[:place], random.choice(offers[place]), *lines[place + 1 :]]
            count = len(landings(chip, tried))
            if count <= here:
                lines, here = tried, count
        fewest = min(fewest, here)
    return fewest


def made_up(random: Random) -> tuple[Chip, list[tuple[int, ...]], list[tuple[int, ...]], tuple[int, ...]]:
    """A chip and sets of slots: dense, sparse, bunched, or none at all."""
    rate = random.choice(["1", "1", "3/2", "1/2", "5/7"])
    count = int(DOTS * Fraction(rate))
    queue = random.choice([1, 1, 1, 2, 3, 5, 64])
    chip = chip_of(
        random.choice([1, 3, 7, 13, 21, 45, 100]), queue, rate=rate, clock=random.choice([1_000_000, 3_000_000])
    )

    def some() -> tuple[int, ...]:
        begin, end = sorted(random.sample(range(count + 1), 2))
        return tuple(sorted(random.sample(range(begin, end), random.randint(0, end - begin))))

    return chip, [some() for _ in range(random.randint(1, 4))], [some() for _ in range(2)], some()


@settings(max_examples=max(1, settings.default.max_examples // 4))
@given(randoms())
def test_no_frame_lands_fewer_bytes_than_told(random):
    """Neither one that a search finds nor, of one with a queue of a byte, any: there one lands just as many as told."""
    chip, picture, last, empty = made_up(random)
    offers = choices(chip, picture, last, empty)
    told, in_blank = Landing(chip, picture, last, empty).in_a_frame()
    assert told <= climb(random, chip, offers)
    assert 0 <= in_blank <= told
    fewest = min(len(landings(chip, list(lines))) for lines in product(*offers))
    assert told <= fewest
    if chip.cpu.queue == 1:
        assert told == fewest


@settings(max_examples=max(1, settings.default.max_examples // 8))
@given(randoms())
def test_no_refill_takes_longer_than_told(random):
    """Over four frames of lines that a search makes worse and worse, each number of bytes is there on the line told or before."""
    chip, picture, last, empty = made_up(random)
    offers = choices(chip, picture, last, empty) * 4
    told = Landing(chip, picture, last, empty).lines_for(range(1, 60))
    lines = [random.choice(offer) for offer in offers]
    for _ in range(15):
        place = random.randrange(len(lines))
        tried = [*lines[:place], random.choice(offers[place]), *lines[place + 1 :]]
        if sum(landings(chip, tried)) >= sum(landings(chip, lines)):
            lines = tried
        found = landings(chip, tried)
        for count, line in told.items():
            assert line is None or len(found) >= count or line >= len(lines)
            assert line is None or len(found) < count or found[count - 1] + 1 <= line


@pytest.mark.parametrize("queue", [1, 2, 40])
def test_of_lines_that_are_all_alike_exactly_so_many_land(queue):
    """With one set for each line the account is exact, for any queue, over many frames."""
    chip = chip_of(13, queue, clock=3_000_000)
    picture, last, empty = (1, 2, 3, 17, 18, 19, 38), (4, 5, 30), (0, 9, 10, 11)
    lines = [offer[0] for offer in choices(chip, [picture], [last], empty)] * 10
    told = Landing(chip, [picture], [last], empty).lines_for(range(1, 100))
    found = [line + 1 for line in landings(chip, lines)]
    assert [told[count] for count in range(1, 1 + min(99, len(found)))] == found[:99]


def test_more_slots_in_a_bunch_can_be_worse_than_fewer_that_are_spread():
    """A byte takes 20 dots. Of slots 0 to 3 one serves, and none on that line after it; 0, 20 and 39 serve two. A budget that
    takes the set with fewest slots is told a liar by the search.
    """
    chip = chip_of(20, lines=(3, 0))
    bunch, spread = (0, 1, 2, 3), (0, 20, 39)
    assert Landing(chip, [spread], [], ()).in_a_frame()[0] == 6
    assert Landing(chip, [bunch], [], ()).in_a_frame()[0] == 3
    assert Landing(chip, [bunch, spread], [], ()).in_a_frame()[0] == 3
    assert climb(Random(1), chip, [[bunch, spread]] * 3) == 3


def test_the_worst_line_may_be_another_each_time():
    """A byte takes 30 dots, a queue of one. A: slots 0 and 30. B: slot 15. A alone lands two bytes, then one on each line, in
    30; B alone one on each. B, A, B, B: a byte in 15; the next is at hand at 5, and A gives it 30; the next is at hand at 20, and
    B gives it nothing; it lands in 15 of the last line: 3 bytes.
    """
    chip = chip_of(30, lines=(4, 0))
    one, other = (0, 30), (15,)
    assert [len(landings(chip, lines)) for lines in ([one] * 4, [other] * 4, [other, one, other, other])] == [5, 4, 3]
    fewest = min(len(landings(chip, list(lines))) for lines in product([one, other], repeat=4))
    assert Landing(chip, [one, other], [], ()).in_a_frame()[0] == fewest == 3


def test_with_a_longer_queue_fewest_bytes_now_need_not_be_fewest_later():
    """A byte takes 25 dots, a queue of two. A: slots 32 and 36. B: slots 3 and 7. Two bytes are at hand at 0 and 25.

    B lands one, and leaves the other past and the next at 10. B again lands one more, as 10 is after 7; then two wait, and A or
    B land both: 4. A instead lands two, in 32 and 36: more than B does. But then the next is at hand 25 after slot 32, at 17, and
    B lands none: 3. Whoever takes fewest bytes on each line, and no share of the other's moments, tells of 4.
    """
    chip = chip_of(25, 2, lines=(3, 0))
    late, early = (32, 36), (3, 7)
    counts = [len(landings(chip, lines)) for lines in ([early] * 3, [early, early, late], [early, late, early])]
    assert counts == [4, 4, 3]
    assert Landing(chip, [late, early], [], ()).in_a_frame()[0] == 3


@pytest.mark.parametrize(
    ("cycles", "lines", "one", "other", "told"),
    [
        (21, 4, (16, 36, 39), (5, 9, 10, 15), 6),
        (21, 4, (0, 32, 35), (3, 7, 9), 6),
        (30, 4, (19, 37), (7, 8), 4),
        (17, 3, (21, 30, 35, 38), (3, 10, 12, 13), 4),
        (13, 3, (8, 12, 35, 38), (0, 1, 19), 7),
    ],
)
def test_bounds_that_are_reached_with_a_queue_of_two(cycles, lines, one, other, told):
    """Found by a search for lines on which fewest bytes now are not fewest later; each is held against all that can come."""
    chip = chip_of(cycles, 2, lines=(lines, 0))
    fewest = min(len(landings(chip, list(way))) for way in product([one, other], repeat=lines))
    assert Landing(chip, [one, other], [], ()).in_a_frame()[0] == fewest == told


def test_bytes_in_blank_slots():
    """8 of 40 slots are blank on a line of the picture, all below it. A byte takes 4 dots: 10 on a line, 2 of them in 0 and 4."""
    chip = chip_of(4)
    assert Landing(chip, [ALL], [ALL], ALL).in_a_frame() == (50, 20 + 3 * 2)


def test_where_nothing_lands_nothing_is_refilled():
    chip = chip_of(4)
    assert Landing(chip, [ALL, ()], [()], ()).lines_for([1, 2]) == {1: None, 2: None}
    assert Landing(chip, [ALL], [()], ()).lines_for([1, 30, 31]) == {1: 3, 30: 5, 31: 8}


def test_without_a_cpu_table_every_slot_brings_a_byte():
    chip = chip_of(4).model_copy(update={"cpu": None})
    landing = Landing(chip, [ALL, (3, 9)], [(1,)], (0, 1, 2))
    assert landing.in_a_frame() == (3 + 1 + 3 * 2, 4 + 3)
    assert landing.lines_for([3, 4, 5, 10, 11]) == {3: 1, 4: 2, 5: 3, 10: 5, 11: 6}


def test_sets_that_hold_another_are_not_tried():
    assert smallest([(1, 2, 3), (2, 3), (0, 5), (2, 3), (0, 1, 5)]) == [(0, 5), (2, 3)]
    assert smallest([(1,), ()]) == [()]


def test_moments_that_are_left_out_come_a_loop_after():
    """A queue of 5 whose CPU needs 7 units a byte, a line of 10: nothing has a slot, 0 and 7 are past, 14 is 4 units on.

    With what is left out put back, a run that had a byte more is as far behind.
    """
    pace = Pace(queue=5, unit=1, line=10, slot=1, byte=7, slots=10)
    idle = run(pace, (), [0], 10)
    assert idle.at_hand == [0, 0, 4]
    busy = run(pace, (0,), [0], 10)
    assert (busy.landed, busy.at_hand) == (1, [0, 4])
    assert furthest_behind(pace, [busy, idle]).after == (2, 4)
    assert furthest_behind(pace, [LineLanding(0, 0, [0]), LineLanding(2, 0, [30])]).after == (1, 7, 30)
    for at_hand, after in (([0, 0, 5, 12, 19], (2, 5)), ([0, 7, 14], (1,)), ([3, 11, 18], (0, 3, 11))):
        assert furthest_behind(pace, [LineLanding(0, 0, at_hand)]).after == after
