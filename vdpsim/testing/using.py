"""Where checks find recorded frames, whether they record them, and where they leave pictures: said once for a whole test.

Law: holds what was said and does nothing with it. The pytest plugin says it for each test; ``use`` says it where there is no
pytest. What is said in one thread or task is not said in another.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from ..door.given import flag
from ..door.given import path as path_of

if TYPE_CHECKING:
    from ..output.frame import Frame


class Wanted(NamedTuple):
    """A frame that is to be recorded once all else of its test holds: in which folder, under which name."""

    folder: Path
    name: str
    frame: Frame


@dataclass(frozen=True)
class Using:
    """What is said: the folder of recorded ``frames``, that of ``failures``, whether to ``update``, what is ``wanted`` so far.

    ``waits``: whether somebody looks at the end at what is wanted, which else is recorded at once, and at checks that are
    ``unfinished``: begun and asked nothing, in words. ``hint``: how to update.
    """

    frames: Path | None = None
    failures: Path | Callable[[], Path] | None = None
    update: bool = False
    waits: bool = False
    hint: str = "with vdpsim.testing.use(update=True)"
    wanted: list[Wanted] = field(default_factory=list)
    unfinished: list[str] = field(default_factory=list)


_NOW: ContextVar[Using] = ContextVar("vdpsim_testing_using")


def now() -> Using:
    """What is said now."""
    return _NOW.get(Using())


@contextmanager
def said(using: Using) -> Iterator[Using]:
    """A block in which this is said."""
    token = _NOW.set(using)
    try:
        yield using
    finally:
        _NOW.reset(token)


@contextmanager
def use(*, frames: Any = None, failures: Any = None, update: bool | None = None) -> Iterator[None]:
    """A block in which checks find recorded frames in the folder ``frames`` and leave pictures of what fails in ``failures``.

    ``update``: record frames rather than compare them. What is left out stays as it was said around the block; outside all
    blocks no folder is known, and nothing is recorded or left. In a test case of unittest:
    ``self.enterContext(use(frames="frames"))``. Raises TypeError for what is no path or flag.
    """
    more: dict[str, Any] = {}
    if frames is not None:
        more["frames"] = path_of("frames", frames)
    if failures is not None:
        more["failures"] = path_of("failures", failures)
    if update is not None:
        more["update"] = flag("update", update)
    with said(replace(now(), **more)):
        yield
