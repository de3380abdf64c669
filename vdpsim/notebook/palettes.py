"""Palettes in a notebook: a field for each entry, to be pointed at for its number, its word and its colour.

Law: colours are those that the chip makes of its words.
"""

from __future__ import annotations

from collections.abc import Mapping

from ..chip.colour import expand
from ..chip.model import PaletteTable
from ..machine.handles import PaletteWords
from .pieces import heading, swatches


def palette_html(palette: PaletteWords) -> str | None:
    """All entries; None, so that the numbers show, for what was worked out of a palette and is none any more."""
    if palette.table is None:
        return None
    return heading(f"palette of {len(palette):,} entries") + entries(palette.table, dict(enumerate(palette.tolist())))


def entries(table: PaletteTable, words: Mapping[int, int]) -> str:
    """The fields of some entries, by number."""
    colours = []
    for number, word in sorted(words.items()):
        red, green, blue = (expand(bits.get(word), bits.width) for bits in table.layout.values())
        colours.append((f"{number}: 0x{word:X}, #{red:02x}{green:02x}{blue:02x}", (red, green, blue)))
    return swatches(colours)
