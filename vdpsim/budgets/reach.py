"""What a chip's registers let happen on a line of the picture.

Law: a value is reachable where a register can hold it, or where it is wired; nothing is taken from a scene. A *kind* of line
is which mode each layer fetches in its slots once exclusive modes have had their say. Plain Python. Knows no slot.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from math import prod
from typing import NamedTuple

from ..chip.clients import buffered
from ..chip.controls import controls, registers, rest_values
from ..chip.model import AnyMode, BitmapMode, Chip, Layer, TextMode, TilesMode
from ..chip.slots import Stretch, mode_costs

MOST_KINDS = 20_000
"""Choices of modes that are looked through; chips with more are told so."""


class Kind(NamedTuple):
    """Which mode each layer fetches in a line's slots, by number; None where it fetches nothing.

    A layer that a line buffer holds fetches for the line after. ``picture``: the line belongs to the picture.
    """

    modes: tuple[int | None, ...]
    picture: bool = True

    def name(self, chip: Chip) -> str:
        """The kind in words, such as ``near tiles + far text``."""
        shown = [
            f"{layer.name} {layer.modes[mode].name}{' for the next line' if buffered(chip, layer) else ''}"
            for layer, mode in zip(chip.layers, self.modes, strict=True)
            if mode is not None
        ]
        if not self.picture:
            return " + ".join(["below the picture", *shown])
        return " + ".join(shown) or "no layer"


def reachable(chip: Chip) -> dict[str, range]:
    """For every control the values that it can have, in its own units."""
    listed, rest = registers(chip), rest_values(chip)
    found = {}
    for name in controls(chip):
        register = listed.get(name)
        found[name] = range(0, register.top + 1, register.step) if register else range(rest[name], rest[name] + 1)
    return found


def kinds(chip: Chip) -> list[Kind]:
    """Every kind of line of the picture that the registers of a chip without line buffers for layers can bring about.

    Those with most layers come first. Raises ValueError where there are more choices than MOST_KINDS.
    """
    can = reachable(chip)
    open_to = [list(choices(chip, layer, can)) for layer in chip.layers]
    if prod(map(len, open_to)) > MOST_KINDS:
        raise ValueError(f"{chip.name}: {prod(map(len, open_to))} choices of modes, more than {MOST_KINDS}")
    found = {resolved(chip, chosen): None for chosen in product(*open_to)}
    return sorted(found, key=lambda kind: (sum(mode is None for mode in kind.modes), str(kind.modes)))


def choices(chip: Chip, layer: Layer, can: dict[str, range]) -> Iterator[int | None]:
    """The modes that a layer can be in, and None where it can be disabled."""
    enable = can[f"{layer.name}.enable"]
    if 1 in enable:
        yield from sorted(_modes(chip, layer, can))
    if 0 in enable:
        yield None


def _modes(chip: Chip, layer: Layer, can: dict[str, range]) -> set[int]:
    if len(layer.modes) == 1:
        return {0}
    split = can[f"{layer.name}.split"]
    found: set[int] = set()
    if split[-1] > 0:
        found |= set(can[f"{layer.name}.mode"])
    if split[0] < chip.frame.height:
        found |= set(can[f"{layer.name}.below"])
    return found


def resolved(chip: Chip, chosen: Sequence[int | None]) -> Kind:
    """What shows once each layer has had its say, in the chip's order."""
    off: set[str] = set()
    for layer, mode in zip(chip.layers, chosen, strict=True):
        if mode is not None and layer.name not in off:
            off.update(layer.modes[mode].exclusive or ())
    pairs = zip(chip.layers, chosen, strict=True)
    return Kind(tuple(None if layer.name in off else mode for layer, mode in pairs))


def stretches(chip: Chip, layer: Layer, index: int, can: dict[str, range]) -> list[Stretch | None]:
    """Every way in which a layer's mode can fetch for a line in which nothing is written; None: nothing at all.

    Of turned cells only the two ends are among them: all cells turned, and none.
    """
    mode = layer.modes[index]
    if isinstance(mode, TextMode):
        return _text(chip, layer, index, mode)
    size, width = mode_costs(chip, mode).size, chip.frame.width
    fines = _phases(can, f"{layer.name}.scroll_x", size) if mode.scroll else [0]
    found: list[Stretch | None] = []
    keeps = _keeps(chip, layer, mode)
    for fine in fines:
        last = (fine + width - 1) // size
        turns = [b""]
        if isinstance(mode, TilesMode) and mode.cell.turn is not None:
            turns = [b"\x01" * ((width + mode.tile - 2) // mode.tile + 1), b""]
        found += [
            Stretch(index, fine, 0, last, left=0, skip=False, kept=kept, turned=turned)
            for turned in turns
            for kept in keeps
        ]
    return found


def _text(chip: Chip, layer: Layer, index: int, mode: TextMode) -> list[Stretch | None]:
    across, down = mode.glyph
    end = min(chip.frame.width, mode.left + mode.columns * across)
    found: list[Stretch | None] = []
    if end > mode.left:
        last = (end - 1 - mode.left) // across
        found += [
            Stretch(index, -mode.left, 0, last, left=0, skip=False, kept=kept, turned=b"")
            for kept in _keeps(chip, layer, mode)
        ]
    if end <= mode.left or mode.rows * down < chip.frame.height:
        found.append(None)
    return found


def _keeps(chip: Chip, layer: Layer, mode: AnyMode) -> list[bool]:
    if isinstance(mode, BitmapMode) or chip.time is None or not chip.time.clients[f"{layer.name}.cells"].keep:
        return [False]
    return [False, True]


def _phases(can: dict[str, range], name: str, size: int) -> list[int]:
    """The remainders modulo ``size`` of what a control can be, the largest first: most groups are touched there."""
    values = can[name]
    return sorted({value % size for value in values[: size * max(1, values.step)]}, reverse=True)


def most_accesses(chip: Chip) -> tuple[int, tuple[tuple[int, int], ...], int]:
    """The most accesses that a line's sprites can ask for within ``count``, ``per_line`` and ``dots_per_line``.

    Gives the accesses, (size number, how many) of the sprites that ask for them, and of the accesses those of the scan, which
    a table in memory costs before any sprite is found.
    """
    sprites = chip.sprites
    if sprites is None or 1 not in reachable(chip)["sprites.enable"]:
        return 0, (), 0
    scan, rest = scan_costs(chip)
    dearest: dict[int, int] = {}
    for size, (width, _) in enumerate(sprites.sizes):
        dearest.setdefault(width, size)
    width_of_access = chip.memory.bytes_per_access
    cost = {width: max(1, sprites.row_bytes(size) // width_of_access) + rest for width, size in dearest.items()}
    number = min(sprites.count, sprites.per_line or sprites.count)
    dots = sprites.dots_per_line if sprites.dots_per_line is not None else number * max(cost)
    best, chosen = _fill(sorted(cost.items(), reverse=True), number, dots)
    return scan + best, tuple((dearest[width], count) for width, count in chosen), scan


def scan_costs(chip: Chip) -> tuple[int, int]:
    """Accesses of a scan of the table in memory, and those left of a record for a sprite that is drawn; 0, 0 on the chip."""
    sprites = chip.sprites
    if sprites is None or sprites.table == "chip":
        return 0, 0
    width = chip.memory.bytes_per_access
    words = set()
    for name, bits in sprites.fields.layout.items():
        if name in {"y", "size", "enable"}:
            for bit in range(bits.highest + 1):
                if bits.mask >> bit & 1:
                    byte = bit // 8 if chip.memory.byte_order == "little" else sprites.record_bytes - 1 - bit // 8
                    words.add(byte // width)
    return len(words) * sprites.count, sprites.record_bytes // width - len(words)


def _fill(costs: Sequence[tuple[int, int]], number: int, dots: int) -> tuple[int, list[tuple[int, int]]]:
    """The dearest choice of at most ``number`` items and ``dots`` dots, from (dots, cost) of each kind of item.

    There are four widths at most. For a given number of the wider ones the rest is a choice between two, whose cost is
    greatest at an end of what is possible or where number and dots both run out.
    """
    (width, cost), rest = costs[0], costs[1:]
    most = min(number, dots // width)
    if not rest:
        return most * cost, [(width, most)] if most else []
    counts = range(most + 1)
    if len(rest) == 1:
        other = rest[0][0]
        both = (dots - number * other) // (width - other) if width != other else most
        counts = sorted({0, most, *(count for count in (both, both + 1) if 0 <= count <= most)})  # type: ignore[assignment]
    best: tuple[int, list[tuple[int, int]]] = (-1, [])
    for count in counts:
        value, chosen = _fill(rest, number - count, dots - count * width)
        if value + count * cost > best[0]:
            best = value + count * cost, ([(width, count)] if count else []) + chosen
    return best
