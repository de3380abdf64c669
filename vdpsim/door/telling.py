"""Who is told of work on the way to what was asked for, where it may take long.

Law: nobody, unless a caller says so for what it calls. What is told changes no result.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

Told = Callable[[str, int, int], None]
"""Is told, before a frame is drawn on the way, the scene's name, that frame's number and the wanted frame's."""

_TOLD: ContextVar[Told | None] = ContextVar("told", default=None)


@contextmanager
def telling(told: Told) -> Iterator[None]:
    """Within the block, ``told`` is told."""
    before = _TOLD.set(told)
    try:
        yield
    finally:
        _TOLD.reset(before)


def tell(scene: str, frame: int, wanted: int) -> None:
    """Frame ``frame`` of ``scene`` is drawn next, on the way to frame ``wanted``."""
    told = _TOLD.get()
    if told is not None:
        told(scene, frame, wanted)
