"""Does the pytest plugin find scenes, record only what passed, and leave what failed where it says?

Each case is a folder of tests of its own, run by pytest in this process, or in one of its own where what is loaded matters.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

import vdpsim.handoff.verifying.told.words
import vdpsim.report.page
import vdpsim.shipped.files
import vdpsim.testing.claims.frames
import vdpsim.testing.fixtures  # noqa: F401 - a run in this process forgets what it has loaded, and numpy cannot be loaded twice

pytest_plugins = ["pytester"]

ROOT = Path(__file__).resolve().parents[2]
OURS = ("-p", "no:vdpsim", "-p", "vdpsim.testing.plugin", "-p", "no:cacheprovider", "-p", "no:cov")
"""The plugin by its module, whether or not the package is installed so that pytest finds it by itself."""


@pytest.fixture
def suite(pytester, monkeypatch):
    """A function that runs a text of tests, with the shipped scenes as its root's."""
    (pytester.path / "scenes").symlink_to(ROOT / "scenes")
    pytester.makeini("[pytest]\naddopts = --strict-markers\nfilterwarnings = error")

    def run(text, *words):
        pytester.makepyfile(test_it=f"import pytest\nfrom vdpsim.testing import *\n{text}")
        return pytester.runpytest_inprocess(*OURS, *words)

    return run


def recorded(pytester):
    """The frames that were recorded."""
    return sorted({path.name.split(".")[0] for path in pytester.path.glob("frames/*")})


FIXTURES = '''
LITTLE = """name = "Dew"
chip = "curlew.chip.toml"
"""

def test_by_name_and_by_path(scene):
    frame = scene("flock").frame(0)
    assert_sprites(frame).on_every_line().at_most(12)
    assert_same(scene("scenes/flock.scene.toml").frame(0), frame)
    assert scene("ferry", chip="dunlin").chip.name == "Dunlin"
    assert len(scene("flock").every_frame()) == 1

@pytest.mark.vdpsim(scene="flock", chip="curlew")
class TestMarked:
    def test_its_scene(self, scene, machine, chip):
        assert (scene().name, chip().name, machine().chip.name) == ("Flock", "Curlew", "Curlew")
        assert scene(LITTLE).name == "Dew" and scene({"name": "Dusk"}).text.startswith('name = "Dusk"')

    @pytest.mark.vdpsim(scene="dusk")
    def test_the_nearest_mark_wins(self, scene):
        assert (scene().name, scene().chip.name) == ("Dusk", "Curlew")

def test_by_shipped_name(scene, chip):
    assert_same(scene("curlew:flock").frame(0), scene("flock").frame(0))
    with pytest.raises(ValueError, match="is a scene of another chip: say curlew:ferry, with chip='dunlin'"):
        scene("dunlin:ferry")

def test_machines(machine, scene):
    assert machine("curlew").frame().height == 216
    assert_same(machine(scene("flock")).frame(), scene("flock").frame())

def test_what_is_a_chip_or_a_scene_already(chip, scene):
    curlew, flock = chip("curlew"), scene("flock")
    assert chip(curlew) is curlew and scene(flock) is flock
    data = {**curlew.model_dump(mode="json", exclude_unset=True, by_alias=True), "name": "Whimbrel"}
    assert (chip(data).name, chip(chip_text(curlew)).name) == ("Whimbrel", "Curlew")
    with pytest.raises(ValueError, match="'heron' is no shipped name, and no file, with or without .chip.toml"):
        chip("heron")

@pytest.mark.vdpsim(scene="flock")
def test_a_machine_of_the_markers_scene(machine, scene):
    found = machine()
    assert (found.chip.name, found.state.line) == ("Curlew", 0)
    assert_same(found.frame(), scene().frame())

def test_what_is_not_there(scene, chip):
    with pytest.raises(ValueError, match="'heron' is no shipped name, and no file, with or without .scene.toml, in any of"):
        scene("heron")
    with pytest.raises(ValueError, match="say which chip"):
        chip()

@pytest.mark.vdpsim(scenes="flock")
def test_a_wrong_mark(request):
    with pytest.raises(ValueError, match="takes scene= and chip=, got scenes"):
        request.getfixturevalue("scene")
'''


def test_fixtures(suite):
    suite(FIXTURES).assert_outcomes(passed=9)


RECORDING = """
@pytest.fixture
def frame(scene):
    return scene("flock").frame(0)

def test_holds(frame):
    assert_frame(frame, "holds")

def test_fails_softly_elsewhere(frame):
    with soft():
        assert_frame(frame, "not_softly")
        assert_sprites(frame).on_every_line().at_most(11)

def test_fails_later(frame):
    assert_frame(frame, "not_later")
    assert_sprite(frame, "lapwing_12").never_dropped()

@pytest.mark.xfail(strict=True)
def test_fails_as_it_should(frame):
    assert_frame(frame, "not_failing")
    assert False

def test_skips(frame):
    assert_frame(frame, "not_skipped")
    pytest.skip()

def test_another_has_the_name(scene):
    assert_frame(scene("dusk").frame(0), "holds")

def test_two_under_one_name(frame, scene):
    assert_frame(frame, "two")
    with pytest.raises(ValueError, match="two would be recorded twice"):
        assert_frame(scene("dusk").frame(0), "two")
"""


def test_frames_are_recorded_only_where_they_are_asked_for_and_their_test_holds(suite, pytester):
    result = suite(RECORDING, "-k", "holds")
    result.assert_outcomes(failed=1, deselected=6)
    result.stdout.fnmatch_lines(["*nothing is recorded under that name: record it with --update-frames"])
    assert not recorded(pytester)
    result = suite(RECORDING, "--update-frames")
    result.assert_outcomes(passed=2, failed=3, xfailed=1, skipped=1)
    result.stdout.fnmatch_lines(
        ["*holds is recorded already, otherwise, by test_it.py::test_holds*", "*frames/holds: .png, .palette.csv*"]
    )
    assert recorded(pytester) == ["holds", "two"]
    result = suite(RECORDING, "-k", "holds", "--update-frames")
    assert "recorded frames" not in result.stdout.str()
    suite(RECORDING, "-k", "holds").assert_outcomes(passed=1, deselected=6)


LEFT = """
@pytest.mark.parametrize("name", ["a/b", "a_b"])
def test_left(scene, name):
    frame = scene("flock").frame(0)
    assert_source(frame, line=35, dot=250).shows("sprites")

def test_unfinished(scene):
    assert_sprites(scene("flock").frame(0)).on_every_line()
"""


@pytest.mark.parametrize("words", [(), pytest.param(("-n", "2"), marks=pytest.mark.soak)])
def test_what_fails_leaves_a_folder_for_each_test(suite, pytester, words):
    """Two tests whose names become one text have a folder each within the given one; so too where two workers run them."""
    result = suite(LEFT, *words, "--frame-failures", "left")
    result.assert_outcomes(failed=3)
    result.stdout.fnmatch_lines(["*begun and asked nothing: a check of sprites drawn on every line*"])
    pages = sorted(pytester.path.glob("left/*/*/page.html"))
    assert len(pages) == len({path.parents[1] for path in pages}) == 2
    for page in pages:
        assert f"left: {page}" in result.stdout.str()
        assert sorted(path.name for path in page.parent.iterdir()) == ["actual.png", "page.html", "where.png"]
    result = suite(LEFT, "-k", "test_left")
    (line, *_) = [line for line in result.stdout.lines if "left: " in line]
    assert Path(line.partition("left: ")[2]).is_file()
    assert "vdpsim-failures" in line


IDLE = """
import sys
def test_idle():
    heavy = {"numpy", "PIL", "pydantic", "hypothesis"} & {name.partition(".")[0] for name in sys.modules}
    rooms = {name for name in sys.modules if name.startswith("vdpsim.")} - {
        "vdpsim.version", "vdpsim.door", "vdpsim.door.lazy", "vdpsim.door.given", "vdpsim.door.shown",
        "vdpsim.testing", "vdpsim.testing.plugin", "vdpsim.testing.using",
    }
    assert not heavy and not rooms
"""


def test_it_is_idle_where_nothing_of_it_is_used(tmp_path):
    (tmp_path / "test_idle.py").write_text(IDLE, "utf-8")
    words = [sys.executable, "-m", "pytest", "-q", *OURS[:-2], "-p", "no:hypothesispytest", tmp_path]
    done = subprocess.run(words, capture_output=True, text=True, cwd=tmp_path, check=False)
    assert done.returncode == 0, done.stdout
