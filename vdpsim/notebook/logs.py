"""A frame's fetches and slots in a notebook: whose they are, and the line that has most.

Law: says what stands in the log and works nothing out but sums.
"""

from __future__ import annotations

from ..engine.frame import Log, SlotLog
from .pieces import heading, line, table


def log_html(log: Log) -> str:
    """Fetches by client, the most first."""
    total = log.total
    told = (
        f"{total:,} fetches on lines {log.first} to {log.first + len(log.counts) - 1}"
        if len(log.counts)
        else "no lines"
    )
    rows = [
        (name, count, _percent(count, total), int(log.by_line[name].max(initial=0)))
        for name, count in sorted(log.by_client.items(), key=lambda one: -one[1])
    ]
    parts = [heading(told), table(("client", "fetches", "share", "most on a line"), rows, right=3)]
    if len(log.counts):
        at = int(log.totals.argmax())
        parts.append(line(f"most on one line: {int(log.totals[at]):,}, line {log.first + at}"))
        if log.found.any():
            found, drawn = int(log.found.sum()), int(log.drawn.sum())
            parts.append(
                line(f"sprites, counted on each line: {found:,} found, {drawn:,} drawn, {found - drawn:,} dropped")
            )
    return "".join(parts)


def slots_html(slots: SlotLog) -> str:
    """Slots by client, the most first, and those that nobody had."""
    lines, total = len(slots.counts), slots.counts.shape[0] * slots.per_line
    rows = [
        (name, count, _percent(count, total))
        for name, count in sorted(slots.by_client.items(), key=lambda one: -one[1])
    ]
    idle = int(slots.idle.sum())
    told = (
        f"{lines:,} lines of {slots.per_line:,} slots: {total - idle:,} used, {idle:,} idle ({_percent(idle, total)})"
    )
    return heading(told) + table(("client", "slots", "share"), rows, right=2)


def _percent(count: int, total: int) -> str:
    return f"{100 * count / total:.1f} %" if total else ""
