"""``registers.md``: the address map for people, in Markdown with tables; and the drawing of each word as SVG.

Law: says what ``address_map.py`` says, with names as the chip's file has them; a drawing's file has the name that the word has in
``registers.rdl``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from ...chip.controls import controls
from ...chip.line.places import port_bytes
from ...chip.model import Chip
from ...chip.named import told
from ...chip.registers import field_names, rest_values
from ...door.shown import counted
from ..drawing.bits import Held, bit_diagram
from .address_map import WHAT, Entry, Field
from .pieces import Named
from .words import markdown, paragraph

ACCESS = {"rw": "read, write", "r": "read", "w": "write"}
CLEARED = {"read": ", which clears", "write": " 1 to clear", "never": ""}
FOLDER = "registers"


def registers_md(chip: Chip, named: Sequence[Named]) -> str:
    """The document's text."""
    parts = [
        f"# {markdown(chip.name)}: registers\n\n",
        f"{paragraph(chip.about)}\n\n" if chip.about.strip() else "",
        RULES,
    ]
    parts.append("\n| address | what | bits | access | reset |\n| --- | --- | --- | --- | --- |\n")
    parts += [
        _row(_address(one.entry.address), _name(one.entry), one.entry.bits, _access(one.entry), _reset(one.entry))
        for one in named
    ]
    parts += [*_reach(chip), *_wired(chip)]
    for one in named:
        parts += _section(one)
    return "".join(parts)


RULES = """\
Addresses count bytes, and the low byte of a word stands at the lowest. Resets are numbers as they are read back. A field's bits
are those of its word; where it has not all of its own bits there, those that it has stand in brackets behind its name.
"""


def _address(number: int) -> str:
    return f"0x{number:02X}" if number < 0x100 else f"0x{number:04X}"


def drawings(named: Sequence[Named]) -> Iterator[tuple[str, str]]:
    """Each word's drawing: the name of its file, and the file's text. Bits that do nothing are drawn as nobody's."""
    for one in named:
        entry = one.entry
        held = [
            Held(
                field.title,
                field.bits,
                field.of,
                (_reset_of(field), _software(field), field.effect if field.sets else "-"),
            )
            for field in entry.fields
            if not field.idle
        ]
        title = f"{entry.title}, {counted(entry.bits, 'bit')} at {_address(entry.address)}: {_access(entry)}"
        names = [_address(entry.address + byte) for byte in range(entry.size)]
        columns = ("reset", "access", "takes effect")
        drawn = bit_diagram(title, entry.bits, held, columns=columns, reset=entry.reset, byte_names=names)
        yield f"{FOLDER}/{one.name}.svg", drawn


def _row(*cells: object) -> str:
    return f"| {' | '.join(map(str, cells))} |\n"


def _name(entry: Entry) -> str:
    return markdown(entry.title)


def _access(entry: Entry) -> str:
    return ACCESS[entry.software]


def _reset(entry: Entry) -> str:
    return "-" if entry.reset is None else f"0x{entry.reset:X}"


def _software(field: Field) -> str:
    return ACCESS[field.software] + CLEARED[field.cleared]


def _reset_of(field: Field) -> str:
    return "-" if field.reset_number is None else f"0x{field.reset_number:X}"


def _reach(chip: Chip) -> Iterator[str]:
    """What the ports reach."""
    if chip.ports:
        yield "\n| port | reaches | bytes |\n| --- | --- | --- |\n"
        for port in chip.ports:
            yield _row(port.target, WHAT[port.target], port_bytes(chip, port))


def _wired(chip: Chip) -> Iterator[str]:
    """The controls that nothing sets."""
    known, settable = controls(chip), field_names(chip)
    wired = [(name, value) for name, value in rest_values(chip).items() if name not in settable]
    if wired:
        yield "\n| wired, without a register | value |\n| --- | --- |\n"
        yield from (_row(markdown(name), markdown(told(known[name].names, value))) for name, value in wired)


def _section(one: Named) -> Iterator[str]:
    """A word: its drawing, what holds for all of it, and its fields from the highest on."""
    entry = one.entry
    yield f"\n## {_address(one.entry.address)} {_name(entry)}\n\n![Its bits]({FOLDER}/{one.name}.svg)\n\n"
    if entry.said:
        yield f"{markdown(' '.join(entry.said))}\n\n"
    yield "| bits | field | reset | access | takes effect | |\n| --- | --- | --- | --- | --- | --- |\n"
    for field in sorted(entry.fields, key=lambda field: -field.bits.highest):
        said = " ".join([*field.said, *_names(field)])
        which = "" if field.of is None else f"[{field.of}]"
        effect = field.effect if field.sets else "-"
        title = markdown(field.title + which)
        yield _row(field.bits, title, _reset_of(field), _software(field), effect, markdown(said))


def _names(field: Field) -> Iterator[str]:
    """What its numbers are called."""
    if field.names:
        yield f"{', '.join(f'{number} {name}' for number, name in field.names)}."
