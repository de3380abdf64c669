"""Random cases for engine and twin: a chip, what it holds, what is written, and which lines are drawn.

Law: a case follows from its seed and number alone. Chips, states and writes are those of ``strategies.py``; what is new is
how little of them is drawn, because the twin takes its time dot by dot: a picture of a few dots and lines, drawn whole and
more than once, or a few lines of a picture of full size, from any line on, or now and then all of it. A chip file must have 64
x 64 dots at least; nothing in the rules does, so a little frame is put in behind the file's back, and every check is made.
"""

from __future__ import annotations

import dataclasses
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any

from agreement import differences, plane_differences, state_differences
from strategies import chance, make_chip, make_state, make_writes
from twin import draw_frame
from twin_result import TwinResult
from twin_scenes import make_scene

from vdpsim.chip.checks import check
from vdpsim.chip.model import Chip
from vdpsim.engine import Plan, draw
from vdpsim.engine.frame import Result
from vdpsim.memory import State, Write
from vdpsim.scene.scene import Scene

LEAST = {"width": 64, "height": 64, "dots_per_line": 64, "lines_per_frame": 64}
"""The least that a chip file may say of its frame."""

KINDS = ("little",) * 11 + ("lines",) * 6 + ("scene",) * 3
"""What cases are, each as often as it stands here; a whole frame of full size is drawn in ``WHOLE`` percent of all."""

WHOLE = 2


@dataclass
class Case:
    """Number ``number`` of ``seed``. ``parts``: the lines to be drawn of each frame, up to but not including this one, and
    what is written there; ``scene``: where they and the states come from instead.
    """

    seed: int
    number: int
    kind: str
    chip: Chip
    state: State
    parts: list[tuple[list[Write], int]]
    planes: bool
    scene: Scene | None = None
    refused: int = 0


@dataclass
class Drawn:
    """Some lines as both have drawn them; ``wrong``: where they differ."""

    state: State
    writes: list[Write]
    last: int
    twin: TwinResult
    result: Result
    wrong: list[str]


# Chips


def framed(chip: Chip, frame: dict[str, Any]) -> Chip | None:
    """``chip`` with another frame, be it less than a file may say; None where something does not fit it."""
    made = chip.model_copy(update={"frame": chip.frame.model_copy(update=frame)})
    return None if list(check(made)) else made


def little_chip(random: Random) -> Chip:
    """A valid chip with a picture of 8 to 40 dots and 4 to 16 lines."""
    while True:
        chip = make_chip(random)
        border = chip.frame.border
        sides = {name: min(getattr(border, name), 3) for name in ("left", "right", "top", "bottom")}
        width, height = random.choice((8, 16, 16, 24, 32, 40)), random.randint(4, 16)
        frame = {
            "width": width,
            "height": height,
            "border": border.model_copy(update=sides),
            "dots_per_line": width + sides["left"] + sides["right"] + random.randint(0, 24),
            "lines_per_frame": height + sides["top"] + sides["bottom"] + random.randint(0, 4),
        }
        made = framed(chip, frame)
        if made is not None:
            return made


def chip_from(data: dict[str, Any]) -> Chip:
    """The chip that ``chip_as_json`` told."""
    frame = dict(data["frame"])
    chip = Chip.model_validate_json(
        json.dumps({**data, "frame": {**frame, "border": {}, **{name: max(frame[name], LEAST[name]) for name in LEAST}}})
    )
    border = chip.frame.border.model_copy(update=frame.get("border", {}))
    return chip.model_copy(
        update={"frame": chip.frame.model_copy(update={**{name: frame[name] for name in LEAST}, "border": border})}
    )


def chip_as_json(chip: Chip) -> dict[str, Any]:
    """The chip as a chip file has it."""
    data: dict[str, Any] = json.loads(chip.model_dump_json(exclude_defaults=True))
    return data


# Cases


def case(seed: int, number: int, folder: Path) -> Case:
    """Case ``number`` of ``seed``; a scene's file is put into ``folder`` while it is loaded."""
    random = Random(f"{seed}/{number}")
    kind = random.choice(KINDS)
    planes = chance(random, 20)
    if kind == "scene":
        refused = 0
        while True:
            chip = little_chip(random) if chance(random, 90) else make_chip(random)
            scene = make_scene(random, chip, folder)
            if scene is not None:
                return Case(seed, number, kind, chip, scene.state(), [], planes, scene, refused)
            refused += 1
    if kind == "little":
        chip = little_chip(random)
        end = chip.frame.lines_per_frame
        frames = [(make_writes(random, chip), end) for _ in range(1 + chance(random, 40))]
        return Case(seed, number, kind, chip, make_state(random, chip), frames, planes)
    chip = make_chip(random)
    state = make_state(random, chip)
    end = chip.frame.lines_per_frame
    if chance(random, 100 * WHOLE * len(KINDS) // (100 * KINDS.count(kind)) + 1):
        return Case(seed, number, "frame", chip, state, [(make_writes(random, chip), end)], planes)
    state.line = random.choice((0, chip.frame.height - 3, end - 3, random.randrange(end), random.randrange(end)))
    parts, line = [], state.line
    for _ in range(random.randint(1, 2)):
        last = min(end, line + random.randint(2, 5))
        wanted = make_writes(random, chip)
        parts.append(([dataclasses.replace(one, line=line + one.line % (last - line)) for one in wanted], last))
        line = last % end
    return Case(seed, number, kind, chip, state, parts, planes)


def drawn(one: Case) -> Iterator[Drawn]:
    """Draw the case, part by part, with one plan; ends after the first part that differs."""
    plan = Plan(one.chip)
    for state, writes, last in _starts(one):
        told = compared(plan, state, writes, last, planes=one.planes)
        yield told
        if told.wrong:
            return


def _starts(one: Case) -> Iterator[tuple[State, list[Write], int]]:
    """Each part's state, what is written, and where it ends. Parts go on from each other: a state that was handed out has
    been drawn by the time the next is asked for.
    """
    state = one.state
    if one.scene is None:
        for writes, last in one.parts:
            yield state, writes, last
        return
    scene, end = one.scene, one.chip.frame.lines_per_frame
    for frame in range(scene.frames):
        if frame:
            alone = scene.moves_from is None or frame <= scene.moves_from
            state = scene.state(frame) if alone and one.number % 2 else scene.state(frame, left=state)
        yield state, list(scene.writes(frame)), end


def compared(plan: Plan, state: State, writes: list[Write], last: int, *, planes: bool) -> Drawn:
    """Draw lines from ``state`` on with both; ``state`` is then as the twin leaves it."""
    before, other = state.copy(), state.copy()
    twin = draw_frame(state, writes, last)
    result = draw(plan, other, writes, last, planes=planes, damage=True, trace=plan.chip.time is not None)
    wrong = differences(plan.chip, twin, result) + state_differences(state, other)
    if planes:
        wrong += plane_differences(plan.chip, twin, result)
    return Drawn(before, writes, last, twin, result, wrong)
