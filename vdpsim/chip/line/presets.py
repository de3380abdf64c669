"""Presets: a frame that suits a display, as a table and as text for a new chip file.

Law: every number follows from the display's published ones and from what is asked for; nothing else is chosen. What is
made here fits its display without a warning. Knows displays and the frame's table.
"""

from __future__ import annotations

from functools import cache
from math import ceil

from pydantic import BaseModel

from ...door.given import instance, text, whole_number
from ...door.shown import value as shown
from ...files.problems import InputError, Problem
from ..tables.basics import Border, FrameTable
from .displays import DISPLAYS
from .rates import frame_rate, line_rate

STEP = 8
"""A picture's width is a multiple of so many dots."""

LARGE = 1 << 63
"""Beyond this nobody meant a number of dots."""


def display_frame(name: str, width: int, height: int, dots: int | None = None) -> FrameTable:
    """A frame of ``width`` x ``height`` dots of picture that the display called ``name`` takes, with the border that fills it.

    ``dots`` of a whole line; left out: the fewest published ones that have room for the picture. The dot clock is rounded to
    a whole Hz. What is odd of a border goes to the right and to the bottom. Raises InputError with all that does not fit.

    >>> frame = display_frame("625 lines", 288, 216, dots=384)
    >>> frame.dot_clock, frame.lines_per_frame, frame.border.left
    (6000000, 312, 16)
    """
    width, height = whole_number("width", width, -LARGE, LARGE), whole_number("height", height, -LARGE, LARGE)
    dots = None if dots is None else whole_number("dots", dots, -LARGE, LARGE)
    display = DISPLAYS.get(text("name", name))
    if display is None:
        raise InputError([Problem("frame", 0, "display", f"must be one of {', '.join(DISPLAYS)}, got {shown(name)}")])
    wrong = []
    (narrowest, widest), (least, most) = _limits(FrameTable, "width"), _limits(FrameTable, "dots_per_line")
    fewest = max(least, ceil(width / display.picture))
    if not narrowest <= width <= widest or width % STEP:
        wrong.append(("width", f"must be {narrowest} to {widest}, a multiple of {STEP} dots, got {width}"))
    elif dots is None:
        dots = next((published for published in display.dots if display.room(published)[0] >= width), None)
        if dots is None:
            room = display.room(display.dots[-1])[0]
            told = f"must be at most {room} where dots of the whole line, from {fewest} on, are not given, got {width}"
            wrong.append(("width", told))
    elif dots > most or dots < least or display.room(dots)[0] < width:
        wrong.append(("dots", f"must be {fewest} to {most} for a picture of {width} dots, got {dots}"))
    lowest = _limits(FrameTable, "height")[0]
    if not lowest <= height <= display.height:
        wrong.append(("height", f"must be {lowest} to {display.height} lines ({display.lines_source}), got {height}"))
    if wrong or dots is None:
        raise InputError(Problem("frame", 0, place, message) for place, message in wrong)
    left, right = _halves(int(dots * display.active) - width)
    top, bottom = _halves(display.height - height)
    return FrameTable.model_validate(
        {
            "width": width,
            "height": height,
            "border": Border(left=left, right=right, top=top, bottom=bottom),
            "dot_clock": round(display.line_rate * dots),
            "dots_per_line": dots,
            "lines_per_frame": display.lines[0],
            "display": name,
        }
    )


def frame_sizes(name: str) -> tuple[range, range]:
    """The widths and the heights that ``display_frame`` takes for the display called ``name`` where it is given no dots."""
    display, (narrowest, widest) = DISPLAYS[name], _limits(FrameTable, "width")
    most = min(widest, display.room(display.dots[-1])[0])
    return range(narrowest, most + 1, STEP), range(_limits(FrameTable, "height")[0], display.height + 1)


@cache
def _limits(table: type[BaseModel], key: str) -> tuple[int, int]:
    """The least and the most that ``table`` allows ``key`` to be."""
    allowed = table.model_json_schema()["properties"][key]
    return allowed["minimum"], allowed["maximum"]


def _halves(room: int) -> tuple[int, int]:
    """``room`` dots or lines as the two sides of a border, none of them larger than a border can be."""
    most = _limits(Border, "left")[1]
    return min(most, max(0, room) // 2), min(most, (max(0, room) + 1) // 2)


def frame_text(frame: FrameTable) -> str:
    """``frame`` as a chip file's table in TOML, with sources beside its numbers. Raises KeyError where it names no display."""
    display = DISPLAYS.get(instance("frame", frame, FrameTable).display or "")
    if display is None:
        raise KeyError(f"frame must name a display, one of {', '.join(DISPLAYS)}, got {shown(frame.display)}")
    rate, dots = line_rate(frame), frame.dots_per_line
    seen, why = int(dots * display.picture), display.picture_source
    fewest = ceil(frame.width / display.picture)
    border = ", ".join(f"{side} = {extent}" for side, extent in frame.border)
    rounded = "" if rate == display.line_rate else f"rounded to a whole Hz from {float(display.line_rate):.3f}; "
    keys = (
        ("width", frame.width, "dots" + (f"; a tube shows {seen} ({why})" if seen < frame.width else "")),
        ("height", frame.height, f"lines, {display.height} at most: {display.lines_source}"),
        (
            "dot_clock",
            f"{frame.dot_clock:_}",
            f"Hz; {float(rate):.3f} lines a second; {rounded}{display.line_rate_source}",
        ),
        ("dots_per_line", dots, f"with blanking; {display.dots_source if dots in display.dots else 'as asked for'}"),
        ("lines_per_frame", frame.lines_per_frame, f"{float(frame_rate(frame)):.3f} Hz: {display.lines_source}"),
        ("display", f'"{display.name}"', "vdpsim check compares the table with it"),
    )
    lines = [f"{key} = {value}" for key, value, _ in keys]
    column = max(map(len, lines))
    told = [f"{line:<{column}}  # {about}" for line, (_, _, about) in zip(lines, keys, strict=True)]
    narrow = (
        [f"# With {fewest} dots a line, the fewest, this picture would be as wide as it can."] if fewest < dots else []
    )
    return "\n".join(
        [f"# For {display.about}.", *narrow, "[frame]", *told, f"border = {{ {border} }}  # shows the backdrop", ""]
    )
