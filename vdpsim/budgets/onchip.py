"""What has to be kept on the chip itself, in bits.

Law: every count follows from the chip's description by a formula that stands with it; nothing that only one way of building
it would need is counted. Plain Python.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..chip.bits import Bits
from ..chip.clients import buffered
from ..chip.controls import registers
from ..chip.model import AnyMode, BitmapMode, Chip, TextMode, TilesMode
from ..chip.slots import mode_costs


@dataclass(frozen=True)
class Kept:
    """``bits`` on the chip for ``name``, and the sum that they come from."""

    name: str
    bits: int
    formula: str


def on_chip(chip: Chip) -> tuple[Kept, ...]:
    """Everything that is kept on the chip, largest kinds of memory first."""
    return tuple(_on_chip(chip))


def _on_chip(chip: Chip) -> Iterator[Kept]:
    palette, sprites = chip.palette, chip.sprites
    colour = sum(bits.width for bits in palette.layout.values())
    yield Kept("palette", palette.entries * colour, f"{palette.entries} entries x {colour} bits of colour")
    if sprites and sprites.table == "chip":
        record = sum(bits.width for bits in sprites.fields.layout.values())
        yield Kept("sprite table", sprites.count * record, f"{sprites.count} records x {record} bits of fields")
    if sprites:
        yield _line_buffers(chip)
    yield from _layer_buffers(chip)
    yield from _kept_cells(chip)
    yield from _waiting(chip)
    held = registers(chip).values()
    yield Kept("registers", sum(register.bits for register in held), f"{len(held)} registers, the bits of each")


def _line_buffers(chip: Chip) -> Kept:
    """A dot of a sprite is an entry, a bit that says it is there, and the fields that rungs' conditions ask for."""
    sprites = chip.sprites
    assert sprites is not None
    entry = (chip.palette.entries - 1).bit_length()
    layout = sprites.fields.layout
    fields = sum(layout[name].width for name in _asked_by_rungs(chip, "sprites"))
    rungs = sum(rung.source == "sprites" for rung in chip.ladder)
    buffers = max(rungs, 1) if sprites.resolve == "rung by rung" else 1
    ahead = 2 if chip.time is None or chip.time.clients["sprites"].when == "line before" else 1
    dot = entry + 1 + fields
    bits = chip.frame.width * dot * buffers * ahead
    parts = [f"{chip.frame.width} dots x {dot} bits (entry {entry}, shown 1, asked by rungs {fields})"]
    parts += [f"x {buffers} rungs"] if buffers > 1 else []
    parts += ["x 2, one is shown while the other is filled"] if ahead > 1 else []
    return Kept("sprite line buffers", bits, " ".join(parts))


def _asked_by_rungs(chip: Chip, source: str) -> set[str]:
    """The fields that conditions of the source's rungs ask for, on any ladder."""
    ladders = (chip.ladder, *(mode.ladder or () for layer in chip.layers for mode in layer.modes))
    return {rung.when.field for ladder in ladders for rung in ladder if rung.source == source and rung.when}


def _layer_buffers(chip: Chip) -> Iterator[Kept]:
    """A dot of a layer that is fetched a line ahead: an entry, a bit that says it is there, the fields that rungs ask for."""
    entry = (chip.palette.entries - 1).bit_length()
    for layer in chip.layers:
        if not buffered(chip, layer):
            continue
        asked = _asked_by_rungs(chip, layer.name)
        widths = {name: bits.width for mode in layer.modes for name, bits in _cell_fields(mode) if name in asked}
        fields = sum(widths.values())
        bits = chip.frame.width * (entry + 1 + fields) * 2
        told = f"(entry {entry}, shown 1, asked by rungs {fields})"
        formula = (
            f"{chip.frame.width} dots x {entry + 1 + fields} bits {told} x 2, one is shown while the other is filled"
        )
        yield Kept(f"{layer.name} line buffers", bits, formula)


def _cell_fields(mode: AnyMode) -> Iterator[tuple[str, Bits]]:
    if isinstance(mode, TilesMode):
        yield from mode.cell.layout.items()


def _kept_cells(chip: Chip) -> Iterator[Kept]:
    """Cells that are kept from line to line, as many as a line can touch, of the mode that takes most."""
    for layer in chip.layers:
        client = chip.time.clients.get(f"{layer.name}.cells") if chip.time else None
        if client is None or not client.keep:
            continue
        bits, formula = max(_cells(chip, mode) for mode in layer.modes if not isinstance(mode, BitmapMode))
        yield Kept(f"{layer.name} kept cells", bits, formula)


def _cells(chip: Chip, mode: object) -> tuple[int, str]:
    if isinstance(mode, TextMode):
        across = min(mode.columns, -(-(chip.frame.width - mode.left) // mode.glyph[0]))
        cell = 8 * mode.cell_bytes
    else:
        across = (chip.frame.width + mode.tile - 2) // mode.tile + 1  # type: ignore[attr-defined]
        cell = 8 * mode.cell_bytes  # type: ignore[attr-defined]
    return across * cell, f"{across} cells x {cell} bits"


def _waiting(chip: Chip) -> Iterator[Kept]:
    """What a layer has fetched ahead of the dot that shows: the groups that begin within the lead, and the one that shows."""
    if chip.time is None:
        return
    for layer in chip.layers:
        found = []
        for mode in layer.modes:
            costs = mode_costs(chip, mode)
            groups, bits = 0, 0
            for what, count in costs.costs.items():
                client = chip.time.clients[f"{layer.name}.{what}"]
                if client.lead is not None:
                    groups = max(groups, -(-client.lead // costs.size) + 1)
                    bits += 8 * chip.memory.bytes_per_access * count
            found.append((groups * bits, f"{groups} groups x {bits} bits"))
        bits, formula = max(found)
        if bits:
            yield Kept(f"{layer.name} fetched ahead", bits, formula)
