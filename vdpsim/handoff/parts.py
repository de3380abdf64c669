"""The parts of an exported folder, by name.

Law: what can be asked for by name, in words; who makes it is ``export``'s to say. Loads nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from importlib.util import find_spec

PARTS: Mapping[str, str] = {
    "memory": "what the chip's memories and registers hold as the first frame begins",
    "vectors": "what is done to the chip in each frame, and what is to come out of it",
    "waves": "some lines' time as a waveform: who has which slot, what shows at which dot",
    "constants": "the chip's timing, layouts, addresses and ports as constants of four languages",
    "registers": "the CPU's address map as SystemRDL 2.0 (Accellera), for people, and a drawing of each register's bits",
    "sheet": "the chip's data sheet, as one page and as Markdown with its drawings; memory as the scene uses it",
}
"""The parts, each with what it is."""

OF_FRAMES = frozenset({"vectors", "waves"})
"""Those for which frames have to be drawn."""

NEEDED = {"waves": "vcd"}
"""The module that a part needs and that not everybody has installed."""


def available() -> tuple[str, ...]:
    """The parts that can be made here: all but those whose module is not installed."""
    return tuple(part for part in PARTS if part not in NEEDED or find_spec(NEEDED[part]) is not None)
