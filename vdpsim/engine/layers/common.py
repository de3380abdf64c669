"""What the three kinds of layer share: the rows they are asked for, and what they answer.

Law: a kind is one function from ``Rows`` to ``DrawnRows``: which dots, and which fetches. It reads controls and memory through
``Rows`` and knows neither the ladder nor the other layers.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from ...chip.tables.table import Condition
from ..plan import ModePlan, Plan
from ..store import Store
from ..timeline import Memory, Timeline

Ints = npt.NDArray[np.int64]
Bools = npt.NDArray[np.bool_]

OUTSIDE = -1
"""The key of a dot that no fetch feeds: a margin."""


@dataclass(eq=False, repr=False)
class Groups:
    """What feeds a mode's rows, group by group; for the chips that place fetches in time.

    There are ``across`` groups a row. Group k begins at dot k x ``size`` - ``fine`` (rows,); the row's dots are fed by groups
    ``first`` to ``last`` (rows,), none where ``last`` is below ``first``. ``addresses`` gives, for each client of the mode,
    int64 (rows, groups) with the address of the first access of its burst; the others follow on it, but those of its last client
    are where ``further`` says, if it is there: for an index of (rows, groups) and the number of an access its address.
    ``turned`` int64 (rows, groups): 1 where a burst reads a column of its pattern; ``words`` int64 (rows, cells) the cells,
    where there are cells: ``cells`` a group, ``cell_bytes`` each.
    """

    size: int
    across: int
    fine: Ints
    first: Ints
    last: Ints
    addresses: Callable[[], tuple[Ints, ...]]
    turned: Ints | None = None
    words: Ints | None = None
    cells: int = 1
    cell_bytes: int = 0
    further: Callable[[Any, Ints], Ints] | None = None


@dataclass(eq=False, repr=False)
class KeptRows:
    """Cells that a layer keeps from line to line.

    ``row`` and ``scroll`` (rows,) say, with the map's address, which cells a row shows (row -1: none). ``rows`` bool (rows,):
    the row has those of the row before. ``words``: those of the line before the first row, where it has them.
    """

    address: Ints
    row: Ints
    scroll: Ints
    rows: Bools
    words: tuple[int, ...] | None


@dataclass(eq=False, repr=False)
class Rows:
    """Rows on which one mode shows. ``chosen`` picks them from the timeline's (None: all); ``t`` is the mode's line.

    ``kept``: which rows have their cells already, where the chip keeps them. ``times``: for each client of the mode the
    instants of its bursts, int64 (rows, groups), once they are known.
    """

    plan: Plan
    timeline: Timeline
    mode: ModePlan
    chosen: Any
    t: Ints
    conditions: Sequence[Condition]
    fields: bool
    kept: KeptRows | None = None
    times: Sequence[Ints] | None = None

    def __post_init__(self) -> None:
        self.line = self.take(self.timeline.line)
        self.left = self.take(self.timeline.left)
        self.right = self.take(self.timeline.right)
        self.count = len(self.line)
        self.memory: Memory = self.timeline.memory
        self.store: Store = self.plan.store

    def take(self, values: npt.NDArray[Any]) -> npt.NDArray[Any]:
        """The chosen rows' part of an array that has one item a row of the timeline."""
        return values if self.chosen is None else values[self.chosen]

    def control(self, name: str) -> Ints:
        """int64 (rows,): the control's value on each row."""
        return self.take(self.timeline.control(name))

    def scroll(self, axis: Literal["x", "y"]) -> Ints:
        """The scroll of these rows, 0 where the mode does not scroll on this axis."""
        if self.mode.mode.scrolls(axis):
            return self.control(f"{self.mode.layer}.scroll_{axis}")
        return np.zeros(self.count, np.int64)

    def when(self, client: int) -> Ints:
        """The instants at which the mode's client number ``client`` reads: (rows, 1), or (rows, groups) in slots."""
        if self.times is None:
            return self.take(self.timeline.slot_line)[:, None] * self.timeline.per_line
        return self.times[client]

    def fetch_keys(self) -> list[Ints]:
        """What tells rows apart that show the same cells but may have read them at different times."""
        if self.kept:
            return [np.cumsum(~self.kept.rows)]
        if self.memory.hot is None:
            return []
        return [self.line if self.times is None else np.arange(self.count)]

    def bank(self) -> Ints:
        """The bank of these rows from the layer's register, 0 where it has none."""
        return self.control(self.mode.bank) if self.mode.bank else np.zeros(self.count, np.int64)


@dataclass(eq=False, repr=False)
class DrawnRows:
    """A mode's answer for its rows.

    ``entry`` (rows, width); ``opaque`` bool (rows, width); ``met`` for each condition a bool or bool (rows, width);
    ``fetches`` int64 (clients of the mode, rows). ``ends()``, asked for only where a line is cut into rows, gives int64 (parts,
    rows) twice, what fed the row's first dot and its last, and int64 (clients, rows), what fetching for the first took: a row
    that goes on where the one before it on the same line ended need not fetch again. ``groups()`` says the same group by group.
    ``fields``: the cells' fields dot by dot.
    """

    entry: npt.NDArray[Any]
    opaque: Bools
    fetches: Ints
    ends: Callable[[], tuple[Ints, Ints, Ints]]
    groups: Callable[[], Groups]
    met: dict[Condition, Any] = field(default_factory=dict)
    fields: dict[str, npt.NDArray[Any]] = field(default_factory=dict)


def crop(plane: npt.NDArray[Any], start: Ints, width: int) -> npt.NDArray[Any]:
    """``width`` dots of each row of ``plane`` from ``start`` on; a view where every row starts alike."""
    first = int(start[0])
    if (
        start == first
    ).all():  # as on most frames; copying them all the same makes a frame of tiles up to a tenth slower
        return plane[:, first : first + width]
    windows = np.lib.stride_tricks.sliding_window_view(plane, width, axis=1)
    return windows[np.arange(len(start)), start]


def around(values: Ints, turn: int) -> Ints:
    """``values`` modulo ``turn``. Where that is a power of two, as in most chips, a mask: ``%`` takes eight times as long."""
    out: Ints = values & (turn - 1) if turn & (turn - 1) == 0 else values % turn
    return out


def over(values: Ints, size: int) -> Ints:
    """``values`` divided by ``size``, rounded down. By a power of two a shift: ``//`` takes three times as long."""
    out: Ints = values >> (size.bit_length() - 1) if size & (size - 1) == 0 else values // size
    return out


def stacked(planes: Sequence[Ints]) -> Ints:
    """``np.stack``; one plane, as there is as a rule, as a view."""
    return planes[0][None] if len(planes) == 1 else np.stack(planes)


def runs(*keys: npt.NDArray[Any]) -> tuple[Ints, Ints | None]:
    """Where rows begin to differ from the row before in any of ``keys``, and each row's run (None: each is its own)."""
    # A row of tiles shows one row of cells 8 times or more: to fetch them anew each time would make a frame a tenth slower.
    count = len(keys[0])
    change = np.zeros(count, np.bool_)
    change[:1] = True
    for key in keys:
        change[1:] |= key[1:] != key[:-1]
    starts = change.nonzero()[0]
    return starts, None if len(starts) == count else np.cumsum(change) - 1


def to_entries(plan: Plan, mode: ModePlan, values: npt.NDArray[np.uint8], offset: Any) -> npt.NDArray[Any]:
    """The palette rule on a plane of values: ``offset`` is base + bank x bank step, broadcast against the plane."""
    dtype: np.dtype[Any] = np.dtype(plan.entry_dtype)
    plane: npt.NDArray[Any] = values if dtype == values.dtype else values.astype(dtype)
    if mode.value_step != 1:
        plane = plane * dtype.type(mode.value_step)
    out: npt.NDArray[Any] = plane + np.asarray(offset).astype(dtype)
    return out


def opaque_dots(values: npt.NDArray[Any], transparent: int | None) -> Bools:
    """Where ``values`` show: everywhere but at the transparent value."""
    out: Bools = np.ones(values.shape, np.bool_) if transparent is None else values != transparent
    return out
