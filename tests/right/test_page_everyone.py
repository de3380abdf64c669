"""Can everyone read the page? Without scripts, on small and large screens, by touch, light and dark, by the rules of axe-core."""

from __future__ import annotations

import base64
import io
import re
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest
from browser import browser, missing, opened
from PIL import Image

import vdpsim

pytestmark = [pytest.mark.unmeasured, pytest.mark.ci]

SCENES = Path(__file__).parents[2] / "scenes"
WIDTHS = {"phone": (390, 844), "laptop": (1280, 800), "desk": (1920, 1080)}


@pytest.fixture(scope="module")
def chrome():
    with browser() as one:
        yield one


@pytest.fixture(scope="module")
def regatta(tmp_path_factory):
    """The address of a page of three frames in which sprites vanish and collide, and their scene."""
    scene = vdpsim.load_scene(SCENES / "regatta.scene.toml")
    path = tmp_path_factory.mktemp("everyone") / "regatta.html"
    path.write_text(vdpsim.report_page(scene, range(3)), encoding="utf-8")
    return path.as_uri(), scene


def viewport(name):
    return dict(zip(("width", "height"), WIDTHS[name], strict=True))


@pytest.fixture(scope="module")
def rules():
    """The text of axe-core, which comes with a package of the test extra."""
    found = find_spec("axe_playwright_python")
    if found is None or found.origin is None:
        missing("axe-playwright-python, of the test extra,")
    return Path(found.origin).with_name("axe.min.js").read_text(encoding="utf-8")


def objections(page):
    """What axe-core says against the page: the rule, and where."""
    run = "axe.run({ resultTypes: ['violations'] })"
    return page.evaluate(
        f"async () => (await {run}).violations.map((one) => [one.id, one.nodes.map((each) => each.html)])"
    )


def test_axe_finds_nothing_to_object_to(chrome, regatta, rules):
    """At three widths, with a dot kept at which a sprite is missing; light and dark where all shows; with all that is folded too.

    No width has colours of its own, and no scheme another arrangement: each is tried, but not each with each.
    """
    with opened(chrome, regatta[0] + "#frame=1&line=50&dot=250") as page:
        page.evaluate(rules)
        for width, scheme in zip(WIDTHS, ("dark", "light", "dark"), strict=True):
            page.set_viewport_size(viewport(width))
            page.emulate_media(color_scheme=scheme)
            assert objections(page) == [], (width, scheme)
        page.emulate_media(color_scheme="light")
        page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
        assert objections(page) == []


def test_axe_sees_what_is_wrong(chrome, regatta, rules):
    """Both faults that the page once had, planted: a box that scrolls and cannot be reached, and faint text."""
    with opened(chrome, regatta[0]) as page:
        page.evaluate(rules)
        page.evaluate(
            """() => {
              document.getElementById("scroller").removeAttribute("tabindex");
              document.getElementById("scroller").style.width = "100px";
              document.getElementById("picture").removeAttribute("tabindex");
              document.getElementById("scene-about").style.color = "#aaa";
            }"""
        )
        assert {"color-contrast", "scrollable-region-focusable"} <= {rule for rule, _ in objections(page)}


def test_without_scripts_the_page_still_says_it(chrome, regatta):
    """The first frame dot by dot, the verdict, what vanished, memory and budget; and no heading over nothing."""
    address, scene = regatta
    made = chrome.new_context(java_script_enabled=False, viewport=viewport("laptop"))
    page = made.new_page()
    page.goto(address)
    assert page.locator("#verdict li").count() == 5
    assert "3 sprites vanish" in page.inner_text("#verdict")
    assert "dots: more than 256 dots of sprites on the line" in page.inner_text("#vanished")
    assert "Curlew fits: proved for every line" in page.inner_text("#budget")
    assert "near.tiles.patterns" in page.inner_text("#memory")
    data = page.get_attribute("#bare-picture", "src").partition(",")[2]
    with Image.open(io.BytesIO(base64.b64decode(data))) as image:
        assert np.array_equal(np.asarray(image.convert("RGB")), vdpsim.render(scene, 0).rgb)
    assert page.locator("#bare-picture").bounding_box()["width"] == 2 * 288
    page.set_viewport_size(viewport("phone"))
    assert page.locator("#bare-picture").bounding_box()["width"] == 288
    for one in page.locator("section:visible").all():
        lines = [line for line in one.inner_text().splitlines() if line.strip()]
        assert len(lines) > 1, lines
    assert page.locator("button:visible, input:visible, select:visible, canvas:visible:not(#overlay)").count() == 0
    made.close()


def test_on_a_phone_the_whole_picture_shows_and_touch_moves_the_dot(chrome, regatta):
    """One column, nothing that sticks out sideways, the picture as large as fits; a touch keeps the dot under it."""
    address, _ = regatta
    with opened(chrome, address, viewport=viewport("phone"), has_touch=True) as page:
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        box = page.locator("#picture").bounding_box()
        assert (box["width"], box["height"]) == (288, 216)
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= 390
        page.touchscreen.tap(box["x"] + 100.5, box["y"] + 50.5)
        assert page.evaluate("[page.line, page.dot, page.pinned]") == [50, 100, True]
        above = [
            page.locator(name).bounding_box()["y"]
            for name in ("#verdict", "#picture", "#h-dot", "#h-line", "#h-vanished")
        ]
        assert above == sorted(above)


@pytest.mark.parametrize(("width", "scale"), [("laptop", 2), ("desk", 3)])
def test_the_picture_is_as_large_as_fits_beside_its_lines(chrome, regatta, width, scale):
    """A whole number of times; picture, verdict, the dot's panel and the whole chart are there before anyone scrolls."""
    with opened(chrome, regatta[0], viewport=viewport(width)) as page:
        assert page.evaluate("page.scale") == scale
        edge = WIDTHS[width]
        for name in ("#verdict", "#picture", "#beside", "#dot-text"):
            box = page.locator(name).bounding_box()
            assert box["x"] + box["width"] <= edge[0]
            assert box["y"] < edge[1]
        whole, shown = page.evaluate(
            "[document.getElementById('scroller').scrollWidth, document.getElementById('scroller').clientWidth]"
        )
        assert whole <= shown


def test_a_size_that_was_chosen_is_remembered(chrome, regatta):
    made = chrome.new_context(viewport=viewport("desk"))
    page = made.new_page()
    for chosen, before, after in (("2", 3, 2), ("0", 2, 3)):
        page.goto(regatta[0])
        page.wait_for_selector("body[data-ready=yes]")
        assert page.evaluate("page.scale") == before
        page.select_option("#scale", chosen)
        assert page.evaluate("page.scale") == after
    made.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_chart_stands_on_the_pages_own_ground(chrome, regatta, scheme):
    """Its axes are ink of the theme, 3 to 1 from what is behind them at least; nothing is painted where no slot was used."""
    with opened(chrome, regatta[0], color_scheme=scheme) as page:
        limit, idle, ground = page.evaluate(
            """() => {
              const pen = document.getElementById("beside").getContext("2d");
              const at = (x, y) => [...pen.getImageData(x, y, 1, 1).data];
              const { left } = CHART, { bars } = page.chart;
              const style = getComputedStyle(document.querySelector(".stage")).backgroundColor;
              return [at(left + bars, 10), at(left + bars - 8, 10), style];
            }"""
        )
        back = [int(part) for part in re.findall(r"\d+", ground)[:3]]
        assert idle[3] == 0
        assert limit[3] == 255
        assert sum(abs(one - other) for one, other in zip(limit, back, strict=False)) > 300
