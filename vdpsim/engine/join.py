"""Results of consecutive lines as one.

Law: what is drawn in slices and joined is what would have been drawn at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import numpy.typing as npt

from ..door.given import instance, items
from .frame import MOST_COLLISIONS, TRANSFERS, Colours, Fed, Log, Plane, Result, Standing


def join(parts: Sequence[Result]) -> Result:
    """Results of consecutive lines of one frame as one. Raises ValueError where they do not follow each other."""
    parts = items("parts", parts, "Results")
    if not parts:
        raise ValueError("parts must be one Result at least, got none")
    for part in parts:
        instance("each of parts", part, Result)
    for before, after in pairwise(parts):
        if (before.frame, before.first + before.height) != (after.frame, after.first):
            raise ValueError(
                f"frame {after.frame} line {after.first} does not follow frame {before.frame} line {before.first + before.height}"
            )
    first: Result = parts[0]
    flags = 0
    for part in parts:
        flags |= part.collision_flags
    log = Log(
        first.log.clients,
        np.concatenate([part.log.counts for part in parts]),
        np.concatenate([part.log.found for part in parts]),
        np.concatenate([part.log.drawn for part in parts]),
        first.log.first,
    )
    arrays: tuple[str, ...] = (
        "indices",
        "rgb",
        "source",
        "rung",
        "sprite",
        "drops",
        "collisions",
        "collision_groups",
        "border_rgb",
    )
    arrays += ("raised", "missed")
    joined: dict[str, Any] = {name: np.concatenate([getattr(part, name) for part in parts]) for name in arrays}
    left_out = sum(part.collisions_left_out for part in parts) + max(0, len(joined["collisions"]) - MOST_COLLISIONS)
    for name in ("collisions", "collision_groups"):
        joined[name] = joined[name][:MOST_COLLISIONS]
    seen = [part for part in parts if part.height]
    shown = [part.planes for part in seen]
    planes = {
        name: Plane(
            np.concatenate([each[name].entry for each in shown]),
            np.concatenate([each[name].opaque for each in shown]),
            np.concatenate([each[name].rgb for each in shown]),
            _joined(Standing, [each[name].standing for each in shown]),
            _joined(Fed, [each[name].fed for each in shown]),
        )
        for name in (shown[0] if shown else {})
    }
    if first.slots is not None:
        counts = np.concatenate([part.slots.counts for part in parts if part.slots is not None])
        joined["slots"] = replace(first.slots, counts=counts)
        joined["transfers"] = _joined_transfers([part.transfers for part in parts])
    colours = [part.colours for part in seen if part.colours is not None]
    joined["colours"] = _joined_colours(colours) if colours and len(colours) == len(seen) else None
    traces = [part.trace for part in parts if part.trace is not None]
    joined["trace"] = np.concatenate(traces) if traces else None
    return replace(first, log=log, collision_flags=flags, planes=planes, collisions_left_out=left_out, **joined)


def _joined_colours(parts: Sequence[Colours]) -> Colours:
    tables, starts, before = [], [], 0
    for part in parts:
        tables.append(part.tables)
        starts.append(part.starts + np.array([0, 0, before, 0]))
        before += len(part.tables)
    return Colours(np.concatenate(tables), np.concatenate(starts))


def _joined(kind: Any, parts: Sequence[Any]) -> Any:
    """Planes of consecutive lines as one; None where a part has none."""
    if any(part is None for part in parts):
        return None
    columns = ([getattr(part, name) for part in parts] for name in kind.__dataclass_fields__)
    return kind(*(None if column[0] is None else np.concatenate(column) for column in columns))


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
