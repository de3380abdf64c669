"""Does the page say what Python says? In a real browser: dots under the pointer, sources switched off, keys, names."""

from __future__ import annotations

import base64
import io
import json
import re
import shutil
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from browser import browser, opened
from PIL import Image
from scenery import CHIP, load, png
from soaked import quick

import vdpsim
from vdpsim.chip.colour import word
from vdpsim.report.facts import facts
from vdpsim.report.page import page as page_of
from vdpsim.report.still.parts import strip
from vdpsim.report.tables import scene_budget
from vdpsim.report.told.cards import cards
from vdpsim.report.told.totals import Totals

pytestmark = pytest.mark.unmeasured

ROOT = Path(__file__).parents[2]
SCENES = ROOT / "scenes"
CURLEW = (SCENES / "chips" / "curlew.chip.toml").read_text(encoding="utf-8")
SHOWN = {
    "saltmarsh": [0, 1, 2],
    "portrait": [0],
    "tidetable": [0],
    "flock": [0],
    "dusk": [0, 9, 30],
    "slipway": [0],
    "regatta": [0],
    "sizes": [0, 1, 2, 3],
}
QUICK = ("flock", "planes")
"""Pages that every run looks at dot by dot."""
BITMAP_APART = 'planes = "apart"\nbits_per_dot = {}\nwidth = 16\nheight = 8'
PLANES = {"planes": 3, "one plane": 1}
"""Pages of a bitmap whose planes lie apart, and how many it has: of one alone it is not said which it is."""
IN_PLANES = """
[[maps]]
for = "near.tiles"
picture = "tiles.png"
make = true
[[bitmaps]]
for = "far.bitmap"
png = "far.png"
"""
CANVAS = "document.getElementById('picture').toDataURL('image/png')"


@pytest.fixture(scope="module")
def chrome():
    with browser() as one:
        yield one


def resized(folder: Path) -> Path:
    """The flock on a chip whose picture has three sizes, another in each of its first frames."""
    shutil.copytree(SCENES, folder)
    chip, scene = folder / "chips" / "curlew.chip.toml", folder / "flock.scene.toml"
    told = re.sub(r"width = 288.*\nheight = 216.*\n", "sizes = [[288, 216], [256, 192], [160, 217]]\n", CURLEW, count=1)
    held = '[registers]\npicture_size = { bits = 2, effect = "next frame" }\n'
    chip.write_text(told.replace("[registers]\n", held, 1), encoding="utf-8")
    moved = '[[motion]]\nregister = "picture_size"\nfrom = "288x216"\nto = "160x217"\nstep = 1\nthen = "repeat"\n'
    scene.write_text(f"{scene.read_text(encoding='utf-8')}\n{moved}", encoding="utf-8")
    return scene


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    """By a scene's name the address of its page, the scene, and its frames as Python draws them: made when first asked for."""
    folder = tmp_path_factory.mktemp("pages")

    @cache
    def made(name):
        if name in PLANES:
            return in_planes(folder, name, PLANES[name])
        path = SCENES / f"{name}.scene.toml"
        scene = vdpsim.load_scene(path if path.exists() else resized(folder / "scenes"))
        (folder / f"{name}.html").write_text(vdpsim.report_page(scene, SHOWN[name]), encoding="utf-8")
        frames = list(vdpsim.frames(scene, SHOWN[name], planes=True, trace=True))
        return (folder / f"{name}.html").as_uri(), scene, frames

    return made


def in_planes(folder, name, bits):
    """A page of tiles in planes by pattern before a bitmap of ``bits`` planes apart, and what Python draws of it."""
    tiles = "bits_per_dot = 4\ncell_bytes"
    chip = CHIP.replace(tiles, f'planes = "by pattern"\n{tiles}')
    chip = chip.replace("bits_per_dot = 4\nwidth = 16\nheight = 8\nstride = 10", BITMAP_APART.format(bits))
    random = np.random.default_rng(3)
    dots, picture = (
        random.integers(0, 1 << most, size).astype(np.uint8) for most, size in ((3, (8, 32)), (bits, (8, 16)))
    )
    greys = ", ".join(f'"#{value:x}{15 - value:x}{value:x}"' for value in range(16))
    text = f"[[palette]]\ncolours = [{greys}]\n" + IN_PLANES
    scene = load(folder, text, chip, tiles_png=png(dots), far_png=png(picture))
    (folder / f"{name}.html").write_text(vdpsim.report_page(scene, [0]), encoding="utf-8")
    return (folder / f"{name}.html").as_uri(), scene, list(vdpsim.frames(scene, [0], planes=True))


def picture_of(page):
    """The canvas' dots, uint8 (lines, dots, 3)."""
    data = page.evaluate(CANVAS).partition(",")[2]
    with Image.open(io.BytesIO(base64.b64decode(data))) as image:
        return np.asarray(image.convert("RGB"))


def until(page, what, wanted):
    """Wait until ``what`` is ``wanted``; the page's policy does not let the driver wait within it."""
    for _ in range(200):
        if page.evaluate(what) == wanted:
            return
        page.wait_for_timeout(20)
    assert page.evaluate(what) == wanted


def go_to(page, index):
    page.evaluate("index => goTo(index)", index)


def wanted_of(scene, frame, line, dot):
    """What there is to say of a dot, from the frame."""
    source = int(frame.source[line, dot])
    name = frame.sources[source]
    rgb = frame.rgb[line, dot].tolist()
    told = {
        "line": line,
        "dot": dot,
        "entry": int(frame.indices[line, dot]),
        "colour": "#" + bytes(rgb).hex(),
        "word": word(scene.chip.palette, rgb),
        "source": name,
        "rung": frame.rungs[frame.rung[line, dot]],
    }
    others = []
    for number, (other, plane) in enumerate(frame.planes.items(), 1):
        rung = int(plane.standing.rung[line, dot])
        if number != source and rung != 255:
            others.append((rung, other, int(plane.standing.entry[line, dot])))
    told["beneath"] = [(other, frame.rungs[rung], entry) for rung, other, entry in sorted(others)]
    return told


def from_of(scene, frame, line, dot):
    """Where a dot's data came from, as the page names it."""
    source = int(frame.source[line, dot])
    name = frame.sources[source]
    if name == "backdrop":
        return {}
    if name == "sprites":
        number = int(frame.sprite[line, dot])
        names = {place: name for name, place in scene.sprite_names.items()}
        return {"sprite": f"{number}, {names[number]}" if number in names else number}
    fed = frame.planes[name].fed
    layer = scene.chip.layers[source - 1]
    mode = layer.modes[int(fed.mode[line, dot])]
    told = {"mode": f"{mode.name} ({mode.kind})"}
    if fed.data[line, dot] < 0:
        return told | {"came from": "the margin, which is not fetched"}
    if fed.cell[line, dot] >= 0:
        cell = int(fed.word[line, dot])
        told |= {"cell at": f"0x{int(fed.cell[line, dot]):04X}", "cell's word": f"0x{cell:04X}"}
        told |= {field: bits.get(cell) for field, bits in mode.cell.layout.items()}
    what = {"tiles": "pattern row at", "text": "glyph row at", "bitmap": "access at"}[mode.kind]
    several = getattr(mode, "planes", None) and mode.bits_per_dot > 1
    planes = f", first of {mode.bits_per_dot} planes {mode.planes}" if several else ""
    return told | {what: f"0x{int(fed.data[line, dot]):04X}{planes}"}


@pytest.mark.parametrize("name", quick([*SHOWN, *PLANES], QUICK.__contains__))
def test_the_canvas_is_the_frame_and_every_dot_says_what_python_says(chrome, pages, name):
    """All dots of the canvas, and what is said of 150 random dots, in each of the frames, backwards too."""
    address, scene, frames = pages(name)
    random = np.random.default_rng(5)
    with opened(chrome, address) as page:
        for index in [*range(len(frames)), *range(len(frames) - 1)]:
            frame = frames[index]
            go_to(page, index)
            assert np.array_equal(picture_of(page), frame.rgb)
            several = f", {frame.width} x {frame.height} dots" if len(scene.chip.frame.sizes) > 1 else ""
            assert page.inner_text("#frame-number") == f"{frame.frame} ({index + 1} of {len(frames)}){several}"
            height, width = frame.indices.shape
            dots = np.column_stack([random.integers(0, height, 150), random.integers(0, width, 150)]).tolist()
            told = page.evaluate("dots => dots.map(([line, dot]) => explain(page, line, dot))", dots)
            for (line, dot), said in zip(dots, told, strict=True):
                wanted = wanted_of(scene, frame, line, dot)
                beneath: list[Any] = [(one["source"], one["rung"], one["entry"]) for one in said.pop("beneath")]
                backdrop = beneath.pop() if beneath else None
                wanted_beneath = wanted.pop("beneath")
                assert beneath == wanted_beneath
                assert (backdrop is None) == (said["source"] == "backdrop")
                origin = said.pop("from")
                assert said == wanted
                assert from_of(scene, frame, line, dot).items() <= origin.items()


def test_the_pointer_is_answered(chrome, pages):
    """The mouse over random dots at two sizes: the panel has that dot, its source, its entry."""
    address, scene, frames = pages("flock")
    random = np.random.default_rng(6)
    with opened(chrome, address) as page:
        for scale in (2, 3):
            page.select_option("#scale", str(scale))
            box = page.locator("#picture").bounding_box()
            assert (box["width"], box["height"]) == (288 * scale, 216 * scale)
            for _ in range(8):
                line, dot = int(random.integers(0, 216)), int(random.integers(0, 288))
                page.mouse.move(box["x"] + (dot + 0.5) * scale, box["y"] + (line + 0.5) * scale)
                wanted = wanted_of(scene, frames[0], line, dot)
                said = page.inner_text("#dot-text")
                assert (
                    said == f"Line {line}, dot {dot}: {wanted['source']}, entry {wanted['entry']}, {wanted['colour']}."
                )
                assert f"{int(frames[0].log.totals[line])}" in page.inner_text("#line")
                assert f"{int(frames[0].slots.used[line])} of 384" in page.inner_text("#line")


@pytest.mark.ci
@pytest.mark.parametrize("name", ["saltmarsh", "flock", "portrait", "dusk"])
def test_sources_switched_off_let_through_what_stands_behind(chrome, pages, name):
    """Every choice of sources: each dot has the lowest rung of those that are left, in that dot's colour; else the backdrop."""
    address, scene, frames = pages(name)
    frame = frames[0]
    planes = list(frame.planes.values())
    starts = frame.colours.starts
    place = starts[:, 0] * scene.chip.frame.width + starts[:, 1]
    at = np.searchsorted(place, np.arange(frame.indices.size), side="right") - 1
    version, backdrop = starts[at, 2].reshape(frame.indices.shape), starts[at, 3].reshape(frame.indices.shape)
    with opened(chrome, address) as page:
        for chosen in range(1 << len(planes)):
            for number in range(len(planes)):
                page.set_checked(f"#sources input[data-key='{number}']", bool(chosen >> number & 1))
            entry, best = backdrop.copy(), np.full(frame.indices.shape, 255)
            for number, plane in enumerate(planes):
                nearer = (plane.standing.rung < best) & bool(chosen >> number & 1)
                best[nearer], entry[nearer] = plane.standing.rung[nearer], plane.standing.entry[nearer]
            assert np.array_equal(picture_of(page), frame.colours.tables[version, entry])


def test_keys_reach_every_dot(chrome, pages):
    """One on, eight on, and to the ends of a line; never beyond the picture."""
    address, _, _ = pages("flock")
    with opened(chrome, address) as page:
        page.focus("#picture")
        for key, place in (
            ("ArrowDown", (1, 0)), ("Shift+ArrowRight", (1, 8)), ("ArrowLeft", (1, 7)), ("PageDown", (9, 7)), ("End", (9, 287)),
            ("Home", (9, 0)), ("ArrowLeft", (9, 0)), ("PageUp", (1, 0)), ("Shift+ArrowUp", (0, 0)),
        ):  # fmt: skip
            page.keyboard.press(key)
            assert page.inner_text("#dot-text").startswith(f"Line {place[0]}, dot {place[1]}:")


@pytest.mark.ci
def test_keys_reach_everything(chrome, pages):
    """Every control by Tab; frames by button, slider and strip."""
    address, _, _ = pages("saltmarsh")
    with opened(chrome, address) as page:
        page.focus("#frame-on")
        page.keyboard.press("Enter")
        until(page, "page.frame.index", 1)
        page.focus("#frame-slider")
        page.keyboard.press("ArrowRight")
        until(page, "page.frame.index", 2)
        page.focus("#frames button[data-index='0']")
        page.keyboard.press("Space")
        until(page, "page.frame.index", 0)
        assert page.get_attribute("#frames button[data-index='0']", "aria-current") == "true"
        reached = set()
        page.evaluate("document.activeElement.blur()")
        for _ in range(60):
            page.keyboard.press("Tab")
            reached.add(page.evaluate("document.activeElement.id || document.activeElement.dataset.key || ''"))
        assert {"picture", "scale", "frame-slider", "frame-play", "0", "1", "2", "sprites", "writes"} <= reached


def test_everything_has_a_name_for_those_who_listen(chrome, pages):
    """Each control has an accessible name, each table a caption, each picture words; the dot is told as it changes."""
    address, _, _ = pages("flock")
    with opened(chrome, address) as page:
        nameless = page.evaluate(
            """() => [...document.querySelectorAll('button, input, select')].filter((one) => !one.closest('[hidden]') &&
              !(one.labels && one.labels.length) && !one.textContent.trim() && !one.getAttribute('aria-label')).length"""
        )
        assert nameless == 0
        assert page.evaluate("[...document.querySelectorAll('table')].every((one) => one.caption.textContent.trim())")
        assert page.evaluate("[...document.querySelectorAll('img')].every((one) => one.alt)")
        assert page.get_attribute("#dot-text", "aria-live") == "polite"
        assert page.get_attribute("#picture", "aria-label").startswith("Frame 0 of Flock. Line 0, dot 0: ")
        assert page.evaluate("document.documentElement.lang") == "en"


def test_what_vanished_is_told_in_words_and_in_the_picture(chrome, pages):
    """The flock's drops: a row a sprite with its lines and reasons, and as marks that go away when they are not wanted."""
    address, _, frames = pages("flock")
    drops = frames[0].drops
    with opened(chrome, address) as page:
        rows = page.locator("#vanished tbody tr")
        assert rows.all_inner_texts() == [
            "lapwing_12\tlines 30 to 39\tcount: more than 12 sprites on the line\t10",
            "lapwing_13\tlines 30 to 39\tcount: more than 12 sprites on the line\t10",
            "swan_8\tlines 104 to 113\tdots: more than 256 dots of sprites on the line\t10",
        ]
        assert 3 * 10 == len(drops)
        line = int(drops["line"][0])
        page.evaluate("line => moveTo(line, 0)", line)
        assert f"({drops['reason'][0]})" in page.inner_text("#line")
        ink = "() => document.getElementById('overlay').getContext('2d').getImageData(0, 0, 576, 432).data.filter(Boolean).length"
        marked = page.evaluate(ink)
        page.uncheck("#marks input[data-key='dropped']")
        assert page.evaluate(ink) < marked


VERDICTS = {
    "fits": ("Fits", "solid"), "does not fit": ("Does not fit", "double"), "open": ("Open", "dotted"),
    "": ("No time table", "solid"),
}  # fmt: skip
"""Each verdict's word, and the edge beside it; without a time table the edge has no colour of its own."""


@pytest.mark.ci
def test_each_verdict_has_its_word_and_an_edge_of_its_own(chrome, tmp_path):
    """The shape of the edge tells them apart too; its colour stands out 3 to 1 from what is behind it (WCAG 2.2, 1.4.11)."""
    scene = vdpsim.load_scene(SCENES / "portrait.scene.toml")
    told, found = facts(scene, [0]), scene_budget(scene)
    look = """() => { const one = document.querySelector("#verdict .card"), style = getComputedStyle(one);
        const back = getComputedStyle(document.body).backgroundColor;
        return [one.querySelector("strong").textContent, style.borderLeftStyle, style.borderLeftColor, back]; }"""
    seen = {}
    (tmp_path / "v.html").write_text(page_of(told), encoding="utf-8")
    with opened(chrome, (tmp_path / "v.html").as_uri()) as page:
        for verdict, (word_of, shape) in VERDICTS.items():
            changed = replace(found, verdict=verdict) if verdict else replace(found, lines=None, cpu=None)
            still = told["still"] | {"verdict": strip(cards(changed, Totals(frames=1)))}
            page.evaluate("still => open({ ...page.facts, still }, 0)", still)  # as a page that watches gets its news
            for scheme in ("light", "dark"):
                page.emulate_media(color_scheme=scheme)
                text, edge, colour, back = page.evaluate(look)
                assert text == word_of
                assert edge == shape
                assert contrast(colour, back) >= 3
                seen.setdefault(scheme, set()).add(colour)
    assert [len(colours) for colours in seen.values()] == [4, 4]


def contrast(one, other):
    """How far two CSS colours are apart, as WCAG 2.2 reckons it."""
    lights = []
    for text in (one, other):
        parts = [int(part) / 255 for part in re.findall(r"[0-9]+", text)[:3]]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        lights.append(float(np.dot(linear, (0.2126, 0.7152, 0.0722))))
    return (max(lights) + 0.05) / (min(lights) + 0.05)


def test_a_scene_called_script_shows_as_that(chrome, tmp_path):
    """Names from the files are text wherever they stand, in a report of strangers' files too."""
    evil = '<img src=x onerror="bad=1"><script>bad=1</script>'
    text = f'name = {json.dumps(evil)}\nabout = {json.dumps(evil)}\nchip = "curlew.chip.toml"\n[[palette]]\ncolours = ["#123"]\n'
    (tmp_path / "evil.scene.toml").write_text(text, encoding="utf-8")
    chip = CURLEW.replace('name = "Curlew"', f"name = {json.dumps(evil)}")
    (tmp_path / "curlew.chip.toml").write_text(chip, encoding="utf-8")
    made = vdpsim.report_page(vdpsim.load_scene(tmp_path / "evil.scene.toml"))
    (tmp_path / "evil.html").write_text(made, encoding="utf-8")
    with opened(chrome, (tmp_path / "evil.html").as_uri()) as page:
        assert page.inner_text("h1") == f"{evil} on {evil}"
        assert page.inner_text("#scene-about") == evil
        assert page.evaluate("typeof bad") == "undefined"


def test_frames_that_flash_are_not_played(chrome, tmp_path):
    """Black and white in turns: a caution instead of the button. Frames that do not flash wait for the button too."""
    writes = "".join(
        f'[[writes]]\nframe = {n}\nline = 0\nentry = 0\ncolour = "#{"f0"[n % 2] * 3}"\n' for n in range(12)
    )
    scene = load(tmp_path, f'frames = 12\n[[palette]]\ncolours = ["#000"]\n{writes}')
    made = vdpsim.report_page(scene, range(12))
    (tmp_path / "blink.html").write_text(made, encoding="utf-8")
    with opened(chrome, (tmp_path / "blink.html").as_uri()) as page:
        assert page.is_hidden("#frame-play")
        assert "more than 3 general flashes within a second" in page.inner_text("#caution")
        assert page.evaluate("page.frame.index") == 0


def test_light_and_dark(chrome, pages):
    address, _, _ = pages("flock")
    grounds = []
    with opened(chrome, address) as page:
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            grounds.append(page.evaluate("getComputedStyle(document.body).backgroundColor"))
    assert grounds == ["rgb(251, 251, 248)", "rgb(21, 25, 26)"]


ROWS = (
    "",
    'planes = "by pattern"\ntiles = { size = [8, 8] }',
    "tiles = { size = [8, 8], stride = 3 }",
    'tiles = { size = [8, 4], order = "columns" }',
    'planes = "by row"',
    'planes = "apart"',
)
"""How patterns of sprites may lie; every run looks at the second."""


@pytest.mark.parametrize("tiles", quick(ROWS, ROWS[1].__eq__))
def test_a_sprites_row_lies_where_the_page_says(chrome, tmp_path, tiles):
    """The byte that holds a sprite's dot, in the row that the page names, has the dot's value, or bit 0 of it in plane 0; every
    dot of four sprites, which stand as they are and flipped.
    """
    head = CHIP.replace("sizes = [[8, 8], [16, 16]]", f"sizes = [[8, 8], [16, 16]]\n{tiles}")
    digits = np.random.default_rng(7).integers(1, 4, (32, 16))
    rows = [f'"{"".join(map(str, row))}"' for row in digits]
    text = f'[[patterns]]\nname = "gull"\nfor = "sprites"\nsize = [16, 16]\nrows = [{", ".join(rows)}]\n'
    places = [(0, 0, 0), (40, 3, 1), (10, 30, 0), (-5, -3, 1)]
    for number, (x, y, flip) in enumerate(places):
        more = f'size = [16, 16]\nflip_x = {flip}\npattern = "gull+{number % 2}"\n'
        text += f'[[sprites]]\nname = "s{number}"\nx = {x}\ny = {y}\n{more}'
    scene = load(tmp_path, text, head)
    (tmp_path / "tiled.html").write_text(vdpsim.report_page(scene, [0]), encoding="utf-8")
    frame, state, wide = vdpsim.render(scene), scene.state(), scene.chip.sprites.patterns[1].tile[0]
    dots = np.argwhere(frame.sprite >= 0).tolist()
    with opened(chrome, (tmp_path / "tiled.html").as_uri()) as page:
        told = page.evaluate("dots => dots.map(([line, dot]) => explain(page, line, dot).from)", dots)
    assert len(dots) > 600
    for (line, dot), said in zip(dots, told, strict=True):
        x, _, flip = places[int(frame.sprite[line, dot])]
        far = (15 - (dot - x) if flip else dot - x) % wide
        assert said["told of"] == "its record and registers as the frame begins"
        at, _, planes = said["pattern row at"].partition(", ")
        if "planes" in tiles:
            assert planes == f"first of 2 planes {scene.chip.sprites.planes}"
            byte = int(state.memory[int(at, 16) + far // 8])
            assert byte >> 7 - far % 8 & 1 == frame.indices[line, dot] & 1
            continue
        byte = int(state.memory[int(at, 16) + far // 4])
        assert byte >> 6 - far % 4 * 2 & 3 == frame.indices[line, dot]
