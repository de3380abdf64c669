"""Which features of chips, writes and frames a case had: what it was tried with, and what it was seen to do.

Law: a name for each thing that the rules speak of, so that a table of counts shows what was never met. What a chip has is
taken from its tables; what happened is taken from the twin.
"""

from __future__ import annotations

from collections.abc import Iterator

from twin_cases import Case, Drawn

from vdpsim.chip.model import Chip, TextMode, TilesMode
from vdpsim.chip.registers import fields, registers, settable
from vdpsim.chip.tables.modes import SurfaceMode
from vdpsim.state.writes import RegisterWrite
from vdpsim.testing.strategies.made.sprite_tables import RELATIONS


def features(case: Case, parts: list[Drawn]) -> set[str]:
    """All that ``case`` had, by name."""
    found = {f"case: {case.kind}", *of_chip(case.chip)}
    found |= {"case: sources alone"} if case.planes else set()
    found |= {"case: more than one part"} if len(parts) > 1 else set()
    found |= {f"scene: {word}" for word in case.says}
    for part in parts:
        found |= set(of_part(part))
    return found


FEATURES_OF_TILES = ("turn", "flip_x", "flip_y", "bank", "priority")


def of_chip(chip: Chip) -> Iterator[str]:
    """What the chip's tables say."""
    yield f"layers: {len(chip.layers)}"
    yield f"memory: {chip.memory.bytes_per_access} bytes an access, {chip.memory.byte_order}"
    yield f"frame: {len(chip.frame.every_size)} sizes"
    yield "palette: " + ("above 256" if chip.palette.entries > 256 else "to 256")
    for layer in chip.layers:
        yield f"modes: {len(layer.modes)}"
        for mode in layer.modes:
            yield f"mode: {mode.kind}"
            yield f"mode: first dot {mode.first_dot}"
            yield f"mode: origin {mode.origin}"
            yield from ["mode: exclusive"] if mode.exclusive is not None else []
            yield from ["mode: its own ladder"] if mode.ladder else []
            yield "mode: " + ("transparent" if mode.transparent is not None else "opaque")
            yield from ["mode: bank step of its own"] if mode.entries.bank_step is not None else []
            yield from ["mode: larger dots"] if mode.double != (1, 1) else []
            yield from ["surface: edges"] if isinstance(mode, SurfaceMode) and not mode.wrap else []
            if isinstance(mode, TilesMode | TextMode):
                yield f"cell: {mode.cell_bytes} bytes"
                yield from (f"cell: {name}" for name in mode.cell.layout)
            if isinstance(mode, TilesMode):
                yield "tile: square" if mode.tile[0] == mode.tile[1] else "tile: oblong"
                yield f"tile: {mode.bits_per_dot} bits"
                yield from ["tile: several pages"] if mode.pages != (1, 1) else []
                yield from [
                    f"tile: {key} by columns" for key in ("page_order", "cell_order") if getattr(mode, key) != "rows"
                ]
            elif isinstance(mode, TextMode):
                yield "text: " + ("backdrop around it" if mode.margin is None else "margin")
            else:
                yield f"bitmap: {mode.bits_per_dot} bits"
                yield from ["bitmap: stride"] if mode.stride else []
                yield from [f"bitmap: colour cells, {', '.join(mode.colours.cell.layout)}"] if mode.colours else []
            yield from [f"{mode.kind}: planes {mode.planes}"] if not isinstance(mode, TextMode) and mode.planes else []
    yield from _of_sprites(chip)
    for rung in chip.ladder:
        yield from (f"rung: {relation}" for relation in RELATIONS if rung.when and f" {relation} " in str(rung.when))
    yield from _of_registers(chip)
    yield from _of_time(chip)


def _of_registers(chip: Chip) -> Iterator[str]:
    yield f"registers: {'default map' if chip.registers is None else type(chip.registers).__name__}"
    for field in fields(chip).values():
        yield f"effect: {field.effect}"
        yield from ["field: split"] if field.split else []
        yield from ["field: sets several"] if len(field.controls) > 1 else []
    for register in registers(chip).values():
        yield f"register: {register.access}"
        yield f"register: half write {register.half_write}" + (", several bytes" if register.size > 1 else "")
        yield from ["register: several fields"] if len(register.holds) > 1 else []
        yield from ["register: bits that no field names"] if register.unnamed else []


def _of_sprites(chip: Chip) -> Iterator[str]:
    sprites = chip.sprites
    if sprites is None:
        return
    yield f"sprites: table in {sprites.table}"
    yield f"sprites: front {sprites.front}, dropped {sprites.dropped}"
    yield f"sprites: {sprites.resolve}"
    yield f"sprites: {len(sprites.sizes)} sizes"
    yield from (f"sprites: {across} across" for across, _ in sprites.sizes if across not in (8, 16, 32, 64))
    if sprites.tiles:
        yield f"sprites: tiles by {sprites.tiles.order}" + (" with a stride" if sprites.tiles.stride else "")
        yield from ["sprites: tiles of one number"] if sprites.pattern_bytes else []
    yield from ["sprites: a step for each size"] if isinstance(sprites.pattern_bytes, tuple) else []
    yield f"sprites: {sprites.bits_per_dot} bits"
    yield from [f"sprites: planes {sprites.planes}"] if sprites.planes else []
    yield from (f"sprites: {name}" for name in sprites.fields.layout if name not in {"x", "y", "pattern"})
    for name in ("per_line", "dots_per_line", "wrap_x", "wrap_y"):
        yield from [f"sprites: {name}"] if getattr(sprites, name) else []
    if chip.collisions:
        yield "collisions"
        yield from ["collisions: hidden dots"] if chip.collisions.hidden_dots else []


def _of_time(chip: Chip) -> Iterator[str]:
    yield from (f"port: {port.target}" for port in chip.ports)
    if chip.cpu:
        yield "cpu: pace"
        yield "cpu: queue of " + ("1" if chip.cpu.queue == 1 else "more")
    if chip.status:
        yield f"status: cleared by {chip.status.cleared}"
    if chip.time is None:
        yield "time: none"
        return
    yield "time: table"
    yield f"time: cpu {chip.time.cpu.active}"
    yield from ["time: refresh"] if chip.time.refresh else []
    for name, client in chip.time.clients.items():
        yield f"client: {'sprites' if name == 'sprites' else 'layer'} {client.when}"
        yield from ["client: pattern of slots"] if client.every else []
        yield from ["client: keep"] if client.keep else []
        yield from [f"client: {name.rpartition('.')[2]} of one mode"] if name.count(".") == 2 else []


def of_part(part: Drawn) -> Iterator[str]:
    """What is written there, and what was seen to happen."""
    twin, chip = part.twin, part.state.chip
    known = settable(chip)
    for write in part.writes:
        middle = ", mid-line" if 0 < write.dot < chip.frame.width else ""
        of = f" {getattr(known[write.name], 'effect', 'whole')}" if isinstance(write, RegisterWrite) else ""
        yield f"write: {type(write).__name__}{of}{middle}"
    for name in ("ahead", "buffers", "kept", "waiting", "next_frame", "held"):
        yield from [f"begins with: {name}"] if getattr(part.state, name) else []
    yield from (f"drop: {reason}" for _, _, reason in twin.drops)
    yield from (f"flag: {flag}" for _, _, flag in twin.raised)
    yield from ["seen: collision"] if twin.collisions else []
    yield from ["seen: sprite in front"] if any(number >= 0 for row in twin.sprite for number in row) else []
    yield from ["seen: more than one source"] if len({one for row in twin.source for one in row}) > 2 else []
    yield from ["seen: border"] if len(twin.edge) > len(twin.indices) else []
    if chip.time:
        missed = any(any(lost.values()) for lost in twin.missed)
        yield "seen: " + ("late" if missed else "in time")
    short = [line for line, count in enumerate(twin.unread) if count]
    yield from ["seen: a scan that does not end"] if short else []
    if chip.time and chip.sprites:
        ahead = chip.time.clients["sprites"].when == "line before"
        places = [twin.slot_first + line + ahead - twin.first for line in short]
        many = [twin.found[place] for place in places if 0 <= place < len(twin.found)]
        yield from ["seen: sprites found by a scan that does not end"] if any(many) else []
    yield from ["seen: transfer ends"] if any(record[-1] for record in twin.transfers) else []
    yield from ["seen: transfer goes on"] if any(not record[-1] for record in twin.transfers) else []
