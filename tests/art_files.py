"""Pictures, colour profiles and fonts written byte by byte, and what of installed packages stands in for a person's own files."""

from __future__ import annotations

import io
import os
import struct
import zlib
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageCms

PNG = b"\x89PNG\r\n\x1a\n"

# Two glyphs in a box of 5 x 8 dots, the second one smaller than it and hanging down to the left of its origin; a blank third.
BDF = """STARTFONT 2.1
COMMENT of the project's own drawing
FONT -own-reed-medium-r-normal--8-80-75-75-c-50-iso8859-15
SIZE 8 75 75
FONTBOUNDINGBOX 5 8 0 -1
STARTPROPERTIES 4
FONT_ASCENT 7
FONT_DESCENT 1
CHARSET_REGISTRY "ISO8859"
CHARSET_ENCODING "15"
ENDPROPERTIES
CHARS 3
STARTCHAR A
ENCODING 65
SWIDTH 500 0
DWIDTH 5 0
BBX 5 7 0 0
BITMAP
20
50
88
88
F8
88
88
ENDCHAR
STARTCHAR Euro
ENCODING 164
SWIDTH 500 0
DWIDTH 5 0
BBX 3 3 1 -1
BITMAP
60
C0
60
ENDCHAR
STARTCHAR space
ENCODING 32
SWIDTH 500 0
DWIDTH 5 0
BBX 0 0 0 0
BITMAP
ENDCHAR
ENDFONT
"""

DRAWN = {
    0x41: "..#.. .#.#. #...# #...# ##### #...# #...# .....",
    0x20AC: "..... ..... ..... ..... ..... ..##. .##.. ..##.",  # ISO 8859-15 has the euro sign at 164
    0x20: "..... ..... ..... ..... ..... ..... ..... .....",
}
"""The glyphs of BDF by character, row by row."""


def rows(glyph: Iterable[Iterable[Any]]) -> str:
    """A glyph as ink (#) and paper (.), row by row."""
    return " ".join("".join("#" if dot else "." for dot in row) for row in glyph)


def chunk(kind: bytes, data: bytes) -> bytes:
    """A PNG chunk."""
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(
    size: tuple[int, int],
    depth: int,
    kind: int,
    lines: Iterable[bytes],
    *,
    before: bytes = b"",
    after: bytes = b"",
) -> bytes:
    """A PNG of these packed ``lines``, with the chunks ``before`` and ``after`` the dots."""
    header = chunk(b"IHDR", struct.pack(">IIBBBBB", *size, depth, kind, 0, 0, 0))
    dots = chunk(b"IDAT", zlib.compress(b"".join(b"\0" + line for line in lines)))
    return PNG + header + before + dots + after + chunk(b"IEND", b"")


def saved(image: Image.Image, kind: str, **options: Any) -> bytes:
    """``image`` as a file of ``kind``."""
    file = io.BytesIO()
    image.save(file, kind, **options)
    return file.getvalue()


def srgb_profile() -> bytes:
    """The colour profile of sRGB."""
    return bytes(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())


def swapped_profile() -> bytes:
    """A colour profile in which red and blue have changed places: sRGB's, with the names of their primaries exchanged."""
    data = srgb_profile()
    return data.replace(b"rXYZ", b"-XYZ", 1).replace(b"bXYZ", b"rXYZ", 1).replace(b"-XYZ", b"bXYZ", 1)


def linear_grey_profile() -> bytes:
    """A colour profile (ICC.1:2001-04, section 6) for grey whose numbers are light itself."""
    white = b"XYZ \0\0\0\0" + struct.pack(">3i", 63190, 65536, 54061)  # D50 in parts of 65536
    curve = b"curv\0\0\0\0" + struct.pack(">I", 0)  # no entries: as it is
    tags = struct.pack(">I", 2) + struct.pack(">4sII4sII", b"wtpt", 156, 20, b"kTRC", 176, 12)
    body = tags + white + curve
    header = struct.pack(">I4sI4s4s4s", 128 + len(body), b"\0\0\0\0", 0x02400000, b"mntr", b"GRAY", b"XYZ ")
    header += struct.pack(">6H4s", 2020, 1, 1, 0, 0, 0, b"acsp").ljust(44, b"\0")
    return header.ljust(68, b"\0") + struct.pack(">3i", 63190, 65536, 54061) + bytes(48) + body


def psf1(glyphs: bytes, mode: int, height: int, table: bytes = b"") -> bytes:
    """A PSF1 font."""
    return b"\x36\x04" + bytes([mode, height]) + glyphs + table


def psf2(
    glyphs: bytes,
    size: tuple[int, int],
    *,
    count: int | None = None,
    table: bytes | None = None,
    header: int = 32,
    each: int | None = None,
    version: int = 0,
) -> bytes:
    """A PSF2 font of glyphs of ``size`` dots across and down."""
    across, down = size
    bytes_each = down * ((across + 7) // 8)
    count = len(glyphs) // bytes_each if count is None else count
    flags = table is not None
    fields = (version, header, flags, count, bytes_each if each is None else each, down, across)
    return (b"\x72\xb5\x4a\x86" + struct.pack("<7I", *fields)).ljust(header, b"\0") + glyphs + (table or b"")


def pcf(
    *,
    pad: int = 4,
    unit: int = 1,
    high_bit: bool = True,
    high_byte: bool = True,
    compressed: bool = False,
    charset: Sequence[str] | None = ("ISO8859", "15"),
    **faults: Any,
) -> bytes:
    """The font BDF as PCF: rows padded to ``pad`` bytes, in units of ``unit`` bytes, with these orders of bits and bytes.

    ``faults``: ``metrics``, ``encodings`` or ``place``, numbers that stand there instead of the true ones; ``without``: a table
    that is left out.
    """
    order = ">" if high_byte else "<"
    form = pad.bit_length() - 1 | high_byte << 2 | high_bit << 3 | (unit.bit_length() - 1) << 4
    metrics = [(0, 5, 5, 7, 0), (1, 4, 5, 2, 1), (0, 0, 5, 0, 0)]
    glyphs = [bytes.fromhex("20508888F88888"), bytes.fromhex("60C060"), b""]
    tables: dict[int, tuple[int, bytes]] = {}

    def table(kind: int, layout: int, body: bytes) -> None:
        tables[kind] = (layout, struct.pack("<I", layout) + body)

    names = {"CHARSET_REGISTRY": charset[0], "CHARSET_ENCODING": charset[1]} if charset else {}
    text, entries = b"PIXEL_SIZE\0", struct.pack(order + "IBI", 0, 0, 8)
    for name, value in names.items():
        entries += struct.pack(order + "IBI", len(text), 1, len(text) + len(name) + 1)
        text += f"{name}\0{value}\0".encode()
    count = len(names) + 1
    body = struct.pack(order + "I", count) + entries + bytes(-count % 4) + struct.pack(order + "I", len(text)) + text
    table(1, form, body)
    # what holds for all glyphs: not needed here, but other readers ask for it
    whole = struct.pack(order + "8B3i", 0, 0, 0, 1, 1, 0, 0, 0, 7, 1, 0)
    table(2, form, whole + struct.pack(order + "12h", 0, 0, 5, 0, 0, 0, 1, 5, 5, 7, 1, 0))
    if compressed:
        body = struct.pack(order + "H", 3) + b"".join(bytes(value + 128 for value in one) for one in metrics)
        table(4, form | 0x100, body)
    else:
        told = faults.get("metrics", 3)
        table(4, form, struct.pack(order + "I", told) + b"".join(struct.pack(order + "6h", *one, 0) for one in metrics))
    bits, starts = b"", []
    for glyph in glyphs:
        starts.append(len(bits))
        bits += b"".join(bytes([row]).ljust(pad, b"\0") for row in glyph)
    if not high_bit:
        bits = bytes(int(f"{byte:08b}"[::-1], 2) for byte in bits)
    if high_bit != high_byte:
        bits = b"".join(bits[at : at + unit][::-1] for at in range(0, len(bits), unit))
    lengths = [len(bits) if size == pad else 0 for size in (1, 2, 4, 8)]
    starts[0] += faults.get("start", 0)
    table(8, form, struct.pack(order + "I3I4I", 3, *starts, *lengths) + bits)
    places = [0xFFFF] * 133
    places[0], places[33], places[132] = 2, faults.get("place", 0), 1
    table(32, form, struct.pack(order + "5h133H", *faults.get("encodings", (32, 164, 0, 0, 32)), *places))
    tables.pop(faults.get("without", 0), None)
    start = 8 + 16 * len(tables)
    head, data = b"\x01fcp" + struct.pack("<I", len(tables)), b""
    for kind, (layout, body) in tables.items():
        head += struct.pack("<4I", kind, layout, len(body), start + len(data))
        data += body.ljust((len(body) + 3) // 4 * 4, b"\0")
    return head + data


def noise(*shape: int, seed: int = 0) -> np.ndarray:
    """Numbers 0 to 255 by chance, always the same."""
    return np.random.default_rng(seed).integers(0, 256, shape, np.uint8)


def installed(path: str, package: str) -> Path:
    """The file or folder of a Debian ``package``; without it the test is left out, or fails where CI is set."""
    if not Path(path).exists():
        assert "CI" not in os.environ, f"{path} is missing: apt-get install {package}"
        pytest.skip(f"the package {package} is not installed")
    return Path(path)
