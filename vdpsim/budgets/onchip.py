"""What has to be kept on the chip itself, in bits.

Law: every count follows from the chip's description by a formula that stands with it; nothing that only one way of building
it would need is counted. What is fetched is held in whole accesses, from when it may come until its group has been shown or
stands in a line buffer. No write in mid-line makes a line longer. Plain Python.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from ..chip.line.clients import KEPT, buffered, keeps, mode_costs, timing
from ..chip.line.places import port_bytes
from ..chip.model import AnyMode, BitmapMode, Chip, Layer
from ..chip.registers import Register, registers
from .line.stretches import stretches
from .reach import reachable


@dataclass(frozen=True)
class OnChip:
    """``bits`` on the chip for ``name``, and the sum that they come from."""

    name: str
    bits: int
    formula: str


def on_chip(chip: Chip) -> tuple[OnChip, ...]:
    """Everything that is kept on the chip, largest kinds of memory first."""
    return tuple(_on_chip(chip))


def _on_chip(chip: Chip) -> Iterator[OnChip]:
    palette, sprites = chip.palette, chip.sprites
    colour = sum(bits.width for bits in palette.layout.values())
    yield OnChip("palette", palette.entries * colour, f"{palette.entries} entries x {colour} bits of colour")
    if sprites and sprites.table == "chip":
        record = sum(bits.width for bits in sprites.fields.layout.values())
        yield OnChip("sprite table", sprites.count * record, f"{sprites.count} records x {record} bits of fields")
    if sprites:
        yield _line_buffers(chip)
    yield from _layer_buffers(chip)
    yield from _kept_cells(chip)
    yield from _waiting(chip)
    yield from _queue(chip)
    yield from _registers(chip)
    yield from _ports(chip)
    yield from _status(chip)


def _registers(chip: Chip) -> Iterator[OnChip]:
    """The bits of each register, without those of a write-only one that do nothing; and apart from them those that can wait."""
    held = registers(chip).values()
    kept = [one.bits if one.access == "read-back" else (one.top & ~one.unnamed).bit_count() for one in held]
    yield OnChip("registers", sum(kept), f"{len(held)} registers, the bits of each")
    waiting = [(one.name, _waits(one).bit_count()) for one in held]
    parts = [f"{name}: {bits}" for name, bits in waiting if bits]
    if parts:
        yield OnChip(
            "half writes",
            sum(bits for _, bits in waiting),
            f"bits that wait for the rest of a field: {', '.join(parts)}",
        )


def _waits(register: Register) -> int:
    """The bits that wait when they are written alone, as a mask: parts of split fields, and all below the highest byte."""
    if register.half_write != "waits":
        return 0
    below = (1 << 8 * (register.size - 1)) - 1
    return sum(part.bits.mask if field.split else part.bits.mask & below for field, part in register.holds)


def _line_buffers(chip: Chip) -> OnChip:
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
    return OnChip("sprite line buffers", bits, " ".join(parts))


def _asked_by_rungs(chip: Chip, source: str) -> set[str]:
    """The fields that conditions of the source's rungs ask for, on any ladder."""
    ladders = (chip.ladder, *(mode.ladder or () for layer in chip.layers for mode in layer.modes))
    return {rung.when.field for ladder in ladders for rung in ladder if rung.source == source and rung.when}


def _layer_buffers(chip: Chip) -> Iterator[OnChip]:
    """A dot of a layer that is fetched a line ahead: an entry, a bit that says it is there, the fields that rungs ask for."""
    entry = (chip.palette.entries - 1).bit_length()
    for layer in chip.layers:
        if not buffered(chip, layer):
            continue
        asked = _asked_by_rungs(chip, layer.name)
        widths = {name: bits.width for mode in layer.modes for name, bits in mode.asked.items() if name in asked}
        fields = sum(widths.values())
        bits = chip.frame.width * (entry + 1 + fields) * 2
        told = f"(entry {entry}, shown 1, asked by rungs {fields})"
        formula = (
            f"{chip.frame.width} dots x {entry + 1 + fields} bits {told} x 2, one is shown while the other is filled"
        )
        yield OnChip(f"{layer.name} line buffers", bits, formula)


def _touched(chip: Chip, layer: Layer, index: int) -> int:
    """The most groups of the layer's mode that a line can touch, at any scroll position that its registers allow."""
    ways = stretches(chip, layer, index, reachable(chip))
    return max((way.last - way.first + 1 for way in ways if way is not None), default=0)


def _kept_cells(chip: Chip) -> Iterator[OnChip]:
    """Cells that are kept from line to line, as many as a line can touch, of the mode that takes most."""
    for layer in chip.layers:
        found = []
        for index, mode in enumerate(layer.modes):
            if keeps(chip, layer, index):
                across, cell = _touched(chip, layer, index) * _cells_of(chip, mode), 8 * _cell_bytes(mode)
                found.append((across * cell, f"{across} cells x {cell} bits"))
        if found:
            yield OnChip(f"{layer.name} kept cells", *max(found))


def _cells_of(chip: Chip, mode: AnyMode) -> int:
    """How many cells a group of the mode's dots has."""
    if not isinstance(mode, BitmapMode) or mode.colours is None:
        return 1
    return mode.group(chip.memory.bytes_per_access) // mode.colours.block[0]


def _cell_bytes(mode: AnyMode) -> int:
    """Bytes of a cell, or of a colour cell; 0 where there are none."""
    if isinstance(mode, BitmapMode):
        return mode.colours.cell_bytes if mode.colours else 0
    return mode.cell_bytes


def _waiting(chip: Chip) -> Iterator[OnChip]:
    """What a layer has fetched before it shows, of the mode that takes most."""
    for layer in chip.layers if chip.time else ():
        bits, formula = max(_fetched(chip, layer, index) for index in range(len(layer.modes)))
        if bits:
            yield OnChip(f"{layer.name} fetched ahead", bits, formula)


def _fetched(chip: Chip, layer: Layer, index: int) -> tuple[int, str]:
    """What a layer's mode holds of its fetches, client by client; cells that are kept stand with those that are.

    In time: the groups that are due within the lead, and the one that shows; patterns are never further ahead than their
    cells. In blanking: all groups of a line. Of a turned cell's rows a dot each is held, together a row. A line before: cells
    alone, all of them, as their patterns may come after the last; what those bring goes into the line buffer.
    """
    assert chip.time is not None
    costs, most = mode_costs(chip, layer.modes[index]), _touched(chip, layer, index)
    bits, parts, ahead = 0, [], most
    for what, count in costs.costs.items():
        client = timing(chip, layer, index, what)
        if client.lead is not None:
            ahead = min(ahead, -(-client.lead // costs.size) + 1)
        in_buffer = client.when == "line before" and what not in KEPT
        if in_buffer or (what in KEPT and client.keep):
            continue
        one = 8 * chip.memory.bytes_per_access * count
        bits += ahead * one
        parts.append(f"{ahead} groups x {one} bits of {what}")
    return bits, " + ".join(parts)


def _queue(chip: Chip) -> Iterator[OnChip]:
    """Bytes of the CPU that wait for their slots, each with its address."""
    if chip.time is None or chip.cpu is None:
        return
    address = (chip.memory.size - 1).bit_length()
    bits = chip.cpu.queue * (8 + address)
    held = f"{chip.cpu.queue} byte{'s' if chip.cpu.queue > 1 else ''}"
    yield OnChip("write queue", bits, f"{held} x (8 bits + {address} bits of address)")


def _ports(chip: Chip) -> Iterator[OnChip]:
    """Each port's address, as wide as its target's last byte needs, and its step where the CPU can write one."""
    if not chip.ports:
        return
    bits, parts = 0, []
    for port in chip.ports:
        address = (port_bytes(chip, port) - 1).bit_length()
        bits += address + (0 if port.step is None else 8)
        parts.append(f"{port.target}: address {address}" + ("" if port.step is None else " + step 8"))
    yield OnChip("ports", bits, ", ".join(parts))


def _status(chip: Chip) -> Iterator[OnChip]:
    """A bit for each flag, and one for each group where the CPU reads which have collided; the line flag's line is a register."""
    if chip.status is None:
        return
    flags = len(chip.status.bits)
    groups = len(chip.collisions.groups) if chip.collisions and chip.status.groups is not None else 0
    yield OnChip("status", flags + groups, f"{flags} flags" + (f" + {groups} groups" if groups else ""))
