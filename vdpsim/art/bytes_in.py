"""A person's file as bytes: read to a limit, and unpacked to a limit where it is a gzip file.

Law: nothing is read that is not a regular file; no more than ``most`` bytes are ever held, packed or unpacked. Whatever is
wrong is raised as an InputError that names the file. Knows no picture and no font.
"""

from __future__ import annotations

import stat
import zlib
from pathlib import Path

from ..problems import InputError, Problem

GZIP = b"\x1f\x8b"
"""How a gzip file begins (RFC 1952, section 2.3.1)."""

_PIECE = 1 << 20
"""Bytes that are unpacked at a time."""


def wrong(file: str, message: str, line: int = 0) -> InputError:
    """The error that says ``message`` of ``file``, and of its ``line`` where that is not 0."""
    return InputError([Problem(file, line, "", message)])


def read(path: str | Path, most: int) -> bytes:
    """The whole file at ``path``. Raises InputError where it is missing, no regular file, empty or longer than ``most`` bytes."""
    file = str(path)
    try:
        if not stat.S_ISREG(Path(path).stat().st_mode):
            raise wrong(file, "cannot be read: it is no regular file")
        with open(path, "rb") as opened:
            data = opened.read(most + 1)
    except OSError as error:
        raise wrong(file, f"cannot be read: {error.strerror}") from None
    except ValueError as error:
        if isinstance(error, InputError):
            raise
        raise wrong(file, f"cannot be read: {error}") from None  # a zero byte in a path
    if len(data) > most:
        raise wrong(file, f"must be at most {most} bytes long")
    if not data:
        raise wrong(file, "is empty")
    return data


def unpacked(data: bytes, most: int, file: str) -> bytes:
    """``data`` as it is, or unpacked where it begins as a gzip file does; several members follow each other.

    Raises InputError where it is damaged, cut off, or more than ``most`` bytes long once it is unpacked.
    """
    if not data.startswith(GZIP):
        return data
    found = bytearray()
    while data.startswith(GZIP):
        unpack = zlib.decompressobj(wbits=16 + zlib.MAX_WBITS)
        while True:
            try:
                piece = unpack.decompress(data, min(_PIECE, most + 1 - len(found)))
            except zlib.error as error:
                raise wrong(file, f"is a damaged gzip file: {error}") from None
            found += piece
            data = unpack.unconsumed_tail
            if len(found) > most:
                raise wrong(file, f"must be at most {most} bytes long once it is unpacked")
            if unpack.eof:
                break
            if not piece and not data:
                raise wrong(file, "is a gzip file that is cut off")
        data = unpack.unused_data
    return bytes(found)
