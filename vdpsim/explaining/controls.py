"""Controls, told by those of the shipped chips.

Law: what a control is and takes comes from the chip that has it; the first shipped chip with such a one tells. A layer's control
is the same whatever the layer and the mode are called.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

from ..chip.controls import Control, choices, controls
from ..chip.load import load_chip
from ..shipped.files import chips


class Shown(NamedTuple):
    """A ``control`` as the shipped ``chip`` has it."""

    chip: str
    control: Control

    @property
    def takes(self) -> str:
        """Its values, in words."""
        one = self.control
        steps = f" in steps of {one.step:,}" if one.step > 1 else ""
        return f"0 to {one.top:,}{steps}{choices(one.names)}; at rest {one.rest:,}{'; it wraps' if one.wraps else ''}"


@cache
def every() -> dict[str, Shown]:
    """Each control of a shipped chip by its name, as the first that has it."""
    found: dict[str, Shown] = {}
    for one in chips().values():
        for name, control in controls(load_chip(one.path)).items():
            found.setdefault(name, Shown(one.name, control))
    return found


def control_named(word: str) -> Shown | None:
    """The control that ``word`` names: as it stands, or by its last part, for a layer or a mode of another name."""
    if word in every():
        return every()[word]
    last = word.rpartition(".")[2]
    alike = (shown for name, shown in every().items() if name.rpartition(".")[2] == last)
    return next(alike, None) if word.count(".") <= 2 else None
