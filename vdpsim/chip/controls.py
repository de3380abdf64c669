"""What a chip lets be set while it runs, and what its values are called.

Law: the controls follow from the chip's description, in one order, each with its rest value, its largest value and the
step that it counts in. Which of them the CPU can set is for ``registers`` to say; a control that it cannot is wired to
its constant or its rest value. Values are always those of the control (an address in bytes, a line, an entry). Their names are
listed in the order of the numbers that they stand for, from 0. Where a value has a name, its number may stand too, so that a
file that says names serves chips whose numbers differ.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import NamedTuple, TypeVar, cast

from .model import AnyMode, BitmapMode, Chip, Entries, Layer, Mode, SpritesTable, TextMode, TilesMode
from .tables.basics import size_name
from .tables.bits import Bits

NO_NUMBER = -1
"""What a name that is not known stands for: a number that nothing takes."""


Made = TypeVar("Made")

PICTURE_SIZE = "picture_size"
"""The control that chooses among the sizes of the picture, where there are several."""


def number_of(names: Sequence[str], value: int | str) -> int:
    """The number that ``value`` stands for; NO_NUMBER for a text that is none of ``names``."""
    if not isinstance(value, str):
        return value
    return names.index(value) if value in names else NO_NUMBER


def name_of(names: Sequence[str], number: int) -> int | str:
    """What ``number`` is called; the number itself where it has no name."""
    return names[number] if 0 <= number < len(names) else number


def told(names: Sequence[str], number: int) -> str:
    """A number in words: ``1 (picture)``, or ``1`` where it has no name."""
    name = name_of(names, number)
    return f"{number} ({name})" if isinstance(name, str) else str(number)


def choices(names: Sequence[str]) -> str:
    """The names as they stand behind a range of numbers: `` (0 grid, 1 picture)``, or nothing where there are none."""
    return f" ({', '.join(f'{number} {name}' for number, name in enumerate(names))})" if names else ""


class Control(NamedTuple):
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


def largest_value(chip: Chip, mode: AnyMode) -> int:
    """The largest value that goes into the mode's palette rule."""
    if isinstance(mode, TextMode):
        return top_colour(chip, mode)
    if isinstance(mode, BitmapMode) and mode.colours is not None and mode.colours.two:
        return mode.colours.top
    return mode.top_value


def has_cell_bank(mode: Mode) -> bool:
    """Whether the bank comes from the cell, and so not from the layer's register."""
    return cell_bank(mode) is not None


def cell_bank(mode: Mode) -> Bits | None:
    """Which bits of a cell hold the bank; None where cells name none."""
    if isinstance(mode, TilesMode):
        return mode.cell.bank
    return mode.colours.cell.bank if isinstance(mode, BitmapMode) and mode.colours else None


def map_alignment(chip: Chip, mode: Mode) -> int:
    """What the address of the mode's map, bitmap or text cells is a multiple of."""
    cell = mode.cell_bytes if isinstance(mode, TilesMode | TextMode) else 1
    return max(chip.memory.bytes_per_access, cell)


def pattern_alignment(chip: Chip, mode: TilesMode | TextMode) -> int:
    """What the address of the mode's patterns is a multiple of: a tile's power of two, see ``Raster.alignment``, or an access."""
    return max(chip.memory.bytes_per_access, mode.raster.alignment if isinstance(mode, TilesMode) else 1)


def address_names(prefix: str, mode: AnyMode) -> tuple[str, ...]:
    """The controls with the addresses of the patterns, glyphs or bitmap of the mode that ``prefix`` names, LAYER.MODE."""
    if isinstance(mode, TextMode):
        return (f"{prefix}.glyphs",)
    return mode.raster.base_names(prefix, "patterns" if isinstance(mode, TilesMode) else "bitmap")


def sprite_addresses(sprites: SpritesTable) -> tuple[str, ...]:
    """The controls with the addresses of the sprites' patterns."""
    return sprites.patterns[0].raster.base_names("sprites", "patterns")


def controls(chip: Chip) -> Mapping[str, Control]:
    """Every control of ``chip``, by name, in the order that numbers them."""
    return once(chip, "_controls", lambda: MappingProxyType({control.name: control for control in _controls(chip)}))


def once(chip: Chip, name: str, make: Callable[[], Made]) -> Made:
    """What ``make`` makes of a chip, made once: it never changes, and is asked for dozens of times while a scene is loaded."""
    of, kept = vars(chip).get(name, (None, None))
    if of != id(chip):  # never asked, or copied from a chip that was
        kept = make()
        vars(chip)[name] = id(chip), kept
    return cast("Made", kept)


def _controls(chip: Chip) -> Iterator[Control]:
    frame, memory = chip.frame, chip.memory
    yield Control(
        "backdrop", "entry that shows where every rung is transparent", chip.palette.entries - 1, frame.backdrop
    )
    if len(frame.sizes) > 1:
        names = tuple(map(size_name, frame.sizes))
        yield Control(PICTURE_SIZE, "the size of the picture, from the next frame on", len(names) - 1, names=names)
    for layer in chip.layers:
        yield from _layer_controls(chip, layer)
    sprites = chip.sprites
    if sprites:
        width = memory.bytes_per_access
        yield Control("sprites.enable", "1: the sprites are prepared and shown", 1, 1)
        align, about = max(width, sprites.alignment), "address of sprite pattern 0"
        yield from _bases(sprite_addresses(sprites), about, memory.size, align)
        if sprites.table == "memory":
            yield Control("sprites.table", "address of the sprite table", _last(memory.size, width), 0, width)
    if chip.status and chip.status.line is not None:
        yield Control("line_flag", "line at whose dot 0 the line flag is raised", frame.lines_per_frame - 1)


def _layer_controls(chip: Chip, layer: Layer) -> Iterator[Control]:
    frame, size, at = chip.frame, chip.memory.size, layer.name
    yield Control(f"{at}.enable", "1: the layer fetches and shows", 1, 1)
    moving = [mode for mode in layer.modes if isinstance(mode, TilesMode | BitmapMode)]
    across = max((scroll_span(chip, mode)[0] for mode in moving if mode.scrolls("x")), default=0)
    down = max((scroll_span(chip, mode)[1] for mode in moving if mode.scrolls("y")), default=0)
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
        yield Control(f"{at}.split", "first line of the lower zone", frame.tallest, frame.tallest)
    for mode in layer.modes:
        here, align = f"{at}.{mode.name}", map_alignment(chip, mode)
        if isinstance(mode, BitmapMode):
            yield from _bases(address_names(here, mode), "address of the bitmap's first dot", size, align)
            if mode.colours is not None:
                align = max(chip.memory.bytes_per_access, mode.colours.cell_bytes)
                yield Control(f"{here}.colours", "address of the first colour cell", _last(size, align), 0, align)
            continue
        yield Control(f"{here}.map", "address of the first cell", _last(size, align), 0, align)
        align = pattern_alignment(chip, mode)
        if isinstance(mode, TilesMode):
            yield from _bases(address_names(here, mode), "address of pattern 0", size, align)
        else:
            yield Control(f"{here}.glyphs", "address of glyph 0", _last(size, align), 0, align)
            for field in ("foreground", "background"):
                if field not in mode.cell.layout:
                    yield Control(f"{here}.{field}", f"colour number of the {field}", top_colour(chip, mode))


def _bases(names: tuple[str, ...], about: str, size: int, align: int) -> Iterator[Control]:
    """The addresses of a mode's or the sprites' dots: one, or one for each plane."""
    for plane, control in enumerate(names):
        told = f"{about} in plane {plane}" if control.endswith(f".plane_{plane}") else about
        yield Control(control, told, _last(size, align), 0, align)


def scroll_span(chip: Chip, mode: TilesMode | BitmapMode) -> tuple[int, int]:
    """After how many dots and lines a scroll position comes again: a surface that wraps, where it does itself.

    Positions of one that ends at its edges are counted by as many bits as it takes to move it out of the picture on either side.
    """
    if mode.wrap:
        return mode.extent
    (across, down), sizes = mode.extent, chip.frame.every_size
    seen = max(width for width, _ in sizes), max(height for _, height in sizes)
    return 1 << (across + seen[0] - 1).bit_length(), 1 << (down + seen[1] - 1).bit_length()


def _last(size: int, align: int) -> int:
    return (size - 1) // align * align


def field_top(layout: Bits | None) -> int:
    """The largest value of a field that may be missing (then 0)."""
    return layout.top if layout else 0
