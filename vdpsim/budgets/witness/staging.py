"""How a line can be brought about: which registers, written when, and which sprites make a line of a picture the wanted one.

Law: what is said here is a proposal; whether the line comes about is for a drawn frame to say. Plain Python. Knows no file.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import islice

from ...chip.controls import PICTURE_SIZE
from ...chip.line.slots import Server
from ...chip.model import Chip, TilesMode
from ...chip.registers import field_names
from ..line.line import Line
from ..line.tied import by_fields
from ..line.ways import Ways
from .crowd import Crowds
from .scrolling import Scrolls
from .settings import RegisterChange, Setting, Settings, mode_asked

MOST_STAGES = 12
"""Proposals for one line with registers that stay, and as many again with some that are written at the line."""

StagedWrite = tuple[int, int, str, int]
"""A frame, a line of it, and the register that is written there, with its value."""


@dataclass
class Stage:
    """A proposal: registers at the beginning, those written at dot 0 of a line, and the sprites on a line.

    ``line``: in whose slots the wanted fetches lie, -1 where they lie before the frame's first line; ``frame`` of the scene.
    ``sprites``: (line, size) of each. ``turned``: by layer its mode, and the marks of its cells.
    """

    line: int
    frame: int = 0
    registers: Setting = field(default_factory=dict)
    writes: list[StagedWrite] = field(default_factory=list)
    sprites: list[tuple[int, int]] = field(default_factory=list)
    turned: dict[int, tuple[int, bytes]] = field(default_factory=dict)


class Stager:
    """Proposes stages for lines of one chip."""

    def __init__(self, chip: Chip, server: Server, ways: Ways) -> None:
        self.chip, self.server, self.can, self.held = chip, server, ways.can, ways.held
        self.fields = field_names(chip)
        self.effects = {name: field.effect for name, field in self.fields.items()}
        self.size = {PICTURE_SIZE: chip.frame.number or 0}
        self.settings = Settings(chip, ways)
        self.scrolls = Scrolls(chip, server, self.can)
        self.crowds = Crowds(chip, server, self.can)

    def stages(self, line: Line) -> Iterator[Stage]:
        """Some proposals for ``line``: first those in which nothing is written."""
        for still in (True, False):
            yield from islice(self._stages(line, still=still), MOST_STAGES)

    def _stages(self, line: Line, *, still: bool) -> Iterator[Stage]:
        crowd = self.crowds.sizes(line)
        if crowd is None:
            return
        for place in self._places(line):
            target = place + self.server.sprites_ahead
            if crowd and not self.crowds.reaches(target):
                continue
            for change in self.settings.changes(line.kind, place, still=still):
                stage = self._staged(line, place, change)
                if stage is not None:
                    stage.sprites = [(target, size) for size in crowd]
                    yield stage

    def _places(self, line: Line) -> Iterator[int]:
        """Lines of the picture, those with lines before them first; before the first where the wanted one lies below."""
        height = self.chip.frame.height
        if not line.kind.picture:
            yield -1
            return
        if self.crowds.nobody(line):
            yield height - 1
            return
        yield from range(2, height - 1)
        yield from (0, 1, height - 1)

    def _staged(self, line: Line, place: int, change: RegisterChange) -> Stage | None:
        """The stage with these settings, scrolled as is wanted; None where that cannot be."""
        changed = {name: value for name, value in change.after.items() if change.before.get(name) != value}
        if place > 0 and any(self.effects.get(name) == "next frame" for name in changed):
            return None
        stage = Stage(place, frame=1 if changed and place == 0 else 0, registers=dict(change.before))
        stage.writes = [self._write(stage, name, value) for name, value in changed.items()]
        for number in range(len(self.chip.layers)):
            if not self._add_layer(stage, number, line, change):
                return None
        stage.registers |= self.size
        stage.registers = {name: value for name, value in stage.registers.items() if name in self.effects}
        return stage

    def _fixed(self, stage: Stage, prefix: str) -> dict[str, int]:
        """The controls with this prefix whose fields the stage sets already, with their values."""
        told = by_fields(self.chip, stage.registers) or {}
        return {
            name: told[field.name]
            for name, field in self.fields.items()
            if name.startswith(prefix) and field.name in told
        }

    def _write(self, stage: Stage, name: str, value: int) -> StagedWrite:
        """The write by which a register has its value at dot 0 of the stage's line."""
        ahead = (
            self.effects.get(name) != "at once"
        )  # then it is written a line before, which may be the last of a frame
        if stage.frame and ahead:
            return 0, self.chip.frame.lines_per_frame - 1, name, value
        return stage.frame, stage.line - ahead, name, value

    def _add_layer(self, stage: Stage, number: int, line: Line, change: RegisterChange) -> bool:
        """Scroll a layer and mark its cells as is wanted; False where no registers do."""
        layer, mode, stretch = self.chip.layers[number], line.kind.modes[number], line.layers[number]
        if mode is None:
            return True
        # a layer that a line buffer holds fetches for the line after; what lies before the frame is for its line 0
        shown_on = (stage.line + self.held[number]) % self.chip.frame.lines_per_frame if stage.line >= 0 else 0
        fresh = shown_on == 0 or mode_asked(layer, change.before, shown_on - 1) != mode
        split = change.after.get(f"{layer.name}.split", 0)
        shown = layer.modes[mode]
        fixed = self._fixed(stage, f"{layer.name}.scroll_")
        scrolled = self.scrolls.registers(layer, shown, stretch, shown_on, split=split, fresh=fresh, fixed=fixed)
        if scrolled is None:
            return False
        stage.registers |= scrolled
        if stretch is not None and isinstance(shown, TilesMode):
            stage.turned[number] = (mode, stretch.turned)
        return True
