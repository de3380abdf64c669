"""What people's tests draw from: chips, scenes, machines, sprites, timed writes and port traffic.

Law: every example is valid and draws its frames. What it is is noted as files, which hypothesis prints with a failure: they load,
and show the failure again.
"""

from __future__ import annotations

from random import Random
from typing import Any

from hypothesis import note, reject
from hypothesis import strategies as st

from ...chip.load import chip_text
from ...chip.model import Chip
from ...engine import NotInTimeError
from ...files.problems import InputError
from ...machine.machine import Machine, frames
from ...state.writes import PortWrite, Write
from ..building import scene_of
from ..fixtures import PlayedScene, played
from .made.chances import Draw, randoms
from .made.chips import make_chip, read_chip
from .made.scenes import SceneWriter
from .made.small_chips import small_chip
from .made.states import make_state
from .made.time_tables import port_writes
from .made.timed import make_writes

MOST_TRIED = 8
"""Scenes that are tried for one example: parts may find no room, and fetches may come too late."""


@st.composite
def chips(draw: Draw, *, full: bool = False, timed: bool | None = None) -> Chip:
    """A small chip that reads at a glance or, ``full``, one with any of a chip file's features.

    ``timed``: with a time table, which small chips have not, or without one; None: either.
    """
    random = draw(randoms())
    chip = any_chip(random, full=full or timed is True)
    while timed is True and chip.time is None:
        chip = make_chip(random)
    chip = without_time(chip) if timed is False else chip
    note(f"# the chip file\n{chip_text(chip)}")
    return chip


def without_time(chip: Chip) -> Chip:
    """The same chip with nothing said of who may fetch when: nothing can come too late there."""
    data = chip.model_dump(mode="json", exclude_unset=True, by_alias=True)
    return read_chip({name: one for name, one in data.items() if name != "time"})


def any_chip(random: Random, *, full: bool) -> Chip:
    """A chip that reads at a glance or, ``full``, one with anything that a chip file can say."""
    return make_chip(random) if full else small_chip(random)


@st.composite
def scenes(draw: Draw, chip: Chip | None = None, *, full: bool = False) -> PlayedScene:
    """A scene of up to three frames, all of which can be drawn: for ``chip``, or for a random one, as ``chips`` has it.

    Nothing in it comes too late; where none such is found, the example is thrown away.
    """
    random = draw(randoms())
    for _ in range(MOST_TRIED):
        mine = chip or any_chip(random, full=full)
        found = _scene(random, mine)
        if found is not None and _in_time(found):
            if chip is None:
                note(f"# the chip file\n{chip_text(mine)}")
            note(f"# the scene file\n{found.text}")
            return found
    return reject()


def _scene(random: Random, chip: Chip) -> PlayedScene | None:
    """A scene for ``chip``; None where its parts find no room in memory."""
    try:
        return played(scene_of(SceneWriter(random, chip).text(), chip))
    except InputError:
        return None


def _in_time(scene: PlayedScene) -> bool:
    """Whether all of the scene's frames can be drawn."""
    try:
        for _ in frames(scene, range(scene.frames)):
            pass
    except NotInTimeError:
        return False
    return True


@st.composite
def machines(draw: Draw, chip: Chip | None = None, *, full: bool = False) -> Machine:
    """A machine before line 0, with anything in its memory, palette, sprites and registers: of ``chip``, or of a random one.

    A random one is as ``chips`` has it.
    """
    random = draw(randoms())
    mine = chip or any_chip(random, full=full)
    if chip is None:
        note(f"# the chip file\n{chip_text(mine)}")
    return Machine(mine, make_state(random, mine))


@st.composite
def sprites(draw: Draw, chip: Chip) -> dict[str, int]:
    """A value for each field of a sprite's record of ``chip``. Raises ValueError for a chip without sprites."""
    if chip.sprites is None:
        raise ValueError(f"{chip.name} has no sprites")
    layout = chip.sprites.fields.layout
    return {name: draw(st.integers(0, bits.top)) for name, bits in layout.items()}


@st.composite
def timed_writes(draw: Draw, chip: Chip) -> list[Write]:
    """Writes of one frame of ``chip``, few as a rule, in any order: ``machine.frame(writes)`` does them."""
    return make_writes(draw(randoms()), chip)


@st.composite
def port_traffic(draw: Draw, chip: Chip) -> list[PortWrite]:
    """Bytes that a CPU writes in one frame to addresses of ``chip`` that mean something, as a rule; in the order of time."""
    random: Random = draw(randoms())
    found: list[Any] = []
    for _ in range(random.randint(0, 12)):
        found += port_writes(random, chip, random.randint(0, chip.frame.lines_per_frame - 1))
    return sorted(found, key=lambda write: (write.line, write.dot))
