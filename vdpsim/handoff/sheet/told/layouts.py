"""How words lie in memory: cells, records, palette entries and dots as bit diagrams, and what each field says.

Law: layouts are those of the chip's file; what a field means is what the description of the file's keys says. Layouts that are
alike stand here once, with all that have them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from ....chip.model import BitmapMode, Chip, Table
from ....chip.tables.bits import Bits
from ....chip.tables.modes import DotsMode
from ....door.shown import counted
from ...drawing.bits import Held, bit_diagram
from ..parts import Grid, Part, Picture, Section, Words
from .wording import listed

_COLOURS = {"red": "how much red", "green": "how much green", "blue": "how much blue"}


@dataclass(frozen=True)
class Word:
    """A packed word: the start of its drawings' names, what it is, its bits, its fields, and what each says."""

    name: str
    what: str
    bits: int
    layout: Mapping[str, Bits]
    says: Mapping[str, str]


def layouts(chip: Chip) -> Section:
    """The section."""
    return Section("Cells, records and colours", tuple(_layouts(chip)))


def _layouts(chip: Chip) -> Iterator[Part]:
    first = "low" if chip.memory.byte_order == "little" else "high"
    told = f"Bit 0 counts least. A word of several bytes lies in memory with its {first} byte first"
    yield Words(f"{told}; ports take an entry of the palette with its low byte first.")
    for number, (words, owners) in enumerate(_alike(_words(chip))):
        yield from _word(words, owners, f"word-{number}")
    for number, (dots, owners) in enumerate(_together(_dots(chip)).items()):
        yield _byte(dots, owners, f"dots-{number}")


def _word(word: Word, owners: list[str], name: str) -> Iterator[Part]:
    held = [Held(field, bits) for field, bits in word.layout.items()]
    caption = f"{word.what} of {listed(owners)}, {word.bits} bits"
    yield Picture(name, bit_diagram(word.what, word.bits, held), f"{caption}.")
    rows = tuple((str(bits), field, word.says[field]) for field, bits in _from_top(word.layout))
    yield Grid(f"Fields: {caption}", ("bits", "field", "what it is"), rows)


def _from_top(layout: Mapping[str, Bits]) -> list[tuple[str, Bits]]:
    return sorted(layout.items(), key=lambda one: -one[1].highest)


def _alike(words: Iterable[tuple[Word, str]]) -> list[tuple[Word, list[str]]]:
    """Each layout once, with the names of all that have it."""
    found: list[tuple[Word, list[str]]] = []
    for word, owner in words:
        for other, owners in found:
            if other == word:
                owners.append(owner)
                break
        else:
            found.append((word, [owner]))
    return found


def _words(chip: Chip) -> Iterator[tuple[Word, str]]:
    """Every packed word of the chip, and whose it is."""
    palette = chip.palette
    yield Word("colour", "Colour word", palette.word_bits, palette.layout, _COLOURS), "a palette entry"
    for layer in chip.layers:
        for mode in layer.modes:
            owner = f"{layer.name}.{mode.name}"
            if isinstance(mode, BitmapMode):
                if mode.colours is not None:
                    cells = mode.colours
                    yield (
                        Word("colours", "Colour cell", 8 * cells.cell_bytes, cells.cell.layout, _says(cells.cell)),
                        owner,
                    )
                continue
            yield Word("cell", "Cell", 8 * mode.cell_bytes, mode.cell.layout, _says(mode.cell)), owner
    if chip.sprites is not None:
        fields = chip.sprites.fields
        yield Word("record", "Record", 8 * chip.sprites.record_bytes, fields.layout, _says(fields)), "a sprite"


def _says(table: Table) -> dict[str, str]:
    """What the description of the chip's file says of each key, without what leaving it out means."""
    keys = type(table).model_fields
    return {name: (field.description or "").partition("; left out")[0] for name, field in keys.items()}


# Dots


@dataclass(frozen=True)
class Dots:
    """How dots lie in a byte: bits of a dot, whether in planes, and whether the leftmost is in its low bits."""

    bits: int
    planes: str | None
    low: bool


def _dots(chip: Chip) -> Iterator[tuple[Dots, str]]:
    for layer in chip.layers:
        for mode in layer.modes:
            planes = mode.planes if isinstance(mode, DotsMode) else None
            yield Dots(mode.bits_per_dot, planes, mode.first_dot == "low"), f"{layer.name}.{mode.name}"
    if chip.sprites is not None:
        sprites = chip.sprites
        yield Dots(sprites.bits_per_dot, sprites.planes, sprites.first_dot == "low"), "sprites"


def _together(dots: Iterable[tuple[Dots, str]]) -> dict[Dots, list[str]]:
    found: dict[Dots, list[str]] = {}
    for one, owner in dots:
        found.setdefault(one, []).append(owner)
    return found


PLANES = {
    "by row": "the planes of a row lie one after another",
    "by pattern": "all rows of a plane lie together, then those of the next plane",
    "apart": "each plane lies at an address of its own",
}
"""What each way to lay planes says."""


def _byte(dots: Dots, owners: list[str], name: str) -> Picture:
    """A byte of a row: which dots it holds, or which bit of which dots."""
    each = 1 if dots.planes else dots.bits
    count = 8 // each
    place = {dot: each * (dot if dots.low else count - 1 - dot) for dot in range(count)}
    held = [Held(f"{dot}", Bits(((low + each - 1, low),))) for dot, low in place.items()]
    told = f"First byte of a row of {listed(owners)}: which dot has which bits, from dot 0 at the left"
    if dots.planes:
        told += f"; in plane p it is bit p of each; {dots.bits} planes, and {PLANES[dots.planes]}"
    title = "Dots in a byte of a plane" if dots.planes else f"Dots in a byte, {counted(dots.bits, 'bit')} each"
    return Picture(name, bit_diagram(title, 8, held), f"{told}.")
