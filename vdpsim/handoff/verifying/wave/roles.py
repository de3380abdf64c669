"""Which signal of a dump is what: told by whoever asks, else found by its name.

Law: a role has words; a signal whose name is the role's own goes before those of its other words, and a signal that has fewer
bits than the numbers to come is none. Where several are left, that is a mistake that names them all.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

from ....door.shown import clipped, named
from ....files.problems import InputError, Problem
from .dump import WIDEST, Signal

if TYPE_CHECKING:
    from ...records.index import Index


class Role(NamedTuple):
    """What a signal can be: other names that it is known by, whether it has one bit, and what it is."""

    about: str
    words: tuple[str, ...]
    single: bool = False


ROLES: Mapping[str, Role] = {
    "clock": Role(
        "rises once a dot; needed where there is no dot", ("clk", "dot_clock", "pixel_clock", "pclk"), single=True
    ),
    "frame": Role("number of the frame", ("frame_number", "frame_count")),
    "frame_start": Role(
        "rises once a frame, with or without frame", ("new_frame", "vsync", "vs", "frame_sync"), single=True
    ),
    "line": Role("number of the line", ("y", "vcount", "v_count", "vpos", "line_number")),
    "line_start": Role("rises once a line", ("new_line", "hsync", "hs", "line_sync"), single=True),
    "dot": Role("number of the dot", ("x", "hcount", "h_count", "hpos", "dot_number")),
    "valid": Role(
        "1 where a dot of the picture shows", ("de", "dot_valid", "active", "visible", "display_enable"), single=True
    ),
    "blank": Role("1 where none shows", ("blanking",), single=True),
    "line_blank": Role("1 beside the picture", ("hblank", "h_blank"), single=True),
    "frame_blank": Role("1 above or below the picture", ("vblank", "v_blank"), single=True),
    "entry": Role("entry of the palette that shows", ("index", "palette_index", "dot_entry")),
    "colour": Role("colour that shows: 24 bits, red above green above blue", ("color", "rgb")),
    "red": Role("red, of 1 to 8 bits, with green and blue instead of colour", ("r",)),
    "green": Role("green", ("g",)),
    "blue": Role("blue", ("b",)),
    "slot": Role("number of the slot of the line", ("slot_number",)),
    "busy": Role(
        "1 where the slot is used; without it, where client is a client",
        ("access", "access_valid", "mem_valid"),
        single=True,
    ),
    "client": Role("who has the slot, by the index's list", ("client_number",)),
    "address": Role("byte address of the access", ("addr", "mem_address", "mem_addr")),
    "data": Role("what is read, or a transfer's byte", ("value", "mem_data")),
}
"""The roles, each with the names that it is found by."""

CHANNELS = frozenset({"red", "green", "blue"})
"""Roles that say a colour together."""

SCOPE = "scope"
"""What stands for a role where the signals of one scope alone are looked at."""

_CHOICE = re.compile(r"(!?)([^\[\]]+)(?:\[(\d{1,4})(?::(\d{1,4}))?\])?")


class Chosen(NamedTuple):
    """A signal in its role: of its value the bits from ``low`` on, as many as ``bits``, turned over where ``inverted``."""

    signal: Signal
    low: int
    bits: int
    inverted: bool

    def of(self, value: int) -> int:
        """The role's value, from the signal's."""
        if value < 0:
            return value
        value = value >> self.low & (1 << self.bits) - 1
        return value ^ (1 << self.bits) - 1 if self.inverted else value


def within(signals: Sequence[Signal], scope: str | None, file: str) -> Sequence[Signal]:
    """The signals that stand in ``scope``; None: all. Raises InputError where none does."""
    if scope is None:
        return signals
    found = [one for one in signals if f".{one.path}".rpartition(".")[0].endswith(f".{scope.strip()}")]
    if not found:
        raise InputError([Problem(file, 0, f"signal {SCOPE}", f"no signal stands in a scope called {clipped(scope)}")])
    return found


def chosen(signals: Sequence[Signal], index: Index, asked: Mapping[str, str], file: str) -> dict[str, Chosen]:
    """Who has which role, of those that are there. Raises InputError with all that is wrong or ambiguous."""
    problems: list[Problem] = []
    found: dict[str, Chosen] = {}
    for role in [*asked, *(role for role in ROLES if role not in asked)]:
        try:
            one = _asked(signals, role, asked[role]) if role in asked else _by_name(signals, index, role)
        except ValueError as error:
            problems.append(Problem(file, 0, f"signal {clipped(role)}", str(error)))
            continue
        if one is not None:
            found[role] = one
    needed = set(_needed(found, {problem.place.removeprefix("signal ") for problem in problems}))
    problems = [one for one in problems if one.place.removeprefix("signal ") in needed | set(asked)]
    if problems:
        raise InputError(problems)
    if not found.keys() >= CHANNELS:  # one alone says nothing: it is some other signal whose name is as short
        found = {role: one for role, one in found.items() if role not in CHANNELS or role in asked}
    return found


def shows_dots(roles: Collection[str]) -> bool:
    """Whether these roles say what shows."""
    return "entry" in roles or "colour" in roles or set(roles) >= CHANNELS


def wanting(roles: Collection[str]) -> str:
    """What these roles lack for what they show; empty where they lack nothing."""
    there = set(roles)
    gated = bool(there & {"valid", "blank", "line_blank", "line_start"})
    if shows_dots(there) and not ("dot" in there or ("clock" in there and gated)):
        return "dots need dot, or clock with valid, blank or line_start"
    accesses = {"slot", "client", "address"} <= there
    if accesses and "line" not in there:
        return "accesses need line"
    if not accesses and not shows_dots(there):
        return "there must be entry, colour, or red, green and blue for dots, or slot, client and address for accesses"
    return ""


def refused(file: str, roles: Collection[str], more: str = "") -> InputError:
    """The mistake that something is wanting, and what ``more`` is to be said."""
    told = f"{wanting(roles)}; say which signals they are with ROLE=PATH, roles: {', '.join(ROLES)}{more}"
    return InputError([Problem(file, 0, "signal", told)])


def _needed(found: Mapping[str, Chosen], doubtful: set[str]) -> Iterator[str]:
    """The roles that matter to what the dump shows: those of dots, of accesses, or both."""
    there = {*found, *doubtful}
    if there & {"entry", "colour", "red", "green", "blue"}:
        yield from (
            "frame",
            "frame_start",
            "line",
            "dot",
            "valid",
            "blank",
            "line_blank",
            "frame_blank",
            "entry",
            "colour",
        )
        yield from ("red", "green", "blue") if "colour" not in there else ()
        yield from ("clock",) if "dot" not in there else ()
        yield from ("line_start",) if "line" not in there else ()
    if {"slot", "client"} <= there:
        yield from ("frame", "frame_start", "line", "slot", "busy", "client", "address", "data")


def _asked(signals: Sequence[Signal], role: str, text: str) -> Chosen:
    """The signal that somebody asked for. Raises ValueError."""
    if role not in ROLES:
        raise ValueError(f"is none; there are {', '.join(ROLES)}, {SCOPE}")
    form = _CHOICE.fullmatch(text.strip())
    if form is None:
        raise ValueError(
            f"must be a path, with ! before it where it is inverted, [HIGH:LOW] after it for some bits, got {clipped(text)}"
        )
    path = form[2].strip()
    found = [one for one in signals if one.path == path] or [one for one in signals if one.path.endswith(f".{path}")]
    one = _only(
        found,
        f"no signal of the dump is called {clipped(path)}; there are {named([each.path for each in signals], 160)}",
    )
    high, low = (int(form[3]), int(form[4] or form[3])) if form[3] else (one.bits - 1, 0)
    if not 0 <= low <= high < one.bits or high - low >= WIDEST:
        raise ValueError(
            f"{clipped(one.path)} has {one.bits} bits, of which at most {WIDEST} are looked at, got [{high}:{low}]"
        )
    if ROLES[role].single and high != low:
        raise ValueError(f"must have one bit; {clipped(one.path)} has {high - low + 1}")
    return Chosen(one, low, high - low + 1, bool(form[1]))


def _by_name(signals: Sequence[Signal], index: Index, role: str) -> Chosen | None:
    """The signal that has the role by its name, None where there is none. Raises ValueError where there are several."""
    least = _least_bits(index, role)
    for words in ((role,), ROLES[role].words):
        found = [
            one
            for one in signals
            if one.path.rpartition(".")[2].lower() in words
            and (one.bits == 1 if ROLES[role].single else least <= one.bits <= WIDEST)
        ]
        if found:
            one = _only(found, "")
            return Chosen(one, 0, one.bits, inverted=False)
    return None


def _least_bits(index: Index, role: str) -> int:
    """How many bits a signal must have at least so that it can be what it is to be."""
    numbers = {"line": index.height, "dot": index.width, "slot": index.slots_per_line, "client": len(index.clients)}
    if role == "colour":
        return 24
    return max((numbers.get(role, 2) - 1).bit_length(), 1)


def _only(found: Sequence[Signal], none: str) -> Signal:
    """The one signal that all of ``found`` are. Raises ValueError."""
    if not found:
        raise ValueError(none)
    if len({one.code for one in found}) > 1:
        raise ValueError(
            f"could be any of {named([each.path for each in found], 240)}: say which, or the {SCOPE} that counts"
        )
    return found[0]
