"""Where recorded frames lie, how they are read and how they are written.

Law: a name is one plain word and leads to files of one folder, never out of it. All of a frame is written together, or nothing.
"""

from __future__ import annotations

import re
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image

from ...door.given import path as path_of
from ...door.given import text
from ...door.shown import shown_path
from ...door.shown import value as shown
from ...files import Outputs, UnreadableError, read
from ..using import Wanted, now
from . import parts

NAME = re.compile(r"[A-Za-z0-9_-][A-Za-z0-9._-]{0,99}")
"""What a recorded frame may be called: letters, digits, ``.``, ``_`` and ``-``, of which the first is no dot."""

LARGEST = 1 << 26
"""Bytes of a recorded file; a larger one is not read."""


def place(name: Any, folder: Any) -> Path:
    """The folder of the recorded frame ``name``. Raises ValueError for a name that is none, or where no folder was said."""
    if not NAME.fullmatch(text("name", name)):
        raise ValueError(f"name must be letters, digits, '.', '_' and '-', at most 100 of them, got {shown(name)}")
    if folder is None:
        folder = now().frames
    if folder is None:
        raise ValueError("no folder of recorded frames was said: give folder=, or vdpsim.testing.use(frames=...)")
    return path_of("folder", folder)


def recorded(folder: Path, name: str, ending: str) -> bytes | None:
    """The bytes of a file of a recorded frame; None where it is not there. Raises ValueError for one that cannot be read."""
    path = _inside(folder, name + ending)
    if not path.exists():
        return None
    try:
        return read(path, LARGEST)
    except UnreadableError as error:
        raise ValueError(f"{shown_path(path)}: {error}") from None


def _inside(folder: Path, name: str) -> Path:
    """The path of a file in ``folder``. Raises ValueError where a link leads out of it."""
    path = folder / name
    if path.resolve().parent != folder.resolve():
        raise ValueError(
            f"a recorded frame lies in {shown_path(folder)}, got {shown_path(path)}, a link that leads out of it"
        )
    return path


def entries(data: bytes, path: str) -> npt.NDArray[Any]:
    """The plane of entries in a recorded PNG. Raises ValueError where it is none, or larger than any frame."""
    try:
        with Image.open(BytesIO(data), formats=("PNG",)) as image:
            if image.width > 1024 or image.height > 768 or image.mode not in {"P", "L", "I;16", "I", "1"}:
                raise ValueError(f"{path} is no plane of entries: {image.width} x {image.height}, {image.mode}")
            return np.asarray(image).astype(np.int64)
    except OSError as error:
        raise ValueError(f"{path} is no plane of entries: {error}") from None


def write(wanted: Wanted) -> list[str]:
    """Record a frame, where it is not recorded so already; the endings of the files that changed."""
    made = parts.files(wanted.frame)
    old = {ending: recorded(wanted.folder, wanted.name, ending) for ending in (parts.ENTRIES, *parts.TEXTS)}
    changed = [ending for ending in old if made.get(ending) != old[ending]]
    if parts.ENTRIES in changed and _same_entries(wanted, old[parts.ENTRIES]):
        changed.remove(parts.ENTRIES)  # other bytes of the same picture, from another release of Pillow
    with Outputs() as outputs:
        for ending in changed:
            if ending in made:
                outputs.add(wanted.folder / (wanted.name + ending), made[ending])
    for ending in changed:
        if ending not in made:
            (wanted.folder / (wanted.name + ending)).unlink()
    return changed


def _same_entries(wanted: Wanted, old: bytes | None) -> bool:
    """Whether the recorded PNG ``old`` shows the frame's entries, in its colours where it has any."""
    if old is None:
        return False
    try:
        with Image.open(BytesIO(old), formats=("PNG",)) as image:
            dots, colours = np.asarray(image), np.asarray(image.convert("RGB"))
            told = image.mode != "P" or np.array_equal(colours, wanted.frame.rgb)
    except (OSError, ValueError):
        return False
    return told and np.array_equal(dots, wanted.frame.indices)
