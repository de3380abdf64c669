"""What came of a capture as plain data, one tree for programs.

Law: the same numbers as in words; names where the index has them; a number that is not known is null.
"""

from __future__ import annotations

from typing import Any

from ..found import Found
from ..outcome import Difference, Outcome
from ..shift import Shift, step_of


def data_of(result: Found) -> dict[str, Any]:
    """All of it: dicts, lists, texts, numbers, booleans and None."""
    first = result.first
    return {
        "capture": result.capture,
        "folder": result.folder,
        "chip": result.index.chip,
        "scene": result.index.scene,
        "same": result.same,
        "frames": result.frames,
        "renumbered": result.renumbered,
        "strange_frames": list(result.strange),
        "unplaced": result.unplaced,
        "absent": dict(result.absent),
        "signals": [each._asdict() for each in result.taken],
        "doubts": list(result.doubts),
        "first": None if first is None else {"kind": first[0], **_difference(first[0], first[1])},
        "kinds": {kind: _outcome(result, kind, one) for kind, one in result.outcomes.items()},
    }


def _outcome(result: Found, kind: str, one: Outcome) -> dict[str, Any]:
    return {
        "compared": one.seen,
        "differ": one.wrong,
        "differ_by_sort": {sort: count for sort, count in one.counts.items() if count},
        "differ_without_shift": result.unshifted[kind],
        "absent": one.absent,
        "outside": one.outside,
        "shift": _shift(one.shift),
        "other_shifts": [_shift(each) for each in result.others.get(kind, ())],
        "lines": one.lines.nonzero()[0].tolist(),
        "frames": list(one.frames),
        "first": None if one.first is None else _difference(kind, one.first),
    }


def _shift(shift: Shift) -> dict[str, int]:
    return {"lines": shift.lines, "steps": shift.steps, "offset": shift.offset}


def _difference(kind: str, one: Difference) -> dict[str, Any]:
    return {
        "frame": one.frame,
        "line": one.line if one.line >= 0 else None,
        step_of(kind) or "dot": one.step if one.step >= 0 else None,
        "sort": one.sort,
        "expected": [dict(each) for each in one.expected],
        "came": [dict(each) for each in one.came],
    }
