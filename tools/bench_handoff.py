"""Rows of the bench about what is exported for the hardware side, and what of it comes back.

Law: an export of the shipped scene saltmarsh, or comparing what was exported, is set beside rendering the same frames.
"""

from __future__ import annotations

import tempfile
import time
from pathlib import Path
from statistics import median

from bench_measure import ROUNDS, Run, read, row
from bench_time import ROOT, spent

import vdpsim
from vdpsim.handoff.drawn import drawn
from vdpsim.handoff.vectors.vectors import Vectors

SCENE = ROOT / "scenes" / "saltmarsh.scene.toml"
FRAMES = 8


@row("vdpsim export of saltmarsh, a further frame / the frame rendered", 10)
def _frame() -> float:
    """CPU of a frame's vectors, every access and dot as text, over that of the frame as it is rendered without its trace."""
    scene = vdpsim.load_scene(SCENE)
    vectors = Vectors(scene.chip)

    def exported(number: int) -> int:
        frames = drawn(scene, range(number, number + 1), damage=False, traced=True)
        return sum(len(text) for one in frames for _, text in vectors.frame(one))

    turns = [
        (
            _spent_here(exported, number % FRAMES),
            _spent_here(lambda at: read(vdpsim.render(scene, at)), number % FRAMES),
        )
        for number in range(2 + ROUNDS)
    ][2:]
    return float(median(export / render for export, render in turns))


@row("vdpsim export of saltmarsh, one frame in a warm process / the frame rendered", 10)
def _folder() -> float:
    """CPU of a whole folder of one frame, the chip's own files made before, over that of the frame."""
    scene = vdpsim.load_scene(SCENE)
    with tempfile.TemporaryDirectory() as place:
        turns = [
            (
                _spent_here(lambda number: vdpsim.export(scene, Path(place, str(number))), number),
                _spent_here(lambda _number: read(vdpsim.render(scene)), number),
            )
            for number in range(2 + ROUNDS // 3)
        ][2:]
    return float(median(export / render for export, render in turns))


def _spent_here(run: Run, number: int) -> float:
    """CPU seconds of this process."""
    before = time.process_time()
    run(number)
    return time.process_time() - before


@row("vdpsim export --frames 0:8 of saltmarsh, its process / vdpsim render", 10)
def _process() -> float:
    """CPU of processes, in turns; writing PNG files is a part of the one, writing text of the other."""
    frames = ["--frames", f"0:{FRAMES}"]
    with tempfile.TemporaryDirectory() as folder:
        export = ["export", str(SCENE), *frames, "-o", str(Path(folder, "export"))]
        render = ["render", str(SCENE), *frames, "-o", f"{Path(folder, 'render')}/"]
        turns = [(spent(*export), spent(*render)) for _ in range(2 + ROUNDS // 6)][2:]
    return float(median(exported / rendered for exported, rendered in turns))


@row("vdpsim verify of saltmarsh, a whole capture / the vectors of its export", 3)
def _verified() -> float:
    """CPU of comparing two frames with a capture that is the same, over that of making the text that it is compared with."""
    scene = vdpsim.load_scene(SCENE)
    vectors = Vectors(scene.chip)
    with tempfile.TemporaryDirectory() as place:
        folder, capture = Path(place, "out"), Path(place, "capture.txt")
        vdpsim.export(scene, folder, frames=range(2), only=["vectors"])
        expected = (folder / "vectors").glob("*.txt")
        capture.write_bytes(b"".join(file.read_bytes() for file in expected if file.name != "stimulus.txt"))

        def compared(_number: int) -> bool:
            return vdpsim.verify(capture, folder, whole=True).same

        def made(_number: int) -> int:
            frames = drawn(scene, range(2), damage=False, traced=True)
            return sum(len(text) for one in frames for _, text in vectors.frame(one))

        turns = [(_spent_here(compared, 0), _spent_here(made, 0)) for _ in range(2 + ROUNDS // 6)][2:]
    return float(median(verify / export for verify, export in turns))
