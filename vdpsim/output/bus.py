"""The line's time: every access as arrays in a file, and as a picture of who had which slot.

Law: follows from a Frame that was drawn with its trace, and from nothing else; the same frame gives the same bytes. Draws no
dot of the chip's. Whoever sees the picture needs no other paper to read it.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from ..door.given import instance, picture_scale
from ..engine.frame import TRACE, SlotLog
from ..images.paper import DIM, LETTER, PAPER, step_of
from ..images.paper import LINE as ROW
from ..images.png import larger
from .bus_place import LATE, LEFT, TOP, BusPlace
from .frame import LARGEST_SCALE, Frame
from .roles import shades

if TYPE_CHECKING:
    from PIL import Image

    from .bus_pen import Pen

SLOT_STEP, LINE_STEP = 40, 24
"""The least dots from one number to the next, along the top and at the left, with letters of their own size."""

Cells = npt.NDArray[np.uint8]


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
    """Who had which slot: a row a line of the frame, a column a slot, a colour for what a client is for; idle slots are white.

    Line numbers stand at the left, slot numbers along the top. A small gap parts blank from active slots, and the picture's
    lines from those below; an edge runs around the active part, which is labelled. Where accesses were missed, their lines have
    a red mark at the right. The legend below has each client's share of the frame's slots, the largest first, as a bar and as
    numbers; of clients for the same purpose all but the first have dark rows. Each slot is ``scale`` x ``scale`` (1 to 16); the
    letters and the room for them grow half as fast. Raises ValueError for another scale, for more than 67,108,864 dots, or
    where the frame was drawn without its trace.
    """
    from PIL import Image  # noqa: PLC0415 - a third of what Pillow takes to load, for this picture alone

    from .bus_legend import Legend  # noqa: PLC0415 - as above
    from .bus_pen import Pen  # noqa: PLC0415 - as above

    _, slots = _traced(instance("frame", frame, Frame))
    picture_scale(scale, LARGEST_SCALE, slots.per_line, len(slots.counts))
    place = BusPlace.of(frame, slots, scale)
    legend = Legend.of(frame, slots, place)
    picture = Image.new("RGB", (legend.wide, legend.bottom), PAPER)
    _paste_slots(picture, place, _slots(frame))
    pen = Pen(picture, place.letter)
    _axes(pen, place, frame)
    _edge(pen, place)
    _marks(pen, place, frame)
    legend.draw(pen)
    return picture


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


def _paste_slots(picture: Image.Image, place: BusPlace, cells: Cells) -> None:
    from PIL import Image  # noqa: PLC0415 - as above

    for down, along in place.panels:
        panel = Image.fromarray(np.ascontiguousarray(larger(cells[down, along], place.scale)))
        picture.paste(panel, (place.x(along.start), place.y(down.start)))


def _axes(pen: Pen, place: BusPlace, frame: Frame) -> None:
    """Numbers and ticks of slots and lines, and what they are."""
    unit, left, top = place.letter, LEFT * place.letter, TOP * place.letter
    pen.text(LETTER * unit, 4 * unit, f"frame {frame.frame}")
    pen.text(LETTER * unit, 18 * unit, "slot", DIM)
    pen.text(LETTER * unit, top - 5 * unit, "line", DIM)
    for slot in range(0, place.slots, step_of(SLOT_STEP * unit, place.scale)):
        x = place.x(slot) + place.scale // 2
        pen.box(x, top - 8 * unit, x, top - 4 * unit)
        pen.text(x - LETTER * unit * len(str(slot)) // 2, 18 * unit, str(slot))
    step = step_of(LINE_STEP * unit, place.scale)
    for line in range(-(-place.first // step) * step, place.first + place.lines, step):
        y = place.y(line - place.first) + place.scale // 2
        pen.box(left - 8 * unit, y, left - 4 * unit, y)
        pen.text(left - (10 + LETTER * len(str(line))) * unit, y - 5 * unit, str(line))
    _across(pen, place, slice(0, place.blank), ("blanking",))
    _across(pen, place, slice(place.blank, place.slots), (f"active: dots 0 to {frame.width - 1}", "active"))
    _down(pen, place, slice(0, place.shown), "active")
    _down(pen, place, slice(place.shown, place.lines), "below")


def _across(pen: Pen, place: BusPlace, slots: slice, texts: tuple[str, ...]) -> None:
    """A bar over ``slots``, and above it the first of ``texts`` for which there is room."""
    left, right = place.x(slots.start), place.x(slots.stop - 1) + place.scale - 1
    if slots.start < slots.stop:
        pen.box(left, 15 * place.letter, right, 16 * place.letter - 1, DIM)
        room = (text for text in texts if LETTER * place.letter * len(text) <= right - left)
        pen.text(left, 3 * place.letter, next(room, ""))


def _down(pen: Pen, place: BusPlace, rows: slice, text: str) -> None:
    """A bar beside ``rows``, and at its right ``text`` and how many lines they are, where there is room."""
    unit = place.letter
    top, bottom, x = place.y(rows.start), place.y(rows.stop - 1) + place.scale - 1, place.right + 14 * unit
    if rows.start < rows.stop:
        pen.box(x, top, x + unit - 1, bottom, DIM)
    if bottom - top >= (ROW - 4) * unit:
        pen.text(x + 6 * unit, top, text)
    if bottom - top >= (2 * ROW - 4) * unit:
        pen.text(x + 6 * unit, top + ROW * unit, f"{rows.stop - rows.start} lines", DIM)


def _edge(pen: Pen, place: BusPlace) -> None:
    """The edge around the slots in which the picture's dots show."""
    if place.shown and place.blank < place.slots:
        bottom = place.y(place.shown - 1) + place.scale
        pen.edge(place.x(place.blank) - 3, TOP * place.letter - 3, place.right + 2, bottom + 2)


def _marks(pen: Pen, place: BusPlace, frame: Frame) -> None:
    """A mark at the right of each line with missed accesses."""
    x = place.right + 5 * place.letter
    for row in np.flatnonzero(frame.missed.any(axis=1)).tolist():
        top = place.y(row)
        pen.box(x, top, x + 6 * place.letter - 1, top + place.scale - 1, LATE)
