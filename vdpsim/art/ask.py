"""What may be asked of the fitting: a picture, and what it is for.

Law: kinds of values are checked here; whether they go with the picture and the chip is told by fitting. Knows no chip.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PIL import Image

from ..door.arrays import numbers, shade
from ..door.arrays import size as size_of
from ..door.given import flag, instance, is_whole, items, text, whole, whole_number
from ..images.pictures import Picture
from .arrays import Colour, OverLimit

AnyPicture = str | Path | Image.Image | Picture
Keep = Mapping[int, Colour | None] | Iterable[int]
Banks = Collection[int] | int | None
ANY_PICTURE = (str, Path, Image.Image, Picture)


def _banks(name: str, value: Any) -> Banks:
    """Banks as they are asked for: how many, or their numbers. Raises TypeError or ValueError."""
    if is_whole(value):
        return whole_number(name, value)
    return numbers(name, items(name, value, "a number of banks, or several banks"))


_CHECKS: dict[str, Callable[[str, Any], Any]] = {
    "layer": text,
    "mode": text,
    "sprites": size_of,
    "max_tiles": whole,
    "banks": _banks,
    "transparent": shade,
    "name": text,
}
"""What an Ask may leave out, and what it is where it is there."""


@dataclass(frozen=True, eq=False)
class Ask:
    """One picture, and what it is for.

    ``layer``: LAYER or LAYER.MODE; ``mode``: its mode, left out: the first that holds pictures. ``sprites`` instead: dots of a
    cell of the sheet, across and down. ``max_tiles``: the most patterns, ``over``: "merge" or "error" where there are more.
    ``banks``: only these, or so many from the lowest on. ``transparent``: dots of this colour show nothing. ``scale``: make it
    smaller until it fits. ``name``: what to call it; left out: the picture's own. Raises
    TypeError or ValueError for a value of another kind; whether it goes with the picture and the chip is told by fitting.
    """

    picture: AnyPicture
    layer: str | None = None
    mode: str | None = None
    sprites: tuple[int, int] | None = None
    max_tiles: int | None = None
    over: OverLimit = "merge"
    banks: Banks = None
    transparent: Colour | None = None
    scale: bool = False
    name: str | None = None

    def __post_init__(self) -> None:
        """Check the kinds, and keep numbers as Python's own."""
        instance("picture", self.picture, ANY_PICTURE, "a path, a Pillow image or a Picture")
        text("over", self.over)
        flag("scale", self.scale)
        for name, check in _CHECKS.items():
            if getattr(self, name) is not None:
                object.__setattr__(self, name, check(name, getattr(self, name)))
