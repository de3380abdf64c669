"""Where in video memory each part of a scene lies.

Law: an address that the scene or the chip fixes is used as it is; the others are chosen: in the order given, each the
lowest that its register can hold and where nothing lies yet; where that leaves one without room, as ``placing/`` finds it.
Needs whose controls one register sets are one part, whose bytes are all of theirs. Two parts never share a byte; nothing
lies beyond memory.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain
from typing import NamedTuple

from ...chip.registers import field_names, rest_values
from ...files.problems import hexadecimal
from ..findings import Findings
from .arrange import Arranged, arrange
from .parts import Part, Stretch, gaps, union, without


class MapRow(NamedTuple):
    """Bytes ``start`` to ``end`` - 1 of video memory belong to ``owner``, the control that holds their address."""

    start: int
    end: int
    owner: str

    @property
    def last(self) -> int:
        """Address of the last byte."""
        return self.end - 1


class Need(NamedTuple):
    """``owner`` needs its bytes ``low`` to ``high`` - 1, counted from its address; ``place`` is where the file says so."""

    owner: str
    low: int
    high: int
    place: tuple[str | int, ...]


def lay_out(
    findings: Findings, needs: Sequence[Need], given: Mapping[str, int]
) -> tuple[dict[str, int], tuple[MapRow, ...]]:
    """Addresses by control, and the rows of the memory map in the order of addresses.

    ``given`` holds the registers that the scene sets. A part that finds no room is a problem and is left out.
    """
    work = _LayOut(findings, given)
    work.fix([need for need in needs if need.owner in given or need.owner not in work.held])
    work.choose([need for need in needs if need.owner not in given and need.owner in work.held])
    return work.bases, tuple(sorted(work.rows, key=lambda row: row.start))


class _LayOut:
    """The laying out of one scene's memory."""

    def __init__(self, findings: Findings, given: Mapping[str, int]) -> None:
        self.findings, self.given = findings, given
        self.size, self.held = findings.chip.memory.size, field_names(findings.chip)
        self.bases: dict[str, int] = {}
        self.rows: list[MapRow] = []
        self.fixed: list[Need] = []

    def _put(self, need: Need, base: int) -> None:
        self.bases[need.owner] = base
        self.rows.append(MapRow(base + need.low, base + need.high, need.owner))

    def fix(self, needs: Sequence[Need]) -> None:
        """Lay ``needs``, whose addresses the scene gives or the chip wires, where they are to be."""
        rest = rest_values(self.findings.chip)
        for need in needs:
            base = self.given.get(need.owner, rest[need.owner])
            row = MapRow(base + need.low, base + need.high, need.owner)
            place = ("registers", need.owner) if need.owner in self.given else need.place
            for message in _clashes(row, self.rows, self.size):
                self.findings.tell(place, message)
            if row.end <= self.size:
                self._put(need, base)
                self.fixed.append(need)

    def choose(self, needs: Sequence[Need]) -> None:
        """Choose addresses for ``needs`` in what is left; tell of each part that finds no room."""
        together = self._together(self._apart(needs))
        parts, free = list(together), _free(self.rows, self.size)
        arranged = arrange(parts, free)
        if arranged.why != "placed":
            self._tell(together, arranged, free)
        for part, base in zip(parts, arranged.bases, strict=True):
            if base is not None:
                for need in together[part]:
                    self._put(need, base)

    def _apart(self, needs: Sequence[Need]) -> list[Need]:
        """Those of ``needs`` that share no byte with one before them at the one address that a field gives to both."""
        found: list[Need] = []
        for need in needs:
            tied = [one for one in found if self.held[one.owner].name == self.held[need.owner].name]
            other = next((one for one in tied if one.low < need.high and need.low < one.high), None)
            if other is None:
                found.append(need)
                continue
            shared = min(need.high, other.high) - max(need.low, other.low)
            given = f"{self.held[need.owner].name} gives it the address of {other.owner}"
            told = f"{need.owner} finds no room: {given}, with which it would share {shared} bytes"
            self.findings.tell(need.place, told)
        return found

    def _together(self, needs: Iterable[Need]) -> dict[Part, list[Need]]:
        """One part for each register, with the needs of the controls that it sets."""
        by_register: dict[str, list[Need]] = {}
        for need in needs:
            by_register.setdefault(self.held[need.owner].name, []).append(need)
        found = {}
        for name, of in by_register.items():
            register = self.held[of[0].owner]
            spans = union((need.low, need.high) for need in of)
            found[Part(name, spans, register.step, register.top)] = of
        return found

    def _tell(self, together: Mapping[Part, Sequence[Need]], arranged: Arranged, free: Sequence[Stretch]) -> None:
        """Tell of the parts without room, in the order given; of the first one also what was tried, and what would help."""
        from . import told  # noqa: PLC0415 - words for those scenes alone that have no room

        parts, left = list(together), free
        placed = {part: part.at(base) for part, base in zip(parts, arranged.bases, strict=True) if base is not None}
        homeless = [part for part in parts if part not in placed]
        for part in parts:
            if part in placed:
                left = without(left, part, placed[part][0][0] - part.low)
                continue
            place = together[part][0].place
            self.findings.tell(place, told.no_room(part, left, self.size))
            if part is homeless[0]:
                words = [told.tried(arranged, parts, free)]
                if arranged.why == "not found":
                    others = {other.name: spans for other, spans in placed.items()}
                    words.append(told.by_hand(part, free, others, self.size))
                words.append(self._without_given(together))
                # a second problem, since a message is cut where it gets long
                self.findings.tell(place, f"{part.name} finds no room: {'; '.join(filter(None, words))}")

    def _without_given(self, together: Mapping[Part, Sequence[Need]]) -> str:
        """What would be if the scene gave no address: where all would lie, in words; nothing where that does not help."""
        from . import told  # noqa: PLC0415

        freed = [need for need in self.fixed if need.owner in self.held]
        wired = [row for row in self.rows if row.owner not in self.held]
        parts = list(self._together([*freed, *chain.from_iterable(together.values())]))
        arranged = arrange(parts, _free(wired, self.size))
        if not freed or arranged.why != "placed":
            return ""
        places = {part.name: base for part, base in zip(parts, arranged.bases, strict=True) if base is not None}
        return told.freed(places, [need.owner for need in freed], self.size)


def _free(rows: Iterable[MapRow], size: int) -> list[Stretch]:
    """The free stretches of memory between ``rows``: first byte and the byte after the last one."""
    return gaps([(row.start, row.end) for row in rows], size)


def _clashes(row: MapRow, others: Sequence[MapRow], size: int) -> Iterator[str]:
    """Why a part cannot lie where its address puts it: beyond memory, or over others."""
    if row.end > size:
        yield f"{_shown(row, size)} lies beyond memory, which ends at {hexadecimal(size - 1, size)}"
        return
    for other in others:
        if row.start < other.end and other.start < row.end:
            shared = MapRow(max(row.start, other.start), min(row.end, other.end), "")
            yield f"{_shown(row, size)} overlaps {_shown(other, size)}: they share{_shown(shared, size)}"


def printed(rows: Sequence[MapRow], size: int, width: int) -> str:
    """The memory map as a table of ``width`` columns: first and last address in hex, bytes, owner, or that it is free."""
    from ...door.columns import lines  # noqa: PLC0415 - for those alone who want to read it

    parts = [*rows, *(MapRow(start, end, "(free)") for start, end in _free(rows, size))]
    table = [("first".rjust(8), "last".rjust(8), "bytes".rjust(8), "owner")]
    for row in sorted(parts, key=lambda row: row.start):
        first, last = hexadecimal(row.start, size), hexadecimal(row.last, size)
        table.append((f"{first:>8}", f"{last:>8}", f"{row.end - row.start:>8}", row.owner))
    used = sum(row.end - row.start for row in rows)
    return "\n".join([*lines(table, width), f"{used} of {size} bytes used, {size - used} free"])


def _shown(row: MapRow, size: int) -> str:
    return f"{row.owner} {hexadecimal(row.start, size)} to {hexadecimal(row.last, size)}"
