"""A loaded scene: what its chip holds at the start of any frame, and what is written to it during the frame.

Law: a Scene never changes, so that threads may share it; every State it hands out is a fresh copy. Frame f begins with what all
frames before it have written, then motion sets its values; neither costs more the later the frame is.
Knows nothing of how a frame is drawn: where the CPU moves bytes, what they have made of a frame is for the caller to say.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from math import lcm
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple, TypeVar

from ..chip.model import Chip
from ..door.given import instance, whole_number
from ..door.lazy import by_notebook
from ..door.shown import WIDEST
from ..files.problems import Problem
from ..state.enact import enact, put_register
from ..state.state import State
from ..state.writes import Write
from .contents.sprites import Fields, SpriteMaker
from .motion import Motion, RegisterMotion
from .placing.layout import MapRow, printed
from .writes import Draft, SpriteDraft, TimedWrite, settled

if TYPE_CHECKING:
    from .recorded import RecordedWrites


Kind = TypeVar("Kind", bound="Scene")


class SceneParts(NamedTuple):
    """What a Scene is made of, resolved and checked: the state at reset of frame 0, and all that changes it."""

    start: State
    sprites: dict[int, Fields]
    maker: SpriteMaker | None
    table: int | None
    timed: tuple[TimedWrite | RecordedWrites, ...]
    motion: tuple[Motion, ...]


class Scene:
    """What one chip is asked to show; made by :func:`vdpsim.load_scene`."""

    def __init__(
        self,
        *,
        name: str,
        about: str,
        chip: Chip,
        frames: int,
        path: Path,
        layout: Sequence[MapRow],
        sprite_names: Sequence[tuple[str, int]],
        parts: SceneParts,
        warnings: Sequence[Problem] = (),
        text: str = "",
    ) -> None:
        self._name, self._about, self._chip, self._frames, self._path = name, about, chip, frames, path
        self._layout, self._sprite_names, self._parts = tuple(layout), tuple(sprite_names), parts
        self._warnings, self._text = tuple(warnings), text
        self._moves_from = self.moves_next(0)

    def __repr__(self) -> str:
        return f"<Scene {self._name!r} for {self._chip.name}, {self._frames} frames>"

    _repr_html_ = by_notebook("scenes", "scene_html")

    @property
    def name(self) -> str:
        """The scene's name."""
        return self._name

    @property
    def about(self) -> str:
        """Why the scene exists."""
        return self._about

    @property
    def chip(self) -> Chip:
        """The chip that shows it."""
        return self._chip

    @property
    def frames(self) -> int:
        """How many frames it is meant to run, 1 or more."""
        return self._frames

    @property
    def path(self) -> Path:
        """The scene file, as it was asked for."""
        return self._path

    @property
    def layout(self) -> tuple[MapRow, ...]:
        """The memory map in the order of addresses."""
        return self._layout

    @property
    def sprite_names(self) -> dict[str, int]:
        """The sprites' places in the sprite table, by name."""
        return dict(self._sprite_names)

    @property
    def warnings(self) -> tuple[Problem, ...]:
        """What in the file is no mistake and yet hardly meant: a raw file that is shorter than what it is for."""
        return self._warnings

    @property
    def text(self) -> str:
        """The scene file's text, as it was read."""
        return self._text

    def driven(self, path: str | Path) -> Scene:
        """This scene with recorded bus writes: a CSV file of ``frame,line,dot,address,value``, a byte a row.

        They act as port writes do, those of one instant in the order of their rows and after the scene's own. Numbers are in base
        ten, or sixteen with 0x before them. Raises InputError with the mistakes in the file.
        """
        from .recorded import load_recorded  # noqa: PLC0415 - with its reader of CSV it is for few scenes

        parts = self._parts._replace(timed=(*self._parts.timed, load_recorded(path, self._chip)))
        return self.made_as(Scene, parts)

    def made_as(self, kind: type[Kind], parts: SceneParts | None = None) -> Kind:
        """This scene as one of ``kind``, a subclass of Scene that is made as Scene is; with these ``parts``, None for its own."""
        return kind(
            name=self._name,
            about=self._about,
            chip=self._chip,
            frames=self._frames,
            path=self._path,
            layout=self._layout,
            sprite_names=self._sprite_names,
            parts=self._parts if parts is None else parts,
            warnings=self._warnings,
            text=self._text,
        )

    def memory_map(self, width: int = WIDEST) -> str:
        """The memory map as a table to print: first and last address in hex, bytes, owner, and what is free.

        ``width``: columns of a line, 40 and up; owners with longer names go on below.
        """
        return printed(self._layout, self._chip.memory.size, whole_number("width", width, 40))

    @property
    def moves_from(self) -> int | None:
        """The first frame in which the CPU moves bytes, by transfer or by port; None where it never does."""
        return self._moves_from

    def moves_next(self, frame: int) -> int | None:
        """The first frame from ``frame`` on in which the CPU writes bytes, by transfer or by port; None where it never does."""
        found = [timed.first_from(frame) for timed in self._parts.timed if timed.moves]
        return min((one for one in found if one is not None), default=None)

    def rhythm(self, end: int) -> tuple[int, int]:
        """From which frame on, and after how many, all that is written and moves comes again, in the frames before ``end``."""
        found = [timed.rhythm(end) for timed in self._parts.timed]
        found += [motion.course.rhythm() for motion in self._parts.motion]
        period = lcm(*(each for _, each in found))
        return max((first for first, _ in found), default=0) + period, period

    def state(self, frame: int = 0, left: State | None = None) -> State:
        """A fresh State at the start of ``frame`` (0 and up): earlier frames' writes done, motion of this frame applied.

        ``left``: a state that drawing an earlier frame has left, at the start of a frame up to this one; this frame then
        begins with that and what is written in between, not with what the file says. It is wanted for frames after
        ``moves_from``: which bytes have landed by then follows from drawing. What it costs does not grow with ``frame``.
        Raises ValueError for a negative frame, for a frame that follows from drawing without ``left``, and for a ``left`` from
        which it does not follow: in the middle of a frame, or with bytes of the CPU in between.
        """
        frame = whole_number("frame", frame)
        since = 0
        if left is not None:
            since = instance("left", left, State).frame
            if left.line or since > frame:
                raise ValueError(
                    f"left must stand at the start of a frame, 0 to {frame}, got line {left.line} of frame {since}"
                )
        busy = self._busy(since, frame, left)
        if busy is not None:
            raise ValueError(
                f"the CPU of {self._name} moves bytes from frame {busy} on; what has landed by frame {frame} "
                f"follows from drawing: ask Machine.of(scene, {frame}) for it"
            )
        now = (self._parts.start if left is None else left).copy()
        fields = self._fields(frame, now if frame > since else None, since)
        if left is not None:
            now.ahead, now.buffers = None, {}
        self._move(fields, frame, now)
        now.frame = frame
        return now

    def writes(self, frame: int = 0) -> tuple[Write, ...]:
        """The timed writes of ``frame``, in the order of line and dot, then of the file. Raises ValueError for a negative one."""
        frame = whole_number("frame", frame)
        if not self._parts.timed:
            return ()
        fields = self._fields(frame)
        self._move(fields, frame)
        return tuple(self._settled((draft for timed in self._parts.timed for draft in timed.at(frame)), fields))

    def _busy(self, since: int, frame: int, left: State | None) -> int | None:
        """The first frame from ``since`` on and before ``frame`` in which bytes of the CPU are under way; None: there is none."""
        if left is not None and left.waiting and since < frame:
            return since
        found = self.moves_next(since)
        return found if found is not None and found < frame else None

    def _fields(self, frame: int, state: State | None = None, since: int = 0) -> dict[int, Fields]:
        """The sprites' fields as the frames before ``frame`` leave them; ``state`` gets what those from ``since`` on write.

        Of each of the scene's writes only the last of these frames in which it acts matters, since it writes to one place; so
        does motion of this frame alone. A sprite's record that another overwrites may be short of a field; the last is not.
        """
        fields = {number: dict(each) for number, each in self._parts.sprites.items()}
        last: dict[int, list[Draft]] = {}
        for timed in self._parts.timed:
            number = timed.last_before(frame)
            if number is not None and (state is not None or timed.of_sprite):
                last.setdefault(number, []).append(timed.last_at(number))
        for number, drafts in sorted(last.items()):
            if any(isinstance(draft, SpriteDraft) for draft in drafts):
                self._move(fields, number)
            for write in self._settled(drafts, fields):
                if state is not None and number >= since:
                    enact(state, write, waits=())  # the frame is over, so every effect has come
        return fields

    def _move(self, fields: dict[int, Fields], frame: int, state: State | None = None) -> None:
        """Set what moves to its value in ``frame``: the sprites' fields, and all of it in ``state``."""
        parts = self._parts
        for motion in parts.motion:
            if isinstance(motion, RegisterMotion):
                if state is not None:
                    put_register(state, motion.name, motion.course.at(frame))
                continue
            assert parts.maker is not None
            of_one = fields[motion.number]
            of_one.update(parts.maker.fields({motion.field: motion.course.at(frame)}))
            if state is not None:
                put_record(state, parts.table, motion.number, parts.maker.record(of_one))

    def _settled(self, drafts: Iterable[Draft], fields: dict[int, Fields]) -> list[Write]:
        return settled(tuple(drafts), fields, self._parts.maker, self._parts.table)


def put_record(state: State, table: int | None, number: int, record: bytes) -> None:
    """Write a sprite's record where its table lies: at address ``table`` of memory or, for None, on the chip."""
    if table is None:
        state.sprites[number] = list(record)
    else:
        at = table + number * len(record)
        state.memory[at : at + len(record)] = list(record)
