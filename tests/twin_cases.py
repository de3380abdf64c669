"""Random cases for engine and twin: a chip, what it holds, what is written, and which lines are drawn.

Law: a case follows from its seed and number alone. Chips, states and writes are those of ``strategies.py``; what is new is
how little of them is drawn, because the twin takes its time dot by dot: a picture of a few dots and lines, drawn whole and
more than once, or a few lines of a picture of full size, from any line on, or now and then all of it. A chip file must have 64
x 64 dots at least; nothing in the rules does, so a little frame is put in behind the file's back, and every check is made.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any

from agreement import differences, plane_differences, state_differences
from twin import draw_frame
from twin_result import TwinResult
from twin_scenes import make_scene

from vdpsim.chip.model import Chip
from vdpsim.engine import Plan, draw
from vdpsim.engine.frame import Result
from vdpsim.scene.scene import Scene
from vdpsim.state.state import State
from vdpsim.state.writes import Write
from vdpsim.testing.strategies.made.chances import chance
from vdpsim.testing.strategies.made.chips import make_chip, picture_sizes, read_chip
from vdpsim.testing.strategies.made.states import make_state
from vdpsim.testing.strategies.made.timed import make_writes

KINDS = ("little",) * 11 + ("lines",) * 6 + ("scene",) * 3
"""What cases are, each as often as it stands here."""

WHOLE = 4
"""Of a hundred cases of lines so many are whole frames of full size instead."""


@dataclass
class Case:
    """Number ``number`` of ``seed``. ``parts``: the lines to be drawn of each frame, up to but not including this one, and
    what is written there; ``scene``: where they and the states come from instead, ``says`` what stands in its file.
    ``refused``: scene files before it whose parts found no room.
    """

    seed: int
    number: int
    kind: str
    chip: Chip
    state: State
    parts: list[tuple[list[Write], int]]
    planes: bool
    scene: Scene | None = None
    says: set[str] = field(default_factory=set)
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

    @property
    def lines(self) -> int:
        """How many lines were drawn, those below the picture too."""
        return self.last - self.state.line


# Chips


def little_frame(random: Random) -> dict[str, Any]:
    """A picture of 8 to 40 dots and 4 to 16 lines, with a border or without."""
    border = {side: random.randint(0, 3) for side in ("left", "right", "top", "bottom")} if chance(random, 40) else {}
    sizes, width, height = picture_sizes(random, (8, 16, 16, 24, 24, 32, 40), (4, 5, 6, 7, 8, 10, 16))
    return {
        **sizes,
        "border": border,
        "dot_clock": 6_000_000,
        "dots_per_line": width + border.get("left", 0) + border.get("right", 0) + random.randint(0, 24),
        "lines_per_frame": height + border.get("top", 0) + border.get("bottom", 0) + random.randint(0, 4),
    }


def chip_from(plan: dict[str, Any]) -> Chip:
    """The chip that a file with this in it would be, if frames might be as small as one likes."""
    frame, room = plan["frame"], dict.fromkeys(("dots_per_line", "lines_per_frame"), 2048)
    if "sizes" in frame:
        stand_ins: dict[str, Any] = {"sizes": [[1024 - 8 * number, 768] for number in range(len(frame["sizes"]))]}
        across, down = (max(extents) for extents in zip(*frame["sizes"], strict=True))
        sizes = {"sizes": tuple(map(tuple, frame["sizes"])), "width": across, "height": down}
    else:
        stand_ins = {"width": 1024, "height": 768}
        sizes = {name: frame[name] for name in stand_ins}
    chip = read_chip({**plan, "frame": {**frame, **room, **stand_ins, "border": {}}})
    sizes |= {name: frame[name] for name in room}
    border = chip.frame.border.model_copy(update=frame.get("border", {}))
    return chip.model_copy(update={"frame": chip.frame.model_copy(update={**sizes, "border": border})})


def little_chip(random: Random) -> Chip:
    """A chip that is valid but for the size of its frame."""
    return make_chip(random, little_frame, chip_from)


# Cases


def case(seed: int, number: int, folder: Path) -> Case:
    """Case ``number`` of ``seed``; a scene's file is put into ``folder`` while it is loaded."""
    random = Random(f"{seed}/{number}")
    kind = random.choice(KINDS)
    planes = chance(random, 20)
    if kind == "scene":
        refused = 0
        while True:
            chip = little_chip(random) if chance(random, 95) else make_chip(random)
            made = make_scene(random, chip, folder)
            if made is not None:
                scene, says = made
                return Case(seed, number, kind, chip, scene.state(), [], planes, scene, says, refused)
            refused += 1
    if kind == "little":
        chip = little_chip(random)
        end = chip.frame.lines_per_frame
        frames = [(make_writes(random, chip), end) for _ in range(1 + chance(random, 40))]
        return Case(seed, number, kind, chip, make_state(random, chip), frames, planes)
    chip = make_chip(random)
    state = make_state(random, chip)
    end = chip.frame.lines_per_frame
    if chance(random, WHOLE):
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
