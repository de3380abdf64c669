"""The ladder: which source shows at each dot.

Law: the rungs of the ladder in force are asked from front to back; the first whose source shows a dot and whose condition
holds wins; where none does the backdrop shows. Layers are composed as planes, a mask of whole bytes at a time; the few dots
of sprites are then put where their rung stands before the layers' winner. A rule written in Python may take the ladder's place.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from .layers import LayerDots
from .plan import NO_RUNG, Plan, RungPlan
from .sprites.dots import Shown, front_most, rung_of
from .timeline import Timeline

Plane = npt.NDArray[Any]


@dataclass(frozen=True, eq=False, repr=False)
class Sources:
    """What a rule is given: every source on its own, dot by dot, for the rows to be drawn.

    ``names`` by number (0 the backdrop); for each number ``entry`` (rows, width), ``opaque`` bool (rows, width), and
    ``fields`` the cells' or sprites' fields as int64 planes by name. ``winner`` uint8 (rows, width) is the ladder's own answer.
    ``colours(number)`` gives a source's colours, uint8 (rows, width, 3). Sprites stand with their front-most dot.
    """

    names: tuple[str, ...]
    entry: tuple[Plane, ...]
    opaque: tuple[Plane, ...]
    fields: tuple[Mapping[str, Plane], ...]
    winner: npt.NDArray[np.uint8]
    colours: Callable[[int], npt.NDArray[np.uint8]]


@dataclass(eq=False, repr=False)
class Winners:
    """Who shows at each dot, planes of (rows, width): ``entry``, ``rung`` uint8 among ``rungs``, ``sprite`` int16 (-1: none).

    ``source`` uint8 and ``rgb`` uint8 (rows, width, 3) are set where a rule in Python has chosen them.
    """

    entry: Plane
    rung: npt.NDArray[np.uint8]
    sprite: npt.NDArray[np.int16]
    rungs: tuple[str, ...]
    source: npt.NDArray[np.uint8] | None = None
    rgb: npt.NDArray[np.uint8] | None = None


Rule = Callable[[Sources], Any]
"""Sources in; the winner's number at each dot out, uint8 (rows, width), or a pair of that and colours, uint8 (rows, width, 3)."""


def _blend(below: Plane, above: Any, mask: Plane) -> None:
    """``below`` becomes ``above`` where ``mask`` has all bits set, else none; in place.

    Without a branch, so that it always takes the same time: ``np.copyto`` takes 2 times as long where a mask has long runs, and
    200 times as long where its dots alternate by chance.
    """
    difference = below ^ above
    difference &= mask
    below ^= difference


def compose(
    plan: Plan, layers: list[LayerDots], ladder_of_row: npt.NDArray[np.int64], backdrop: npt.NDArray[np.int64]
) -> Winners:
    """The layers' winner at each dot; no sprite is among them yet."""
    shape = (len(backdrop), plan.width)
    entry = np.empty(shape, np.dtype(plan.entry_dtype))
    entry[:] = backdrop.astype(entry.dtype)[:, None]
    rung = np.full(shape, plan.backdrop_rung, np.uint8)
    for number, ladder in enumerate(plan.ladders):
        here = ladder_of_row == number
        if here.all():
            _climb(ladder, layers, slice(None), entry, rung)
        elif here.any():
            rows = np.flatnonzero(here)
            of_rows = entry[rows], rung[rows]
            _climb(ladder, layers, rows, *of_rows)
            entry[rows], rung[rows] = of_rows
    return Winners(entry, rung, np.full(shape, -1, np.int16), plan.rungs)


def _climb(ladder: Sequence[RungPlan], layers: Sequence[LayerDots], rows: Any, entry: Plane, rung: Plane) -> None:
    """Put the layers' dots of ``rows`` into ``entry`` and ``rung`` (changed in place), from the back to the front."""
    for step in reversed(ladder):
        if step.source > len(layers):  # the sprites, which come later
            continue
        layer = layers[step.source - 1]
        met = True if step.when is None else layer.met[step.when]
        if met is False:
            continue
        shown = layer.opaque[rows] if met is True else layer.opaque[rows] & met[rows]
        # True is 1, and -1 has all bits set; ``np.where``, which branches, takes 500 times as long on a mask by chance.
        mask = np.negative(shown.view(np.int8))
        _blend(rung, np.uint8(step.number), mask.view(np.uint8))
        # A signed number keeps all its bits set as it becomes wider.
        wide = mask.view(np.uint8) if entry.itemsize == 1 else mask.astype(np.int16).view(entry.dtype)
        _blend(entry, layer.entry[rows], wide)


def place_sprites(
    plan: Plan,
    timeline: Timeline,
    shown: Shown,
    ladder_of_row: npt.NDArray[np.int64],
    winners: Winners,
) -> npt.NDArray[np.bool_]:
    """Put the sprites' dots into ``winners`` (changed in place) where they stand before the layers.

    Returns which dots of the list layers hide, bool (dots,).
    """
    assert plan.chip.sprites is not None
    kept, dots = shown.kept, shown.dots
    rungs = rung_of(plan, kept)
    at = timeline.in_rows(dots.place)

    own: Plane = rungs[0].take(dots.item)
    if len(plan.ladders) > 1:
        own = rungs[ladder_of_row[at // plan.width], dots.item]
    behind = winners.rung.reshape(-1)
    before: npt.NDArray[np.bool_] = own < behind.take(at)
    if plan.chip.sprites.resolve == "before the ladder":
        seen = (before & dots.front).nonzero()[0]
    else:
        seen = np.flatnonzero(before)
        # From the back rung to the front; within a rung dots stay from back to front. A difference of bytes is a byte,
        # and a stable sort of bytes takes a fourteenth of the time of one of integers.
        seen = seen[np.argsort(NO_RUNG - own[seen], kind="stable")]
        seen = seen[front_most(at[seen], winners.rung.size)[0]]
    where = at.take(seen)
    winners.entry.reshape(-1)[where] = dots.entry.take(seen)
    behind[where] = own.take(seen)
    winners.sprite.reshape(-1)[where] = kept.sprite.take(dots.item.take(seen))
    hidden: npt.NDArray[np.bool_] = ~before
    return hidden


@dataclass(eq=False, repr=False)
class SpritePlane:
    """All sprites on their own with their front-most dots, planes of (rows, width): as ``Sources`` has them.

    ``sprite`` int16: the table number at each dot, -1 for none.
    """

    entry: Plane
    opaque: npt.NDArray[np.bool_]
    fields: dict[str, Plane]
    sprite: npt.NDArray[np.int16]


def sprite_plane(plan: Plan, timeline: Timeline, shown: Shown, rows: int, *, fields: bool) -> SpritePlane:
    """The sprites as a plane of the timeline's ``rows``; ``fields``: with the fields of their records."""
    dots, kept = shown.dots, shown.kept
    shape = (rows, plan.width)
    at = timeline.in_rows(dots.place)
    front = dots.front
    where, item = at[front], dots.item[front]
    entry, opaque = np.zeros(shape, np.dtype(plan.entry_dtype)), np.zeros(shape, np.bool_)
    sprite = np.full(shape, -1, np.int16)
    entry.reshape(-1)[where], opaque.reshape(-1)[where] = dots.entry[front], True
    sprite.reshape(-1)[where] = kept.sprite[item]
    planes = {}
    for name, values in kept.fields.items() if fields else ():
        planes[name] = np.zeros(shape, np.int64)
        planes[name].reshape(-1)[where] = values[item]
    return SpritePlane(entry, opaque, planes, sprite)


def sources_of(
    plan: Plan,
    timeline: Timeline,
    layers: Sequence[LayerDots],
    shown: Shown | None,
    winner: npt.NDArray[np.uint8],
    colours: Callable[[Plane], npt.NDArray[np.uint8]],
) -> Sources:
    """What lies on the timeline's rows as a rule is given it; ``colours`` gives the colours of a plane of entries."""
    shape = winner.shape
    backdrop = timeline.control("backdrop")[:, None]
    entry = [np.broadcast_to(backdrop, shape).astype(np.dtype(plan.entry_dtype))]
    opaque: list[Plane] = [np.ones(shape, np.bool_)]
    fields: list[Mapping[str, Plane]] = [{}]
    for layer in layers:
        entry.append(np.ascontiguousarray(layer.entry))
        opaque.append(np.ascontiguousarray(layer.opaque))
        fields.append(layer.fields)
    if shown is not None:
        sprites = sprite_plane(plan, timeline, shown, shape[0], fields=True)
        entry.append(sprites.entry)
        opaque.append(sprites.opaque)
        fields.append(sprites.fields)
    return Sources(
        names=plan.chip.source_names,
        entry=tuple(entry),
        opaque=tuple(opaque),
        fields=tuple(fields),
        winner=winner,
        colours=lambda number: colours(entry[number]),
    )


def ruled(plan: Plan, timeline: Timeline, sources: Sources, rule: Rule, shown: Shown | None) -> Winners:
    """Ask ``rule`` who wins. Raises ValueError for an answer that does not fit, see ``_check_winner``."""
    answer = rule(sources)
    winner, rgb = answer if isinstance(answer, tuple) else (answer, None)
    winner = np.asarray(winner)
    index = _check_winner(sources, winner)
    if rgb is not None:
        rgb = np.asarray(rgb)
        wanted = (*winner.shape, 3)
        if rgb.shape != wanted or rgb.dtype != np.uint8:
            raise ValueError(f"a rule's colours are uint8 of shape {wanted}, got {rgb.dtype} of shape {rgb.shape}")
    sprite = np.full(winner.shape, -1, np.int16)
    if shown is not None:
        all_sprites = sprite_plane(plan, timeline, shown, len(winner), fields=False).sprite
        sprite = np.where(winner == plan.sprite_source, all_sprites, sprite)
    entry = np.take_along_axis(np.stack(sources.entry), index, axis=0)[0]
    source = winner.astype(np.uint8)
    return Winners(entry, np.zeros_like(source), sprite, ("rule",), source, rgb)


def _check_winner(sources: Sources, winner: Plane) -> npt.NDArray[np.int64]:
    """The numbers of the sources that a rule has chosen, int64 (1, rows, width).

    Raises ValueError where the answer has another shape, names no source, or names one that shows nothing there.
    """
    shape = sources.winner.shape
    if winner.shape != shape or winner.dtype.kind not in "iu":
        raise ValueError(f"a rule answers with integers of shape {shape}, got {winner.dtype} of shape {winner.shape}")
    if winner.size and not (0 <= winner.min() and winner.max() < len(sources.names)):
        raise ValueError(f"a rule names sources 0 to {len(sources.names) - 1}, got {winner.min()} to {winner.max()}")
    index: npt.NDArray[np.int64] = winner.astype(np.int64)[None]
    if not np.take_along_axis(np.stack(sources.opaque), index, axis=0).all():
        raise ValueError("a rule names a source at a dot where that source shows nothing")
    return index
