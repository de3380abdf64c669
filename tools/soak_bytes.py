"""Ways to bend the bytes of a file, a little or a lot.

Law: as in ``soak_bend``, all chances come from the one ``Random`` that is given. Knows no file format but PNG, whose check sums
are put right so that what is behind them is reached.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable
from random import Random

from soak_bend import HUGE, NUMBERS


def bend_bytes(random: Random, data: bytes) -> bytes:
    """``data`` with one to a few changes."""
    for _ in range(random.choice((1, 1, 1, 2, 3, 8, 30))):
        data = random.choice(BYTE_WAYS)(random, data)
    return data


def _flip(random: Random, data: bytes) -> bytes:
    at = random.randrange(len(data)) if data else 0
    return data[:at] + bytes([data[at] ^ 1 << random.randrange(8)]) + data[at + 1 :] if data else data


def _put(random: Random, data: bytes) -> bytes:
    """A number that readers trip over, of one to eight bytes, rather at the beginning."""
    size = random.choice((1, 2, 4, 8))
    number = (
        random.choice((0, 1, -1, 127, 128, 255, 256, 32767, 65535, 1 << 24, (1 << 31) - 1, 1 << 31))
        & (1 << 8 * size) - 1
    )
    at = random.randrange(min(len(data), random.choice((16, 64, 1 << 30))) + 1)
    return data[:at] + number.to_bytes(size, random.choice(("big", "little"))) + data[at + size :]


def _run(random: Random, data: bytes) -> tuple[int, int]:
    start = random.randrange(len(data) + 1)
    return start, min(len(data), start + random.choice((1, 2, 4, 16, 100, 1000)))


def _cut(random: Random, data: bytes) -> bytes:
    start, end = _run(random, data)
    return data[:start] + data[end:]


def _again(random: Random, data: bytes) -> bytes:
    start, end = _run(random, data)
    return data[:end] + data[start:end] * random.choice((1, 1, 3, 50)) + data[end:]


def _noise(random: Random, data: bytes) -> bytes:
    start, end = _run(random, data)
    return data[:start] + random.randbytes(end - start if random.randrange(2) else random.randrange(20)) + data[end:]


def _short(random: Random, data: bytes) -> bytes:
    return data[: random.randrange(len(data) + 1)]


def _digits(random: Random, data: bytes) -> bytes:
    """One of the numbers that stand in a text becomes another."""
    words = data.split(b" ")
    at = random.randrange(len(words))
    words[at] = f"{random.choice(NUMBERS + HUGE):x}".encode()
    return b" ".join(words)


def _shell(random: Random, data: bytes) -> bytes:
    return random.choice(
        (
            b"\xef\xbb\xbf" + data,
            data.replace(b"\n", b"\r\n"),
            data.replace(b"\n", b"\r"),
            data + b"\0",
            b"\n" * 999 + data,
        )
    )


BYTE_WAYS: tuple[Callable[[Random, bytes], bytes], ...] = (
    _flip,
    _flip,
    _put,
    _put,
    _cut,
    _again,
    _noise,
    _short,
    _digits,
    _shell,
)


def png_sums(data: bytes) -> bytes:
    """``data``, a bent PNG, with the right check sum at every chunk that can still be found."""
    found, at = bytearray(data[:8]), 8
    while at + 12 <= len(data):
        length = int.from_bytes(data[at : at + 4], "big")
        body = data[at + 4 : at + 8 + length]
        if len(body) < 4 + length:
            break
        found += data[at : at + 4] + body + struct.pack(">I", zlib.crc32(body))
        at += 12 + length
    return bytes(found) + data[at:]
