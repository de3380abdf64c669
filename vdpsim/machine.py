"""A chip that runs: set memory, palette, sprites and registers from Python, and draw frame after frame.

Law: a Machine stands between two lines. What is assigned counts as written at the end of the line before, so a register
that takes effect with the next line does so at once, and one that takes effect with the next frame waits for it (before line
0 it does not have to). Drawing is the engine's; this module only holds the state and speaks names.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, MutableMapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from .chip.bits import Bits
from .chip.colour import word
from .chip.controls import registers, unfit
from .chip.model import Chip
from .engine import Plan, Program, Result, Rule, draw
from .memory import State, Write, fault
from .picture import Frame

if TYPE_CHECKING:
    from .scene import Scene


class Registers(MutableMapping[str, int]):
    """A machine's registers by name; values in control units (addresses in bytes, lines, dots, entries).

    Reading gives the value in force. Raises KeyError for a name that is no register, ValueError for a value that does not fit.
    """

    def __init__(self, plan: Plan, state: State) -> None:
        self._plan, self._state = plan, state
        self._known = registers(plan.chip)

    def __getitem__(self, name: str) -> int:
        return int(self._state.controls[self._plan.number[self._register(name).name]])

    def __setitem__(self, name: str, value: int) -> None:
        register = self._register(name)
        wrong = unfit(register, value)
        if wrong:
            raise ValueError(wrong)
        number = self._plan.number[name]
        if register.effect == "next frame" and self._state.line:
            self._state.next_frame[number] = value
        else:
            self._state.controls[number] = value
            self._state.next_frame.pop(number, None)

    def __delitem__(self, name: str) -> None:
        raise TypeError(f"{name} is part of the chip and cannot be taken out")

    def __iter__(self) -> Iterator[str]:
        return iter(self._known)

    def __len__(self) -> int:
        return len(self._known)

    def _register(self, name: str) -> Any:
        if name not in self._known:
            raise KeyError(f"{name!r} is no register of {self._plan.chip.name}; it has {', '.join(self._known)}")
        return self._known[name]


class Sprite:
    """One record of the sprite table; its fields (``x``, ``y``, ``pattern`` ...) read and write the packed record.

    Raises AttributeError for a field that the chip's records do not have, ValueError for a value that does not fit.
    """

    __slots__ = ("_chip", "_record")
    _chip: Chip
    _record: npt.NDArray[np.uint8]

    def __init__(self, chip: Chip, record: npt.NDArray[np.uint8]) -> None:
        object.__setattr__(self, "_chip", chip)
        object.__setattr__(self, "_record", record)

    def _word(self) -> int:
        return int.from_bytes(self._record.tobytes(), self._chip.memory.byte_order)

    def _layout(self, name: str) -> Bits:
        layout = self._chip.sprites.fields.layout if self._chip.sprites else {}
        if name not in layout:
            raise AttributeError(f"sprites of {self._chip.name} have {', '.join(layout)}, not {name!r}")
        return layout[name]

    def __getattr__(self, name: str) -> int:
        return int(self._layout(name).get(self._word()))

    def __setattr__(self, name: str, value: int) -> None:
        bits = self._layout(name)
        if not 0 <= value <= bits.top:
            raise ValueError(f"{name} takes 0 to {bits.top}, got {value}")
        word = (self._word() & ~bits.mask) | bits.put(int(value))
        self._record[:] = np.frombuffer(word.to_bytes(len(self._record), self._chip.memory.byte_order), np.uint8)

    def __repr__(self) -> str:
        layout = self._chip.sprites.fields.layout if self._chip.sprites else {}
        values = ", ".join(f"{name}={getattr(self, name)}" for name in layout)
        return f"Sprite({values})"


class Sprites(Sequence[Sprite]):
    """The sprite table, on the chip or, at the address held in ``sprites.table``, in video memory."""

    def __init__(self, plan: Plan, state: State) -> None:
        self._plan, self._state = plan, state

    def __len__(self) -> int:
        return self._plan.chip.sprites.count if self._plan.chip.sprites else 0

    def __getitem__(self, number: Any) -> Any:
        if isinstance(number, slice):
            return [self[each] for each in range(*number.indices(len(self)))]
        table = self._plan.chip.sprites
        place = number + len(self) if number < 0 else number
        if table is None or not 0 <= place < len(self):
            raise IndexError(f"sprites are numbered 0 to {len(self) - 1}, got {number}")
        if table.table == "chip":
            return Sprite(self._plan.chip, self._state.sprites[place])
        start = self._state.value("sprites.table") + place * table.record_bytes
        if start + table.record_bytes > len(self._state.memory):
            raise IndexError(f"sprite {number} lies beyond the memory, at 0x{start:X}")
        return Sprite(self._plan.chip, self._state.memory[start : start + table.record_bytes])


class Machine:
    """One running chip.

    ``memory`` uint8 (bytes,) and ``palette`` uint32 (entries,) are plain arrays to read and write; ``sprites`` and
    ``registers`` speak the chip's names. ``state`` is everything together.

    >>> machine = Machine(chip)
    >>> machine.sprites[3].x = 40; machine.registers["near.scroll_x"] = 12
    >>> frame = machine.frame()
    """

    def __init__(self, chip: Chip, state: State | None = None) -> None:
        self.chip = chip
        self.plan = Plan(chip)
        self.state = State.at_reset(chip) if state is None else state
        self.registers = Registers(self.plan, self.state)
        self.sprites = Sprites(self.plan, self.state)

    @property
    def memory(self) -> npt.NDArray[np.uint8]:
        """Video memory, uint8 (bytes,)."""
        return self.state.memory

    @property
    def palette(self) -> npt.NDArray[np.uint32]:
        """The palette's packed words, uint32 (entries,)."""
        return self.state.palette

    @property
    def collision_flags(self) -> int:
        """Bit g is set once a member of group g has collided; it stays until it is cleared: ``collision_flags = 0``."""
        return self.state.collision_flags

    @collision_flags.setter
    def collision_flags(self, flags: int) -> None:
        self.state.collision_flags = flags

    def colour(self, entry: int, red: int, green: int, blue: int) -> None:
        """Set ``entry`` to the nearest colour that the chip has to 8-bit red, green and blue.

        Raises ValueError for a channel outside 0 to 255.
        """
        self.state.palette[entry] = word(self.chip.palette, (red, green, blue))

    def compile(self, writes: Iterable[Write]) -> Program:
        """Timed writes checked and made ready, for use in any number of frames. Raises ValueError with every fault."""
        writes = tuple(writes)
        faults = [f"{write}: {wrong}" for write in writes if (wrong := fault(self.chip, write))]
        if faults:
            raise ValueError("\n".join(faults))
        return Program(self.plan, writes)

    def frame(self, writes: Program | Iterable[Write] = (), *, rule: Rule | None = None, planes: bool = False) -> Frame:
        """Draw the rest of this frame, with its timed ``writes``, and go on to the next. ``rule``, ``planes``: see ``render``."""
        return self.lines(None, writes, rule=rule, planes=planes)

    def lines(
        self,
        count: int | None = 1,
        writes: Program | Iterable[Write] = (),
        *,
        rule: Rule | None = None,
        planes: bool = False,
    ) -> Frame:
        """Draw the next ``count`` lines (None: to the frame's end), so that Python can change things between lines."""
        program = writes if isinstance(writes, Program) else self.compile(writes)
        last = None if count is None else self.state.line + count
        return _frame(self.chip, draw(self.plan, self.state, program, last, rule, planes=planes))


def _frame(chip: Chip, result: Result) -> Frame:
    edge = chip.frame.border
    return Frame(**vars(result), border=(edge.left, edge.right, edge.top, edge.bottom))


def render(scene: Scene, frame: int = 0, rule: Rule | None = None, *, planes: bool = False) -> Frame:
    """Frame number ``frame`` (from 0) of a scene.

    ``rule`` takes the ladder's place: a function from ``Sources`` (every source's dots) to the winner's number at each dot, and
    colours where it wants others. ``planes`` keeps each source alone in ``Frame.planes``. Raises ValueError for a negative
    frame or where the rule answers wrongly.
    """
    if frame < 0:
        raise ValueError(f"frames are numbered from 0, got {frame}")
    machine = Machine(scene.chip, scene.state(frame))
    return machine.frame(Program(machine.plan, scene.writes(frame)), rule=rule, planes=planes)


def frames(scene: Scene, wanted: Iterable[int], rule: Rule | None = None) -> Iterator[Frame]:
    """The ``wanted`` frames of a scene, one after the other, as ``render`` draws them."""
    plan = Plan(scene.chip)
    programs: Mapping[tuple[Write, ...], Program] = {}
    for number in wanted:
        writes = scene.writes(number)
        program = programs.get(writes) or Program(plan, writes)
        programs = {writes: program}
        yield _frame(scene.chip, draw(plan, scene.state(number), program, None, rule))
