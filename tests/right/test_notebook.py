"""Does everything show itself in a notebook, with names as text, and is nothing larger than a screen?"""

from __future__ import annotations

import base64
import importlib.util
import io
import json
import subprocess
import sys
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from paper import TILES, small_chip
from PIL import Image
from refusal import refused
from scenery import TIMED, load

import vdpsim
from vdpsim import art, examples
from vdpsim.notebook.pieces import LONGEST, MOST_COLUMNS, MOST_ROWS, MOST_SWATCHES, swatches, table
from vdpsim.notebook.plots import HATCHES
from vdpsim.output.roles import ROLES
from vdpsim.shipped.files import scene_named

TOUR = Path(examples.__file__).parent / "tour.ipynb"
HOSTILE = '<b onload="x">&amp;</td>'
TAGS = {"div", "b", "table", "thead", "tbody", "tr", "th", "td", "span", "img"}


class Shown(HTMLParser):
    """What stands in HTML: its tags, its texts, its rows and its pictures; a tag that is left open is a fault."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags, self.open, self.texts, self.attributes = set(), [], [], set()
        self.rows, self.pictures = 0, []
        self.feed(html)
        self.close()
        assert not self.open

    def handle_starttag(self, tag, attrs):
        """Note it."""
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}
        self.rows += tag == "tr"
        if tag == "img":
            data = dict(attrs)["src"].removeprefix("data:image/png;base64,")
            self.pictures.append(Image.open(io.BytesIO(base64.b64decode(data, validate=True))).size)
        else:
            self.open.append(tag)

    def handle_endtag(self, tag):
        """It has to be the one that is open."""
        assert self.open.pop() == tag

    def handle_data(self, data):
        """Note it."""
        self.texts.append(data)


@pytest.fixture(scope="module")
def scene(tmp_path_factory):
    """A chip with one of everything, whose names are not what a page would like."""
    chip = TIMED.replace('"Reedling"', f"'{HOSTILE}'")
    rows = ["1" * 8] * 8
    wren = f'[[patterns]]\nname = "wren"\nfor = "sprites"\nrows = {rows}\n'
    sprite = '[[sprites]]\nname = "a"\npattern = "wren"\nx = 20\ny = 8\n'
    return load(tmp_path_factory.mktemp("scene"), wren + sprite, chip)


@pytest.fixture(scope="module")
def frame(scene):
    return vdpsim.render(scene, trace=True, damage=True)


@pytest.fixture(scope="module")
def drawn():
    """A frame of a shipped scene, with its slots."""
    return vdpsim.render(vdpsim.load_scene(scene_named("curlew:slipway")[0].path), trace=True)


@pytest.fixture(scope="module")
def things(scene, frame):
    """Whatever shows itself as HTML."""
    machine = vdpsim.Machine.of(scene)
    fitted = art.fit(Image.new("RGB", (16, 8), (40, 90, 200)), scene.chip, layer="near")
    with_another = scene.chip.model_copy(update={"name": "Other"})
    return {
        "scene": scene,
        "chip": scene.chip,
        "log": frame.log,
        "slots": frame.slots,
        "budget": vdpsim.budget(scene.chip),
        "comparison": vdpsim.compare([scene.chip, with_another], scene.path),
        "sweep": vdpsim.sweep(scene.chip, {"sprites.count": [1, 2]}, jobs=1),
        "machine": machine,
        "registers": machine.registers,
        "sprites": machine.sprites,
        "palette": machine.palette,
        "fitted": fitted,
    }


NAMES = [
    "scene",
    "chip",
    "log",
    "slots",
    "budget",
    "comparison",
    "sweep",
    "machine",
    "registers",
    "sprites",
    "palette",
    "fitted",
]


@pytest.mark.parametrize("name", NAMES)
def test_a_thing_shows_itself_with_foreign_names_as_text(things, name):
    """No tag and no attribute of a name's own; what names the chip does so letter by letter."""
    found = Shown(things[name]._repr_html_())
    assert found.tags <= TAGS and found.attributes <= {"style", "title", "src", "alt"}
    assert found.rows <= 3 * (MOST_ROWS + 1)
    assert (HOSTILE in "".join(found.texts)) == (name not in {"log", "slots", "palette"})
    assert len(found.pictures) == (name in {"comparison", "scene"}) + 2 * (name == "fitted")


@pytest.mark.parametrize("name", [*NAMES, "frame"])
def test_a_thing_has_a_short_name_for_itself(things, frame, name):
    told = repr({**things, "frame": frame}[name])
    assert "\n" not in told or name == "palette"
    assert len(told) < (400 if name == "palette" else 120)


def test_a_table_says_what_it_leaves_out():
    """So many rows and columns and one more of each; a long text is cut."""
    whole = table(["a"] * MOST_COLUMNS, [[1] * MOST_COLUMNS] * MOST_ROWS)
    assert "more" not in whole
    assert Shown(whole).rows == 1 + MOST_ROWS
    cut = Shown(table(["a"] * (MOST_COLUMNS + 1), [["x" * (LONGEST + 1)] * (MOST_COLUMNS + 1)] * (MOST_ROWS + 1)))
    assert cut.rows == 1 + MOST_ROWS
    assert cut.texts[-2:] == ["and 1 more", "and 1 more columns"]
    assert max(map(len, cut.texts)) == LONGEST
    assert "more" not in swatches([("", (0, 0, 0))] * MOST_SWATCHES)
    assert "and 1 more" in swatches([("", (0, 0, 0))] * (MOST_SWATCHES + 1))


def test_the_tables_have_the_logs_numbers(drawn):
    told = Shown(drawn.log._repr_html_()).texts
    for name, count in drawn.log.by_client.items():
        assert told[told.index(name) + 1] == f"{count:,}"
    told = Shown(drawn.slots._repr_html_()).texts
    for name, count in drawn.slots.by_client.items():
        assert told[told.index(name) + 1] == f"{count:,}"


def test_a_palette_is_an_array_and_shows_the_chips_colours(scene):
    """Entry 1 is 0xF80: 255, 136 and 0 of 8 bits each. What is set in it is set; a part of it is numbers again."""
    machine = vdpsim.Machine.of(scene)
    machine.palette[1] = 0xF80
    assert machine.state.palette[1] == 0xF80
    assert 'title="1: 0xF80, #ff8800"' in machine.palette._repr_html_()
    assert "background: rgb(255, 136, 0)" in machine.palette._repr_html_()
    assert machine.palette[:4]._repr_html_() is None and (machine.palette + 1)._repr_html_() is None
    assert type(np.asarray(machine.palette)) is np.ndarray


def test_a_log_says_only_what_it_has(drawn):
    """Of no lines no share and no line with most; of a chip without sprites nothing of these."""
    empty = vdpsim.Log(("a",), *[np.zeros((0, 1), int)] + [np.zeros(0, int)] * 2)
    assert Shown(empty._repr_html_()).texts == [
        "no lines",
        "client",
        "fetches",
        "share",
        "most on a line",
        "a",
        "0",
        "0",
    ]
    bare = vdpsim.Machine(small_chip(TILES))
    told = "".join(Shown(bare.frame().log._repr_html_()).texts)
    assert "most on one line: " in told and "sprites" not in told
    assert "sprites, counted on each line: " in drawn.log._repr_html_()
    assert Shown(bare.sprites._repr_html_()).texts == [repr(bare.sprites)[1:-1]]
    assert "sprites" not in Shown(bare._repr_html_()).texts[1]


def test_chips_are_compared_without_a_scene_too():
    found = vdpsim.compare([small_chip(TILES), small_chip(TILES).model_copy(update={"name": "Other"})])
    shown = Shown(found._repr_html_())
    assert shown.pictures == []
    assert "Other" in "".join(shown.texts)


def test_fitted_sprites_show_their_images(scene):
    """A bird of 8 x 8 dots: one picture of how it looks, one of its images."""
    sheet = Image.new("RGBA", (16, 8))
    sheet.paste((255, 136, 0, 255), (0, 0, 8, 8))
    fitted = art.fit_sprites(sheet, scene.chip, (8, 8))
    told = Shown(fitted._repr_html_())
    assert "1 images of 8 x 8: values 0 (black) to 1 (white)" in "".join(told.texts)
    assert len(told.pictures) == 2


def test_fitted_glyphs_show_their_sheet_and_what_became_of_the_font(scene):
    """Two of three dots of a side, in the chip's cells of 6 x 8."""
    glyphs = {number: np.eye(3, dtype=bool) for number in (65, 66)}
    told = Shown(art.fit_glyphs(art.Font((3, 3), glyphs, True, ("it is small",)), scene.chip)._repr_html_())
    assert told.pictures
    assert "it is small" in told.texts
    assert told.rows == 1 + len(art.fit_glyphs(art.Font((3, 3), glyphs, True, ()), scene.chip).rows())


def test_a_sprite_beyond_the_memory_is_shown_as_that(tmp_path):
    chip = TIMED.replace('table = "chip"', 'table = "memory"')
    machine = vdpsim.Machine(load(tmp_path, "", chip).chip)
    machine.registers["sprites.table"] = 8192 - 6
    assert "lies beyond the memory" in machine.sprites._repr_html_()


def test_a_frame_is_the_array_of_its_colours(frame):
    """uint8, height x width x 3; as another kind of number it is a copy, which numpy's ``copy=False`` must refuse."""
    dots = np.asarray(frame)
    assert (dots.shape, dots.dtype.name) == ((64, 64, 3), "uint8")
    assert dots is frame.rgb
    assert np.array(frame) is not frame.rgb and np.array_equal(np.array(frame), frame.rgb)
    assert np.asarray(frame, np.float32).dtype == np.float32
    with refused(ValueError, "as float32 it must be copied"):
        frame.__array__(np.float32, copy=False)
    assert frame.__array__(copy=True) is not frame.rgb


def test_logs_are_columns_by_name(drawn):
    """The same numbers as the rows; of no lines no numbers. With its slots, each line has all of them."""
    columns = drawn.log.to_dict()
    assert tuple(columns) == drawn.log.columns
    assert list(zip(*columns.values(), strict=True)) == drawn.log.rows()
    assert json.loads(json.dumps(columns)) == columns
    slots = drawn.slots.to_dict()
    assert slots["line"] == list(range(312))
    assert {sum(row) for row in zip(*(slots[name] for name in slots if name != "line"), strict=True)} == {384}
    assert vdpsim.Log(("a",), *[np.zeros((0, 1), int)] + [np.zeros(0, int)] * 2).to_dict()["a"] == []


def test_pandas_takes_a_log_as_it_is(drawn):
    pandas = pytest.importorskip("pandas", reason="pandas is in the test extra")
    found = pandas.DataFrame(drawn.log.to_dict())
    assert found["total"].sum() == drawn.log.total
    assert found.shape == (216, len(drawn.log.columns))


def test_a_plot_stacks_the_clients_in_the_colours_of_their_roles(drawn):
    """The most first; the second of a role is hatched; the areas end at the totals."""
    pytest.importorskip("matplotlib", reason="matplotlib is in the extra plot").use("agg")
    axes = drawn.slots.plot()
    names = [label for label in axes.get_legend_handles_labels()[1] if not label.startswith("slots of")]
    counts = {name: count for name, count in drawn.slots.by_client.items() if count}
    assert names == sorted(counts, key=lambda name: -counts[name])
    areas = dict(zip(names, axes.collections, strict=True))
    assert areas["refresh"].get_facecolor()[0][:3] == pytest.approx([part / 255 for part in ROLES["refresh"]])
    tops = max(path.vertices[:, 1].max() for area in axes.collections for path in area.get_paths())
    assert tops == drawn.slots.used.max()
    assert len({area.get_hatch() for area in areas.values()}) > 1
    assert drawn.log.plot(axes) is axes
    assert len(set(HATCHES)) == len(HATCHES)
    axes.figure.clear()


def test_a_plot_of_lines_on_which_nothing_was_fetched_is_empty(drawn):
    """Lines below the picture, say; those of a frame of a chip without slots are the same."""
    pytest.importorskip("matplotlib", reason="matplotlib is in the extra plot").use("agg")
    log = replace(drawn.log, counts=np.zeros_like(drawn.log.counts))
    axes = log.plot()
    assert (len(axes.collections), axes.get_legend(), axes.get_xlabel()) == (0, None, "line")
    axes.figure.clear()


def test_a_plot_without_matplotlib_says_what_to_install(frame, monkeypatch):
    monkeypatch.setitem(sys.modules, "matplotlib", None)
    for log in (frame.log, frame.slots):
        with refused(ImportError, r"needs matplotlib, which is not installed: pip install 'vdpsim\[plot\]'"):
            log.plot()


def test_what_is_not_looked_at_loads_no_notebook():
    """Drawing a frame loads none of the room's modules; asking for HTML loads no matplotlib."""
    words = (
        "import sys, vdpsim; from vdpsim.shipped.files import scene_named as named;"
        "frame = vdpsim.render(vdpsim.load_scene(named('curlew:slipway')[0].path));"
        "assert not [name for name in sys.modules if name.startswith('vdpsim.notebook')];"
        "frame.log._repr_html_(); assert 'matplotlib' not in sys.modules"
    )
    subprocess.run([sys.executable, "-c", words], check=True)


@pytest.mark.ci
@pytest.mark.skipif(importlib.util.find_spec("nbclient") is None, reason="nbclient is in the test extra")
def test_the_shipped_notebook_runs(tmp_path, monkeypatch):
    """Each cell that ends in a thing shows it; what is shipped has no output of an older run."""
    import nbclient  # noqa: PLC0415 - as above
    import nbformat  # noqa: PLC0415

    monkeypatch.setenv("IPYTHONDIR", str(tmp_path))
    notebook = nbformat.read(TOUR, 4)
    nbformat.validate(notebook)
    cells = [cell for cell in notebook.cells if cell.cell_type == "code"]
    assert not any(cell.outputs or cell.execution_count for cell in cells)
    nbclient.NotebookClient(notebook, timeout=300, kernel_name="python3").execute(cwd=tmp_path)
    kinds = [{kind for output in cell.outputs for kind in output.get("data", {})} for cell in cells]
    assert all(kinds)
    assert sum("text/html" in each for each in kinds) == 9
    assert sum("image/png" in each and "text/html" not in each for each in kinds) == 4
