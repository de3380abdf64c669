"""The index of a folder as it is made: what its numbers mean, and what each frame came to.

Law: is told of each frame once it is written, and keeps of it what the index says. Knows no file.
"""

from __future__ import annotations

from collections.abc import Sequence

from ..chip.line.clients import clients, slot_clients
from ..chip.line.rates import line_slots
from ..chip.registers import fields, registers
from ..scene import Scene
from .drawn import Drawn
from .records.index import FORMAT, FrameIndex, ImageIndex, Index, PartIndex
from .vectors.images import Image, images, stem


class Told:
    """Gathers the index of a folder with these ``parts``."""

    def __init__(self, scene: Scene, parts: Sequence[str]) -> None:
        self.scene, self.parts = scene, tuple(parts)
        self.frames: list[FrameIndex] = []
        self.images: tuple[ImageIndex, ...] = ()
        self.rungs: tuple[str, ...] = ()

    def frame(self, one: Drawn, counted: dict[str, int]) -> None:
        """A frame is written, with so many records of each kind."""
        if not self.frames:
            self.rungs = one.result.rungs
            found = images(one.start) if "memory" in self.parts else ()
            self.images = tuple(_indexed(each) for each in found)
        self.frames.append(
            FrameIndex(
                frame=one.result.frame,
                width=one.chip.frame.width,
                height=one.chip.frame.height,
                records=counted,
                left_out=one.result.collisions_left_out,
            )
        )

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
            frames=tuple(self.frames),
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
