"""The scene file as a whole: what one chip is asked to show.

Law: what stands outside the lists, and which list holds which tables; the tables themselves are in ``tables/``. Knows no
pixels and no files.
"""

from pydantic import Field

from ..chip.model import Table
from ..chip.tables.table import Title, ValueRef
from .tables.contents import BitmapTable, MapTable, PaletteTable, PatternsTable, SpriteTable, TextTable
from .tables.timed import MotionTable, WriteTable
from .tables.values import MOST_FRAMES


class SceneHead(Table):
    """What a scene file says outside its lists."""

    name: Title
    about: str = Field("", max_length=2000)
    chip: str = Field(min_length=1, description="path of the chip file, from the scene file's folder")
    frames: int = Field(1, ge=1, le=MOST_FRAMES, description="how many frames the scene is meant to run")
    registers: dict[str, ValueRef] = Field({}, description="starting values, in control units or by name")


class SceneFile(SceneHead):
    """A whole scene file."""

    palette: tuple[PaletteTable, ...] = ()
    patterns: tuple[PatternsTable, ...] = ()
    maps: tuple[MapTable, ...] = ()
    bitmaps: tuple[BitmapTable, ...] = ()
    text: tuple[TextTable, ...] = ()
    sprites: tuple[SpriteTable, ...] = ()
    writes: tuple[WriteTable, ...] = ()
    motion: tuple[MotionTable, ...] = ()


LISTS: dict[str, type[Table]] = {
    "palette": PaletteTable,
    "patterns": PatternsTable,
    "maps": MapTable,
    "bitmaps": BitmapTable,
    "text": TextTable,
    "sprites": SpriteTable,
    "writes": WriteTable,
    "motion": MotionTable,
}
"""The file's lists of tables, by key."""
