"""The signals of a waveform: where each stands, its bits, its unit and what it says.

Law: names are plain and stay as they are, whatever the chip is called. All lie in the scope ``model``. In the scopes ``dot``
and ``access`` a signal is called what the record's column is called: ``dot.frame``, ``dot.line``, ``dot.dot``, ``dot.entry``,
``dot.colour``, ``dot.source``, ``dot.rung``, ``dot.sprite``, where ``dot.entry`` is known; ``access.frame``, ``access.line``,
``access.slot``, ``access.client``, ``access.address``, ``access.value``, in slots where ``access.busy`` is 1. ``flag.NAME`` is 1
at the dot that raises a flag of the status. ``sync`` and ``cpu`` say what no record does. A chip without a time table has no
``access`` and no ``cpu``. Knows no frame and no file.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from ...chip.line.clients import slot_clients
from ...chip.line.rates import LineSlots
from ...chip.model import Chip

TOP = "model"
"""The scope around all others."""

UNKNOWN = "x"
"""What a signal is where it says nothing."""


class Signal(NamedTuple):
    """A signal: its scope and name, how many bits, what it counts in, and what it says."""

    scope: str
    name: str
    bits: int
    unit: str
    about: str

    @property
    def key(self) -> str:
        """Scope and name."""
        return f"{self.scope}.{self.name}"


def signals(chip: Chip) -> Iterator[Signal]:
    """The signals of ``chip``, which is at no size of its own."""
    yield from (Signal("sync", *rest) for rest in _sync())
    yield from (Signal("dot", *rest) for rest in _dot(chip))
    if chip.time:
        yield from (Signal("access", *rest) for rest in _access(chip))
        yield from (Signal("cpu", *rest) for rest in _cpu())
    if chip.status:
        for name, bit in chip.status.bits.items():
            yield Signal("flag", name, 1, "0 or 1", f"1 while the dot lasts at which bit {bit} of the status is raised")


Rest = Iterator[tuple[str, int, str, str]]


def _sync() -> Rest:
    yield (
        "line_blank",
        1,
        "0 or 1",
        "1 beside the picture, the border included: from where a line's slots begin to its dot 0",
    )
    yield "frame_blank", 1, "0 or 1", "1 on the lines below the picture, each from where its slots begin"
    yield (
        "line_start",
        1,
        "0 or 1",
        "1 while dot 0 of a line lasts, below the picture too; the model has no sync pulses",
    )
    yield "frame_start", 1, "0 or 1", "1 while dot 0 of line 0 lasts; the model has no sync pulses"


def _dot(chip: Chip) -> Rest:
    frame = chip.frame
    most = frame.dots_per_line + frame.width - frame.narrowest  # of a frame's last line before a smaller size
    nothing = "x where no dot of the picture shows"
    yield "frame", 32, "number", "frame of the scene, from 0"
    yield (
        "line",
        _bits(frame.lines_per_frame),
        "number",
        "line of the frame, from its dot 0 on; 0 is the picture's first",
    )
    yield (
        "dot",
        _bits(most),
        "number",
        "dot of the line; from the picture's width on it lies in the blanking before the next line",
    )
    yield "entry", _bits(chip.palette.entries), "number", f"entry of the palette that shows; {nothing}"
    yield "colour", 24, "red, green, blue", f"its colour then, eight bits each, red the highest; {nothing}"
    yield "source", 8, "number", f"who shows, by the list of sources; 0 is the backdrop; {nothing}"
    yield "rung", 8, "number", f"the rung that won, by the list of rungs; {nothing}"
    yield "sprite", 16, "number", f"which sprite shows, by its place in the table; all ones for none; {nothing}"


def _access(chip: Chip) -> Rest:
    nothing = "x in a slot that nobody has"
    yield "frame", 32, "number", "frame of the scene, from where the slots of its line 0 begin"
    yield (
        "line",
        _bits(chip.frame.lines_per_frame),
        "number",
        "line whose slots these are; they begin with the blanking before it",
    )
    yield "slot", 20, "number", "slot of the line, from 0; x in what is left of a line after its last whole slot"
    yield "busy", 1, "0 or 1", "1 in a slot that somebody has"
    yield "client", 8, "number", f"who has it, by the list of clients; {nothing}"
    yield "address", _bits(chip.memory.size), "bytes", f"byte address in video memory, 0 of refresh; {nothing}"
    about = f"what is read, in the chip's byte order, or the byte that the CPU writes; 0 of refresh; {nothing}"
    yield "value", 8 * chip.memory.bytes_per_access, "number", about


def _cpu() -> Rest:
    yield (
        "lands",
        1,
        "0 or 1",
        "1 in a slot in which a byte of the CPU's lands in memory; from the next slot on it is there",
    )
    about = (
        "bytes that have come to the chip and not landed; without a cpu table all bytes of a transfer come at its start"
    )
    yield "queue", 32, "bytes", about


def _bits(count: int) -> int:
    """Bits that numbers below ``count`` take."""
    return max(1, (count - 1).bit_length())


def remarks(chip: Chip, line: LineSlots, rungs: Iterable[str]) -> Iterator[str]:
    """What a file says at its top, a text each: the time, the signals, the lists. None has a dollar sign."""
    yield plain(f"Time on the line of {chip.name}, as the model has it. Numbers are unsigned.")
    frame = chip.frame
    yield (
        f"Time counts in picoseconds from where slot 0 of line 0 of frame 0 begins. The slots of line y of frame f begin "
        f"(f * {frame.lines_per_frame} + y) * {frame.dots_per_line} dots later, its dot 0 {frame.dots_per_line} dots less the "
        f"picture's width after them. A dot lasts 1 / {frame.dot_clock} s{_slot(line)}. Every moment is exact and then rounded "
        "down."
    )
    for signal in signals(chip):
        yield plain(f"{TOP}.{signal.key}, {signal.unit}: {signal.about}")
    lists = {"sources": chip.source_names, "rungs": rungs, **({"clients": slot_clients(chip)} if chip.time else {})}
    for name, words in lists.items():
        yield plain(f"{name}: {', '.join(f'{number} {word}' for number, word in enumerate(words))}")


def _slot(line: LineSlots) -> str:
    over, under = line.rate.denominator, line.rate.numerator
    return f", a slot {over}/{under} of a dot" if line.slots else ""


def plain(words: str) -> str:
    """Words as they may stand within a remark: printable ASCII, and nothing that begins a keyword of the format."""
    return re.sub(r"[^ -~]|\$", "_", words)
