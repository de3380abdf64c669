"""Files as pieces of bytes, so that one may be of any length.

Law: what goes wrong here is a file that cannot be read; what goes wrong with its bytes elsewhere is never taken for that. Whoever
waits is told how far it has come.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from ...door.shown import shown_path
from ...door.telling import tell_work
from ...files.reading import opened

PIECE = 1 << 20
"""Bytes that are looked at together."""


def pieces(path: str | Path) -> Iterator[bytes]:
    """The file ``path``, piece by piece. Raises UnreadableError."""
    with opened(path) as file:
        while piece := file.read(PIECE):
            yield piece


def told_pieces(path: str | Path) -> Iterator[bytes]:
    """The same; whoever waits is told how much of it has been dealt with."""
    done, what = 0, f"comparing {shown_path(path)}"
    with opened(path) as file:
        size = os.fstat(file.fileno()).st_size
        while piece := file.read(PIECE):
            yield piece
            done += len(piece)
            tell_work(what, done, max(size, done))
