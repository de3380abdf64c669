"""Motion over frames: what a register or a sprite's field is in each frame.

Law: frame f has step k = f // every, and the value floor(from + step x k); exact, with fractions and not floats. At ``to``
it stops, or begins again once the next value would lie beyond, or turns back. Without ``to`` only what wraps can move,
and counts round.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

from ..chip.controls import controls, registers, unfit
from .desk import Desk, Wrong, one_of
from .model import MotionTable
from .patterns import Patterns
from .sprites import SpriteList, SpriteMaker


@dataclass(frozen=True)
class Course:
    """A value that moves. ``wrap`` is what it counts modulo where it has no ``last``."""

    first: int
    last: int | None
    step: Fraction
    every: int
    then: str
    wrap: int

    def at(self, frame: int) -> int:
        """The value in ``frame``."""
        count = frame // self.every
        if self.last is None:
            return math.floor(self.first + self.step * count) % self.wrap
        length = abs(self.last - self.first)
        moved = abs(self.step) * count
        if self.then == "repeat":
            # Upwards the floor shows `to` until the whole number after it; downwards only while it is reached exactly.
            steps = math.ceil((length + 1) / self.step) if self.step > 0 else length // -self.step + 1
            moved = abs(self.step) * (count % steps)
        elif self.then == "bounce" and length:
            moved %= 2 * length
            moved = min(moved, 2 * length - moved)
        moved = min(moved, Fraction(length))
        if self.then == "repeat":
            moved = abs(self.step) * (count % steps)
        return math.floor(self.first + (moved if self.step > 0 else -moved))


@dataclass(frozen=True)
class RegisterMotion:
    """The register ``name`` follows ``course``."""

    name: str
    course: Course


@dataclass(frozen=True)
class SpriteMotion:
    """The field ``field`` of sprite ``number`` follows ``course``."""

    number: int
    field: str
    course: Course


Motion = RegisterMotion | SpriteMotion


def motion(
    desk: Desk, table: MotionTable, sprites: SpriteList, maker: SpriteMaker | None, patterns: Patterns, frames: int
) -> Motion | None:
    """The motion that ``table`` tells. Raises Wrong where it leaves what it moves; None where a failed table hides that."""
    if table.register is not None:
        return _register(desk, table, table.register, frames)
    assert table.sprite is not None and table.field is not None
    number = sprites.number(desk, table.sprite, "sprite")
    if number is None or maker is None:
        return None
    if table.field not in maker.layout:
        raise Wrong(f"{one_of(maker.layout, 'a field of the sprites')}, got {table.field!r}", "field")
    ends = []
    for key, value in (("from", table.first), ("to", table.last)):
        if isinstance(value, str):
            if table.field != "pattern":
                raise Wrong(f"must be a whole number, got {value!r}", key)
            value = patterns.number("sprites", value, key)
            if value is None:
                return None
        ends.append(value)
    wraps = {"x": maker.sprites.wrap_x, "y": maker.sprites.wrap_y}
    wrap = maker.layout[table.field].top + 1 if wraps.get(table.field) else 0
    assert ends[0] is not None
    course = _course(table, ends[0], ends[1], wrap, f"{table.sprite}'s {table.field}")
    for value in _values(course, frames):
        fields = maker.fields({table.field: value}, "from")
        base = sprites.fields.get(number)
        if table.field in ("pattern", "size") and base is not None:
            maker.loaded({**base, **fields}, "from")
    return SpriteMotion(number, table.field, course)


def _register(desk: Desk, table: MotionTable, name: str, frames: int) -> RegisterMotion:
    known = registers(desk.chip)
    if name not in known:
        raise Wrong(f"{one_of(known, f'a register of {desk.chip.name}')}, got {name!r}", "register")
    for key, value in (("from", table.first), ("to", table.last)):
        if isinstance(value, str):
            raise Wrong(f"must be a whole number, got {value!r}", key)
    control = controls(desk.chip)[name]
    wrap = control.top + 1 if control.wraps else 0
    assert isinstance(table.first, int) and not isinstance(table.last, str)
    course = _course(table, table.first, table.last, wrap, name)
    unit = known[name].step
    if unit > 1 and course.step % unit:
        raise Wrong(f"must be a multiple of {unit} for {name}, got {table.step}", "step")
    for key, value in (("from", course.first), ("to", course.last)):
        reason = None if value is None else unfit(known[name], value)
        if reason:
            raise Wrong(reason, key)
    return RegisterMotion(name, course)


def _course(table: MotionTable, first: int, last: int | None, wrap: int, what: str) -> Course:
    step = Fraction(repr(table.step))
    if last is None and not wrap:
        raise Wrong(f"{what} does not wrap: `to` is needed", "to")
    if last is not None and (last - first) * step < 0:
        raise Wrong(f"must lead from {first} to {last}, got {table.step}", "step")
    return Course(first, last, step, table.every, table.then, wrap)


def _values(course: Course, frames: int) -> list[int]:
    """Every value of the course, or of as many frames as matter for it."""
    if course.last is None:
        return sorted({course.at(frame) for frame in range(min(frames, 4096))})
    low, high = sorted((course.first, course.last))
    if course.step.denominator == 1 and course.then == "repeat":
        return list(range(course.first, course.last + (1 if course.step > 0 else -1), int(course.step)))
    return list(range(low, high + 1)) if abs(course.step) < 1 else sorted({course.at(f) for f in range(min(frames, 4096))} | {low, high})
