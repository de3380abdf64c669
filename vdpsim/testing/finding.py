"""One thing that does not hold.

Law: plain data, said by a check; knows nothing of how it is told.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from ..output.frame import Frame


@dataclass(frozen=True, eq=False)
class Finding:
    """One thing that does not hold: the ``frame``, the ``rule`` in words, what ``came`` of it as lines of text.

    ``where``: bool (lines, width), the dots that it is about, for the pictures. ``expected``: another picture's colours, uint8
    (lines, width, 3), where there is one.
    """

    frame: Frame
    rule: str
    came: tuple[str, ...]
    where: npt.NDArray[np.bool_] | None = None
    expected: npt.NDArray[np.uint8] | None = None

    def text(self) -> str:
        """The rule, and indented below it what came of it."""
        return "\n  ".join((self.rule, *self.came))
