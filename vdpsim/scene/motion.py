"""Motion over frames: what a register or a sprite's field is in each frame.

Law: frame f has step k = f // every, and the value floor(from + step x k); exact, with fractions and not floats. At ``to``
it stops, or begins again once the next value would lie beyond, or turns back. Without ``to`` only what wraps can move,
and counts round.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from math import gcd, lcm
from typing import NamedTuple

from ..chip.controls import controls
from ..chip.model import Chip
from ..chip.registers import Register, RegisterField, own_names, settable, unfit
from ..door.shown import value as shown
from .contents.sprites import PATTERN_FIELDS, Fields, SpriteList, SpriteMaker
from .findings import Findings, Together, WrongError, none_of, one_of
from .tables.timed import MotionTable
from .values import register_value

FRAMES_LOOKED_AT = 4096
"""In so many frames of a scene, at most, it is looked whether the patterns that a motion leads to are loaded."""


class Course(NamedTuple):
    """A value that moves. ``wrap`` is what it counts modulo where it has no ``last``."""

    first: int
    last: int | None
    step: Fraction
    every: int
    then: str
    wrap: int

    def at(self, frame: int) -> int:
        """The value in ``frame``."""
        # In whole numbers: everything is counted in parts of a step's denominator until it is rounded down at the end.
        count, pace, parts = frame // self.every, abs(self.step.numerator), self.step.denominator
        if self.last is None:
            return (self.first + self.step.numerator * count // parts) % self.wrap
        length = abs(self.last - self.first) * parts
        moved = min(pace * count, length)
        if self.then == "repeat":
            # Upwards the floor stays at `to` until the whole number after it; downwards it leaves `to` at once.
            steps = -(-(length + parts) // pace) if self.step > 0 else length // pace + 1
            moved = pace * (count % steps)
        elif self.then == "bounce" and length:
            moved = pace * count % (2 * length)
            moved = min(moved, 2 * length - moved)
        return self.first + (moved if self.step > 0 else -moved) // parts

    def rhythm(self) -> tuple[int, int]:
        """From which frame on, and after how many, the same values come again."""
        pace, parts = abs(self.step.numerator), self.step.denominator
        if self.last is None:
            return 0, self.every * (self.wrap * parts // gcd(pace, self.wrap * parts))
        length = abs(self.last - self.first) * parts
        if not pace or not length:
            return 0, 1
        if self.then == "repeat":
            return 0, self.every * (-(-(length + parts) // pace) if self.step > 0 else length // pace + 1)
        if self.then == "bounce":
            return 0, self.every * (2 * length // gcd(pace, 2 * length))
        return self.every * -(-length // pace), 1


class RegisterMotion(NamedTuple):
    """The field or whole register ``name`` follows ``course``."""

    name: str
    course: Course


class SpriteMotion(NamedTuple):
    """The field ``field`` of sprite ``number`` follows ``course``."""

    number: int
    field: str
    course: Course


Motion = RegisterMotion | SpriteMotion


def motions(
    findings: Findings,
    tables: Iterable[tuple[int, MotionTable]],
    sprites: SpriteList,
    maker: SpriteMaker | None,
    frames: int,
) -> tuple[Motion, ...]:
    """What every table tells; mistakes become problems, and so does a second motion of what moves already."""
    found: list[Motion] = []
    movers: dict[tuple[str, ...], int] = {}
    for index, table in tables:
        with findings.table("motion", index):
            one = motion(findings, table, sprites, maker, frames)
            if one is None:
                continue
            for moved in _moved(findings.chip, one, table, maker):
                first = movers.setdefault(moved, index)
                if first != index:
                    line = findings.source.line(("motion", first))
                    key = "register" if table.control else "field"
                    raise WrongError(f"{' '.join(moved)} moves already: motion.{first} on line {line} moves it", key)
            found.append(one)
    return tuple(found)


def _moved(chip: Chip, one: Motion, table: MotionTable, maker: SpriteMaker | None) -> list[tuple[str, ...]]:
    """What the motion writes, as words: fields of registers, or a sprite and its fields.

    A sprite's x may take its x_bias bit along, and a pattern its bank.
    """
    if isinstance(one, RegisterMotion):
        moved = settable(chip)[one.name]
        fields = [of.name for of, _ in moved.holds] if isinstance(moved, Register) else []
        return [(name,) for name in (moved.name, *fields)]
    assert maker is not None
    written = dict.fromkeys((one.field, *maker.fields({one.field: one.course.first})))
    return [(f"{table.sprite}'s", field) for field in written]


def motion(
    findings: Findings,
    table: MotionTable,
    sprites: SpriteList,
    maker: SpriteMaker | None,
    frames: int,
) -> Motion | None:
    """The motion that ``table`` tells. Raises WrongError where it leaves what it moves; None where a failed table hides that."""
    if table.control is not None:
        return _register(findings, table, table.control)
    assert table.sprite is not None
    assert table.field is not None
    each = Together()
    number = each(sprites.number, findings, table.sprite, "sprite")
    base = (None if number is None else sprites.fields[number]) or None
    course = None if maker is None else each(_of_field, table, table.field, maker, base, frames)
    each.done()
    return None if number is None or course is None else SpriteMotion(number, table.field, course)


def _of_field(table: MotionTable, name: str, maker: SpriteMaker, base: Fields | None, frames: int) -> Course | None:
    """The course of a sprite's field; ``base``: the sprite's fields, None where they are not known. Raises WrongError."""
    each = Together()
    known = name in maker.layout
    if not known:
        each.tell(f"{one_of(maker.layout, 'a field of the sprites')}, got {shown(name)}", "field")
    ends = [
        each(maker.named, name, value, key, beside=base) if known else _number(value) for key, value in _told(table)
    ]
    each(_leads, table, *ends)
    wraps = {"x": maker.sprites.wrap_x, "y": maker.sprites.wrap_y}
    wrap = maker.layout[name].top + 1 if known and wraps.get(name) else 0
    if known and table.last is None and not wrap:
        each.tell(f"{table.sprite}'s {name} does not wrap: `to` is needed", "to")
    for (key, _), end in zip(_told(table), ends, strict=True):
        if known and end is not None:
            each(_fits, name, end, key, maker)
    course = _course(table, ends, wrap)
    if course is not None and each.clear({"from", "to", "step"}) and base and name in PATTERN_FIELDS:
        each(_loaded, name, course, maker, base, frames)
    each.done()
    return course


def _told(table: MotionTable) -> list[tuple[str, int | str | tuple[int, int]]]:
    """The ends that the table tells, with their keys."""
    ends = (("from", table.first), ("to", table.last))
    return [(key, value) for key, value in ends if value is not None]


def _number(value: int | str | tuple[int, int]) -> int | None:
    return value if isinstance(value, int) else None


def _register(findings: Findings, table: MotionTable, name: str) -> RegisterMotion:
    each, one = Together(), settable(findings.chip).get(name)
    if one is None:
        each.tell(none_of(name, own_names(findings.chip), f"a register of {findings.chip.name}"), "register")
    ends = [_number(value) if one is None else each(_value, one, name, value, key) for key, value in _told(table)]
    each(_leads, table, *ends)
    wrap = 0 if one is None else _wrap(findings.chip, one)
    if one is not None and table.last is None and not wrap:
        each.tell(f"{name} does not wrap: `to` is needed", "to")
    if one is not None and one.step > 1 and Fraction(repr(table.step)) % one.step:
        each.tell(f"must be a multiple of {one.step} for {name}, got {table.step}", "step")
    each.done()
    course = _course(table, ends, wrap)
    assert course is not None
    return RegisterMotion(name, course)


def _value(one: RegisterField | Register, name: str, value: int | str | tuple[int, int], key: str) -> int:
    """The number of an end of a register's course. Raises WrongError, at ``key``, where the register does not take it."""
    if isinstance(value, tuple):
        raise WrongError(f"must be a value of {name}, got {shown(list(value))}", key)
    number = register_value(one, value, key)
    reason = unfit(one, number)
    if reason:
        raise WrongError(reason, key)
    return number


def _wrap(chip: Chip, one: RegisterField | Register) -> int:
    """What a register counts modulo; 0 where a control that it sets does not wrap."""
    moved = [] if isinstance(one, Register) else [controls(chip)[name] for name in one.controls]
    if not moved or not all(control.wraps for control in moved):
        return 0
    return min(lcm(*(control.top + 1 for control in moved)), one.top + one.step)


def _leads(table: MotionTable, first: int | None, last: int | None = None) -> None:
    """Raises WrongError where the step leads away from the course's end."""
    if first is not None and last is not None and (last - first) * Fraction(repr(table.step)) < 0:
        way = "above" if last > first else "below"
        raise WrongError(f"must be {way} 0 to lead from {first} to {last}, got {table.step}", "step")


def _course(table: MotionTable, ends: Sequence[int | None], wrap: int) -> Course | None:
    """The course between the ends; None where one of them is not known."""
    first, last = ends[0], ends[1] if len(ends) > 1 else None
    if first is None or (last is None and len(ends) > 1):
        return None
    # repr(): 0.1 in a file is one tenth, not the double beside it, and ten steps of it are one dot.
    return Course(first, last, Fraction(repr(table.step)), table.every, table.then, wrap)


def _fits(field: str, value: int, key: str, maker: SpriteMaker) -> None:
    """Raises WrongError, at ``key``, where the record cannot hold an end of the course."""
    try:
        maker.fields({field: value})
    except WrongError as wrong:
        raise WrongError(wrong.message, key) from None


def _loaded(field: str, course: Course, maker: SpriteMaker, base: Fields, frames: int) -> None:
    """Raises WrongError where a pattern on the way is not loaded."""
    met = {course.at(frame): "from" for frame in range(min(frames, FRAMES_LOOKED_AT))}
    if course.then == "stop" and course.last is not None:
        met[course.last] = "to"
    for value, key in met.items():
        try:
            maker.loaded({**base, **maker.fields({field: value})})
        except WrongError as wrong:
            raise WrongError(wrong.message, key) from None
