"""Does the page lead to what one wants to see? A dot that is kept and sent, what is missing there, registers, figures, frames."""

from __future__ import annotations

import base64
import io
from pathlib import Path

import numpy as np
import pytest
from browser import browser, opened
from PIL import Image

import vdpsim
from vdpsim.output.roles import ROLES, role_of

pytestmark = [pytest.mark.unmeasured, pytest.mark.ci]

SCENES = Path(__file__).parents[2] / "scenes"
SHOWN = {"flock": 1, "regatta": 8}
"""Scenes, and how many of their frames the pages have."""


@pytest.fixture(scope="module")
def chrome():
    with browser() as one:
        yield one


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    """The address of each scene's page, and its scene."""
    folder, found = tmp_path_factory.mktemp("places"), {}
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("vdpsim.report.facts.KEY_EVERY", 3)
        for name, count in SHOWN.items():
            scene = vdpsim.load_scene(SCENES / f"{name}.scene.toml")
            (folder / f"{name}.html").write_text(vdpsim.report_page(scene, range(count)), encoding="utf-8")
            found[name] = (folder / f"{name}.html").as_uri(), scene
    return found


@pytest.fixture
def flock(chrome, pages):
    with opened(chrome, pages["flock"][0]) as page:
        yield page


@pytest.fixture
def regatta(chrome, pages):
    with opened(chrome, pages["regatta"][0]) as page:
        yield page


def place(page):
    return page.evaluate("[page.frame.number, page.line, page.dot, page.pinned, location.hash]")


def point_at(page, line, dot, *, click=False):
    scale = page.evaluate("page.scale")
    box = page.locator("#picture").bounding_box()
    where = box["x"] + (dot + 0.5) * scale, box["y"] + (line + 0.5) * scale
    page.mouse.move(*where)
    if click:
        page.mouse.click(*where)


def until(page, what, wanted):
    """Wait until ``what`` is ``wanted``; the page's policy does not let the driver wait within it."""
    for _ in range(200):
        if page.evaluate(what) == wanted:
            return
        page.wait_for_timeout(20)
    assert page.evaluate(what) == wanted


# A dot that is kept


def test_a_click_keeps_the_dot_and_escape_lets_it_go(flock):
    point_at(flock, 35, 250, click=True)
    kept = [0, 35, 250, True, "#frame=0&line=35&dot=250"]
    assert place(flock) == kept
    point_at(flock, 100, 20)
    flock.locator("#h-dot").hover()
    assert place(flock) == kept, "on the way to the panel the dot stays"
    flock.keyboard.press("Escape")
    assert place(flock) == [0, 35, 250, False, ""]
    point_at(flock, 100, 20)
    assert place(flock) == [0, 100, 20, False, ""]
    flock.focus("#picture")
    flock.keyboard.press("Enter")
    flock.keyboard.press("ArrowRight")
    until(flock, "location.hash", "#frame=0&line=100&dot=21")
    assert place(flock)[:4] == [0, 100, 21, True]


ADDRESSES = [
    ("frame=7&line=216&dot=288", [7, 215, 287, True]),
    ("frame=8&line=1&dot=1", [0, 0, 0, False]),
    ("frame=3&line=35&dot=250", [3, 35, 250, True]),
    ("frame=x&line=-4&dot=1e9", [0, 0, 287, True]),
    ("h-budget", [0, 0, 0, False]),
]
"""What may stand behind the page's address, and where it leads."""


@pytest.mark.parametrize(("hash_of", "wanted"), ADDRESSES)
def test_an_address_leads_to_its_dot(chrome, pages, hash_of, wanted):
    """Both sides of each limit; a frame that the page has not is said to be none."""
    with opened(chrome, f"{pages['regatta'][0]}#{hash_of}") as page:
        assert place(page)[:4] == wanted
        assert ("This page has no frame 8." in page.inner_text("#loading")) is hash_of.startswith("frame=8")


def test_the_link_is_copied_or_shown(flock):
    """Where the browser lets the page write to the clipboard, and where it does not."""
    point_at(flock, 35, 250, click=True)
    flock.evaluate("navigator.clipboard.writeText = async (text) => { window.copied = text; }")
    flock.click("#copy-link")
    until(flock, "window.copied", flock.evaluate("location.href"))
    assert flock.evaluate("window.copied").endswith(".html#frame=0&line=35&dot=250")
    assert not flock.is_visible("#link")
    flock.evaluate("() => { navigator.clipboard.writeText = () => Promise.reject(new Error('no')); }")
    flock.click("#copy-link")
    flock.wait_for_selector("#link:visible")
    assert flock.input_value("#link") == flock.evaluate("location.href")


# What vanished


def test_the_verdict_leads_to_what_vanished_and_why(flock):
    """A click on the card: the dot of the first drop, kept; the panel says who would be there and why not."""
    flock.click("#verdict .bad a")
    until(flock, "page.line", 30)
    assert flock.evaluate("page.pinned")
    assert (
        "lapwing_12 stands here and is dropped on this line by count: more than 12 sprites on the line"
        in flock.inner_text("#missing")
    )
    flock.click("#vanished a:has-text('lines 104 to 113')")
    until(flock, "page.line", 104)
    assert "swan_8 stands here and is dropped on this line by dots: more than 256 dots" in flock.inner_text("#missing")


def test_who_would_be_there_is_told_at_each_dot(flock, pages):
    """Every dot of two lines: those who are dropped there and whose box holds it, and whether they would show (the chip without
    limits says who).
    """
    scene = pages["flock"][1]
    text = (SCENES / "chips" / "curlew.chip.toml").read_text(encoding="utf-8")
    text = text.replace("\nper_line = 12", "\nper_line = 64").replace("\ndots_per_line = 256", "\ndots_per_line = 2048")
    lifted = vdpsim.load_scene(scene.path, chip=vdpsim.parse_chip(text))
    stands = vdpsim.render(lifted, planes=True, damage=True).planes["sprites"].standing.sprite
    drops = vdpsim.render(scene).drops
    for line in (29, 30, 113, 114):
        gone = drops["sprite"][drops["line"] == line].tolist()
        told = flock.evaluate("line => [...Array(288).keys()].map((dot) => missingHere(page, line, dot))", line)
        for dot, here in enumerate(told):
            shows = [one["sprite"] for one in here if one["shows"]]
            assert shows == ([int(stands[line, dot])] if stands[line, dot] in gone else []), (line, dot)
        assert bool(gone) is any(told)
    flock.evaluate("moveTo(114, 0)")
    assert not flock.is_visible("#missing")


def test_hatching_covers_what_was_dropped_and_nothing_else(flock, pages):
    """With no other mark, and the dot far off: ink on no dot but those of the dropped lines' boxes."""
    scene = pages["flock"][1]
    flock.uncheck("#marks input[data-key='collisions']")
    flock.evaluate("moveTo(215, 0)")
    scale = flock.evaluate("page.scale")
    ink = picture(flock, "overlay")[..., 3].reshape(216, scale, 288, scale).any(axis=(1, 3))
    wanted = np.zeros((216, 288), bool)
    boxes = {one["number"]: one for one in flock.evaluate("page.frame.told.sprites")}
    for line, number, _ in vdpsim.render(scene).drops.tolist():
        one = boxes[number]
        wanted[line, max(0, one["x"]) : one["x"] + one["width"]] = True
    ink[208:, :16] = False  # the dot's own mark
    assert not (ink & ~wanted).any()
    assert (ink & wanted).sum() > wanted.sum() / 3


def test_a_large_palette_shows_the_rows_that_are_used(flock):
    """Up to 1,024 entries all have their place; of more, those of rows in which one shows, each in its column."""
    told = """(entries) => {
      page.chip.entries = entries;
      page.frame.tables = new Uint8Array(entries * 3);
      page.frame.version.fill(0);
      page.entries = new Uint16Array([3, 700, 700]);
      showPalette(page);
      return [...document.querySelectorAll("#palette .entry")].map((one) => [one.title.split(":")[0], one.style.gridColumn]);
    }"""
    assert len(flock.evaluate(told, 1024)) == 1024
    left = flock.evaluate(told, 1025)
    assert [int(entry) for entry, _ in left] == [*range(16), *range(688, 704)]
    assert left[3] == ["3", "5"]
    assert (
        flock.inner_text("#palette-said")
        == "2 of 1025 entries show in this frame: those with a corner. Rows without any are left out."
    )


def test_frames_in_which_something_is_lost_are_marked(regatta, pages):
    scene = pages["regatta"][1]
    gone = [len(set(frame.drops["sprite"].tolist())) for frame in vdpsim.frames(scene, range(8))]
    told = regatta.evaluate("[...document.querySelectorAll('#frames button')].map((one) => one.textContent)")
    assert told == [f"{number} ▼{count}" if count else str(number) for number, count in enumerate(gone)]
    point_at(regatta, 3, 4, click=True)
    regatta.click("#frames button[data-index='5']")
    until(regatta, "page.frame.index", 5)
    until(regatta, "document.body.dataset.shown", "5")
    assert "#frame=5&" in regatta.get_attribute("#vanished a", "href")
    until(regatta, "location.hash", "#frame=5&line=3&dot=4")


def picture(page, name):
    """A canvas' dots, uint8 (lines, dots, 4)."""
    data = page.evaluate("name => document.getElementById(name).toDataURL('image/png')", name).partition(",")[2]
    with Image.open(io.BytesIO(base64.b64decode(data))) as image:
        return np.asarray(image.convert("RGBA"))


# Registers


def test_registers_are_those_of_the_dot(chrome, pages):
    """Regatta switches the far layer off on line 191, which counts from the next: there it is marked, with its moment."""
    with opened(chrome, pages["regatta"][0] + "#frame=2&line=191&dot=5") as page:
        row = page.locator("#registers tr", has_text="far.enable").first
        until(page, "document.querySelectorAll('#registers tr').length > 20", True)
        assert row.inner_text().split() == ["0x0C", "far.enable", "1", "next", "line"]
        assert "Timed writes on line 191" in page.inner_text("#registers")
        assert page.locator("#registers tr.changed").count() == 0
        page.focus("#picture")
        page.keyboard.press("ArrowDown")
        until(page, "document.querySelectorAll('#registers tr.changed').length", 1)
        assert row.inner_text().split() == ["●", "0x0C", "far.enable", "0", "line", "192,", "dot", "0", "next", "line"]
        assert "No timed write on line 192." in page.inner_text("#registers")


def test_a_value_counts_from_its_dot_on(flock):
    """Both sides of the moment, on its line and on those beside it; of two at once the later one."""
    changes = [[3, 4, 0, "2"], [3, 9, 1, "8"], [3, 9, 1, "9"]]
    told = "([changes, line, dot]) => valuesAt(['1', '7'], changes, line, dot).map((one) => one.value)"
    for line, dot, wanted in ((2, 99, "17"), (3, 3, "17"), (3, 4, "27"), (3, 8, "27"), (3, 9, "29"), (4, 0, "29")):
        assert "".join(flock.evaluate(told, [changes, line, dot])) == wanted


# Each line's figures


def test_the_chart_says_and_draws_the_slots_of_each_line(flock, pages):
    """Each line's words are the slot log's by role; in the drawing each role's stretch has its colour, as wide as its share."""
    frame = vdpsim.render(pages["flock"][1], trace=True)
    clients = [role_of(name) for name in frame.slots.clients]
    drawn = picture(flock, "beside")[..., :3]
    place_of = flock.evaluate("page.chart")
    left, scale = flock.evaluate("CHART.left"), flock.evaluate("page.scale")
    assert place_of["most"] == 384
    for line in range(0, 216, 7):
        counts = dict.fromkeys(ROLES, 0)
        for role, count in zip(clients, frame.slots.counts[line].tolist(), strict=True):
            counts[role] += count
        parts = ", ".join(f"{role} {count}" for role, count in counts.items() if count)
        drops = int(frame.log.dropped[line])
        sprites = f"sprites {frame.log.drawn[line]} of 12, dropped {drops}"
        wanted = f"Line {line}: {parts}, idle {384 - sum(counts.values())} of 384; {sprites}."
        assert flock.evaluate("line => chartWords(page, line)", line) == wanted
        at = 0
        for role, count in counts.items():
            middle = left + (at + count / 2) * place_of["bars"] / 384
            if count > 8:
                assert drawn[line * scale + scale // 2, int(middle)].tolist() == list(ROLES[role]), (line, role)
            at += count


def test_the_chart_answers_the_pointer(flock):
    """Over the chart its line is told and shown; once a dot is kept, told alone."""
    box, scale = flock.locator("#beside").bounding_box(), flock.evaluate("page.scale")
    flock.mouse.move(box["x"] + 60, box["y"] + 34.5 * scale)
    assert flock.inner_text("#chart-said").startswith("Line 34: ")
    assert flock.evaluate("page.line") == 34
    flock.mouse.click(box["x"] + 60, box["y"] + 35.5 * scale)
    flock.mouse.move(box["x"] + 60, box["y"] + 50.5 * scale)
    assert flock.inner_text("#chart-said").startswith("Line 50: ")
    assert flock.evaluate("page.line") == 35


# Frames


def test_frames_that_are_not_wanted_any_more_are_left_out(chrome, pages):
    """All eight asked for at once: the last is shown, few are drawn, and none is unpacked twice, then or on the way back."""
    with opened(chrome, pages["regatta"][0]) as page:
        drawn = page.evaluate(
            """async () => {
              let drawn = 0;
              const draw = drawPicture;
              drawPicture = (page) => { drawn += 1; draw(page); };
              const all = [...Array(8).keys()].map((index) => goTo(index));
              await Promise.all(all);
              return [drawn, page.frame.index, page.frames.unpacked];
            }"""
        )
        assert drawn[:2] == [1, 7]
        assert drawn[2] <= 4, "the first, the one that was under way, and the last with the key frame before it"
        page.evaluate("async () => { for (let index = 7; index >= 0; index -= 1) await goTo(index); }")
        assert page.evaluate("[page.frame.index, page.frames.unpacked, page.frames.kept.size]") == [0, 8, 8]


def test_frames_that_find_no_room_are_unpacked_again(regatta, pages):
    """With room for two: no more than these and the one that is made are kept, on the way back too, and the dots stay right."""
    regatta.evaluate(
        """() => {
          const unpack = Frames.prototype.unpack;
          Frames.prototype.unpack = async function (...all) {
            const frame = await unpack.apply(this, all);
            frame.bytes = MOST_KEPT / 2;
            return frame;
          };
          page.frames = new Frames(page.facts);
        }"""
    )
    drawn = [frame.rgb for frame in vdpsim.frames(pages["regatta"][1], range(8))]
    for index in (*range(5), 3, 1):
        regatta.evaluate("index => goTo(index)", index)
        assert np.array_equal(picture(regatta, "picture")[..., :3], drawn[index]), index
        assert regatta.evaluate("page.frames.kept.size") <= 3
        assert regatta.evaluate("page.frames.bytes === page.frames.kept.size * MOST_KEPT / 2")


def test_what_takes_long_says_so(regatta):
    regatta.evaluate(
        """() => {
          const unpack = Frames.prototype.unpack;
          const late = () => new Promise((done) => setTimeout(done, 400));
          Frames.prototype.unpack = async function (...all) { await late(); return unpack.apply(this, all); };
          goTo(6);
        }"""
    )
    until(regatta, "document.getElementById('loading').textContent", "loading frame 6 ...")
    until(regatta, "page.frame.index", 6)
    regatta.wait_for_timeout(150)
    assert regatta.inner_text("#loading") == ""
    regatta.evaluate("goTo(6)")
    regatta.wait_for_timeout(150)
    assert regatta.inner_text("#loading") == "", "what was at hand never said so"


def test_nothing_plays_by_itself_and_play_stops(regatta):
    regatta.wait_for_timeout(150)
    assert regatta.evaluate("[page.frame.index, player]") == [0, 0]
    regatta.click("#frame-play")
    until(regatta, "page.frame.index > 0", True)
    regatta.click("#frame-play")
    stopped = regatta.evaluate("page.frame.index")
    regatta.wait_for_timeout(150)
    assert regatta.evaluate("page.frame.index") == stopped or regatta.evaluate("player") == 0
    assert regatta.inner_text("#frame-play") == "Play"


def test_what_is_new_takes_the_place_of_what_was(flock):
    """As a page that watches does it: the still parts are other ones, the dot stays where it was kept."""
    point_at(flock, 35, 250, click=True)
    news = """() => open({ ...page.facts, scene: { ...page.facts.scene, name: "Low <b> tide" },
      still: { verdict: "<li>later</li>", budget: "<p>less</p>" } }, 0)"""
    flock.evaluate(news)
    assert [flock.inner_text(name) for name in ("#verdict", "#budget", "h1")] == [
        "later",
        "less",
        "Low <b> tide on Curlew",
    ]
    assert place(flock) == [0, 35, 250, True, "#frame=0&line=35&dot=250"]
