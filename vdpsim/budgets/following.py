"""Kinds of lines of a chip that holds layers in line buffers: what is fetched for a line, and for the one after it.

Law: in the slots of a line the layers that are fetched for it follow from the modes asked for on that line, and those that
are fetched ahead from the modes asked for on the next; the registers are the same, but the next line may lie below another
split. Plain Python. Knows no slot.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import product
from math import prod

from ..chip.clients import buffered
from ..chip.model import BitmapMode, Chip, Layer
from .reach import MOST_KINDS, Kind, kinds, reachable, resolved

Asked = tuple[int | None, int | None]
"""The mode that a layer asks for on a line and on the next, None where it asks for none that matters."""


def all_kinds(chip: Chip) -> list[Kind]:
    """Every kind of line that the registers can bring about, those with most layers first.

    Lines below the picture are among them where a line buffer is filled there. Raises ValueError where there are more choices
    than MOST_KINDS.
    """
    held = [buffered(chip, layer) for layer in chip.layers]
    if not any(held):
        return kinds(chip)
    found: dict[Kind, None] = {}
    for line, asked in lines_asked(chip):
        for pairs in product(*asked):
            here, ahead = (resolved(chip, modes).modes for modes in zip(*pairs, strict=True))
            modes = tuple(two if is_held else one for one, two, is_held in zip(here, ahead, held, strict=True))
            found[Kind(modes, picture=line >= 0)] = None
    return sorted(found, key=lambda kind: (sum(mode is None for mode in kind.modes), str(kind)))


def lines_asked(chip: Chip) -> Iterator[tuple[int, tuple[Sequence[Asked], ...]]]:
    """Each line that is unlike those before it, -1 for the last line below the picture, with what each layer can ask for."""
    frame, can, seen = chip.frame, reachable(chip), set()
    for line in range(-1 if frame.lines_per_frame > frame.height else 0, frame.height):
        follows = (line + 1) % frame.lines_per_frame
        after = follows if follows < frame.height else None
        asked = tuple(tuple(_asked(chip, layer, can, line, after)) for layer in chip.layers)
        if prod(map(len, asked)) > MOST_KINDS:
            raise ValueError(f"{chip.name}: {prod(map(len, asked))} choices of modes, more than {MOST_KINDS}")
        if (line < 0, asked) not in seen:
            seen.add((line < 0, asked))
            yield line, asked


def _asked(chip: Chip, layer: Layer, can: dict[str, range], line: int, after: int | None) -> list[Asked]:
    """What the layer can ask for; of a mode that is not fetched in these slots only what it switches off matters."""
    held = buffered(chip, layer)
    found: set[Asked] = {(None, None)} if 0 in can[f"{layer.name}.enable"] else set()
    if 1 in can[f"{layer.name}.enable"]:
        for here, ahead in _modes(layer, can, line, after, apart=held):
            one = here if line >= 0 else None
            two = ahead if after is not None else None
            found.add((_heard(layer, one), two) if held else (one, _heard(layer, two)))
    return sorted(found, key=str)


def _modes(
    layer: Layer, can: dict[str, range], line: int, after: int | None, *, apart: bool
) -> Iterator[tuple[int, int]]:
    """The modes on a line and on the next. ``apart``: each by itself, for a buffer was filled before registers changed."""
    if len(layer.modes) == 1:
        yield 0, 0
        return
    split, name = can[f"{layer.name}.split"], layer.name
    above, below = can[f"{name}.mode"], can[f"{name}.below"]
    places = (line, line if after is None else after)
    ways = {tuple(at < value for at in places) for value in split}
    here = {mode for way in ways for mode in (above if way[0] else below)}
    for way in ways:
        for ahead in above if way[1] else below:
            yield from (
                (mode, ahead)
                for mode in (here if apart else (ahead,) if way[0] == way[1] else above if way[0] else below)
            )


def _heard(layer: Layer, mode: int | None) -> int | None:
    """The first mode that switches off the same layers; None for one that switches none off."""
    if mode is None or not layer.modes[mode].exclusive:
        return None
    return next(n for n, one in enumerate(layer.modes) if one.exclusive == layer.modes[mode].exclusive)


def is_sure(chip: Chip) -> bool:
    """Whether every kind, with cells kept and not, can come about.

    That is not known where a line buffer may hold a mode that switches others off, or keeps the one row of cells that there is.
    """
    return not any(
        mode.exclusive or (_keeps(chip, layer) and not isinstance(mode, BitmapMode) and mode.rows == 1)
        for layer in chip.layers
        if buffered(chip, layer)
        for mode in layer.modes
    )


def _keeps(chip: Chip, layer: Layer) -> bool:
    cells = chip.time.clients.get(f"{layer.name}.cells") if chip.time else None
    return cells is not None and cells.keep
