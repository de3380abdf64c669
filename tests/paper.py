"""Chips small enough to be worked out on paper, and their frames by engine and twin at once.

Law: what a test does not name is as plain as can be: 64 x 64 dots, 1 KiB of memory of one byte an access, little end first,
16 entries, whose word is their own colour.
"""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import Any

from agreement import differences, state_differences
from twin import draw_frame
from twin_result import TwinResult

from vdpsim.chip.checks import check
from vdpsim.chip.model import Chip
from vdpsim.engine import Plan, draw
from vdpsim.state.state import State
from vdpsim.state.writes import Write, fault

Json = dict[str, Any]

TILES: Json = {
    "name": "t", "kind": "tiles", "tile": 8, "bits_per_dot": 1, "cell_bytes": 1, "cell": {"pattern": "2:0"}, "page": [16, 8],
}  # fmt: skip
BITMAP: Json = {"name": "b", "kind": "bitmap", "bits_per_dot": 2, "width": 64, "height": 16}
TEXT: Json = {
    "name": "x", "kind": "text", "glyph": [6, 8], "cell_bytes": 1, "cell": {"character": "3:0"}, "columns": 10, "rows": 4,
    "left": 2, "margin": 9, "transparent": 0,
}  # fmt: skip
SPRITES: Json = {
    "transparent": 0, "count": 4, "table": "chip", "record_bytes": 3, "bits_per_dot": 1, "sizes": [[8, 4]],
    "fields": {"x": "6:0", "y": "14:8", "pattern": "18:16", "priority": "20", "group": "23"},
}  # fmt: skip


def small_chip(*modes: Json, sprites: Json | None = None, **tables: Any) -> Chip:
    """A chip whose layers a, b, ... have one of ``modes`` each; ``tables`` replace the plain ones.

    What a table of registers does not name is wired.
    """
    plan: Json = {
        "name": "Small",
        "frame": {"width": 64, "height": 64, "dot_clock": 1_000_000, "dots_per_line": 80, "lines_per_frame": 70},
        "memory": {"size": 1024, "bytes_per_access": 1},
        "palette": {"entries": 16, "bank_size": 4, "red": "11:8", "green": "7:4", "blue": "3:0"},
        "layers": [{"name": name, "modes": [mode]} for name, mode in zip("abcdef", modes, strict=False)],
        **({} if sprites is None else {"sprites": sprites}),
    }
    plan["ladder"] = [{"source": layer["name"]} for layer in plan["layers"]] + (
        [{"source": "sprites"}] if sprites else []
    )
    if isinstance(tables.get("registers"), dict):
        tables["registers"] = {"others": "wired", **tables["registers"]}
    chip = Chip.model_validate_json(json.dumps(plan | tables))
    assert list(check(chip)) == []
    return chip


def holding(chip: Chip, memory: dict[int, bytes] | None = None, table: Iterable[bytes] = (), **values: int) -> State:
    """A state with these bytes at these addresses, these sprite records and these controls (``a__scroll_x`` is a.scroll_x)."""
    state = State.at_reset(chip)
    state.palette[:] = range(chip.palette.entries)
    for address, data in (memory or {}).items():
        state.memory[address : address + len(data)] = list(data)
    for number, record in enumerate(table):
        state.sprites[number] = list(record)
    for name, value in values.items():
        state.controls[state.names.index(name.replace("__", "."))] = value
    return state


def both(state: State, writes: Iterable[Write] = (), *, damage: bool = False, last: int | None = None) -> TwinResult:
    """The twin's frame, after which ``state`` stands; the engine's has to be the same, every access where there are slots.

    Drawn up to but not including line ``last``, None: to the frame's end.
    """
    timed, other = list(writes), state.copy()
    assert [wrong for write in timed if (wrong := fault(state.chip, write))] == []
    twin = draw_frame(state, timed, last)
    result = draw(Plan(state.chip), other, timed, last, damage=damage, trace=state.chip.time is not None)
    assert differences(state.chip, twin, result) + state_differences(state, other) == []
    return twin


def sprite(x: int, y: int, pattern: int = 0, priority: int = 0, group: int = 0) -> bytes:
    """A record of SPRITES."""
    return (x | y << 8 | pattern << 16 | priority << 20 | group << 23).to_bytes(3, "little")


def at(rows: list[list[int]], entry: int) -> list[tuple[int, int]]:
    """The (dot, line) of every ``entry`` in a picture, line by line."""
    return [(dot, line) for line, row in enumerate(rows) for dot, found in enumerate(row) if found == entry]
