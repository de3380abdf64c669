"""What drawing yields: dots, sources, the fetch log, drops and collisions.

Law: a Result covers whole lines, ``first`` to ``first + height - 1``; arrays have one row a line. Results of consecutive
lines join into the Result of all of them. Pure data: no files, no pictures.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from ..door.lazy import by_notebook, of_notebook

DROPS = np.dtype([("line", np.int32), ("sprite", np.int32), ("reason", "U5")])
"""One record a sprite that is not drawn on a line; ``reason`` is ``count``, ``dots`` or ``slots``. In the order of the walk."""

COLLISIONS = np.dtype([("line", np.int32), ("first", np.int32), ("second", np.int32), ("dot", np.int32)])
"""One record a line and pair of sprites that collide there: table numbers, the lower first, and the leftmost dot."""

MOST_COLLISIONS = 1 << 19
"""The most collisions that a Result lists; a line has at most 1,024 x 1,023 / 2 = 523,776."""

TRACE = np.dtype(
    [("line", np.int32), ("slot", np.int32), ("client", np.uint8), ("address", np.uint32), ("value", np.uint64)]
)
"""One record a slot that is used, in order; ``client`` is a number in ``SlotLog.clients``. Addresses in bytes."""

TRANSFERS = np.dtype(
    [
        ("number", np.int64), ("first_line", np.int32), ("first_slot", np.int32), ("last_line", np.int32),
        ("last_slot", np.int32), ("bytes", np.int64), ("waited", np.int64), ("ended", np.bool_),
    ]
)  # fmt: skip
"""One record a transfer that waited or began: first and last byte that landed (-1: none), bytes, slots waited, the end."""

RAISED = np.dtype([("line", np.int32), ("dot", np.int32), ("flag", "U11")])
"""One record a flag that was raised, in order of time, then of the status bits."""


@dataclass(frozen=True, eq=False, repr=False)
class SlotLog:
    """Who had the slots of every line from ``first`` on, below the picture too.

    ``counts`` int64 (lines, clients) with the picture's clients, ``refresh`` and ``cpu``; each line has ``per_line`` slots.
    ``unread`` int64 (lines,): accesses of the scan of the sprite table that no slot was left for; what they would have read
    holds sprites that nobody finds. None where the table is not in memory.
    """

    clients: tuple[str, ...]
    counts: npt.NDArray[np.int64]
    per_line: int
    first: int = 0
    unread: npt.NDArray[np.int64] | None = None

    @property
    def used(self) -> npt.NDArray[np.int64]:
        """Slots of each line that somebody had, int64 (lines,)."""
        used: npt.NDArray[np.int64] = self.counts.sum(axis=1)
        return used

    @property
    def idle(self) -> npt.NDArray[np.int64]:
        """Slots of each line that nobody had, int64 (lines,)."""
        return self.per_line - self.used

    def to_dict(self) -> dict[str, list[int]]:
        """Columns by name, each with a number a line: ``line``, the clients, ``idle``. ``pandas.DataFrame`` takes it as it is."""
        lines = range(self.first, self.first + len(self.counts))
        counts = zip(self.clients, self.counts.T.tolist(), strict=True)
        return {"line": list(lines), **dict(counts), "idle": self.idle.tolist()}

    def plot(self, axes: Any = None) -> Any:
        """Each line's slots, stacked by client, on matplotlib's ``axes`` (None: new ones), which it gives back.

        Raises ImportError where matplotlib, of the extra ``plot``, is not installed.
        """
        return of_notebook("plots", "plot_slots")(self, axes)

    def __repr__(self) -> str:
        return f"<SlotLog of {len(self.counts)} lines of {self.per_line} slots: {int(self.counts.sum())} used>"

    _repr_html_ = by_notebook("logs", "slots_html")

    @property
    def by_client(self) -> dict[str, int]:
        """Slots of each client, all lines together."""
        return dict(zip(self.clients, self.counts.sum(axis=0).tolist(), strict=True))


@dataclass(frozen=True, eq=False, repr=False)
class Log:
    """Memory fetches, counted by line and client.

    ``counts`` int64 (lines, clients); ``found``, ``drawn`` int64 (lines,), sprites that lie on the line and that are drawn.
    """

    clients: tuple[str, ...]
    counts: npt.NDArray[np.int64]
    found: npt.NDArray[np.int64]
    drawn: npt.NDArray[np.int64]
    first: int = 0

    @cached_property
    def by_line(self) -> Mapping[str, npt.NDArray[np.int64]]:
        """Fetches by client's name: an array with one number a line."""
        return {name: self.counts[:, column] for column, name in enumerate(self.clients)}

    @property
    def totals(self) -> npt.NDArray[np.int64]:
        """Fetches of each line, all clients together."""
        totals: npt.NDArray[np.int64] = self.counts.sum(axis=1)
        return totals

    @property
    def by_client(self) -> dict[str, int]:
        """Fetches of each client, all lines together."""
        return {name: int(self.counts[:, column].sum()) for column, name in enumerate(self.clients)}

    @property
    def total(self) -> int:
        """Fetches of all lines and clients."""
        return int(self.counts.sum())

    @property
    def dropped(self) -> npt.NDArray[np.int64]:
        """Sprites that are dropped on each line."""
        return self.found - self.drawn

    @property
    def columns(self) -> tuple[str, ...]:
        """The names of a row's columns: ``line``, the clients, ``total`` and the three counts of sprites."""
        return ("line", *self.clients, "total", "sprites_found", "sprites_drawn", "sprites_dropped")

    def rows(self) -> list[tuple[int, ...]]:
        """A row of numbers for each line, in the order of ``columns``."""
        return [tuple(row) for row in self._table().tolist()]

    def _table(self) -> npt.NDArray[np.int64]:
        lines = np.arange(self.first, self.first + len(self.counts))
        return np.column_stack([lines, self.counts, self.totals, self.found, self.drawn, self.dropped])

    def to_dict(self) -> dict[str, list[int]]:
        """The ``columns`` by name, each with a number a line. ``pandas.DataFrame`` takes it as it is."""
        return dict(zip(self.columns, self._table().T.tolist(), strict=True))

    def plot(self, axes: Any = None) -> Any:
        """Each line's fetches, stacked by client, on matplotlib's ``axes`` (None: new ones), which it gives back.

        Raises ImportError where matplotlib, of the extra ``plot``, is not installed.
        """
        return of_notebook("plots", "plot_log")(self, axes)

    def __repr__(self) -> str:
        return f"<Log of {len(self.counts)} lines: {self.total} fetches>"

    _repr_html_ = by_notebook("logs", "log_html")


@dataclass(frozen=True, eq=False, repr=False)
class Plane:
    """One source alone: ``entry`` (lines, width), the entry of each dot; ``opaque`` bool, where it shows anything.

    ``rgb`` uint8 (lines, width, 3): the entries' colours at that time. ``standing`` and, of a layer, ``fed`` explain it.
    """

    entry: npt.NDArray[Any]
    opaque: npt.NDArray[np.bool_]
    rgb: npt.NDArray[np.uint8]
    standing: Standing | None = None
    fed: Fed | None = None


@dataclass(frozen=True, eq=False, repr=False)
class Standing:
    """Where a source stands on the ladder: ``entry`` and ``rung`` uint8 (lines, width), 255 where it has none.

    Of all sources the one with the lowest rung shows at a dot. ``sprite`` int16 (lines, width): of the sprites, which one; -1
    for none.
    """

    entry: npt.NDArray[Any]
    rung: npt.NDArray[np.uint8]
    sprite: npt.NDArray[np.int16] | None = None


@dataclass(frozen=True, eq=False, repr=False)
class Fed:
    """What fed each dot of a layer, int64 (lines, width): the number of its ``mode``, the address of its ``cell``, its ``word``.

    ``data`` is the address of the first access for its pattern's row, glyph or bitmap. -1 where there is none: in a margin, where
    the layer is off, and on a line that was in the line buffer before drawing began.
    """

    mode: npt.NDArray[np.int64]
    cell: npt.NDArray[np.int64]
    word: npt.NDArray[np.int64]
    data: npt.NDArray[np.int64]


class ColoursOverTime(NamedTuple):
    """The palette over time: ``tables`` uint8 (versions, entries, 3), red, green and blue of each entry.

    ``starts`` int64 (stretches, 4): line, dot, version and the backdrop's entry; a stretch lasts until the next begins or its
    line ends.
    """

    tables: npt.NDArray[np.uint8]
    starts: npt.NDArray[np.int64]


@dataclass(frozen=True, eq=False, repr=False)
class Result:
    """The drawn lines of one frame.

    ``indices`` uint8 or uint16 (lines, width): the entry of each dot. ``rgb`` uint8 (lines, width, 3): its colour. ``source``
    uint8 (lines, width): 0 the backdrop, then as in ``sources``. ``rung`` uint8 (lines, width): the rung that won, counted
    through ``rungs`` (the last is the backdrop). ``sprite`` int16 (lines, width): the sprite that shows, or -1. ``drops`` and
    ``collisions`` are structured arrays. Of more than 524,288 collisions the first are there, and ``collisions_left_out`` says
    how many more there were; flags are those of all. ``collision_groups`` int64, for each collision the bits of its groups;
    ``collision_flags`` has bit g set where group g collided here. ``border_rgb`` uint8 (lines, 3): the backdrop's colour at
    the first dot of each line, and of the lines of the bottom border that were drawn with them. ``planes`` holds each source
    alone, and ``colours`` the palette over time, where they were asked for. ``size``: the whole picture's width and height, of
    which these lines are a part; a chip that lets its size be set may have another in each frame.
    """

    frame: int
    first: int
    indices: npt.NDArray[Any]
    rgb: npt.NDArray[np.uint8]
    source: npt.NDArray[np.uint8]
    rung: npt.NDArray[np.uint8]
    sprite: npt.NDArray[np.int16]
    log: Log
    drops: npt.NDArray[Any]
    collisions: npt.NDArray[Any]
    collision_flags: int
    border_rgb: npt.NDArray[np.uint8]
    sources: tuple[str, ...]
    rungs: tuple[str, ...]
    planes: Mapping[str, Plane] = field(default_factory=dict)
    collision_groups: npt.NDArray[np.int64] = field(default_factory=lambda: np.empty(0, np.int64))
    raised: npt.NDArray[Any] = field(default_factory=lambda: np.empty(0, RAISED))
    missed: npt.NDArray[np.int64] = field(default_factory=lambda: np.zeros((0, 0), np.int64))
    slots: SlotLog | None = None
    transfers: npt.NDArray[Any] = field(default_factory=lambda: np.empty(0, TRANSFERS))
    trace: npt.NDArray[Any] | None = None
    colours: ColoursOverTime | None = None
    collisions_left_out: int = 0
    size: tuple[int, int] = (0, 0)

    @property
    def width(self) -> int:
        """Dots of a line."""
        return int(self.indices.shape[1])

    @property
    def height(self) -> int:
        """Lines in this result."""
        return int(self.indices.shape[0])
