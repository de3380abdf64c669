"""What a frame has that the recorded one has not, part by part, and where it begins.

Law: each part is compared exactly and by itself, so that a fault of one tells nothing wrong of another. Knows no file.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from itertools import zip_longest

from ...door.shown import clipped
from ..asked import Asked

MOST = 120
"""Characters of a record as it is shown."""


def text_told(asked: Asked, ending: str, expected: str, came: str) -> str | None:
    """How the text of one part differs from the recorded one, in a line; None where it does not."""
    if expected == came:
        return None
    old, new = expected.splitlines(), came.splitlines()
    if ending == ".log.csv":
        told = _rows(old, new)
    else:
        told = _records(old, new, partial(_event, asked) if ending == ".events.json" else partial(_row, new[0]))
    return f"{WORDS[ending]}: {told}"


WORDS: Mapping[str, str] = {
    ".png": "entries",
    ".palette.csv": "palette",
    ".log.csv": "fetch log",
    ".slots.csv": "slots",
    ".events.json": "drops, collisions, flags and transfers",
}
"""The parts in words, by the endings of their files."""


def _rows(old: Sequence[str], new: Sequence[str]) -> str:
    """How two tables with a head differ: how many rows, and the first of them with the columns that do."""
    if not old or not new or old[0] != new[0]:
        return f"its columns are {clipped(new[0] if new else 'none', MOST)}, recorded {clipped(old[0] if old else 'none', MOST)}"
    head = new[0].split(",")
    pairs = list(zip_longest(old[1:], new[1:]))
    wrong = [(one, other) for one, other in pairs if one != other]
    one, other = wrong[0]
    many = f"{len(wrong)} of {len(pairs)} rows differ, the first"
    if one is None or other is None:
        side, row = ("is not recorded", other) if one is None else ("is recorded and did not come", one)
        return f"{many} {side}: {clipped(row, MOST)}"
    olds, news = one.split(","), other.split(",")
    parts = [
        f"{name} {new}, recorded {old}"
        for name, old, new in zip_longest(head, olds, news, fillvalue="nothing")
        if old != new
    ]
    same = olds[0] == news[0] and head[0] == "line"
    return f"{many} at line {news[0]}: {'; '.join(parts)}" if same else f"{many}: {'; '.join(parts)}"


def _records(old: Sequence[str], new: Sequence[str], words: Callable[[str], str]) -> str:
    """How two lists of records differ: those that are only in the one, and those only in the other."""
    sides = (("not recorded", _without(new, old)), ("recorded and did not come", _without(old, new)))
    parts = [f"{len(found)} {what}, the first: {words(found[0])}" for what, found in sides if found]
    return "; ".join(parts) or "the same records in another order"


def _row(head: str, row: str) -> str:
    """A row of a table in words."""
    return clipped(", ".join(map(" ".join, zip(head.split(","), row.split(","), strict=False))), MOST)


def _without(these: Sequence[str], those: Sequence[str]) -> list[str]:
    """``these`` records in their order, without as many of each as there are among ``those``."""
    counts = Counter(those)
    found = []
    for one in these:
        if counts[one]:
            counts[one] -= 1
        else:
            found.append(one)
    return found


def _event(asked: Asked, record: str) -> str:
    """A record in words, with the sprites' names."""
    try:
        told = json.loads(record)
        return ", ".join(_columns(asked, told))
    except (ValueError, AttributeError, TypeError):
        return clipped(record, MOST)


def _columns(asked: Asked, told: Mapping[str, object]) -> Iterator[str]:
    for name, value in told.items():
        if name in {"sprite", "second"} or (name == "first" and "second" in told):
            yield asked.sprite_called(int(str(value)))
        else:
            yield f"{name} {clipped(value, 40)}"
