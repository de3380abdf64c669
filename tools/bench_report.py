"""Rows about pages: a report against a plain frame, a long one's size, opening and playing, and from a save to the new picture.

Law: a page is opened by Debian's chromium without a window. Where there is none the row is not measured.
"""

from __future__ import annotations

import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from statistics import median
from typing import Any

from bench_measure import ROUNDS, NotMeasured, ratio, row

import vdpsim
from vdpsim.report.watch import Watched

ROOT = Path(__file__).resolve().parents[1]
SCENE = ROOT / "scenes" / "saltmarsh.scene.toml"
LONG = 300
"""Frames of a long page."""


@row("report of one frame / the frame and its PNG", 12)
def _report() -> float:
    scene = vdpsim.load_scene(SCENE)
    return ratio(lambda _: vdpsim.report_page(scene), lambda _: vdpsim.render(scene).png(), ROUNDS // 4)


@cache
def _long() -> str:
    return vdpsim.report_page(vdpsim.load_scene(SCENE), range(LONG))


@row(f"page of {LONG} frames, its size", 8, "MB")
def _size() -> float:
    return len(_long().encode()) / 1e6


@contextmanager
def _browser() -> Iterator[Any]:
    """Chromium without a window; the row is not measured where there is none."""
    chromium = shutil.which("chromium")
    try:
        from playwright.sync_api import sync_playwright  # noqa: PLC0415 - the other rows go without it
    except ImportError:
        chromium = None
    if chromium is None:
        raise NotMeasured("it wants playwright, of the test extra, and chromium: apt-get install chromium")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as works:
        path = Path(folder, "long.html")
        path.write_text(_long(), encoding="utf-8")
        browser = works.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        yield browser, path.as_uri()
        browser.close()


@row(f"page of {LONG} frames, until it is open", 2, "s")
def _opens() -> float:
    spent = []
    with _browser() as (browser, address):
        for _ in range(3):
            page = browser.new_page()
            begin = time.perf_counter()
            page.goto(address)
            page.wait_for_selector("body[data-ready=yes]")
            spent.append(time.perf_counter() - begin)
            page.close()
    return median(spent)


EACH = """async () => {
  const spent = [];
  for (let index = 0; index < 100; index += 1) {
    const begin = performance.now();
    await goTo(index, { playing: true });
    spent.push(performance.now() - begin);
  }
  return spent;
}"""
"""The first hundred frames one after the other, each unpacked and drawn, as when they are played: milliseconds of each."""


@row("a frame of a page that is played, unpacked and drawn", 0.02, "s")
def _plays() -> float:
    with _browser() as (browser, address):
        page = browser.new_page()
        page.goto(address)
        page.wait_for_selector("body[data-ready=yes]")
        spent: list[float] = page.evaluate(EACH)
        return median(spent) / 1000


@row("from a save to the picture that a browser is sent", 0.25, "s")
def _saved() -> float:
    with tempfile.TemporaryDirectory() as folder:
        shutil.copytree(ROOT / "scenes", Path(folder, "scenes"))
        path = Path(folder, "scenes", SCENE.name)
        text = path.read_text(encoding="utf-8")
        watched = Watched(path, range(1))
        watched.start()
        spent = []
        for number in range(8):
            version = watched.version
            begin = time.perf_counter()
            path.write_text(text.replace('about = "', f'about = "{number} '), encoding="utf-8")
            assert watched.news(version, 10)["facts"]
            spent.append(time.perf_counter() - begin)
        watched.stop()
    return median(spent)
