"""Art in: pictures, sprite sheets and fonts become patterns, maps and palettes within a chip's limits.

Law: the room's one door. Every name that users may rely on stands in ``__all__``; each is loaded when it is first asked for.

>>> from vdpsim import art, load_chip
>>> found = art.fit("portrait.png", load_chip("scenes/chips/curlew.chip.toml"), layer="far")
>>> found.image.show(); print(found.report.text())
"""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .choose import Chosen, Room, choose
    from .fit import Ask, fit, fit_glyphs, fit_sprites, fit_together
    from .fitted import Art, Fitted, FittedGlyphs, FittedSprites, Loss, Placed, Report, loss
    from .fonts import read_font
    from .glyphs import Font
    from .looks import bank_map, compared
    from .pack import Packing, pack
    from .pictures import Picture, from_image, open_picture
    from .place import Page, place
    from .scene_in import entries_of
    from .scene_out import save
    from .space import ciede2000, lab, oklab, psnr

__all__ = [  # noqa: RUF022 - grouped by theme
    # fitting
    "fit", "fit_sprites", "fit_glyphs", "fit_together", "Ask",
    # what it yields
    "Fitted", "FittedSprites", "FittedGlyphs", "Art", "Placed", "Report", "Loss", "loss",
    # to look at, and to keep
    "compared", "bank_map", "save",
    # what comes in
    "open_picture", "from_image", "Picture", "read_font", "Font", "entries_of",
    # banks
    "pack", "place", "Page", "Packing", "choose", "Room", "Chosen",
    # colours
    "ciede2000", "lab", "oklab", "psnr",
]  # fmt: skip

_HOMES = {
    "choose": ("Chosen", "Room", "choose"),
    "fit": ("Ask", "fit", "fit_glyphs", "fit_sprites", "fit_together"),
    "fitted": ("Art", "Fitted", "FittedGlyphs", "FittedSprites", "Loss", "Placed", "Report", "loss"),
    "fonts": ("read_font",),
    "glyphs": ("Font",),
    "looks": ("bank_map", "compared"),
    "pack": ("Packing", "pack"),
    "pictures": ("Picture", "from_image", "open_picture"),
    "place": ("Page", "place"),
    "scene_in": ("entries_of",),
    "scene_out": ("save",),
    "space": ("ciede2000", "lab", "oklab", "psnr"),
}
_WHERE = {name: home for home, names in _HOMES.items() for name in names}


def __getattr__(name: str) -> Any:
    if name not in _WHERE:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(import_module(f".{_WHERE[name]}", __name__), name)
    globals()[name] = value
    return value


class _Door(ModuleType):
    """The package itself: Python sets each module that is loaded by its name, but ``fit`` and ``pack`` stay functions."""

    def __setattr__(self, name: str, value: Any) -> None:
        super().__setattr__(name, getattr(value, name) if name in _WHERE and isinstance(value, ModuleType) else value)


sys.modules[__name__].__class__ = _Door


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
