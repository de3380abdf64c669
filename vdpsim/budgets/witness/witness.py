"""A scene that shows what a budget tells of: the line that comes nearest to being late, or one on which accesses are missed.

Law: a witness has been drawn, and what it says is what the drawn frame says. The scene needs no file but the chip's. Loads the
engine, so that only those who ask for a witness, or for a verdict against a chip, wait for it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from ...chip.line.slots import Server
from ...chip.model import Chip
from ...chip.tables.basics import size_name
from ...files.problems import InputError
from ...files.toml.out import key, table, value
from ...files.toml.tables import Source
from ...scene.load import scene_from
from ..line.line import Line, Spare
from ..line.ways import Ways
from .dressing import Dresser, SceneTable
from .staging import Stage, Stager

if TYPE_CHECKING:
    from ...output.frame import Frame
    from ...scene import Scene

MOST_DRAWN = 100
"""Scenes that are drawn in search of one witness."""


@dataclass(frozen=True)
class Witness:
    """A scene in whose frame number ``frame`` it can be seen, as the ``tables`` of a scene file but for its chip's path.

    ``line``: where; ``slot_line`` in whose slots. ``missed``: accesses of each client that find no slot in time for the line;
    ``dropped``: sprites of it that find none, be it because their records are not read, of which ``unread`` accesses find none.
    None of these: the line that comes nearest. ``total``: missed accesses of the frame.
    ``size``: the picture's, such as ``256x240``, of a chip that has several; else empty.
    """

    name: str
    about: str
    frame: int
    line: int
    slot_line: int
    missed: dict[str, int]
    dropped: int
    total: int
    tables: tuple[SceneTable, ...]
    size: str = ""
    unread: int = 0

    @property
    def at(self) -> str:
        """The size in words, to stand in a sentence; nothing where there is just one."""
        return f" at {self.size}" if self.size else ""

    @property
    def what(self) -> str:
        """What finds no slot, in words."""
        return told_missed(self.missed, self.dropped, self.unread)

    def text(self, chip: str) -> str:
        """The scene file; ``chip`` is the path of the chip file, from the scene file's folder."""
        head = {"name": self.name, "about": self.about, "chip": chip, "frames": self.frame + 1}
        parts = ["\n".join(f"{key(name)} = {value(one)}" for name, one in head.items()) + "\n"]
        return "\n".join([*parts, *(table(where, data) for where, data in self.tables)])


class Seeker:
    """Makes witnesses for lines of one chip; those of a chip at one size of its picture are drawn by the ``whole`` chip."""

    def __init__(self, chip: Chip, server: Server, ways: Ways, whole: Chip | None = None) -> None:
        self.chip, self.server, self.whole = chip, server, whole or chip
        self.stager = Stager(chip, server, ways)
        self.dresser = Dresser(chip, server, self.stager.can)
        self.left = MOST_DRAWN

    def against(self, line: Line, *, promised: bool) -> Witness | None:
        """A scene of ``line`` in whose frame accesses are missed or, where sprites are ``promised``, find no slot."""
        for witness, frame in self._drawn(line, trace=False):
            if frame.missed.any():
                return self._seen(witness, frame, _worst_line(frame, near=witness.line))
            lost = self._lost(frame, witness.line) if promised else None
            if lost:
                return self._seen(witness, frame, *lost)
        return None

    def _lost(self, frame: Frame, near: int) -> tuple[int, int, int] | None:
        """A line that loses sprites for want of slots, those dropped there, and the accesses to the table not made for it.

        The first that drops any; where none does, one whose table is not read to its end, the nearest to line ``near``. None
        where there is neither.
        """
        late = frame.drops["line"][frame.drops["reason"] == "slots"].tolist()
        assert frame.slots is not None
        told = [] if frame.slots.unread is None else frame.slots.unread.tolist()
        unread = {
            line: count for line, count in enumerate(told, self.server.sprites_ahead) if count and line < frame.height
        }
        lines = late[:1] or sorted(unread, key=lambda line: abs(line - near))
        return (lines[0], late.count(lines[0]), unread.get(lines[0], 0)) if lines else None

    def nearest(self, spare: Spare) -> Witness | None:
        """A scene in which the client's burst has its last slot just where it is told."""
        for witness, frame in self._drawn(spare.line, trace=True):
            line = witness.slot_line
            if line < 0:
                return witness if not frame.missed.any() else None
            assert frame.trace is not None
            assert frame.slots is not None
            client = frame.slots.clients.index(self.server.places[spare.client].client)
            mine = (frame.trace["line"] == line) & (frame.trace["client"] == client)
            if spare.slot in frame.trace["slot"][mine].tolist() and self._alike(frame, line, spare.line):
                return witness
        return None

    def _alike(self, frame: Frame, line: int, wanted: Line) -> bool:
        """Whether the drawn line has its slots given out as the wanted one has."""
        assert frame.slots is not None
        served = self.server.serve(wanted.shape, wanted.sprites)
        drawn = dict(zip(frame.slots.clients, frame.slots.counts[line].tolist(), strict=True))
        names = [name for name in self.server.names if name != "cpu" and not name.startswith("sprites.")]
        return all(served.counts[self.server.number[name]] == drawn[name] for name in names)

    def _seen(self, witness: Witness, frame: Frame, line: int, dropped: int = 0, unread: int = 0) -> Witness:
        clients = frame.log.clients
        missed = {name: int(count) for name, count in zip(clients, frame.missed[line], strict=True) if count}
        what = told_missed(missed, dropped, unread)
        return replace(
            witness,
            name=f"What {self.chip.name} misses"[:60],
            about=f"On line {line} of frame {witness.frame}{witness.at} there is no slot in time for {what}.",
            line=line,
            missed=missed,
            dropped=dropped,
            unread=unread,
            total=int(frame.missed.sum()),
        )

    def _drawn(self, line: Line, *, trace: bool) -> Iterator[tuple[Witness, Frame]]:
        """Scenes for ``line``, each with the frame in which it is to be seen."""
        from ...machine.machine import render  # noqa: PLC0415 - the engine, for those who need it

        for stage in self.stager.stages(line):
            if self.left <= 0:
                return
            self.left -= 1
            loaded = self._richest(stage)
            if loaded is not None:
                witness, scene = loaded
                yield witness, render(scene, stage.frame, damage=True, trace=trace)

    def _richest(self, stage: Stage) -> tuple[Witness, Scene] | None:
        """The first scene of the stage, from the richest on, that loads on the chip; None where none does.

        Memory, or its address registers, may have no room for what is only there to be seen.
        """
        at = max(stage.line, 0)
        for tables in self.dresser.dressed(stage):
            size = size_name(self.chip.frame.every_size[self.chip.frame.number or 0])
            size = size if len(self.chip.frame.sizes) > 1 else ""
            witness = Witness(
                name=f"The worst line of {self.chip.name}"[:60],
                about=f"Line {at} of frame {stage.frame}{f' at {size}' if size else ''} comes nearest to missing an access.",
                frame=stage.frame,
                line=at,
                slot_line=stage.line,
                missed={},
                dropped=0,
                total=0,
                tables=tables,
                size=size,
            )
            with suppress(InputError):
                return witness, scene_from(Source(witness.text("chip"), "witness"), Path("witness"), self.whole)
        return None


def _worst_line(frame: Frame, *, near: int) -> int:
    """The line of the frame that misses most; of several such the one that is nearest to line ``near``."""
    late = frame.missed.sum(axis=1).tolist()
    most = max(late)
    return min((line for line, count in enumerate(late) if count == most), key=lambda line: abs(line - near))


def told_missed(missed: Mapping[str, int], dropped: int, unread: int = 0) -> str:
    """What finds no slot, in words: accesses of clients, sprites, and ``unread`` accesses to their table."""
    told = [f"{count} access{'es' if count > 1 else ''} of {name}" for name, count in missed.items()]
    told += [f"{dropped} sprite{'s' if dropped > 1 else ''}"] if dropped else []
    told += [f"{unread} access{'es' if unread > 1 else ''} to the sprite table"] if unread else []
    return " and ".join(told)
