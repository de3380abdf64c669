"""Where in video memory each part of a scene lies.

Law: an address that the scene or the chip fixes is used as it is; the others are chosen in the order given, each the
lowest that its register can hold and where nothing lies yet. Two parts never share a byte; nothing lies beyond memory.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from ..chip.registers import RegisterField, field_names, rest_values
from ..files.problems import hexadecimal
from .findings import Findings


@dataclass(frozen=True)
class MapRow:
    """Bytes ``start`` to ``end`` - 1 of video memory belong to ``owner``, the control that holds their address."""

    start: int
    end: int
    owner: str

    @property
    def last(self) -> int:
        """Address of the last byte."""
        return self.end - 1


@dataclass(frozen=True, eq=False, repr=False)
class Need:
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
    size, held, rest = findings.chip.memory.size, field_names(findings.chip), rest_values(findings.chip)
    bases: dict[str, int] = {}
    rows: list[MapRow] = []
    fixed = [need for need in needs if need.owner in given or need.owner not in held]
    for need in fixed:
        base = given.get(need.owner, rest[need.owner])
        place = ("registers", need.owner) if need.owner in given else need.place
        row = MapRow(base + need.low, base + need.high, need.owner)
        for message in _clashes(row, rows, size):
            findings.tell(place, message)
        if row.end <= size:
            bases[need.owner] = base
            rows.append(row)
    free = [need for need in needs if need not in fixed]
    for field in dict.fromkeys(held[need.owner] for need in free):
        together = [need for need in free if need.owner in field.controls]
        found = _first_fit(together, rows, size, field.step, field.top)
        if found is None:
            findings.tell(together[0].place, _no_room(together, rows, size, field))
            continue
        bases |= {need.owner: found for need in together}
        rows += [MapRow(found + need.low, found + need.high, need.owner) for need in together]
    return bases, tuple(sorted(rows, key=lambda row: row.start))


def _clashes(row: MapRow, others: Sequence[MapRow], size: int) -> Iterator[str]:
    """Why a part cannot lie where its address puts it: beyond memory, or over others."""
    if row.end > size:
        yield f"{_shown(row, size)} lies beyond memory, which ends at {hexadecimal(size - 1, size)}"
        return
    for other in others:
        if row.start < other.end and other.start < row.end:
            shared = MapRow(max(row.start, other.start), min(row.end, other.end), "")
            yield f"{_shown(row, size)} overlaps {_shown(other, size)}: they share{_shown(shared, size)}"


def gaps(rows: Sequence[MapRow], size: int) -> list[tuple[int, int]]:
    """The free stretches of memory between ``rows``: first byte and the byte after the last one."""
    found, free = [], 0
    for row in sorted(rows, key=lambda row: row.start):
        if row.start > free:
            found.append((free, row.start))
        free = max(free, row.end)
    if free < size:
        found.append((free, size))
    return found


def printed(rows: Sequence[MapRow], size: int) -> str:
    """The memory map as a table: first and last address in hex, bytes, owner; free stretches are shown as such."""
    parts = [*rows, *(MapRow(start, end, "(free)") for start, end in gaps(rows, size))]
    lines = [f"{'first':>8}  {'last':>8}  {'bytes':>8}  owner"]
    for row in sorted(parts, key=lambda row: row.start):
        first, last = hexadecimal(row.start, size), hexadecimal(row.last, size)
        lines.append(f"{first:>8}  {last:>8}  {row.end - row.start:>8}  {row.owner}")
    used = sum(row.end - row.start for row in rows)
    lines.append(f"{used} of {size} bytes used, {size - used} free")
    return "\n".join(lines)


def _first_fit(needs: Sequence[Need], rows: Sequence[MapRow], size: int, step: int, top: int) -> int | None:
    """The lowest base at which all of ``needs`` lie clear of ``rows``; None where there is none. They share the base."""
    base = 0
    if any(one.low < other.high and other.low < one.high for one, other in combinations(needs, 2)):
        return None
    while base <= top and all(base + need.high <= size for need in needs):
        ends = (row.end - need.low for need in needs for row in rows if _meet(need, base, row))
        clear = max(ends, default=base)
        if clear == base:
            return base
        base = -(-clear // step) * step
    return None


def _meet(need: Need, base: int, row: MapRow) -> bool:
    return base + need.low < row.end and row.start < base + need.high


def _no_room(needs: Sequence[Need], rows: Sequence[MapRow], size: int, field: RegisterField) -> str:
    free = ", ".join(f"{hexadecimal(a, size)} to {hexadecimal(b - 1, size)}" for a, b in gaps(rows, size)) or "nothing"
    where = f"at a multiple of 0x{field.step:X} up to {hexadecimal(field.top, size)}; free: {free}"
    if len(needs) == 1:
        return f"{needs[0].owner} finds no room for {needs[0].high - needs[0].low} bytes {where}"
    told = ", ".join(f"{need.owner} {need.high - need.low} bytes from {need.low} on" for need in needs)
    return f"{field.name} is one address for all of {told}, and finds no room {where}"


def _shown(row: MapRow, size: int) -> str:
    return f"{row.owner} {hexadecimal(row.start, size)} to {hexadecimal(row.last, size)}"
