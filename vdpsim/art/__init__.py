"""Art in: pictures, sprite sheets and fonts become patterns, maps and palettes within a chip's limits.

Law: the room's one door. Every name that users may rely on stands in ``__all__``; each is loaded when it is first asked for.

>>> from vdpsim import art, load_chip
>>> found = art.fit("scenes/art/ferry-far.png", load_chip("scenes/chips/curlew.chip.toml"), layer="far")
>>> found.image.save("fitted.png"); print(found.report.text())
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..door.lazy import names_of

if TYPE_CHECKING:
    from ..colour.space import ciede2000, lab, oklab, psnr
    from ..fonts.fonts import read_font
    from ..fonts.glyphs import Font
    from ..images.pictures import Picture, from_image, open_picture
    from .ask import Ask
    from .colours.choose import Chosen, Room, choose
    from .fitted import Fitted, FittedGlyphs, FittedSprites
    from .fitting import fit, fit_glyphs, fit_sprites, fit_together
    from .packing.pack import Packing, pack
    from .packing.place import Page, place
    from .scenes.looks import bank_map, compared
    from .scenes.scene_in import entries_of
    from .scenes.scene_out import save

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
    ".ask": ("Ask",),
    ".colours.choose": ("Chosen", "Room", "choose"),
    ".fitting": ("fit", "fit_glyphs", "fit_sprites", "fit_together"),
    ".fitted": ("Fitted", "FittedGlyphs", "FittedSprites"),
    ".results": ("Art", "Loss", "Placed", "Report", "loss"),
    "..fonts.fonts": ("read_font",),
    "..fonts.glyphs": ("Font",),
    ".scenes.looks": ("bank_map", "compared"),
    ".packing.pack": ("Packing", "pack"),
    "..images.pictures": ("Picture", "from_image", "open_picture"),
    ".packing.place": ("Page", "place"),
    ".scenes.scene_in": ("entries_of",),
    ".scenes.scene_out": ("save",),
    "..colour.space": ("ciede2000", "lab", "oklab", "psnr"),
}
__getattr__, __dir__ = names_of(__name__, _HOMES)
