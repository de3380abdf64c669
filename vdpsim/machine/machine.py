"""A chip that runs: set memory, palette, sprites and registers from Python, and draw frame after frame.

Law: a Machine stands between two lines. What is assigned counts as written at the end of the line before, so a register
that takes effect with the next line does so at once, and one that takes effect with the next frame waits for it (before line
0 it does not have to). Drawing is the engine's; this module only holds the state and speaks names.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from ..chip.colour import word
from ..chip.line.rates import line_slots
from ..chip.model import Chip
from ..door.given import flag, function, instance, items, several, whole_number
from ..door.lazy import by_notebook
from ..door.shown import value as shown
from ..engine import Plan, Program, Result, Rule, draw
from ..output.frame import Frame
from ..state.state import State
from ..state.writes import WRITES, Write, fault
from .handles import PaletteWords, Registers, Sprites, cpu_read, cpu_write
from .reached import Origin, reached, remember

if TYPE_CHECKING:
    from ..scene import Scene


LONGEST_WRITE = 240
"""Characters of a timed write in a message."""


class Machine:
    """One running chip.

    ``memory`` uint8 (bytes,) and ``palette`` uint32 (entries,) are plain arrays to read and write; ``sprites`` and
    ``registers`` speak the chip's names; ``read`` and ``write`` speak the CPU's addresses. ``state`` is everything together.
    Where a chip prepares its sprites a line ahead, those of the line that comes next are prepared already: what is set now
    shows from the line after it on.

    >>> machine = Machine(chip)
    >>> machine.sprites[3].x = 40; machine.registers["near.scroll_x"] = 12
    >>> frame = machine.frame()
    """

    def __init__(self, chip: Chip, state: State | None = None) -> None:
        self.chip: Chip = instance("chip", chip, Chip)
        if (
            state is not None
            and instance("state", state, State, "a State or None").chip is not chip
            and state.chip != chip
        ):
            raise ValueError(f"state must be one of {chip.name}, got one of {state.chip.name}")
        self.plan: Plan = Plan(chip)
        self.state: State = State.at_reset(chip) if state is None else state
        self.registers: Registers = Registers(self.plan, self.state)
        self.sprites: Sprites = Sprites(self.plan, self.state)

    @classmethod
    def of(cls, scene: Scene, frame: int = 0) -> Machine:
        """A machine at the start of a scene's ``frame``, with all that the CPU has moved by then; costs what ``render`` costs.

        The scene's writes of that frame are not done yet: ``machine.frame(scene.writes(frame))`` does them.
        """
        frame = _asked(scene, frame)
        return cls(scene.chip, reached(Plan(scene.chip), scene, frame))

    @property
    def memory(self) -> npt.NDArray[np.uint8]:
        """Video memory, uint8 (bytes,)."""
        return self.state.memory

    @property
    def palette(self) -> PaletteWords:
        """The palette's packed words, uint32 (entries,)."""
        return PaletteWords.of(self.state.palette, self.chip.palette)

    def __repr__(self) -> str:
        return f"<Machine of {self.chip.name}: before line {self.state.line} of frame {self.state.frame}>"

    _repr_html_ = by_notebook("machines", "machine_html")

    @property
    def collision_flags(self) -> int:
        """Bit g is set once a member of group g has collided; it stays until it is cleared: ``collision_flags = 0``."""
        return self.state.collision_flags

    @collision_flags.setter
    def collision_flags(self, flags: int) -> None:
        groups = len(self.chip.collisions.groups) if self.chip.collisions else 0
        self.state.collision_flags = whole_number("collision_flags", flags, 0, (1 << groups) - 1)

    def colour(self, entry: int, red: int, green: int, blue: int) -> None:
        """Set ``entry`` to the nearest colour that the chip has to 8-bit red, green and blue.

        Raises ValueError for an entry that the palette does not have, or a channel outside 0 to 255.
        """
        entry = whole_number("entry", entry, 0, self.chip.palette.entries - 1)
        channels = tuple(
            whole_number(name, value, 0, 255) for name, value in (("red", red), ("green", green), ("blue", blue))
        )
        self.state.palette[entry] = word(self.chip.palette, channels)

    def read(self, address: int) -> int:
        """The byte that the CPU reads at ``address`` now, 0 to 255; it takes no slot.

        A register's byte: its bits as last written, even where they wait for the rest of a field or for the next frame, a number
        above what its field takes as the largest that it does; of one that is write-only, 0. A port's data:
        the byte at the port's address, which counts on by the port's step; a byte that waits for its slot is not there yet.
        Status and collided groups: their bits, which reading clears where ``status.cleared`` is ``read``. Raises KeyError,
        with all that can be read, for any other address.
        """
        return cpu_read(self.chip, self.state, address)

    def write(self, address: int, byte: int) -> None:
        """The CPU writes ``byte``, 0 to 255, to ``address``, 0 to 0xFFFF, now. Elsewhere than the chip listens it does nothing.

        Now is dot ``width`` of the line before, so before line y > 0 this is the timed write ``PortWrite(y - 1, address, byte,
        dot=width)``. A register, palette or sprite byte is there at once, as though it had been assigned. So is a byte
        for memory, but for a chip with a time table: there it waits as a transfer for the first slot that is free for the CPU
        from slot 0 of the next line on, and ``memory`` has it once that line is drawn. Raises ValueError out of range.
        """
        cpu_write(self.plan, self.state, address, byte)

    def compile(self, writes: Iterable[Write]) -> Program:
        """Timed writes checked and made ready, for use in any number of frames. Raises ValueError with every fault."""
        writes = items("writes", writes, "timed writes")
        for write in writes:
            instance("each of writes", write, WRITES, "a timed write")
        faults = [f"{shown(write, LONGEST_WRITE)}: {wrong}" for write in writes if (wrong := fault(self.chip, write))]
        if faults:
            raise ValueError("\n".join(faults))
        return Program(self.plan, writes)

    def frame(
        self,
        writes: Program | Iterable[Write] = (),
        *,
        rule: Rule | None = None,
        planes: bool = False,
        damage: bool = False,
        trace: bool = False,
    ) -> Frame:
        """Draw the rest of this frame, with its timed ``writes``, and go on to the next. For the rest see ``render``."""
        return self.lines(None, writes, rule=rule, planes=planes, damage=damage, trace=trace)

    def lines(
        self,
        count: int | None = 1,
        writes: Program | Iterable[Write] = (),
        *,
        rule: Rule | None = None,
        planes: bool = False,
        damage: bool = False,
        trace: bool = False,
    ) -> Frame:
        """Draw the next ``count`` lines (None: to the frame's end), so that Python can change things between lines.

        For the rest see ``render``. A transfer among ``writes`` that these lines do not see end goes on in the next ones;
        it is begun once, by the call that draws its line.
        """
        _check_asked(rule, planes=planes, damage=damage, trace=trace)
        if trace:
            check_traced(self.chip)
        count = None if count is None else whole_number("count", count)
        program = writes if isinstance(writes, Program) else self.compile(writes)
        last = None if count is None else self.state.line + count
        result = draw(self.plan, self.state, program, last, rule, planes=planes, damage=damage, trace=trace)
        return _frame(result, Origin(self.chip, rule=rule))


def _asked(scene: Scene, frame: int) -> int:
    """``frame``, where it can be asked of ``scene``. Raises TypeError or ValueError."""
    from ..scene import Scene  # noqa: PLC0415 - a machine that is built in Python needs none

    instance("scene", scene, Scene)
    return whole_number("frame", frame)


MOST_TRACED = 1 << 21
"""The most slots of a frame whose accesses are kept: each takes a hundred bytes or so while the frame is drawn."""


def check_traced(chip: Chip) -> None:
    """Raise ValueError where a frame of ``chip`` has more than 2,097,152 slots, too many for all its accesses to be kept."""
    if chip.time is None:  # the engine says that there is nothing to trace
        return
    each, lines = line_slots(chip).slots, chip.frame.lines_per_frame
    if each * lines > MOST_TRACED:
        raise ValueError(
            f"a trace must be of a frame of at most {MOST_TRACED:,} slots, {chip.name} has {each} x {lines} = {each * lines:,}"
        )


def _check_asked(rule: Rule | None, **flags: bool) -> None:
    """Raise TypeError where ``rule`` is no function, or one of ``flags`` neither True nor False."""
    function("rule", rule)
    for name, value in flags.items():
        flag(name, value)


def _frame(result: Result, origin: Origin) -> Frame:
    chip = origin.chip.at_size(origin.chip.frame.every_size.index(result.size))
    edge = chip.frame.border
    blank = line_slots(chip).blank if chip.time else 0
    return Frame.of(result, border=(edge.left, edge.right, edge.top, edge.bottom), blank=blank, origin=origin)


def render(
    scene: Scene,
    frame: int = 0,
    rule: Rule | None = None,
    *,
    planes: bool = False,
    damage: bool = False,
    trace: bool = False,
) -> Frame:
    """Frame number ``frame`` (from 0) of a scene.

    ``rule`` takes the ladder's place: a function from ``Sources`` (every source's dots) to the winner's number at each dot, and
    colours where it wants others. ``planes`` keeps each source alone in ``Frame.planes``. On a chip with a time table,
    ``damage`` shows what fetches do that come too late, and ``trace`` keeps every access in ``Frame.trace``.

    Where the scene's CPU moves bytes (transfers, ports), what memory holds follows from drawing: each earlier frame in which
    it does, or in which bytes still wait, is drawn first, until what they leave comes again. What was found on the way is kept,
    so that frames asked for in their order cost one drawing each.

    Raises ValueError for a negative frame, where the rule answers wrongly, or for a trace of a chip without a time table or with
    more than 2,097,152 slots a frame; NotInTimeError, a ValueError, where a fetch of this frame comes too late and ``damage`` was
    not asked for.
    """
    frame = _asked(scene, frame)
    _check_asked(rule, planes=planes, damage=damage, trace=trace)
    if trace:
        check_traced(scene.chip)
    plan = Plan(scene.chip)
    state = reached(plan, scene, frame)
    result = draw(
        plan, state, Program(plan, scene.writes(frame)), None, rule, planes=planes, damage=damage, trace=trace
    )
    remember(scene, state)
    return _frame(result, Origin(scene.chip, scene, frame, rule, damage))


def frames(
    scene: Scene,
    wanted: Iterable[int],
    rule: Rule | None = None,
    *,
    planes: bool = False,
    damage: bool = False,
    trace: bool = False,
) -> Iterator[Frame]:
    """The ``wanted`` frames of a scene, one after the other, as ``render`` draws them and with what it raises."""
    _asked(scene, 0)
    _check_asked(rule, planes=planes, damage=damage, trace=trace)
    if trace:
        check_traced(scene.chip)
    return _each(scene, several("wanted", wanted, "frames' numbers"), rule, planes=planes, damage=damage, trace=trace)


def _each(
    scene: Scene, wanted: Iterable[int], rule: Rule | None, *, planes: bool, damage: bool, trace: bool
) -> Iterator[Frame]:
    plan = Plan(scene.chip)
    for asked in wanted:
        number = whole_number("each of wanted", asked)
        state = reached(plan, scene, number)
        program = Program(plan, scene.writes(number))  # to know equal writes again takes longer than to make it anew
        result = draw(plan, state, program, None, rule, planes=planes, damage=damage, trace=trace)
        remember(scene, state)
        yield _frame(result, Origin(scene.chip, scene, number, rule, damage))
