"""What a command line of ``vdpsim render`` asks for, and the names of the files that it leads to.

Law: nothing is checked here (``mistakes.py`` does), nothing is drawn, nothing is written.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ..writing import is_folder

LOGS = (".csv", ".json")
"""Endings of logs; one of them alone, as ``--log``, puts a log beside each PNG."""


@dataclass(frozen=True)
class RenderRequest:
    """The words of the command line; ``frames``: those of each scene, and ``numbered``: they were asked for with --frames."""

    scenes: Sequence[str]
    chip: str | None
    frames: range
    numbered: bool
    output: str | None
    log: str | None
    views: str | None
    trace: str | None
    busmap: str | None
    scale: int
    border: bool
    damage: bool
    writes: str | None

    @classmethod
    def of(cls, options: argparse.Namespace) -> RenderRequest:
        """The request of parsed ``options``."""
        numbered = options.frames is not None
        same = ("scenes", "chip", "output", "log", "views", "trace", "busmap", "scale", "border", "damage", "writes")
        return cls(
            frames=options.frames if numbered else range(options.frame, options.frame + 1),
            numbered=numbered,
            **{name: getattr(options, name) for name in same},
        )

    @property
    def several(self) -> bool:
        """Whether there can be more than one frame."""
        return len(self.scenes) > 1 or self.numbered

    @property
    def animates(self) -> bool:
        """Whether one animated file is asked for."""
        return bool(self.output and self.numbered and not is_folder(self.output))

    @property
    def log_beside(self) -> bool:
        """Whether each log goes beside its PNG."""
        return self.log in LOGS

    @property
    def files(self) -> list[str]:
        """The files that it names, folders left out."""
        named = [place for place in (self.output, self.trace, self.busmap) if place and not is_folder(place)]
        return [*named, self.log] if self.log and not self.log_beside else named

    def name(self, stem: str, frame: int) -> str:
        """What the files of a scene's frame are called."""
        return f"{stem}-{frame:04}" if self.numbered else stem

    def picture(self, name: str) -> Path | None:
        """The PNG of the frame ``name``; None where none is asked for."""
        return place(self.output, f"{name}.png") if self.output else None

    def log_file(self, name: str) -> Path | None:
        """The log of the frame ``name``; None where none is asked for."""
        if not self.log:
            return None
        picture = self.picture(name)
        return picture.with_suffix(self.log) if picture and self.log_beside else Path(self.log)


def place(asked: str, name: str) -> Path:
    """The file that was asked for, or the file ``name`` in the folder that was."""
    return Path(asked) / name if is_folder(asked) else Path(asked)


def stem_of(path: str) -> str:
    """What the files of the scene at ``path`` are called."""
    return Path(path).name.removesuffix(".toml").removesuffix(".scene")
