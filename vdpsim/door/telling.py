"""Who is told of work on the way to what was asked for, where it may take long.

Law: nobody, unless a caller says so for what it calls. What is told changes no result.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

Told = Callable[[str, int, int], None]
"""Is told, before a frame is drawn on the way, the scene's name, that frame's number and the wanted frame's."""

OfLines = Callable[[int, int, int], None]
"""Is told, before each cut of a frame that is drawn in cuts: the frame's number, the first line of the cut, the end of all."""

OfWork = Callable[[str, int, int], None]
"""Is told of other work than drawing on the way through it: what is done, how much of it is done, how much there is."""

_TOLD: ContextVar[Told | None] = ContextVar("told", default=None)
_OF_LINES: ContextVar[OfLines | None] = ContextVar("of_lines", default=None)
_OF_WORK: ContextVar[OfWork | None] = ContextVar("of_work", default=None)


@contextmanager
def telling(told: Told, of_lines: OfLines | None = None, of_work: OfWork | None = None) -> Iterator[None]:
    """Within the block, ``told`` is told of frames on the way, ``of_lines`` of the lines of one, ``of_work`` of other work."""
    before, before_of_lines, before_of_work = _TOLD.set(told), _OF_LINES.set(of_lines), _OF_WORK.set(of_work)
    try:
        yield
    finally:
        _TOLD.reset(before)
        _OF_LINES.reset(before_of_lines)
        _OF_WORK.reset(before_of_work)


def tell_work(what: str, done: int, wanted: int) -> None:
    """Of ``what``, ``done`` of ``wanted`` parts are done, in whatever unit."""
    told = _OF_WORK.get()
    if told is not None:
        told(what, done, wanted)


def tell_lines(frame: int, line: int, end: int) -> None:
    """Lines from ``line`` on of ``frame`` are drawn next, and so on up to but not including ``end``."""
    told = _OF_LINES.get()
    if told is not None:
        told(frame, line, end)


def tell(scene: str, frame: int, wanted: int) -> None:
    """Frame ``frame`` of ``scene`` is drawn next, on the way to frame ``wanted``."""
    told = _TOLD.get()
    if told is not None:
        told(scene, frame, wanted)
