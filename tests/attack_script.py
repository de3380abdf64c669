"""What an attack on a budget does to a chip, as plain data: what the chip holds at first, and what is written in each frame.

Law: a script holds all that is needed to draw its frames again, so that it can be printed and made a regression. It never
writes in mid-line. What happened in a frame is taken from the engine alone: which slots it gave out, what was missed, which
sprites found none. Knows no budget.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, NamedTuple
from unittest import mock

import numpy as np

from vdpsim.chip.line.serving import Shape
from vdpsim.chip.line.slots import Served
from vdpsim.chip.model import Chip
from vdpsim.engine import Plan, draw
from vdpsim.engine.frame import Result
from vdpsim.engine.slots import ahead, timed
from vdpsim.engine.slots.fetches import Fetches
from vdpsim.state.state import State
from vdpsim.state.writes import MemoryWrite, RegisterWrite, SpriteWrite, Transfer, Write

KINDS: dict[str, Callable[..., Write]] = {
    kind.__name__: kind for kind in (RegisterWrite, MemoryWrite, SpriteWrite, Transfer)
}


@dataclass(frozen=True)
class Miss:
    """``count`` accesses of ``client`` that found no slot in time; of ``sprites``: sprites dropped that had been promised."""

    frame: int
    line: int
    client: str
    count: int


@dataclass(frozen=True)
class Script:
    """``memory``, ``sprites`` and ``controls`` at first, the others as at reset; ``frames``: the writes of each.

    ``last``: the last frame is drawn up to but not including this line; None: to its end.
    """

    memory: bytes = b""
    sprites: bytes = b""
    controls: dict[str, int] = field(default_factory=dict)
    frames: tuple[tuple[Write, ...], ...] = ((),)
    last: int | None = None

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
        return json.dumps({**data, "last": self.last})


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
    return Script(bytes.fromhex(data["memory"]), bytes.fromhex(data["sprites"]), data["controls"], frames, data["last"])


class Watched(Fetches):
    """The engine's fetches, which remember themselves and how many accesses the sprites made."""

    newest: Watched | None = None
    """The one that was made last."""

    @classmethod
    def taken(cls) -> Watched | None:
        """The newest, which is forgotten here."""
        found, cls.newest = cls.newest, None
        return found

    def serve(self, sprites: np.ndarray) -> None:
        """Give out the slots, and remember."""
        super().serve(sprites)
        self.made = sprites
        type(self).newest = self

    def by_line(self) -> Iterator[Slots]:
        """Each line in whose slots something may have been fetched."""
        for place, (shape, made, kind) in enumerate(
            zip(self.of_line.tolist(), self.made.tolist(), self.served_of_line.tolist(), strict=True)
        ):
            yield Slots(self.first + place, self.shapes[shape], made, self.served[kind], self.plan)


class Fresh(Watched):
    """The same for what is prepared from a state for which nothing was: as though an empty line had gone before."""

    newest: Watched | None = None


class Slots(NamedTuple):
    """Who had the slots of ``line`` (``RESET``: of the empty line before a state for which nothing was prepared).

    ``made``: accesses of the sprites. ``plan``: of the size that the picture had.
    """

    line: int
    shape: Shape
    made: int
    served: Served
    plan: Plan


RESET = -1


class Frame(NamedTuple):
    """A frame as it was drawn: the result, who had which slots, and whether what is ready for the next has missed something."""

    result: Result
    slots: list[Slots]
    owing: bool


def frames(plan: Plan, script: Script) -> Iterator[Frame]:
    """Draw the script's frames one after the other."""
    assert mid_line(plan.chip, script) == []
    state, end = script.state(plan.chip), len(script.frames) - 1
    with mock.patch.object(timed, "Fetches", Watched), mock.patch.object(ahead, "Fetches", Fresh):
        for number, writes in enumerate(script.frames):
            Fresh.taken()
            last = script.last if number == end else None
            result = draw(plan, state, [one for one in writes if last is None or one.line < last], last, damage=True)
            kept, fresh = Watched.taken(), Fresh.taken()
            assert kept is not None
            slots = list(kept.by_line())
            slots += [] if fresh is None else [one._replace(line=RESET) for one in fresh.by_line()]
            late = any(buffer.missed for buffer in state.buffers.values())
            short = state.ahead is not None and any(reason == "slots" for _, reason in state.ahead.drops)
            yield Frame(result, slots, late or (short and promises(plan.chip)))


def mid_line(chip: Chip, script: Script) -> list[Write]:
    """The register writes that a budget says nothing of: those within a line of the picture."""
    return [
        write
        for writes in script.frames
        for write in writes
        if isinstance(write, RegisterWrite) and 0 < write.dot < chip.frame.width and write.line < chip.frame.height
    ]


def promises(chip: Chip) -> bool:
    """Whether the chip says how many sprites a line takes, and that is one at least."""
    sprites = chip.sprites
    if sprites is None or (sprites.per_line is None and sprites.dots_per_line is None):
        return False
    return sprites.dots_per_line is None or sprites.dots_per_line >= min(across for across, _ in sprites.sizes)


def misses_of(chip: Chip, number: int, result: Result) -> list[Miss]:
    """What a frame missed, by the engine's own account."""
    found = [
        Miss(number, int(line), result.log.clients[client], int(result.missed[line, client]))
        for line, client in zip(*np.nonzero(result.missed), strict=True)
    ]
    if promises(chip):
        lines = result.drops["line"][result.drops["reason"] == "slots"].tolist()
        found += [Miss(number, line, "sprites", lines.count(line)) for line in sorted(set(lines))]
        if result.slots is not None and result.slots.unread is not None:  # then sprites are lost that nobody finds
            unread = np.flatnonzero(result.slots.unread).tolist()
            found += [Miss(number, line, "sprites", int(result.slots.unread[line])) for line in unread]
    return found


def replay(chip: Chip, script: Script) -> list[Miss]:
    """What the script misses on ``chip``."""
    plan = Plan(chip)
    return [miss for number, frame in enumerate(frames(plan, script)) for miss in misses_of(chip, number, frame.result)]


def shrunk(chip: Chip, script: Script, tries: int = 400) -> Script:
    """A simpler script that still misses something of the same client, for people to read."""
    client = replay(chip, script)[0].client
    left = [tries]

    def still(one: Script) -> bool:
        left[0] -= 1
        return left[0] >= 0 and any(miss.client == client for miss in replay(chip, one))

    while True:
        simpler = _simpler(script, still)
        if simpler == script or left[0] < 0:
            return simpler
        script = simpler


def _simpler(script: Script, still: Callable[[Script], bool]) -> Script:
    """``script`` without what is not needed, each thing tried once."""
    frames = script.frames
    wholes: list[dict[str, Any]] = [{"memory": b""}, {"memory": b"\xff" * len(script.memory)}, {"sprites": b""}]
    wholes += [{"frames": frames[:1]}, {"frames": frames[1:] or frames}, {"last": None}]
    for change in wholes[1:] if script.memory == b"" else wholes:
        one = replace(script, **change)
        script = one if one != script and still(one) else script
    for number in range(len(script.frames)):

        def with_writes(writes: Sequence[Write], number: int = number, of: Script = script) -> Script:
            return replace(of, frames=(*of.frames[:number], tuple(writes), *of.frames[number + 1 :]))

        def holds(writes: Sequence[Write], make: Callable[[Sequence[Write]], Script] = with_writes) -> bool:
            return still(make(writes))

        script = with_writes(_fewer(list(script.frames[number]), holds))
    for name in script.controls:
        one = replace(script, controls={other: value for other, value in script.controls.items() if other != name})
        script = one if still(one) else script
    return script


def _fewer(items: list[Any], still: Callable[[list[Any]], bool]) -> list[Any]:
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
