"""The signals of a waveform: where each stands, its bits, its unit and what it says.

Law: names are plain and stay as they are, whatever the chip is called; no two signals that count have one name. All lie in
the scope ``model``: ``time.frame``, ``time.line``, ``time.dot`` say where time stands; ``picture.entry``, ``picture.colour``,
``picture.source``, ``picture.rung``, ``picture.sprite`` what shows, where ``sync.line_blank`` and ``sync.frame_blank`` are 0;
``access.slot``, ``access.busy``, ``access.client``, ``access.address``, ``access.data`` who has which slot and what for. A
line's slots begin before ``time.line`` tells it and end with it; ``access.of_line`` tells it all the while.
``flag.NAME`` is 1 at the dot that raises a flag of the status. A chip without a time table has no ``access`` and no ``cpu``.
Knows no frame and no file.
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


NO_DOT = "x where no dot of the picture shows"
NOBODY = "x in a slot that nobody has"

FLAG, NUMBER = "0 or 1", "number"
"""What signals count in that count nothing."""


def signals(chip: Chip) -> Iterator[Signal]:
    """The signals of ``chip``, which is at no size of its own."""
    yield from (*_time(chip), *SYNC, *_picture(chip))
    if chip.time:
        yield from (*_access(chip), *CPU)
    for name, bit in chip.status.bits.items() if chip.status else ():
        yield Signal("flag", name, 1, FLAG, f"1 while the dot lasts at which bit {bit} of the status is raised")


SYNC = (
    Signal("sync", "line_blank", 1, FLAG, "1 beside the picture, its border too: from where a line's slots begin to its dot 0"),
    Signal("sync", "frame_blank", 1, FLAG, "1 on the lines below the picture, each from where its slots begin"),
    Signal("sync", "line_start", 1, FLAG, "1 while dot 0 of any line lasts; the model has no sync pulses"),
    Signal("sync", "frame_start", 1, FLAG, "1 while dot 0 of line 0 lasts; the model has no sync pulses"),
)  # fmt: skip

CPU = (
    Signal("cpu", "lands", 1, FLAG, "1 in a slot in which a byte of the CPU's lands; from the next slot on it is there"),
    Signal("cpu", "queue", 32, "bytes", "bytes that came and did not land yet; without a cpu table all come at once"),
)  # fmt: skip


def _time(chip: Chip) -> tuple[Signal, ...]:
    frame, lines = chip.frame, _bits(chip.frame.lines_per_frame)
    dots = _bits(frame.dots_per_line + frame.width - frame.narrowest)  # of a frame's last line before a smaller size
    return (
        Signal("time", "frame", 32, NUMBER, "frame of the scene, from dot 0 of its line 0 on; 0 is the first"),
        Signal("time", "line", lines, NUMBER, "line of the frame, from its dot 0 on; 0 is the picture's first"),
        Signal("time", "dot", dots, NUMBER, "dot of the line; from the picture's width on in the blanking before the next line"),
    )  # fmt: skip


def _picture(chip: Chip) -> tuple[Signal, ...]:
    entry = _bits(chip.palette.entries)
    return (
        Signal("picture", "entry", entry, NUMBER, f"entry of the palette that shows; {NO_DOT}"),
        Signal("picture", "colour", 24, "red, green, blue", f"its colour then, 8 bits each, red the highest; {NO_DOT}"),
        Signal("picture", "source", 8, NUMBER, f"who shows, by the list of sources; 0 is the backdrop; {NO_DOT}"),
        Signal("picture", "rung", 8, NUMBER, f"the rung that won, by the list of rungs; {NO_DOT}"),
        Signal("picture", "sprite", 16, NUMBER, f"which sprite shows, by its place in the table; all ones for none; {NO_DOT}"),
    )  # fmt: skip


def _access(chip: Chip) -> tuple[Signal, ...]:
    lines, address, data = _bits(chip.frame.lines_per_frame), _bits(chip.memory.size), 8 * chip.memory.bytes_per_access
    return (
        Signal("access", "of_line", lines, NUMBER, "line whose slots these are, from the blanking before it on"),
        Signal("access", "slot", 20, NUMBER, "slot of the line, from 0; x in what is left of a line after its last whole slot"),
        Signal("access", "busy", 1, FLAG, "1 in a slot that somebody has"),
        Signal("access", "client", 8, NUMBER, f"who has it, by the list of clients; {NOBODY}"),
        Signal("access", "address", address, "bytes", f"byte address in video memory, 0 of refresh; {NOBODY}"),
        Signal("access", "data", data, NUMBER, f"what is read, by the chip's byte order, or lands; 0 of refresh; {NOBODY}"),
    )  # fmt: skip


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
