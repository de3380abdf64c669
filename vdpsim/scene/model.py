"""The scene file as a whole: what one chip is asked to show.

Law: what stands outside the lists, and which list holds which tables; the tables themselves are in ``tables/``. Knows no
pixels and no files.
"""

from pydantic import Field

from ..chip.model import Table
from ..chip.tables.table import Title, ValueRef
from .tables.blocks import ColoursTable
from .tables.contents import BitmapTable, MapTable, PaletteTable, PatternsTable, SpriteTable, TextTable
from .tables.timed import MotionTable, WriteTable
from .tables.values import MOST_FRAMES


class SceneHead(Table):
    """What a scene file says outside its lists."""

    name: Title = Field(description="what people call it, in messages and on pages")
    about: str = Field("", max_length=2000, description="why it exists, for people; left out: nothing")
    chip: str = Field(min_length=1, description="path of the chip file, from the scene file's folder")
    frames: int = Field(1, ge=1, le=MOST_FRAMES, description="how many frames the scene is meant to run")
    registers: dict[str, ValueRef] = Field(
        {},
        description="starting values by register, up to what it takes, in control units or by name; left out: "
        "as at reset",
    )


class SceneFile(SceneHead):
    """A whole scene file."""

    palette: tuple[PaletteTable, ...] = Field(
        default=(), description="colours for entries of the palette; left out: all are 0"
    )
    patterns: tuple[PatternsTable, ...] = Field(default=(), description="patterns for layers and sprites")
    maps: tuple[MapTable, ...] = Field(default=(), description="cells of tiles modes")
    bitmaps: tuple[BitmapTable, ...] = Field(default=(), description="dots of bitmap modes")
    colours: tuple[ColoursTable, ...] = Field(default=(), description="colour cells of bitmap modes")
    text: tuple[TextTable, ...] = Field(default=(), description="characters of text modes")
    sprites: tuple[SpriteTable, ...] = Field(default=(), description="sprites, each with a name")
    writes: tuple[WriteTable, ...] = Field(default=(), description="changes at a frame, line and dot")
    motion: tuple[MotionTable, ...] = Field(
        default=(), description="registers and sprites that move from frame to frame"
    )


LISTS: dict[str, type[Table]] = {
    "palette": PaletteTable,
    "patterns": PatternsTable,
    "maps": MapTable,
    "bitmaps": BitmapTable,
    "colours": ColoursTable,
    "text": TextTable,
    "sprites": SpriteTable,
    "writes": WriteTable,
    "motion": MotionTable,
}
"""The file's lists of tables, by key."""
