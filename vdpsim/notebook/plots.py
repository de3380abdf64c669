"""A log drawn by matplotlib: a line's fetches or slots, stacked by client.

Law: the one place that loads matplotlib, which belongs to an extra. Each client has the colour of its role, and hatching where
another of its role stands before it; the legend has the most first.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from ..engine.frame import Log, SlotLog
from ..output.roles import place_in_role, role_colours

HATCHES = ("", "//", "..", "xx", "--", "++", "oo", "||")
"""The hatching of the first client of a role, of the second, and so on."""


def plot_log(log: Log, axes: Any = None) -> Any:
    """See ``Log.plot``."""
    return _stacked(axes, log.first, log.clients, log.counts, "fetches")


def plot_slots(slots: SlotLog, axes: Any = None) -> Any:
    """See ``SlotLog.plot``."""
    axes = _stacked(axes, slots.first, slots.clients, slots.counts, "slots")
    axes.axhline(slots.per_line, color="black", linewidth=1, linestyle=":", label=f"slots of a line ({slots.per_line})")
    axes.legend(loc="upper left", bbox_to_anchor=(1, 1), fontsize="small")
    return axes


def _stacked(axes: Any, first: int, clients: tuple[str, ...], counts: npt.NDArray[np.int64], what: str) -> Any:
    """The ``counts`` (lines, clients) above each other; those that were never any are left out."""
    axes = _axes(axes)
    sums = counts.sum(axis=0)
    order = [int(at) for at in np.argsort(-sums, kind="stable") if sums[at]]
    if order:  # matplotlib refuses to stack nothing
        _stack(axes, np.arange(first, first + len(counts)), clients, counts, order)
    axes.set_xlabel("line")
    axes.set_ylabel(what)
    axes.margins(x=0)
    if order:
        axes.legend(loc="upper left", bbox_to_anchor=(1, 1), fontsize="small")
    return axes


def _stack(
    axes: Any, lines: npt.NDArray[np.int64], clients: tuple[str, ...], counts: npt.NDArray[np.int64], order: list[int]
) -> None:
    """The clients numbered in ``order`` above each other, in the colours and hatching of their roles."""
    colours, places = role_colours(clients), place_in_role(clients)
    areas = axes.stackplot(
        lines,
        [counts[:, at] for at in order],
        labels=[clients[at].replace("$", r"\$").lstrip("_") for at in order],
        colors=[tuple(part / 255 for part in colours[at]) for at in order],
    )
    for area, at in zip(areas, order, strict=True):
        area.set_hatch(HATCHES[places[at] % len(HATCHES)])
        area.set_edgecolor("white")
        area.set_linewidth(0)


def _axes(axes: Any) -> Any:
    """The ``axes`` that were given, or new ones. Raises ImportError where there is no matplotlib."""
    if axes is not None:
        return axes
    try:
        from matplotlib import pyplot as plt  # noqa: PLC0415 - see the law
    except ImportError:
        told = "plot() needs matplotlib, which is not installed: pip install 'vdpsim[plot]'"
        raise ImportError(told) from None
    return plt.subplots(layout="constrained")[1]
