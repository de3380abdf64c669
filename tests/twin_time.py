"""The twin's time on the line: slot by slot, who asks, who is served, and what comes too late.

Law: the slots of a line go by one after the other, and any slot goes to the first who asks for it. Nothing is worked out
ahead: whether a fetch comes in time is seen when its time is over. Moments are exact fractions. Knows the chip's description,
the timed writes and the twin's groups of dots.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import NamedTuple, Protocol

from twin_layers import Group, Layers
from twin_picture import picture_of

from vdpsim.chip.model import Chip, ClientTime, SlotPattern
from vdpsim.state.state import State, Waiting
from vdpsim.state.writes import Transfer


def floor(number: Fraction) -> int:
    """The whole number at or below."""
    return int(number // 1)


def ceiling(number: Fraction) -> int:
    """The whole number at or above."""
    return -int(-number // 1)


class Clock:
    """How dots become slots: ``slots`` a line, of which ``blank`` are over before dot 0."""

    def __init__(self, chip: Chip, width: int) -> None:
        assert chip.memory.accesses_per_dot is not None
        self.rate = Fraction(chip.memory.accesses_per_dot)
        self.dots = chip.frame.dots_per_line
        self.before = self.dots - width
        self.slots = floor(self.dots * self.rate)
        self.blank = floor(self.before * self.rate)
        self._first: dict[int, int] = {}
        self._over = [floor((self.before + dot) * self.rate) for dot in range(width)]

    def first(self, moment: int) -> int:
        """The first slot of a line that begins at ``moment`` or later, dots after the line's beginning."""
        if moment not in self._first:
            self._first[moment] = max(0, ceiling(moment * self.rate))
        return self._first[moment]

    def over(self, dot: int) -> int:
        """How many of a line's slots are over when ``dot`` shows."""
        return self._over[dot]


def fits(pattern: SlotPattern, slot: int) -> bool:
    """Whether the pattern has ``slot``."""
    return pattern.every is None or pattern.at is None or slot % pattern.every in pattern.at


class Access(NamedTuple):
    """What a slot brought: for whom, from where, and which bytes as a number."""

    client: str
    address: int
    value: int


NEVER = 1 << 60
"""A slot that no line has."""


class Asker(Protocol):
    """Somebody who may want a slot, but none before ``since``: of those nobody need ask."""

    since: int

    def asks(self, slot: int, *, blank: bool) -> bool:
        """Whether it asks for ``slot``."""

    def serve(self, slot: int, memory: bytearray) -> Access:
        """What it does with ``slot``, which it asked for and got."""


class RefreshAsks:
    """Refresh: so many slots of each line."""

    def __init__(self, chip: Chip) -> None:
        assert chip.time is not None
        self.table = chip.time.refresh
        self.left = self.table.slots if self.table else 0
        self.since = 0 if self.left else NEVER

    def asks(self, slot: int, *, blank: bool) -> bool:
        """Whether it wants ``slot``, blank or not."""
        return self.left > 0 and self.table is not None and fits(self.table, slot)

    def serve(self, slot: int, memory: bytearray) -> Access:
        """One slot of the line is its own."""
        self.left -= 1
        self.since = 0 if self.left else NEVER
        return Access("refresh", 0, 0)


class LayerAsks:
    """A layer's client with its groups, in the order in which they are due; of one mode alone where the table says so."""

    def __init__(self, name: str, table: ClientTime, clock: Clock, layers: Layers, groups: list[Group]) -> None:
        self.name, self.table, self.clock, self.layers = name, table, clock, layers
        self.brings_cells = name.endswith((".cells", ".colours"))
        self.groups = deque(groups)
        self.burst: list[int] = []
        self.bytes: dict[int, int] = {}
        self.missed = 0
        self.lost: list[tuple[Group, int]] = []
        self._next()

    def _next(self) -> None:
        """Another group is the first: when it may be fetched, when that is too late, and when there is anything to be done."""
        if not self.groups:
            self.since = self.opens = self.late = NEVER
            return
        due, lead = self.groups[0].due, self.table.lead
        self.opens = 0 if lead is None else self.clock.first(self.clock.before + due - lead)
        if self.table.when == "line before":
            self.late = self.clock.slots
        else:
            self.late = self.clock.blank if lead is None else self.clock.over(due)
        self.since = min(self.opens, self.late)

    def asks(self, slot: int, *, blank: bool) -> bool:
        """Whether the first of its groups wants ``slot``; a deadline says whether that is late, blank or not."""
        self.give_up(slot)
        if slot < self.opens or not fits(self.table, slot):
            return False
        group = self.groups[0]
        return self.brings_cells or not group.needs_cell or group.has_word

    def give_up(self, slot: int) -> None:
        """Miss the groups that ``slot`` is too late for."""
        while self.groups and (slot >= self.late or self._hangs_on_a_missed_cell()):
            group = self.groups.popleft()
            if self.brings_cells:
                group.cell_missed = True
                if self.burst:
                    group.first_word = self.layers.word_of(group, self.bytes)
                self.missed += len(self.burst or self.layers.cell_accesses(group))
            else:
                group.row_missed = True
                self.lost.append((group, len(self.burst)))
            self.burst = []
            self._next()

    def _hangs_on_a_missed_cell(self) -> bool:
        return self.groups[0].cell_missed and self.groups[0].needs_cell and not self.brings_cells

    def count_missed(self) -> int:
        """All accesses missed on the line, once it is over: a row's number is for its cell to say, which may have come later."""
        for group, left in self.lost:
            word = group.word if group.has_word else group.first_word
            self.missed += left or len(self.layers.row_accesses(group, word))
        return self.missed

    def serve(self, slot: int, memory: bytearray) -> Access:
        """The next access of the first group: a burst reads what memory holds when it begins."""
        group = self.groups[0]
        if not self.burst:
            if self.brings_cells:
                self.burst = self.layers.cell_accesses(group)
            else:
                self.burst = self.layers.row_accesses(group, group.word)
            self.bytes = self.layers.brought(memory, self.burst)
        address = self.burst.pop(0)
        if not self.burst:
            self.groups.popleft()
            self._next()
            if self.brings_cells:
                group.word, group.has_word = self.layers.word_of(group, self.bytes), True
            else:
                group.data = self.bytes
        return Access(self.name, address, number_in(self.layers, self.bytes, address))


def number_in(layers: Layers, data: dict[int, int], address: int) -> int:
    """The access at ``address`` as a number, out of ``data``."""
    brought = bytes(data[address + step] for step in range(layers.width))
    return int.from_bytes(brought, layers.chip.memory.byte_order)


@dataclass
class TileNeeds:
    """The row of one tile of a sprite: its own bytes by their addresses, the accesses that bring them, and what these brought."""

    own: list[int]
    accesses: list[int]
    data: dict[int, int] = field(default_factory=dict)


@dataclass
class RecordNeeds:
    """What of a record of the sprite table has to be read to find its sprite."""

    number: int
    accesses: list[int]
    left: int

    @property
    def known(self) -> bool:
        """Whether every one of them has been made."""
        return not self.left


@dataclass
class SpriteNeeds:
    """What a sprite fetches once it is found: the rest of its record, then the row of each tile of its pattern."""

    number: int
    record: list[int]
    tiles: list[TileNeeds]
    complete: bool = False

    @property
    def bytes(self) -> bytes:
        """The row's own bytes, tile after tile."""
        return bytes(tile.data[address] for tile in self.tiles for address in tile.own)


class SpritesAsk:
    """The sprites of one line: the scan of the table, then each sprite's own accesses, in blanking or on the whole line."""

    def __init__(
        self, table: ClientTime, layers: Layers, memory: bytearray, scan: list[RecordNeeds], needs: list[SpriteNeeds]
    ) -> None:
        self.table, self.layers, self.scan = table, layers, scan
        self.at_first = bytes(memory)
        self.wanted: deque[tuple[int, RecordNeeds | SpriteNeeds, TileNeeds | None]] = deque(
            (at, record, None) for record in scan for at in record.accesses
        )
        self.left: dict[int, int] = {}
        for sprite in needs:
            before = len(self.wanted)
            self.wanted += [(address, sprite, None) for address in sprite.record]
            self.wanted += [(address, sprite, tile) for tile in sprite.tiles for address in tile.accesses]
            self.left[sprite.number] = len(self.wanted) - before
        self.since = 0 if self.wanted else NEVER

    def asks(self, slot: int, *, blank: bool) -> bool:
        """Whether an access is left for ``slot``."""
        return bool(self.wanted) and (blank or self.table.when == "line before") and fits(self.table, slot)

    def unread(self) -> int:
        """The accesses of the scan that are still to be made."""
        return sum(record.left for record in self.scan)

    def serve(self, slot: int, memory: bytearray) -> Access:
        """The next access: of records as they stood at slot 0, of a tile's row as it stands when its first access is made."""
        address, needs, tile = self.wanted.popleft()
        self.since = 0 if self.wanted else NEVER
        if isinstance(needs, RecordNeeds):
            needs.left -= 1
        else:
            self.left[needs.number] -= 1
            needs.complete = not self.left[needs.number]
        if tile is not None:
            tile.data = tile.data or self.layers.brought(memory, tile.accesses)
            return Access("sprites.pattern", address, number_in(self.layers, tile.data, address))
        record = {address + step: self.at_first[address + step] for step in range(self.layers.width)}
        return Access("sprites.table", address, number_in(self.layers, record, address))


@dataclass
class Moving:
    """A transfer that has not ended: ``start`` in dots from the beginning of the present line's slots."""

    number: int
    start: int
    address: int
    data: bytes
    step: int
    done: int
    first: tuple[int, int] = (-1, -1)
    last: tuple[int, int] = (-1, -1)
    landed: int = 0
    waited: int = 0
    at_hand: deque[Fraction] = field(default_factory=deque)

    @property
    def ended(self) -> bool:
        """Whether every byte has landed."""
        return self.done == len(self.data)


class CpuAsks:
    """The CPU's transfers, the first that was begun before the others; and the queue, of which each byte takes a place.

    ``places`` are those that are free, each with the moment at which it came free: the CPU takes the one that was free first.
    """

    def __init__(self, state: State, clock: Clock) -> None:
        self.chip, self.clock = state.chip, clock
        self.moving = [Moving(*_parts(waiting)) for waiting in state.waiting]
        self.told = list(self.moving)
        self.begun = state.transfers
        self.line = state.line
        self.since = 0
        self.landed_here = False
        cpu = self.chip.cpu
        self.pace = Fraction(cpu.cycles_per_byte * self.chip.frame.dot_clock, cpu.clock) if cpu else None
        self.places: deque[Fraction | None] = deque()
        self.handed: Fraction | None = None
        if cpu:
            for moving, waiting in zip(self.moving, state.waiting, strict=True):
                moving.at_hand.extend(waiting.at_hand)
                self.handed = waiting.at_hand[-1] if waiting.at_hand else self.handed
            self.places.extend([None] * (cpu.queue - sum(len(moving.at_hand) for moving in self.moving)))

    def begin(self, write: Transfer) -> None:
        """A transfer begins on the present line, or in the blanking after it."""
        made = Moving(self.begun, self.clock.before + write.dot, write.address, write.data, write.step, 0)
        self.begun += 1
        self.moving.append(made)
        self.told.append(made)

    def hand_over(self) -> None:
        """The CPU goes on with its bytes as far as there are places in the queue, be it ahead of the present slot."""
        for moving in self.moving:
            while self.places and moving.done + len(moving.at_hand) < len(moving.data):
                self.handed = self._moment(moving, self.places.popleft())
                moving.at_hand.append(self.handed)
            if not self.places:
                break

    def _moment(self, moving: Moving, freed: Fraction | None) -> Fraction:
        """When the CPU has the next byte of ``moving`` at hand, for a place that came free at ``freed``."""
        assert self.pace is not None
        before = [moment for moment in (freed, self.handed) if moment is not None]
        if moving.done + len(moving.at_hand) == 0 or not before:
            return max([Fraction(moving.start), *before])
        return max(before) + self.pace

    def asks(self, slot: int, *, blank: bool) -> bool:
        """Whether ``slot`` is one of the CPU's and the first transfer has its next byte at hand."""
        assert self.chip.time is not None
        table = self.chip.time.cpu
        if not self.moving:
            return False
        if not (
            table.blanking if blank else table.active == "free" or (table.active == "reserved" and fits(table, slot))
        ):
            return False
        first = self.moving[0]
        if self.pace is None:
            return slot >= self.clock.first(first.start)
        self.hand_over()
        return slot / self.clock.rate >= first.at_hand[0]

    def serve(self, slot: int, memory: bytearray) -> Access:
        """The next byte lands."""
        moving = self.moving[0]
        if self.pace is not None:
            moving.at_hand.popleft()
            self.places.append(slot / self.clock.rate)
        address = (moving.address + moving.done * moving.step) % len(memory)
        value = moving.data[moving.done]
        memory[address] = value
        moving.done += 1
        moving.landed += 1
        moving.last = (self.line, slot)
        if moving.first == (-1, -1):
            moving.first = moving.last
        moving.waited -= 1  # this slot brought a byte
        self.landed_here = True
        return Access("cpu", address, value)

    def wait(self, slot: int) -> None:
        """Count ``slot`` for every transfer that is under way."""
        for moving in self.moving:
            if slot >= self.clock.first(moving.start):
                moving.waited += 1

    def drop_ended(self) -> None:
        """A transfer whose last byte has landed makes room for the next."""
        if self.moving and self.moving[0].ended:
            self.moving.pop(0)

    def end_line(self) -> None:
        """The present line's slots are over."""
        self.hand_over()
        dots = self.clock.dots
        for moving in self.moving:
            moving.start -= dots
            moving.at_hand = deque(moment - dots for moment in moving.at_hand)
        self.places = deque(None if moment is None else moment - dots for moment in self.places)
        self.handed = None if self.handed is None else self.handed - dots

    def waiting(self) -> tuple[Waiting, ...]:
        """What has not ended, as a state holds it: what is past is past, however long ago."""
        return tuple(
            Waiting(
                moving.number,
                max(moving.start, 0),
                moving.address,
                moving.data,
                moving.step,
                moving.done,
                tuple(max(moment, Fraction(0)) for moment in moving.at_hand),
            )
            for moving in self.moving
        )

    def records(self) -> list[tuple[int, int, int, int, int, int, int, bool]]:
        """What the log tells of every transfer that waited or began."""
        return [(m.number, *m.first, *m.last, m.landed, m.waited, m.ended) for m in self.told]


def _parts(waiting: Waiting) -> tuple[int, int, int, bytes, int, int]:
    return waiting.number, waiting.start, waiting.address, waiting.data, waiting.step, waiting.done


class Slots:
    """The slots of one line after the other."""

    def __init__(self, state: State, memory: bytearray) -> None:
        self.chip, self.memory = state.chip, memory
        self.picture = picture_of(state)
        self.clock = Clock(state.chip, self.picture.width)
        self.cpu = CpuAsks(state, self.clock)

    def run(self, line: int, askers: list[Asker]) -> Iterator[tuple[int, Access]]:
        """Serve ``askers``, in their order, on ``line``: each slot that is used, and what for."""
        assert self.chip.time is not None
        table, cpu = self.chip.time.cpu, self.cpu
        everybody, alone = [RefreshAsks(self.chip), *askers, cpu], [cpu]
        reserves, blank_until = table.active == "reserved", self.clock.blank
        if line >= self.picture.height:
            blank_until = self.clock.slots
        cpu.line = line
        for slot in range(self.clock.slots):
            blank = slot < blank_until
            if cpu.moving:
                cpu.wait(slot)
            for asker in alone if reserves and not blank and fits(table, slot) else everybody:
                if slot >= asker.since and asker.asks(slot, blank=blank):
                    yield slot, asker.serve(slot, self.memory)
                    break
            cpu.drop_ended()
        for asker in askers:
            if isinstance(asker, LayerAsks):
                asker.give_up(self.clock.slots)
        self.cpu.end_line()

    def run_empty(self, askers: list[Asker]) -> None:
        """Serve ``askers``, in their order, on an empty line below the picture, of which no log tells."""
        refresh = RefreshAsks(self.chip)
        for slot in range(self.clock.slots):
            for asker in (refresh, *askers):
                if slot >= asker.since and asker.asks(slot, blank=True):
                    asker.serve(slot, self.memory)
                    break
        for asker in askers:
            if isinstance(asker, LayerAsks):
                asker.give_up(self.clock.slots)
