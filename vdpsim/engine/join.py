"""Results of consecutive lines as one.

Law: what is drawn in slices and joined is what would have been drawn at once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from functools import reduce
from itertools import pairwise
from operator import or_
from typing import Any

import numpy as np
import numpy.typing as npt

from ..door.given import instance, items
from .frame import MOST_COLLISIONS, TRANSFERS, ColoursOverTime, Log, Plane, Result, SlotLog

ARRAYS = (
    "indices", "rgb", "source", "rung", "sprite", "drops", "collisions", "collision_groups", "border_rgb", "raised", "missed",
)  # fmt: skip
"""The arrays of a Result that are joined end to end."""


def join(parts: Sequence[Result]) -> Result:
    """Results of consecutive lines of one frame as one. Raises ValueError where they do not follow each other."""
    parts = _checked(parts)
    first = parts[0]
    seen = [part for part in parts if part.height]  # the others have no planes, though they were asked for
    traces = [part.trace for part in parts if part.trace is not None]
    joined = _end_to_end(parts, ARRAYS)
    beyond = max(0, len(joined["collisions"]) - MOST_COLLISIONS)
    for name in ("collisions", "collision_groups"):
        joined[name] = joined[name][:MOST_COLLISIONS]
    return replace(
        first,
        log=_joined_logs([part.log for part in parts]),
        collision_flags=reduce(or_, (part.collision_flags for part in parts)),
        planes=_joined_planes([part.planes for part in seen]),
        colours=_joined_colours([part.colours for part in seen]),
        slots=_joined_slots([part.slots for part in parts]),
        transfers=_joined_transfers([part.transfers for part in parts]),
        trace=np.concatenate(traces) if traces else None,
        collisions_left_out=sum(part.collisions_left_out for part in parts) + beyond,
        **joined,
    )


def _checked(parts: Sequence[Result]) -> Sequence[Result]:
    """``parts``, where they can be joined. Raises TypeError or ValueError."""
    parts = items("parts", parts, "Results")
    if not parts:
        raise ValueError("parts must be one Result at least, got none")
    for part in parts:
        instance("each of parts", part, Result)
    for before, after in pairwise(parts):
        line = before.first + before.height
        if (before.frame, line) != (after.frame, after.first):
            raise ValueError(f"frame {after.frame} line {after.first} does not follow frame {before.frame} line {line}")
    return parts


def _end_to_end(parts: Sequence[Any], names: Sequence[str]) -> dict[str, Any]:
    """Each named array of all the parts, joined end to end."""
    return {name: np.concatenate([getattr(part, name) for part in parts]) for name in names}


def _joined_logs(parts: Sequence[Log]) -> Log:
    return replace(parts[0], **_end_to_end(parts, ("counts", "found", "drawn")))


def _joined_slots(parts: Sequence[SlotLog | None]) -> SlotLog | None:
    """The parts' slots as one; None on a chip without a time table."""
    known = [part for part in parts if part is not None]
    if not known:
        return None
    unread = [part.unread for part in known if part.unread is not None]
    counts = np.concatenate([part.counts for part in known])
    return replace(known[0], counts=counts, unread=np.concatenate(unread) if unread else None)


def _joined_planes(parts: Sequence[Mapping[str, Plane]]) -> dict[str, Plane]:
    """Each source's planes as one, by its name."""
    names = parts[0] if parts else ()
    return {name: _joined([part[name] for part in parts]) for name in names}


def _joined_colours(parts: Sequence[ColoursOverTime | None]) -> ColoursOverTime | None:
    """The parts' colours as one, their versions counted on; None where a part, or every part, has none."""
    tables, starts, before = [], [], 0
    for part in parts:
        if part is None:
            return None
        tables.append(part.tables)
        starts.append(part.starts + np.array([0, 0, before, 0]))
        before += len(part.tables)
    return ColoursOverTime(np.concatenate(tables), np.concatenate(starts)) if tables else None


def _joined(parts: Sequence[Any]) -> Any:
    """Planes of consecutive lines, as Plane, Standing or Fed, as one; None where a part has none."""
    first = parts[0]
    if any(part is None for part in parts):
        return None
    if isinstance(first, np.ndarray):
        return np.concatenate(parts)
    return type(first)(*(_joined([getattr(part, each.name) for part in parts]) for each in fields(first)))


def _joined_transfers(parts: Sequence[npt.NDArray[Any]]) -> npt.NDArray[Any]:
    """What each transfer did in all the parts together, by its number."""
    found: dict[int, Any] = {}
    for record in np.concatenate(parts):
        before = found.get(int(record["number"]))
        if before is None:
            found[int(record["number"])] = record.copy()
            continue
        for name in ("bytes", "waited"):
            before[name] += record[name]
        before["ended"] |= record["ended"]
        for end, wanted in (("first", before["first_line"] < 0), ("last", record["last_line"] >= 0)):
            if wanted:
                before[f"{end}_line"], before[f"{end}_slot"] = record[f"{end}_line"], record[f"{end}_slot"]
    return np.array([tuple(record) for _, record in sorted(found.items())], TRANSFERS)
