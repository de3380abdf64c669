"""A picture on its way into a layer: what tiles and bitmaps have in common.

Law: the picture lies at the layer's top left. Beyond it the layer shows nothing or, where no value shows nothing, the darkest
colour that the picture has. Knows no file.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...chip.controls import controls, told
from ...chip.model import BitmapMode, Chip, TilesMode
from ...chip.registers import at_largest, field_names, rest_values
from ..arrays import Dots, Numbers
from ..job import FittingJob


def dots_seen(chip: Chip, mode: TilesMode | BitmapMode) -> tuple[int, int]:
    """How many dots of the mode's own can be seen at once across, and lines down; those that show in part as well."""
    (wide, high), (times_x, times_y), frame = mode.size, mode.double, at_largest(chip).frame
    return min(wide, -(-frame.width // times_x)), min(high, -(-frame.height // times_y))


@dataclass(eq=False, repr=False, kw_only=True)
class LayerJob(FittingJob):
    """A picture and the mode of a layer that it is for; ``clear``: the value of dots that show nothing."""

    layer: str
    mode: TilesMode | BitmapMode

    def __post_init__(self) -> None:
        super().__post_init__()
        self.clear = self.mode.transparent if self.mode.transparent is not None else 0
        if self.mode.transparent is None and not self.opaque.all():
            count = int((~self.opaque).sum())
            self.notes.append(f"{self.target} has no value that shows nothing: {count} transparent dots are black")
            self.opaque = np.ones_like(self.opaque)

    def rest(self, view: Numbers, value: Numbers | Dots) -> tuple[int, int]:
        """View and value of what lies around dots with ``view`` and ``value``."""
        return (0, self.clear) if self.mode.transparent is not None else self.shades.darkest(view, value)

    def settings(self, view: int) -> dict[str, int]:
        """Registers that make the layer show this mode, and the one bank of a layer whose cells name none.

        Raises InputError where the chip is wired to show another mode.
        """
        wanted = {}
        layer = self.chip.layer(self.layer)
        rest, held = rest_values(self.chip), field_names(self.chip)
        if len(layer.modes) > 1:
            wanted[f"{self.layer}.mode"] = [mode.name for mode in layer.modes].index(self.mode.name)
        if self.reach.single and f"{self.layer}.bank" in held:
            wanted[f"{self.layer}.bank"] = self.reach.views[view].bank
        for name, value in wanted.items():
            if name not in held and rest[name] != value:
                wired = told(controls(self.chip)[name].names, rest[name])
                raise self.wrong(
                    "mode", f"{self.chip.name} is wired to show another mode of {self.layer}: {name} is {wired}"
                )
        return {name: value for name, value in wanted.items() if name in held}
