"""What memory and time are used for, the colour that each such role has in every picture of them, and rows for who shares one.

Law: a role follows from a name, a client's or that of an address in memory, and from nothing else; a role has one colour on
every chip, on light and on dark ground. The colours are quiet, and far enough apart for readers with any kind of colour
vision; yet a word stands beside each, for who does not see the difference. Clients of one role differ by their rows in the
picture of the line's time, which follow from the clients' order. Knows no layer's place, no frame and no picture.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

import numpy as np
import numpy.typing as npt

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


IDLE = (255, 255, 255)
"""A slot that nobody had."""


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


def shades(clients: Sequence[str], client: npt.NDArray[Any], row: npt.NDArray[Any]) -> npt.NDArray[np.uint8]:
    """The colour of each client's slot (its number in ``clients``; -1: nobody's) on each row, uint8 with an axis of 3 more.

    The first client of a role has its colour, plain. The second has every second row darker, the third every second pair of
    rows, the fourth three of six, and so on.
    """
    colours = np.array([*(ROLES[role_of(name)] for name in clients), IDLE], np.uint8)
    height = np.array([*place_in_role(clients), 0])[client]
    dark = (height > 0) & (row // np.maximum(height, 1) % 2 == 1)
    found: npt.NDArray[np.uint8] = np.where(dark[..., None], colours[client] // 2, colours[client])
    return found


def place_in_role(clients: Sequence[str]) -> list[int]:
    """For each client how many of its role stand before it: so many rows high are its dark stripes."""
    met: Counter[str] = Counter()
    places = []
    for role in map(role_of, clients):
        places.append(met[role])
        met[role] += 1
    return places
