"""Makes the corpus's small pictures and raw files: run it again after a change here, and commit what it writes.

Each file is of the kind that its name says; the damaged ones are damaged here, byte by byte.
"""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path

import numpy as np
from PIL import Image

ART = Path(__file__).parent / "corpus" / "art"
COLOURS = [0x00, 0x00, 0x00, 0x22, 0x44, 0x66, 0x88, 0xAA, 0xCC, 0xFF, 0xFF, 0xFF]


def paletted(indices: list[list[int]] | np.ndarray, colours: list[int] = COLOURS) -> bytes:
    """A PNG of ``indices``."""
    dots = np.asarray(indices, np.uint8)
    image = Image.frombytes("P", (dots.shape[1], dots.shape[0]), dots.tobytes())
    image.putpalette(colours)
    return saved(image)


def saved(image: Image.Image) -> bytes:
    """The PNG file of an image."""
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def header(width: int, height: int) -> bytes:
    """A PNG file that says it is so large, and holds next to nothing."""
    body = struct.pack(">IIBBBBB", width, height, 8, 3, 0, 0, 0)
    chunks = [(b"IHDR", body), (b"PLTE", bytes(3)), (b"IDAT", zlib.compress(bytes(64))), (b"IEND", b"")]
    parts = [
        struct.pack(">I4s", len(data), kind) + data + struct.pack(">I", zlib.crc32(kind + data))
        for kind, data in chunks
    ]
    return b"\x89PNG\r\n\x1a\n" + b"".join(parts)


def files() -> dict[str, bytes]:
    """Every file, by name."""
    steps = np.arange(16 * 8).reshape(8, 16)
    two = paletted(steps % 4)
    broken = bytearray(two)
    broken[two.index(b"IDAT") + 6] ^= 0xFF
    return {
        "two.png": two,
        "two_banks.png": paletted(np.where(steps % 16 < 8, 1, steps % 8), COLOURS * 4),
        "sixteen_colours.png": paletted(steps % 16, COLOURS * 4),
        "odd.png": paletted(np.zeros((8, 12))),
        "wide.png": paletted(np.zeros((8, 72))),
        "grey.png": saved(Image.fromarray((steps % 4).astype(np.uint8))),
        "rgb.png": saved(Image.new("RGB", (8, 8))),
        "alpha.png": saved(Image.new("RGBA", (8, 8))),
        "deep.png": saved(Image.fromarray(np.zeros((8, 8), np.uint16))),
        "cut_off.png": two[:-20],
        "cut_in_header.png": two[:20],
        "check_sum.png": bytes(broken),
        "short_data.png": header(8, 32),
        "no_picture.png": b"GIF89a" + bytes(40),
        "empty.png": b"",
        "huge.png": header(40_000, 40_000),
        "no_size.png": header(0, 8),
        "sixteen.bin": bytes(range(16)),
        "ten.bin": bytes(10),
        "empty.bin": b"",
    }


if __name__ == "__main__":
    for name, data in files().items():
        (ART / name).write_bytes(data)
