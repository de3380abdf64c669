"""Files: one door for reading, one for writing."""

from .guard import Guard
from .reading import Outcome, Reads, TooLongError, UnreadableError, fresh, once, read
from .writing import Outputs, write

__all__ = [
    "Guard",
    "Outcome",
    "Outputs",
    "Reads",
    "TooLongError",
    "UnreadableError",
    "fresh",
    "once",
    "read",
    "write",
]
