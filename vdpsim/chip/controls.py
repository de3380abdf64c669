"""What a chip lets be set while it runs, and the registers that set it.

Law: the controls follow from the chip's description, in one order, each with its rest value, its largest value and the
step that it counts in. A register is a control that the CPU can write; a control without one is wired to its constant or
its rest value. Values are always those of the control (an address in bytes, a line, an entry), never the register's raw
bits: those are value / step.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from ..door.shown import value as shown
from .model import BitmapMode, Chip, Effect, Entries, Layer, Mode, TextMode, TilesMode
from .named import choices, number_of
from .tables.bits import Bits

DEFAULT_EFFECT: Effect = "at once"


@dataclass(frozen=True)
class Control:
    """Something that can be set: values 0 to ``top`` in multiples of ``step``; ``rest`` where nobody sets it.

    ``wraps`` says that a larger value means the same as its remainder (scroll counts round and round). ``names``: what the
    values 0, 1, ... are called, none where they are mere numbers.
    """

    name: str
    about: str
    top: int
    rest: int = 0
    step: int = 1
    wraps: bool = False
    names: tuple[str, ...] = ()


@dataclass(frozen=True)
class Register:
    """A control held in ``bits`` bits at ``address``; holds ``reset`` at reset; ``effect`` says when a write counts.

    ``at once``: from the dot written. ``next line``: from dot 0 of the line after the one in which it is written.
    ``next frame``: from dot 0 of line 0 of the frame after. ``top`` is the largest value that fits, in control units;
    ``names`` are its control's.
    """

    name: str
    bits: int
    reset: int
    effect: Effect
    step: int
    address: int
    top: int
    names: tuple[str, ...] = ()


def top_bank(chip: Chip, entries: Entries, top_value: int) -> int:
    """The highest bank from which every value's entry is in the palette; -1 where not even bank 0 is."""
    base, bank_step, value_step = chip.entry_rule(entries)
    room = chip.palette.entries - 1 - base - top_value * value_step
    if room < 0:
        return -1
    return room // bank_step if bank_step else 0


def top_colour(chip: Chip, mode: TextMode) -> int:
    """The largest colour number of a text mode: what its fields hold, or what its palette rule reaches from a register."""
    fields = [bits for name, bits in mode.cell.layout.items() if name != "character"]
    base, _, value_step = chip.entry_rule(mode.entries)
    reach = (chip.palette.entries - 1 - base) // value_step if value_step else 0
    if len(fields) == 2:
        return max(bits.top for bits in fields)
    return max([bits.top for bits in fields] + [min(255, max(reach, 0))])


def largest_value(chip: Chip, mode: Mode) -> int:
    """The largest value that goes into the mode's palette rule."""
    return top_colour(chip, mode) if isinstance(mode, TextMode) else mode.top_value


def has_cell_bank(mode: Mode) -> bool:
    """Whether the bank comes from the cell, and so not from the layer's register."""
    return isinstance(mode, TilesMode) and mode.cell.bank is not None


def map_alignment(chip: Chip, mode: Mode) -> int:
    """What the address of the mode's map, bitmap or text cells is a multiple of."""
    cell = mode.cell_bytes if isinstance(mode, TilesMode | TextMode) else 1
    return max(chip.memory.bytes_per_access, cell)


def pattern_alignment(chip: Chip, mode: TilesMode | TextMode) -> int:
    """What the address of the mode's patterns is a multiple of: a whole tile pattern; an access, for glyphs."""
    return max(chip.memory.bytes_per_access, mode.pattern_bytes if isinstance(mode, TilesMode) else 1)


def controls(chip: Chip) -> Mapping[str, Control]:
    """Every control of ``chip``, by name, in the order that numbers them."""
    return _once(chip, "_controls", lambda: {control.name: control for control in _controls(chip)})


def _once(chip: Chip, name: str, make: Callable[[], dict[str, Any]]) -> Mapping[str, Any]:
    """What ``make`` makes of a chip, made once: it never changes, and is asked for dozens of times while a scene is loaded."""
    of, kept = vars(chip).get(name, (None, {}))
    if of != id(chip):  # never asked, or copied from a chip that was
        kept = make()
        vars(chip)[name] = id(chip), kept
    return MappingProxyType(kept)


def _controls(chip: Chip) -> Iterator[Control]:
    frame, memory = chip.frame, chip.memory
    yield Control(
        "backdrop", "entry that shows where every rung is transparent", chip.palette.entries - 1, frame.backdrop
    )
    for layer in chip.layers:
        yield from _layer_controls(chip, layer)
    sprites = chip.sprites
    if sprites:
        width = memory.bytes_per_access
        yield Control("sprites.enable", "1: the sprites are prepared and shown", 1, 1)
        align = max(width, sprites.alignment)
        yield Control("sprites.patterns", "address of sprite pattern 0", _last(memory.size, align), 0, align)
        if sprites.table == "memory":
            yield Control("sprites.table", "address of the sprite table", _last(memory.size, width), 0, width)
    if chip.status and chip.status.line is not None:
        yield Control("line_flag", "line at whose dot 0 the line flag is raised", frame.lines_per_frame - 1)


def _layer_controls(chip: Chip, layer: Layer) -> Iterator[Control]:
    frame, size, at = chip.frame, chip.memory.size, layer.name
    yield Control(f"{at}.enable", "1: the layer fetches and shows", 1, 1)
    moving = [mode for mode in layer.modes if isinstance(mode, TilesMode | BitmapMode)]
    across = max((_extent(mode)[0] for mode in moving if mode.scrolls("x")), default=0)
    down = max((_extent(mode)[1] for mode in moving if mode.scrolls("y")), default=0)
    if across:
        yield Control(f"{at}.scroll_x", "dot of the map at the picture's left edge", across - 1, wraps=True)
    if down:
        yield Control(f"{at}.scroll_y", "line of the map at the mode's line 0", down - 1, wraps=True)
    banks = [top_bank(chip, m.entries, largest_value(chip, m)) for m in layer.modes if not has_cell_bank(m)]
    if banks and min(banks) > 0:
        yield Control(f"{at}.bank", "bank of the modes whose cells name none", min(banks))
    if len(layer.modes) > 1:
        top, names = len(layer.modes) - 1, tuple(mode.name for mode in layer.modes)
        yield Control(f"{at}.mode", "the mode above the split line", top, names=names)
        yield Control(f"{at}.below", "the mode from the split line on", top, names=names)
        yield Control(f"{at}.split", "first line of the lower zone", frame.height, frame.height)
    for mode in layer.modes:
        here, align = f"{at}.{mode.name}", map_alignment(chip, mode)
        if isinstance(mode, BitmapMode):
            yield Control(f"{here}.bitmap", "address of the bitmap's first dot", _last(size, align), 0, align)
            continue
        yield Control(f"{here}.map", "address of the first cell", _last(size, align), 0, align)
        align = pattern_alignment(chip, mode)
        if isinstance(mode, TilesMode):
            yield Control(f"{here}.patterns", "address of pattern 0", _last(size, align), 0, align)
        else:
            yield Control(f"{here}.glyphs", "address of glyph 0", _last(size, align), 0, align)
            for field in ("foreground", "background"):
                if field not in mode.cell.layout:
                    yield Control(f"{here}.{field}", f"colour number of the {field}", top_colour(chip, mode))


def _extent(mode: TilesMode | BitmapMode) -> tuple[int, int]:
    if isinstance(mode, TilesMode):
        return mode.columns * mode.tile, mode.rows * mode.tile
    return mode.width, mode.height


def _last(size: int, align: int) -> int:
    return (size - 1) // align * align


def registers(chip: Chip) -> Mapping[str, Register]:
    """The chip's registers by name, as its file lists them or, where it lists none, one for every control.

    In the default map a register has as many bits as its control needs, resets to its rest value, takes effect at once
    and follows the one before it at the next free byte address.
    """
    return _once(chip, "_registers", lambda: _registers(chip))


def _registers(chip: Chip) -> dict[str, Register]:
    found, free = {}, 0
    known = controls(chip)
    listed = chip.registers
    for name in known if listed is None else listed:
        control = known[name]
        if listed is None:
            step, bits = control.step, max(1, (control.top // control.step).bit_length())
            reset, effect, address = control.rest, DEFAULT_EFFECT, free
        else:
            table = listed[name]
            step, bits, effect = table.step or control.step, table.bits, table.effect
            reset = control.rest if table.reset is None else number_of(control.names, table.reset)
            address = free if table.address is None else table.address
        top = ((1 << bits) - 1) * step
        top = top if control.wraps else min(top, control.top // step * step)
        found[name] = Register(name, bits, reset, effect, step, address, top, control.names)
        free = address + (bits + 7) // 8
    return found


def rest_values(chip: Chip) -> dict[str, int]:
    """Every control's value at reset, by name, in the controls' order."""
    known = controls(chip)
    values = {name: control.rest for name, control in known.items()}
    values.update({name: number_of(known[name].names, value) for name, value in (chip.constants or {}).items()})
    values.update({name: register.reset for name, register in registers(chip).items()})
    return values


def unfit(register: Register, given: int | str) -> str | None:
    """Why ``given``, a value or a value's name, cannot be written to ``register``, in words; None where it can."""
    value = number_of(register.names, given)
    if not 0 <= value <= register.top:
        return f"{register.name} takes 0 to {register.top}{choices(register.names)}, got {shown(given)}"
    if value % register.step:
        return f"{register.name} takes multiples of {register.step}, got {value}"
    return None


def field_top(layout: Bits | None) -> int:
    """The largest value of a field that may be missing (then 0)."""
    return layout.top if layout else 0
