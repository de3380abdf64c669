"""Pieces of what a notebook shows: headings, tables and pictures as HTML.

Law: whatever a name or a value holds, it stands there as text; a table has no more than ``MOST_ROWS`` rows and ``MOST_COLUMNS``
columns and says what it leaves out, so that nothing is larger than a screen. Colours are the notebook's own, light or dark.
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from html import escape
from typing import Any

from ..door.shown import clipped

MOST_ROWS = 16
MOST_COLUMNS = 12

LONGEST = 60
"""Characters of what stands in a cell."""

MOST_SWATCHES = 256
"""Colours that are shown."""

LONGEST_LINE = 600
"""Characters of a line of text."""


def line(told: object) -> str:
    """A line of text."""
    return f"<div>{escape(clipped(told, LONGEST_LINE))}</div>"


def heading(told: object) -> str:
    """A line of text that stands out."""
    return f"<div><b>{escape(clipped(told, LONGEST_LINE))}</b></div>"


def table(
    head: Sequence[object],
    rows: Sequence[Sequence[Any]],
    *,
    right: int = 0,
    total: int | None = None,
    most: int = MOST_ROWS,
) -> str:
    """A table of at most ``most`` rows; numbers stand at the right, and so do texts in the last ``right`` columns.

    ``total``: how many rows there are, where ``rows`` are the first of them.
    """
    across, numbers = slice(0, MOST_COLUMNS), len(head) - right
    parts = ['<div style="overflow-x: auto"><table><thead><tr>']
    parts += [f"<th>{_text(name)}</th>" for name in head[across]]
    parts.append("</tr></thead><tbody>")
    for row in rows[:most]:
        parts += ["<tr>", *(_cell(value, right=at >= numbers) for at, value in enumerate(row[across])), "</tr>"]
    parts.append("</tbody></table></div>")
    left = (len(rows) if total is None else total) - min(len(rows), most)
    parts += [line(f"and {left:,} more")] if left else []
    parts += [line(f"and {len(head) - MOST_COLUMNS:,} more columns")] if len(head) > MOST_COLUMNS else []
    return "".join(parts)


def _cell(value: Any, *, right: bool) -> str:
    number = isinstance(value, int | float) and not isinstance(value, bool)
    told = f"{value:,}" if isinstance(value, int) and number else f"{value:,.4g}" if number else value
    return f'<td style="text-align: {"right" if number or right else "left"}">{_text(told)}</td>'


def _text(value: object) -> str:
    return escape(clipped(value, LONGEST))


def swatches(colours: Sequence[tuple[str, Sequence[int]]]) -> str:
    """A small field of each colour, red, green and blue from 0 to 255, with its text to point at."""
    style = "display: inline-block; width: 14px; height: 14px; margin: 1px; border: 1px solid #888"
    fields = (
        f'<span title="{_text(told)}" style="{style}; background: rgb({int(red)}, {int(green)}, {int(blue)})"></span>'
        for told, (red, green, blue) in colours[:MOST_SWATCHES]
    )
    more = len(colours) - MOST_SWATCHES
    shown = f'<div style="max-width: 34em; line-height: 0">{"".join(fields)}</div>'
    return shown + (line(f"and {more:,} more") if more > 0 else "")


def picture(png: bytes, alt: object) -> str:
    """A PNG that is no wider than its notebook, its dots sharp."""
    return image(f"data:image/png;base64,{base64.b64encode(png).decode('ascii')}", alt)


def image(address: str, alt: object) -> str:
    """The same of a picture at ``address``, which is one of our own making."""
    return f'<img src="{escape(address)}" alt="{_text(alt)}" style="max-width: 100%; image-rendering: pixelated">'
