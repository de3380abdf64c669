"""The kinds of record: what goes into hardware and what comes out of it, as plain text that a test bench reads.

Law: a kind of record is a word and its columns, which ``KINDS`` states once, for what is written, what is read and what is
told about both. A record is one line; its fields have one width each and one space between them, numbers in base ten or sixteen.
Knows no chip and no frame.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True)
class Field:
    """A column: its name, its base (10 or 16), its characters, and what it says.

    In base ten it has spaces before it and may be -1, in base sixteen it has zeros before it.
    """

    name: str
    base: int
    wide: int
    about: str


FRAME = Field("frame", 10, 6, "frame of the scene, from 0")
LINE = Field("line", 10, 4, "line of the frame, 0 is the picture's first")
DOT = Field("dot", 10, 4, "dot of the line, 0 is the picture's first")
WHEN = Field("line", 10, 4, "line, 0 is the picture's first; -1: before the frame begins")
BEFORE = Field("line", 10, 4, "always -1: it is done before the frame begins, at no dot, so that no dot follows")
AT = Field(
    "dot", 10, 4, "dot, 0 is the picture's first of its line; from the width on it lies in the blanking that follows"
)
SLOT = Field("slot", 10, 6, "slot of the line, 0 is the first of the blanking before the picture's dot 0")
ADDRESS = Field("address", 16, 6, "byte address in video memory")
BYTE = Field("byte", 16, 2, "a byte")
STEP = Field("step", 10, 3, "bytes from each address to the next")
LEFT = Field("bytes", 10, 8, "how many; as many records of the kind byte follow")
STATUS = Field("status", 16, 2, "the bits of the status that are raised")
GROUPS = Field("groups", 16, 2, "the groups that have collided, bit g for group g")

OUTCOMES: Mapping[str, tuple[Field, ...]] = {
    "dot": (
        FRAME, LINE, DOT,
        Field("entry", 16, 3, "entry of the palette that shows"),
        Field("colour", 16, 6, "its colour then: red, green and blue, eight bits each"),
        Field("source", 10, 2, "who shows, by the index's list of sources; 0 is the backdrop"),
        Field("rung", 10, 3, "the rung that won, by the index's list of rungs"),
        Field("sprite", 10, 4, "which sprite shows, by its place in the table; -1 for none"),
    ),
    "access": (
        FRAME, LINE, SLOT,
        Field("client", 10, 2, "who has the slot, by the index's list of clients"),
        ADDRESS,
        Field("value", 16, 16, "what is read, or a transfer's byte, as a number in the chip's byte order; 0 of refresh"),
    ),
    "fetches": (
        FRAME, LINE,
        Field("client", 10, 2, "who fetches, by the index's list of clients"),
        Field("count", 10, 6, "accesses that it makes for the line"),
    ),
    "missed": (
        FRAME, LINE,
        Field("client", 10, 2, "whose accesses found no slot in time, by the index's list of clients"),
        Field("count", 10, 6, "how many"),
    ),
    "sprites": (
        FRAME, LINE,
        Field("found", 10, 4, "sprites that lie on the line, dropped ones among them; 0 while sprites are off"),
        Field("drawn", 10, 4, "sprites that are drawn on it; 0 while sprites are off"),
    ),
    "drop": (
        FRAME, LINE,
        Field("sprite", 10, 4, "the sprite that is not drawn, by its place in the table"),
        Field("reason", 10, 1, "0 count, 1 dots, 2 slots"),
    ),
    "collision": (
        FRAME, LINE,
        Field("dot", 10, 4, "the leftmost dot that both have"),
        Field("first", 10, 4, "the sprite earlier in the table"),
        Field("second", 10, 4, "the later one"),
    ),
    "flag": (FRAME, LINE, DOT, Field("bit", 10, 1, "the bit of the status that is raised, be it raised already or not")),
    "left": (FRAME, STATUS, GROUPS),
}  # fmt: skip
"""What is to come out of hardware; each kind has a file of its own, and each file its records in order of time."""

STIMULI: Mapping[str, tuple[Field, ...]] = {
    "bus": (FRAME, WHEN, AT, Field("address", 16, 4, "address in the CPU's address space"), BYTE),
    "field": (
        FRAME, WHEN, AT,
        Field("field", 10, 4, "which field of the registers, by the index's list of fields"),
        Field("raw", 16, 8, "its bits"),
    ),
    "register": (
        FRAME, WHEN, AT,
        Field("register", 10, 4, "which register, by the index's list of registers"),
        Field("word", 16, 8, "its bits"),
    ),
    "palette": (FRAME, WHEN, AT, Field("entry", 16, 3, "entry"), Field("word", 16, 8, "its packed colour word")),
    "sprite": (FRAME, WHEN, AT, Field("offset", 16, 6, "byte of the sprite table on the chip"), BYTE),
    "memory": (FRAME, WHEN, AT, ADDRESS, BYTE),
    "transfer": (FRAME, WHEN, AT, ADDRESS, STEP, LEFT),
    "waiting": (
        FRAME, BEFORE,
        Field("start", 10, 8, "dots from the beginning of slot 0 of line 0 to its start; 0 where that is past"),
        Field("begun", 10, 1, "1 where bytes of it have landed before"),
        Field("hands", 10, 4, "how many records of the kind hand follow"),
        ADDRESS, STEP, LEFT,
    ),
    "hand": (
        FRAME,
        Field("over", 10, 18, "numerator of the moment at which the next byte is at hand, in dots as start is"),
        Field("under", 10, 10, "its denominator"),
    ),
    "byte": (FRAME, BYTE),
    "status": (FRAME, BEFORE, STATUS, GROUPS),
}  # fmt: skip
"""What is to be done to hardware, in one file, in the order in which it is to be done."""

KINDS: Mapping[str, tuple[Field, ...]] = {**OUTCOMES, **STIMULI}
"""The columns of each kind of record, after the kind's own word."""

MEANINGS: Mapping[str, str] = {
    "dot": "what shows at a dot of the picture",
    "access": "an access to video memory; a slot that has no record is used by nobody",
    "fetches": "how many accesses a client makes for a line, where the chip does not say when; those with none are left out",
    "missed": "accesses that a layer's client could not make in time for a line; those with none are left out",
    "sprites": "how many sprites a line has; one for every line of the picture, also while sprites are off",
    "drop": "a sprite that lies on the line and is not drawn; by line, then in the order of the walk, whatever the reason",
    "collision": "two sprites that collide on a line, once for each line and pair; by line, then by their places in the table",
    "flag": "a flag is raised",
    "left": "what stands in the status and in the collided groups when the frame's last slot is over",
    "bus": "the CPU writes a byte",
    "field": "the bits of one field get these values, all at one instant, and no other bit of its registers is written",
    "register": "all bytes of a register are written at one instant",
    "palette": "an entry of the palette gets a colour, past the CPU's bus",
    "sprite": "a byte of the sprite table on the chip is written, past the CPU's bus",
    "memory": "a byte of video memory is written, past the CPU's bus and without a slot",
    "transfer": "the CPU begins to put bytes into video memory, a byte a slot, in slots that are free for it",
    "waiting": "of a transfer that was begun in an earlier frame these bytes have still to land; the address is the next one's",
    "hand": "when the next byte of the transfer before is at hand; one for each byte of which that is fixed already",
    "byte": "the next byte of the transfer before",
    "status": "the status and the collided groups become this, past the CPU's bus",
}
"""What a record of each kind says."""


def width(kind: str) -> int:
    """Characters of a record of ``kind``, the line's end among them."""
    return len(kind) + sum(1 + field.wide for field in KINDS[kind]) + 1


def header(*kinds: str) -> bytes:
    """Lines that begin with # and say what records of ``kinds`` are, and what their columns."""
    lines = []
    for kind in kinds:
        lines += [f"# {kind}: {MEANINGS[kind]}", f"# {kind} {' '.join(field.name for field in KINDS[kind])}"]
        lines += [f"#   {field.name}: {field.about}; base {field.base}" for field in KINDS[kind]]
    return "".join(f"{line}\n" for line in lines).encode()
