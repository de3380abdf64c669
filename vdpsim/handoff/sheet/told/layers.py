"""Layers and their modes, the palette, and the ladders in words.

Law: sizes in bytes and accesses are those of ``chip/``; what a chip's file leaves out is told as what it then means.
"""

from __future__ import annotations

from collections.abc import Iterator

from ....chip.controls import controls, has_cell_bank
from ....chip.line.clients import costs_of
from ....chip.model import AnyMode, BitmapMode, Chip, Entries, Layer, Rung, TilesMode
from ....chip.tables.modes import SurfaceMode
from ..parts import Grid, Part, Points, Section, Words
from .features import shape
from .wording import by, listed, plain

RULE = (
    "A dot's value becomes an entry: base + bank x bank step + value x value step. In text, and where a cell gives two colours, "
    "the value is a colour number."
)
"""How a value becomes an entry."""


def layers(chip: Chip) -> Section:
    """The section of the layers and their modes."""
    return Section("Layers", tuple(_layers(chip)))


def _layers(chip: Chip) -> Iterator[Part]:
    for number, layer in enumerate(chip.layers):
        head = ("mode", "shows", "bytes", "bytes of a pattern", "accesses a group", "moves", "at its edges")
        rows = tuple(_mode(chip, number, place, mode) for place, mode in enumerate(layer.modes))
        yield Grid(f"Layer {layer.name}", head, rows, (2, 3))
        if told := list(_said(layer)):
            yield Points(tuple(told))


def _mode(chip: Chip, layer: int, place: int, mode: AnyMode) -> tuple[str, ...]:
    costs = ", ".join(f"{count} of {what}" for what, count in costs_of(chip)[layer][place].costs.items())
    pattern = None if isinstance(mode, BitmapMode) else mode.pattern_bytes
    told = f"{costs}, for {costs_of(chip)[layer][place].size} dots"
    return mode.name, shape(mode), plain(mode.map_bytes), plain(pattern), told, _moves(mode), _edges(mode)


def _moves(mode: AnyMode) -> str:
    axes = [name for name, moves in (("x", mode.scrolls("x")), ("y", mode.scrolls("y"))) if moves]
    return f"scrolls in {listed(axes)}" if axes else "stands still"


def _edges(mode: AnyMode) -> str:
    if isinstance(mode, SurfaceMode):
        outside = "nothing shows" if mode.outside is None else f"entry {mode.outside} shows"
        return "goes on from the other edge" if mode.wrap else f"{outside} beyond"
    margin = "nothing" if mode.margin is None else f"entry {mode.margin}"
    return f"{margin} in the margins; {mode.left} dots at the left"


def _said(layer: Layer) -> Iterator[str]:
    """What holds for single modes alone."""
    for mode in layer.modes:
        if isinstance(mode, TilesMode) and mode.pages != (1, 1):
            order = "column by column" if mode.page_order == "columns" else "row by row"
            yield f"{mode.name}: {by(mode.pages)} pages of {by(mode.page)} cells, {order}."
        if isinstance(mode, TilesMode) and mode.cell_order == "columns":
            yield f"{mode.name}: the cells of a page lie column by column."
        if isinstance(mode, BitmapMode) and mode.colours is not None:
            yield f"{mode.name}: {by(mode.blocks)} colour cells, {plain(mode.colour_bytes)} bytes."
        if isinstance(mode, BitmapMode) and mode.stride is not None:
            yield f"{mode.name}: {plain(mode.stride)} bytes from a line to the next."
        if mode.double != (1, 1):
            yield f"{mode.name}: each dot shows {mode.double[0]} wide and {mode.double[1]} high."
        if mode.origin == "zone":
            yield f"{mode.name}: its line 0 lies at the top of the zone where it shows."
        if mode.exclusive is not None:
            yield f"{mode.name}: where it shows, {_off(mode)}."


def _off(mode: AnyMode) -> str:
    assert mode.exclusive is not None
    return (
        f"{listed(mode.exclusive)} {'is' if len(mode.exclusive) == 1 else 'are'} switched off"
        if mode.exclusive
        else "no layer is switched off"
    )


# Colours


def palette(chip: Chip) -> Section:
    """The section of the palette, and of how values become its entries."""
    table = chip.palette
    told = f"{plain(table.entries)} entries of {table.word_bits} bits, which all sources share"
    head = ("source", "base", "bank step", "value step", "bank", "shows nothing")
    return Section(
        "Palette",
        (
            Words(f"{told}, in banks of {plain(table.bank_size)}."),
            Words(RULE),
            Grid("How values become entries", head, tuple(_rules(chip)), (1, 2, 3)),
        ),
    )


def _rules(chip: Chip) -> Iterator[tuple[str, ...]]:
    nothing = {name: told.replace(" (left out)", "") for name, told in chip.transparency.items()}
    for layer in chip.layers:
        for mode in layer.modes:
            name = f"{layer.name}.{mode.name}"
            held = f"{layer.name}.bank" if f"{layer.name}.bank" in controls(chip) else "0"
            bank = "in the cell" if has_cell_bank(mode) else held
            yield name, *_rule(chip, mode.entries), bank, _value(nothing[name])
    if chip.sprites is not None:
        bank = "in the record" if chip.sprites.fields.bank else "0"
        yield "sprites", *_rule(chip, chip.sprites.entries), bank, _value(nothing["sprites"])


def _rule(chip: Chip, entries: Entries) -> tuple[str, ...]:
    return tuple(map(plain, chip.entry_rule(entries)))


def _value(told: str) -> str:
    return "no value" if told == "none" else f"value {told}"


# Ladders


def ladders(chip: Chip) -> Section:
    """The section of the ladders, from the front."""
    first = "From the front to the back: the first that shows at a dot is what is seen there."
    parts: list[Part] = [Words(first), _ladder(chip, chip.ladder)]
    for layer in chip.layers:
        for mode in layer.modes:
            if mode.ladder is not None:
                parts += [
                    Words(f"Where {layer.name} shows its mode {mode.name} ({_off(mode)}):"),
                    _ladder(chip, mode.ladder),
                ]
    if chip.sprites is not None:
        settle = {
            "before the ladder": "Sprites settle among themselves first: at each dot the ladder sees one of them.",
            "rung by rung": "Sprites settle among themselves on each of their rungs.",
        }
        parts.append(Words(settle[chip.sprites.resolve]))
    return Section("Ladder", tuple(parts))


def _ladder(chip: Chip, rungs: tuple[Rung, ...]) -> Points:
    return Points(
        (*(_rung(rung) for rung in rungs), f"the backdrop, entry {chip.frame.backdrop} at reset"), ordered=True
    )


def _rung(rung: Rung) -> str:
    what = "sprites" if rung.source == "sprites" else f"layer {rung.source}"
    if rung.when is None:
        return what
    where = "record" if rung.source == "sprites" else "cell"
    return f"{what}, where {rung.when} in the {where}"
