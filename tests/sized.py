"""Random chips whose picture has several sizes, and the plain chip that each size is to be like.

Law: the plain chip is made from the data of a chip file with a width and a height in place of the sizes, by what this module
knows of a file alone; nothing of the package makes one size of several.
"""

from __future__ import annotations

import json
from random import Random
from typing import Any

from vdpsim.chip.model import Chip
from vdpsim.chip.registers import field_names
from vdpsim.state.state import State
from vdpsim.state.writes import PortWrite, RegisterWrite, Write
from vdpsim.testing.strategies.made.chances import chance
from vdpsim.testing.strategies.made.chips import frame, make_chip, picture_sizes

NAME = "picture_size"


def sized_frame(random: Random) -> dict[str, Any]:
    """A small frame of two sizes at least."""
    while True:
        made = frame(random)
        if len(made.get("sizes", ())) > 1:
            return made


def little_sized_frame(random: Random) -> dict[str, Any]:
    """A frame of a few dots and lines, of two sizes at least, for ``twin_cases.chip_from``."""
    while True:
        sizes, width, height = picture_sizes(random, (8, 16, 24, 32, 40), (4, 5, 6, 8, 10))
        if len(sizes.get("sizes", ())) > 1:
            border = (
                {side: random.randint(0, 3) for side in ("left", "right", "top", "bottom")}
                if chance(random, 40)
                else {}
            )
            across = width + border.get("left", 0) + border.get("right", 0) + random.randint(0, 24)
            down = height + border.get("top", 0) + border.get("bottom", 0) + random.randint(0, 4)
            clock = {"dot_clock": 6_000_000, "dots_per_line": across, "lines_per_frame": down}
            return {**sizes, "border": border, **clock}


def sized_chip(random: Random, *, timed: bool = False) -> Chip:
    """A valid chip of two sizes at least; ``timed``: with a time table."""
    while True:
        chip = make_chip(random, sized_frame)
        if chip.time is not None or not timed:
            return chip


def plain_chip(chip: Chip, number: int) -> Chip:
    """The chip that has but size ``number``, as a file of its own would say it; its border is left out."""
    tables = json.loads(chip.model_dump_json(exclude_unset=True, by_alias=True))
    tables["frame"]["width"], tables["frame"]["height"] = tables["frame"].pop("sizes")[number]
    tables["frame"].pop("border", None)
    tables.get("constants", {}).pop(NAME, None)
    listed = tables.get("registers") or {}
    if isinstance(listed, dict):
        listed.pop(NAME, None)
    for word in listed if isinstance(listed, list) else ():
        word.get("fields", {}).pop(NAME, None)
        for field in word.get("fields", {}).values():
            if isinstance(field, dict) and field.get("sets"):
                field["sets"] = [name for name in field["sets"] if name != NAME]
    return Chip.model_validate_json(json.dumps(tables))


def plain_state(chip: Chip, state: State) -> State:
    """What ``state`` holds as a state of ``chip``, which lacks the size's control."""
    made = State.at_reset(chip)
    for name in ("memory", "palette", "sprites"):
        getattr(made, name)[...] = getattr(state, name)
    for place, name in enumerate(made.names):
        made.controls[place] = state.controls[state.names.index(name)]
    made.next_frame = {
        made.names.index(state.names[number]): value
        for number, value in state.next_frame.items()
        if state.names[number] != NAME
    }
    return made


def of_no_address(chip: Chip, writes: list[Write]) -> list[Write]:
    """Writes but those to addresses and words, which two chips may have otherwise, and to the picture's size."""
    known = field_names(chip)

    def plain(write: Write) -> bool:
        if isinstance(write, RegisterWrite):
            return write.name in known and NAME not in known[write.name].controls
        return not isinstance(write, PortWrite)

    return [write for write in writes if plain(write)]


def can_be_set(chip: Chip) -> bool:
    """Whether the picture's size has a register with two values at least."""
    field = field_names(chip).get(NAME)
    return field is not None and field.top >= field.step


def set_alone(chip: Chip) -> bool:
    """Whether what sets the picture's size sets nothing else."""
    field = field_names(chip).get(NAME)
    return field is None or field.controls == (NAME,)
