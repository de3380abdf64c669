"""What holds for as long as a command runs: how it starts, how it ends before its time, what is said of work that takes long.

Law: what makes a process start sooner changes no result. A signal that ends the run lets the command clear up. Of a wait it is
said on stderr, before a person has waited for long, how long it will take; nothing where it takes no longer than a few seconds. A
terminal also sees how far it has come. Knows no scene but by its name.
"""

from __future__ import annotations

import gc
import importlib
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from importlib import import_module
from threading import current_thread, main_thread
from time import monotonic
from types import FrameType, ModuleType
from typing import Any

from ..door.shown import printable
from ..files import once
from ..files.held import ENDING
from .say import tell, tell_over

METADATA = "importlib.metadata"
"""What installed packages say of themselves: as long to load as ten modules of this package."""

MEASURED = 0.5
"""Seconds after which it is known how long a frame takes."""

SHORT = 3.0
"""Seconds for which nothing is said."""

APART = 1.0
"""Seconds from one word on how far it has come to the next."""


class EndedError(KeyboardInterrupt):
    """A signal ends the run: whatever a command does at an interruption from the keyboard it does here too."""

    def __init__(self, number: int) -> None:
        super().__init__(signal.Signals(number).name)
        self.status = 128 + number


def hasten() -> None:
    """Make a process that lives for one command start sooner. A library must not do this to its caller.

    Measured as processor time of ``vdpsim render`` of one scene: without plug-ins 0.9 of what it takes with them; one thread, and
    a rarer collection, 0.95 each; without the packages' metadata 0.97.
    """
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")  # else every installed package is searched for them
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # its threads wait for each other longer than they help
    # loading makes many objects that stay, one frame and all fewer than these; looking through them finds nothing
    gc.set_threshold(100_000)
    if METADATA not in sys.modules:
        sys.modules[METADATA] = importlib.metadata = _LaterMetadata(METADATA)


class _LaterMetadata(ModuleType):
    """Stands for ``importlib.metadata`` until something of it is used: then it is loaded, and stands for itself.

    pydantic imports the function that finds plug-ins, and does not call it where there are to be none.
    """

    def __init__(self, name: str) -> None:
        super().__init__(name)
        self.__path__ = [f"{one}/metadata" for one in importlib.__path__]  # else ``from`` asks for it first

    def entry_points(self, **given: Any) -> Any:
        """The function of that name."""
        return self.__getattr__("entry_points")(**given)

    def __getattr__(self, name: str) -> Any:
        if sys.modules.get(METADATA) is self:
            del sys.modules[METADATA]
        return getattr(import_module(METADATA), name)


@contextmanager
def the_run() -> Iterator[None]:
    """One command: each file is read once, and a signal that ends it lets it clear up. A signal that is ignored stays so."""
    before = {number: signal.getsignal(number) for number in ENDING}
    ours = [number for number, handler in before.items() if handler in {signal.SIG_DFL, signal.default_int_handler}]
    if current_thread() is not main_thread():
        ours = []
    try:
        for number in ours:
            signal.signal(number, _end)
        with once(anew=True):
            yield
    finally:
        for number in ours:
            signal.signal(number, before[number])


def status_of(end: KeyboardInterrupt) -> int:
    """The exit status that is customary for it: 128 and the signal's number."""
    return end.status if isinstance(end, EndedError) else 128 + signal.SIGINT


def _end(number: int, _: FrameType | None) -> None:
    raise EndedError(number)


class FramesToGo:
    """Is told of every frame that is drawn on the way: see ``vdpsim.door.telling``."""

    def __init__(self) -> None:
        self.way: tuple[str, int] | None = None
        self.begun, self.first, self.said = 0.0, 0, 0.0

    def __call__(self, scene: str, frame: int, wanted: int) -> None:
        """Frame ``frame`` of ``scene`` is drawn next, on the way to ``wanted``."""
        now = monotonic()
        if self.way != (scene, wanted):
            self.way, self.begun, self.first, self.said = (scene, wanted), now, frame, 0.0
        passed, left = now - self.begun, wanted - frame
        if passed < MEASURED or frame == self.first or now - self.said < APART:
            return
        seconds = passed / (frame - self.first) * left
        if not self.said and seconds >= SHORT:
            tell(
                f"{printable(scene)}: the frames before {wanted} must be drawn first, as the CPU moves bytes in them: "
                f"up to {left:,} more, about {seconds:,.0f} s"
            )
            self.said = now
        elif self.said and sys.stderr.isatty():
            tell_over(f"{printable(scene)}: frame {frame:,}, about {seconds:,.0f} s more ")
            self.said = now


class LinesToGo:
    """Is told of the lines of a frame that is drawn in cuts, and says once how long such a frame takes."""

    def __init__(self) -> None:
        self.frame, self.begun, self.first, self.said = -1, 0.0, 0, False

    def __call__(self, frame: int, line: int, end: int) -> None:
        """Lines from ``line`` on of ``frame``, which go up to ``end``, are drawn next."""
        now = monotonic()
        if frame != self.frame or line <= self.first:
            self.frame, self.begun, self.first = frame, now, line
        passed = now - self.begun
        if self.said or line == self.first or passed < MEASURED:
            return
        seconds = passed / (line - self.first) * (end - line)
        if seconds >= SHORT:
            tell(
                f"frame {frame}: very many dots of sprites may lie on its lines: about {seconds:,.0f} s more for this frame"
            )
            self.said = True


class WorkToDo:
    """Is told how much of some other work than drawing is done, and says how far it has come."""

    def __init__(self) -> None:
        self.what, self.begun, self.first, self.said = "", 0.0, 0, 0.0

    def __call__(self, what: str, done: int, wanted: int) -> None:
        """Of ``what``, ``done`` of ``wanted`` parts are done."""
        now = monotonic()
        if self.what != what or done <= self.first:
            self.what, self.begun, self.first, self.said = what, now, done, 0.0
        passed = now - self.begun
        if passed < MEASURED or done == self.first or now - self.said < APART:
            return
        seconds = passed / (done - self.first) * (wanted - done)
        if not self.said and seconds >= SHORT:
            tell(f"{what}: about {seconds:,.0f} s more")
            self.said = now
        elif self.said and sys.stderr.isatty():
            tell_over(f"{what}: {100 * done // wanted} % done, about {seconds:,.0f} s more ")
            self.said = now
