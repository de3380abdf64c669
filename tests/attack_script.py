"""What an attack on a budget does to a chip, as plain data: what the chip holds at first, and what is written in each frame.

Law: a script holds all that is needed to draw its frames again, so that it can be printed and made a regression. It never
writes in mid-line. What happened in a frame is taken from the engine alone: which slots it gave out, what was missed, which
sprites found none. Knows no budget.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any
from unittest import mock

import numpy as np

from vdpsim.chip.model import Chip
from vdpsim.chip.slots import Served, Shape
from vdpsim.engine import Plan, draw, timed
from vdpsim.engine.fetches import Fetches
from vdpsim.engine.frame import Result
from vdpsim.memory import MemoryWrite, RegisterWrite, SpriteWrite, State, Transfer, Write

KINDS = {kind.__name__: kind for kind in (RegisterWrite, MemoryWrite, SpriteWrite, Transfer)}


@dataclass(frozen=True)
class Miss:
    """``count`` accesses of ``client`` that found no slot in time; of ``sprites``: sprites dropped that had been promised."""

    frame: int
    line: int
    client: str
    count: int


@dataclass(frozen=True)
class Script:
    """``memory``, ``sprites`` and ``controls`` at first, the others as at reset; ``frames``: the writes of each."""

    memory: bytes = b""
    sprites: bytes = b""
    controls: dict[str, int] = field(default_factory=dict)
    frames: tuple[tuple[Write, ...], ...] = ((),)

    def state(self, chip: Chip) -> State:
        """What ``chip`` holds before the first frame."""
        state = State.at_reset(chip)
        state.memory[: len(self.memory)] = list(self.memory)
        flat = state.sprites.reshape(-1)
        flat[: len(self.sprites)] = list(self.sprites)
        for name, value in self.controls.items():
            state.controls[state.names.index(name)] = value
        return state

    def __str__(self) -> str:
        """The script as JSON, which ``script_from`` reads."""
        frames = [[[type(one).__name__, _plain(vars(one))] for one in writes] for writes in self.frames]
        data = {"memory": self.memory.hex(), "sprites": self.sprites.hex(), "controls": self.controls, "frames": frames}
        return json.dumps(data)


def _plain(values: dict[str, Any]) -> dict[str, Any]:
    return {name: value.hex() if isinstance(value, bytes) else value for name, value in values.items()}


def script_from(text: str) -> Script:
    """The script that was printed as ``text``."""
    data = json.loads(text)
    frames = tuple(
        tuple(
            KINDS[kind](**{name: bytes.fromhex(v) if name == "data" else v for name, v in values.items()})
            for kind, values in writes
        )
        for writes in data["frames"]
    )
    return Script(bytes.fromhex(data["memory"]), bytes.fromhex(data["sprites"]), data["controls"], frames)


class Watched(Fetches):
    """The engine's fetches, which remember themselves and how many accesses the sprites made."""

    last: Watched

    def serve(self, sprites: np.ndarray) -> None:
        super().serve(sprites)
        self.made = sprites
        Watched.last = self

    def by_line(self) -> Iterator[tuple[int, Shape, int, Served]]:
        """Each line in whose slots something may have been fetched: its shape, the accesses of sprites, who had what."""
        for place, (shape, made, kind) in enumerate(
            zip(self.of_line.tolist(), self.made.tolist(), self.served_of_line.tolist(), strict=True)
        ):
            yield self.first + place, self.shapes[shape], made, self.served[kind]


def frames(plan: Plan, script: Script) -> Iterator[tuple[Result, Watched]]:
    """Draw the script's frames one after the other."""
    assert mid_line(plan.chip, script) == []
    state = script.state(plan.chip)
    with mock.patch.object(timed, "Fetches", Watched):
        for writes in script.frames:
            yield draw(plan, state, writes, damage=True), Watched.last


def mid_line(chip: Chip, script: Script) -> list[Write]:
    """The register writes that a budget says nothing of: those within a line of the picture."""
    return [
        write
        for writes in script.frames
        for write in writes
        if isinstance(write, RegisterWrite) and 0 < write.dot < chip.frame.width and write.line < chip.frame.height
    ]


def promises(chip: Chip) -> bool:
    """Whether the chip says how many sprites a line takes."""
    sprites = chip.sprites
    return sprites is not None and (sprites.per_line is not None or sprites.dots_per_line is not None)


def misses_of(chip: Chip, number: int, result: Result) -> list[Miss]:
    """What a frame missed, by the engine's own account."""
    found = [
        Miss(number, int(line), result.log.clients[client], int(result.missed[line, client]))
        for line, client in zip(*np.nonzero(result.missed), strict=True)
    ]
    if promises(chip):
        lines = result.drops["line"][result.drops["reason"] == "slots"].tolist()
        found += [Miss(number, line, "sprites", lines.count(line)) for line in sorted(set(lines))]
    return found


def replay(chip: Chip, script: Script) -> list[Miss]:
    """What the script misses on ``chip``."""
    plan = Plan(chip)
    return [
        miss for number, (result, _) in enumerate(frames(plan, script)) for miss in misses_of(chip, number, result)
    ]


def shrunk(chip: Chip, script: Script, tries: int = 250) -> Script:
    """A simpler script that still misses something of the same client, for people to read."""
    client = replay(chip, script)[0].client
    left = [tries]

    def still(one: Script) -> bool:
        left[0] -= 1
        return left[0] >= 0 and any(miss.client == client for miss in replay(chip, one))

    for simple in (b"", b"\xff" * len(script.memory)):
        one = replace(script, memory=simple)
        if one != script and still(one):
            script = one
            break
    for change in ({"sprites": b""}, {"frames": script.frames[:1]}):
        one = replace(script, **change)
        if one != script and still(one):
            script = one
    for number in range(len(script.frames)):

        def with_writes(writes: Sequence[Write], number: int = number) -> Script:
            every = list(script.frames)
            every[number] = tuple(writes)
            return replace(script, frames=tuple(every))

        script = with_writes(_fewer(list(script.frames[number]), lambda writes, make=with_writes: still(make(writes))))
    for name in list(script.controls):
        one = replace(script, controls={other: value for other, value in script.controls.items() if other != name})
        if still(one):
            script = one
    return script


def _fewer(items: list[Any], still: Any) -> list[Any]:
    """The items without those runs of them that are not needed, from long runs to short ones."""
    size = len(items)
    while size:
        place = 0
        while place < len(items):
            without = items[:place] + items[place + size :]
            if still(without):
                items = without
            else:
                place += size
        size //= 2
    return items
