"""Are the scenes' pictures and cells what tools/draw_art draws?"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from soaked import few

pytestmark = pytest.mark.unmeasured

ROOT = Path(__file__).resolve().parents[2]
ART = ROOT / "scenes/art"
sys.path.insert(0, str(ROOT / "tools"))

import draw_art  # noqa: E402 - found once the path is there

PARTS = {part.__name__ if part.__name__ != "pictures" else part.__module__: part for part in draw_art.PARTS}


def files(folder):
    """Everything that is drawn there."""
    return [*folder.glob("*.png"), *folder.glob("*.cells")]


def content(path):
    """A picture's indices and colours, as its bytes depend on the release of Pillow; the bytes of anything else."""
    if path.suffix != ".png":
        return path.read_bytes()
    with Image.open(path) as image:
        return np.asarray(image).tolist(), image.mode, image.getpalette()


@pytest.mark.parametrize("part", few(PARTS, lambda part: part != "painting"))
def test_a_part_is_drawn_as_it_is_shipped(part, tmp_path):
    for name, plane, colours in PARTS[part]():
        draw_art.save(tmp_path / name, plane, colours)
        assert content(tmp_path / name) == content(ART / name), name


def test_cells_are_written_as_they_are_shipped():
    drawn = dict(one for cells in draw_art.CELLS for one in cells())
    assert drawn == {path.name: path.read_bytes() for path in ART.glob("*.cells")}


@pytest.mark.soak
def test_every_picture_is_drawn_by_the_script_and_no_other_is_left(tmp_path):
    env = {name: value for name, value in os.environ.items() if name != "PYTHONSAFEPATH"}
    words = [sys.executable, str(ROOT / "tools/draw_art.py"), "-o", str(tmp_path)]
    subprocess.run(words, env=env, check=True, capture_output=True)
    assert sorted(path.name for path in ART.iterdir()) == sorted(path.name for path in files(tmp_path))


def test_every_picture_is_used_by_a_scene():
    scenes = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "scenes").glob("*.scene.toml"))
    unused = [path.name for path in files(ROOT / "scenes/art") if f'"art/{path.name}"' not in scenes]
    assert unused == []


def test_pictures_are_small():
    """A checkout stays light: no picture beyond 40 KB, 120 KB together."""
    sizes = {path.name: path.stat().st_size for path in files(ROOT / "scenes/art")}
    assert max(sizes.values()) <= 40_000
    assert sum(sizes.values()) <= 120_000
