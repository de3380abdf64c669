"""Patterns of a scene: which numbers are there, what bytes they are, and what they are called; and a small font for text modes.

Law: a target (LAYER.MODE or ``sprites``) has one set of patterns; a set is runs of consecutive numbers that never
overlap. A sprite's image may take several numbers (its bytes / the chip's step from number to number). Whether a number
is loaded is asked of memory once addresses are known, so that two modes may share one set by sharing its address. The font is of
the project's own drawing: a glyph for each of the characters 32 to 126, dot by dot in a box of five by eight; nothing is loaded.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

import numpy as np
import numpy.typing as npt

from ...chip.controls import address_names, sprite_addresses
from ...chip.model import TextMode, TilesMode
from ...chip.tables.pattern import SpritePattern
from ...door.shown import value as shown
from ..findings import Findings, Together, WrongError, one_of
from ..reading import working
from ..tables.contents import PatternsTable
from ..tables.values import PATTERN_NAME
from .assets import Assets
from .dots import Dots, cut, digits, lowered
from .formats import Format, formats
from .runs import PatternRun, PatternSet

FIRST_CHARACTER = 32
"""The space; the glyphs follow up to 126."""


class Patterns:
    """Every target's patterns. ``bases`` and ``loaded`` are set once memory is laid out."""

    loaded: npt.NDArray[np.int64]

    def __init__(self, findings: Findings) -> None:
        self.findings = findings
        self.sets: dict[str, PatternSet] = {}
        self.bases: dict[str, int] = {}
        self.loaded = np.zeros(findings.chip.memory.size + 1, np.int64)
        for target in findings.targets("tiles", "text"):
            mode = findings.mode(target, "tiles", "text")
            if isinstance(mode, TilesMode):
                self.sets[target] = PatternSet(
                    target, address_names(target, mode), mode.pattern_bytes, mode.cell.pattern.top
                )
            elif isinstance(mode, TextMode):
                self.sets[target] = PatternSet(
                    target, address_names(target, mode), mode.pattern_bytes, mode.cell.character.top
                )
        sprites = findings.chip.sprites
        if sprites:
            step = sprites.patterns[0].step
            self.sets["sprites"] = PatternSet("sprites", sprite_addresses(sprites), step, sprites.fields.top_number)

    def settle(self, bases: dict[str, int], memory: Dots) -> None:
        """Write the patterns into ``memory``; ``bases`` has every control's address."""
        loaded = np.zeros(len(memory), np.bool_)
        self.bases = bases
        for one in self.sets.values():
            for number, owner in enumerate(one.owners if one.runs else ()):
                if owner in bases and bases[owner] + one.extent()[1] <= len(memory):
                    one.fill(memory, loaded, bases[owner], number)
        # Sums: whether all of a stretch is loaded is then one subtraction, for each sprite, cell and write that is checked.
        self.loaded = np.concatenate([[0], np.cumsum(loaded)])

    def has(self, target: str, number: int, size: int, shape: SpritePattern | None = None) -> bool:
        """Whether all ``size`` bytes at each address of the target's pattern ``number`` are loaded; ``shape``: of a sprite's."""
        one = self.sets[target]
        starts = [self.bases.get(owner, 0) + number * one.step_of(shape) for owner in one.owners]
        stretches, each = (range(1), size) if shape is None else shape.own
        for start in starts:
            for begin in stretches:
                first, end = start + begin, start + begin + each
                if end >= len(self.loaded) or int(self.loaded[end] - self.loaded[first]) != each:
                    return False
        return True

    def known(self, target: str) -> str:
        """What is loaded for ``target``, in words."""
        runs = sorted(self.sets[target].runs, key=lambda run: run.first)
        return ", ".join(map(str, runs[:20])) + (", ..." if len(runs) > 20 else "") if runs else "none"

    def number(self, target: str, ref: int | str, *sub: str | int, shape: SpritePattern | None = None) -> int | None:
        """The target's number for a number or ``name+more``; None where it is unknown only because a table has failed.

        A name of another target, or of sprites that count in other steps than those of ``shape`` do, counts where its patterns
        lie at a whole number of this one's. Raises WrongError otherwise.
        """
        if isinstance(ref, int):
            return ref
        if not PATTERN_NAME.fullmatch(ref):  # where any text may stand, such as the ends of a motion
            raise WrongError(f'must be a pattern\'s name such as "reeds" or "reeds+3", got {shown(ref)}', *sub)
        name, _, more = ref.partition("+")
        own = self.sets[target]
        step = own.step_of(shape)
        run = own.named(name)
        if run is not None:
            number, beside = divmod(own.begin(run, self._within(run, ref, int(more or 0), sub)), step)
            if beside or number > own.top:
                raise WrongError(f"must be a pattern at a whole number of {step} bytes, got {shown(ref)}", *sub)
            return number
        for other in self.sets.values():
            run = other.named(name)
            begin = None if run is None else other.begin(run, self._within(run, ref, int(more or 0), sub))
            away = None if begin is None else self._away(own, other, begin)
            if away is not None and away >= 0 and away % step == 0 and away // step <= own.top:
                return away // step
        if "patterns" in self.findings.muted:
            return None
        names = [run.name for run in own.runs if run.name]
        raise WrongError(f"{one_of(names, f'the name of patterns for {target}')}, got {shown(ref)}", *sub)

    def _away(self, own: PatternSet, other: PatternSet, begin: int) -> int | None:
        """How far byte ``begin`` of ``other`` lies from ``own`` number 0; None where that is not so in every plane alike."""
        if len(own.owners) != len(other.owners) or not all(owner in self.bases for owner in own.owners + other.owners):
            return None
        pairs = zip(own.owners, other.owners, strict=True)
        away = {self.bases[theirs] + begin - self.bases[ours] for ours, theirs in pairs}
        return away.pop() if len(away) == 1 else None

    def _within(self, run: PatternRun, ref: str, more: int, sub: tuple[str | int, ...]) -> int:
        if more >= len(run.images):
            raise WrongError(f"{run.name} goes to {run.name}+{len(run.images) - 1}, got {shown(ref)}", *sub)
        return more


def collect(findings: Findings, assets: Assets, tables: Iterable[tuple[int, PatternsTable]]) -> Patterns:
    """The patterns of all ``tables``; mistakes become problems."""
    patterns = Patterns(findings)
    for index, table in tables:
        with working(findings, assets, ("patterns", index), table):
            look, one = formats(findings, table.target, table.size), patterns.sets[table.target]
            each = Together()
            images = each(_images, assets, table, look)
            # of what cannot be read, one pattern is looked at: where it begins, and what it is called
            given = np.zeros((1, look.size_bytes), np.uint8) if images is None else images
            units = -(-look.raster.size // one.step) if look.shape is None else look.shape.units
            run = PatternRun(_first(table, one, look), units, given, ("patterns", index), table.name, look.shape)
            each(one.check, run)
            each.done()
            one.runs.append(run)
    return patterns


def _first(table: PatternsTable, one: PatternSet, look: Format) -> int:
    """The number of the table's first pattern."""
    if table.at is None:
        return FIRST_CHARACTER if table.font else one.next(look.shape)
    return table.at + FIRST_CHARACTER if table.font else table.at


def _images(assets: Assets, table: PatternsTable, look: Format) -> Dots:
    """The table's patterns (count, bytes)."""
    if table.font:
        return look.packed(_font(look))
    if table.raw is not None:
        data = np.frombuffer(assets.raw(table.raw, "raw", table.offset, table.length), np.uint8)
        return look.from_memory(data, table.raw)
    if table.rows is not None:
        return look.packed(inline(table.rows, look))
    assert table.png is not None
    indices = assets.picture(table.png, "png").indices
    each, parts = Together(), cut(indices, look.width, look.height, table.png)
    if table.count is not None and table.count > len(parts):
        size = f"{look.width}x{look.height}"
        each.tell(f"must be at most the patterns of {size} in {table.png}, {len(parts)}, got {table.count}", "count")
    elif table.count is not None:
        parts = parts[: table.count]
        indices = _without(indices, look, table.count, table.subtract)
    if look.text:
        each.done()
        return look.packed((parts != 0).astype(np.uint8))
    values = each(lowered, indices, table.subtract, (1 << look.bits) - 1, table.png)
    each.done()
    assert values is not None
    return look.packed(cut(values, look.width, look.height, table.png)[: len(parts)])


def inline(rows: Sequence[str], look: Format) -> Dots:
    """Patterns (count, height, width) from rows of digits. Raises WrongError where they are not whole."""
    dots = digits(rows, look.bits, look.width)
    if len(dots) % look.height:
        raise WrongError(f"must be whole patterns of {look.height} rows, got {len(dots)}", "rows")
    return dots.reshape(-1, look.height, look.width)


def _font(look: Format) -> Dots:
    if not (look.text and 6 <= look.width <= 8 and 8 <= look.height <= 16):
        raise WrongError("is for text modes with glyphs of 6 to 8 dots across and 8 to 16 down", "font")
    return glyphs(look.width, look.height)


def _without(indices: Dots, look: Format, count: int, value: int) -> Dots:
    """The picture with ``value`` in the dots of all patterns from number ``count`` on: what is not taken cannot be wrong."""
    kept = indices.copy()
    down, across = indices.shape[0] // look.height, indices.shape[1] // look.width
    tiles = kept.reshape(down, look.height, across, look.width)
    beyond = np.arange(count, down * across)
    tiles[beyond // across, :, beyond % across, :] = value
    return kept


_WIDE, _HIGH = 5, 8

# Sixteen glyphs a band, eight rows a band.
_DRAWN = """
..... ..#.. .#.#. .#.#. ..#.. ##..# .#... ..#.. ...#. .#... ..... ..... ..... ..... ..... ....#
..... ..#.. .#.#. .#.#. .#### ##..# #.#.. ..#.. ..#.. ..#.. ..#.. ..#.. ..... ..... ..... ....#
..... ..#.. ..... ##### #.#.. ...#. #.#.. ..... .#... ...#. #.#.# ..#.. ..... ..... ..... ...#.
..... ..#.. ..... .#.#. .###. ..#.. .#... ..... .#... ...#. .###. ##### ..... ##### ..... ..#..
..... ..#.. ..... ##### ..#.# .#... #.#.# ..... .#... ...#. #.#.# ..#.. ..... ..... ..... .#...
..... ..... ..... .#.#. ####. #..## #..#. ..... ..#.. ..#.. ..#.. ..#.. ..##. ..... ..##. #....
..... ..#.. ..... .#.#. ..#.. #..## .##.# ..... ...#. .#... ..... ..... ..##. ..... ..##. #....
..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... .##.. ..... ..... .....
.###. ..#.. .###. ##### ...## ##### ..##. ##### .###. .###. ..... ..... ....# ..... #.... .###.
#...# .##.. #...# ....# ..#.# #.... .#... ....# #...# #...# ..##. ..##. ...#. ..... .#... #...#
#..## ..#.. ....# ...#. .#..# ####. #.... ....# #...# #...# ..##. ..##. ..#.. ##### ..#.. ....#
#.#.# ..#.. ..##. ..##. #...# ....# ####. ...#. .###. .#### ..... ..... .#... ..... ...#. ..##.
##..# ..#.. .#... ....# ##### ....# #...# ..#.. #...# ....# ..##. ..##. ..#.. ##### ..#.. ..#..
#...# ..#.. #.... #...# ....# #...# #...# ..#.. #...# ...#. ..##. ..##. ...#. ..... .#... .....
.###. .###. ##### .###. ....# .###. .###. ..#.. .###. .##.. ..... .##.. ....# ..... #.... ..#..
..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... .....
.###. ..#.. ####. .#### ###.. ##### ##### .#### #...# .###. ...## #...# #.... #...# #...# .###.
#...# .#.#. #...# #.... #..#. #.... #.... #.... #...# ..#.. ....# #..#. #.... ##.## #...# #...#
#.### #...# #...# #.... #...# #.... #.... #.... #...# ..#.. ....# #.#.. #.... #.#.# ##..# #...#
#.#.# #...# ####. #.... #...# ####. ####. #..## ##### ..#.. ....# ##... #.... #.#.# #.#.# #...#
#.### ##### #...# #.... #...# #.... #.... #...# #...# ..#.. ....# #.#.. #.... #...# #..## #...#
#.... #...# #...# #.... #..#. #.... #.... #...# #...# ..#.. #...# #..#. #.... #...# #...# #...#
.#### #...# ####. .#### ###.. ##### #.... .#### #...# .###. .###. #...# ##### #...# #...# .###.
..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... .....
####. .###. ####. .#### ##### #...# #...# #...# #...# #...# ##### .###. #.... .###. ..#.. .....
#...# #...# #...# #.... ..#.. #...# #...# #...# .#.#. #...# ....# .#... #.... ...#. .#.#. .....
#...# #...# #...# #.... ..#.. #...# #...# #...# .#.#. .#.#. ...#. .#... .#... ...#. #...# .....
####. #...# ####. .###. ..#.. #...# .#.#. #.#.# ..#.. .#.#. ..#.. .#... ..#.. ...#. ..... .....
#.... #.#.# #.#.. ....# ..#.. #...# .#.#. #.#.# .#.#. ..#.. .#... .#... ...#. ...#. ..... .....
#.... #..#. #..#. ....# ..#.. #...# ..#.. ##.## .#.#. ..#.. #.... .#... ....# ...#. ..... .....
#.... .##.# #...# ####. ..#.. .###. ..#.. #...# #...# ..#.. ##### .###. ....# .###. ..... #####
..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... ..... .....
.#... ..... #.... ..... ....# ..... ..##. ..... #.... ..#.. ...#. #.... .##.. ..... ..... .....
..#.. ..... #.... ..... ....# ..... .#... ..... #.... ..... ..... #.... ..#.. ..... ..... .....
..... .#### ####. .#### .#### .###. ####. .#### ####. .##.. ..##. #..#. ..#.. ##.#. ####. .###.
..... #...# #...# #.... #...# #...# .#... #...# #...# ..#.. ...#. #.#.. ..#.. #.#.# #...# #...#
..... #...# #...# #.... #...# ##### .#... #...# #...# ..#.. ...#. ##... ..#.. #.#.# #...# #...#
..... #..## #...# #.... #...# #.... .#... .#### #...# ..#.. ...#. #.#.. ..#.. #.#.# #...# #...#
..... .##.# ####. .#### .#### .#### .#... ....# #...# .###. #..#. #..#. ..##. #.#.# #...# .###.
..... ..... ..... ..... ..... ..... ..... .###. ..... ..... .##.. ..... ..... ..... ..... .....
..... ..... ..... ..... .#... ..... ..... ..... ..... ..... ..... ...## ..#.. ##... .....
..... ..... ..... ..... .#... ..... ..... ..... ..... ..... ..... ..#.. ..#.. ..#.. .....
####. .#### .#.## .#### ####. #...# #...# #...# #...# #...# ##### ..#.. ..#.. ..#.. .#...
#...# #...# .##.. #.... .#... #...# #...# #.#.# .#.#. #...# ...#. ##... ..#.. ...## #.#.#
#...# #...# .#... .###. .#... #...# .#.#. #.#.# ..#.. #...# ..#.. ..#.. ..#.. ..#.. ...#.
####. .#### .#... ....# .#... #..## .#.#. #.#.# .#.#. .#### .#... ..#.. ..#.. ..#.. .....
#.... ....# .#... ####. ..##. .##.# ..#.. .#.#. #...# ....# ##### ...## ..#.. ##... .....
#.... ....# ..... ..... ..... ..... ..... ..... ..... .###. ..... ..... ..... ..... .....
"""


def glyphs(width: int, height: int) -> npt.NDArray[np.uint8]:
    """The dots (95, height, width), 0 and 1, for cells of 6 to 8 dots by 8 to 16 lines.

    The drawing stands in the middle of its cell, with its spare dot to the right; from 16 lines on each row is drawn twice.
    """
    rows = [line.split() for line in _DRAWN.split("\n") if line]
    drawn = [
        [rows[top + row][column] for row in range(_HIGH)]
        for top in range(0, len(rows), _HIGH)
        for column in range(len(rows[top]))
    ]
    dots = np.array([[[character == "#" for character in row] for row in glyph] for glyph in drawn], np.uint8)
    if height >= 2 * _HIGH:
        dots = dots.repeat(2, axis=1)
    left, top = (width - _WIDE) // 2, (height - dots.shape[1]) // 2
    found = np.zeros((len(dots), height, width), np.uint8)
    found[:, top : top + dots.shape[1], left : left + _WIDE] = dots
    return found
