"""The twin's rows of dots: which byte holds a bit of a dot, be it packed or in planes, and which accesses bring a row.

Law: bit by bit, out of what the chip's file says. ``bases`` are the addresses of the pattern or the bitmap: one, or one for each
plane where they lie apart. Addresses are not rounded and may lie beyond memory; that is for whoever asks.
"""

from __future__ import annotations

from typing import Any, NamedTuple


class DotRows(NamedTuple):
    """Rows of dots in memory: ``across`` of them in a row, ``down`` rows, ``stride`` bytes apart where they are not packed."""

    across: int
    down: int
    bits: int
    planes: str | None
    first_dot: str
    stride: int | None = None

    @property
    def in_plane(self) -> int:
        """Bytes of a row in one plane."""
        return self.across // 8

    @property
    def together(self) -> int:
        """Bytes of a row that stand side by side."""
        if self.planes is None:
            return self.across * self.bits // 8
        return self.in_plane * self.bits if self.planes == "by row" else self.in_plane

    @property
    def step(self) -> int:
        """Bytes from a row to the next one, of the same plane where planes do not stand side by side."""
        return self.together if self.stride is None else self.stride

    @property
    def whole(self) -> int:
        """Bytes from a pattern to the next."""
        return self.step * self.down * (self.bits if self.planes == "by pattern" else 1)

    def plane_at(self, bases: tuple[int, ...], plane: int, row: int) -> int:
        """Where a row of ``plane`` begins."""
        if self.planes == "by row":
            return bases[0] + row * self.step + plane * self.in_plane
        if self.planes == "by pattern":
            return bases[0] + plane * self.step * self.down + row * self.step
        return bases[plane] + row * self.step

    def runs(self, bases: tuple[int, ...], row: int) -> list[tuple[int, int]]:
        """What brings a whole row: runs of bytes, each with its address and length, in the order in which they are fetched."""
        if self.planes in (None, "by row"):
            return [(bases[0] + row * self.step, self.together)]
        return [(self.plane_at(bases, plane, row), self.in_plane) for plane in range(self.bits)]

    def bytes_of(self, bases: tuple[int, ...], row: int, dot: int) -> list[int]:
        """The addresses of the bytes that hold a bit of the dot, plane 0 first."""
        if self.planes is None:
            return [bases[0] + row * self.step + dot * self.bits // 8]
        return [self.plane_at(bases, plane, row) + dot // 8 for plane in range(self.bits)]

    def value(self, data: Any, size: int, bases: tuple[int, ...], row: int, dot: int) -> int:
        """The dot's value, out of ``data``, bytes by their address in a memory of ``size`` bytes."""
        held = [data[address % size] for address in self.bytes_of(bases, row, dot)]
        if self.planes is None:
            at = dot * self.bits % 8
            shift = at if self.first_dot == "low" else 8 - self.bits - at
            return int(held[0] >> shift & (1 << self.bits) - 1)
        shift = dot % 8 if self.first_dot == "low" else 7 - dot % 8
        return sum((byte >> shift & 1) << plane for plane, byte in enumerate(held))

    def value_in_row(self, data: bytes, dot: int) -> int:
        """The value of a dot of a row of such tiles, whose own bytes stand in ``data`` tile by tile and plane by plane."""
        tile, dot = divmod(dot, self.across)
        begin = tile * self.across * self.bits // 8
        one = self._replace(down=1, planes=self.planes and "by row", stride=None)
        return one.value(data, len(data), (begin,), 0, dot)


def without_repeats(addresses: list[int]) -> list[int]:
    """``addresses`` without those that stand in the list already."""
    return list(dict.fromkeys(addresses))
