"""A loaded scene: what its chip holds at the start of any frame, and what is written to it during the frame.

Law: a Scene never changes; every State it hands out is a fresh copy. Frame f begins with what all frames before it have
written, then motion sets its values. Knows nothing of how a frame is drawn: where the CPU moves bytes, what they have made
of a frame is for the caller to say.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ..chip.model import Chip
from ..memory import MemoryWrite, PaletteWrite, RegisterWrite, SpriteWrite, State, Write
from .layout import MapRow, printed
from .motion import Motion, RegisterMotion
from .sprites import Fields, SpriteMaker
from .writes import Draft, Timed, settled


@dataclass(frozen=True, eq=False, repr=False)
class Parts:
    """What a Scene is made of, resolved and checked: the state at reset of frame 0, and all that changes it."""

    start: State
    sprites: dict[int, Fields]
    maker: SpriteMaker | None
    table: int | None
    timed: tuple[Timed, ...]
    motion: tuple[Motion, ...]


class _Moment:
    """The start of ``frame``: the state and the sprites' fields, motion not applied yet."""

    def __init__(self, frame: int, state: State, sprites: dict[int, Fields]) -> None:
        self.frame, self.state, self.sprites = frame, state, sprites

    def copy(self) -> _Moment:
        return _Moment(self.frame, self.state.copy(), {number: dict(fields) for number, fields in self.sprites.items()})


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
        parts: Parts,
    ) -> None:
        self._name, self._about, self._chip, self._frames, self._path = name, about, chip, frames, path
        self._layout, self._sprite_names, self._parts = tuple(layout), tuple(sprite_names), parts
        self._latest: _Moment | None = None
        moving = [0 if timed.frames is None else timed.frames.start for timed in parts.timed if timed.moves]
        self._moves_from = min(moving, default=None)

    def __repr__(self) -> str:
        return f"<Scene {self._name!r} for {self._chip.name}, {self._frames} frames>"

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

    def memory_map(self) -> str:
        """The memory map as a table to print: first and last address in hex, bytes, owner, and what is free."""
        return printed(self._layout, self._chip.memory.size)

    @property
    def moves_from(self) -> int | None:
        """The first frame in which the CPU moves bytes, by transfer or by port; None where it never does."""
        return self._moves_from

    def state(self, frame: int = 0, left: State | None = None) -> State:
        """A fresh State at the start of ``frame`` (0 and up): earlier frames' writes done, motion of this frame applied.

        ``left``: the state that drawing the frame before has left; this frame then begins with that, not with what the file
        says. It is wanted for frames after ``moves_from``: which bytes have landed by then follows from drawing. Raises
        ValueError for a negative frame, and for such a frame without ``left``.
        """
        if left is None and self._moves_from is not None and frame > self._moves_from:
            raise ValueError(
                f"the CPU of {self._name} moves bytes from frame {self._moves_from} on; what has landed by frame {frame} "
                f"follows from drawing: ask Machine.of(scene, {frame}) for it"
            )
        now = self._moment(frame)
        if left is not None:
            now.state = left.copy()
            now.state.ahead, now.state.buffers = None, {}
            self._move(now)
        now.state.frame = frame
        return now.state

    def writes(self, frame: int = 0) -> tuple[Write, ...]:
        """The timed writes of ``frame``, in the order of line and dot, then of the file. Raises ValueError for a negative one."""
        return tuple(self._settled(self._moment(frame)))

    def pass_over(self, state: State) -> None:
        """Bring ``state``, at the start of a frame in which no byte of the CPU is under way, to the start of the next."""
        for write in self.writes(state.frame):
            _act(state, write)
        state.frame += 1

    def _moment(self, frame: int) -> _Moment:
        """The start of ``frame``, motion applied; the caller owns it."""
        if frame < 0:
            raise ValueError(f"frame must be 0 or more, got {frame}")
        parts = self._parts
        if not parts.timed:
            now = _Moment(frame, parts.start.copy(), {number: dict(fields) for number, fields in parts.sprites.items()})
            self._move(now)
            return now
        latest = self._latest
        if latest is None or latest.frame > frame:
            latest = _Moment(0, parts.start, parts.sprites)
        latest = latest.copy()
        while latest.frame < frame:
            self._move(latest)
            for write in self._settled(latest):
                _act(latest.state, write)
            latest.frame += 1
        self._latest = latest.copy()
        self._move(latest)
        return latest

    def _move(self, now: _Moment) -> None:
        """Set what moves to its value in this frame."""
        parts = self._parts
        for motion in parts.motion:
            value = motion.course.at(now.frame)
            if isinstance(motion, RegisterMotion):
                now.state.controls[now.state.names.index(motion.name)] = value
                continue
            assert parts.maker is not None
            fields = now.sprites[motion.number]
            fields.update(parts.maker.fields({motion.field: value}))
            put_record(now.state, parts.table, motion.number, parts.maker.record(fields))

    def _settled(self, now: _Moment) -> list[Write]:
        drafts: list[Draft] = [draft for timed in self._parts.timed for draft in timed.at(now.frame)]
        return settled(drafts, now.sprites, self._parts.maker, self._parts.table)


def put_record(state: State, table: int | None, number: int, record: bytes) -> None:
    """Write a sprite's record where its table lies: at address ``table`` of memory or, for None, on the chip."""
    if table is None:
        state.sprites[number] = list(record)
    else:
        at = table + number * len(record)
        state.memory[at : at + len(record)] = list(record)


def _act(state: State, write: Write) -> None:
    """Do ``write`` as it stands once its frame is over: by then every effect has come, the last write of each wins.

    What the CPU moves is left out: see ``Scene.state``.
    """
    if isinstance(write, RegisterWrite):
        state.controls[state.names.index(write.name)] = write.value
    elif isinstance(write, PaletteWrite):
        state.palette[write.entry : write.entry + len(write.words)] = write.words
    elif isinstance(write, SpriteWrite):
        state.sprites.reshape(-1)[write.offset : write.offset + len(write.data)] = list(write.data)
    elif isinstance(write, MemoryWrite):
        state.memory[write.address : write.address + len(write.data)] = list(write.data)
