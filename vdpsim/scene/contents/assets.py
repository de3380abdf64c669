"""Files beside a scene: pictures and raw bytes.

Law: every path stays inside the scene's own folder tree, links followed; each name that is asked for is on the record of what
was read (``files.once``), so that whoever follows a scene's files knows them all; no more than ``LARGEST`` bytes are read; a
picture's size is looked up in its header and refused before anything is unpacked. What comes out is the picture's own indices:
no colour is converted, no picture scaled. Knows no chip.
"""

from __future__ import annotations

import io
import os
import struct
import zlib
from pathlib import Path
from typing import NamedTuple

import numpy as np
from PIL.PngImagePlugin import PngImageFile

from ...door.shown import clipped
from ...files import TooLongError, UnreadableError, asked_for, read
from ..findings import WrongError
from .dots import Dots

LARGEST = 32 << 20
"""Bytes; a larger file is refused."""

LARGEST_SIDE = 4096
"""Dots; a picture that is wider or higher is refused."""

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_COLOUR_TYPES = {0: "grey", 2: "RGB", 3: "paletted", 4: "grey with alpha", 6: "RGB with alpha"}


class IndexedPicture(NamedTuple):
    """A paletted or grey picture: ``indices`` uint8 (lines, dots) and its palette's 8-bit colours (none for grey)."""

    indices: Dots
    colours: tuple[tuple[int, int, int], ...]


class Assets:
    """The files below ``root``, the scene file's folder. Every method raises WrongError, at ``key``, that names the path."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self._pictures: dict[Path, IndexedPicture] = {}

    def find(self, name: str, key: str) -> Path:
        """The path of ``name``, which lies inside the tree; whether there is anything is not asked."""
        asked_for(self.root / name)
        try:
            path = (self.root / name).resolve()
            inside = not Path(name).is_absolute() and path.is_relative_to(self.root.resolve())
        except (OSError, ValueError, RuntimeError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            raise WrongError(f"'{clipped(name)}' cannot be read: {clipped(reason)}", key) from None
        if not inside:
            leads = ", which is a link out of it" if _stays(name) else ""
            raise WrongError(f"must be a path inside the scene's folder {self.root}, got '{clipped(name)}'{leads}", key)
        return path

    def read(self, name: str, key: str, most: int | None = None) -> bytes:
        """The whole file's bytes, ``LARGEST`` of them or ``most``."""
        try:
            return read(self.find(name, key), LARGEST if most is None else most)
        except TooLongError as error:
            raise WrongError(f"{clipped(name)} {error}", key) from None
        except UnreadableError as error:
            raise WrongError(f"'{clipped(name)}' {error}", key) from None

    def raw(self, name: str, key: str, offset: int, length: int | None) -> bytes:
        """``length`` bytes of a file from ``offset`` on, or all that follow."""
        found = self.read(name, key)
        end = len(found) if length is None else offset + length
        if end > len(found) or offset >= len(found):
            wanted = f"{end - offset} bytes from byte {offset}" if length else f"bytes from byte {offset}"
            raise WrongError(f"{clipped(name)} is too short: {wanted} are needed, it has {len(found)}", key)
        return found[offset:end]

    def picture(self, name: str, key: str) -> IndexedPicture:
        """A PNG, paletted or grey of 1 to 8 bits, as its indices."""
        path = self.find(name, key)
        if path not in self._pictures:
            try:
                self._pictures[path] = _decode(self.read(name, key))
            except WrongError as wrong:
                raise WrongError(wrong.message if wrong.sub else f"{clipped(name)} {wrong.message}", key) from None
        return self._pictures[path]


def _stays(name: str) -> bool:
    """Whether ``name`` itself leads nowhere out of the folder that it is looked for in."""
    return not Path(name).is_absolute() and not os.path.normpath(name).startswith("..")


def _decode(data: bytes) -> IndexedPicture:
    depth, kind = _header(data)
    _chunks(data)
    try:
        # Image.open() would first load the decoders of other formats
        with PngImageFile(io.BytesIO(data)) as image:
            image.load()
            indices = np.array(image, np.uint8)
            palette = image.getpalette() or []
    except Exception as error:  # noqa: BLE001 - a decoder fails in more ways than it lists; each means a damaged file
        raise WrongError(f"is damaged: {error}") from None
    if kind == 0 and 1 < depth < 8:
        # The decoder spreads 2- and 4-bit grey over 0 to 255; the file's own values are wanted.
        indices = indices // np.uint8(255 // ((1 << depth) - 1))
    colours = tuple((palette[at], palette[at + 1], palette[at + 2]) for at in range(0, len(palette), 3))
    return IndexedPicture(indices, colours if kind == 3 else ())


def _header(data: bytes) -> tuple[int, int]:
    if data[:8] != _SIGNATURE or data[12:16] != b"IHDR":
        raise WrongError("is no PNG file")
    if len(data) < 33:
        raise WrongError("is cut off in its header")
    width, height, depth, kind = struct.unpack(">IIBB", data[16:26])
    if not (1 <= width <= LARGEST_SIDE and 1 <= height <= LARGEST_SIDE):
        raise WrongError(f"must be 1x1 to {LARGEST_SIDE}x{LARGEST_SIDE} dots, is {width}x{height}")
    if kind not in (0, 3) or depth > 8:
        raise WrongError(
            f"must be a paletted picture (or grey of 1 to 8 bits), is {depth}-bit {_COLOUR_TYPES.get(kind, f'type {kind}')}: "
            "vdpsim fit makes one of it"
        )
    return depth, kind


def _chunks(data: bytes) -> None:
    """Walk the file's chunks to its end: a decoder alone lets some cut-off files pass."""
    at = 8
    while at + 12 <= len(data):
        length, kind = struct.unpack(">I4s", data[at : at + 8])
        end = at + 12 + length
        if end > len(data):
            break
        if zlib.crc32(data[at + 4 : end - 4]) != struct.unpack(">I", data[end - 4 : end])[0]:
            raise WrongError(f"is damaged: the check sum at byte {end - 4} is wrong")
        if kind == b"IEND":
            return
        at = end
    raise WrongError(f"is cut off after {len(data)} bytes")
