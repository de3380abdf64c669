"""Files: one door for reading, one for writing, which is loaded when something is to be written."""

from typing import TYPE_CHECKING

from ..door.lazy import names_of
from .reading import Outcome, Reads, Seen, TooLongError, UnreadableError, asked_for, fresh, once, read, seen_at

if TYPE_CHECKING:
    from .guard import Guard
    from .writing import Outputs, write

__all__ = [
    "Guard",
    "Outcome",
    "Outputs",
    "Reads",
    "Seen",
    "TooLongError",
    "UnreadableError",
    "asked_for",
    "fresh",
    "once",
    "read",
    "seen_at",
    "write",
]

__getattr__, __dir__ = names_of(__name__, {".guard": ("Guard",), ".writing": ("Outputs", "write")})
