"""The Python door, knocked at in every order: a Machine that is given what is right and what is wrong, call after call.

Law: what is refused is refused by one of the errors that the call documents and leaves the state as it was; what is taken can
be drawn; lines drawn in slices are the frame drawn whole. Hypothesis chooses the calls, from a seed that the case's number gives.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

import numpy as np
from agreement import result_differences, state_differences
from hypothesis import HealthCheck, Phase, seed, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from soak_files import ask_frame
from soak_guard import FaultError, Limits, step

import vdpsim
from vdpsim import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, SpriteWrite, Transfer
from vdpsim.chip.registers import own_names, registers, settable
from vdpsim.testing.strategies.made.chips import make_chip
from vdpsim.testing.strategies.made.states import make_state
from vdpsim.testing.strategies.made.timed import make_writes

LIMITS = Limits(wall=120.0)
REFUSALS = (TypeError, ValueError, KeyError, IndexError, AttributeError)
"""What a refused call may raise; an error of any other kind, OverflowError among them, is a find."""

WRONG: tuple[Any, ...] = (
    -1,
    -(1 << 31),
    1 << 31,
    1 << 63,
    1 << 64,
    10**30,
    0.5,
    1.0,
    float("nan"),
    float("inf"),
    None,
    True,
    "",
    "1",
    "\0",
    b"",
    b"\xff",
    [],
    [1, 2],
    (),
    {},
    object(),
    Fraction(1, 2),
    np.int64(3),
    np.uint8(255),
    np.float64(1.5),
    np.array([1]),
    np.array(5),
    1j,
    slice(None),
    range(3),
)
values = st.one_of(st.integers(0, 15), st.integers(0, 65535), st.integers(-5, 1 << 33), st.sampled_from(WRONG))
small = st.one_of(st.integers(0, 70), st.integers(-3, 1200), st.sampled_from(WRONG))
octets = st.one_of(st.binary(max_size=40), st.lists(st.integers(0, 255), max_size=4), st.sampled_from(WRONG))
chances = st.integers(0, 1 << 60)


class Door(RuleBasedStateMachine):
    """A machine, and what it may be asked."""

    machine: vdpsim.Machine

    @initialize(number=chances)
    def begin(self, number: int) -> None:
        """A random chip that holds something."""
        random = Random(number)  # noqa: S311 - a choice of examples, the same each time
        self.chip = make_chip(random)
        self.machine = vdpsim.Machine(self.chip, make_state(random, self.chip))
        self.names = [*own_names(self.chip), "no.such", "", None, 3]
        self.fields = [
            *(self.chip.sprites.fields.layout if self.chip.sprites else {}),
            "_record",
            "no",
            "__class__",
            "",
        ]

    def ask(self, call: Callable[[], Any]) -> Any:
        """What ``call`` gives; None where it is refused, which must change nothing."""
        before = self.machine.state.copy()
        try:
            return call()
        except REFUSALS as error:
            if not str(error):
                raise FaultError("a refusal without a word", repr(error)) from error
            changed = state_differences(before, self.machine.state)
            if changed:
                raise FaultError(f"{type(error).__name__} left the state changed", f"{error}: {changed[:3]}") from error
            return None

    @rule(place=chances, value=values)
    def set_register(self, place: int, value: Any) -> None:
        """A register, or none, gets a value, or none."""
        name: Any = self.names[place % len(self.names)]
        self.ask(lambda: self.machine.registers.__setitem__(name, value))
        self.ask(lambda: self.machine.registers[name])
        self.ask(lambda: self.machine.registers.update({name: value}))

    @rule(number=small, place=chances, value=values)
    def set_sprite(self, number: Any, place: int, value: Any) -> None:
        """A field of a sprite gets a value."""
        name = self.fields[place % len(self.fields)]
        if name in {"_record", "__class__"}:
            return
        self.ask(lambda: setattr(self.machine.sprites[number], name, value))
        self.ask(lambda: getattr(self.machine.sprites[number], name))
        self.ask(lambda: repr(self.machine.sprites[number]))

    @rule(address=values, byte=values)
    def write(self, address: Any, byte: Any) -> None:
        """The CPU writes, and reads it again."""
        self.ask(lambda: self.machine.write(address, byte))
        self.ask(lambda: self.machine.read(address))

    @rule(place=chances, byte=values)
    def write_where_it_listens(self, place: int, byte: Any) -> None:
        """The CPU writes and reads a register, a port or the status."""
        known = [one.address for one in registers(self.chip).values()] + [
            one for port in self.chip.ports for one in (port.data, port.address)
        ]
        if self.chip.status:
            known += filter(None, (self.chip.status.address, self.chip.status.groups))
        if known:
            self.write(known[place % len(known)], byte)

    @rule(entry=small, red=values, green=values, blue=values)
    def colour(self, entry: Any, red: Any, green: Any, blue: Any) -> None:
        """An entry gets a colour."""
        self.ask(lambda: self.machine.colour(entry, red, green, blue))

    @rule(address=st.integers(0, 1 << 16), data=st.binary(min_size=1, max_size=64))
    def memory(self, address: int, data: bytes) -> None:
        """Bytes put straight into memory and words into the palette, both plain arrays."""
        start = address % len(self.machine.memory)
        room = self.machine.memory[start : start + len(data)]
        room[:] = list(data)[: len(room)]
        self.machine.palette[address % len(self.machine.palette)] = int.from_bytes(data[:4], "little")

    @rule(flags=values)
    def flags(self, flags: Any) -> None:
        """Collision flags set and cleared."""
        self.ask(lambda: setattr(self.machine, "collision_flags", flags))

    @rule(number=chances, cuts=st.lists(st.integers(0, 200), max_size=5), planes=st.booleans())
    def draw(self, number: int, cuts: list[int], planes: bool) -> None:  # noqa: FBT001 - hypothesis draws it
        """The rest of the frame, whole and in slices, with writes of every kind."""
        random = Random(number)  # noqa: S311 - as above
        program = self.machine.compile(make_writes(random, self.chip) if random.randrange(3) else [])
        options: dict[str, Any] = {"damage": True, "trace": self.chip.time is not None, "planes": planes}
        other, left = vdpsim.Machine(self.chip, self.machine.state.copy()), self.machine.state.line
        whole, parts = other.frame(program, **options), []
        end = self.chip.frame.lines_per_frame
        ends = sorted({left + one for one in cuts if left + one < end})
        parts += [self.machine.lines(cut - self.machine.state.line, program, **options) for cut in ends]
        parts.append(self.machine.frame(program, **options))
        found = state_differences(other.state, self.machine.state) + result_differences(whole, vdpsim.join(parts))
        if found:
            raise FaultError("slices differ from the whole", "\n".join(found[:5]))
        if random.randrange(8) == 0 and whole.height:  # a frame of blanking lines alone has no picture
            ask_frame(whole, self.chip)

    @rule(count=small)
    def lines(self, count: Any) -> None:
        """The next lines."""
        self.ask(lambda: self.machine.lines(count, damage=True))

    @rule(number=chances)
    def frame_without_damage(self, number: int) -> None:
        """A frame that may be refused for what comes too late."""
        writes = make_writes(Random(number), self.chip)  # noqa: S311 - as above
        self.ask(lambda: self.machine.frame(writes, trace=bool(number % 2)))

    @rule(
        kind=st.integers(0, 5),
        line=small,
        dot=st.one_of(st.just(0), small),
        first=values,
        second=values,
        data=octets,
        place=chances,
    )
    def timed(self, kind: int, line: Any, dot: Any, first: Any, second: Any, data: Any, place: int) -> None:
        """A timed write, right or wrong, and the frame with it."""
        name: Any = self.names[place % len(self.names)]
        write = (
            lambda: RegisterWrite(line, name, first, dot),
            lambda: PaletteWrite(line, first, data, dot),
            lambda: SpriteWrite(line, first, data, dot),
            lambda: MemoryWrite(line, first, data, dot),
            lambda: Transfer(line, first, data, dot, second),
            lambda: PortWrite(line, first, second, dot),
        )[kind]
        program = self.ask(lambda: self.machine.compile([write()]))
        if program is not None:
            self.machine.frame(program, damage=True)

    @rule(
        answer=st.sampled_from(
            ["winner", "zero", "shape", "beyond", "float", "colours", "wrong colours", "none", "raise"]
        )
    )
    def rule_of_its_own(self, answer: str) -> None:
        """A rule written by a stranger."""

        def own(sources: vdpsim.Sources) -> Any:
            winner = sources.winner
            if answer == "raise":
                raise ValueError("the rule's own")
            return {
                "winner": winner,
                "zero": winner * 0,
                "shape": winner[:, :-1],
                "beyond": winner + np.uint8(200),
                "float": winner * 1.0,
                "colours": (winner, np.zeros((*winner.shape, 3), np.uint8)),
                "wrong colours": (winner, winner),
                "none": None,
            }[answer]

        self.ask(lambda: self.machine.lines(2, rule=own, damage=True))

    @precondition(lambda self: hasattr(self, "machine"))
    @invariant()
    def stays_a_state(self) -> None:
        """Types and shapes are those of the beginning, and the line is one of the frame."""
        state = self.machine.state
        kinds = (state.memory.dtype, state.palette.dtype, state.sprites.dtype, state.controls.dtype)
        if (
            kinds != tuple(map(np.dtype, ("u1", "u4", "u1", "i8")))
            or not 0 <= state.line < self.chip.frame.lines_per_frame
        ):
            raise FaultError("the state is none any more", f"{kinds}, line {state.line}")
        for name, one in settable(self.chip).items():
            if not 0 <= self.machine.registers[name] <= one.top:
                raise FaultError("a register holds what it cannot", f"{name}: {self.machine.registers[name]}")

    def teardown(self) -> None:
        """Whatever was taken can be drawn."""
        if hasattr(self, "machine"):
            self.machine.frame(damage=True)


def case(number_of_seed: int, number: int, folder: Path) -> str:
    """Some runs of the state machine. Raises what it should not; the calls that led there stand in its notes."""
    step("calls")
    shrink = folder.name.startswith("python-")  # tried again by itself
    chosen = settings(
        max_examples=4,
        stateful_step_count=25,
        deadline=None,
        database=None,
        print_blob=False,
        phases=[Phase.generate, *([Phase.shrink] if shrink else [])],
        suppress_health_check=list(HealthCheck),
    )
    run_state_machine_as_test(seed(number_of_seed * 1_000_003 + number)(Door), settings=chosen)
    return "drawn"
