"""A chip's changing state.

Law: everything that a running chip holds stands in one State: video memory, palette, sprite table, control values, what
waits to take effect, and where in time it stands: frame, line, dot. Knows chip/ and draws nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from fractions import Fraction
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from ..chip.model import Chip
from ..chip.registers import rest_values
from ..door.given import instance
from ..door.shown import value as shown


class Waiting(NamedTuple):
    """What is left of a transfer: ``data`` from byte ``done`` on has still to land.

    ``number`` counts transfers since reset. Moments are in dots from the beginning of the slots of the line before which the
    state stands, and 0 once they are past: ``start``, at which it was begun, and ``at_hand``, at which the CPU has its next
    bytes at hand, as far as the queue has places for them (none at all without a ``cpu`` table, or where nothing was drawn
    since it was begun: they then follow from the start).
    """

    number: int
    start: int
    address: int
    data: bytes
    step: int
    done: int = 0
    at_hand: tuple[Fraction, ...] = ()


class Ahead(NamedTuple):
    """The sprites of the next line where they are prepared a line ahead.

    ``drops``: (sprite, reason) in the order of the walk. ``kept``: (sprite, record as an integer, row, the row's bytes) from
    the back to the front.
    """

    found: int
    drops: tuple[tuple[int, str], ...]
    kept: tuple[tuple[int, int, int, bytes], ...]


class LineBuffer(NamedTuple):
    """The next line of a layer that is fetched a line ahead.

    ``mode`` that the layer asked for (-1: it is disabled). ``dots``: the entry of each dot, -1 where nothing shows; none at
    all where the layer was switched off; of line 0 as many as a line of the frame before has. ``fields``: the cell's fields of
    each dot, 0 where nothing shows. ``missed``: accesses of its clients that found no slot, those above 0, in the clients' order.
    """

    mode: int
    dots: tuple[int, ...]
    fields: tuple[tuple[str, tuple[int, ...]], ...]
    missed: tuple[tuple[str, int], ...]


class KeptCells(NamedTuple):
    """The cells that a layer keeps: the index of their ``mode``, its map address, map row and scroll, and the ``words``.

    ``width``: dots of the line that they were fetched for; a line of another keeps none of them.
    """

    mode: int
    address: int
    row: int
    scroll: int
    words: tuple[int, ...]
    width: int


@dataclass(eq=False)
class State:
    """What a chip holds while it runs.

    ``memory`` uint8 (size,); ``palette`` uint32 (entries,) of packed words; ``sprites`` uint8 (count, record_bytes), the
    on-chip table (no rows where the table lies in memory); ``controls`` int64, one for each of ``names``. ``next_frame``
    holds register values by control number that wait for a frame to begin. The state stands
    before dot 0 of ``line`` in ``frame``. ``collision_flags`` has bit g set once group g has collided, until cleared.
    ``status`` has the bits of the chip's status that are raised; ``ports`` [address, step] of each port; ``held`` what registers
    hold that no control has (see ``enact.py``). With a time table:
    ``ahead`` the sprites that were prepared for ``line`` (None: nothing has, and they count as prepared from what stands
    here), ``buffers`` the same for layers that are fetched a line ahead, by the layer's number (none: nothing has), ``kept`` the
    cells that layers keep by the layer's number, ``waiting`` the transfers that have not ended, in order.
    """

    chip: Chip
    memory: npt.NDArray[np.uint8]
    palette: npt.NDArray[np.uint32]
    sprites: npt.NDArray[np.uint8]
    controls: npt.NDArray[np.int64]
    names: tuple[str, ...]
    next_frame: dict[int, int] = field(default_factory=dict)
    frame: int = 0
    line: int = 0
    collision_flags: int = 0
    status: int = 0
    ports: list[list[int]] = field(default_factory=list)
    ahead: Ahead | None = None
    buffers: dict[int, LineBuffer] = field(default_factory=dict)
    kept: dict[int, KeptCells] = field(default_factory=dict)
    waiting: tuple[Waiting, ...] = ()
    transfers: int = 0
    held: dict[int, tuple[int, int]] = field(default_factory=dict)

    @classmethod
    def at_reset(cls, chip: Chip) -> State:
        """Memory, palette and sprite table all zero; every control at rest or its register's reset value."""
        values = rest_values(instance("chip", chip, Chip))
        sprites = chip.sprites
        rows = sprites.count if sprites and sprites.table == "chip" else 0
        return cls(
            chip,
            np.zeros(chip.memory.size, np.uint8),
            np.zeros(chip.palette.entries, np.uint32),
            np.zeros((rows, sprites.record_bytes if sprites else 1), np.uint8),
            np.array(list(values.values()), np.int64),
            tuple(values),
            ports=[[0, port.advance] for port in chip.ports],
        )

    def copy(self) -> State:
        """A state that shares nothing that can change with this one."""
        return State(**{each.name: _own(getattr(self, each.name)) for each in fields(self)})

    def become(self, other: State) -> None:
        """Hold what ``other``, a state of the same chip, holds, in the same arrays; ``other`` is not to be used any more."""
        for name, value in vars(other).items():
            if isinstance(value, np.ndarray):  # into the same arrays: programs hold them, as ``Machine.memory``
                getattr(self, name)[...] = value
            else:
                setattr(self, name, value)

    def value(self, name: str) -> int:
        """The value in force of the control ``name``. Raises KeyError where the chip has none of that name."""
        if name not in self.names:
            raise KeyError(f"name must be a control of {self.chip.name}, {', '.join(self.names)}, got {shown(name)}")
        return int(self.controls[self.names.index(name)])


def _own(value: Any) -> Any:
    """A copy of what can change: arrays, lists and dicts, and what is in them. All else in a State never changes."""
    if isinstance(value, np.ndarray):
        return value.copy()
    if isinstance(value, list):
        return [_own(each) for each in value]
    if isinstance(value, dict):
        return {key: _own(each) for key, each in value.items()}
    return value
