"""A scene that follows its files: it is redrawn when the chip, the scene or its art is saved.

Law: reads nothing but the scene's own files, through the one door for such, which notes them; those that it has noted are
followed, and nothing is read before one of them has changed. Writes nothing. Whatever goes wrong while it
looks and draws, a file that is half written, gone or wrong as well as a fault of the program's own, is trouble that is told; the
last good picture stays, and the looking goes on. Any change of a file's time, size or identity is seen, so that what is put right
shows at once. Knows no socket: ``server.py`` serves it.
"""

from __future__ import annotations

import threading
import time
from pathlib import Path
from typing import Any

from ..chip.load import load_chip
from ..door.shown import clipped
from ..engine import NotInTimeError
from ..files import Seen, once, seen_at
from ..files.problems import InputError
from ..scene import Scene, load_scene
from .facts import facts

LOOK_EVERY = 0.03
"""Seconds between two looks at the files, at least."""

SHARE = 200
"""So many times as long as a look took of a processor it is waited for the next: so that very many files idle too."""

WAIT = 20.0
"""Seconds that a browser's question for news waits at most."""

LONGEST = 400
"""Characters of what is told in one line."""


class Watched:
    """One scene, drawn anew whenever a file that it is made of changes.

    ``version`` counts what was drawn and what went wrong; ``facts`` are those of the last good picture, ``trouble`` says what is
    wrong with the files as they are, "" for nothing.
    """

    def __init__(self, scene: str | Path, wanted: range, chip: str | Path | None = None) -> None:
        self.path, self.wanted, self.chip = Path(scene), wanted, None if chip is None else Path(chip)
        self.version = 0
        self.facts: dict[str, Any] | None = None
        self.trouble = ""
        self.changed = threading.Condition()
        self._stop = threading.Event()
        self._files: dict[str, Seen] = {}

    def start(self) -> None:
        """Draw, and go on looking in a thread of its own. Raises InputError where there is nothing good to begin with."""
        self.facts = self._facts(self._load())
        self.version = 1
        threading.Thread(target=self._run, daemon=True, name="watch").start()

    def stop(self) -> None:
        """Look no more, and let nobody wait."""
        self._stop.set()
        with self.changed:
            self.changed.notify_all()

    def news(self, after: int, wait: float = WAIT) -> dict[str, Any]:
        """What there is once the version is another than ``after``, or as it is after ``wait`` seconds."""
        with self.changed:
            self.changed.wait_for(lambda: self.version != after or self._stop.is_set(), wait)
            fresh = self.version != after
            return {
                "version": self.version,
                "trouble": self.trouble,
                "facts": self.facts if fresh and not self.trouble else None,
            }

    def _run(self) -> None:
        told, spent = "", 0.0
        while not self._stop.wait(max(LOOK_EVERY, spent * SHARE)):
            try:
                begin = time.thread_time()
                files = {name: seen_at(name) for name in self._files}
                spent = time.thread_time() - begin
                if files != self._files:
                    self._files = files
                    self._draw()
                told = ""
            except Exception as error:  # noqa: BLE001 - the looking goes on, whatever it is
                if told != (told := trouble_of(error)):  # once, where it comes again at every look
                    self._tell(None, told)

    def _draw(self) -> None:
        try:
            self._tell(self._facts(self._load()), "")
        except Exception as error:  # noqa: BLE001 - whatever it is, it is told, and may be mended by the next save
            self._tell(None, trouble_of(error))

    def _tell(self, found: dict[str, Any] | None, trouble: str) -> None:
        with self.changed:
            self.version += 1
            self.trouble = trouble
            self.facts = found or self.facts
            self.changed.notify_all()

    def _load(self) -> Scene:
        """The scene; the files that it was made of are followed from now on, as they were before they were opened.

        Where it is none those that were known stay: what a broken file no longer names may be named again.
        """
        with once(anew=True) as reads:  # one picture is of one state of each file, and the next of another
            try:
                scene = load_scene(self.path, chip=None if self.chip is None else load_chip(self.chip))
                self._files = {}
            finally:
                self._files = {**self._files, **reads.asked}
        return scene

    def _facts(self, scene: Scene) -> dict[str, Any]:
        return facts(scene, self.wanted)


def trouble_of(error: Exception) -> str:
    """What is wrong, in lines."""
    if isinstance(error, InputError):
        return "\n".join(map(str, error.problems))
    if isinstance(error, NotInTimeError):
        return clipped(error, LONGEST)
    if isinstance(error, OSError):
        return clipped(f"cannot be read: {error}", LONGEST)
    if isinstance(error, MemoryError):
        return "there is not enough memory to draw it"
    return f"a fault of vdpsim itself, please report it: {type(error).__name__}: {clipped(error, LONGEST)}"
