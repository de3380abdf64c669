"""What a frame was drawn from, so that whoever explains it can ask for more of it than was kept.

Law: says what was asked for and draws nothing. A frame of a running machine has its chip alone: what the machine held is gone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from ..chip.model import Chip
from ..engine import Rule

if TYPE_CHECKING:
    from ..scene import Scene


class Origin(NamedTuple):
    """A frame's ``chip`` and ``rule`` and, where a scene was drawn, that ``scene``, the frame's ``number``, and ``damage``."""

    chip: Chip
    scene: Scene | None = None
    number: int = 0
    rule: Rule | None = None
    damage: bool = False
