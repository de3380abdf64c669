"""The whole engine on one screen: state in, lines out.

Law: pure. A frame is drawn in one pass over arrays: resolve time, draw each layer, prepare sprites, compose, colour. However
the lines are cut into calls, the joined results and the state afterwards are the same; a frame that could have more dots of
sprites than are held at once is drawn in such cuts. Not so with a rule, which may want to see it whole, nor with planes of a
layer in a line buffer, as of the line after a cut they could not say what fed it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from ..door.telling import tell_lines
from ..state.state import State
from ..state.writes import Write
from .frame import COLLISIONS, DROPS, MOST_COLLISIONS, Log, Result
from .join import join
from .ladder import Rule, Winners, compose, place_sprites, ruled, sources_of
from .passes import Pass, settle, untimed
from .plan import Plan, rgbx
from .ports import Clear, Touched, decode, raised, settle_flags
from .slots.timed import TimedPasses, refuse_missed
from .sprites.collisions import Collided, collide
from .standing import colours as colours_over_time
from .standing import planes as each_alone
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
    plan = plan.of(state)
    last = _checked_end(plan, state, last, trace=trace)
    program = writes if isinstance(writes, Program) else Program(plan, writes)
    buffered = plan.server is not None and bool(plan.server.layers_ahead)
    if rule is not None or (planes and buffered) or last - state.line <= plan.lines_at_once:
        room = MOST_COLLISIONS
        return _drawn(plan, state, program, last, rule, room=room, planes=planes, damage=damage, trace=trace)
    before = state.copy()
    try:  # of one pass the state changes at its end alone; of several it has changed with each
        result = join(_in_cuts(plan, state, program, last, planes=planes, trace=trace))
        if not damage:
            refuse_missed(plan, result.first, result.missed)  # of all lines, as though they were drawn in one
    except BaseException:  # Ctrl-C too must not leave a Machine in the middle of a frame
        state.become(before)
        raise
    return result


def _in_cuts(plan: Plan, state: State, program: Program, last: int, *, planes: bool, trace: bool) -> list[Result]:
    """The lines in as many passes as it takes to hold few dots of sprites at once; what comes too late shows."""
    parts: list[Result] = []
    room = MOST_COLLISIONS
    for end in (*range(state.line + plan.lines_at_once, last, plan.lines_at_once), last):
        tell_lines(state.frame, state.line, last)
        parts.append(_drawn(plan, state, program, end, None, room=room, planes=planes, damage=True, trace=trace))
        room -= len(parts[-1].collisions)
    return parts


def _drawn(
    plan: Plan,
    state: State,
    program: Program,
    last: int,
    rule: Rule | None,
    *,
    room: int,
    planes: bool,
    damage: bool,
    trace: bool,
) -> Result:
    """What ``draw`` says, in one pass; of the collisions at most ``room`` are listed."""
    program = program.between(plan, state.line, last)
    # Copies, which take the state's place at the end: where a fetch is refused the state is as it was.
    ports = [list(port) for port in state.ports]
    held, clears = dict(state.held), list[Clear]()
    if program.by_byte or (held and program.by_field):  # a field that is set lets go of bits that are held
        decoded, clears = decode(plan.chip, state, ports, held, program.writes)
        program = Program(plan, decoded)
    timeline = Timeline(plan, state, program, min(state.line, plan.height), min(last, plan.height))
    if plan.server is None:
        lying = untimed(plan, timeline, fields=rule is not None)
    else:
        timed = TimedPasses(plan, state, timeline, program, last)
        lying = timed.run(fields=rule is not None, damage=damage, traced=trace)
    border = _bottom_border(plan, state, program, last)
    result, touched = _result(plan, state.frame, timeline, lying, rule, border, room=room, planes=planes)
    if plan.chip.status is not None:  # a copy takes a hundredth of a frame
        result = replace(result, raised=raised(plan, state, program, result, touched, last))
    # Nothing above changes the state: what is drawn, the border and the flags all ask for it as the lines began.
    state.ports, state.held = ports, held
    settle_flags(plan.chip, state, result, touched, clears)
    settle(plan, state, program, lying, last)
    return result


def _checked_end(plan: Plan, state: State, last: int | None, *, trace: bool) -> int:
    """The line before which drawing ends. Raises ValueError where it cannot, or where a trace cannot be had."""
    end = plan.chip.frame.lines_per_frame
    last = end if last is None else last
    if not state.line <= last <= end:
        raise ValueError(f"lines to be drawn end at {state.line} to {end}, got {last}")
    if trace and plan.server is None:
        raise ValueError(f"a trace needs a chip with a time table; {plan.chip.name} has none")
    return last


def _bottom_border(plan: Plan, state: State, program: Program, last: int) -> Rgb:
    """The backdrop's colour on the lines of the bottom border that are among the lines to be drawn, uint8 (lines, 3)."""
    top, bottom = max(state.line, plan.height), min(last, plan.height + plan.chip.frame.border.bottom)
    if top >= bottom:
        return np.empty((0, 3), np.uint8)
    return _Painter(plan, Timeline(plan, state, program, top, bottom)).edge()


def _result(
    plan: Plan, frame: int, timeline: Timeline, lying: Pass, rule: Rule | None, border: Rgb, *, room: int, planes: bool
) -> tuple[Result, Touched]:
    """The Result of what lies on the lines: who shows, in which colour, who collides; and what of it raises flags."""
    if not timeline.lines:
        return _nothing(plan, frame, timeline, lying, border), Collided().touched
    paint = _Painter(plan, timeline)
    winners, collided = _by_ladder(plan, timeline, lying, room)
    source, alone = _through(plan.source_of_rung, winners.rung), {}
    if rule is not None or planes:
        sources = sources_of(plan, timeline, lying.layers, lying.shown, source, paint)
        if planes:
            alone = each_alone(plan, timeline, lying, sources)
        if rule is not None:
            winners = ruled(plan, timeline, sources, rule, lying.shown)
    result = Result(
        frame=frame,
        first=timeline.first,
        indices=timeline.to_lines(winners.entry),
        rgb=timeline.to_lines(paint(winners.entry) if winners.rgb is None else winners.rgb),
        source=timeline.to_lines(source if winners.source is None else winners.source),
        rung=timeline.to_lines(winners.rung),
        sprite=timeline.to_lines(winners.sprite),
        log=Log(plan.clients, lying.counts, lying.found, lying.drawn, timeline.first),
        drops=lying.drops,
        collisions=collided.records,
        collisions_left_out=collided.left_out,
        collision_flags=collided.flags,
        collision_groups=collided.groups,
        border_rgb=np.concatenate([paint.edge(), border]),
        size=(plan.width, plan.height),
        sources=plan.chip.source_names,
        rungs=winners.rungs,
        planes=alone,
        colours=colours_over_time(paint.tables(), timeline) if planes else None,
        **_timing(lying),
    )
    return result, collided.touched


def _by_ladder(plan: Plan, timeline: Timeline, lying: Pass, room: int) -> tuple[Winners, Collided]:
    """Who shows at each dot by the ladder, and who collides."""
    winners, collided = compose(plan, lying.layers, lying.ladder_of_row, timeline.control("backdrop")), Collided()
    if lying.shown is not None:
        hidden = place_sprites(plan, timeline, lying.shown, lying.ladder_of_row, winners)
        if plan.chip.collisions is not None:
            counted = plan.chip.collisions.hidden_dots
            collided = collide(plan, timeline, lying.shown, None if counted else hidden, room)
    return winners, collided


def _timing(lying: Pass) -> dict[str, Any]:
    """What a Result says of time."""
    return {name: getattr(lying, name) for name in ("missed", "slots", "transfers", "trace")}


class _Painter:
    """Colours of entries on the timeline's rows, each row by its own version of the palette."""

    def __init__(self, plan: Plan, timeline: Timeline) -> None:
        self.timeline = timeline
        self.words = rgbx(plan, timeline.palettes)

    def __call__(self, entries: npt.NDArray[Any]) -> Rgb:
        """The colours of a plane of entries, uint8 (rows, dots, 3)."""
        return self._colours(entries, self.timeline.palette_of_row)

    def edge(self) -> Rgb:
        """The backdrop's colour at the first dot of each line, uint8 (lines, 3)."""
        rows, version = self.timeline.row_of_line, self.timeline.palette_of_row
        backdrop = self.timeline.control("backdrop")[rows]
        return self._colours(backdrop[:, None], None if version is None else version[rows])[:, 0]

    def tables(self) -> Rgb:
        """Red, green and blue of each entry, uint8 (versions, entries, 3)."""
        return self._channels(self.words)

    def _colours(self, entries: npt.NDArray[Any], version: npt.NDArray[np.int64] | None) -> Rgb:
        if version is None:
            return self._channels(self.words[0].take(entries, mode="clip"))  # none is out of range: saves a look
        begins = version * self.words.shape[1]
        return self._channels(self.words.reshape(-1).take(entries + begins[:, None]))

    @staticmethod
    def _channels(words: npt.NDArray[np.uint32]) -> Rgb:
        """The first three bytes of each word; a view."""
        channels: Rgb = words.view(np.uint8).reshape(*words.shape, 4)[..., :3]
        return channels


def _through(table: npt.NDArray[np.uint8], plane: npt.NDArray[np.uint8]) -> npt.NDArray[np.uint8]:
    """``table`` (256,) at each value of ``plane``. Takes half the time of ``take``, which widens all values first."""
    return np.frombuffer(bytearray(plane).translate(table.tobytes()), np.uint8).reshape(plane.shape)


def _nothing(plan: Plan, frame: int, timeline: Timeline, lying: Pass, border: Rgb) -> Result:
    """The Result of lines of which none belongs to the picture."""
    empty = np.empty((0, plan.width), np.uint8)
    none = np.zeros(0, np.int64)
    return Result(
        frame=frame,
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
        border_rgb=border,
        size=(plan.width, plan.height),
        sources=plan.chip.source_names,
        rungs=plan.rungs,
        **_timing(lying),
    )
