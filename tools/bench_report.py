"""Rows about pages: a report against a plain frame, a long one's size and opening, and from a save to the new picture.

Law: a page is opened by Debian's chromium without a window. Where there is none the row is not measured.
"""

from __future__ import annotations

import shutil
import tempfile
import time
from functools import cache
from pathlib import Path
from statistics import median

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


@row(f"page of {LONG} frames, until it is open", 2, "s")
def _opens() -> float:
    chromium = shutil.which("chromium")
    try:
        from playwright.sync_api import sync_playwright  # noqa: PLC0415 - the other rows go without it
    except ImportError:
        chromium = None
    if chromium is None:
        raise NotMeasured("it wants playwright, of the test extra, and chromium: apt-get install chromium")
    spent = []
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as works:
        path = Path(folder, "long.html")
        path.write_text(_long(), encoding="utf-8")
        browser = works.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        for _ in range(3):
            page = browser.new_page()
            begin = time.perf_counter()
            page.goto(path.as_uri())
            page.wait_for_selector("body[data-ready=yes]")
            spent.append(time.perf_counter() - begin)
            page.close()
        browser.close()
    return median(spent)


@row("a watcher that idles, its share of a core", 1, "%")
def _idles() -> float:
    watched = Watched(SCENE, range(1))
    watched.start()
    spent, begin = time.process_time(), time.perf_counter()
    time.sleep(4)
    spent, took = time.process_time() - spent, time.perf_counter() - begin
    watched.stop()
    return 100 * spent / took


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
