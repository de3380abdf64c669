"""What a scene's frames really do to the slots: the fullest line, what was late, what the CPU moved.

Law: frames are drawn as anyone draws them, and counted; nothing is worked out beside the engine.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from ..output.frame import Frame
    from ..scene import Scene


@dataclass(frozen=True)
class SeenFrames:
    """``frames`` drawn, and of all their lines the one with most slots used by the picture and refresh.

    ``missed``: accesses that came too late; ``dropped``: sprites by reason; ``cpu``: most bytes that a frame moved; ``unread``:
    accesses by which sprites are found in a table in memory, for which no slot was left.
    """

    frames: int
    frame: int
    line: int
    used: int
    by_client: dict[str, int]
    missed: int
    dropped: dict[str, int]
    cpu: int
    unread: int = 0

    @property
    def fits(self) -> bool:
        """Whether every fetch came in time, every table was read to its end and no sprite found its slots taken."""
        return not self.missed and not self.unread and not self.dropped.get("slots")


def seen_in(scene: Scene, frames: Iterable[int] | None = None) -> SeenFrames | None:
    """Draw ``frames`` of the scene (None: all) and count; None for a chip without a time table.

    Raises ValueError where ``frames`` is empty.
    """
    from ..machine.machine import frames as drawn  # noqa: PLC0415 - a budget without a scene needs no engine

    if scene.chip.time is None:
        return None
    found: SeenFrames | None = None
    for frame in drawn(scene, range(scene.frames) if frames is None else list(frames), damage=True):
        found = seen_too(found, frame)
    if found is None:
        raise ValueError("a budget of a scene needs one frame at least")
    return found


def seen_too(before: SeenFrames | None, frame: Frame) -> SeenFrames:
    """What was seen before, and this frame; of lines that are as full the first."""
    assert frame.slots is not None
    counts = frame.slots.counts
    used = counts[:, :-1].sum(axis=1)
    line = int(used.argmax())
    here = SeenFrames(
        frames=1,
        frame=frame.frame,
        line=line,
        used=int(used[line]),
        by_client=dict(zip(frame.slots.clients[:-1], counts[line].tolist(), strict=False)),
        missed=int(frame.missed.sum()),
        dropped=dict(Counter(frame.drops["reason"].tolist())),
        cpu=int(counts[:, -1].sum()),
        unread=0 if frame.slots.unread is None else int(frame.slots.unread.sum()),
    )
    if before is None:
        return here
    return replace(
        before if here.used <= before.used else here,
        frames=before.frames + 1,
        missed=before.missed + here.missed,
        dropped={
            why: before.dropped.get(why, 0) + here.dropped.get(why, 0) for why in {**before.dropped, **here.dropped}
        },
        cpu=max(before.cpu, here.cpu),
        unread=before.unread + here.unread,
    )
