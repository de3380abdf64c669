"""A sweep as a picture: a small frame for each point or, without a scene, a bar of the fullest line's slots.

Law: what is shown is a row's, in the order of the rows; every verdict stands in words beside its colour. The same sweep gives
the same dots. Text is plain ASCII, of Pillow's own bitmap font.
"""

from __future__ import annotations

import io
import json
from collections.abc import Iterator, Sequence
from textwrap import wrap
from typing import Any, NamedTuple

from PIL import Image, ImageDraw

from ..images.paper import step_of, write_lines
from .fields import parts_of
from .points import PICTURE
from .rows import ERROR, PointRow, cell, counted, outcome
from .swept import Swept

LETTER = (6, 13)
"""Dots across of a letter, and from a line of text to the next."""

GAP = 12
"""Dots between points, and around them all."""

MOST_ACROSS = 8
"""Small frames side by side."""

BAR = 360
"""Dots across of the longest bar."""

TICK = 48
"""Dots from a number of the axis to the next, at least."""

LONGEST_LABEL = 60
"""Letters of a point's values beside its bar; what is longer is cut."""

PAPER, INK, FAINT = (250, 250, 250), (24, 24, 24), (150, 150, 150)
FITTING, OVER, OPEN, NONE = (0, 114, 178), (213, 94, 0), (240, 228, 66), (225, 225, 225)
"""Colours of points that fit, that do not, that are open, and that have no verdict: dark, middling and light, so that readers
who see no red or no green, or no colour at all, tell them apart."""


class Look(NamedTuple):
    """How an outcome is shown: its ``word``, its ``colour``, and the ``ink`` on it."""

    word: str
    colour: tuple[int, int, int]
    ink: tuple[int, int, int]


LOOKS = {
    "fits": Look("fits", FITTING, PAPER),
    "does not fit": Look("DOES NOT FIT", OVER, INK),
    "open": Look("OPEN", OPEN, INK),
    "no slots": Look("no time table", FAINT, INK),
    "failed": Look("FAILED", FAINT, INK),
}
"""By outcome. Besides, a bar is hatched where a point does not fit and dotted where it is open; a frame's edge is thin where it
fits, thick where it does not, and broken where it is open."""


def sheet(sweep: Swept) -> Image.Image:
    """The picture of a sweep, RGB."""
    head = list(_head(sweep))
    body = _frames(sweep) if sweep.scene is not None else _bars(sweep)
    width = max(body.width, *(LETTER[0] * len(line) + 2 * GAP for line in head))
    top = GAP + LETTER[1] * len(head)
    whole = Image.new("RGB", (width, top + body.height), PAPER)
    whole.paste(body, (0, top))
    _write(ImageDraw.Draw(whole), (GAP, GAP), head)
    return whole


def _head(sweep: Swept) -> Iterator[str]:
    """What was swept, and how it went, in lines."""
    total = len(sweep.rows)
    scene = f", frame {sweep.frame} of {sweep.scene}" if sweep.scene is not None else ""
    yield f"{sweep.chip}{scene}: {total} point{'s' if total != 1 else ''}"
    for name, values in sweep.vary.items():
        yield _cut(f"  {name} = {', '.join(map(_value, values))}", 120)
    yield f"  {counted(sweep.rows)}"
    if sweep.shown.step > 1:
        yield f"  shown: {len(sweep.shown)} of them, one in {sweep.shown.step}"


def short_names(names: Sequence[str]) -> list[str]:
    """Each path by as few of its last parts as tell it from the others."""
    paths = [parts_of(name) for name in names]
    most = max(map(len, paths))
    for count in range(1, most + 1):
        short = [".".join(path[-count:]) for path in paths]
        if len(set(short)) == len(short):
            return short
    return list(names)


def verdict(row: PointRow) -> str:
    """What became of a point, in words."""
    found = outcome(row)
    if found == "failed":
        return f"{LOOKS[found].word}: {row[ERROR]}"
    told = [] if row["free"] is None else [f"{row['free']} of {row['slots_per_line']} slots free"]
    seen = row.get("scene_missed") or row.get("scene_dropped_slots") or row.get("scene_unread")
    if found in {"does not fit", "open"} and row["gives_way"] and not seen:
        told.append(row["gives_way"].replace(", ", " "))
    if row.get("scene_missed"):
        told.append(f"{row['scene_missed']} missed")
    if row.get("scene_unread"):
        told.append(f"{row['scene_unread']} of the table not read")
    dropped = sum(row.get(f"scene_dropped_{why}") or 0 for why in ("count", "dots", "slots"))
    told += [f"{dropped} dropped"] if dropped else []
    if found == "no slots":
        told.append(f"{row['chip_bits']:,} bits on the chip")
    return f"{LOOKS[found].word}: {', '.join(told)}"


def _frames(sweep: Swept) -> Image.Image:
    """A small frame for each point that is shown, with its values and what became of it below."""
    pictures = {number: Image.open(io.BytesIO(data)) for number, data in sweep.pictures.items()}
    wide = max([PICTURE[0], *(picture.width for picture in pictures.values())])
    high = max((picture.height for picture in pictures.values()), default=LETTER[1])
    names = short_names(list(sweep.vary))
    texts = {number: _caption(sweep, names, sweep.rows[number], wide) for number in sweep.shown}
    below = LETTER[1] * max(map(len, texts.values())) + 4
    across = _across(sweep)
    step = wide + GAP, high + below + GAP
    down = -(-len(texts) // across)
    body = Image.new("RGB", (across * step[0] + GAP, down * step[1] + GAP), PAPER)
    draw = ImageDraw.Draw(body)
    for place, (number, lines) in enumerate(texts.items()):
        left, top = GAP + place % across * step[0], GAP + place // across * step[1]
        row = sweep.rows[number]
        picture = pictures.get(number)
        right, low = (left + wide, top + high) if picture is None else (left + picture.width, top + picture.height)
        _edge(draw, (left - 3, top - 3, right + 2, low + 2), outcome(row))
        if picture is not None:
            body.paste(picture, (left, top))
        else:
            draw.line((left, top, right - 1, low - 1), fill=FAINT)
            draw.line((left, low - 1, right - 1, top), fill=FAINT)
        _write(draw, (left, top + high + 5), lines)
    return body


def _edge(draw: ImageDraw.ImageDraw, box: tuple[int, int, int, int], found: str) -> None:
    """The edge around a small frame."""
    left, top, right, low = box
    draw.rectangle(box, fill=NONE, outline=LOOKS[found].colour, width=1 if found == "fits" else 3)
    if found != "open":
        return
    for across in range(left + 6, right - 6, 12):  # yellow alone is faint on paper
        draw.rectangle((across, top, across + 5, top + 2), fill=INK)
        draw.rectangle((across, low - 2, across + 5, low), fill=INK)
    for down in range(top + 6, low - 6, 12):
        draw.rectangle((left, down, left + 2, down + 5), fill=INK)
        draw.rectangle((right - 2, down, right, down + 5), fill=INK)


def _across(sweep: Swept) -> int:
    """How many stand side by side: where there is room, the values of the field that counts fastest, so that columns agree."""
    shown, last = len(sweep.shown), len(list(sweep.vary.values())[-1])
    if sweep.shown.step > 1 or last > MOST_ACROSS:
        return min(MOST_ACROSS, shown)
    whole = range(last, MOST_ACROSS + 1, last)
    return min(shown, next((count for count in whole if 2 * count * count >= shown), whole[-1]))


def _caption(sweep: Swept, names: Sequence[str], row: PointRow, wide: int) -> list[str]:
    letters = wide // LETTER[0]
    values = ", ".join(f"{name} {_value(row[field])}" for name, field in zip(names, sweep.vary, strict=True))
    lines = [*wrap(f"{row['point']}: {values}", letters), *wrap(verdict(row), letters)]
    return lines if len(lines) <= 8 else [*lines[:7], "..."]


def _bars(sweep: Swept) -> Image.Image:
    """A bar for each point that is shown: as long as its line has slots, filled as far as they are used."""
    names = short_names(list(sweep.vary))
    rows = [sweep.rows[number] for number in sweep.shown]
    labels = [[str(row["point"]), *(_cut(_value(row[field]), LONGEST_LABEL) for field in sweep.vary)] for row in rows]
    widths = [max(map(len, column)) for column in zip(["point", *names], *labels, strict=True)]
    left = GAP + LETTER[0] * (sum(widths) + 2 * len(widths))
    most = max((row["slots_per_line"] or 0 for row in rows), default=0)
    told = [_cut(verdict(row), 110) for row in rows]
    length = BAR if most else 0
    right = left + length + GAP
    high = LETTER[1] + 5
    wide, low = right + LETTER[0] * max(map(len, told)) + GAP, GAP + high * (len(rows) + 1)
    body = Image.new("RGB", (wide, low + (high if most else 0) + GAP), PAPER)
    draw = ImageDraw.Draw(body)
    if most:
        _axis(draw, (left, low), most)
    for place, label in enumerate([["point", *names], *labels]):
        top = GAP + high * place
        texts = [text.rjust(width) for text, width in zip(label, widths, strict=True)]
        _write(draw, (GAP, top), ["  ".join(texts)])
        if not place:
            _write(draw, (left, top), ["slots used on the fullest line" if most else ""])
            continue
        row = rows[place - 1]
        if row["slots_per_line"]:
            _bar(draw, (left, top), row, length / most)
        _write(draw, (right, top), [told[place - 1]])
    return body


def _axis(draw: ImageDraw.ImageDraw, at: tuple[int, int], most: int) -> None:
    """The numbers of slots, from 0 to ``most``, below the bars."""
    left, top = at
    draw.line((left, top, left + BAR, top), fill=INK)
    for slots in range(0, most + 1, step_of(TICK, BAR / most)):
        x = left + round(slots * BAR / most)
        draw.line((x, top, x, top + 3), fill=INK)
        _write(draw, (x - LETTER[0] * len(str(slots)) // 2, top + 4), [str(slots)])


def _bar(draw: ImageDraw.ImageDraw, at: tuple[int, int], row: PointRow, scale: float) -> None:
    left, top = at
    low = top + LETTER[1] - 2
    used, end = left + round(row["used"] * scale), left + round(row["slots_per_line"] * scale)
    found = outcome(row)
    look = LOOKS[found]
    draw.rectangle((left, top, end, low), fill=PAPER, outline=FAINT)
    draw.rectangle((left, top, used, low), fill=look.colour, outline=INK)
    for across in range(left + 4, used - 10, 8) if found == "does not fit" else ():
        draw.line((across, low - 1, across + low - top - 2, top + 1), fill=PAPER)
    for across in range(left + 4, used - 4, 6) if found == "open" else ():
        for down in range(top + 3, low - 1, 5):
            draw.rectangle((across, down, across + 1, down + 1), fill=INK)
    text = f"{row['used']}"
    width = LETTER[0] * len(text)
    if used - left > width + 2 * LETTER[0]:
        draw.rectangle((used - width - 6, top + 1, used - 1, low - 1), fill=look.colour)
        _write(draw, (used - width - 3, top), [text], look.ink)
    else:
        _write(draw, (used + 4, top), [text])


def _value(value: Any) -> str:
    """A value as it is labelled; nothing is the field left out."""
    if value is None:
        return "left out"
    return cell(value) if not isinstance(value, list | dict) else json.dumps(value)


def _cut(text: str, longest: int) -> str:
    return text if len(text) <= longest else f"{text[: longest - 3]}..."


def _write(
    draw: ImageDraw.ImageDraw, at: tuple[int, int], lines: Sequence[str], ink: tuple[int, int, int] = INK
) -> None:
    plain = [line.encode("ascii", "replace").decode() for line in lines]
    write_lines(draw, at, plain, ink, step=LETTER[1])
