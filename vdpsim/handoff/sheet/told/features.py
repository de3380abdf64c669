"""What a chip is, in a short list.

Law: every sentence follows from the chip's description; what a chip has not is not spoken of. Numbers are those of ``chip/``.
"""

from __future__ import annotations

from collections.abc import Iterator

from ....chip.line.clients import buffered
from ....chip.line.rates import frame_rate, line_rate, line_slots
from ....chip.model import AnyMode, BitmapMode, Chip, Layer, SpritesTable, TilesMode
from ....chip.registers import registers
from ....chip.tables.basics import size_name
from ....door.shown import counted
from ..parts import Points, Section
from .wording import by, cycles, listed, plain, size, trimmed


def features(chip: Chip) -> Section:
    """The section."""
    return Section("Features", (Points(tuple(_features(chip))),))


def _features(chip: Chip) -> Iterator[str]:
    yield _picture(chip)
    yield _memory(chip)
    for layer in chip.layers:
        yield _layer(chip, layer)
    if chip.sprites is not None:
        yield from _sprites(chip, chip.sprites)
    palette = chip.palette
    colour = "-".join(str(bits.width) for bits in palette.layout.values())
    yield (
        f"Palette of {plain(palette.entries)} entries, {colour} bits of red, green and blue, "
        f"in banks of {plain(palette.bank_size)}"
    )
    yield f"Ladder of {counted(len(chip.ladder), 'rung')} that says which source shows at each dot{_own_ladders(chip)}"
    yield from _cpu_side(chip)


def _picture(chip: Chip) -> str:
    frame, border = chip.frame, chip.frame.border
    if frame.sizes:
        told = f"Picture of {len(frame.sizes)} sizes, {listed(map(size_name, frame.sizes))} dots"
    else:
        told = f"Picture of {by((frame.width, frame.height))} dots"
    if border.left or border.right or border.top or border.bottom:
        told += f" within a border that shows the backdrop, {_border(chip)}"
    rates = f"{trimmed(line_rate(frame))} lines and {float(frame_rate(frame)):.2f} frames a second"
    return f"{told}; dot clock {cycles(frame.dot_clock)}, {rates}"


def _border(chip: Chip) -> str:
    border = chip.frame.border
    return (
        f"{by((chip.frame.width + border.left + border.right, chip.frame.height + border.top + border.bottom))} in all"
    )


def _memory(chip: Chip) -> str:
    memory = chip.memory
    told = f"Video memory of {size(memory.size)}, {counted(memory.bytes_per_access, 'byte')} an access"
    if memory.accesses_per_dot is None:
        return told
    rate = f"{memory.accesses_per_dot} {'access' if memory.accesses_per_dot == 1 else 'accesses'} a dot"
    return f"{told}, {rate}: {plain(line_slots(chip).slots)} slots a line"


def _layer(chip: Chip, layer: Layer) -> str:
    modes = listed(_mode(mode, named=len(layer.modes) > 1) for mode in layer.modes)
    ahead = "; fetched a line ahead into a line buffer" if buffered(chip, layer) else ""
    return f"Layer {layer.name}: {modes}{ahead}"


def _mode(mode: AnyMode, *, named: bool) -> str:
    double = f", each dot shown {by(mode.double)}" if mode.double != (1, 1) else ""
    return f"{shape(mode)}{double}" + (f" (mode {mode.name})" if named else "")


def shape(mode: AnyMode) -> str:
    """What a mode shows, and how much of it."""
    if isinstance(mode, TilesMode):
        return f"a map of {by((mode.columns, mode.rows))} tiles of {by(mode.tile)} dots, {depth(mode)}"
    if isinstance(mode, BitmapMode):
        cells = "" if mode.colours is None else f", a colour cell for each {by(mode.colours.block)} dots"
        return f"a bitmap of {by(mode.size)} dots, {depth(mode)}{cells}"
    return f"text of {by((mode.columns, mode.rows))} characters of {by(mode.glyph)} dots"


def depth(table: AnyMode | SpritesTable) -> str:
    """How many bits a dot has, and how they lie."""
    planes = getattr(table, "planes", None)
    return f"{counted(table.bits_per_dot, 'bit')} a dot" + (f" in planes {planes}" if planes else "")


def _own_ladders(chip: Chip) -> str:
    own = [mode.name for layer in chip.layers for mode in layer.modes if mode.ladder is not None]
    return f"; {counted(len(own), 'mode')} with a ladder of {'its' if len(own) == 1 else 'their'} own" if own else ""


def _sprites(chip: Chip, sprites: SpritesTable) -> Iterator[str]:
    sizes = list(dict.fromkeys(sprites.sizes))
    told = (
        f"in {len(sizes)} sizes from {by(min(sizes))} to {by(max(sizes))}" if len(sizes) > 1 else f"of {by(sizes[0])}"
    )
    place = "on the chip" if sprites.table == "chip" else "in video memory"
    yield f"{counted(sprites.count, 'sprite')} {told} dots, {depth(sprites)}, their table {place}; {limits(sprites)}"
    if chip.collisions is not None and chip.collisions.pairs:
        yield f"Collisions told between {counted(len(chip.collisions.groups), 'group')} of sprites"


def limits(sprites: SpritesTable) -> str:
    """What a line takes of sprites."""
    told = [f"{plain(sprites.per_line)} sprites"] if sprites.per_line is not None else []
    told += [f"{plain(sprites.dots_per_line)} of their dots"] if sprites.dots_per_line is not None else []
    return f"at most {listed(told)} a line" if told else "no limit a line but what memory has time for"


def _cpu_side(chip: Chip) -> Iterator[str]:
    yield f"{counted(len(registers(chip)), 'register')} at addresses of the CPU"
    if chip.ports:
        yield f"{counted(len(chip.ports), 'port')} to {listed(port.target for port in chip.ports)}"
    if chip.status is not None and chip.status.bits:
        yield f"{counted(len(chip.status.bits), 'flag')}: {listed(chip.status.bits)}"
    if chip.cpu is not None:
        yield f"Queue of {counted(chip.cpu.queue, 'byte')} for what the CPU puts into video memory"
