"""Memory images: what a chip's memories hold, as files that hardware loads.

Law: a ``.hex`` file has one word a line in the form that ``$readmemh`` takes (IEEE 1364-2005, 17.2.9): hexadecimal digits
alone, as many as the word's bits need, address after address from 0. The ``.bin`` beside it has the same memory in bytes.
Knows a state, and no frame.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from ...chip.line.places import entry_bytes
from ...chip.model import Chip
from ...chip.registers import registers
from ...state.enact import Latches
from ...state.state import State
from ..records.text import LINE_END, sixteen


class Image(NamedTuple):
    """One memory: its name, its ``words`` uint64 (words,), the ``bits`` of a word, its bytes ``raw``, and what it is.

    ``first``: the address in the chip of word 0. ``binary``: what ``raw`` is.
    """

    name: str
    words: npt.NDArray[np.uint64]
    bits: int
    raw: bytes
    first: int
    about: str
    binary: str

    def hex(self) -> bytes:
        """The words as text for ``$readmemh``, a word a line."""
        lines = np.pad(sixteen(self.words, -(-self.bits // 4)), ((0, 0), (0, 1)), constant_values=LINE_END)
        return lines.tobytes()


def images(state: State) -> Iterator[Image]:
    """Each of the chip's memories as ``state`` holds it: video memory, palette, sprite table on the chip, registers."""
    chip = state.chip
    wide, order = chip.memory.bytes_per_access, chip.memory.byte_order
    which = {"little": "lowest", "big": "highest"}[order]
    yield Image(
        "video",
        state.memory.view(f"{'<' if order == 'little' else '>'}u{wide}").astype(np.uint64),
        8 * wide,
        state.memory.tobytes(),
        0,
        f"video memory, a word for each access: word a holds the bytes at the addresses a x {wide} to a x {wide} + {wide - 1}"
        + (f", of which that at a x {wide} has the {which} bits" if wide > 1 else ""),
        "byte a of the file is the byte at address a",
    )
    each = entry_bytes(chip)
    packed = state.palette.astype("<u4").view(np.uint8).reshape(-1, 4)[:, :each]
    yield Image(
        "palette",
        state.palette.astype(np.uint64),
        chip.palette.word_bits,
        packed.tobytes(),
        0,
        "the palette, a word for each entry: its packed colour",
        f"{each} bytes for each entry, the lowest bits first",
    )
    if len(state.sprites):
        record = chip.sprites.record_bytes if chip.sprites else 1
        yield Image(
            "sprites",
            state.sprites.reshape(-1).astype(np.uint64),
            8,
            state.sprites.tobytes(),
            0,
            f"the sprite table on the chip, a word for each byte; sprite n has the {record} words from n x {record} on",
            "byte a of the file is byte a of the table",
        )
    yield _registers(chip, state)


def _registers(chip: Chip, state: State) -> Image:
    known, latches = list(registers(chip).values()), Latches(state, dict(state.held))
    first, end = min(one.address for one in known), max(one.address + one.size for one in known)
    held = np.zeros(end - first, np.uint8)
    for one in known:
        word = latches.word(one)
        held[one.address - first : one.address - first + one.size] = list(word.to_bytes(one.size, "little"))
    return Image(
        "registers",
        held.astype(np.uint64),
        8,
        held.tobytes(),
        first,
        f"the registers, a word for each address of the CPU's from 0x{first:02x} on: the bits of each register as they were last "
        "written, waiting or not, write-only registers too; 00 where there is no register",
        f"byte a of the file is that at the CPU's address 0x{first:02x} + a",
    )


def stem(image: Image) -> str:
    """The path of an image's files within the folder, without their endings."""
    return f"memory/{image.name}"


def image_files(state: State) -> Iterator[tuple[str, bytes]]:
    """The files of all images: the words as text, and the bytes."""
    for image in images(state):
        yield f"{stem(image)}.hex", image.hex()
        yield f"{stem(image)}.bin", image.raw
