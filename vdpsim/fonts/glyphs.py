"""A font as glyphs, and what its readers share: boxes put into one box, and characters by a font's own numbering.

Law: a font is dots and numbers; nothing is scaled and no dot is lost. Every glyph of a font has the font's one box. Sizes are
checked before memory is asked for. Knows no file format and no chip.
"""

from __future__ import annotations

import codecs
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt

from ..door.arrays import size, texts, told
from ..door.given import flag, instance, whole_number
from ..door.shown import counted
from ..files.packed import wrong

MOST_SIDE = 256
"""Dots across or down; a larger glyph is refused."""

MOST_DOTS = 1 << 25
"""Dots of all glyphs of a font together; more are refused."""

MOST_TOLD = 20
"""Mistakes of one file that are told."""

LAST_CHARACTER = 0x10FFFF

Glyph = npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False, repr=False)
class Font:
    """Glyphs of one size.

    ``size``: dots across and down of every glyph's box, 1 to MOST_SIDE each. ``glyphs``: bool (down, across), true where
    there is ink, read-only; by Unicode code point where ``characters`` is true, else by the glyph's number in its file. Several
    characters may share one array. ``notes``: what was left out or done on the way, in plain words. ``widths``: of each glyph,
    how many dots across its file gives it, from the box's left edge on; in a font for a grid less than ``size`` where narrow
    and wide glyphs stand together. Raises TypeError or ValueError for what is none of these.
    """

    size: tuple[int, int]
    glyphs: Mapping[int, Glyph]
    characters: bool
    notes: tuple[str, ...] = ()
    widths: Mapping[int, int] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Check every glyph, and keep numbers as Python's own."""
        across, down = size("size", self.size)
        if not (1 <= across <= MOST_SIDE and 1 <= down <= MOST_SIDE):
            raise ValueError(f"size must be 1x1 to {MOST_SIDE}x{MOST_SIDE} dots, got {told(self.size)}")
        for number, glyph in instance("glyphs", self.glyphs, Mapping, "glyphs by number").items():
            whole_number("a glyph's number", number)
            if not isinstance(glyph, np.ndarray) or glyph.dtype != np.bool_ or glyph.shape != (down, across):
                raise TypeError(f"each of glyphs must be a bool array {down, across}, got {told(glyph)}")
        for number, wide in instance("widths", self.widths, Mapping, "dots by a glyph's number").items():
            whole_number("a glyph's number", number)
            whole_number("each of widths", wide, 0, across)
        object.__setattr__(self, "size", (across, down))
        object.__setattr__(self, "notes", texts("notes", self.notes))
        flag("characters", self.characters)


@dataclass(frozen=True)
class DrawnGlyph:
    """One glyph as its file has it.

    Its box has ``size``, and its lower left corner lies at ``corner`` from the glyph's origin, y upwards. ``bits``: its rows
    from the top, each in whole bytes, the leftmost dot in the highest bit. ``advance``: the dots from its origin to the next
    glyph's.
    """

    size: tuple[int, int]
    corner: tuple[int, int]
    bits: bytes
    advance: int


def check_size(file: str, size: tuple[int, int], count: int, line: int = 0) -> None:
    """Raise InputError where glyphs of ``size``, or ``count`` of them together, are beyond the limits."""
    across, down = size
    if not (1 <= across <= MOST_SIDE and 1 <= down <= MOST_SIDE):
        raise wrong(file, f"glyphs must be 1x1 to {MOST_SIDE}x{MOST_SIDE} dots, are {across}x{down}", line)
    if count * across * down > MOST_DOTS:
        told = f"all glyphs together must have at most {MOST_DOTS} dots"
        raise wrong(file, f"{told}, {count} of {across}x{down} have {count * across * down}", line)


def unpack(bits: bytes, count: int, size: tuple[int, int]) -> Glyph:
    """The glyphs, bool (count, down, across), whose rows stand in ``bits`` in whole bytes, leftmost dot highest."""
    across, down = size
    rows = np.frombuffer(bits, np.uint8).reshape(count, down, (across + 7) // 8)
    glyphs = np.unpackbits(rows, axis=2, count=across).view(np.bool_)
    glyphs.flags.writeable = False
    return glyphs


def row_bytes(across: int) -> int:
    """Bytes of a row that takes whole bytes."""
    return (across + 7) // 8


def placed(
    file: str, drawn: Sequence[DrawnGlyph], at_least: Sequence[DrawnGlyph] = ()
) -> tuple[tuple[int, int], list[Glyph], int]:
    """All glyphs in the smallest box that takes every one of them, and the empty boxes of ``at_least``, at its place.

    Returns the box's size, the glyphs in order, and how far the glyphs' origin lies from the box's left edge. Raises InputError
    where the box or the glyphs together are too large; a font without any dot is refused too.
    """
    boxes = [one for one in (*at_least, *drawn) if min(one.size) > 0]
    if not boxes:
        raise wrong(file, "has no glyph with any dots")
    left = min(one.corner[0] for one in boxes)
    bottom = min(one.corner[1] for one in boxes)
    top = max(one.corner[1] + one.size[1] for one in boxes)
    size = (max(one.corner[0] + one.size[0] for one in boxes) - left, top - bottom)
    check_size(file, size, len(drawn))
    glyphs = []
    for one in drawn:
        glyph = np.zeros(size[::-1], np.bool_)
        (across, down), x, y = one.size, one.corner[0] - left, top - one.corner[1] - one.size[1]
        if across and down:
            glyph[y : y + down, x : x + across] = unpack(one.bits, 1, one.size)[0]
        glyph.flags.writeable = False
        glyphs.append(glyph)
    return size, glyphs, -left


def named(pairs: Iterable[tuple[int, int]], notes: list[str], what: str = "character") -> dict[int, int]:
    """Glyphs' places by code, of pairs (code, place). Where a code comes twice the first one counts, and ``notes`` says so."""
    found: dict[int, int] = {}
    again = 0
    for code, place in pairs:
        again += found.setdefault(code, place) != place
    if again:
        notes.append(f"{counted(again, what)} had several glyphs: the first of them counts")
    return found


_EIGHT_BITS = re.compile(r"iso8859-\d{1,2}|koi8-[ru]|tis620-\d")


class Charset:
    """How a font's own numbers become characters, by the last two parts of its name (``ISO8859``, ``15``), in any case."""

    def __init__(self, registry: str, encoding: str) -> None:
        self.name = f"{registry}-{encoding}".lower()
        self._table: list[int | None] | None = None
        if self.name == "iso646.1991-irv":
            self._table = [*range(128), *[None] * 128]
        if _EIGHT_BITS.fullmatch(self.name):
            try:
                codec = codecs.lookup("tis-620" if self.name.startswith("tis620") else self.name)
            except LookupError:  # there is no part 12 of ISO 8859
                return
            text = [codec.decode(bytes([code]), "replace")[0] for code in range(256)]
            self._table = [None if one == "\N{REPLACEMENT CHARACTER}" else ord(one) for one in text]

    @property
    def characters(self) -> bool:
        """Whether its numbers can be told as Unicode code points."""
        return self.name == "iso10646-1" or self._table is not None

    def code(self, number: int) -> int | None:
        """The code point of ``number`` (the number itself where the numbering is not known); None where there is none."""
        if self._table is not None:
            return self._table[number] if 0 <= number < 256 else None
        return number if 0 <= number <= LAST_CHARACTER else None


def by_code(
    file: str,
    charset: Charset,
    numbered: Iterable[tuple[int, int]],
    drawn: Sequence[DrawnGlyph],
    notes: list[str],
    at_least: Sequence[DrawnGlyph] = (),
) -> Font:
    """The font whose file gives numbers to glyphs: ``numbered`` are pairs (number in ``charset``, place in ``drawn``)."""
    pairs = [(charset.code(number), place) for number, place in numbered]
    places = named([(code, place) for code, place in pairs if code is not None], notes)
    silent = len(drawn) - len({place for code, place in pairs if code is not None})
    if silent:
        notes.append(f"left out: {counted(silent, 'glyph')} without a character")
    if charset.name != "-" and not charset.characters:
        notes.append(f"numbered as {charset.name} does, whose characters are not known here")
    if not places:
        raise wrong(file, "has no glyph that stands for a character" if drawn else "has no glyphs")
    used = sorted(set(places.values()))
    size, glyphs, origin = placed(file, [drawn[place] for place in used], at_least)
    shown = dict(zip(used, glyphs, strict=True))
    widths = {}
    for code, place in places.items():
        one = drawn[place]
        right = origin + max(one.advance, one.corner[0] + one.size[0])
        widths[code] = max(0, min(right, size[0]))
    found = {code: shown[place] for code, place in places.items()}
    return Font(size, found, charset.characters, tuple(notes), widths)
