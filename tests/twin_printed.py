"""One drawing of a case as a line of JSON, and back: the chip, what it holds, what is written, which lines.

Law: what comes back is what was printed, byte for byte, little frames and transfers that wait included; a test holds it to that.
"""

from __future__ import annotations

import json
from typing import Any

from pydantic import BaseModel, ConfigDict
from twin_cases import Drawn, chip_from

from vdpsim.state.state import Ahead, KeptCells, LineBuffer, State, Waiting
from vdpsim.state.writes import MemoryWrite, PaletteWrite, PortWrite, RegisterWrite, SpriteWrite, Transfer

WRITES = {kind.__name__: kind for kind in (RegisterWrite, PaletteWrite, SpriteWrite, MemoryWrite, Transfer, PortWrite)}


class Held(BaseModel):
    """What a state holds between two lines beside its arrays."""

    model_config = ConfigDict(ser_json_bytes="base64", val_json_bytes="base64")

    next_frame: dict[int, int]
    frame: int
    line: int
    collision_flags: int
    status: int
    ports: list[list[int]]
    ahead: Ahead | None
    buffers: dict[int, LineBuffer]
    kept: dict[int, KeptCells]
    waiting: tuple[Waiting, ...]
    transfers: int
    held: dict[int, tuple[int, int]]


def printed(one: Drawn, **more: Any) -> str:
    """The line that ``read`` reads; ``more`` stands beside it."""
    state = one.state
    held = Held(**{name: getattr(state, name) for name in Held.model_fields})
    writes = [
        {
            "kind": type(write).__name__,
            **{name: part.hex() if isinstance(part, bytes) else part for name, part in vars(write).items()},
        }
        for write in one.writes
    ]
    chip = json.loads(state.chip.model_dump_json(exclude_defaults=True))
    arrays = {
        "memory": state.memory.tobytes().hex(),
        "palette": state.palette.tolist(),
        "sprites": state.sprites.tobytes().hex(),
        "controls": state.controls.tolist(),
    }
    told = {"chip": chip, "state": {**arrays, "held": held.model_dump(mode="json")}, "writes": writes, "last": one.last}
    return json.dumps({**more, **told})


def read(line: str) -> tuple[State, list[Any], int]:
    """The state, the writes and the line before which the drawing ends."""
    data = json.loads(line)
    given = data["state"]
    state = State.at_reset(chip_from(data["chip"]))
    state.memory[:] = list(bytes.fromhex(given["memory"]))
    state.palette[:] = given["palette"]
    state.sprites.reshape(-1)[:] = list(bytes.fromhex(given["sprites"]))
    state.controls[:] = given["controls"]
    held = Held.model_validate_json(json.dumps(given["held"]))
    for name in Held.model_fields:
        setattr(state, name, getattr(held, name))
    return state, [_write(dict(one)) for one in data["writes"]], data["last"]


def _write(one: dict[str, Any]) -> Any:
    kind = WRITES[one.pop("kind")]
    if "data" in one:
        one["data"] = bytes.fromhex(one["data"])
    if "words" in one:
        one["words"] = tuple(one["words"])
    return kind(**one)
