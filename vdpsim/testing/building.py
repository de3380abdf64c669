"""Chips and scenes built in Python, as plainly as in their files and without one; and the files that they would be.

Law: what is built goes through the file's own text and its one door, so that it is checked as a file is, its mistakes have
a place in a text that can be printed, and what prints loads as the same thing. A key that is a word of Python has a ``_``
behind it.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image

from ..chip.load import parse_chip
from ..chip.model import Chip
from ..door.given import instance, whole_number
from ..door.given import path as path_of
from ..door.given import text as text_of
from ..door.shown import value as shown
from ..files.toml.out import document
from ..files.toml.tables import Source
from ..images.png import png_bytes
from ..scene import Scene
from ..scene.load import scene_from

Json = dict[str, Any]

BUILT_CHIP, BUILT_SCENE = "the chip's text", "the scene's text"
"""What stands for the file in messages."""

NOWHERE = Path(os.devnull)
"""A folder that no file is in."""


def build_chip(**tables: Any) -> Chip:
    """A chip of these keys and tables, which are those of a chip file: ``build_chip(name="Tern", frame={...}, ...)``.

    Raises InputError with the mistakes in them, as places in ``chip_text`` of it.
    """
    return chip_of(tables)


def build_scene(chip: Chip, /, *, files: Mapping[str, Any] | None = None, **tables: Any) -> Scene:
    """A scene for ``chip`` of these keys and tables, which are those of a scene file: ``sprites=[{"name": "tern", ...}]``.

    A key such as ``for`` may be written ``for_``. ``files``: what the tables name as files, by name: bytes, text or an image;
    nothing else is read. Raises InputError with the mistakes, as places in the text that would be the scene's file.
    """
    return scene_of(tables, chip, None, files)


def parse_scene(text: str, chip: Chip | None = None, *, folder: Any = None) -> Scene:
    """The scene described by ``text`` in TOML, for ``chip``, None for its own; the files that it names lie in ``folder``.

    Without a folder it names none. Raises InputError with the mistakes in it.
    """
    return scene_of(text_of("text", text), chip, folder)


def chip_of(tables: Mapping[str, Any]) -> Chip:
    """As ``build_chip``, of a chip file's data."""
    return parse_chip(document(plain(tables)), BUILT_CHIP)


def scene_of(
    given: Mapping[str, Any] | str, chip: Chip | None, folder: Any = None, files: Mapping[str, Any] | None = None
) -> Scene:
    """The scene of a scene file's data or text, for ``chip``, None for the one that it names.

    The files that it names lie in ``folder`` or, for None, are ``files`` alone.
    """
    if chip is not None:
        instance("chip", chip, Chip, "a Chip or None")
    text = given if isinstance(given, str) else document(_with_chip(plain(given), chip))
    if folder is not None or not files:
        place = NOWHERE if folder is None else path_of("folder", folder)
        return scene_from(Source(text, BUILT_SCENE), place / "built.scene.toml", chip)
    with tempfile.TemporaryDirectory() as home:
        for name, what in files.items():
            if Path(name).name != name:
                raise ValueError(f"files must have plain names, got {shown(name)}")
            Path(home, name).write_bytes(_bytes(name, what))
        return scene_from(Source(text, BUILT_SCENE), Path(home) / "built.scene.toml", chip)


def _with_chip(data: Json, chip: Chip | None) -> Json:
    """A scene file's data with the name of the chip's file, which has to stand in it."""
    if "chip" in data or chip is None:
        return data
    return {"name": data.get("name", "Built"), "chip": f"{chip.name.lower()}.chip.toml", **data}


def _bytes(name: str, what: Any) -> bytes:
    """A file's bytes, from what was given for it."""
    if isinstance(what, Image.Image):
        return png_bytes(what)
    if isinstance(what, str):
        return what.encode()
    return bytes(instance(f"files[{shown(name)}]", what, bytes | bytearray | np.ndarray, "bytes, text or an image"))


def plain(given: Any) -> Any:
    """``given`` as a file's data: tuples as lists, numpy's numbers and arrays as Python's, keys without a ``_`` behind them."""
    if isinstance(given, Mapping):
        return {str(name).removesuffix("_"): plain(one) for name, one in given.items() if one is not None}
    if isinstance(given, np.ndarray | np.generic):
        return given.tolist()
    if isinstance(given, list | tuple | range):
        return [plain(one) for one in given]
    return str(given) if isinstance(given, Path) else given


def rows_of(dots: Any, bits_per_dot: int = 4) -> list[str]:
    """Rows of dots as a file writes them: ``rows_of(values)`` is ``["0123", ...]``, with two hex digits a dot beyond 4 bits.

    ``dots``: whole numbers (lines, width), 0 to 2^``bits_per_dot`` - 1. Raises ValueError for others.
    """
    bits = whole_number("bits_per_dot", bits_per_dot, 1, 8)
    values: npt.NDArray[Any] = np.asarray(dots)
    if values.ndim != 2 or values.dtype.kind not in "iub" or not values.size:
        raise ValueError(
            f"dots must be whole numbers of shape (lines, width), got {values.dtype} of shape {values.shape}"
        )
    if values.min() < 0 or values.max() >= 1 << bits:
        raise ValueError(f"dots must be 0 to {(1 << bits) - 1}, got {values.min()} to {values.max()}")
    digits = 2 if bits > 4 else 1
    return ["".join(f"{int(dot):0{digits}x}" for dot in row) for row in values]


def scene_text(scene: Scene) -> str:
    """A scene as the text of its scene file: what it was read from, or what it was built of."""
    found: str = instance("scene", scene, Scene).text
    return found
