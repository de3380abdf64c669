"""A machine, its registers and its sprites in a notebook.

Law: says what they hold; reading here changes nothing.
"""

from __future__ import annotations

from ..machine.handles import Registers, Sprites
from ..machine.machine import Machine
from .palettes import entries
from .pieces import MOST_ROWS, heading, line, table


def machine_html(machine: Machine) -> str:
    """Where it stands, and its palette."""
    state, chip = machine.state, machine.chip
    told = f"Machine of {chip.name}, before line {state.line} of frame {state.frame}"
    sprites = f", {len(machine.sprites)} sprites" if chip.sprites else ""
    held = f"{len(machine.memory):,} bytes of memory, {len(machine.registers)} registers{sprites}"
    return heading(told) + line(held) + entries(chip.palette, dict(enumerate(machine.palette.tolist())))


def registers_html(registers: Registers) -> str:
    """Each register's value in force."""
    rows = [(name, registers[name], f"0x{registers[name]:X}") for name in list(registers)[:MOST_ROWS]]
    return heading(repr(registers)[1:-1]) + table(("register", "value", "in hex"), rows, right=2, total=len(registers))


def sprites_html(sprites: Sprites) -> str:
    """The fields of the first sprites."""
    if not len(sprites):
        return heading(repr(sprites)[1:-1])
    rows = []
    for number in range(min(len(sprites), MOST_ROWS)):
        try:
            rows.append((number, *(getattr(sprites[number], name) for name in sprites.fields)))
        except IndexError as beyond:  # its table ends beyond the memory
            rows.append((number, str(beyond)))
    head = ("sprite", *sprites.fields)
    return heading(repr(sprites)[1:-1]) + table(head, rows, total=len(sprites))
