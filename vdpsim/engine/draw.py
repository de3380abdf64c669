"""The whole engine on one screen: state in, lines out.

Law: pure. A frame is drawn in one pass over arrays: resolve time, draw each layer, prepare sprites, compose, colour. However
the lines are cut into calls, the joined results and the state afterwards are the same; a frame that could have more dots of
sprites than are held at once is drawn in such cuts. Not so with a rule, which may want to see it whole, nor with planes of a
layer in a line buffer, as of the line after a cut they could not say what fed it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from ..state.state import State
from ..state.writes import Write
from .flags import Clear, raised, settle_flags
from .frame import COLLISIONS, DROPS, MOST_COLLISIONS, Fed, Log, Plane, Result, Standing
from .join import join
from .ladder import Rule, Sources, compose, place_sprites, ruled, sprite_plane
from .passes import Pass, untimed
from .plan import Plan, rgbx
from .ports import decode
from .settle import settle
from .slots.timed import Timed, refuse_missed
from .sprites.collisions import Collided, collide
from .standing import colours as colours_over_time
from .standing import fed, layer_standing, sprite_standing
from .timeline import Program, Timeline

Rgb = npt.NDArray[np.uint8]


def draw(
    plan: Plan,
    state: State,
    writes: Program | Iterable[Write] = (),
    last: int | None = None,
    rule: Rule | None = None,
    *,
    planes: bool = False,
    damage: bool = False,
    trace: bool = False,
) -> Result:
    """Draw the lines from ``state.line`` up to but not including ``last`` (None: to the frame's end).

    ``writes`` are this frame's timed writes; those on other lines are left alone. ``state`` is left as it stands before line
    ``last``: at the frame's end, before line 0 of the next frame. The Result has the picture's lines among them, which may
    be none. ``rule`` takes the ladder's place (collisions follow the ladder all the same); ``planes`` keeps each layer and
    the sprites alone. Where the chip has a time table: ``damage`` shows what fetches that come too late do to the picture, and
    ``trace`` keeps every access. Raises ValueError where ``last`` does not follow ``state.line`` or a rule answers wrongly, and
    NotInTimeError, a ValueError, where a fetch comes too late and ``damage`` was not asked for; the state is then as it was.
    """
    end = plan.chip.frame.lines_per_frame
    last = end if last is None else last
    if not state.line <= last <= end:
        raise ValueError(f"lines to be drawn end at {state.line} to {end}, got {last}")
    if trace and plan.server is None:
        raise ValueError(f"a trace needs a chip with a time table; {plan.chip.name} has none")
    program = writes if isinstance(writes, Program) else Program(plan, writes)
    whole = rule is not None or (planes and plan.server is not None and bool(plan.server.layers_ahead))
    if whole or last - state.line <= plan.lines_at_once:
        return _drawn(plan, state, program, last, rule, MOST_COLLISIONS, planes=planes, damage=damage, trace=trace)
    before = state.copy()
    ends = [*range(state.line + plan.lines_at_once, last, plan.lines_at_once), last]
    parts: list[Result] = []
    room = MOST_COLLISIONS
    try:
        for part in ends:
            parts.append(_drawn(plan, state, program, part, None, room, planes=planes, damage=True, trace=trace))
            room -= len(parts[-1].collisions)
        result = join(parts)
        if not damage:
            refuse_missed(plan, result.first, result.missed)  # of all lines, as though they were drawn in one
    except BaseException:
        state.become(before)
        raise
    return result


def _drawn(
    plan: Plan,
    state: State,
    program: Program,
    last: int,
    rule: Rule | None,
    room: int,
    *,
    planes: bool,
    damage: bool,
    trace: bool,
) -> Result:
    """What ``draw`` says, in one pass; of the collisions at most ``room`` are listed."""
    program = program.between(plan, state.line, last)
    ports = [list(port) for port in state.ports]
    clears: list[Clear] = []
    if program.by_port:
        decoded, clears = decode(plan.chip, state, ports, program.writes)
        program = Program(plan, decoded)
    top, bottom = min(state.line, plan.height), min(last, plan.height)
    timeline = Timeline(plan, state, program, top, bottom)
    if plan.server is None:
        lying = untimed(plan, timeline, fields=rule is not None)
    else:
        timed = Timed(plan, state, timeline, program, last)
        lying = timed.run(fields=rule is not None, damage=damage, traced=trace)
    below = _border(plan, state, program, last)
    result, touched = _draw(plan, state, timeline, lying, rule, below, room, planes=planes)
    result = replace(result, raised=raised(plan, state, program, result, touched, last))
    state.ports = ports
    settle_flags(plan.chip, state, result, touched, clears)
    settle(plan, state, program, lying, last)
    return result


def _border(plan: Plan, state: State, program: Program, last: int) -> npt.NDArray[np.uint8]:
    """The backdrop's colour on the lines of the bottom border that are among the lines to be drawn, uint8 (lines, 3)."""
    top, bottom = max(state.line, plan.height), min(last, plan.height + plan.chip.frame.border.bottom)
    if top >= bottom:
        return np.empty((0, 3), np.uint8)
    timeline = Timeline(plan, state, program, top, bottom)
    return _edge(rgbx(plan, timeline.palettes), timeline, timeline.control("backdrop"))


def _draw(
    plan: Plan, state: State, timeline: Timeline, lying: Pass, rule: Rule | None, below: Rgb, room: int, *, planes: bool
) -> tuple[Result, npt.NDArray[np.int64]]:
    """The Result of what lies on the lines: who shows, in which colour, who collides; and what of it raises flags."""
    chip, collided = plan.chip, Collided()
    if not timeline.lines:
        return _nothing(plan, state, timeline, lying, below), collided.touched
    backdrop = timeline.control("backdrop")
    entry, rung = compose(plan, lying.layers, lying.ladder_of_row, backdrop)
    sprite = np.full(rung.shape, -1, np.int16)
    shown = lying.shown
    if shown is not None:
        covers = chip.collisions is not None and not chip.collisions.hidden_dots
        covered = place_sprites(plan, timeline, shown, lying.ladder_of_row, entry, rung, sprite, covered=covers)
        if chip.collisions is not None:
            collided = collide(plan, timeline, shown, covered, room)

    source = plan.source_of_rung.take(rung)
    palettes = rgbx(plan, timeline.palettes)

    def colours(of: npt.NDArray[Any]) -> npt.NDArray[np.uint8]:
        return _colours(palettes, timeline.palette_of_row, of)

    alone = {}
    rungs = plan.rungs
    rgb = None
    if rule is not None or planes:
        sources = _sources(plan, timeline, lying, backdrop, source, colours)
        if planes:
            for number, name in list(enumerate(sources.names))[1:]:
                parts = (sources.entry[number], sources.opaque[number], sources.colours(number))
                told = _explained(plan, timeline, lying, number - 1)
                entries, shows, rgb_alone = (_lines(timeline, part) for part in parts)
                alone[name] = Plane(entries, shows, rgb_alone, *told)
        if rule is not None:
            entry, source, rgb = ruled(sources, rule)
            rung, rungs = np.zeros_like(rung), ("rule",)
            sprites = len(sources.names) - 1 if chip.sprites else -1
            if shown is not None:
                alone_plane = sprite_plane(plan, timeline, shown, len(rung), fields=False)[3]
                sprite = np.where(source == sprites, alone_plane, -1).astype(np.int16)
    rgb = colours(entry) if rgb is None else rgb
    result = Result(
        frame=state.frame,
        first=timeline.first,
        indices=_lines(timeline, entry),
        rgb=_lines(timeline, rgb),
        source=_lines(timeline, source),
        rung=_lines(timeline, rung),
        sprite=_lines(timeline, sprite),
        log=Log(plan.clients, lying.counts, lying.found, lying.drawn, timeline.first),
        drops=lying.drops,
        collisions=collided.records,
        collisions_left_out=collided.left_out,
        collision_flags=int(np.bitwise_or.reduce(collided.touched[:, 2], initial=0)),
        collision_groups=collided.groups,
        border_rgb=np.concatenate([_edge(palettes, timeline, backdrop), below]),
        sources=chip.source_names,
        rungs=rungs,
        planes=alone,
        colours=colours_over_time(_bytes(palettes), timeline) if planes else None,
        **_timing(lying),
    )
    return result, collided.touched


def _explained(plan: Plan, timeline: Timeline, lying: Pass, number: int) -> tuple[Standing, Fed | None]:
    """Where source ``number`` of the layers and the sprites stands on the ladder, and what fed it."""
    if number == len(lying.layers):
        stands, from_where = sprite_standing(plan, timeline, lying.shown, lying.ladder_of_row), None
    else:
        stands = layer_standing(plan, lying.layers, number, lying.ladder_of_row)
        layer = lying.layers[number]
        from_where = layer.fed() if layer.fed else fed(plan, timeline, layer)

    def of_lines(kind: Any, planes: Any) -> Any:
        found = (getattr(planes, name) for name in kind.__dataclass_fields__)
        return kind(*(None if plane is None else _lines(timeline, plane) for plane in found))

    return of_lines(Standing, stands), None if from_where is None else of_lines(Fed, from_where)


def _timing(lying: Pass) -> dict[str, Any]:
    """What a Result says of time."""
    return {name: getattr(lying, name) for name in ("missed", "slots", "transfers", "trace")}


def _colours(palettes: npt.NDArray[np.uint32], version: Any, entries: npt.NDArray[Any]) -> npt.NDArray[np.uint8]:
    """Colours of a plane of entries, uint8 (rows, dots, 3), each row by its own version of the palette."""
    if version is None:
        words = palettes[0].take(entries)
    else:
        words = palettes.reshape(-1).take(entries + (version * palettes.shape[1])[:, None])
    colours: npt.NDArray[np.uint8] = words.view(np.uint8).reshape(*entries.shape, 4)[..., :3]
    return colours


def _bytes(palettes: npt.NDArray[np.uint32]) -> npt.NDArray[np.uint8]:
    """Palettes as red, green and blue of each entry, uint8 (versions, entries, 3)."""
    found: npt.NDArray[np.uint8] = palettes.view(np.uint8).reshape(*palettes.shape, 4)[..., :3]
    return found


def _edge(
    palettes: npt.NDArray[np.uint32], timeline: Timeline, backdrop: npt.NDArray[np.int64]
) -> npt.NDArray[np.uint8]:
    """The backdrop's colour at the first dot of each line, uint8 (lines, 3)."""
    rows = timeline.row_of_line
    version = None if timeline.palette_of_row is None else timeline.palette_of_row[rows]
    return _colours(palettes, version, backdrop[rows][:, None])[:, 0]


def _lines(timeline: Timeline, rows: npt.NDArray[Any]) -> npt.NDArray[Any]:
    """A plane of rows as a plane of lines: each row gives its own dots."""
    if timeline.whole:
        return rows
    out = rows[timeline.row_of_line].copy()
    for row in np.flatnonzero(timeline.left > 0).tolist():
        left, right = int(timeline.left[row]), int(timeline.right[row])
        out[timeline.line[row] - timeline.first, left:right] = rows[row, left:right]
    return out


def _sources(
    plan: Plan,
    timeline: Timeline,
    lying: Pass,
    backdrop: npt.NDArray[np.int64],
    winner: Any,
    colours: Any,
) -> Sources:
    shape = winner.shape
    plain = np.broadcast_to(backdrop[:, None], shape).astype(np.dtype(plan.entry_dtype))
    entry, opaque = [plain], [np.ones(shape, np.bool_)]
    fields: list[Mapping[str, npt.NDArray[Any]]] = [{}]
    for layer in lying.layers:
        entry.append(np.ascontiguousarray(layer.entry))
        opaque.append(np.ascontiguousarray(layer.opaque))
        fields.append(layer.fields)
    if lying.shown is not None:
        of_sprites = sprite_plane(plan, timeline, lying.shown, shape[0], fields=True)
        entry.append(of_sprites[0])
        opaque.append(of_sprites[1])
        fields.append(of_sprites[2])
    names = plan.chip.source_names
    kept = tuple(entry)
    return Sources(names, kept, tuple(opaque), tuple(fields), winner, lambda number: colours(kept[number]))


def _nothing(plan: Plan, state: State, timeline: Timeline, lying: Pass, below: Rgb) -> Result:
    """The Result of lines of which none belongs to the picture."""
    empty = np.empty((0, plan.width), np.uint8)
    none = np.zeros(0, np.int64)
    return Result(
        frame=state.frame,
        first=timeline.first,
        indices=empty.astype(np.dtype(plan.entry_dtype)),
        rgb=np.empty((0, plan.width, 3), np.uint8),
        source=empty,
        rung=empty,
        sprite=empty.astype(np.int16),
        log=Log(plan.clients, np.zeros((0, len(plan.clients)), np.int64), none, none, timeline.first),
        drops=np.empty(0, DROPS),
        collisions=np.empty(0, COLLISIONS),
        collision_flags=0,
        collision_groups=none,
        border_rgb=below,
        sources=plan.chip.source_names,
        rungs=plan.rungs,
        **_timing(lying),
    )
