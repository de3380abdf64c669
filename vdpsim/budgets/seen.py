"""What a scene's frames really do to the slots: the fullest line, what was late, what the CPU moved.

Law: frames are drawn as anyone draws them, and counted; nothing is worked out beside the engine.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ..scene import Scene


@dataclass(frozen=True)
class SeenFrames:
    """``frames`` drawn, and of all their lines the one with most slots used by the picture and refresh.

    ``missed``: accesses that came too late; ``dropped``: sprites by reason; ``cpu``: most bytes that a frame moved.
    """

    frames: int
    frame: int
    line: int
    used: int
    by_client: dict[str, int]
    missed: int
    dropped: dict[str, int]
    cpu: int

    @property
    def fits(self) -> bool:
        """Whether every fetch came in time and no sprite found its slots taken."""
        return not self.missed and not self.dropped.get("slots")


def seen_in(scene: Scene, frames: Iterable[int] | None = None) -> SeenFrames | None:
    """Draw ``frames`` of the scene (None: all) and count; None for a chip without a time table.

    Raises ValueError where ``frames`` is empty.
    """
    from ..machine.machine import frames as drawn  # noqa: PLC0415 - a budget without a scene needs no engine

    if scene.chip.time is None:
        return None
    wanted = range(scene.frames) if frames is None else list(frames)
    best: tuple[int, int, int, dict[str, int]] | None = None
    count = missed = cpu = 0
    dropped: dict[str, int] = {}
    for frame in drawn(scene, wanted, damage=True):
        assert frame.slots is not None
        count += 1
        used = frame.slots.counts[:, :-1].sum(axis=1)
        line = int(used.argmax())
        if best is None or used[line] > best[2]:
            names = zip(frame.slots.clients[:-1], frame.slots.counts[line].tolist(), strict=False)
            best = frame.frame, line, int(used[line]), dict(names)
        missed += int(frame.missed.sum())
        cpu = max(cpu, int(frame.slots.counts[:, -1].sum()))
        for reason in frame.drops["reason"].tolist():
            dropped[reason] = dropped.get(reason, 0) + 1
    if best is None:
        raise ValueError("a budget of a scene needs one frame at least")
    return SeenFrames(count, *best, missed, dropped, cpu)
