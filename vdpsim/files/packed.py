"""A person's file as bytes: read to a limit, and unpacked to a limit where it is a gzip file.

Law: no more than ``most`` bytes are ever held, packed or unpacked. Whatever is
wrong is raised as an InputError that names the file. Knows no picture and no font.
"""

from __future__ import annotations

import zlib
from pathlib import Path

from ..door.shown import shown_path
from . import UnreadableError
from . import read as read_file
from .problems import InputError, Problem

GZIP = b"\x1f\x8b"
"""How a gzip file begins (RFC 1952, section 2.3.1)."""

_PIECE = 1 << 20
"""Bytes that are unpacked at a time."""


def wrong(file: str, message: str, line: int = 0) -> InputError:
    """The error that says ``message`` of ``file``, and of its ``line`` where that is not 0."""
    return InputError([Problem(file, line, "", message)])


def read(path: str | Path, most: int) -> bytes:
    """The whole file at ``path``. Raises InputError where it is missing, no regular file, empty or longer than ``most`` bytes."""
    file = shown_path(path)
    try:
        data = read_file(path, most)
    except UnreadableError as error:
        raise wrong(file, str(error)) from None
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
