"""State in, frame out. Pure: no files, no printing, no pictures."""

from .draw import draw
from .frame import COLLISIONS, DROPS, RAISED, TRACE, TRANSFERS, Log, Plane, Result, SlotLog
from .join import join
from .ladder import Rule, Sources
from .plan import Plan
from .slots.timed import NotInTimeError
from .timeline import Program

__all__ = [
    "COLLISIONS",
    "DROPS",
    "RAISED",
    "TRACE",
    "TRANSFERS",
    "Log",
    "NotInTimeError",
    "Plan",
    "Plane",
    "Program",
    "Result",
    "Rule",
    "SlotLog",
    "Sources",
    "draw",
    "join",
]
