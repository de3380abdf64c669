"""What memory and time are used for, and the colour that each such role has in every picture of them.

Law: a role follows from a name, a client's or that of an address in memory, and from nothing else; a role has one colour on
every chip, on light and on dark ground. The colours are quiet, and far enough apart for readers with any kind of colour
vision; yet a word stands beside each, for who does not see the difference. Knows no layer's place, no frame and no picture.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

Colour = tuple[int, int, int]

ROLES: Mapping[str, Colour] = MappingProxyType(
    {
        "refresh": (128, 136, 160),
        "cells": (56, 120, 96),
        "patterns": (88, 136, 240),
        "bitmap": (136, 88, 168),
        "sprites": (168, 96, 56),
        "CPU": (168, 136, 24),
    }
)
"""Each role and its colour, in the order in which they are stacked and listed."""

_WORDS = {
    "cells": "cells",
    "colours": "cells",
    "map": "cells",
    "pattern": "patterns",
    "patterns": "patterns",
    "glyphs": "patterns",
    "bitmap": "bitmap",
    "refresh": "refresh",
    "cpu": "CPU",
}
"""The role of each last word of a name."""


def role_of(name: str, plane: str = "bitmap") -> str:
    """The role, a key of ``ROLES``, of a client such as ``near.cells`` or an address' owner such as ``far.tiles.patterns``.

    All of ``sprites`` is one role. ``plane`` is that of names such as ``far.night.plane_0``, which do not tell theirs. Of an
    address with several owners, ``a, b``, the first decides. Raises KeyError for another name.
    """
    first, *rest = name.partition(",")[0].split(".")
    if first == "sprites" and rest:
        return "sprites"
    last = (rest or [first])[-1]
    return plane if last.startswith("plane_") else _WORDS[last]


def role_colours(names: Sequence[str]) -> list[Colour]:
    """The colour of each name's role."""
    return [ROLES[role_of(name)] for name in names]
