"""Do the shipped scenes still draw what they drew? Entries, palette, fetch log and slots are compared exactly, and apart.

Law: a golden is a frame as ``vdpsim.testing`` records it. ``--update-frames`` records them anew.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import vdpsim
from vdpsim.testing import CheckFailedError, assert_frame, soft

SCENES = Path(__file__).resolve().parents[2] / "scenes"
GOLDENS = Path(__file__).with_name("goldens")
CASES: list[tuple[str, str | None]] = [
    (path.name.removesuffix(".scene.toml"), None) for path in sorted(SCENES.glob("*.scene.toml"))
]
CASES.append(("ferry", "dunlin"))


@pytest.fixture(scope="module")
def frames():
    """The frames by golden's name: of every scene the first frame and, where it has more, the last."""
    found = {}
    for name, other in CASES:
        chip = vdpsim.load_chip(SCENES / "chips" / f"{other}.chip.toml") if other else None
        scene = vdpsim.load_scene(SCENES / f"{name}.scene.toml", chip=chip)
        for number in sorted({0, scene.frames - 1}):
            found[f"{name}-{other or scene.chip.name.lower()}-{number:04}"] = vdpsim.render(scene, frame=number)
    return found


def test_every_scene_has_its_goldens_and_no_other_is_left(frames):
    assert {path.name.split(".")[0] for path in GOLDENS.glob("*")} == set(frames)


def test_frames_are_as_they_were(frames):
    with soft():
        for name, frame in frames.items():
            assert_frame(frame, name, folder=GOLDENS)


def _with(frame, part, place):
    """``frame`` with one number of one part other than it was."""
    arrays = {
        "entry": lambda: {"indices": frame.indices.copy()},
        "colour": lambda: {"rgb": frame.rgb.copy()},
        "fetch": lambda: {"log": replace(frame.log, counts=frame.log.counts.copy())},
        "slot": lambda: {"slots": replace(frame.slots, counts=frame.slots.counts.copy())},
        "drop": lambda: {"drops": np.concatenate([frame.drops, np.array([(30, 3, "dots")], frame.drops.dtype)])},
    }
    changed = arrays[part]()
    (array,) = changed.values()
    if part != "drop":
        getattr(array, "counts", array)[place] += 1
    return replace(frame, **changed)


@pytest.mark.parametrize(
    ("part", "place", "said", "others"),
    [
        ("entry", (100, 100), "entries: 1 dots differ, first at line 100, dot 100", {"palette"}),
        ("colour", (100, 100, 0), "palette: ", set()),
        ("fetch", (100, 0), "fetch log: 1 of 216 rows differ, the first at line 100: near.cells", set()),
        ("slot", (300, 0), "slots: ", set()),
        ("drop", None, "drops, collisions, flags and transfers: 1 not recorded, the first: line 30, sprite ", set()),
    ],
)
def test_a_golden_notices_one_number_of_each_part_and_tells_of_that_part(frames, part, place, said, others):
    """Planted faults: each of the comparisons fails for its own reason; another dot alone is another row of the palette too."""
    with pytest.raises(CheckFailedError, match="must be as recorded") as caught:
        assert_frame(_with(frames["flock-curlew-0000"], part, place), "flock-curlew-0000", folder=GOLDENS)
    told = [line.strip() for line in str(caught.value).splitlines()]
    assert any(line.startswith(said) for line in told), told
    parts = ("entries", "palette", "fetch log", "slots", "drops, collisions, flags and transfers")
    found = {one for one in parts if any(line.startswith(f"{one}: ") for line in told)}
    assert found - others == {said.partition(": ")[0]}
