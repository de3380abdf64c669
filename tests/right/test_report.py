"""What a report says without a browser: dots packed and unpacked, names that are escaped, a file or none."""

from __future__ import annotations

import base64
import itertools
import json
import re
import zlib
from html import escape
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from refusal import refused
from scenery import load
from soaked import few

import vdpsim
from vdpsim.budgets.told.verdict import verdict
from vdpsim.cli import main
from vdpsim.cli.commands import report as command
from vdpsim.report.facts import facts
from vdpsim.report.page import page, part
from vdpsim.report.planes import GUESSES, guesses, packed, unpacked

ROOT = Path(__file__).parents[2]
SCENES = ROOT / "scenes"
CURLEW = (SCENES / "chips" / "curlew.chip.toml").read_text(encoding="utf-8")


def inflated(text):
    return zlib.decompress(base64.b64decode(text), -15)


def tail_of(frame):
    """What lies behind a frame's planes: palettes, where they change, accesses, strips; whole numbers, the first of bytes."""
    data, sizes = inflated(frame["planes"]), frame["tail"]
    ends = np.cumsum([len(data) - sum(sizes), *sizes])
    parts = [data[begin:end] for begin, end in itertools.pairwise(ends.tolist())]
    return [np.frombuffer(part, "<u4" if number else np.uint8) for number, part in enumerate(parts)]


def facts_of(html):
    return json.loads(re.search(r'<script type="application/json" id="facts">(.*?)</script>', html, re.DOTALL)[1])


@settings(max_examples=60)
@given(st.data())
def test_planes_come_back(data):
    """Any stacks, two frames of them, the second guessed from the first or told whole."""
    lines, dots = data.draw(st.integers(1, 12)), data.draw(st.integers(9, 24))
    depths = data.draw(st.lists(st.integers(1, 3), min_size=1, max_size=3))
    random = np.random.default_rng(data.draw(st.integers(0, 2**32)))
    first = [random.integers(0, 4, (depth, lines, dots), np.uint8) for depth in depths]
    moved = [np.roll(stack, data.draw(st.integers(-9, 9)), axis=2) for stack in first]
    second = [stack ^ (random.random(stack.shape) < 0.1).astype(np.uint8) for stack in moved]
    for before in (None, first):
        again = unpacked(packed(second, before), depths, (lines, dots), before)
        assert all(np.array_equal(one, other) for one, other in zip(second, again, strict=True))


@pytest.mark.parametrize(("dots", "lines"), GUESSES)
def test_each_motion_within_reach_is_guessed(dots, lines):
    """A picture of which each line and each dot is another, moved: the guess is the way back, and nothing is left to tell."""
    before = np.random.default_rng(1).integers(0, 256, (30, 40), np.uint8)
    now = np.roll(before, (-lines, -dots), axis=(0, 1))
    found = [GUESSES[number] for number in guesses(before, now)][10:20]
    assert found == [(dots, lines)] * 10


def test_what_moves_is_told_in_little():
    """The saltmarsh scrolls: a frame that is guessed takes less than a fifth of a whole one."""
    told = facts(vdpsim.load_scene(SCENES / "saltmarsh.scene.toml"), range(3))["frames"]
    assert len(told[1]["planes"]) < len(told[0]["planes"]) / 5


def test_every_count_is_the_frames_own():
    """Fetches, sprites, drops, collisions and slots in the page are those of the frame that Python draws."""
    scene = vdpsim.load_scene(SCENES / "flock.scene.toml")
    told = facts(scene, [0])
    frame = vdpsim.render(scene, trace=True)
    of_frame = json.loads(inflated(told["frames"][0]["facts"]))
    tail = tail_of(told["frames"][0])
    counts = tail[2].reshape(-1, len(of_frame["countClients"]))
    assert of_frame["countClients"] == list(frame.slots.clients)
    assert np.array_equal(counts, frame.slots.counts[: frame.height])
    assert np.array_equal(counts[:, : len(frame.log.clients)], frame.log.counts)
    assert of_frame["found"] == frame.log.found.tolist()
    assert of_frame["drops"] == [list(drop) for drop in frame.drops.tolist()]
    assert of_frame["collisions"] == [list(one) for one in frame.collisions.tolist()]
    numbers = tail[3]
    strips = np.frombuffer(inflated(told["strips"]), np.uint8).reshape(-1, frame.slots.per_line)[numbers]
    assert np.array_equal((strips != 255).sum(axis=1), frame.slots.used)
    for client in range(len(frame.slots.clients)):
        assert np.array_equal((strips == client).sum(axis=1), frame.slots.counts[:, client])


def test_names_are_escaped(tmp_path):
    """A scene called ``</script><script>`` is its title and its facts, and no script."""
    evil = "</script><script>alert(1)</script> & <b>"
    scene = vdpsim.load_scene(_scene(tmp_path, evil))
    html = vdpsim.report_page(scene)
    assert html.count("<script") == 2  # the facts and the page's own
    assert "<title>&lt;/script&gt;&lt;script&gt;alert(1)&lt;/script&gt; &amp; &lt;b&gt; on Curlew</title>" in html
    assert facts_of(html)["scene"]["name"] == evil


def test_braces_in_names_stay(tmp_path):
    """What looks like a place in the page's form is left alone."""
    scene = vdpsim.load_scene(_scene(tmp_path, "{script} {facts} {title}"))
    assert facts_of(vdpsim.report_page(scene))["scene"]["name"] == "{script} {facts} {title}"


def _scene(folder, name):
    text = f'name = {json.dumps(name)}\nabout = "x"\nchip = "curlew.chip.toml"\n[[palette]]\ncolours = ["#123"]\n'
    (folder / "one.scene.toml").write_text(text, encoding="utf-8")
    (folder / "curlew.chip.toml").write_text(CURLEW, encoding="utf-8")
    return folder / "one.scene.toml"


def test_the_page_points_nowhere():
    """No address of a network, and a policy that allows none."""
    told = facts(vdpsim.load_scene(SCENES / "saltmarsh.scene.toml"), [0])
    html = page(told)
    assert not re.search(r"https?://|//[a-z]+\.[a-z]", re.sub(r'id="facts">.*?</script>', "", html, flags=re.DOTALL))
    policy = re.search(r'Content-Security-Policy" content="([^"]*)"', html)[1]
    assert policy == "default-src 'none'; img-src data:; style-src 'unsafe-inline'; script-src 'unsafe-inline'"
    assert "fetch(" not in html
    assert "connect-src 'self'" in page(told, live=True)


def _luminance(colour):
    """WCAG 2.x relative luminance of ``#rrggbb``."""
    codes = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    light = [code / 12.92 if code <= 0.04045 else ((code + 0.055) / 1.055) ** 2.4 for code in codes]
    return 0.2126 * light[0] + 0.7152 * light[1] + 0.0722 * light[2]


def _contrast(one, other):
    low, high = sorted([_luminance(one), _luminance(other)])
    return (high + 0.05) / (low + 0.05)


def test_contrast_by_the_published_values():
    """Black and white 21; #767676 on white 4.5422 and #777777 4.4781 (WCAG 2.x, relative luminance and contrast ratio)."""
    for colour, wanted in (("#000000", 21.0), ("#767676", 4.5422), ("#777777", 4.4781), ("#949494", 3.0335)):
        assert _contrast(colour, "#ffffff") == pytest.approx(wanted, abs=5e-5)


@pytest.mark.parametrize("scheme", [0, 1])
def test_text_and_edges_can_be_told_from_what_they_stand_on(scheme):
    """WCAG 2.2, 1.4.3 and 1.4.11: 4.5 for text, 3 for edges and marks, light and dark."""
    found = re.findall(r":root \{([^}]*)\}", part("page.css"))[scheme]
    colours = dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{6})", found))
    for ground in ("back", "panel"):
        for text in ("text", "faint", "mark"):
            assert _contrast(colours[text], colours[ground]) >= 4.5, (text, ground)
        assert _contrast(colours["edge"], colours[ground]) >= 3
    assert _contrast(colours["warn"], colours["warn-back"]) >= 4.5


def test_no_frame_is_no_report():
    with refused(ValueError, "a report needs a frame at least, got none"):
        vdpsim.report_page(vdpsim.load_scene(SCENES / "saltmarsh.scene.toml"), [])


def test_a_chip_without_time_or_sprites_has_a_page_too():
    """The portrait's far picture on a chip without a time table: no slots, and the budget says so."""
    untimed = re.sub(r"\n\[time\].*?\n(?=\[cpu\])", "\n", CURLEW, flags=re.DOTALL)
    chip = vdpsim.parse_chip(untimed.replace("accesses_per_dot = 1", ""))
    told = facts(vdpsim.load_scene(SCENES / "portrait.scene.toml", chip=chip), [0])
    assert told["chip"]["perLine"] == 0
    assert told["frames"][0]["tail"][3] == 0
    assert "No time table" in told["still"]["verdict"]
    assert "has no time table" in told["still"]["budget"]


BUDGETED = [("ferry", "dunlin"), ("saltmarsh", "curlew"), ("tideline", "sanderling")]


@pytest.mark.parametrize(("name", "chip"), few(BUDGETED, BUDGETED[:1].__contains__))
def test_the_budget_is_told_by_its_word_and_in_sentences(name, chip):
    scene = vdpsim.load_scene(SCENES / f"{name}.scene.toml", chip=vdpsim.load_chip(SCENES / f"chips/{chip}.chip.toml"))
    told, found = facts(scene, [0])["still"], vdpsim.budget(scene.chip, scene, [0])
    assert "<strong>Fits</strong>" in told["verdict"]
    assert found.verdict == "fits"
    assert escape(verdict(found)) in told["budget"]


def test_the_command_writes_one_file(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(["report", str(SCENES / "dusk.scene.toml"), "--frames", "0:8:4", "-o", "dusk.html"]) == 0
    told = facts_of(Path("dusk.html").read_text(encoding="utf-8"))
    assert [frame["number"] for frame in told["frames"]] == [0, 4]
    assert (
        main(
            [
                "report",
                str(SCENES / "ferry.scene.toml"),
                "--chip",
                str(SCENES / "chips" / "dunlin.chip.toml"),
                "-o",
                "d.html",
            ]
        )
        == 0
    )
    assert facts_of(Path("d.html").read_text(encoding="utf-8"))["chip"]["name"] == "Dunlin"


def test_progress_is_shown_on_a_terminal_and_the_page_is_the_same(tmp_path, monkeypatch, capsys):
    load(tmp_path, "")
    (scene,) = tmp_path.glob("*.scene.toml")
    assert main(["report", str(scene), "-o", str(tmp_path / "a.html")]) == 0
    assert not capsys.readouterr().err
    monkeypatch.setattr(command, "FEW", 1)
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("TERM", "xterm")
    assert main(["report", str(scene), "-o", str(tmp_path / "b.html")]) == 0
    assert "drawing" in capsys.readouterr().err
    assert (tmp_path / "a.html").read_bytes() == (tmp_path / "b.html").read_bytes()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["no.scene.toml", "-o", "x.html"], "no.scene.toml: cannot be read"),
        ([str(SCENES / "dusk.scene.toml"), "-o", "x.pdf"], "must end in .html, got x.pdf"),
        ([str(SCENES / "dusk.scene.toml")], "required: -o"),
        ([str(SCENES / "dusk.scene.toml"), "-o", "x.html", "--frames", "3:3"], "A below B"),
    ],
)
def test_what_is_wrong_is_told_and_nothing_written(tmp_path, monkeypatch, capsys, words, told):
    monkeypatch.chdir(tmp_path)
    assert main(["report", *words]) == 2
    assert told in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
