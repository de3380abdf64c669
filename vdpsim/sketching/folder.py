"""The files of a new folder: chip, scene, art and test.

Law: the files load without a warning, draw at once and pass their own test; the chip has the folder's name. Bytes by relative
path; writes nothing.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from pathlib import PurePosixPath

from ..door.shown import HARMFUL
from ..files.toml.out import value
from . import art
from .answers import Answers
from .chip_text import NAMES, aligned, banks, page, size
from .fitting import Sketch

BIRDS = 5
"""Sprites of the scene, where a line may have so many."""

LONGEST = 40
"""Characters of a name that is made of a folder's."""


def title_of(folder: str) -> str:
    """What a chip is called whose folder is called ``folder``: the same, as far as it is a text of one line."""
    text = re.sub(f"[{HARMFUL}\t\n]", "", folder.encode("utf-8", "ignore").decode())
    return text.strip()[:LONGEST].strip() or "My chip"


def stem_of(folder: str) -> str:
    """How its files begin: small letters, digits and _; ``chip`` where nothing of the folder's name is left."""
    plain = unicodedata.normalize("NFKD", title_of(folder)).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "_", plain).strip("_")[:LONGEST] or "chip"


def files_of(sketch: Sketch, folder: str) -> dict[PurePosixPath, bytes]:
    """The files, by their places in the folder called ``folder``."""
    answers, stem = sketch.answers, stem_of(folder)
    texts = {
        f"{stem}.chip.toml": sketch.text,
        f"{stem}.scene.toml": scene_text(answers, title_of(folder), stem),
        f"test_{stem}.py": TEST.format(stem=stem),
    }
    found = {PurePosixPath(name): text.encode() for name, text in texts.items()}
    return found | {PurePosixPath("art", f"{name}.png"): art.png(plane) for name, plane in _pictures(answers)}


def _pictures(answers: Answers) -> Iterator[tuple[str, art.Plane]]:
    width, height = 8 * page(answers)[0], -(-size(answers)[1] // 8) * 8
    layers = NAMES[answers.layers]
    yield layers[-1], art.far(width, height)
    if len(layers) == 3:
        yield layers[1], art.hills(width, height, answers.depth)
    if len(layers) > 1:
        yield layers[0], art.reeds(width, height, answers.depth)
    if answers.sprites:
        yield "bird", art.bird(answers.depth)


def scene_text(answers: Answers, title: str, stem: str) -> str:
    """The scene file of a chip called ``title``, whose file begins with ``stem``."""
    return "\n".join(map(aligned, _scene_parts(answers, title, stem)))


def _scene_parts(answers: Answers, title: str, stem: str) -> Iterator[str]:
    colours = ", ".join(f'"{colour}"' for colour in art.COLOURS)
    yield f"""\
# A first scene: an evening at the marsh. Draw it:  vdpsim render {stem}.scene.toml -o {stem}.png --scale 2
# See it live, and redrawn whenever a file is saved:  vdpsim watch {stem}.scene.toml
name = {value(f"Evening, {title}")}
chip = "{stem}.chip.toml"
frames = 256

[[palette]]
colours = [{colours}]
"""
    banked = "banked = true\n" if banks(answers) > 1 else ""
    for name in reversed(NAMES[answers.layers]):
        yield f"""\
[[maps]]                     # cut from a picture, whose dots are palette entries; tiles that repeat are kept once
for = "{name}.tiles"
picture = "art/{name}.png"
make = true
{banked}"""
    for number, name in enumerate(NAMES[answers.layers][:-1]):
        yield f"""\
[[motion]]
register = "{name}.scroll_x"
from = 0
every = {2 * number + 1}                    # frames from a dot to the next
"""
    if answers.sprites:
        yield from _birds(answers)


def _birds(answers: Answers) -> Iterator[str]:
    yield """\
[[patterns]]
name = "bird"
for = "sprites"
png = "art/bird.png"         # 32 x 16 dots: two patterns, bird and bird+1
"""
    width, height = size(answers)
    bank = f"\nbank = {art.BIRD >> answers.depth}" if banks(answers) > 1 else ""
    places = range(width // 4, width, 24)  # in a narrow picture there are few
    for number, x in enumerate(places[: min(BIRDS, answers.sprites)]):
        yield f"""\
[[sprites]]
name = "bird_{number}"
x = {x}
y = {height // 6 + 12 * (number % 3)}
pattern = "bird{"+1" if number % 2 else ""}"{bank}
[[motion]]
sprite = "bird_{number}"
field = "x"
from = {x}
to = {width}
every = 2
"""


TEST = '''\
"""What has to hold of the chip and its scene, whatever is changed in their files: run it with pytest."""

from pathlib import Path

import vdpsim

HERE = Path(__file__).resolve().parent
CHIP = vdpsim.load_chip(HERE / "{stem}.chip.toml")
SCENE = vdpsim.load_scene(HERE / "{stem}.scene.toml")


def test_every_line_that_the_registers_allow_is_served_in_time():
    assert vdpsim.budget(CHIP).verdict == "fits"


def test_nothing_in_the_chip_is_in_vain():
    assert vdpsim.design_warnings(CHIP) == ()
    assert SCENE.warnings == ()


def test_the_first_frame_misses_nothing_and_drops_no_sprite():
    frame = vdpsim.render(SCENE)
    assert not frame.missed.any()
    assert len(frame.drops) == 0
    assert len({{colour for row in frame.rgb.tolist() for colour in map(tuple, row)}}) > 3  # something shows
'''
