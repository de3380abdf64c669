"""A scene gone through frame by frame, from the first on: what the short ways to a late frame are held against.

Reads the scene's parts and uses nothing of what ``Scene.state`` and ``vdpsim.machine.reached`` leave out.
"""

from __future__ import annotations

from collections.abc import Iterator
from random import Random
from typing import Any

import numpy as np

import vdpsim
from vdpsim.engine import Plan, Program, draw
from vdpsim.scene.motion import RegisterMotion
from vdpsim.scene.scene import put_record
from vdpsim.scene.writes import settled
from vdpsim.state.state import State
from vdpsim.state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, SpriteWrite, Transfer, Write


def walk(scene: vdpsim.Scene) -> Iterator[tuple[State, tuple[Write, ...]]]:
    """The state and the writes of frame 0, 1, 2 and so on, without end."""
    parts, plan = scene._parts, Plan(scene.chip)
    maker: Any = parts.maker  # where a sprite moves
    state, fields = parts.start.copy(), {number: dict(each) for number, each in parts.sprites.items()}
    while True:
        frame, state.ahead, state.buffers = state.frame, None, {}
        for motion in parts.motion:
            value = motion.course.at(frame)
            if isinstance(motion, RegisterMotion):
                state.controls[state.names.index(motion.name)] = value
                continue
            fields[motion.number].update(maker.fields({motion.field: value}))
            put_record(state, parts.table, motion.number, maker.record(fields[motion.number]))
        drafts = [draft for timed in parts.timed for draft in timed.at(frame)]
        writes = settled(drafts, fields, parts.maker, parts.table)
        yield state.copy(), tuple(writes)
        if state.waiting or any(isinstance(write, Transfer | PortWrite) for write in writes):
            draw(plan, state, Program(plan, writes), damage=True)
            continue
        for write in writes:
            _act(state, write)
        state.frame += 1


def _act(state: State, write: Write) -> None:
    if isinstance(write, RegisterWrite):
        state.controls[state.names.index(write.name)] = write.value
    elif isinstance(write, PaletteWrite):
        state.palette[write.entry : write.entry + len(write.words)] = write.words
    elif isinstance(write, SpriteWrite):
        state.sprites.reshape(-1)[write.offset : write.offset + len(write.data)] = list(write.data)
    elif isinstance(write, MemoryWrite):
        state.memory[write.address : write.address + len(write.data)] = list(write.data)


def same(one: State, other: State) -> None:
    """Fails where two states differ in anything."""
    for name in vars(one):
        mine, theirs = getattr(one, name), getattr(other, name)
        assert np.array_equal(mine, theirs) if isinstance(mine, np.ndarray) else mine == theirs, name


PATTERN = """
[[patterns]]
name = "bird"
for = "sprites"
size = [8, 8]
rows = ["11111111", "11111111", "11111111", "11111111", "11111111", "11111111", "11111111", "11111111"]
"""


MOVED = (
    'sprite = "s0"\nfield = "x"',
    'sprite = "s1"\nfield = "y"',
    'sprite = "s0"\nfield = "bank"',
    'register = "near.scroll_x"',
)
"""What may move: each at most once, as a second motion of one thing is refused."""


def random_scene(random: Random, *, cpu: bool) -> str:
    """A scene for the chip of ``scenery``: sprites that move and are set, writes in some frames, bytes of the CPU."""
    text = "frames = 40\n[registers]\n" + "".join(
        f'"{name}.enable" = {int(random.random() < 0.3)}\n' for name in ("near", "far", "status")
    )
    text += PATTERN
    for number in range(3):
        text += f'[[sprites]]\nname = "s{number}"\nx = {number}\ny = {9 * number}\npattern = "bird"\n'
    for what in random.sample(MOVED, random.randrange(4)):
        text += _motion(random, what)
    for _ in range(random.randrange(1, 7)):
        text += "[[writes]]\n" + _when(random) + _what(random)
    for _ in range(random.randrange(1, 4) if cpu else 0):
        text += "[[writes]]\n" + _when(random) + _of_cpu(random)
    return text


def _motion(random: Random, what: str) -> str:
    then = random.choice(("stop", "repeat", "bounce"))
    first, last = sorted(random.sample(range(40), 2))
    step = random.choice((1, 2, 0.5, 0.75, 3))
    if random.random() < 0.5:
        first, last, step = last, first, -step
    if "bank" in what:
        first, last, step = 0, 3, abs(step)
    ends = f'from = {first}\nto = {last}\nthen = "{then}"'
    if ("scroll" in what or '"y"' in what) and random.random() < 0.5:
        ends = f"from = {first}"
    return f"[[motion]]\n{what}\n{ends}\nstep = {step}\nevery = {random.choice((1, 1, 2, 3))}\n"


def _when(random: Random) -> str:
    kind = random.randrange(4)
    if kind == 0:
        return ""
    if kind == 1:
        return f"frame = {random.randrange(30)}\n"
    first = random.randrange(20)
    step = f":{random.randrange(1, 6)}" if kind == 3 else ""
    return f'frames = "{first}:{first + random.choice((1, 5, 20, 1000))}{step}"\n'


def _what(random: Random) -> str:
    line, byte = random.randrange(70), random.randrange(256)
    advance = f"advance = {random.randrange(-3, 4)}\n"
    spread = f'lines = "{line}:{line + 9}:{random.randrange(1, 3)}"\n'
    return random.choice(
        (
            f'{spread}register = "near.scroll_x"\nvalues = [1, 2, 5]\n{advance}',
            f'{spread}register = "backdrop"\nvalues = [1, 4]\n{advance}',
            f'{spread}entry = {random.randrange(4)}\ncolours = ["#123", "#456", "#f00", "#0f0", "#00f"]\n{advance}',
            f'line = {line}\nsprite = "s0"\nset = {{ bank = {random.randrange(4)} }}\n',
            f'line = {line}\nsprite = "s0"\nset = {{ x = {random.randrange(40)}, y = 3 }}\n',
            f'line = {line}\nsprite = "s2"\nset = {{ x = {random.randrange(40)} }}\n',
            f'line = {line}\nsprite = "s2"\nset = {{ y = {random.randrange(40)}, flip_x = 1 }}\n',
            f"line = {line}\nmemory = {random.randrange(8000)}\nfill = {byte}\ncount = {random.randrange(1, 150)}\n",
            f"line = {line}\nmemory = {random.randrange(60)}\nfill = {byte}\ncount = {random.randrange(1, 90)}\n",
        )
    )


def _of_cpu(random: Random) -> str:
    line, byte, count = random.randrange(70), random.randrange(256), random.choice((5, 90, 700, 1500))
    return random.choice(
        (
            f'line = {line}\nmemory = {random.randrange(8000)}\nfill = {byte}\ncount = {count}\nby = "cpu"\n',
            f'line = {line}\nmemory = {random.randrange(80)}\nfill = {byte}\ncount = 90\nby = "cpu"\n',
            f"line = {line}\nport = 0x1002\nvalues = [{random.randrange(256)}, 7, 9]\n",
            f"line = {line}\nport = 0x1000\nvalue = {random.randrange(256)}\n",
            f"line = {line}\nport = {random.choice((0x1010, 0x1012))}\nvalues = [17, {random.randrange(64)}]\n",
        )
    )
