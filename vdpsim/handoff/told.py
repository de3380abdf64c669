"""The index of a folder as it is made: what its numbers mean, and what each frame came to.

Law: is told of each frame once it is written, and keeps of it what the index says. Knows no file.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from ..chip.line.clients import clients, slot_clients
from ..chip.line.rates import line_slots
from ..chip.model import Chip
from ..chip.registers import fields, registers
from ..engine import Plan
from ..scene import Scene
from ..state.state import State
from .drawn import Drawn
from .records.index import FORMAT, FrameIndex, ImageIndex, Index, PartIndex
from .vectors.images import Image, images, stem


class Told:
    """Gathers the index of a folder with these ``parts``."""

    def __init__(self, scene: Scene, parts: Sequence[str], start: State) -> None:
        self.scene, self.parts = scene, tuple(parts)
        plan = Plan(scene.chip).of(start)
        self.rungs = plan.rungs
        self.undrawn = _frame(start.frame, plan.chip)
        self.frames: list[FrameIndex] = []
        self.images = tuple(map(_indexed, images(start))) if "memory" in parts else ()

    def frame(self, one: Drawn, counted: dict[str, int]) -> None:
        """A frame is written, with so many records of each kind."""
        self.frames.append(_frame(one.result.frame, one.chip, counted, one.result.collisions_left_out))

    def index(self, files: Sequence[str]) -> Index:
        """The index of the ``files``."""
        scene, chip = self.scene, self.scene.chip
        slots = line_slots(chip) if chip.time else None
        return Index(
            format=FORMAT,
            chip=chip.name,
            scene=scene.name,
            parts=self.parts,
            width=chip.frame.width,
            height=chip.frame.height,
            dots_per_line=chip.frame.dots_per_line,
            lines_per_frame=chip.frame.lines_per_frame,
            slots_per_line=slots.slots if slots else 0,
            blank_slots=slots.blank if slots else 0,
            dots_per_slot=(slots.rate.denominator, slots.rate.numerator) if slots else (1, 1),
            sources=chip.source_names,
            rungs=self.rungs,
            clients=slot_clients(chip) if slots else clients(chip),
            fields=tuple(fields(chip)),
            registers=tuple(registers(chip)),
            sprites=scene.sprite_names,
            memory=self.images,
            video_memory=tuple(PartIndex(owner=row.owner, first=row.start, last=row.last) for row in scene.layout),
            files=tuple(files),
            frames=tuple(self.frames) or (self.undrawn,),
        )


def _frame(number: int, chip: Chip, counted: Mapping[str, int] | None = None, left_out: int = 0) -> FrameIndex:
    """A frame of a chip at its size."""
    return FrameIndex(
        frame=number,
        width=chip.frame.width,
        height=chip.frame.height,
        records=dict(counted or {}),
        left_out=left_out,
    )


def _indexed(image: Image) -> ImageIndex:
    return ImageIndex(
        file=stem(image),
        words=len(image.words),
        bits=image.bits,
        first=image.first,
        about=image.about,
        binary=image.binary,
    )
