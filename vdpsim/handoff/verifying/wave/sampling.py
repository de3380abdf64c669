"""Signals over time as records: what shows at each dot, and who has each slot.

Law: a dot and a slot have what stands when they end: just before the dot's number changes or, where there is none, just
before the clock rises; just before the slot's number changes. What has no number is counted: dots since the picture's line
began, lines since the frame did. The slots of a line are those from one fall of the slot's number to the next, and belong to
the line that is told at the end.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from ...records.index import Index, sizes
from ...records.kinds import KINDS
from ...records.parsing import ODD, Columns
from .dump import UNKNOWN, Change, Dump
from .roles import Chosen, shows_dots

TOGETHER = 1 << 13
"""Records that are handed on together."""

Pieces = Iterator[tuple[str, Columns]]


def records(dump: Dump, index: Index, roles: Mapping[str, Chosen]) -> Pieces:
    """The dots and accesses of a dump, of whose ``roles`` nothing is wanting. Raises UnreadableDumpError."""
    watches: list[_Dots | _Slots] = []
    place = _Place(roles, index)
    if shows_dots(roles):
        watches.append(_Dots(place, roles))
    if roles.keys() >= {"slot", "client", "address"}:
        watches.append(_Slots(place, roles, index))
    codes: dict[bytes, list[tuple[str, Chosen]]] = {one.signal.code: [] for one in roles.values()}
    for role, one in roles.items():
        codes[one.signal.code].append((role, one))
    numbered = {code: number for number, code in enumerate(codes)}
    uses = list(codes.values())
    for changes in dump.changes(numbered):
        _turn(place, watches, uses, changes)
        for each in watches:
            yield from each.out.take(TOGETHER)
    for each in watches:
        each.end()
        yield from each.out.take(1)


def _turn(
    place: _Place,
    watches: Sequence[_Dots | _Slots],
    uses: Sequence[Sequence[tuple[str, Chosen]]],
    changes: list[Change],
) -> None:
    """One time's changes: what ends with it is recorded before them, what begins is counted after."""
    now = place.now
    before: dict[str, int] = {}
    for number, value in changes:
        for role, one in uses[number]:
            told = one.of(value)
            if now[role] != told:
                before.setdefault(role, now[role])
                now[role] = told
    changed = {role: was for role, was in before.items() if now[role] != was}
    if not changed:
        return
    after = {role: now[role] for role in changed}
    now.update(changed)
    for each in watches:
        each.ends(after)
    now.update(after)
    place.begins(changed)


class _Place:
    """Where in time a dump is: the value of each role now, and the numbers of frame, line and dot."""

    def __init__(self, roles: Mapping[str, Chosen], index: Index) -> None:
        self.now = dict.fromkeys(roles, UNKNOWN)
        self.roles, self.sizes, self.most = roles, sizes(index), index.height
        self.has_valid = bool(roles.keys() & {"valid", "blank", "line_blank"})
        self.frame, self.lines, self.dots = index.frames[0].frame, -1, 0
        self.fresh, self.shown = True, False
        self.lost = "frame_start" in roles and "line" not in roles  # until a frame begins nobody knows which line it is

    @property
    def valid(self) -> bool:
        """Whether a dot of the picture shows, as far as it is told."""
        now = self.now
        blank = any(now.get(role, 0) for role in ("blank", "line_blank", "frame_blank"))
        return now.get("valid", 1) == 1 and not blank

    @property
    def at(self) -> tuple[int, int, int]:
        """Frame, line and dot; UNKNOWN where a signal is."""
        now = self.now
        return (
            now.get("frame", self.frame),
            now.get("line", UNKNOWN if self.lost else self.lines),
            now.get("dot", self.dots),
        )

    def used(self) -> None:
        """Something was recorded in this frame."""
        self.fresh = False

    def clocked(self) -> None:
        """A dot is over."""
        self.dots += 1

    def begins(self, before: Mapping[str, int]) -> None:
        """Count what begins with these changes, told with what was before."""
        now = self.now
        if "frame_start" in self.roles:
            if "frame_start" in before and now["frame_start"] == 1:
                self._frame()
        elif "line" in before and UNKNOWN != now["line"] < before["line"]:
            self._frame()
        if self.has_valid:
            shown, self.shown = self.shown, self.valid
            if self.shown and not shown:
                self._line()
        elif "line_start" in before and now["line_start"] == 1:
            self._line()

    def _frame(self) -> None:
        """A frame begins, unless nothing of the one before was recorded."""
        if not self.fresh and not self.lost:
            self.frame += 1
        self.fresh, self.lost, self.lines = True, False, -1

    def _line(self) -> None:
        self.lines, self.dots = self.lines + 1, 0
        if (
            self.has_valid
            and "line" not in self.roles
            and "frame_start" not in self.roles
            and self.lines >= self.sizes.get(self.frame, (self.most,))[0]
        ):
            self._frame()
            self.lines = 0


class _Records:
    """Records of a kind as they come."""

    def __init__(self, kind: str, names: tuple[str, ...]) -> None:
        self.kind, self.names = kind, names
        self.bits = [number for name in names for number, field in enumerate(KINDS[kind]) if field.name == name]
        self.rows: list[tuple[int, ...]] = []

    def take(self, least: int) -> Pieces:
        """Those so far, if they are ``least`` or more."""
        if len(self.rows) < least:
            return
        # Signals of 64 bits as int64 holds them: the expected numbers are read so too.
        wide = np.array([[each if each < 1 << 63 else each - (1 << 64) for each in row] for row in self.rows], np.int64)
        columns = dict(zip(self.names, wide[:, : len(self.names)].T, strict=True))
        if wide[:, -1].any():
            columns[ODD] = wide[:, -1]
        self.rows = []
        yield self.kind, columns

    def add(self, values: Sequence[int]) -> None:
        """A record; UNKNOWN is told as such."""
        odd = 0
        if min(values) < 0:
            odd = sum(1 << bit for bit, value in zip(self.bits, values, strict=True) if value < 0)
            values = [max(value, 0) for value in values]
        self.rows.append((*values, odd))


class _Dots:
    """Dots as they end."""

    def __init__(self, place: _Place, roles: Mapping[str, Chosen]) -> None:
        self.place, self.counted = place, "dot" not in roles
        self.signals = [role for role in ("entry", "colour") if role in roles]
        self.channels = (
            [roles[role].bits for role in ("red", "green", "blue")] if "colour" not in roles and "red" in roles else []
        )
        self.out = _Records("dot", ("frame", "line", "dot", *self.signals, *(["colour"] if self.channels else [])))

    def ends(self, after: Mapping[str, int]) -> None:
        """Record the dot that these changes end."""
        if self.counted:
            if after.get("clock") == 1:
                self._record()
                self.place.clocked()
        elif after.keys() & {"dot", "line", "frame"}:
            self._record()

    def end(self) -> None:
        """The dump is over, and with it its last dot."""
        if not self.counted:
            self._record()

    def _record(self) -> None:
        now, place = self.place.now, self.place
        if place.valid:
            self.out.add((*place.at, *(now[role] for role in self.signals), *self._colour()))
            place.used()

    def _colour(self) -> list[int]:
        if not self.channels:
            return []
        levels = [self.place.now[role] for role in ("red", "green", "blue")]
        if min(levels) < 0:
            return [UNKNOWN]
        # 255 x level / full to the nearest, in whole numbers: as the exported colours are rounded.
        red, green, blue = ((510 * level + full) // (2 * full) for level, full in zip(levels, self._full, strict=True))
        return [red << 16 | green << 8 | blue]

    @property
    def _full(self) -> list[int]:
        return [(1 << bits) - 1 for bits in self.channels]


class _Slots:
    """Slots as they end; those of a line are held until it is over."""

    def __init__(self, place: _Place, roles: Mapping[str, Chosen], index: Index) -> None:
        self.place, self.busy, self.clients = place, "busy" in roles, len(index.clients)
        self.lines = index.lines_per_frame
        names = ["client", "address", *(["data"] if "data" in roles else [])]
        self.signals = names
        self.out = _Records("access", ("frame", "line", "slot", "client", "address", "value")[: 3 + len(names)])
        self.held: list[tuple[int, ...]] = []
        self.where = UNKNOWN, UNKNOWN  # the frame and the line as the last slot ended
        self.before: tuple[int, int] | None = None
        self.last = UNKNOWN

    def ends(self, after: Mapping[str, int]) -> None:
        """Record the slot that these changes end."""
        if "slot" not in after:
            return
        self._record()
        if 0 <= after["slot"] < self.last:
            self._line()
        self.last = max(after["slot"], self.last if after["slot"] < 0 else 0)

    def end(self) -> None:
        """The dump is over, perhaps in the blanking before the line that the slots are of."""
        self._record()
        frame, line = self.where
        if self.before == self.where:
            self.where = (frame, line + 1) if line + 1 < self.lines else (frame + 1, 0)
        self._line()

    def _record(self) -> None:
        now = self.place.now
        if now["slot"] < 0:
            return
        self.where = self.place.at[:2]
        if now["busy"] == 1 if self.busy else 0 <= now["client"] < self.clients:
            self.held.append((now["slot"], *(now[role] for role in self.signals)))
            self.place.used()

    def _line(self) -> None:
        self.before = self.where
        for one in self.held:
            self.out.add((*self.where, *one))
        self.held = []
