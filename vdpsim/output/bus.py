"""The line's time: every access as arrays in a file, and as a picture of who had which slot.

Law: follows from a Frame that was drawn with its trace, and from nothing else; the same frame gives the same bytes. Draws no
dot of the chip's.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import numpy.typing as npt

from ..door.given import instance, picture_scale
from ..engine.frame import TRACE, SlotLog
from ..images.dots import larger
from .bus_colours import shades
from .frame import LARGEST_SCALE, Frame

if TYPE_CHECKING:
    from PIL import Image, ImageDraw, ImageFont

PAPER, INK, DIM = (244, 241, 234), (36, 36, 44), (150, 144, 132)
"""The ground; text, ticks and the edge around the picture's slots; what only joins things."""

LATE = (200, 30, 30)
"""The mark of a line with missed accesses."""

LEFT, TOP, RIGHT = 64, 38, 86
"""Room beside the slots: for the lines' numbers, for the slots' numbers, for what the lines are."""

GAP = 5
"""Dots between blank and active slots, and between the picture's lines and those below it: room for the edge."""

LETTER, ROW = 6, 14
"""Dots from a letter to the next, and from a row of text to the next."""

SLOT_STEP, LINE_STEP = 40, 24
"""The least dots from one number to the next, along the top and at the left."""

Cells = npt.NDArray[np.uint8]


class _Share(NamedTuple):
    """A field of the legend: what it says, the client's number (-1: nobody) and its share of the slots."""

    text: str
    client: int
    share: float


@dataclass(frozen=True)
class _Place:
    """Where the slot of a line lies.

    There are ``lines`` from ``first`` on, the upper ``shown`` of them the picture's; each has ``slots``, of which the first
    ``blank`` are over before its dot 0.
    """

    first: int
    lines: int
    shown: int
    slots: int
    blank: int
    scale: int

    @classmethod
    def of(cls, frame: Frame, slots: SlotLog, scale: int) -> _Place:
        return cls(slots.first, len(slots.counts), frame.height, slots.per_line, frame.blank, scale)

    def x(self, slot: int) -> int:
        """The left of a slot; that of ``slots`` is the right end of all."""
        return LEFT + slot * self.scale + (GAP if slot >= self.blank else 0)

    def y(self, row: int) -> int:
        """The top of a line's row; that of ``lines`` is the lower end of all."""
        return TOP + row * self.scale + (GAP if row >= self.shown else 0)

    @property
    def panels(self) -> list[tuple[slice, slice]]:
        """Rows and slots of each of the four parts: before, in, and below the picture. Empty ones are left out."""
        rows = (slice(0, self.shown), slice(self.shown, self.lines))
        across = (slice(0, self.blank), slice(self.blank, self.slots))
        return [
            (down, along) for down in rows for along in across if down.start < down.stop and along.start < along.stop
        ]


def trace_npz(frame: Frame) -> bytes:
    """The bytes of a ``.npz`` file with every access, for ``numpy.load``.

    ``line``, ``slot`` int32, ``client`` uint8 (a number in ``clients``), ``address`` uint32, ``value`` uint64: one each for
    every slot that was used, in order; ``clients`` the names; ``per_line`` the slots of a line; ``frame`` its number. Raises
    ValueError where the frame was drawn without its trace.
    """
    trace, slots = _traced(instance("frame", frame, Frame))
    out = io.BytesIO()
    columns: dict[str, Any] = {name: trace[name] for name in TRACE.names or ()}
    np.savez_compressed(out, **columns, clients=np.array(slots.clients), per_line=slots.per_line, frame=frame.frame)
    return out.getvalue()


def bus_map(frame: Frame, scale: int = 1) -> Image.Image:
    """Who had which slot: a row a line of the frame, a column a slot, a colour for what a client is for; idle slots are dark.

    Line numbers stand at the left, slot numbers along the top. A small gap parts blank from active slots, and the picture's
    lines from those below; an edge runs around the picture's active slots. Where accesses were missed, their lines have a
    red mark at the right. The legend below has each client's share of the frame's slots, as a bar and as numbers. Each slot
    is ``scale`` x ``scale`` (1 to 16), what is around them is not. Raises ValueError for another scale, for more than 67,108,864
    dots, or where the frame was drawn without its trace.
    """
    from PIL import Image, ImageDraw, ImageFont  # noqa: PLC0415 - a third of what Pillow takes to load, for this picture alone

    _, slots = _traced(instance("frame", frame, Frame))
    place = _Place.of(frame, slots, picture_scale(scale, LARGEST_SCALE, slots.per_line, len(slots.counts)))
    legend = _legend(slots)
    missed = _missed(frame)
    wide = max(place.x(place.slots) + RIGHT, _legend_width(legend), 2 * LETTER + LETTER * len(missed))
    legend_top = place.y(place.lines) + 12
    high = legend_top + 18 + ROW * (len(legend) + bool(missed)) + 6
    picture = Image.new("RGB", (wide, high), PAPER)
    _paste_slots(picture, place, _slots(frame))
    pen = _Pen(ImageDraw.Draw(picture), ImageFont.load_default_imagefont())
    _axes(pen, place, frame.frame)
    _edge(pen, place)
    _marks(pen, place, frame)
    _shares(picture, pen, place, slots, legend, legend_top)
    if missed:
        pen.text(LETTER, high - ROW - 4, missed, LATE)
    return picture


@dataclass(frozen=True)
class _Pen:
    """What draws text and lines, in one font."""

    draw: ImageDraw.ImageDraw
    font: ImageFont.ImageFont

    def text(self, x: int, y: int, text: str, colour: tuple[int, int, int] = INK) -> None:
        self.draw.text((x, y), text, fill=colour, font=self.font)

    def box(self, left: int, top: int, right: int, bottom: int, colour: tuple[int, int, int] = INK) -> None:
        """All dots from (left, top) to (right, bottom), both included."""
        self.draw.rectangle((left, top, right, bottom), fill=colour)


def _traced(frame: Frame) -> tuple[npt.NDArray[Any], SlotLog]:
    if frame.trace is None or frame.slots is None:
        raise ValueError("the frame was drawn without its trace: draw it with trace=True")
    return frame.trace, frame.slots


def _slots(frame: Frame) -> Cells:
    """The slots of all lines as colours."""
    trace, slots = _traced(frame)
    client = np.full((len(slots.counts), slots.per_line), -1)
    client[trace["line"] - slots.first, trace["slot"]] = trace["client"]
    return shades(slots.clients, client, np.arange(len(client))[:, None])


def _paste_slots(picture: Image.Image, place: _Place, cells: Cells) -> None:
    from PIL import Image  # noqa: PLC0415 - as above

    for down, along in place.panels:
        panel = Image.fromarray(np.ascontiguousarray(larger(cells[down, along], place.scale)))
        picture.paste(panel, (place.x(along.start), place.y(down.start)))


def _step(least: int, scale: int) -> int:
    """The smallest of 1, 2, 5, 10, 20, 50, ... that is ``least`` dots or more, each ``scale`` dots."""
    tens = 1
    while True:
        for step in (tens, 2 * tens, 5 * tens):
            if step * scale >= least:
                return step
        tens *= 10


def _axes(pen: _Pen, place: _Place, number: int) -> None:
    """Numbers and ticks of slots and lines, and what they are."""
    pen.text(LETTER, 4, f"frame {number}")
    pen.text(LETTER, 18, "slot", DIM)
    pen.text(LETTER, place.y(0) - 5, "line", DIM)
    for slot in range(0, place.slots, _step(SLOT_STEP, place.scale)):
        x = place.x(slot) + place.scale // 2
        pen.box(x, TOP - 8, x, TOP - 4)
        pen.text(x - LETTER * len(str(slot)) // 2, 18, str(slot))
    step = _step(LINE_STEP, place.scale)
    for line in range(-(-place.first // step) * step, place.first + place.lines, step):
        y = place.y(line - place.first) + place.scale // 2
        pen.box(LEFT - 8, y, LEFT - 4, y)
        pen.text(LEFT - 10 - LETTER * len(str(line)), y - 5, str(line))
    _across(pen, place, 0, place.blank, "blanking")
    _across(pen, place, place.blank, place.slots, "dots of the line")
    _down(pen, place, 0, place.shown, "picture")
    _down(pen, place, place.shown, place.lines, "below")


def _across(pen: _Pen, place: _Place, start: int, end: int, text: str) -> None:
    """A bar over slots from ``start`` up to ``end``, and ``text`` above it where there is room."""
    left, right = place.x(start), place.x(end - 1) + place.scale - 1
    if start < end:
        pen.box(left, 15, right, 15, DIM)
    if LETTER * len(text) <= right - left:
        pen.text(left, 3, text)


def _down(pen: _Pen, place: _Place, start: int, end: int, text: str) -> None:
    """A bar beside rows from ``start`` up to ``end``, and ``text`` at its right where there is room."""
    top, bottom, x = place.y(start), place.y(end - 1) + place.scale - 1, place.x(place.slots) + 14
    if start < end:
        pen.box(x, top, x, bottom, DIM)
    if bottom - top >= ROW - 4:
        pen.text(x + 6, top, text)
    if bottom - top >= 2 * ROW - 4:
        pen.text(x + 6, top + ROW, f"{end - start} lines", DIM)


def _edge(pen: _Pen, place: _Place) -> None:
    """The edge around the slots in which the picture's dots show."""
    if place.shown and place.blank < place.slots:
        right, bottom = place.x(place.slots), place.y(place.shown - 1) + place.scale
        pen.draw.rectangle((place.x(place.blank) - 3, TOP - 3, right + 2, bottom + 2), outline=INK)


def _marks(pen: _Pen, place: _Place, frame: Frame) -> None:
    """A mark at the right of each line with missed accesses."""
    x = place.x(place.slots) + 5
    for row in np.flatnonzero(frame.missed.any(axis=1)).tolist():
        top = place.y(row)
        pen.box(x, top, x + 5, top + place.scale - 1, LATE)


def _missed(frame: Frame) -> str:
    if not frame.missed.any():
        return ""
    lines = int(frame.missed.any(axis=1).sum())
    return f"{int(frame.missed.sum())} accesses missed, on {lines} lines (marked in red at the right)"


def _legend(slots: SlotLog) -> dict[str, list[_Share]]:
    """The legend's rows by their names: each layer, the sprites, and the rest with what nobody had."""
    total = max(slots.counts.shape[0] * slots.per_line, 1)
    rows: dict[str, list[_Share]] = {}
    used = [(client, name, count) for client, (name, count) in enumerate(slots.by_client.items())]
    for number, name, count in [*used, (-1, "idle", int(slots.idle.sum()))]:
        of, _, work = name.rpartition(".")
        share = count / total
        rows.setdefault(of or "others", []).append(_Share(f"{work} {100 * share:.1f} %", number, share))
    return rows


def _field_width(legend: dict[str, list[_Share]]) -> int:
    return 28 + LETTER * max(len(share.text) for row in legend.values() for share in row)


def _names_width(legend: dict[str, list[_Share]]) -> int:
    return max(LEFT, 2 * LETTER + LETTER * max(map(len, legend)))


def _legend_width(legend: dict[str, list[_Share]]) -> int:
    return _names_width(legend) + _field_width(legend) * max(map(len, legend.values()))


def _shares(
    picture: Image.Image, pen: _Pen, place: _Place, slots: SlotLog, legend: dict[str, list[_Share]], top: int
) -> None:
    """A bar of all shares as long as a line, and below it a row for each layer, for the sprites and for the rest."""
    pen.text(LETTER, top - 1, "share", DIM)
    left, wide = place.x(0), place.x(place.slots) - place.x(0)
    before = 0.0
    for share in (share for row in legend.values() for share in row):
        start, end = round(before * wide), round((before + share.share) * wide)
        _swatch(picture, slots, share.client, (left + start, top, end - start, 10))
        before += share.share
    for number, (name, row) in enumerate(legend.items()):
        y = top + 18 + ROW * number
        pen.text(LETTER, y - 1, name)
        for column, share in enumerate(row):
            x = _names_width(legend) + column * _field_width(legend)
            pen.box(x, y, x + 13, y + 9)
            _swatch(picture, slots, share.client, (x + 1, y + 1, 12, 8))
            pen.text(x + 19, y - 1, share.text)


def _swatch(picture: Image.Image, slots: SlotLog, client: int, box: tuple[int, int, int, int]) -> None:
    """The client's colour, with its dark rows, in a box of left, top, width and height."""
    from PIL import Image  # noqa: PLC0415 - as above

    left, top, wide, high = box
    if wide:
        rows = np.arange(high)[:, None] + np.zeros((1, wide), int)
        dots = shades(slots.clients, np.full((high, wide), client), rows)
        picture.paste(Image.fromarray(dots), (left, top))
