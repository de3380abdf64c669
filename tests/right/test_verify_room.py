"""Does a capture of any length take as much memory to compare as a short one? With what would show that it does not.

Beyond what is kept of a short capture (``KEPT``), a piece of the file and what was read of it are held and no more: of 600 frames
of Saltmarsh, 3.1 GB of text, the process took 136 MB with Python and all its libraries.
"""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import pytest
from dumps import numbered
from ponds import H, W, capture, pond, rows

import vdpsim
from vdpsim.handoff.verifying import capture as captures
from vdpsim.handoff.verifying import pieces
from vdpsim.handoff.verifying.wave import sampling

DOTS = 4 * 8 * H * W
"""Bytes of the numbers of a frame's dots: four columns."""

FORMS = {
    "text": lambda path, every, frames: capture(path, every),
    "wave": lambda path, every, frames: numbered(every, frames).file(path),
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    return pond(tmp_path_factory.mktemp("pond"), frames=range(8))


def growth(tmp_path: Path, folder: Path, form: str, short: int, long: int) -> int:
    """By how many bytes the most that is held while ``long`` frames are compared is above that of ``short`` ones."""
    peaks = []
    every = rows(folder)
    for frames in (short, long):
        path = FORMS[form](tmp_path / f"{frames}.{form}", [row for row in every if int(row[1]) < frames], frames)
        vdpsim.verify(path, folder)  # what is loaded once is no part of the growth
        tracemalloc.start()
        found = vdpsim.verify(path, folder)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        assert found.same and found.outcomes["dot"].seen == frames * H * W
    return peaks[1] - peaks[0]


@pytest.mark.parametrize(
    ("form", "short", "long"), [("text", 2, 4), pytest.param("wave", 4, 8, marks=pytest.mark.soak)]
)
def test_memory_does_not_grow_with_the_frames_of_a_capture(tmp_path, folder, monkeypatch, form, short, long):
    monkeypatch.setattr(captures, "KEPT", 1 << 12)
    monkeypatch.setattr(pieces, "PIECE", 1 << 14)
    monkeypatch.setattr(sampling, "TOGETHER", 1 << 9)
    assert growth(tmp_path, folder, form, short, long) < DOTS


def test_a_capture_that_is_kept_whole_would_show(tmp_path, folder):
    """Two more frames are twice the limit above, of their dots alone."""
    assert growth(tmp_path, folder, "text", 2, 4) > 2 * DOTS
