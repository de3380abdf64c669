"""The blocks of a chip: what there is, and what goes from where to where.

Law: a block stands here only where the chip's description has it. What line buffers hold is the budget's.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from ....budgets.onchip import OnChip
from ....chip.line.clients import buffered
from ....chip.line.rates import line_slots
from ....chip.model import Chip, Layer, SpritesTable
from ....chip.registers import registers
from ....door.shown import counted
from ..drawn.blocks import Block, Blocks, Source, blocks_drawn
from ..parts import Grid, Picture, Section
from .wording import NONE, address, by, cycles, plain, size


def block_diagram(chip: Chip, on_chip: tuple[OnChip, ...]) -> Section:
    """The section; ``on_chip`` as the budget has it."""
    found = blocks(chip, on_chip)
    rows = tuple((block.name, "; ".join(block.lines) or NONE, goes or NONE) for block, goes in _goes(found))
    told = ", ".join(row[0] for row in rows)
    picture = Picture(
        "blocks",
        blocks_drawn(found, f"Block diagram of {chip.name}: {told}"),
        "Block diagram. Data goes along solid lines, what registers set along dashed ones.",
    )
    return Section(
        "Block diagram",
        (picture, Grid("The blocks, and where what comes from them goes", ("block", "what it is", "goes to"), rows)),
    )


def blocks(chip: Chip, on_chip: Sequence[OnChip]) -> Blocks:
    """The blocks; ``on_chip`` has the bits of line buffers."""
    targets = [port.target for port in chip.ports]
    ports = tuple(f"{port.target} at {address(port.data)}" for port in chip.ports)
    palette = (f"{plain(chip.palette.entries)} entries", f"{counted(chip.palette.word_bits, 'bit')} each")
    return Blocks(
        cpu=Block("CPU", (cycles(chip.cpu.clock),) if chip.cpu else ()),
        registers=_registers(chip),
        ports=Block("Ports", ports) if ports else None,
        queue=_queue(chip),
        status=_status(chip),
        memory=_memory(chip),
        sources=tuple(_sources(chip, on_chip)),
        ladder=_ladder(chip),
        palette=Block("Palette", palette),
        output=Block("Output", (_picture(chip), cycles(chip.frame.dot_clock))),
        to_palette="palette" in targets,
        to_sprites="sprites" in targets,
    )


def _registers(chip: Chip) -> Block:
    held = list(registers(chip).values())
    span = (
        f"{address(min(one.address for one in held))} to {address(max(one.address + one.size - 1 for one in held))}"
        if held
        else ""
    )
    return Block("Registers", (f"{counted(len(held), 'register')}{span and f', {span}'}",))


def _queue(chip: Chip) -> Block:
    """Where the CPU's bytes for video memory wait; without a pace of its own it has no queue that ends."""
    if chip.cpu is None:
        return Block("CPU's bytes", ("as fast as slots",))
    return Block("Queue", (counted(chip.cpu.queue, "byte"),))


def _status(chip: Chip) -> Block | None:
    status = chip.status
    if status is None:
        return None
    groups = (f"groups at {address(status.groups)}",) if status.groups is not None else ()
    return Block("Status", (f"{counted(len(status.bits), 'flag')} at {address(status.address)}", *groups))


def _memory(chip: Chip) -> Block:
    memory = chip.memory
    told = [size(memory.size), f"{counted(memory.bytes_per_access, 'byte')} an access"]
    if memory.accesses_per_dot is not None:
        told.append(f"{memory.accesses_per_dot} access{'' if memory.accesses_per_dot == 1 else 'es'} a dot")
        told.append(f"{plain(line_slots(chip).slots)} slots a line")
    if chip.time is not None and chip.time.refresh is not None:
        told.append(f"refresh: {plain(chip.time.refresh.slots)} of them")
    return Block("Video memory", tuple(told))


def _sources(chip: Chip, on_chip: Sequence[OnChip]) -> Iterator[Source]:
    """Layers in the chip's order, and the sprite engine; the budget tells of the sprites' buffers before the layers'."""
    for layer in chip.layers:
        yield Source(_layer(layer), _buffers(reversed(on_chip), layer.name) if buffered(chip, layer) else None)
    if chip.sprites is not None:
        yield Source(_sprites(chip.sprites), _buffers(on_chip, "sprite"))


def _layer(layer: Layer) -> Block:
    return Block(
        f"Layer {layer.name}",
        tuple(f"{mode.name}: {mode.kind}, {counted(mode.bits_per_dot, 'bit')}" for mode in layer.modes),
    )


def _sprites(sprites: SpritesTable) -> Block:
    place = "on the chip" if sprites.table == "chip" else "in memory"
    told = [f"{plain(sprites.count)}, table {place}", f"{counted(sprites.bits_per_dot, 'bit')} a dot"]
    told += [f"{plain(sprites.per_line)} a line"] if sprites.per_line is not None else []
    told += [f"{plain(sprites.dots_per_line)} dots a line"] if sprites.dots_per_line is not None else []
    return Block("Sprite engine", tuple(told))


def _buffers(on_chip: Iterable[OnChip], whose: str) -> Block:
    bits = next(one.bits for one in on_chip if one.name == f"{whose} line buffers")
    return Block("Line buffers", (f"{plain(bits)} bits",))


def _ladder(chip: Chip) -> Block:
    own = sum(mode.ladder is not None for layer in chip.layers for mode in layer.modes)
    return Block("Ladder", (counted(len(chip.ladder), "rung"), *([f"{own} more for modes"] if own else [])))


def _picture(chip: Chip) -> str:
    frame = chip.frame
    return f"{len(frame.sizes)} sizes" if len(frame.sizes) > 1 else f"{by((frame.width, frame.height))} dots"


def _goes(found: Blocks) -> Iterator[tuple[Block, str]]:
    """Every block, and the names of those that have something from it."""
    first = found.ports or found.queue
    yield found.cpu, f"{found.registers.name}, {first.name}"
    yield found.registers, ", ".join([*(one.block.name for one in found.sources), found.ladder.name])
    if found.ports is not None:
        more = [
            *([found.palette.name] if found.to_palette else []),
            *([found.sources[-1].block.name] if found.to_sprites else []),
        ]
        yield found.ports, ", ".join([found.queue.name, *more])
    yield found.queue, found.memory.name
    if found.status is not None:
        yield found.status, found.cpu.name
    yield found.memory, ", ".join(one.block.name for one in found.sources)
    for source in found.sources:
        yield source.block, (source.buffers or found.ladder).name
        if source.buffers is not None:
            yield source.buffers, found.ladder.name
    yield found.ladder, found.palette.name
    yield found.palette, found.output.name
    yield found.output, ""
