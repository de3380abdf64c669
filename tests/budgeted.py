"""What budgets are tried on: odd chips at any rate, and of a frame's writes those that a budget speaks of.

Law: as in ``odd_chips.py``, but no chip is brought to its limit: some of its clients are far from theirs, others beyond.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from odd_chips import RATES, made, odd_plan

from vdpsim.chip.model import Chip
from vdpsim.state.writes import PaletteWrite, PortWrite, RegisterWrite, Write


def any_odd(random: Random) -> Chip:
    """An odd chip whose memory is as fast as chance has it."""
    while True:
        plan = odd_plan(random)
        plan["memory"]["accesses_per_dot"] = str(random.choice(RATES))
        chip = made(plan)
        if chip is not None:
            return chip


def without_cuts(chip: Chip, writes: Sequence[Write]) -> list[Write]:
    """The writes that do not fall into the middle of a line of the picture (bytes through ports may)."""
    plain = [write for write in writes if not isinstance(write, PortWrite)]
    return [w for w in plain if not (isinstance(w, RegisterWrite | PaletteWrite) and 0 < w.dot < chip.frame.width)]
