"""Constants of what all sources share: the frame, memory, the palette, and the line's time.

Law: numbers as ``chip/`` has them, none worked out a second time. Knows no language.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from ...chip.line.clients import ORDER, Place, places, slot_clients
from ...chip.line.rates import line_slots
from ...chip.model import Chip, SlotPattern
from ...chip.tables.basics import size_name
from .table import Item, Section, columns, constant, enumeration, layout, numbers
from .table import places as bit_places

WHEN = ("in time", "blanking", "line before")
ACTIVE = ("none", "reserved", "free")
WHAT = (*ORDER, "sprites")
AFTER_CELLS = ("pattern", "glyphs")
"""What is asked for once the cell that names it is there."""
COLOUR_BITS = 8


def sections(chip: Chip) -> Iterator[Section]:
    """The sections of frame, memory, palette and time."""
    yield Section("The frame", "Dots and lines; dot 0 and line 0 are the picture's first.", tuple(_frame(chip)))
    yield Section("Video memory", "Addresses are those of bytes.", tuple(_memory(chip)))
    yield Section("The palette", "An entry is one packed word.", tuple(_palette(chip)))
    yield Section(
        "Clients of the memory",
        "Records of accesses count through clients; places are served in the order in which they stand here.",
        tuple(_clients(chip)),
    )


def _frame(chip: Chip) -> Iterator[Item]:
    frame, border = chip.frame, chip.frame.border
    yield constant("frame width", frame.width, "dots of the picture; of several sizes the largest")
    yield constant("frame height", frame.height, "lines of the picture; of several sizes the largest")
    yield constant("frame dots per line", frame.dots_per_line, "dots of a line, border and blanking among them")
    yield constant("frame lines per frame", frame.lines_per_frame, "lines of a frame, border and blanking among them")
    yield constant("frame dot clock", frame.dot_clock, "dots a second, Hz")
    for side in ("left", "right", "top", "bottom"):
        unit = "dots" if side in ("left", "right") else "lines"
        yield constant(
            f"border {side}", getattr(border, side), f"{unit} around the largest picture that show the backdrop"
        )
    yield constant("sizes", len(frame.every_size), "sizes of the picture")
    yield from columns(
        "sizes",
        frame.every_size,
        (
            ("width", "dots, of each size", lambda size: size[0]),
            ("height", "lines, of each size", lambda size: size[1]),
        ),
    )
    if frame.sizes:
        yield from enumeration("size", map(size_name, frame.sizes), "numbers of the sizes")


def _memory(chip: Chip) -> Iterator[Item]:
    memory = chip.memory
    rate = memory.accesses_per_dot or Fraction(0)
    yield constant("memory size", memory.size, "bytes")
    yield constant("memory access bytes", memory.bytes_per_access, "bytes that an access brings")
    yield constant(
        "memory big end first", memory.byte_order == "big", "1: the high byte of a word lies at the lower address"
    )
    yield constant(
        "memory timed", memory.accesses_per_dot is not None, "1: accesses have slots; 0: they are counted alone"
    )
    yield constant("memory rate accesses", rate.numerator, "so many accesses ...")
    yield constant("memory rate dots", rate.denominator, "... in the time of so many dots")
    slots = line_slots(chip) if memory.accesses_per_dot else None
    yield constant("memory slots per line", slots.slots if slots else 0, "slots of a line")
    yield constant(
        "memory blank slots",
        slots.blank if slots else 0,
        "slots of a line of the largest picture that are over before dot 0",
    )


def _palette(chip: Chip) -> Iterator[Item]:
    palette = chip.palette
    yield constant("palette entries", palette.entries, "entries")
    yield constant("palette bank size", palette.bank_size, "entries of a bank")
    yield constant("palette word bits", palette.word_bits, "bits of a packed colour word")
    for name, bits in palette.layout.items():
        yield from layout(("palette", name), bits, f"{name} in a colour word")
        yield numbers(
            f"palette {name} places",
            bit_places(bits, COLOUR_BITS),
            "bit i of it stands in this bit of the word; -1: no such bit",
        )


def _clients(chip: Chip) -> Iterator[Item]:
    names = slot_clients(chip)
    yield constant("clients", len(names), "clients, refresh and the CPU among them")
    yield from enumeration("client", names, "numbers of the clients in records", ("sprites.table", "sprites.pattern"))
    yield from enumeration("when", WHEN, "when a place's fetches are made")
    yield from enumeration("what", WHAT, "what a place fetches")
    time = chip.time
    found = list(places(chip).items()) if time else []
    timed = [time.clients[name] for name, _ in found] if time else []
    numbered = {(place.layer, mode, place.what): at for at, (_, place) in enumerate(found) for mode in place.modes}

    def waits_for(place: Place) -> int | None:
        cells = {numbered[place.layer, mode, "cells"] for mode in place.modes if place.what in AFTER_CELLS}
        return cells.pop() if len(cells) == 1 else None

    yield constant("places", len(found), "places of the time table; 0: the chip has none")
    yield from columns(
        "places",
        [place for _, place in found],
        (
            ("layer", "number of the layer; -1: the sprites", lambda place: place.layer),
            ("what", "what is fetched: WHAT_ ...", lambda place: WHAT.index(place.what or "sprites")),
            (
                "client",
                "client under which its accesses are recorded; -1: the sprites' own two",
                lambda place: names.index(place.client) if place.layer >= 0 else None,
            ),
            (
                "after",
                "place whose cells its patterns or glyphs wait for; -1: none, or one for each mode, MODES_PLACE_CELLS",
                waits_for,
            ),
        ),
    )
    yield from columns(
        "places",
        timed,
        (
            ("when", "WHEN_ ...", lambda one: WHEN.index(one.when)),
            (
                "lead",
                "dots before a group shows from which its fetches may begin; -1: at other times",
                lambda one: one.lead,
            ),
            ("keep", "1: cells are kept from line to line", lambda one: one.keep),
        ),
    )
    yield from _patterns("places", timed, "a place may use the slots")
    refresh = time.refresh if time else None
    cpu = time.cpu if time else None
    yield constant("refresh slots", refresh.slots if refresh else 0, "slots of every line that refresh takes")
    yield from _patterns("refresh", [refresh] if refresh else [], "refresh may use the slots")
    yield from enumeration("active", ACTIVE, "what the CPU has while the picture shows")
    yield constant("cpu active", ACTIVE.index(cpu.active) if cpu else 0, "ACTIVE_ ...")
    yield constant("cpu blanking", cpu.blanking if cpu else 0, "1: it has what is left of blank slots")
    reserved = "with ACTIVE_RESERVED the CPU has, of the slots that are not blank, those"
    yield from _patterns("cpu", [cpu] if cpu else [], reserved, without="there are none such")
    pace = Fraction(chip.cpu.cycles_per_byte * chip.frame.dot_clock, chip.cpu.clock) if chip.cpu else Fraction(0)
    yield constant("cpu paced", chip.cpu is not None, "1: the CPU has a pace of its own; 0: it is as fast as the slots")
    yield constant("cpu byte dots over", pace.numerator, "the CPU's loop for a byte takes this over ...")
    yield constant("cpu byte dots under", pace.denominator, "... this many dots")
    yield constant(
        "cpu queue", chip.cpu.queue if chip.cpu else 0, "bytes that the chip holds for the CPU; 0: without end"
    )


def _patterns(prefix: str, patterns: Sequence[SlotPattern], who: str, without: str = "all") -> Iterator[Item]:
    """Which slots somebody may use: those whose number modulo ``every`` is in its part of the table of places within a turn."""
    lists = [pattern.at or () for pattern in patterns]
    firsts = [sum(len(each) for each in lists[:number]) for number in range(len(lists))]
    yield numbers(
        f"{prefix} every",
        (pattern.every or 0 for pattern in patterns),
        f"{who} whose number modulo this is listed; 0: {without}",
    )
    yield numbers(f"{prefix} at first", firsts, "where its list begins in the table that follows")
    yield numbers(f"{prefix} at count", map(len, lists), "how many numbers its list has")
    yield numbers(f"{prefix} at", (slot for each in lists for slot in each), "the lists, one after another")
