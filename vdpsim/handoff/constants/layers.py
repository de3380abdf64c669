"""Constants of the layers: their modes, how their dots lie in memory, and what their groups cost.

Law: modes are numbered through, layer after layer: a table has a number for each of all modes,
NONE where a mode's kind has no such thing. Knows no language.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import accumulate
from typing import Any, NamedTuple

from ...chip.controls import address_names, controls, scroll_span
from ...chip.line.clients import ORDER, mode_costs, of_mode, place_of, places
from ...chip.model import AnyMode, BitmapMode, Chip, Layer, TextMode, TilesMode
from ...chip.tables.modes import DotsMode, SurfaceMode
from .table import NONE, Constant, Item, Section, columns, constant, enumeration, numbers

KINDS = ("tiles", "bitmap", "text")
PLANES = (None, "by row", "by pattern", "apart")
MOST_PLANES = 8


class OneMode(NamedTuple):
    """A mode, its layer and the layer's number, its number in the layer, and the start of its controls' names."""

    mode: AnyMode
    layer: Layer
    number: int
    within: int

    @property
    def prefix(self) -> str:
        """What its controls' names begin with."""
        return f"{self.layer.name}.{self.mode.name}"


def all_modes(chip: Chip) -> list[OneMode]:
    """Every mode of the chip in the order that numbers them."""
    return [
        OneMode(mode, layer, number, within)
        for number, layer in enumerate(chip.layers)
        for within, mode in enumerate(layer.modes)
    ]


def sections(chip: Chip) -> Iterator[Section]:
    """The sections of layers, their modes, what these cost, and where they find their data."""
    order = {name: number for number, name in enumerate(controls(chip))}
    known = all_modes(chip)
    yield Section("Layers", "Layers and their controls.", tuple(_layers(chip, order)))
    yield Section("Modes", "All layers' modes, numbered through.", (*_modes(chip, known), *_surfaces(chip, known)))
    told = "What a group takes: dots that show what the same fetches bring."
    yield Section("What modes fetch", told, tuple(_fetched(chip, known)))
    yield Section(
        "Where modes find their data", "Numbers of controls that hold addresses.", tuple(_addresses(known, order))
    )


def _layers(chip: Chip, order: Mapping[str, int]) -> Iterator[Item]:
    yield constant("layers", len(chip.layers), "layers")
    yield from enumeration(
        "layer", chip.layer_names, "numbers of the layers, in the order in which they are asked who has the say"
    )
    yield numbers(
        "layers source", (chip.source_names.index(name) for name in chip.layer_names), "SOURCE_ ... of the layer"
    )
    firsts = list(accumulate((len(layer.modes) for layer in chip.layers), initial=0))
    yield numbers("layers first mode", firsts[:-1], "number of its first mode")
    yield numbers("layers modes", (len(layer.modes) for layer in chip.layers), "how many modes it has")
    for name in ("enable", "scroll_x", "scroll_y", "bank", "mode", "below", "split"):
        without = "" if name == "enable" else "; -1: it has none, and 0 stands for it"
        told = f"number of its control {name}{without}"
        yield numbers(f"layers {name}", (order.get(f"{layer.name}.{name}") for layer in chip.layers), told)


def _modes(chip: Chip, known: list[OneMode]) -> Iterator[Item]:
    yield from enumeration("kind", KINDS, "kinds of mode")
    yield constant("planes packed", 0, "dots whose bits lie together")
    yield from (Constant(("planes", str(name)), number, "") for number, name in enumerate(PLANES) if number)
    yield constant("modes", len(known), "modes of all layers")
    for number, one in enumerate(known):
        yield Constant(("mode", one.layer.name, one.mode.name), number, "" if number else "numbers of the modes")
    rules = [chip.entry_rule(one.mode.entries) for one in known]
    yield from columns(
        "modes",
        known,
        (
            ("layer", "number of its layer", lambda one: one.number),
            ("kind", "KIND_ ...", lambda one: KINDS.index(one.mode.kind)),
            ("double x", "dots of the picture that each of its dots shows", lambda one: one.mode.double[0]),
            ("double y", "lines of the picture that each of its lines shows", lambda one: one.mode.double[1]),
            ("from zone", "1: its line 0 is the zone's first; 0: the picture's", lambda one: one.mode.origin == "zone"),
            ("first dot low", "1: the leftmost dot is in a byte's low bits", lambda one: one.mode.first_dot == "low"),
            (
                "transparent",
                "value, or of a text colour number, that shows nothing; -1: none",
                lambda one: one.mode.transparent,
            ),
            (
                "exclusive",
                "layers that it switches off, bit l for layer l; -1: it has no say",
                lambda one: _switched(chip, one.mode),
            ),
        ),
    )
    for place, name in enumerate(("base", "bank step", "value step")):
        yield numbers(
            f"modes {name}",
            (rule[place] for rule in rules),
            "entry = base + bank x bank step + value x value step" if not place else "",
        )
    for what in ORDER:
        told = (
            f"number of the place at which {what} are fetched; -1: none"
            if what != "bitmap"
            else "the same for a bitmap's dots"
        )
        yield numbers(f"modes place {what}", (_place(chip, one, what) for one in known), told)


def _switched(chip: Chip, mode: AnyMode) -> int | None:
    if mode.exclusive is None:
        return None
    return sum(1 << chip.layer_names.index(name) for name in set(mode.exclusive))


def _place(chip: Chip, one: OneMode, what: str) -> int | None:
    if chip.time is None or what not in of_mode(one.mode):
        return None
    return list(places(chip)).index(place_of(chip, one.layer, one.within, what))


def _surfaces(chip: Chip, known: list[OneMode]) -> Iterator[Item]:
    def of(kind: type[Any], find: Any) -> Any:
        return lambda one: find(one.mode) if isinstance(one.mode, kind) else None

    access = chip.memory.bytes_per_access
    yield from columns(
        "modes",
        known,
        (
            ("bits per dot", "bits of a dot's value", lambda one: one.mode.bits_per_dot),
            ("planes", "PLANES_ ...; -1: a text", of(DotsMode, lambda mode: PLANES.index(mode.planes))),
            ("scrolls x", "1: it follows the layer's scroll_x", of(SurfaceMode, lambda mode: mode.scrolls("x"))),
            ("scrolls y", "1: it follows the layer's scroll_y", of(SurfaceMode, lambda mode: mode.scrolls("y"))),
            ("wraps", "1: the surface goes on from its other edge", of(SurfaceMode, lambda mode: mode.wrap)),
            (
                "outside",
                "entry beyond the edges of one that does not wrap; -1: nothing shows",
                of(SurfaceMode, lambda mode: mode.outside),
            ),
            ("extent x", "E: dots of the picture that the surface takes", of(SurfaceMode, lambda mode: mode.extent[0])),
            ("extent y", "F: lines of the picture that it takes", of(SurfaceMode, lambda mode: mode.extent[1])),
            (
                "span x",
                "dots after which a scroll position comes again: E, or M where it does not wrap",
                of(SurfaceMode, lambda mode: scroll_span(chip, mode)[0]),
            ),
            ("span y", "lines after which one does: F, or N", of(SurfaceMode, lambda mode: scroll_span(chip, mode)[1])),
            (
                "cell bytes",
                "bytes of a cell",
                lambda one: None if isinstance(one.mode, BitmapMode) else one.mode.cell_bytes,
            ),
            ("tile x", "dots of a tile or glyph across", lambda one: _tile(one.mode)[0]),
            ("tile y", "lines of a tile or glyph", lambda one: _tile(one.mode)[1]),
            ("page x", "cells of a page across", of(TilesMode, lambda mode: mode.page[0])),
            ("page y", "cells of a page down", of(TilesMode, lambda mode: mode.page[1])),
            (
                "page step x",
                "cells in memory from a page to the one at its right",
                of(TilesMode, lambda mode: mode.steps[0][0]),
            ),
            (
                "page step y",
                "cells in memory from a page to the one below",
                of(TilesMode, lambda mode: mode.steps[0][1]),
            ),
            (
                "cell step x",
                "cells in memory from a cell to the one at its right in its page",
                of(TilesMode, lambda mode: mode.steps[1][0]),
            ),
            (
                "cell step y",
                "cells in memory from a cell to the one below",
                of(TilesMode, lambda mode: mode.steps[1][1]),
            ),
            ("columns", "cells across", lambda one: None if isinstance(one.mode, BitmapMode) else one.mode.columns),
            ("rows", "cells down", lambda one: None if isinstance(one.mode, BitmapMode) else one.mode.rows),
            ("left", "dots of margin before a text's first column", of(TextMode, lambda mode: mode.left)),
            ("margin", "entry of a text's margins; -1: transparent", of(TextMode, lambda mode: mode.margin)),
            (
                "pattern bytes",
                "bytes from a pattern or glyph to the next",
                lambda one: None if isinstance(one.mode, BitmapMode) else one.mode.pattern_bytes,
            ),
            ("row dots", "dots of a pattern's or bitmap's row", of(DotsMode, lambda mode: mode.raster.across)),
            ("row count", "rows of a pattern or bitmap", of(DotsMode, lambda mode: mode.raster.down)),
            ("row bytes", "R: bytes of a row that lie together", of(DotsMode, lambda mode: mode.raster.row_bytes)),
            ("row step", "S: bytes from a row to the next", of(DotsMode, lambda mode: mode.raster.step)),
            (
                "row accesses",
                "accesses of a pattern's row; of a bitmap -1",
                of(TilesMode, lambda mode: mode.raster.row_accesses(access)),
            ),
            (
                "group dots",
                "dots of the bitmap that are fetched together",
                of(BitmapMode, lambda mode: mode.group(access)),
            ),
            (
                "block x",
                "dots of a block that has a colour cell; -1: there are none",
                of(BitmapMode, lambda mode: mode.colours and mode.colours.block[0]),
            ),
            ("block y", "lines of a block", of(BitmapMode, lambda mode: mode.colours and mode.colours.block[1])),
            (
                "colour bytes",
                "bytes of a colour cell",
                of(BitmapMode, lambda mode: mode.colours and mode.colours.cell_bytes),
            ),
        ),
    )


def _tile(mode: AnyMode) -> tuple[int | None, int | None]:
    if isinstance(mode, BitmapMode):
        return None, None
    return mode.tile if isinstance(mode, TilesMode) else mode.glyph


def _fetched(chip: Chip, known: list[OneMode]) -> Iterator[Item]:
    costs = [mode_costs(chip, one.mode) for one in known]
    for what in ORDER:
        told = "of a bitmap's dots, in all planes" if what == "bitmap" else f"of its {what}"
        yield numbers(
            f"modes {what} accesses", (each.costs.get(what) for each in costs), f"accesses {told} for a group; -1: none"
        )
    yield numbers(
        "modes turned accesses",
        (each.turned if isinstance(one.mode, TilesMode) else None for one, each in zip(known, costs, strict=True)),
        "accesses of its pattern for a cell that is turned; -1: of no tiles",
    )
    yield numbers(
        "modes group bytes",
        (_group_bytes(chip, one.mode) for one in known),
        "bytes from a bitmap's group to the next of its line, in planes those of one; -1: no bitmap",
    )


def _group_bytes(chip: Chip, mode: AnyMode) -> int | None:
    if not isinstance(mode, BitmapMode):
        return None
    return mode.group(chip.memory.bytes_per_access) * (1 if mode.planes else mode.bits_per_dot) // 8


def _addresses(known: list[OneMode], order: Mapping[str, int]) -> Iterator[Item]:
    for name, about in (
        ("map", "the first cell's address"),
        ("colours", "the first colour cell's address"),
        ("foreground", "a text's foreground, where its cells have none"),
        ("background", "a text's background, where its cells have none"),
    ):
        yield numbers(
            f"modes {name}", (order.get(f"{one.prefix}.{name}") for one in known), f"control with {about}; -1: none"
        )
    bases = [[order[name] for name in address_names(one.prefix, one.mode)] for one in known]
    yield constant("most planes", MOST_PLANES, "rows of a mode in the table that follows")
    yield numbers(
        "modes bases",
        (control for one in bases for control in (*one, *[NONE] * (MOST_PLANES - len(one)))),
        "mode m, plane p at place m x 8 + p: control with the address of its dots, in planes that are not apart p is 0; -1: none",
    )
