"""Timed writes: a register becomes an array over rows, and memory becomes versions over lines.

Law: a *row* is a stretch of one line in which no register and no colour changes; most frames have one row a line. What was
written is resolved here, once, for all the lines to be drawn, so that nothing after this module asks when something was
written. Of two writes that count from the same instant the later one in the order of time and writing wins.
Changed memory does not cut the frame: each 256-byte unit that a write touches gets a further version behind the memory, and
an address is translated for the line that asks. Knows State, draws nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, get_args

import numpy as np
import numpy.typing as npt

from ..state.state import State
from ..state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, SpriteWrite, Transfer, Write
from .plan import Plan

Ints = npt.NDArray[np.int64]

LINE = 1 << 14
"""A time within a frame is line x LINE + dot; a line has fewer dots than this."""

SPAN = 1 << 40
"""More instants than a frame has: a version's key is unit x SPAN + the instant from which it counts."""

UNIT = 256
"""Bytes that share a version: no cell, pattern or row of dots lies in two units."""


class Program:
    """Timed writes sorted by time and set out in columns; made once, used for every frame that has the same writes."""

    def __init__(self, plan: Plan, writes: Iterable[Write]) -> None:
        self.writes: tuple[Write, ...] = tuple(sorted(writes, key=lambda write: (write.line, write.dot)))
        kinds: dict[type, list[Any]] = {kind: [] for kind in get_args(Write)}
        for write in self.writes:
            kinds[type(write)].append(write)
        self.memory: list[MemoryWrite] = kinds[MemoryWrite]
        self.transfers: list[Transfer] = kinds[Transfer]
        by_field = [write for write in kinds[RegisterWrite] if write.name in plan.sets]
        self.by_field: bool = bool(by_field)
        self.by_byte: bool = bool(kinds[PortWrite]) or len(by_field) < len(kinds[RegisterWrite])
        self._registers(plan, by_field)
        words = [(w.line, w.dot, w.entry + n, word) for w in kinds[PaletteWrite] for n, word in enumerate(w.words)]
        self.palette: Ints = _columns(words)
        data = [(w.line, 0, w.offset + n, byte) for w in kinds[SpriteWrite] for n, byte in enumerate(w.data)]
        self.sprites: Ints = _columns(data)

    def _registers(self, plan: Plan, writes: list[RegisterWrite]) -> None:
        """What of ``writes`` comes into force within the frame, from where it does; the others are ``waiting``."""
        timed: list[tuple[int, int, int, int]] = []
        self.waiting: list[RegisterWrite] = []
        for write in writes:
            effect, numbers = plan.sets[write.name]
            if effect == "next frame":
                self.waiting.append(write)
            else:
                line, dot = (write.line + 1, 0) if effect == "next line" else (write.line, write.dot)
                # Those of one control stay in order of time: one field sets it, which has one effect.
                timed += [(line, dot, number, write.value) for number in numbers]
        self.registers: Ints = _columns(timed)

    def changes(self, per_line: int, last: int) -> list[Change]:
        """What the memory writes of lines below ``last`` do to memory; a line has ``per_line`` instants."""
        return [(write.line * per_line, write.address, write.data) for write in self.memory if write.line < last]

    def between(self, plan: Plan, first: int, last: int) -> Program:
        """The part of the program that is written on the lines from ``first`` up to but not including ``last``."""
        if not self.writes or (first <= self.writes[0].line and self.writes[-1].line < last):
            return self
        return Program(plan, [write for write in self.writes if first <= write.line < last])


def _columns(rows: Sequence[tuple[int, int, int, int]]) -> Ints:
    """int64 (4, writes): line and dot from which the write counts, what it writes to, the value."""
    return np.array(rows, np.int64).reshape(-1, 4).T


@dataclass(eq=False, repr=False)
class Memory:
    """Video memory with its versions: ``bytes`` is the memory at the first line followed by the further units."""

    bytes: npt.NDArray[np.uint8]
    size: int
    hot: npt.NDArray[np.bool_] | None
    keys: Ints
    places: Ints

    def translate(self, instants: Any, addresses: Ints) -> Ints:
        """Where in ``bytes`` stands what is found at ``instants`` at ``addresses`` (any integers, taken modulo the size).

        ``instants`` broadcasts against ``addresses``: lines, or in a chip with slots line x slots a line + slot.
        """
        if addresses.size and int(addresses.max()) >= self.size:  # a look takes an eighth of the time of ``%``
            addresses = addresses % self.size
        if self.hot is None:
            return addresses
        units = addresses >> 8
        asked = self.hot[units]
        if not asked.any():
            return addresses
        out = addresses.copy()
        instants = np.broadcast_to(instants, addresses.shape)[asked]
        found = np.searchsorted(self.keys, units[asked] * SPAN + instants, side="right") - 1
        place = self.places[np.maximum(found, 0)]
        known = (found >= 0) & (self.keys[np.maximum(found, 0)] // SPAN == units[asked])  # else a lower unit's key
        out[asked] = np.where(known, place + (addresses[asked] & (UNIT - 1)), addresses[asked])
        return out


Change = tuple[int, int, bytes]
"""Memory gets other bytes: the instant from which they are there, their address, the bytes."""


def versions(base: npt.NDArray[np.uint8], changes: Sequence[Change], tail: bytes = b"") -> Memory:
    """``base`` with what ``changes``, in order of time, make of it; ``tail`` stands behind all of it, in whole units."""
    made = _Versions(base)
    for instant, address, data in changes:
        made.write(instant, address, data)
    return made.memory(tail)


class _Versions:
    """Memory while changes are written: ``base`` stays, and the ``further`` versions of its units gather behind it."""

    def __init__(self, base: npt.NDArray[np.uint8]) -> None:
        self.base, self.further = base, bytearray()
        self.latest: dict[int, tuple[int, int]] = {}
        self.keys: list[int] = []
        self.places: list[int] = []

    def write(self, instant: int, address: int, data: bytes) -> None:
        """From ``instant`` on ``data`` stands at ``address``."""
        while data:
            unit, low = divmod(address, UNIT)
            part = data[: UNIT - low]
            begin = self._begin(unit, instant) + low
            self.further[begin : begin + len(part)] = part
            address, data = address + len(part), data[len(part) :]

    def _begin(self, unit: int, instant: int) -> int:
        """Where the version of ``unit`` from ``instant`` on begins in ``further``; a new one has what was there before."""
        since, begin = self.latest.get(unit, (-1, -1))
        if since == instant:  # so that no two versions have one key
            return begin
        held, start = (self.base, unit * UNIT) if begin < 0 else (self.further, begin)
        begin = len(self.further)
        self.further += bytes(held[start : start + UNIT])
        self.latest[unit] = instant, begin
        self.keys.append(unit * SPAN + instant)
        self.places.append(len(self.base) + begin)
        return begin

    def memory(self, tail: bytes) -> Memory:
        """All of it; ``tail`` stands behind it."""
        further = np.frombuffer(bytes(self.further) + tail, np.uint8)
        both = np.concatenate([self.base, further]) if len(further) else self.base  # nobody writes into it
        keys, places = np.array(self.keys, np.int64), np.array(self.places, np.int64)
        hot = None
        if self.latest:
            hot = np.zeros(len(self.base) // UNIT, np.bool_)
            hot[list(self.latest)] = True
        order = np.argsort(keys)
        return Memory(both, len(self.base), hot, keys[order], places[order])


@lru_cache(maxsize=64)
def _constant(count: int, value: int) -> Ints:
    """int64 (count,) of one ``value``, not to be written to. Kept: a frame asks for some twenty, most of them as before."""
    out: Ints = np.full(count, value, np.int64)
    out.flags.writeable = False
    return out


def _filled(starts: Ints, columns: Ints) -> tuple[Ints, Ints]:
    """For writes of which those to one target are in order of time: which is in force at each row, by target.

    ``starts`` (rows,) are the rows' times. Gives the distinct targets and int64 (rows, targets), the
    number of the write in force there or -1.
    """
    targets, where = np.unique(columns[2], return_inverse=True)
    rows = np.searchsorted(starts, columns[0] * LINE + columns[1], side="left")
    inside = rows < len(starts)  # else below the picture or in the last line's blanking
    latest = np.full((len(starts), len(targets)), -1, np.int64)
    latest[rows[inside], where[inside]] = np.flatnonzero(inside)  # of several at one place numpy lets the last stay
    return targets, np.maximum.accumulate(latest, axis=0)  # the latest has the highest number


class Timeline:
    """The picture's lines from ``first`` up to but not including ``last``, with everything that counts on them.

    ``line``, ``left``, ``right`` int64 (rows,): a row's line and its dots, ``right`` not included; ``slot_line``: the line in
    whose slots it is fetched; ``row_of_line`` the first row of each line; ``whole`` says that each line is one row, as all are
    where the timeline is not ``cut``: what counts at a line's dot 0 then counts for all of it.
    """

    def __init__(self, plan: Plan, state: State, program: Program, first: int, last: int, *, cut: bool = True) -> None:
        self.first, self.last, self.lines = first, last, last - first
        self.per_line = plan.per_line
        self._state, self._plan = state, plan
        self._rows(program, cut=cut)
        self.slot_line = self.line
        self.starts = self.line * LINE + self.left
        self._controls: dict[int, Ints] = {}
        if program.registers.size and self.lines:
            targets, latest = _filled(self.starts, program.registers)
            values = program.registers[3]
            for column, number in enumerate(targets.tolist()):
                force = latest[:, column]
                self._controls[number] = np.where(force >= 0, values[force], state.controls[number])
        self.palettes, self.palette_of_row = self._palette(program)
        self.tables, self.table_of_line = self._sprites(program)
        self.memory = versions(state.memory, program.changes(self.per_line, last))

    def _rows(self, program: Program, *, cut: bool) -> None:
        width = self._plan.width
        written = [columns for columns in (program.registers, program.palette) if columns.size]
        cuts = [self._cuts(columns) for columns in written] if cut else []
        self.whole = not any(map(len, cuts))
        lines = np.arange(self.first, self.last, dtype=np.int64)
        if self.whole:
            self.line, self.left = lines, np.zeros(self.lines, np.int64)
            self.right = np.full(self.lines, width, np.int64)
            self.row_of_line = np.arange(self.lines, dtype=np.int64)
            return
        # Asked for the values alone, numpy 2 loads its masked arrays, which takes longer than ten frames; so the places come too.
        starts, _ = np.unique(np.concatenate([lines * LINE, *cuts]), return_index=True)
        self.line, self.left = starts // LINE, starts % LINE
        follows = np.append(self.left[1:], 0)
        self.right = np.where(follows == 0, width, follows)
        self.row_of_line = (self.left == 0).nonzero()[0]

    def _cuts(self, columns: Ints) -> Ints:
        """The times at which writes take effect within a picture's line."""
        line, dot = columns[:2]
        inside = (dot > 0) & (dot < self._plan.width) & (line < self.last)  # the blanking has no rows
        times: Ints = line[inside] * LINE + dot[inside]
        return times

    def control(self, name: str) -> Ints:
        """int64 (rows,): the control's value in force on each row."""
        number = self._plan.number[name]
        changed = self._controls.get(number)
        return _constant(len(self.line), self._state.controls[number]) if changed is None else changed

    def varies(self, name: str) -> bool:
        """Whether the control may have more than one value among the rows."""
        return self._plan.number[name] in self._controls

    def _palette(self, program: Program) -> tuple[npt.NDArray[np.uint32], Ints | None]:
        """uint32 (versions, entries) and the version of each row; None where there is just one."""
        if not program.palette.size or not self.lines:
            return self._state.palette[None], None
        targets, latest = _filled(self.starts, program.palette)
        return self._versioned(self._state.palette, targets, latest, program.palette[3])

    def _sprites(self, program: Program) -> tuple[npt.NDArray[np.uint8], Ints | None]:
        """uint8 (versions, count, record bytes) and the version of each line; None where there is just one."""
        table = self._state.sprites
        if not program.sprites.size or not self.lines:
            return table[None], None
        starts = np.arange(self.first, self.last, dtype=np.int64) * LINE
        targets, latest = _filled(starts, program.sprites)
        versions, of_line = self._versioned(table.reshape(-1), targets, latest, program.sprites[3])
        return versions.reshape(-1, *table.shape), of_line

    @staticmethod
    def _versioned(
        initial: npt.NDArray[Any], targets: Ints, latest: Ints, values: Ints
    ) -> tuple[npt.NDArray[Any], Ints]:
        changes = np.ones(len(latest), np.bool_)
        changes[1:] = (latest[1:] != latest[:-1]).any(axis=1)
        kept = latest[changes]
        versions = np.repeat(initial[None], len(kept), axis=0)
        versions[:, targets] = np.where(kept >= 0, values[kept], initial[targets]).astype(initial.dtype)
        return versions, np.cumsum(changes) - 1

    def to_lines(self, rows: npt.NDArray[Any]) -> npt.NDArray[Any]:
        """A plane of rows as a plane of lines: each row gives its own dots."""
        if self.whole:
            return rows
        out = rows[self.row_of_line]
        for row in np.flatnonzero(self.left > 0).tolist():
            left, right = int(self.left[row]), int(self.right[row])
            out[self.line[row] - self.first, left:right] = rows[row, left:right]
        return out

    def in_rows(self, place: Ints) -> Ints:
        """Places in a plane of lines (line x width + dot, from the first line on) as places in a plane of rows."""
        if self.whole:
            return place
        line, dot = place // self._plan.width, place % self._plan.width
        row = np.searchsorted(self.starts, (line + self.first) * LINE + dot, side="right") - 1
        return row * self._plan.width + dot
