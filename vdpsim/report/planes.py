"""Planes of frames packed small: each line as its likeness in the frame before, and what is different.

Law: a *stack* is a list of uint8 planes (lines, dots) that move together, as those of one layer do. A line is guessed from the
frame before: the same line moved by up to ``REACH`` dots, or a line near it; the guess is told by a number, and what is packed
is guess XOR truth, mostly zeros. A key frame guesses nothing. ``unpacked`` is the way back, as the page goes it.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Dots = npt.NDArray[np.uint8]
Stack = Dots
"""uint8 (planes, lines, dots)."""

REACH = 8
"""Dots and lines that a guess looks for motion."""

GUESSES = [(dot, 0) for dot in (0, *(way * far for far in range(1, REACH + 1) for way in (1, -1)))] + [
    (0, way * far) for far in range(1, REACH + 1) for way in (1, -1)
]
"""(dots, lines) from which a line may come: line y, dot x is guessed from line y + lines, dot (x + dots) modulo the width."""

NO_GUESS = 255

LEVEL = 7
"""Of zlib; higher ones take longer than they save."""


def guesses(before: Dots, now: Dots) -> Dots:
    """For each line of one plane the number of the guess that comes nearest, uint8 (lines,); the first of equals."""
    if np.array_equal(before, now):
        return np.zeros(len(now), np.uint8)
    # No motion comes first among the guesses: of lines that are alike, a blank sky say, the one in its own place is taken.
    hits = np.stack(
        [(_guessed(before, np.full(len(now), number, np.uint8)) == now).sum(axis=1) for number in range(len(GUESSES))]
    )
    found: Dots = hits.argmax(axis=0).astype(np.uint8)
    return found


def _guessed(before: Dots, chosen: Dots) -> Dots:
    """``before`` (..., lines, dots) with each line taken from where its guess says; lines beyond the edge from the edge."""
    lines, dots = before.shape[-2:]
    ways = np.array(GUESSES)[chosen]
    if not ways.any():
        return before
    from_line = np.clip(np.arange(lines) + ways[:, 1], 0, lines - 1)
    from_dot = (np.arange(dots) + ways[:, :1]) % dots
    found: Dots = before[..., from_line[:, None], from_dot]
    return found


def packed(now: Sequence[Stack], before: Sequence[Stack] | None, tail: bytes = b"") -> bytes:
    """Stacks of one frame and the ``tail`` behind them, deflated (RFC 1951, without a header).

    ``before``: the stacks of the frame before, None for a key frame.
    """
    parts = []
    for number, stack in enumerate(now):
        chosen = np.full(stack.shape[1], NO_GUESS, np.uint8)
        rest = stack
        if before is not None:
            chosen = guesses(before[number][0], stack[0])
            rest = stack ^ _guessed(before[number], chosen)
        parts += [chosen.tobytes(), np.ascontiguousarray(rest).tobytes()]
    return deflated(b"".join([*parts, tail]))


def deflated(data: bytes) -> bytes:
    """``data`` deflated, as a browser inflates it with ``deflate-raw``."""
    work = zlib.compressobj(LEVEL, zlib.DEFLATED, -15)
    return work.compress(data) + work.flush()


def unpacked(data: bytes, depths: Sequence[int], size: tuple[int, int], before: Sequence[Stack] | None) -> list[Stack]:
    """The stacks again, of so many planes each, of ``size`` (lines, dots)."""
    raw = np.frombuffer(zlib.decompress(data, -15), np.uint8)
    lines, dots = size
    at, found = 0, []
    for number, depth in enumerate(depths):
        chosen = raw[at : at + lines]
        at += lines
        rest = raw[at : at + depth * lines * dots].reshape(depth, lines, dots)
        at += depth * lines * dots
        if lines and chosen[0] != NO_GUESS:
            assert before is not None
            rest = rest ^ _guessed(before[number], chosen)
        found.append(rest)
    return found


def split(values: npt.NDArray[np.int64], count: int) -> list[Dots]:
    """Whole numbers, 0 and up, as ``count`` planes of bytes, the low one first."""
    return [(values >> 8 * place & 255).astype(np.uint8) for place in range(count)]
