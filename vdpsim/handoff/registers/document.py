"""``registers.md``: the address map for people, in Markdown with tables; and the drawing of each word as SVG.

Law: says what ``address_map.py`` says, with names as the chip's file has them; a drawing's file has the name that the word has in
``registers.rdl``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ...chip.line.places import port_bytes
from ...chip.model import Chip
from ...door.shown import counted
from ..drawing.bits import Held, bit_diagram
from ..markdown import paragraph, shown, table
from .address_map import WHAT, Entry, Field, wired
from .pieces import Named

ACCESS = {"rw": "read, write", "r": "read", "w": "write"}
CLEARED = {"read": ", which clears", "write": " 1 to clear", "never": ""}
FOLDER = "registers"

RULES = """\
Addresses count bytes, and the low byte of a word stands at the lowest. Resets are numbers as they are read back. A field's bits
are those of its word; where it has not all of its own bits there, those that it has stand in brackets behind its name.
"""


def registers_md(chip: Chip, named: Sequence[Named]) -> str:
    """The document's text."""
    return "\n".join([*_lines(chip, named), ""])


def drawings(named: Sequence[Named]) -> Iterator[tuple[str, str]]:
    """Each word's drawing: the name of its file, and the file's text. Bits that do nothing are drawn as nobody's."""
    for one in named:
        entry = one.entry
        held = [
            Held(field.title, field.bits, field.of, (_reset(field.reset_number), _access(field), _effect(field)))
            for field in entry.fields
            if not field.idle
        ]
        title = f"{entry.title}, {counted(entry.bits, 'bit')} at {_address(entry.address)}: {ACCESS[entry.software]}"
        names = [_address(entry.address + byte) for byte in range(entry.size)]
        columns = ("reset", "access", "takes effect")
        drawn = bit_diagram(title, entry.bits, held, columns=columns, reset=entry.reset, byte_names=names)
        yield f"{FOLDER}/{one.name}.svg", drawn


def _lines(chip: Chip, named: Sequence[Named]) -> Iterator[str]:
    yield f"# {shown(chip.name)}: registers\n"
    if chip.about.strip():
        yield f"{paragraph(chip.about)}\n"
    yield RULES
    yield from table(("address", "what", "bits", "access", "reset"), [_row(one.entry) for one in named])
    if chip.ports:
        yield ""
        reach = [(port.target, WHAT[port.target], port_bytes(chip, port)) for port in chip.ports]
        yield from table(("port", "reaches", "bytes"), reach)
    if any(wired(chip)):
        yield ""
        yield from table(("wired, without a register", "value"), [tuple(map(shown, one)) for one in wired(chip)])
    for one in named:
        yield from _section(one)


def _row(entry: Entry) -> tuple[object, ...]:
    return _address(entry.address), shown(entry.title), entry.bits, ACCESS[entry.software], _reset(entry.reset)


def _section(one: Named) -> Iterator[str]:
    """A word: its drawing, what holds for all of it, and its fields from the highest on."""
    entry = one.entry
    yield f"\n## {_address(entry.address)} {shown(entry.title)}\n\n![Its bits]({FOLDER}/{one.name}.svg)\n"
    if entry.said:
        yield f"{shown(' '.join(entry.said))}\n"
    ordered = sorted(entry.fields, key=lambda field: -field.bits.highest)
    yield from table(("bits", "field", "reset", "access", "takes effect", "what"), map(_field, ordered))


def _field(field: Field) -> tuple[object, ...]:
    names = ", ".join(f"{number} {name}" for number, name in field.names)
    said = " ".join([*field.said, *([f"{names}."] if names else [])])
    title = field.title if field.of is None else f"{field.title}[{field.of}]"
    return field.bits, shown(title), _reset(field.reset_number), _access(field), _effect(field), shown(said)


def _address(number: int) -> str:
    return f"0x{number:02X}" if number < 0x100 else f"0x{number:04X}"


def _reset(number: int | None) -> str:
    return "-" if number is None else f"0x{number:X}"


def _access(field: Field) -> str:
    return ACCESS[field.software] + CLEARED[field.cleared]


def _effect(field: Field) -> str:
    return field.effect if field.sets else "-"
