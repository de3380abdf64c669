"""A chip's block diagram, laid out from its blocks: the CPU's side at the left, then memory and sources, the ladder at the right.

Law: a box is as large as its words; boxes of one column are as wide, no two share a place, and every arrow begins and ends at a
box. Data goes along solid lines, what registers set along dashed ones. Knows no chip.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from ...drawing.svg import Drawing, Tone, width_of

PAD, LINE, GAP, STACK, RAIL = 10.0, 18.0, 56.0, 34.0, 22.0
"""Within a box, height of a line of text, between columns, between the boxes of a column, and beside boxes for lines."""


@dataclass(frozen=True)
class Block:
    """A block: its name, and what is said of it below, a line each."""

    name: str
    lines: tuple[str, ...] = ()

    @property
    def across(self) -> float:
        """How wide it must be at least."""
        return max(width_of(text) for text in (self.name, *self.lines)) + 2 * PAD

    @property
    def down(self) -> float:
        """How high it must be at least."""
        return LINE * (1 + len(self.lines)) + 1.5 * PAD


@dataclass(frozen=True)
class Source:
    """A layer or the sprite engine, and its line buffers where it has some."""

    block: Block
    buffers: Block | None = None


@dataclass(frozen=True)
class Blocks:
    """All blocks of a chip; None for what it has not. ``to_palette`` and ``to_sprites``: whether ports reach them."""

    cpu: Block
    registers: Block
    ports: Block | None
    queue: Block
    status: Block | None
    memory: Block
    sources: tuple[Source, ...]
    ladder: Block
    palette: Block
    output: Block
    to_palette: bool = False
    to_sprites: bool = False


class _Box(NamedTuple):
    """Where a block stands."""

    x: float
    y: float
    across: float
    down: float

    @property
    def right(self) -> float:
        return self.x + self.across

    @property
    def bottom(self) -> float:
        return self.y + self.down

    @property
    def middle(self) -> tuple[float, float]:
        return self.x + self.across / 2, self.y + self.down / 2


def blocks_drawn(blocks: Blocks, about: str) -> str:
    """The drawing; ``about`` tells it to whoever cannot see it."""
    return _Layout(blocks).drawn(about)


class _Layout:
    """The diagram as it is laid out, column by column."""

    def __init__(self, blocks: Blocks) -> None:
        self.blocks, self.made = blocks, Drawing()
        left = self._left()
        buffers = [one.buffers for one in blocks.sources if one.buffers]
        right = (blocks.ladder, blocks.palette, blocks.output)
        self.wide = [
            _widest(left),
            blocks.memory.across,
            _widest([one.block for one in blocks.sources]),
            _widest(buffers),
            _widest(right),
        ]
        x = self.made.edge + (RAIL if blocks.status else 0)
        self.x: list[float] = []
        for across in self.wide:
            self.x.append(x)
            x += across + GAP if across else 0
        missing = blocks.registers.across - (self.x[4] + self.wide[4] - self.x[1])
        self.wide[4] += max(0.0, missing)
        self.top = self.made.edge + max(blocks.cpu.down, blocks.registers.down) + STACK
        self.high = max(
            blocks.memory.down,
            blocks.ladder.down,
            _stacked(left[1:], STACK),
            sum(map(_source_down, blocks.sources)) + STACK / 2 * (len(blocks.sources) - 1),
        )

    def _left(self) -> list[Block]:
        blocks = self.blocks
        return [one for one in (blocks.cpu, blocks.ports, blocks.queue, blocks.status) if one is not None]

    def drawn(self, about: str) -> str:
        """All of it."""
        cpu, registers = self._top()
        memory = self._box(self.blocks.memory, 1, self.top, self.high, "mark")
        self._cpu_side(cpu, memory)
        ladder = self._box(self.blocks.ladder, 4, self.top, self.high)
        self._sources(registers, memory, ladder)
        self._output(ladder)
        at = ladder.middle[0]
        self.made.arrow((at, registers.bottom), (at, ladder.y), dashed=True)
        return self.made.svg(about)

    def _box(
        self, block: Block, column: int, y: float, down: float | None = None, tone: Tone = "", across: float = 0
    ) -> _Box:
        box = _Box(self.x[column], y, across or self.wide[column], down or block.down)
        self.made.box(*box, tone)
        base = box.y + PAD + LINE / 2
        for place, text in enumerate((block.name, *block.lines)):
            self.made.text(box.x + PAD, base + 3 + place * LINE, text, head=place == 0)
        return box

    def _top(self) -> tuple[_Box, _Box]:
        """The CPU, and the registers above all that they set."""
        y, down = self.made.edge, self.top - STACK - self.made.edge
        cpu = self._box(self.blocks.cpu, 0, y, down, "still")
        across = self.x[4] + self.wide[4] - self.x[1]
        registers = self._box(self.blocks.registers, 1, y, down, across=across)
        self.made.arrow((cpu.right, cpu.middle[1]), (registers.x, cpu.middle[1]))
        return cpu, registers

    def _cpu_side(self, cpu: _Box, memory: _Box) -> None:
        """Ports, queue and status below the CPU, and what goes from them to memory, palette and sprites."""
        before, y = cpu, self.top
        for block in (self.blocks.ports, self.blocks.queue):
            if block is not None:
                box = self._box(block, 0, y)
                self.made.arrow((box.middle[0], before.bottom), (box.middle[0], box.y))
                before, y = box, box.bottom + STACK
                if block is self.blocks.ports:
                    self._port_lines(box)
        self.made.arrow((before.right, before.middle[1]), (memory.x, before.middle[1]))
        if self.blocks.status is not None:
            box = self._box(self.blocks.status, 0, y)
            rail, at = box.x - RAIL + 4, cpu.middle[1]
            self.made.arrow((box.x, box.middle[1]), (rail, box.middle[1]), (rail, at), (cpu.x, at))

    def _port_lines(self, ports: _Box) -> None:
        """From the ports below everything to the palette, and to the sprites' table on the chip."""
        blocks = self.blocks
        if blocks.to_sprites:
            end = self._source_tops()[-1] + _source_down(blocks.sources[-1])
            rail, below, at = ports.right + 34, self.top + self.high + 14, self.x[2] + self.wide[2] / 2
            y = ports.bottom - 10
            self.made.arrow((ports.right, y), (rail, y), (rail, below), (at, below), (at, end))
        if blocks.to_palette:
            rail, y, below = ports.right + 20, ports.bottom - 20, self._palette_top() + blocks.palette.down / 2
            self.made.arrow((ports.right, y), (rail, y), (rail, below), (self.x[4], below))

    def _source_tops(self) -> list[float]:
        """Where each source begins: they share the height that there is."""
        downs = [_source_down(one) for one in self.blocks.sources]
        free = (self.high - sum(downs)) / (len(downs) - 1) if len(downs) > 1 else 0
        found, y = [], self.top
        for down in downs:
            found.append(y)
            y += down + min(free, STACK)
        return found

    def _sources(self, registers: _Box, memory: _Box, ladder: _Box) -> None:
        rail = self.x[2] - GAP / 2
        for source, y in zip(self.blocks.sources, self._source_tops(), strict=True):
            box = self._box(source.block, 2, y, _source_down(source))
            high, low = box.y + 14, box.bottom - 14
            self.made.arrow((rail, registers.bottom), (rail, high), (box.x, high), dashed=True)
            self.made.arrow((memory.right, low), (box.x, low))
            if source.buffers is not None:
                held = self._box(source.buffers, 3, y, box.down)
                self.made.arrow((box.right, low), (held.x, low))
                box = held
            self.made.arrow((box.right, low), (ladder.x, low))

    def _palette_top(self) -> float:
        return self.top + self.high + STACK

    def _output(self, ladder: _Box) -> None:
        """Palette and output below the ladder, and what the two kinds of line mean."""
        palette = self._box(self.blocks.palette, 4, self._palette_top())
        output = self._box(self.blocks.output, 4, palette.bottom + STACK, tone="still")
        at = ladder.middle[0]
        self.made.arrow((at, ladder.bottom), (at, palette.y))
        self.made.arrow((at, palette.bottom), (at, output.y))
        base = output.y + LINE
        for place, (text, dashed) in enumerate((("data", False), ("what registers set", True))):
            y = base + place * LINE
            self.made.line((self.made.edge, y), (self.made.edge + 40, y), dashed=dashed)
            self.made.text(self.made.edge + 48, y + 4, text)


def _widest(blocks: Sequence[Block]) -> float:
    return max((one.across for one in blocks), default=0.0)


def _stacked(blocks: Sequence[Block], gap: float) -> float:
    return sum(one.down for one in blocks) + gap * (len(blocks) - 1)


def _source_down(source: Source) -> float:
    """A source and its buffers are as high, and have room for two arrows."""
    return max(source.block.down, source.buffers.down if source.buffers else 0.0, 46.0)
