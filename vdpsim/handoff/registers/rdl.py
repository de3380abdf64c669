"""``registers.rdl``: the address map in SystemRDL 2.0 (Accellera, January 2018).

Law: says what ``address_map.py`` says, in the pieces of ``pieces.py``; nothing is worked out here. The file's last component
is the CPU's address space, which a compiler elaborates where it is told nothing; what a port reaches has a space of its own.
Foreign text is shown, and nothing else: whatever a chip's file says, a text of it ends no string and no line, begins no markup,
and sets off neither of the two preprocessors of SystemRDL. What a text would set off is told from memory of SystemRDL 2.0; tests
hold quotes and markup against systemrdl-compiler (``tests/hardware/test_keywords.py``), and whole files of hostile names.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ...chip.line.places import port_bytes
from ...chip.model import Chip
from ..markdown import one_line
from ..names import distinct, escaped
from .address_map import WHAT, Field, wired
from .pieces import FILE, Named, Piece, Word

_ALIKE = str.maketrans({"`": "'", "[": "(", "]": ")", "<": "(", ">": ")", '"': "'", "\\": "/"})


HEAD = """\
// {name}: what its CPU has addresses for, in SystemRDL 2.0.
//
// Addresses count bytes, and the low byte of a word stands at the lowest. A register of up to 8, 16 or 32 bits is a word of so
// many, one of 17 to 24 bits a file of two words: low, of 16 bits, and high, of 8. Bits beyond a register's own have no field.
// A field that is not in one piece is several: NAME_H_L has its bits H to L, NAME_B its bit B. Bits that the chip keeps and that
// do nothing are fields without hardware.
// Names: every run of other characters than ASCII letters and digits is one underscore; before a keyword or a digit stands n_.
"""

PROPERTIES = """
property takes_effect { component = field; type = string; };  // from when a write counts: at once, next line, next frame
property sets { component = field; type = string; };  // the controls that it sets
property counts_in { component = field; type = longint unsigned; };  // what one unit of it is worth
property takes_up_to { component = field; type = longint unsigned; };  // the largest number that it keeps
property has_bits { component = field; type = string; };  // of a field in several pieces: which bits this is
property half_write { component = reg | regfile; type = string; };  // a write to a part of a field: counts, waits
"""


def inside(text: str) -> str:
    """``text`` as it stands in a comment or between a string's quotes.

    A string ends at a quote; ``<%`` begins Perl and a backtick a macro, wherever they stand; square brackets are markup, and what
    reads a description as Markdown takes ``<`` for HTML. So all these brackets are written as round ones, quotes and backticks
    as apostrophes, and backslashes as slashes.

    >>> inside('<%= 1 %> "x" [b]')
    "(%= 1 %) 'x' (b)"
    """
    return one_line(text).translate(_ALIKE)


def string(text: str) -> str:
    """``text`` as a string of SystemRDL 2.0, with its quotes."""
    return f'"{inside(text)}"'


def registers_rdl(chip: Chip, named: Sequence[Named]) -> str:
    """The file's text. Raises InputError where two names of a field's values become one."""
    top = distinct([(chip.name,), *((chip.name, "port", port.target) for port in chip.ports)], "systemrdl", FILE)
    parts = [HEAD.format(name=inside(chip.name)), *_wired(chip), PROPERTIES, *_spaces(chip, top)]
    parts.append(f"\naddrmap {top[chip.name,]} {{\n{_told(chip.name, chip.about, 1)}")
    parts.append("    littleendian;\n    lsb0;\n    default regwidth = 8;\n    default accesswidth = 8;\n")
    return "".join([*parts, *(_entry(one) for one in named), "};\n"])


def _wired(chip: Chip) -> Iterator[str]:
    """The controls that nothing sets, each a comment."""
    if any(wired(chip)):
        yield "//\n// Wired, without a register:\n"
        yield from (f"//   {name} = {value}\n" for name, value in wired(chip))


def _spaces(chip: Chip, top: dict[tuple[str, ...], str]) -> Iterator[str]:
    """What each port reaches, byte by byte."""
    for port in chip.ports:
        count, what = port_bytes(chip, port), WHAT[port.target]
        name = escaped([what], "systemrdl")
        yield f"\naddrmap {top[chip.name, 'port', port.target]} {{\n"
        yield _told(f"{chip.name}: {what}", f"The {count} bytes that the {port.target} port reaches.", 1)
        yield f"    external mem {{\n        mementries = {count};\n        memwidth = 8;\n        sw = rw;\n"
        yield f"    }} {name} @ 0x0;\n}};\n"


def _told(name: str, about: str, depth: int) -> str:
    """The two properties that are for people."""
    space = "    " * depth
    desc = f"{space}desc = {string(about)};\n" if about else ""
    return f"{space}name = {string(name)};\n{desc}"


def _entry(one: Named) -> str:
    head = _told(one.entry.title, " ".join(one.entry.said), 2)
    if one.entry.half_write is not None:
        head += f"        half_write = {string(one.entry.half_write)};\n"
    at = f"@ 0x{one.entry.address:X}"
    if len(one.words) == 1:
        return f"\n    reg {{\n{head}{_word(one.words[0], 2)}    }} {one.name} {at};\n"
    words = [f"        reg {{\n{_word(word, 3)}        }} {word.part} @ 0x{word.offset:X};\n" for word in one.words]
    return f"\n    regfile {{\n{head}{''.join(words)}    }} {one.name} {at};\n"


def _word(word: Word, depth: int) -> str:
    """What stands in a word's braces: its width, where it is more than a byte, and its fields."""
    space = "    " * depth
    width = f"{space}regwidth = {word.width};\n" if word.width > 8 else ""
    return width + "".join(_field(piece, space) for piece in word.pieces)


def _field(piece: Piece, space: str) -> str:
    field = piece.field
    lines = [f"name = {string(field.title)}", f"desc = {string(' '.join(field.said))}"]
    lines += [f"sw = {field.software}", f"hw = {field.hardware}", *_behaviour(field), *_properties(piece)]
    enum = _enum(piece, space)
    if enum:
        lines.append(f"encode = {piece.name}_names")
    body = "".join(f"{space}    {line};\n" for line in lines)
    reset = "" if piece.reset is None else f" = {piece.width}'h{piece.reset:X}"
    return f"{enum}{space}field {{\n{body}{space}}} {piece.name}[{piece.high}:{piece.low}]{reset};\n"


def _behaviour(field: Field) -> list[str]:
    """Flags are raised by hardware, which wins over the CPU; a port's data is more than bits that are kept."""
    if field.strobes:
        return ["swacc", "swmod"]
    clears = {"read": ["onread = rclr"], "write": ["onwrite = woclr"], "never": []}[field.cleared]
    return [*clears, "hwset", "precedence = hw"] if clears else []


def _properties(piece: Piece) -> list[str]:
    """What SystemRDL has no word for."""
    field = piece.field
    if not field.sets:
        return []
    found = [f"takes_effect = {string(field.effect)}", f"sets = {string(', '.join(field.sets))}"]
    found += [f"counts_in = {field.step}", f"takes_up_to = {field.top}"]
    return found if piece.whole else [*found, f"has_bits = {string(piece.own)}"]


def _enum(piece: Piece, space: str) -> str:
    """The names of a field's numbers."""
    told = dict(piece.field.names)
    lines = [
        f"{space}    {name} = {piece.width}'d{number} {{ name = {string(told[number])}; }};\n"
        for name, number in piece.numbers.items()
    ]
    return f"{space}enum {piece.name}_names {{\n{''.join(lines)}{space}}};\n" if lines else ""
