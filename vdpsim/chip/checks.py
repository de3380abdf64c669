"""What several tables of a chip file must agree on.

Law: every check yields (place, message) pairs and goes on, so that independent mistakes are told together; a chip that
passes can be resolved and drawn. A message says what is allowed and what was given. Knows the model and its controls.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from collections.abc import Set as AbstractSet

from ..door.shown import meant
from ..door.shown import value as shown
from .controls import cell_bank, field_top, largest_value, map_alignment
from .line.checks_time import check_cpu, check_time
from .model import RESERVED, AnyMode, BitmapMode, Chip, Entries, Layer, Rung, SpritesTable, TextMode, TilesMode
from .register_checks import check_registers
from .tables.bitmap import ColourCells
from .tables.modes import SurfaceMode

MOST_RUNGS = 254
"""Rungs of all ladders together: a rung's number and two marks fit one byte."""

Found = Iterator[tuple[tuple[str | int, ...], str]]


def check(chip: Chip, wrong: AbstractSet[str] = frozenset()) -> Found:
    """Every disagreement between the tables of ``chip``: its place in the file and what is wrong there.

    ``wrong``: tables that are lost; what hangs on them is not asked.
    """
    for asked, hangs_on in CHECKS:
        if not wrong & hangs_on:
            yield from asked(chip)


def _backdrop(chip: Chip) -> Found:
    if chip.frame.backdrop >= chip.palette.entries:
        yield ("frame", "backdrop"), f"must be an entry, 0 to {chip.palette.entries - 1}, got {chip.frame.backdrop}"


def _modes(chip: Chip) -> Found:
    for number, layer in enumerate(chip.layers):
        for index, mode in enumerate(layer.modes):
            yield from _mode(chip, layer, mode, ("layers", number, "modes", index))


def _ladders(chip: Chip) -> Found:
    yield from _ladder(chip, chip.ladder, ("ladder",))
    rungs = len(chip.ladder) + sum(len(mode.ladder or ()) for layer in chip.layers for mode in layer.modes)
    if rungs > MOST_RUNGS:
        yield ("ladder",), f"all ladders together must have at most {MOST_RUNGS} rungs, got {rungs}"


def _cpu_side(chip: Chip) -> Found:
    wrong_registers = list(check_registers(chip))
    yield from wrong_registers
    if not wrong_registers:
        yield from check_cpu(chip)


def _names(chip: Chip) -> Found:
    for number, layer in enumerate(chip.layers):
        if layer.name in RESERVED:
            yield ("layers", number, "name"), f"{shown(layer.name)} is taken by the chip itself; choose another name"
        if layer.name in chip.layer_names[:number]:
            yield ("layers", number, "name"), f"another layer is called {shown(layer.name)}"
        names = [mode.name for mode in layer.modes]
        for index, name in enumerate(names):
            if name in names[:index]:
                yield (
                    ("layers", number, "modes", index, "name"),
                    f"another mode of {layer.name} is called {shown(name)}",
                )


def _rule(chip: Chip, entries: Entries, value: int, bank: int) -> Iterator[str]:
    base, bank_step, value_step = chip.entry_rule(entries)
    reach = base + bank * bank_step + value * value_step
    if reach >= chip.palette.entries:
        yield (
            f"reaches entry {reach} (base {base} + bank {bank} x {bank_step} + value {value} x {value_step}), "
            f"but the palette's last is {chip.palette.entries - 1}"
        )


def _mode(chip: Chip, layer: Layer, mode: AnyMode, at: tuple[str | int, ...]) -> Found:
    size, top = chip.memory.size, largest_value(chip, mode)
    bank = field_top(cell_bank(mode))
    for message in _rule(chip, mode.entries, top, bank):
        yield (*at, "entries"), message
    if mode.transparent is not None and mode.transparent > top:
        yield (*at, "transparent"), f"must be a value, 0 to {top}, got {mode.transparent}"
    for name in mode.exclusive or ():
        if name not in chip.layer_names or name == layer.name:
            others = ", ".join(other for other in chip.layer_names if other != layer.name) or "none"
            yield (*at, "exclusive"), f"must name other layers ({others}), got {shown(name)}"
    if mode.ladder is not None:
        yield from _ladder(chip, mode.ladder, (*at, "ladder"))
    if mode.map_bytes > size:
        yield at, f"needs {mode.map_bytes} bytes of memory, which has {size}"
    if isinstance(mode, TilesMode):
        yield from _tiles(chip, mode, at)
    if isinstance(mode, SurfaceMode) and (mode.outside or 0) >= chip.palette.entries:
        yield (*at, "outside"), f"must be an entry, 0 to {chip.palette.entries - 1}, got {mode.outside}"
    if isinstance(mode, BitmapMode):
        yield from _bitmap(chip, mode, at)
    if isinstance(mode, TextMode):
        yield from _text(chip, mode, at)


def _tiles(chip: Chip, mode: TilesMode, at: tuple[str | int, ...]) -> Found:
    wrong = mode.raster.row_fault(chip.memory.bytes_per_access)
    if wrong is not None:
        yield (*at, "tile"), wrong


def _bitmap(chip: Chip, mode: BitmapMode, at: tuple[str | int, ...]) -> Found:
    width, raster = chip.memory.bytes_per_access, mode.raster
    dots = raster.dots_per_access(width)
    if mode.width % dots:
        yield (*at, "width"), f"must fill whole accesses of {width} bytes, a multiple of {dots} dots, got {mode.width}"
    if mode.stride is not None and (mode.stride < raster.row_bytes or mode.stride % map_alignment(chip, mode)):
        yield (*at, "stride"), f"must be a multiple of {width} and at least {raster.row_bytes} bytes, got {mode.stride}"
    if mode.colours is not None:
        yield from _colours(chip, mode, mode.colours, dots, (*at, "colours"))


def _colours(chip: Chip, mode: BitmapMode, cells: ColourCells, dots: int, at: tuple[str | int, ...]) -> Found:
    block = cells.block[0]
    if max(block, dots) % min(block, dots):
        told = f"must be a multiple of the {dots} dots of an access across, or an even part of them"
        yield (*at, "block"), f"{told}, got {block}"
    if mode.colour_bytes > chip.memory.size:
        yield at, f"needs {mode.colour_bytes} bytes of memory, which has {chip.memory.size}"


def _text(chip: Chip, mode: TextMode, at: tuple[str | int, ...]) -> Found:
    if mode.margin is not None and mode.margin >= chip.palette.entries:
        yield (*at, "margin"), f"must be an entry, 0 to {chip.palette.entries - 1}, got {mode.margin}"
    if mode.left >= chip.frame.narrowest:
        sizes = " at each of its sizes" if len(chip.frame.sizes) > 1 else ""
        yield (*at, "left"), f"must be a dot of the picture{sizes}, 0 to {chip.frame.narrowest - 1}, got {mode.left}"


def _ladder(chip: Chip, ladder: tuple[Rung, ...], at: tuple[str | int, ...]) -> Found:
    known = chip.source_names[1:]
    for number, rung in enumerate(ladder):
        if rung.source not in known:
            yield (
                (*at, number, "source"),
                f"must be one of {', '.join(known)}, got {shown(rung.source)}{meant(rung.source, known)}",
            )
            continue
        if rung.when is None:
            continue
        fields = _fields_of(chip, rung.source)
        if rung.when.field not in fields:
            has = ", ".join(fields) or "none"
            yield (*at, number, "when"), f"must name a field of {rung.source} ({has}), got {shown(rung.when.field)}"
        elif rung.when.number > fields[rung.when.field]:
            top = fields[rung.when.field]
            yield (*at, number, "when"), f"{rung.when.field} is 0 to {top}, got {rung.when.number}"


def _fields_of(chip: Chip, source: str) -> dict[str, int]:
    """The fields that a condition on ``source`` can name, each with its largest value in any of the source's modes."""
    if source == "sprites" and chip.sprites:
        return {name: bits.top for name, bits in chip.sprites.fields.layout.items()}
    fields: dict[str, int] = {}
    for mode in chip.layer(source).modes:
        for name, bits in mode.asked.items():
            fields[name] = max(fields.get(name, 0), bits.top)
    return fields


def _sprites(chip: Chip) -> Found:
    sprites = chip.sprites
    if sprites is None:
        if chip.collisions is not None:
            yield ("collisions",), "needs a chip with sprites"
        return
    yield from _sprite_dots(chip, sprites)
    yield from _sprite_places(sprites)
    if sprites.table == "memory":
        yield from _sprite_table(chip, sprites)


def _sprite_dots(chip: Chip, sprites: SpritesTable) -> Found:
    """What a sprite's pattern holds, and how its values become entries."""
    fields, top = sprites.fields, (1 << sprites.bits_per_dot) - 1
    for message in _rule(chip, sprites.entries, top, field_top(fields.bank)):
        yield ("sprites", "entries"), message
    if sprites.transparent is not None and sprites.transparent > top:
        yield ("sprites", "transparent"), f"must be a value, 0 to {top}, got {sprites.transparent}"
    sizes = 1 + field_top(fields.size)
    if len(sprites.sizes) != sizes:
        told = f"must name one for each value of the size field, {sizes}, got {len(sprites.sizes)}"
        yield ("sprites", "sizes"), told
    yield from _sprite_rows(chip, sprites)


def _sprite_rows(chip: Chip, sprites: SpritesTable) -> Found:
    """Where a sprite's rows lie: none astride accesses, all at multiples of what they are read by."""
    width, listed = chip.memory.bytes_per_access, isinstance(sprites.pattern_bytes, tuple)
    for number, one in enumerate(sprites.patterns):
        if not one.fits(width) and (sprites.tiles is None or not number):
            told = f"must have rows of whole accesses of {width} bytes or of an even part of one"
            at = ("sizes", number) if sprites.tiles is None else ("tiles", "size")
            yield ("sprites", *at), f"{told}, got {one.row_bytes} bytes"
        if listed and one.step % one.part:
            told = f"must be a multiple of {one.part} for rows of {one.row_bytes} bytes"
            yield ("sprites", "pattern_bytes", number), f"{told}, got {one.step}"
    step, aligned = sprites.patterns[0].step, sprites.alignment
    if not listed and step % aligned:
        widest = max(one.row_bytes for one in sprites.patterns)
        what = "the widest row, " if widest == aligned else "the largest power of two in a row's bytes, "
        yield ("sprites", "pattern_bytes"), f"must be a multiple of {what}{aligned}, got {step}"


def _sprite_places(sprites: SpritesTable) -> Found:
    """Where a sprite can stand."""
    fields = sprites.fields
    if bool(sprites.x_bias) != (fields.x_bias is not None):
        given = f"{sprites.x_bias} dots and field {fields.x_bias}"
        yield ("sprites", "x_bias"), f"needs both dots above 0 and a field x_bias, or neither; got {given}"
    for axis, wraps, field, extent in (("x", sprites.wrap_x, fields.x, 0), ("y", sprites.wrap_y, fields.y, 1)):
        most = max(size[extent] for size in sprites.sizes)
        if wraps and field.top + 1 < most:
            told = f"the field {axis} must count to at least {most}, got {field.top + 1}"
            yield ("sprites", f"wrap_{axis}"), told


def _sprite_table(chip: Chip, sprites: SpritesTable) -> Found:
    """A sprite table in memory."""
    width, size = chip.memory.bytes_per_access, sprites.record_bytes * sprites.count
    if sprites.record_bytes % width:
        yield ("sprites", "record_bytes"), f"in memory must be a multiple of {width}, got {sprites.record_bytes}"
    if size > chip.memory.size:
        yield ("sprites",), f"the table needs {size} bytes of memory, which has {chip.memory.size}"


_SHAPE = {"frame", "memory", "palette", "layers", "sprites"}

CHECKS: tuple[tuple[Callable[[Chip], Found], AbstractSet[str]], ...] = (
    (_backdrop, {"frame", "palette"}),
    (_names, {"layers"}),
    (_modes, {"frame", "memory", "palette", "layers", "sprites"}),
    (_ladders, {"layers", "ladder", "sprites"}),
    (_sprites, {"memory", "palette", "sprites", "collisions"}),
    (_cpu_side, _SHAPE | {"registers", "constants", "ports", "status", "collisions"}),
    (check_time, {"frame", "memory", "layers", "sprites", "time"}),
)
"""Everything that tables must agree on, in the order of the file, and the tables that each hangs on."""
