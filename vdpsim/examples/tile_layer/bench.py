"""The test bench: design and model go through the same lines with the same writes, and every dot and access is compared.

Law: what cocotb runs inside the simulator, in an exported folder. All that is expected comes from a ``vdpsim.Machine`` that is
driven beside the design; nothing of the picture is worked out here.
"""

from __future__ import annotations

import os
import runpy
from collections.abc import Iterator, Mapping
from pathlib import Path
from random import Random
from typing import Any

import cocotb
from cocotb.clock import Clock
from cocotb.triggers import FallingEdge

import vdpsim

SCENE = Path(__file__).parent / "knot.scene.toml"
FRAMES = 2

Bytes = list[tuple[int, int]]
"""What the CPU writes: addresses and bytes."""


def writes(numbers: Mapping[str, Any], seed: int) -> Iterator[Bytes]:
    """What the CPU writes while each line goes by: other scroll positions, at times no layer, another map, other patterns.

    ``numbers``: the chip's constants by name.
    """
    random = Random(seed)  # noqa: S311 - chances of a test

    def register(name: str, byte: int, percent: int) -> Bytes:
        """A write to a register of the layer, in so many of a hundred lines."""
        return [(numbers[f"REGISTER_REEDS_{name}_ADDRESS"], byte)] if random.randrange(100) < percent else []

    while True:
        yield [
            *register("SCROLL_X", random.randrange(256), 80),
            *register("SCROLL_Y", random.randrange(128), 60),
            *register("ENABLE", random.choice([0, 1, 1, 1]), 40),
            *register("TILES_MAP", random.choice([0, 0, 0, 0, 1, 7]), 15),
            *register("TILES_PATTERNS", random.choice([1, 1, 1, 1, 0, 6]), 15),
        ]


@cocotb.test()
async def every_dot_and_every_access_is_the_models(dut: Any) -> None:
    """Frame by frame, line by line; what is apart first is told."""
    numbers, machine = runpy.run_path("constants.py"), vdpsim.Machine.of(vdpsim.load_scene(SCENE))
    bench, asked = Bench(dut, numbers), writes(numbers, int(os.environ.get("SEED", "1")))
    await bench.start([(address, machine.read(address)) for address in numbers["REGISTERS_ADDRESS"]])
    for frame in range(FRAMES):
        for line in range(numbers["FRAME_LINES_PER_FRAME"]):
            data = next(asked)
            await bench.line(data)
            drawn = machine.lines(1, trace=True)
            for address, byte in data:
                machine.write(address, byte)
            dots = dict(enumerate(drawn.indices[0].tolist() if drawn.height else ()))
            accesses = {slot: more for _, slot, *more in drawn.trace.tolist()} if drawn.trace is not None else {}
            compare(f"frame {frame}, line {line}, dot", "entry", dots, bench.dots)
            compare(f"frame {frame}, line {line}, slot", "client, address and data", accesses, bench.accesses)


def compare(place: str, what: str, expected: Mapping[int, Any], came: Mapping[int, Any]) -> None:
    """Raise AssertionError with the first place at which the two are apart."""
    for number in sorted(expected.keys() | came.keys()):
        model, design = expected.get(number, "nothing"), came.get(number, "nothing")
        assert model == design, f"{place} {number}: {what} of the model {model}, of the design {design}"


class Bench:
    """Drives the design; ``dots`` and ``accesses`` are what came out of it on the line that went by last."""

    def __init__(self, dut: Any, numbers: Mapping[str, Any]) -> None:
        self.dut, self.slots = dut, numbers["FRAME_DOTS_PER_LINE"]
        self.active = self.slots - numbers["FRAME_WIDTH"]
        self.dots: dict[int, int | str] = {}
        self.accesses: dict[int, list[int | str]] = {}

    async def start(self, data: Bytes) -> None:
        """Reset the design and write its registers; line 0 comes next, which was fetched on the line before it."""
        Clock(self.dut.clock, 250, "ns").start()
        self.dut.reset.value = 1
        self._write(None)
        for one in (*data, None):
            await FallingEdge(self.dut.clock)
            self._write(one)
        await FallingEdge(self.dut.clock)
        await FallingEdge(self.dut.clock)
        self.dut.reset.value = 0
        for _ in range(self.slots - 1):
            await FallingEdge(self.dut.clock)

    async def line(self, data: Bytes) -> None:
        """Let a line go by, on whose dots the CPU writes ``data``: they count from the next line on."""
        self.dots, self.accesses = {}, {}
        waiting = dict(enumerate(data, self.active))
        for _ in range(self.slots):
            await FallingEdge(self.dut.clock)  # in the middle of a slot
            slot = number(self.dut.slot)
            assert isinstance(slot, int), f"slot is {slot}"
            if number(self.dut.busy):
                self.accesses[slot] = [number(one) for one in (self.dut.client, self.dut.address, self.dut.data)]
            if number(self.dut.valid):
                self.dots[slot - self.active] = number(self.dut.entry)
            self._write(waiting.get(slot))

    def _write(self, one: tuple[int, int] | None) -> None:
        self.dut.cpu_write.value = int(one is not None)
        self.dut.cpu_address.value, self.dut.cpu_data.value = one or (0, 0)


def number(signal: Any) -> int | str:
    """What a signal is; its bits where they are not all known."""
    value = signal.value
    return int(value) if value.is_resolvable else str(value)
