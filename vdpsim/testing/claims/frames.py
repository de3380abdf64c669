"""A frame against one that was recorded, or against another.

Law: entries, palette, fetch log, slots and events are compared exactly and apart, and all that differs is told. Nothing is
recorded where it was not asked for, nor before all else of the test holds.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from ...door.given import flag
from ..asked import Asked
from ..failing import fail, softly
from ..finding import Finding
from ..recorded import parts, store
from ..recorded.differing import WORDS, text_told
from ..told.dot import dot_told, shown_as
from ..using import Wanted, now


def assert_frame(frame: Any, name: str, *, folder: Any = None, update: bool | None = None) -> None:
    """The frame is just what was recorded as ``name`` in ``folder``: entries, palette, fetch log, slots and events.

    ``folder``: left out, the one that ``use`` or the plugin says, ``frames`` beside the test. ``update`` records it instead, as
    ``--update-frames`` does, once all else of the test holds; in a block of ``soft`` that is outside pytest it is refused, as
    nobody knows there what else fails. Raises ValueError for a name that is no plain word, for what lies outside the folder, and
    where one test, or two, would record two frames under one name.
    """
    __tracebackhide__ = True
    asked = Asked.of(frame)
    place = store.place(name, folder)
    using = now()
    if using.update if update is None else flag("update", update):
        _want(Wanted(place, name, asked.frame))
        return
    finding = _against(asked, name, *_recorded(place, name))
    if finding is not None:
        fail(finding)


def _want(wanted: Wanted) -> None:
    """Record a frame, now or once the test is over. Raises ValueError where another one has that name."""
    using = now()
    for other in using.wanted:
        if (other.folder.resolve(), other.name) == (wanted.folder.resolve(), wanted.name):
            if parts.files(other.frame) != parts.files(wanted.frame):
                raise ValueError(f"{wanted.name} would be recorded twice, as {other.frame!r} and as {wanted.frame!r}")
            return
    if using.waits:
        using.wanted.append(wanted)
    elif softly():
        raise ValueError("a frame is not recorded in a block of soft(): what else fails there is not known yet")
    else:
        store.write(wanted)


def _recorded(place: Any, name: str) -> tuple[dict[str, bytes | None], str]:
    """The recorded files by their endings, and how to record them."""
    every = (parts.ENTRIES, *parts.TEXTS)
    return {ending: store.recorded(place, name, ending) for ending in every}, f"record it {now().hint}"


def _against(asked: Asked, name: str, found: dict[str, bytes | None], how: str) -> Finding | None:
    """What of the frame is not as recorded; None where all is."""
    rule = f"{asked.called}: must be as recorded under {name}"
    if all(one is None for one in found.values()):
        return Finding(asked.frame, rule, (f"nothing is recorded under that name: {how}",))
    told: list[str] = []
    where = expected = None
    wanted = parts.endings(asked.frame)
    missing = [ending for ending in found if (found[ending] is None) == (ending in wanted)]
    told += [
        f"{WORDS[one]}: {'not recorded' if one in wanted else 'recorded, and the frame has none'}" for one in missing
    ]
    data = found[parts.ENTRIES]
    if data is not None:
        plane = store.entries(data, name + parts.ENTRIES)
        expected = _colours(plane, found.get(".palette.csv"))
        lines, where = _entries_told(asked, plane, expected)
        told += lines
    for ending, text in parts.TEXTS.items():
        recorded = found[ending]
        if recorded is None or ending in missing:
            continue
        line = text_told(asked, ending, recorded.decode("utf-8", "replace"), text(asked.frame))
        told += [line] if line else []
    return Finding(asked.frame, rule, tuple(told), where, expected) if told else None


def _colours(plane: npt.NDArray[Any], palette: bytes | None) -> npt.NDArray[np.uint8]:
    """The recorded picture: each entry's colour from the line on which it gets it; black where none is known."""
    table = np.zeros((max(int(plane.max(initial=0)) + 1, 4096), 3), np.uint8)
    found = np.zeros((*plane.shape, 3), np.uint8)
    rows = (palette or b"").decode("utf-8", "replace").splitlines()[1:]
    changes: dict[int, list[tuple[int, int]]] = {}
    for row in rows:
        line, entry, colour = [*row.split(","), "", "", ""][:3]
        if line.isdigit() and entry.isdigit() and int(entry) < len(table):
            changes.setdefault(int(line), []).append((int(entry), int(colour.removeprefix("#") or "0", 16)))
    first = min(changes, default=0)
    for number in range(len(plane)):
        for which, code in changes.get(number + first, ()):
            table[which] = (code >> 16 & 255, code >> 8 & 255, code & 255)
        found[number] = table[plane[number]]
    return found


def _entries_told(
    asked: Asked, plane: npt.NDArray[Any], expected: npt.NDArray[np.uint8]
) -> tuple[list[str], npt.NDArray[np.bool_] | None]:
    """How the entries differ from the recorded ``plane``, and where."""
    frame = asked.frame
    if plane.shape != frame.indices.shape:
        (down, across), (high, wide) = plane.shape, frame.indices.shape
        return [f"entries: the frame has {wide} x {high} dots, the recorded one {across} x {down}"], None
    wrong = plane != frame.indices
    if not wrong.any():
        return [], None
    row, dot = (int(one) for one in np.argwhere(wrong)[0])
    line = row + frame.first
    head = f"entries: {int(wrong.sum())} dots differ, first at line {line}, dot {dot}"
    want = f"expected {shown_as(int(plane[row, dot]), expected[row, dot])}"
    return [head, want, *dot_told(asked, line, dot)], wrong


def assert_same(frame: Any, other: Any) -> None:
    """The frame is just as ``other``, the expected one: entries, colours, fetch log, slots and events. Says who drew both.

    Which source shows where may differ, as long as the dots do not.
    """
    __tracebackhide__ = True
    came, wanted = Asked.of(frame), Asked.of(other)
    told, where = _dots_told(came, wanted)
    for ending, text in parts.TEXTS.items():
        if ending == ".palette.csv":
            continue  # the colours of all dots have been compared
        if ending == ".slots.csv" and (came.frame.slots is None or wanted.frame.slots is None):
            if (came.frame.slots is None) != (wanted.frame.slots is None):
                told.append("slots: only one of the two chips says anything of time")
            continue
        line = text_told(came, ending, text(wanted.frame), text(came.frame))
        told += [line.replace("recorded", "expected")] if line else []
    if told:
        rule = f"{came.called}: must be as {wanted.called}"
        fail(Finding(came.frame, rule, tuple(told), where, wanted.frame.rgb))


def _dots_told(came: Asked, wanted: Asked) -> tuple[list[str], npt.NDArray[np.bool_] | None]:
    """How the dots of two frames differ, and where."""
    one, other = came.frame, wanted.frame
    if (one.first, *one.indices.shape) != (other.first, *other.indices.shape):
        sizes = [f"{each.width} x {each.height} dots from line {each.first} on" for each in (one, other)]
        return [f"dots: the frame has {sizes[0]}, the expected one {sizes[1]}"], None
    wrong = (one.indices != other.indices) | (one.rgb != other.rgb).any(axis=2)
    if not wrong.any():
        return [], None
    row, dot = (int(each) for each in np.argwhere(wrong)[0])
    line = row + one.first
    head = f"dots: {int(wrong.sum())} differ, first at line {line}, dot {dot}"
    return [head, *dot_told(wanted, line, dot, head="expected"), *dot_told(came, line, dot)], wrong
