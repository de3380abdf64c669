"""Who has which colour in the picture of the line's time: that of its role, and rows by which clients of one role differ.

Law: a colour follows from the clients' names and their order, from nothing else. Knows no frame and no picture.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

from .roles import ROLES, role_of

IDLE = (255, 255, 255)
"""A slot that nobody had."""


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
