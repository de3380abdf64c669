"""How far colours are apart for readers who see as most do, and for those who lack a kind of cone.

Law: shares nothing with the program's own colour spaces.
"""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np

SEEN_BY = {
    "normal": np.eye(3),
    "no long cones": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "no middle cones": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "no short cones": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}
"""How linear RGB looks to people who lack a kind of cone. Machado, Oliveira, Fernandes (2009), IEEE Transactions on Visualization
and Computer Graphics 15 (6), severity 1.0; numbers from memory."""


def lab(colours: Any, seen: Any) -> Any:
    """CIE L*a*b* of 8-bit sRGB colours as they are seen. sRGB and its matrix: IEC 61966-2-1; L*a*b*: CIE 15."""
    part = np.asarray(colours) / 255
    linear = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4) @ np.asarray(seen).T
    to_xyz = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
    xyz = linear.clip(0, 1) @ to_xyz.T / to_xyz.sum(axis=1)
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    return np.stack([116 * f[:, 1] - 16, 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])], axis=1)


def closest(colours: Any) -> float:
    """The smallest distance between two of the colours in L*a*b*, for any of the readers."""
    seen = (lab(colours, matrix) for matrix in SEEN_BY.values())
    return min(float(np.linalg.norm(one - two)) for points in seen for one, two in combinations(points, 2))


def contrast(one: Any, other: Any) -> float:
    """The contrast ratio of two 8-bit sRGB colours by WCAG 2.x, 1 to 21."""
    low, high = sorted(_luminance(colour) for colour in (one, other))
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: Any) -> float:
    part = np.asarray(colour) / 255
    light = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4)
    return float(light @ [0.2126, 0.7152, 0.0722])
