"""Timed writes in words, for a page.

Law: a write is told by what it does, with values by their names where the chip has any. Nothing here is HTML.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from ...chip.controls import told as value_told
from ...chip.model import Chip
from ...chip.registers import settable
from ...state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, SpriteWrite, Transfer, Write


def _register_write(chip: Chip, write: RegisterWrite) -> str:
    return f"{write.name} = {value_told(settable(chip)[write.name].names, write.value)}"


def _palette_write(_chip: Chip, write: PaletteWrite) -> str:
    if len(write.words) > 1:
        return f"entries {write.entry} to {write.entry + len(write.words) - 1}"
    return f"entry {write.entry} = 0x{write.words[0]:X}"


WRITES_TOLD: Mapping[type, Callable[[Chip, Any], str]] = {
    RegisterWrite: _register_write,
    PaletteWrite: _palette_write,
    SpriteWrite: lambda _chip, one: f"sprite table from byte {one.offset}: {len(one.data)} bytes",
    MemoryWrite: lambda _chip, one: f"memory from 0x{one.address:X}: {len(one.data)} bytes",
    Transfer: lambda _chip, one: f"transfer to 0x{one.address:X}: {len(one.data)} bytes",
    PortWrite: lambda _chip, one: f"port 0x{one.address:X} = 0x{one.value:02X}",
}
"""What a timed write does, in words."""


def write_told(chip: Chip, write: Write) -> dict[str, Any]:
    """A timed write: its line and dot, and what it does in words."""
    return {"line": write.line, "dot": write.dot, "what": WRITES_TOLD[type(write)](chip, write)}
