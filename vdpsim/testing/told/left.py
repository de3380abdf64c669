"""Pictures and a page of what failed, left in a folder.

Law: one folder for each failure, named by what is said of it, so that nothing is written over that another failure has left; its
files appear together or not at all. What cannot be drawn or written is told in a line: it never takes the place of the failure.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt
from PIL import Image

from ...files import Outputs
from ...images.png import png_bytes
from ..using import now

if TYPE_CHECKING:
    from ...output.frame import Frame
    from ..finding import Finding

MOST_FRAMES = 4
"""Frames of one failure of which pictures are left."""

MARK = 255
"""What a dot that a finding is about becomes in all three channels, on the picture dimmed to a quarter."""


def leave(text: str, findings: Sequence[Finding]) -> tuple[tuple[Path, ...], list[str]]:
    """The files that were left of ``findings``, told as ``text``, and lines that say where; none where no folder was said."""
    said = now().failures
    if said is None:
        return (), []
    base = said if isinstance(said, Path) else said()
    frames = {id(one.frame): one.frame for one in findings}
    folder = base / f"{_slug(findings[0].frame)}-{sha256(text.encode()).hexdigest()[:8]}"
    paths: list[Path] = []
    lines: list[str] = []
    try:
        with Outputs() as outputs:
            for number, frame in enumerate(list(frames.values())[:MOST_FRAMES]):
                mine = [one for one in findings if one.frame is frame]
                for name, data in _files(frame, mine, lines):
                    paths.append(folder / (name if not number else f"{number + 1}-{name}"))
                    outputs.add(paths[-1], data)
    except Exception as error:  # noqa: BLE001 - whatever goes wrong here, what failed is what has to be told
        return (), [f"no pictures could be left in {base}: {error}"]
    if len(frames) > MOST_FRAMES:
        lines.append(f"of {len(frames)} frames the first {MOST_FRAMES} have pictures")
    return tuple(paths), [*lines, *(f"left: {path}" for path in paths)]


def _slug(frame: Frame) -> str:
    """What a folder of the frame is called: its scene's name as far as a path likes it, and its number."""
    scene = getattr(frame.origin, "scene", None)
    name = re.sub(r"[^a-z0-9]+", "-", scene.name.lower() if scene else "frame").strip("-") or "frame"
    return f"{name[:40]}-{frame.frame}"


def _files(frame: Frame, findings: Sequence[Finding], lines: list[str]) -> Iterator[tuple[str, bytes]]:
    """The files of one frame by their names; ``lines`` gets what there is to say of those that there are not."""
    if frame.height:
        yield "actual.png", frame.png()
    expected = next((one.expected for one in findings if one.expected is not None), None)
    if expected is not None and expected.size:
        yield "expected.png", png_bytes(Image.fromarray(np.ascontiguousarray(expected)))
    masks = [one.where for one in findings if one.where is not None and one.where.shape == frame.source.shape]
    if masks and frame.height:
        where = np.logical_or.reduce(masks)
        behind = expected if expected is not None and expected.shape == frame.rgb.shape else frame.rgb
        name = "where.png" if expected is None else "difference.png"
        yield name, png_bytes(Image.fromarray(marked(behind, where)))
    page = _page(frame, lines)
    if page is not None:
        yield "page.html", page


def marked(colours: npt.NDArray[np.uint8], where: npt.NDArray[np.bool_]) -> npt.NDArray[np.uint8]:
    """``colours`` (lines, width, 3) dimmed to a quarter, and white ``where`` (lines, width) says; whole lines stay."""
    found: npt.NDArray[np.uint8] = np.where(where[..., None], np.uint8(MARK), colours // 4)
    whole = where.all(axis=1)
    found[whole] = colours[whole]
    return found


def _page(frame: Frame, lines: list[str]) -> bytes | None:
    """The page of the frame, where it is one of a scene that the page would draw alike."""
    scene = getattr(frame.origin, "scene", None)
    if scene is None:
        lines.append("no page: the frame is not one of a scene")
        return None
    if frame.origin.rule is not None:
        lines.append("no page: it would show the ladder's frame, and this one was drawn by a rule")
        return None
    from ...report.page import report_page  # noqa: PLC0415 - only what fails needs a page

    return report_page(scene, [frame.origin.number]).encode()
