"""What a page has to know of a chip to explain its dots: plain data.

Law: says what stands in the chip's description, under its own names.
"""

from __future__ import annotations

from typing import Any

from ...chip.line.clients import slot_clients
from ...chip.line.rates import frame_rate
from ...chip.model import BitmapMode, Chip, SpritesTable
from ...chip.tables.bits import Bits
from ...output.roles import ROLES, role_of
from .registers import port_rows, register_rows
from .vanished import REASONS, reason_told

Json = dict[str, Any]


def chip_told(chip: Chip) -> Json:
    """The chip: its frame, its palette, its layers and sprites, who fetches and for what, its registers."""
    return {
        "name": chip.name,
        "width": chip.frame.width,
        "height": chip.frame.height,
        "sizes": len(chip.frame.every_size),
        "rate": f"{float(frame_rate(chip.frame)):.4f}",
        "memory": chip.memory.size,
        "entries": chip.palette.entries,
        "bankSize": chip.palette.bank_size,
        "word": {name: _parts(bits) for name, bits in chip.palette.layout.items()},
        "wordDigits": -(-chip.palette.word_bits // 4),
        "sources": list(chip.source_names),
        "layers": [{"name": layer.name, "modes": [_mode(mode) for mode in layer.modes]} for layer in chip.layers],
        "sprites": _sprites(chip),
        "clients": [{"name": name, "role": role_of(name)} for name in slot_clients(chip)],
        "roles": {role: list(colour) for role, colour in ROLES.items()},
        "registers": register_rows(chip),
        "ports": port_rows(chip),
        "perLine": slots_of_line(chip),
    }


def slots_of_line(chip: Chip) -> int:
    """Slots that a line has; 0 where the chip has no time table."""
    per_dot = chip.memory.accesses_per_dot if chip.time else None
    return int(per_dot * chip.frame.dots_per_line) if per_dot else 0


def _mode(mode: Any) -> Json:
    told: Json = {
        "name": mode.name,
        "kind": mode.kind,
        "bits": mode.bits_per_dot,
        "planes": getattr(mode, "planes", None),
    }
    if isinstance(mode, BitmapMode):
        if mode.colours is not None:
            told["cell"] = {name: _parts(bits) for name, bits in mode.colours.cell.layout.items()}
    else:
        told["cell"] = {name: _parts(bits) for name, bits in mode.cell.layout.items()}
    return told


def _sprites(chip: Chip) -> Json | None:
    table = chip.sprites
    if table is None:
        return None
    return {
        "perLine": table.per_line,
        "bits": table.bits_per_dot,
        "planes": table.planes,
        "patterns": [
            {"size": list(one.size), "tile": list(one.tile), "rowBytes": one.row_bytes, "offsets": one.offsets}
            for one in table.patterns
        ],
        "wraps": [bits.top + 1 if wrap else 0 for bits, wrap in _axes(table)],
        "reasons": {reason: reason_told(chip, reason) for reason in REASONS},
    }


def _axes(table: SpritesTable) -> list[tuple[Bits, bool]]:
    return [(table.fields.x, table.wrap_x), (table.fields.y, table.wrap_y)]


def _parts(bits: Bits) -> list[list[int]]:
    """The bit ranges of a field, [highest, lowest], the first on top."""
    return [list(part) for part in bits.parts]
