"""Where in video memory each part of a scene lies.

Law: an address that the scene or the chip fixes is used as it is; the others are chosen in the order given, each the
lowest that its register can hold and where nothing lies yet. Two parts never share a byte; nothing lies beyond memory.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ..chip.controls import registers, rest_values
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
    size, held, rest = findings.chip.memory.size, registers(findings.chip), rest_values(findings.chip)
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
    for need in needs:
        if need in fixed:
            continue
        register = held[need.owner]
        found = _first_fit(need, rows, size, register.step, register.top)
        if found is None:
            findings.tell(need.place, _no_room(need, rows, size, register.step, register.top))
            continue
        bases[need.owner] = found
        rows.append(MapRow(found + need.low, found + need.high, need.owner))
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


def _first_fit(need: Need, rows: Sequence[MapRow], size: int, step: int, top: int) -> int | None:
    for start, end in gaps(rows, size):
        base = max(0, -(-(start - need.low) // step) * step)
        if base <= top and base + need.high <= end:
            return base
    return None


def _no_room(need: Need, rows: Sequence[MapRow], size: int, step: int, top: int) -> str:
    free = ", ".join(f"{hexadecimal(a, size)} to {hexadecimal(b - 1, size)}" for a, b in gaps(rows, size)) or "nothing"
    return (
        f"{need.owner} finds no room for {need.high - need.low} bytes at a multiple of 0x{step:X} "
        f"up to {hexadecimal(top, size)}; free: {free}"
    )


def _shown(row: MapRow, size: int) -> str:
    return f"{row.owner} {hexadecimal(row.start, size)} to {hexadecimal(row.last, size)}"
