"""What kinds of layer share: the rows they are asked for, what they answer, and where a surface of dots lies on each row.

Law: a kind is one function from ``Rows`` to ``DrawnRows``: which dots, and which fetches. It reads controls and memory through
``Rows`` and knows neither the ladder nor the other layers. Tiles and bitmaps have a surface beneath the picture, whatever a group
of its dots is made of: groups are numbered from its left edge, and one that wraps goes on counting beyond its right edge.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from ...chip.controls import scroll_span
from ...chip.model import BitmapMode, Mode, TilesMode
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
    # As on most frames; copying them all the same makes a frame of tiles up to a tenth slower.
    if (start == first).all():
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
    # The offset, one a row as a rule, is narrowed first: 64 bits would widen the plane, and take 70 times as long.
    out: npt.NDArray[Any] = plane + np.asarray(offset).astype(dtype)
    return out


def opaque_dots(values: npt.NDArray[Any], transparent: int | None) -> Bools:
    """Where ``values`` show: everywhere but at the transparent value."""
    out: Bools = np.ones(values.shape, np.bool_) if transparent is None else values != transparent
    return out


@dataclass(eq=False, repr=False)
class Ground:
    """A surface on the rows: arrays (rows,). A group is ``size`` dots of the picture wide.

    ``line``: which of the surface's own lines shows. Dot 0 of the row is dot ``fine`` of group number ``group``; groups
    ``first`` to ``last``, counted from that one, feed the row, none where ``last`` is below ``first``. ``across``: how many there
    can be.
    ``left``: the picture's dot at which the surface's begins; ``shows``: whether a row has any of it. Both None where it wraps.
    """

    size: int
    across: int
    line: Ints
    group: Ints
    fine: Ints
    first: Ints
    last: Ints
    left: Ints | None = None
    shows: Bools | None = None

    def feeding(self, of_group: Any, dot: Ints) -> Ints:
        """What ``of_group`` tells of the group that feeds ``dot`` (rows,); OUTSIDE and zeros where none does."""
        place = (self.fine + dot) // self.size
        keys: Ints = of_group(self.group + place)
        if self.left is None:
            return keys
        inside = (place >= self.first) & (place <= self.last)
        keys = np.where(inside, keys, 0)
        keys[0] = np.where(inside, keys[0], OUTSIDE)
        return keys


def ground(rows: Rows, mode: TilesMode | BitmapMode, dots: int) -> Ground:
    """The surface of ``mode`` on ``rows``, in groups of so many of its own ``dots``."""
    scroll_x, lines = rows.scroll("x"), rows.t + rows.scroll("y")
    (wide, high), size = mode.extent, dots * mode.double[0]
    across = most_groups(rows.plan.width, size)
    if mode.wrap:
        group, fine = np.divmod(scroll_x, size)
        first, last = (fine + rows.left) // size, (fine + rows.right - 1) // size
        line = around(lines, high)
        line = line if mode.double[1] == 1 else line // mode.double[1]
        return Ground(size, across, line, group, fine, first, last)
    turn_x, turn_y = scroll_span(rows.plan.chip, mode)
    begin, lines = around(scroll_x, turn_x), around(lines, turn_y)
    # Beyond the surface the scroll counts on while dot 0 comes in again from the right, and lies within the picture.
    begin = np.where(begin < wide, begin, begin - turn_x)
    shows = lines < high
    group, fine = np.divmod(begin, size)
    first = np.maximum((fine + rows.left) // size, -group)
    last = np.minimum((fine + rows.right - 1) // size, wide // size - 1 - group)
    first, last = np.where(shows, first, 0), np.where(shows, last, OUTSIDE)
    line = np.where(shows, lines, 0) // mode.double[1]  # any line will do where none shows, if only it is there
    return Ground(size, across, line, group, fine, first, last, -begin, shows)


def spread_dots(values: npt.NDArray[Any], mode: Mode) -> npt.NDArray[Any]:
    """Planes of a mode's own dots, the last axis across, as dots of the picture."""
    return values if mode.double[0] == 1 else np.repeat(values, mode.double[0], axis=-1)


def edged(drawn: DrawnRows, rows: Rows, mode: TilesMode | BitmapMode, at: Ground) -> DrawnRows:
    """``drawn``, with what shows outside of a surface that ends at its edges."""
    if at.left is None or at.shows is None:
        return drawn
    dot = np.arange(rows.plan.width) - at.left[:, None]
    inside = (dot >= 0) & (dot < mode.extent[0]) & at.shows[:, None]

    def bordered(plane: npt.NDArray[Any], other: Any) -> npt.NDArray[Any]:
        return np.where(inside, plane, np.asarray(other, plane.dtype))

    return replace(
        drawn,
        entry=bordered(drawn.entry, mode.outside or 0),
        opaque=bordered(drawn.opaque, mode.outside is not None),
        met={when: met if isinstance(met, bool) else bordered(met, when.holds(0)) for when, met in drawn.met.items()},
        fields={name: bordered(plane, 0) for name, plane in drawn.fields.items()},
    )


def most_groups(width: int, size: int) -> int:
    """How many groups of ``size`` dots a line of ``width`` dots can touch."""
    return (width + size - 2) // size + 1
