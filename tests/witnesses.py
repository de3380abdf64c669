"""The scenes that budgets bring as witnesses, loaded as a person would load them, and what their frames show.

Law: of a witness only its file is taken; that its frame shows what it says is for the tests to ask.
"""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import NamedTuple

from attack_script import Script

from vdpsim.budgets.witness.witness import Witness
from vdpsim.chip.load import chip_text
from vdpsim.chip.model import Chip
from vdpsim.machine.machine import render
from vdpsim.output.frame import Frame
from vdpsim.scene import Scene
from vdpsim.scene.load import load_scene


class Shown(NamedTuple):
    """On the witness's line: accesses missed by client, sprites that found no slot; and all accesses missed in the frame."""

    missed: dict[str, int]
    dropped: int
    total: int


def client_of(place: str) -> str:
    """Under which name the client of a time table's place is logged: ``a.m0.cells`` as ``a.cells``."""
    parts = place.split(".")
    return place if len(parts) < 3 else f"{parts[0]}.{parts[-1]}"


def loaded(chip: Chip, witness: Witness) -> Scene:
    """The witness's scene, from files."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "of.chip.toml").write_text(chip_text(chip), "utf-8")
        (folder / "witness.scene.toml").write_text(witness.text("of.chip.toml"), "utf-8")
        scene = load_scene(folder / "witness.scene.toml")
    assert scene.chip == chip
    return scene


def drawn(chip: Chip, witness: Witness) -> Frame:
    """The frame in which it is to be seen, with its trace."""
    return render(loaded(chip, witness), witness.frame, damage=True, trace=True)


def shown(chip: Chip, witness: Witness) -> Shown:
    """What that frame shows on the witness's line."""
    frame = drawn(chip, witness)
    missed = zip(frame.log.clients, frame.missed[witness.line].tolist(), strict=True)
    drops = frame.drops[(frame.drops["line"] == witness.line) & (frame.drops["reason"] == "slots")]
    return Shown({name: count for name, count in missed if count}, len(drops), int(frame.missed.sum()))


def unread(chip: Chip, witness: Witness) -> int:
    """The accesses to the sprite table that found no slot there, as sprites of the witness's line were looked for."""
    slots = drawn(chip, witness).slots
    assert slots is not None
    assert chip.time is not None
    told, line = slots.unread, witness.line - (chip.time.clients["sprites"].when == "line before")
    return 0 if told is None or line < 0 else int(told[line])


def script_of(chip: Chip, witness: Witness) -> Script:
    """The same frame as what an attack does to the chip."""
    scene = loaded(chip, witness)
    state = scene.state(witness.frame)
    controls = {name: int(value) for name, value in zip(state.names, state.controls, strict=True)}
    return Script(state.memory.tobytes(), state.sprites.tobytes(), controls, (scene.writes(witness.frame),))
