"""PCF fonts: the X Window System's compiled bitmap fonts.

Law: a function from bytes to a Font; whatever the bytes, it is a Font or an InputError. Both orders of bytes and of bits, every
padding of rows and every scan unit are read. The layout is that of ``pcf.h`` and ``pcfread.c`` in X.Org's libXfont.
"""

from __future__ import annotations

import struct

import numpy as np
import numpy.typing as npt

from ..files.packed import wrong
from .glyphs import Charset, DrawnGlyph, Font, by_code, check_size, row_bytes

BEGINS = b"\x01fcp"

_PROPERTIES, _METRICS, _BITMAPS, _ENCODINGS = 1, 4, 8, 32
_NAMES = {_PROPERTIES: "properties", _METRICS: "metrics", _BITMAPS: "bitmaps", _ENCODINGS: "encodings"}
_COMPRESSED = 0x100
_NO_GLYPH = 0xFFFF


def parse(data: bytes, file: str) -> Font:
    """A font by characters where its character set is known, else by the numbers of its encoding.

    Every glyph stands in the smallest box that takes all of them.
    """
    tables = _tables(data, file)
    try:
        metrics = _metrics(tables[_METRICS])
        drawn = _glyphs(tables[_BITMAPS], metrics, file)
        numbered = _numbered(tables[_ENCODINGS], len(drawn))
        charset = _charset(tables.get(_PROPERTIES))
    except KeyError as error:
        raise wrong(file, f"must have a table of {_NAMES[error.args[0]]}") from None
    except _CutError as error:
        raise wrong(file, f"is damaged or cut off: {error}") from None
    return by_code(file, charset, numbered, drawn, [])


class _CutError(Exception):
    """A table says that it has more than its bytes hold."""


class _FontTable:
    """One table's bytes, read from the beginning."""

    def __init__(self, name: str, data: bytes) -> None:
        self.name, self._data, self._at = name, data, 0
        (self.format,) = struct.unpack("<I", self.bytes(4))
        self.order = ">" if self.format & 4 else "<"

    def bytes(self, count: int) -> bytes:
        """The next ``count`` bytes."""
        found = self._data[self._at : self._at + count]
        if len(found) < count:
            raise _CutError(
                f"its table of {self.name} has {len(self._data)} bytes, at least {self._at + count} are wanted"
            )
        self._at += count
        return found

    def numbers(self, kind: str, count: int) -> npt.NDArray[np.int64]:
        """The next ``count`` numbers of a numpy ``kind`` such as ``u4``."""
        size = np.dtype(kind).itemsize
        return np.frombuffer(self.bytes(count * size), self.order + kind).astype(np.int64)

    def number(self, kind: str) -> int:
        """The next number."""
        return int(self.numbers(kind, 1)[0])


def _tables(data: bytes, file: str) -> dict[int, _FontTable]:
    """The tables that are wanted, by kind; of several of a kind the first."""
    found: dict[int, _FontTable] = {}
    try:
        (count,) = struct.unpack_from("<I", data, 4)
        for place in range(count):
            kind, _, size, start = struct.unpack_from("<4I", data, 8 + 16 * place)
            if kind in _NAMES and kind not in found:
                if start + size > len(data):
                    told = f"its table of {_NAMES[kind]} ends at byte {start + size}"
                    raise wrong(file, f"is cut off: {told}, the file has {len(data)}")
                found[kind] = _FontTable(_NAMES[kind], data[start : start + size])
    except (struct.error, _CutError):
        raise wrong(file, "is cut off in its list of tables") from None
    return found


def _metrics(table: _FontTable) -> npt.NDArray[np.int64]:
    """(glyphs, 5): left and right edge from the origin, advance, rows above and below the baseline."""
    if table.format & _COMPRESSED:
        count = table.number("u2")
        return table.numbers("u1", 5 * count).reshape(count, 5) - 0x80
    count = table.number("u4")
    return table.numbers("i2", 6 * count).reshape(count, 6)[:, :5]


def _glyphs(table: _FontTable, metrics: npt.NDArray[np.int64], file: str) -> list[DrawnGlyph]:
    count = table.number("u4")
    if count != len(metrics):
        raise _CutError(f"it has bitmaps of {count} glyphs and metrics of {len(metrics)}")
    offsets = table.numbers("u4", count)
    pad = 1 << (table.format & 3)
    lengths = table.numbers("u4", 4)
    bits = _straight(table, table.bytes(int(lengths[table.format & 3])))
    drawn: list[DrawnGlyph] = []
    for offset, (left, right, advance, above, below) in zip(offsets.tolist(), metrics.tolist(), strict=True):
        across, down = right - left, above + below
        check_size(file, (across or 1, down or 1), 1)
        stride = -(-row_bytes(across) // pad) * pad
        rows = bits[offset : offset + stride * down]
        if len(rows) < stride * down:
            raise _CutError(f"glyph {len(drawn)} ends at byte {offset + stride * down} of {len(bits)} bytes of bitmaps")
        if down and stride:
            rows = np.frombuffer(rows, np.uint8).reshape(down, stride)[:, : row_bytes(across)].tobytes()
        drawn.append(DrawnGlyph((across, down), (left, -below), rows, advance))
    return drawn


def _straight(table: _FontTable, bits: bytes) -> bytes:
    """``bits`` with the leftmost dot in the first byte's highest bit, whatever orders of bits and bytes the table has."""
    high_bit_first, high_byte_first = bool(table.format & 8), bool(table.format & 4)
    unit = 1 << (table.format >> 4 & 3)
    found = np.frombuffer(bits, np.uint8)
    if not high_bit_first:
        found = np.packbits(np.unpackbits(found, bitorder="little"))
    if high_bit_first != high_byte_first and unit > 1:
        if unit == 8:
            raise _CutError(
                "its bits and bytes have different orders, which is known in units of 1, 2 or 4 bytes, not 8"
            )
        whole = len(found) // unit * unit
        found = np.concatenate([found[:whole].reshape(-1, unit)[:, ::-1].ravel(), found[whole:]])
    return found.tobytes()


def _numbered(table: _FontTable, glyphs: int) -> list[tuple[int, int]]:
    """Pairs (character's number, glyph's place)."""
    first, last, first_row, last_row, _ = table.numbers("i2", 5).tolist()
    if not (0 <= first <= last <= 255 and 0 <= first_row <= last_row <= 255):
        raise _CutError(f"its characters go from {first_row}, {first} to {last_row}, {last}; 0 to 255 is allowed")
    across = last - first + 1
    places = table.numbers("u2", across * (last_row - first_row + 1)).tolist()
    pairs = []
    for at, place in enumerate(places):
        if place != _NO_GLYPH:
            if place >= glyphs:
                raise _CutError(f"a character has glyph {place}, there are {glyphs}")
            pairs.append(((first_row + at // across) << 8 | (first + at % across), place))
    return pairs


def _charset(table: _FontTable | None) -> Charset:
    """The character set that the properties name."""
    if table is None:
        return Charset("", "")
    count = table.number("u4")
    wanted = {}
    rows = [(table.number("u4"), table.number("u1"), table.number("u4")) for _ in range(count)]
    table.bytes(-count % 4)
    text = table.bytes(table.number("u4"))
    for name, is_text, value in rows:
        if is_text:
            wanted[_text(text, name)] = value
    return Charset(
        *(_text(text, wanted[key]) if key in wanted else "" for key in ("CHARSET_REGISTRY", "CHARSET_ENCODING"))
    )


def _text(text: bytes, start: int) -> str:
    """What stands in ``text`` from ``start`` to the next zero byte."""
    return text[start : start + 256].split(b"\0")[0].decode("latin-1")
