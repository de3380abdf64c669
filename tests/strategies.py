"""The kit's random chips, states and timed writes, an example a seed.

Law: what is made is ``vdpsim.testing.strategies``'s. An example is one seed, because hypothesis's own choices repeat themselves:
of 300 examples drawn choice by choice only a third were independent, and rare features hardly met. The profile ``shrink`` draws
choice by choice, as the kit does, so that a failure that it finds shrinks to the simplest chip that has it.
"""

from __future__ import annotations

from collections.abc import Callable
from random import Random

from hypothesis import settings
from hypothesis import strategies as st
from twin_cases import little_chip

from vdpsim.chip.model import Chip
from vdpsim.state.state import State
from vdpsim.state.writes import Write
from vdpsim.testing.strategies.made.chances import Draw
from vdpsim.testing.strategies.made.chips import make_chip
from vdpsim.testing.strategies.made.states import make_state
from vdpsim.testing.strategies.made.timed import make_writes


def randoms() -> st.SearchStrategy[Random]:
    """Where all choices come from."""
    return st.randoms(use_true_random=settings.get_current_profile_name() != "shrink")


@st.composite
def chips(draw: Draw) -> Chip:
    """A valid chip with any of a chip file's features."""
    return make_chip(draw(randoms()))


@st.composite
def little_chips(draw: Draw) -> Chip:
    """The same, but for a frame of a few dots and lines, which the twin draws in a tenth of the time."""
    return little_chip(draw(randoms()))


@st.composite
def timed_chips(draw: Draw, make: Callable[[Random], Chip] = make_chip) -> Chip:
    """A chip of ``make``'s with a time table."""
    random = draw(randoms())
    while True:
        chip = make(random)
        if chip.time is not None:
            return chip


@st.composite
def states(draw: Draw, chip: Chip) -> State:
    """What ``chip`` holds before line 0: random, biased so that there is something to see."""
    return make_state(draw(randoms()), chip)


@st.composite
def writes(draw: Draw, chip: Chip) -> list[Write]:
    """Timed writes of one frame, few as a rule, at times one of a kind on every line; in any order."""
    return make_writes(draw(randoms()), chip)
