"""The CPU's side of a chip that stands between two lines: bytes read, and bytes written now.

Law: works on a State and changes in it only what the byte changes. What a byte means is the engine's to say; this module
lets it happen at the moment where the state stands, which is dot ``width`` of the line before: there the slots of the next
line begin. Draws nothing.
"""

from __future__ import annotations

from collections.abc import Collection

from ..chip.addresses import readable
from ..chip.line.places import entry_bytes, port_bytes
from ..chip.model import Chip, Port
from ..chip.registers import registers
from ..door.given import whole_number
from ..engine.plan import Plan
from ..engine.ports import advance, decode
from ..state.enact import Latches, enact
from ..state.state import State, Waiting
from ..state.writes import PortWrite, Transfer, fault


def waits_now(plan: Plan, state: State) -> Collection[str]:
    """The fields of registers whose values, written now, wait for a frame to begin: none before line 0, where one begins."""
    return plan.waits if state.line else ()


def read(chip: Chip, state: State, address: int) -> int:
    """The byte that the CPU reads at ``address``, with all that reading does. Raises KeyError where there is nothing to read."""
    address = whole_number("address", address, -1 << 63)
    for register in registers(chip).values():
        byte = address - register.address
        if 0 <= byte < register.size:
            written = Latches(state, state.held).word(register) if register.access == "read-back" else 0
            return written >> 8 * byte & 0xFF
    for port, at in zip(chip.ports, state.ports, strict=True):
        if address == port.data:
            found = _data(chip, state, port, at[0] % port_bytes(chip, port))
            advance(chip, port, at)
            return found
    status = chip.status
    if status and address == status.address:
        found = state.status
        state.status = 0 if status.cleared == "read" else found
        return found
    if status and address == status.groups:
        found = state.collision_flags
        state.collision_flags = 0 if status.cleared == "read" else found
        return found
    raise KeyError(f"nothing to read at 0x{address:02X}: {chip.name} has {readable(chip)}")


def _data(chip: Chip, state: State, port: Port, place: int) -> int:
    """The byte ``place`` of what ``port`` reaches."""
    if port.target == "memory":
        return int(state.memory[place])
    if port.target == "sprites":
        return int(state.sprites.reshape(-1)[place])
    entry, byte = divmod(place, entry_bytes(chip))
    return int(state.palette[entry]) >> 8 * byte & 0xFF


def write(plan: Plan, state: State, address: int, byte: int) -> None:
    """Let the CPU write ``byte`` to ``address`` now. Raises ValueError for a byte or an address out of range."""
    chip, wanted = plan.chip, PortWrite(state.line, address, byte)
    wrong = fault(chip, wanted)
    if wrong:
        raise ValueError(wrong)
    found, clears = decode(chip, state, state.ports, state.held, [wanted])
    for one in found:
        if isinstance(one, Transfer):
            state.waiting += (Waiting(state.transfers, 0, one.address, one.data, one.step),)
            state.transfers += 1
        else:
            enact(state, one, waits_now(plan, state))
    for clear in clears:
        state.status &= ~clear.status
        state.collision_flags &= ~clear.groups
