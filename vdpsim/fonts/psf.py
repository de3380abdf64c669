"""PSF fonts, version 1 and 2: the text console's bitmap fonts, with their table of characters.

Law: a function from bytes to a Font; whatever the bytes, it is a Font or an InputError. The layout is that of the header
``psf.h`` and of the document ``font-formats`` in the Linux kbd project.
"""

from __future__ import annotations

import struct

from ..door.shown import counted
from ..files.packed import wrong
from .glyphs import Font, check_size, named, row_bytes, unpack

VERSION_1 = b"\x36\x04"
VERSION_2 = b"\x72\xb5\x4a\x86"

_MODE_512, _MODE_TABLE, _MODE_SEQUENCES, _MODES = 1, 2, 4, 7
_FLAG_TABLE = 1
_END, _SEQUENCE = 0xFFFF, 0xFFFE

Characters = list[tuple[list[int], int]]
"""Of each glyph the characters that it stands for, and how many sequences of several characters."""


def parse_1(data: bytes, file: str) -> Font:
    """A font that begins with VERSION_1: 256 or 512 glyphs, 8 dots across."""
    if len(data) < 4:
        raise wrong(file, f"is cut off in its header: a PSF1 font has 4 bytes there, this has {len(data)}")
    mode, height = data[2], data[3]
    if mode > _MODES:
        raise wrong(file, f"a PSF1 font's mode must be 0 to {_MODES}, is {mode}")
    count = 512 if mode & _MODE_512 else 256
    found = _glyphs(data[4:], count, (8, height), file)
    if not mode & (_MODE_TABLE | _MODE_SEQUENCES):
        return found
    return _by_character(found, _table_1(data[4 + count * height :], count, file))


def parse_2(data: bytes, file: str) -> Font:
    """A font that begins with VERSION_2: any number of glyphs of any width."""
    if len(data) < 32:
        raise wrong(file, f"is cut off in its header: a PSF2 font has 32 bytes there, this has {len(data)}")
    version, header, flags, count, each, height, width = struct.unpack_from("<7I", data, 4)
    if version != 0:
        raise wrong(file, f"a PSF2 font's version must be 0, is {version}")
    if not 32 <= header <= len(data):
        raise wrong(file, f"a PSF2 font's header must be 32 to {len(data)} bytes long, is {header}")
    if each != height * row_bytes(width):
        told = f"glyphs of {width}x{height} dots take {height * row_bytes(width)} bytes each"
        raise wrong(file, f"{told}, the header says {each}")
    found = _glyphs(data[header:], count, (width, height), file)
    if not flags & _FLAG_TABLE:
        return found
    return _by_character(found, _table_2(data[header + count * each :], count, file))


def _glyphs(data: bytes, count: int, size: tuple[int, int], file: str) -> Font:
    """The glyphs at the beginning of ``data``, by number."""
    check_size(file, size, count)
    if not count:
        raise wrong(file, "has no glyphs")
    each = size[1] * row_bytes(size[0])
    if len(data) < count * each:
        told = f"is cut off in its glyphs: {counted(count, 'glyph')} of {each} bytes are wanted"
        raise wrong(file, f"{told}, {len(data)} bytes are there")
    glyphs = unpack(data[: count * each], count, size)
    return Font(size, dict(enumerate(glyphs)), characters=False, widths=dict.fromkeys(range(count), size[0]))


def _by_character(font: Font, table: Characters) -> Font:
    """``font`` with its glyphs under the characters that ``table`` gives them."""
    notes: list[str] = []
    places = named(((code, place) for place, (codes, _) in enumerate(table) for code in codes), notes)
    silent = sum(not codes for codes, _ in table)
    if silent:
        notes.append(f"left out: {counted(silent, 'glyph')} without a character")
    sequences = sum(count for _, count in table)
    if sequences:
        notes.append(f"left out: {counted(sequences, 'sequence')} of several characters that share a glyph")
    glyphs = {code: font.glyphs[place] for code, place in places.items()}
    widths = dict.fromkeys(glyphs, font.size[0])
    return Font(font.size, glyphs, characters=True, notes=tuple(notes), widths=widths)


def _table_1(data: bytes, count: int, file: str) -> Characters:
    """16-bit numbers, low byte first: of each glyph its characters, then sequences that begin with _SEQUENCE, then _END."""
    numbers = iter(struct.unpack(f"<{len(data) // 2}H", data[: len(data) // 2 * 2]))
    table: Characters = []
    for place in range(count):
        codes: list[int] = []
        sequences = 0
        for number in numbers:
            if number == _END:
                break
            if number == _SEQUENCE:
                sequences += 1
            elif not sequences:
                if 0xD800 <= number <= 0xDFFF:
                    raise wrong(
                        file, f"the table of characters gives glyph {place} the number {number:04X}: no character"
                    )
                codes.append(number)
        else:
            raise wrong(file, f"is cut off in its table of characters, at glyph {place} of {count}")
        table.append((codes, sequences))
    return table


def _table_2(data: bytes, count: int, file: str) -> Characters:
    """The same in UTF-8, with the bytes FF and FE, which UTF-8 never has, for _END and _SEQUENCE."""
    parts = data.split(b"\xff", count)
    if len(parts) <= count:
        raise wrong(file, f"is cut off in its table of characters, at glyph {len(parts) - 1} of {count}")
    table: Characters = []
    for place, part in enumerate(parts[:count]):
        single, *sequences = part.split(b"\xfe")
        try:
            table.append(([ord(one) for one in single.decode("utf-8")], len(sequences)))
        except UnicodeDecodeError:
            raise wrong(file, f"the table of characters is no UTF-8 at glyph {place}: {single[:8].hex(' ')}") from None
    return table
