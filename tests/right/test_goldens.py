"""Do the shipped scenes still draw what they drew? Entries, palette, fetch log and slots are compared exactly, and apart.

Law: a golden is small files that a person can look at: ``.png``, the plane of entries; ``.palette.csv``, the colour of each
entry from the line on which it first shows it; ``.log.csv``, the fetch log; ``.slots.csv``, who had the slots of each line of the
frame, a row wherever that changes; ``.events.json``, drops, collisions, flags raised and transfers. ``--record-goldens``
writes them anew.
"""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import vdpsim

SCENES = Path(__file__).resolve().parents[2] / "scenes"
GOLDENS = Path(__file__).with_name("goldens")
CASES: list[tuple[str, str | None]] = [
    (path.name.removesuffix(".scene.toml"), None) for path in sorted(SCENES.glob("*.scene.toml"))
]
CASES.append(("ferry", "dunlin"))


def drawn():
    """Name and frame of each golden: of every scene the first frame and, where it has more, the last."""
    for name, other in CASES:
        chip = vdpsim.load_chip(SCENES / "chips" / f"{other}.chip.toml") if other else None
        scene = vdpsim.load_scene(SCENES / f"{name}.scene.toml", chip=chip)
        for number in sorted({0, scene.frames - 1}):
            yield f"{name}-{other or scene.chip.name.lower()}-{number:04}", vdpsim.render(scene, frame=number)


def palette_text(frame):
    """``line,entry,colour``: a row wherever an entry shows another colour than it did before, from top to bottom."""
    known, rows = {}, ["line,entry,colour"]
    codes = frame.rgb.astype(int) @ (1 << 16, 1 << 8, 1)
    for line, (entries, colours) in enumerate(zip(frame.indices, codes, strict=True)):
        pairs, first = np.unique(np.stack([entries, colours]), axis=1, return_index=True)
        for entry, colour in pairs.T[np.argsort(first)].tolist():
            if known.get(entry) != colour:
                known[entry] = colour
                rows.append(f"{line},{entry},#{colour:06x}")
    return "\n".join(rows) + "\n"


def slots_text(frame):
    """The slots of every line of the frame, also below the picture: a row wherever they are not those of the line above."""
    lines, last = vdpsim.log_data(frame)["slots"], None
    rows = [",".join(lines[0])]
    for line, *counts in (list(one.values()) for one in lines):
        if counts != last:
            rows.append(",".join(map(str, [line, *counts])))
        last = counts
    return "\n".join(rows) + "\n"


def events_text(frame):
    """Drops, collisions, flags raised and transfers as JSON, a record a line."""
    told = vdpsim.log_data(frame)
    lines = [json.dumps(record) for kind in ("drops", "collisions", "raised", "transfers") for record in told[kind]]
    return "".join(f"{line}\n" for line in lines)


def record(name, frame):
    """Write the golden ``name``."""
    GOLDENS.mkdir(exist_ok=True)
    if frame.image().mode == "P":
        frame.save(GOLDENS / f"{name}.png")
    else:  # colours change on the way down: entries alone, as greys
        Image.fromarray(frame.indices).save(GOLDENS / f"{name}.png")
    (GOLDENS / f"{name}.palette.csv").write_text(palette_text(frame), encoding="utf-8")
    (GOLDENS / f"{name}.log.csv").write_text(vdpsim.log_text(frame, ".csv"), encoding="utf-8")
    (GOLDENS / f"{name}.slots.csv").write_text(slots_text(frame), encoding="utf-8")
    (GOLDENS / f"{name}.events.json").write_text(events_text(frame), encoding="utf-8")


@pytest.fixture(scope="module")
def frames(request):
    """The frames by golden's name; recorded first where that is asked for."""
    found = dict(drawn())
    if request.config.getoption("--record-goldens"):
        for old in GOLDENS.glob("*"):
            old.unlink()
        for name, frame in found.items():
            record(name, frame)
    return found


def recorded(name, ending):
    """The text of a golden's file."""
    return (GOLDENS / f"{name}{ending}").read_text(encoding="utf-8")


def test_every_scene_has_its_goldens_and_no_other_is_left(frames):
    assert {path.name.split(".")[0] for path in GOLDENS.glob("*")} == set(frames)


def test_entries(frames):
    for name, frame in frames.items():
        with Image.open(GOLDENS / f"{name}.png") as image:
            different = np.argwhere(np.asarray(image) != frame.indices)
        assert not len(different), (
            f"{name}: {len(different)} dots differ, the first at line, dot {different[0].tolist()}"
        )


def test_palettes(frames):
    for name, frame in frames.items():
        assert palette_text(frame) == recorded(name, ".palette.csv"), name


def test_fetch_logs(frames):
    for name, frame in frames.items():
        assert vdpsim.log_text(frame, ".csv") == recorded(name, ".log.csv"), name


def test_slots(frames):
    for name, frame in frames.items():
        assert slots_text(frame) == recorded(name, ".slots.csv"), name


def test_drops_collisions_flags_and_transfers(frames):
    for name, frame in frames.items():
        assert events_text(frame) == recorded(name, ".events.json"), name


def test_a_golden_notices_one_dot_one_colour_one_fetch_and_one_slot(frames):
    """Planted faults: each of the comparisons fails for its own reason, and for that alone."""
    name, frame = next(iter(frames.items()))
    rgb, counts = frame.rgb.copy(), frame.log.counts.copy()
    rgb[100, 100] ^= 1
    counts[100, 0] += 1
    other = vdpsim.Frame(**{**vars(frame), "rgb": rgb})
    assert palette_text(other) != recorded(name, ".palette.csv")
    other = vdpsim.Frame(
        **{**vars(frame), "log": vdpsim.Log(frame.log.clients, counts, frame.log.found, frame.log.drawn)}
    )
    assert vdpsim.log_text(other, ".csv") != recorded(name, ".log.csv")
    assert palette_text(other) == recorded(name, ".palette.csv")
    assert slots_text(other) == recorded(name, ".slots.csv")
    slots = frame.slots.counts.copy()
    slots[300, -1] += 1
    other = vdpsim.Frame(**{**vars(frame), "slots": dataclasses.replace(frame.slots, counts=slots)})
    assert slots_text(other) != recorded(name, ".slots.csv")
    assert events_text(other) == recorded(name, ".events.json")
    with Image.open(GOLDENS / f"{name}.png") as image:
        dots = np.asarray(image).copy()
    dots[100, 100] ^= 1
    assert np.argwhere(dots != frame.indices).tolist() == [[100, 100]]
