"""Who has which colour in pictures of the line's time: by what a client is for, so that it looks alike on every chip.

Law: a colour follows from a client's name and its layer's place among the layers, from nothing else. Knows no frame and no
picture.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

COOL = {"cells": (0, 170, 170), "pattern": (119, 255, 255), "glyphs": (170, 170, 255), "bitmap": (119, 0, 255)}
"""The first layer's clients; the third, fifth and seventh layer's with dark rows."""

WARM = {"cells": (221, 119, 0), "pattern": (255, 255, 136), "glyphs": (221, 170, 119), "bitmap": (170, 17, 0)}
"""The second layer's clients; the fourth, sixth and eighth layer's with dark rows."""

ALIKE = {"colours": "cells"}
"""Clients that have the colour of another: no mode has both."""

OTHERS = {
    "sprites.table": (119, 102, 85),
    "sprites.pattern": (153, 17, 187),
    "refresh": (51, 85, 119),
    "cpu": (170, 255, 0),
}
"""Those that a chip has once."""

IDLE = (18, 18, 24)
"""A slot that nobody had."""

Colour = tuple[int, int, int]


def client_colours(clients: Sequence[str]) -> list[Colour]:
    """A plain colour for each of the clients, where rows cannot be told apart.

    Those of two layers and of all the rest are far apart for readers with any kind of colour vision. From the third layer on
    they come again, darker with every two layers: there the name must stand beside the colour.
    """
    return [_darker(colour, height) for colour, height in _dressed(clients)]


def _darker(colour: Colour, turn: int) -> Colour:
    red, green, blue = (part * (4 - turn) // 4 for part in colour)
    return red, green, blue


def shades(clients: Sequence[str], client: npt.NDArray[Any], row: npt.NDArray[Any]) -> npt.NDArray[np.uint8]:
    """The colour of each client's slot (its number in ``clients``; -1: nobody's) on each row, uint8 with an axis of 3 more.

    The third and fourth layer have every second row darker, the fifth and sixth every second pair of rows, the seventh and
    eighth three of six.
    """
    dressed = _dressed(clients)
    colours = np.array([*(colour for colour, _ in dressed), IDLE], np.uint8)
    height = np.array([*(height for _, height in dressed), 0])[client]
    dark = (height > 0) & (row // np.maximum(height, 1) % 2 == 1)
    found: npt.NDArray[np.uint8] = np.where(dark[..., None], colours[client] // 2, colours[client])
    return found


def _dressed(clients: Sequence[str]) -> list[tuple[Colour, int]]:
    """Each client's colour, and how many rows its dark stripes are high (0: it has none)."""
    layers: list[str] = []
    found: list[tuple[Colour, int]] = []
    for name in clients:
        if name in OTHERS:
            found.append((OTHERS[name], 0))
            continue
        layer, _, work = name.rpartition(".")
        if layer not in layers:
            layers.append(layer)
        place = layers.index(layer)
        found.append(((COOL, WARM)[place % 2][ALIKE.get(work, work)], place // 2))
    return found
