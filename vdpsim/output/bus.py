"""The line's time: every access as arrays in a file, and as a picture of who had which slot.

Law: follows from a Frame that was drawn with its trace, and from nothing else; the same frame gives the same bytes. Draws no
dot of the chip's.
"""

from __future__ import annotations

import io
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from ..door.given import instance, picture_scale
from ..engine.frame import TRACE, SlotLog
from ..images.dots import larger
from .frame import LARGEST_SCALE, Frame

if TYPE_CHECKING:
    from PIL import Image

CLIENT_COLOURS = (
    (119, 255, 255),
    (221, 119, 0),
    (170, 255, 0),
    (119, 0, 255),
    (255, 255, 136),
    (0, 170, 170),
    (153, 17, 187),
    (221, 170, 119),
    (51, 85, 119),
    (170, 170, 255),
    (170, 17, 0),
    (119, 102, 85),
)
"""Colours of the bus map, in the order of ``SlotLog.clients``: far apart for readers with any kind of colour vision. Clients
beyond the twelfth have them again, with every second line darker (beyond the 24th every second pair of lines, and so on)."""

IDLE = (18, 18, 24)
"""A slot that nobody had."""

EDGE = (255, 255, 255)
"""Where blanking ends and active dots begin."""

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
    """Who had which slot: a row a line of the frame, a column a slot, a colour a client; idle slots are dark.

    A white line runs between blank and active slots, left of and below the latter. Where accesses were missed, their lines
    have a white mark at the right. The legend below gives each client's share of the frame's slots. Each slot is ``scale`` x
    ``scale`` (1 to 16); the legend is not. Raises ValueError for another scale, for more than 67,108,864 dots, or where the frame
    was drawn without its trace.
    """
    from PIL import Image, ImageDraw, ImageFont  # noqa: PLC0415 - a third of what Pillow takes to load, for the legend alone

    cells = _slots(instance("frame", frame, Frame))
    picture = Image.fromarray(larger(cells, picture_scale(scale, LARGEST_SCALE, cells.shape[1], cells.shape[0])))
    rows = _legend(frame)
    font, high = ImageFont.load_default_imagefont(), 14
    wide = max(picture.width, 24 + max(round(font.getlength(text)) for _, text in rows))
    out = Image.new("RGB", (wide, picture.height + high * len(rows) + 4), (24, 24, 24))
    out.paste(picture, (0, 0))
    draw = ImageDraw.Draw(out)
    for number, (client, text) in enumerate(rows):
        top = picture.height + 3 + high * number
        if client is not None:
            draw.rectangle((3, top - 1, 14, top + 10), outline=(110, 110, 110))
        for row in range(10 if client is not None else 0):
            shade = tuple(_colours(np.array(client), np.array(row)).tolist())
            draw.line((4, top + row, 13, top + row), fill=shade)
        draw.text((19, top - 1), text, fill=(232, 232, 232), font=font)
    return out


def _traced(frame: Frame) -> tuple[npt.NDArray[Any], SlotLog]:
    if frame.trace is None or frame.slots is None:
        raise ValueError("the frame was drawn without its trace: draw it with trace=True")
    return frame.trace, frame.slots


def _slots(frame: Frame) -> Cells:
    """The slots of all lines as colours, with the edges between them."""
    trace, slots = _traced(frame)
    shown = frame.height
    client = np.full((len(slots.counts), slots.per_line), -1)
    client[trace["line"] - slots.first, trace["slot"]] = trace["client"]
    cells = _colours(client, np.arange(len(client))[:, None])
    edge = np.full((len(client), 1, 3), IDLE, np.uint8)
    edge[:shown] = EDGE
    cells = np.concatenate([cells[:, : frame.blank], edge, cells[:, frame.blank :]], axis=1)
    if 0 < shown < len(client):
        below = np.full((1, cells.shape[1], 3), IDLE, np.uint8)
        below[:, frame.blank :] = EDGE
        cells = np.concatenate([cells[:shown], below, cells[shown:]])
    if frame.missed.any():
        marks = np.full((len(cells), 6, 3), IDLE, np.uint8)
        marks[:shown][frame.missed.any(axis=1), 2:] = EDGE
        cells = np.concatenate([cells, marks], axis=1)
    return cells


def _colours(client: npt.NDArray[Any], row: npt.NDArray[Any]) -> Cells:
    """The colour of each client's slot (-1: nobody's) on each row."""
    table = np.array([*CLIENT_COLOURS, IDLE], np.uint8)
    turn = np.maximum(client, 0) // len(CLIENT_COLOURS)
    colours = table[np.where(client < 0, len(CLIENT_COLOURS), client % len(CLIENT_COLOURS))]
    dark = (turn > 0) & (row // np.maximum(turn, 1) % 2 == 1)
    found: Cells = np.where(dark[..., None], colours // 2, colours)
    return found


def _legend(frame: Frame) -> list[tuple[int | None, str]]:
    """The rows of the legend: a client's number (-1: nobody; None: no colour), and the text beside it."""
    _, slots = _traced(frame)
    total = max(slots.counts.shape[0] * slots.per_line, 1)
    rows: list[tuple[int | None, str]] = [
        (None, "a row a line, a column a slot; active ones are right of and above white")
    ]
    rows += [
        (number, f"{name} {100 * count / total:.1f} %") for number, (name, count) in enumerate(slots.by_client.items())
    ]
    rows.append((-1, f"idle {100 * int(slots.idle.sum()) / total:.1f} %"))
    if frame.missed.any():
        lines = int(frame.missed.any(axis=1).sum())
        rows.append((None, f"{int(frame.missed.sum())} accesses missed, on {lines} lines (marked at the right)"))
    return rows
