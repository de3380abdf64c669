"""State in, frame out. Pure: no files, no printing, no pictures."""

from .draw import draw
from .frame import COLLISIONS, DROPS, Log, Plane, Result, join
from .ladder import Rule, Sources
from .plan import Plan
from .timeline import Program

__all__ = ["COLLISIONS", "DROPS", "Log", "Plan", "Plane", "Program", "Result", "Rule", "Sources", "draw", "join"]
