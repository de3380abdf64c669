"""Patterns of a scene: which numbers are there, what bytes they are, and what they are called.

Law: a target (LAYER.MODE or ``sprites``) has one set of patterns; a set is runs of consecutive numbers that never
overlap. A sprite's image may take several numbers (its bytes / the chip's step from number to number). Whether a number
is loaded is asked of memory once addresses are known, so that two modes may share one set by sharing its address.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from ...chip.model import SpritesTable, TextMode, TilesMode
from ...chip.tables.pattern import SpritePattern
from ...door.shown import value as shown
from ..findings import Findings, WrongError, one_of
from ..tables.contents import PatternsTable
from ..tables.values import PATTERN_NAME
from .assets import Assets
from .dots import Dots, cut, digits, lowered, pack, tiled
from .font import FIRST_CHARACTER, glyphs
from .runs import PatternRun, PatternSet, from_memory


@dataclass(frozen=True)
class Format:
    """How a target's patterns look: dots across and down, bits a dot; ``shape``: how those of sprites lie in memory."""

    width: int
    height: int
    bits: int
    first_dot: str
    text: bool = False
    shape: SpritePattern | None = None

    @property
    def size_bytes(self) -> int:
        """Bytes of one pattern."""
        return self.row_bytes * self.height

    @property
    def row_bytes(self) -> int:
        """Bytes of one row; a glyph's row takes a whole byte, however narrow it is."""
        return (self.width * self.bits + 7) // 8

    def packed(self, dots: Dots) -> Dots:
        """Patterns (count, height, width) as bytes (count, size_bytes), those of sprites tile by tile."""
        if self.shape is not None:
            return pack(tiled(dots, self.shape), self.bits, self.first_dot).reshape(len(dots), -1)
        spare = self.row_bytes * 8 // self.bits - self.width
        dots = np.pad(dots, ((0, 0), (0, 0), (0, spare)))
        return pack(dots, self.bits, self.first_dot).reshape(len(dots), -1)


class Patterns:
    """Every target's patterns. ``bases`` and ``loaded`` are set once memory is laid out."""

    def __init__(self, findings: Findings) -> None:
        self.findings = findings
        self.sets: dict[str, PatternSet] = {}
        self.bases: dict[str, int] = {}
        self.loaded = np.zeros(findings.chip.memory.size + 1, np.int64)
        for target in findings.targets("tiles", "text"):
            mode = findings.mode(target, "tiles", "text")
            if isinstance(mode, TilesMode):
                self.sets[target] = PatternSet(target, f"{target}.patterns", mode.pattern_bytes, mode.cell.pattern.top)
            elif isinstance(mode, TextMode):
                self.sets[target] = PatternSet(target, f"{target}.glyphs", mode.pattern_bytes, mode.cell.character.top)
        sprites = findings.chip.sprites
        if sprites:
            step = sprites.patterns[0].step
            self.sets["sprites"] = PatternSet("sprites", "sprites.patterns", step, sprites.fields.top_number)

    def settle(self, bases: dict[str, int], memory: Dots) -> None:
        """Write the patterns into ``memory``; ``bases`` has every control's address."""
        loaded = np.zeros(len(memory), np.bool_)
        self.bases = bases
        for one in self.sets.values():
            if one.runs and one.owner in bases and bases[one.owner] + one.extent()[1] <= len(memory):
                one.fill(memory, loaded, bases[one.owner])
        self.loaded = np.concatenate([[0], np.cumsum(loaded)])

    def has(self, target: str, number: int, size: int, shape: SpritePattern | None = None) -> bool:
        """Whether all ``size`` bytes of the target's pattern ``number`` are loaded; ``shape``: of a sprite's."""
        one = self.sets[target]
        start = self.bases.get(one.owner, 0) + number * one.step_of(shape)
        stretches, each = (range(1), size) if shape is None else shape.own
        return start + stretches[-1] + each < len(self.loaded) and all(
            int(self.loaded[start + begin + each] - self.loaded[start + begin]) == each for begin in stretches
        )

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
            if run is None or own.owner not in self.bases or other.owner not in self.bases:
                continue
            address = self.bases[other.owner] + other.begin(run, self._within(run, ref, int(more or 0), sub))
            away = address - self.bases[own.owner]
            if away >= 0 and away % step == 0 and away // step <= own.top:
                return away // step
        if "patterns" in self.findings.muted:
            return None
        names = [run.name for run in own.runs if run.name]
        raise WrongError(f"{one_of(names, f'the name of patterns for {target}')}, got {shown(ref)}", *sub)

    def _within(self, run: PatternRun, ref: str, more: int, sub: tuple[str | int, ...]) -> int:
        if more >= len(run.images):
            raise WrongError(f"{run.name} goes to {run.name}+{len(run.images) - 1}, got {shown(ref)}", *sub)
        return more


def formats(findings: Findings, target: str, size: tuple[int, int] | None) -> Format:
    """How patterns of ``target`` look. Raises WrongError for an unknown target or a size that the chip has not."""
    sprites = findings.chip.sprites
    if target == "sprites" and sprites:
        return sprite_format(sprites, sprite_size(sprites, size))
    known = findings.targets("tiles", "text") + (["sprites"] if sprites else [])
    if target not in known:
        raise WrongError(
            f"{one_of(known, f'what patterns of {findings.chip.name} are for')}, got {shown(target)}", "for"
        )
    if size is not None:
        raise WrongError("only goes with patterns for sprites", "size")
    mode = findings.mode(target, "tiles", "text")
    if isinstance(mode, TextMode):
        return Format(*mode.glyph, 1, mode.first_dot, text=True)
    assert isinstance(mode, TilesMode)
    return Format(mode.tile, mode.tile, mode.bits_per_dot, mode.first_dot)


def sprite_format(sprites: SpritesTable, size: tuple[int, int]) -> Format:
    """How sprite patterns of ``size`` look, one of the chip's."""
    shape = sprites.patterns[sprites.sizes.index(size)]
    return Format(*size, sprites.bits_per_dot, sprites.first_dot, shape=shape)


def sprite_size(sprites: SpritesTable, size: tuple[int, int] | None) -> tuple[int, int]:
    """One of the chip's sprite sizes: ``size``, or the first. Raises WrongError where the chip has no such size."""
    if size is None:
        return sprites.sizes[0]
    if size not in sprites.sizes:
        known = (f"{across}x{down}" for across, down in sprites.sizes)
        raise WrongError(f"{one_of(known, 'one of the sizes')}, got {size[0]}x{size[1]}", "size")
    return size


def collect(findings: Findings, assets: Assets, tables: Iterable[tuple[int, PatternsTable]]) -> Patterns:
    """The patterns of all ``tables``; mistakes become problems."""
    patterns = Patterns(findings)
    for index, table in tables:
        with findings.table("patterns", index):
            look = formats(findings, table.target, table.size)
            one = patterns.sets[table.target]
            images = _images(assets, table, look)
            units = -(-look.size_bytes // one.step) if look.shape is None else look.shape.units
            first = table.at
            if first is None:
                first = FIRST_CHARACTER if table.font else one.next(look.shape)
            elif table.font:
                first += FIRST_CHARACTER
            one.add(PatternRun(first, units, images, ("patterns", index), table.name, look.shape))
    return patterns


def _images(assets: Assets, table: PatternsTable, look: Format) -> Dots:
    """The table's patterns (count, bytes)."""
    if table.font:
        return look.packed(_font(look))
    if table.raw is not None:
        data = np.frombuffer(assets.raw(table.raw, "raw", table.offset, table.length), np.uint8)
        if look.shape is not None:
            return from_memory(look.shape, data, table.raw)
        if len(data) % look.size_bytes:
            raise WrongError(
                f"{table.raw} must be whole patterns of {look.size_bytes} bytes, got {len(data)} bytes", "raw"
            )
        return data.reshape(-1, look.size_bytes)
    if table.rows is not None:
        return look.packed(inline(table.rows, look))
    assert table.png is not None
    indices = assets.picture(table.png, "png").indices
    parts = cut(indices, look.width, look.height, table.png)
    if table.count is not None:
        if table.count > len(parts):
            size = f"{look.width}x{look.height}"
            raise WrongError(
                f"must be at most the patterns of {size} in {table.png}, {len(parts)}, got {table.count}", "count"
            )
        parts = parts[: table.count]
        indices = _without(indices, look, table.count, table.subtract)
    if look.text:
        return look.packed((parts != 0).astype(np.uint8))
    values = lowered(indices, table.subtract, (1 << look.bits) - 1, table.png)
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
