"""Answers brought down until the budget proves that their chip fits, in a stated order.

Law: whether a chip fits says the budget, and every sum is one of its figures; nothing is worked out here but who gives way. What
gives way: where sprites find no slots, half of them on a line, at last all; where a layer is late or memory is short, half the
bits of a dot, then a layer, then the sprites. What cannot be brought down to a chip that fits is refused with the sums.
"""

from __future__ import annotations

from typing import NamedTuple

from ..budgets.budget import Budget, budget
from ..chip.line.presets import frame_sizes
from ..chip.load import parse_chip
from ..files.problems import InputError, Problem
from .answers import QUESTIONS, Answers
from .chip_text import NAMES, chip_text

ORDER = """\
what gives way if it does not fit: sprites that find no slots, by halves; for a layer that is late or memory that is short,
half the bits of a dot, then a layer, then the sprites"""
TILES, PATTERNS = 64, 32
"""Patterns of each layer, and of sprites, that memory must have room for beside the maps."""


class Sketch(NamedTuple):
    """A chip that fits: the ``answers`` that it is of, what was ``given_up`` and why, its ``text``, its ``budget``."""

    answers: Answers
    given_up: tuple[str, ...]
    text: str
    budget: Budget


class _Trouble(NamedTuple):
    """What is wrong with a chip, and whether sprites that give way by halves help."""

    told: str
    sprites: bool


def misfit(size: tuple[int, int] | None, display: str) -> str:
    """What is wrong with a picture's size on a display; nothing where it takes that."""
    widths, heights = frame_sizes(display)
    width, height = size or (widths[0], heights[0])
    told = [f"width must be {widths[0]} to {widths[-1]}, a multiple of {widths.step} dots, got {width}"] * (
        width not in widths
    )
    told += [f"height must be {heights[0]} to {heights[-1]} lines, got {height}"] * (height not in heights)
    return "; ".join([*told, f"the display is {display}"]) if told else ""


def sketch(wanted: Answers, name: str) -> Sketch:
    """The chip of ``wanted``, called ``name``, with as much given up as it takes. Raises InputError where nothing helps."""
    wrong = misfit(wanted.size, wanted.display)
    if wrong:
        raise InputError([Problem("vdpsim new", 0, "--size", wrong)])
    answers, given_up = wanted, list[str]()
    while True:
        text = chip_text(answers, name)
        found = budget(parse_chip(text, f"the chip of {name}"))
        trouble = _trouble(answers, found)
        if trouble is None:
            return Sketch(answers, tuple(given_up), text, found)
        less = _less(answers, trouble)
        if less is None:
            told = f"no chip of these answers fits: {'; '.join([*given_up, trouble.told])}"
            raise InputError([Problem("vdpsim new", 0, "", told)])
        given_up += [f"{trouble.told}: {_changed(answers, less)}"]
        answers = less


def need(answers: Answers, found: Budget) -> tuple[tuple[str, int], ...]:
    """What memory must have room for, each with its bytes."""
    size = {one.name: one.bytes for one in found.memory.capacities}
    parts = []
    for layer in NAMES[answers.layers]:
        parts += [
            (f"{layer} map", size[f"{layer}.tiles map"]),
            (f"{TILES} tiles of {layer}", TILES * size[f"{layer}.tiles tile"]),
        ]
    if answers.sprites:
        parts.append((f"{PATTERNS} patterns of sprites", PATTERNS * size["sprite 16x16"]))
    return tuple(parts)


def _trouble(answers: Answers, found: Budget) -> _Trouble | None:
    """What keeps the chip from fitting; None where it fits."""
    asked = sum(size for _, size in need(answers, found))
    if asked > found.memory.size:
        return _Trouble(f"memory has {found.memory.size:,} bytes and needs {asked:,}", sprites=False)
    if found.fits:
        return None
    assert found.lines is not None
    client = min(found.lines.spare, key=found.lines.least)
    late = -found.lines.least(client)
    if late > 0 or found.sprites is None:
        return _Trouble(f"{client} is late by up to {late} slots of {found.lines.slots}", sprites=False)
    return _Trouble(
        f"sprites ask for {found.sprites.asked} slots of a line that leaves {found.sprites.room}", sprites=True
    )


def _less(answers: Answers, trouble: _Trouble) -> Answers | None:
    """The answers with the next thing given up; None where there is nothing left."""
    if trouble.sprites:
        fewer = [one for one in QUESTIONS["sprites"].allowed if one < answers.sprites]
        return answers._replace(sprites=fewer[-1])
    if answers.depth > QUESTIONS["depth"].allowed[0]:
        return answers._replace(depth=answers.depth // 2)
    if answers.layers > 1:
        return answers._replace(layers=answers.layers - 1)
    return answers._replace(sprites=0) if answers.sprites else None


def _changed(before: Answers, after: Answers) -> str:
    return ", ".join(
        f"{name} {old} becomes {new}"
        for name, old, new in zip(Answers._fields, before, after, strict=True)
        if old != new
    )
