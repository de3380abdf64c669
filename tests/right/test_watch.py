"""Does the watcher follow its files, and serve nobody but this machine? Saves, half-written files, and what others may ask."""

from __future__ import annotations

import http.client
import json
import re
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from collections import Counter
from contextlib import contextmanager
from pathlib import Path

import pytest
from browser import browser, opened
from faults import heeded

from vdpsim import InputError, NotInTimeError, Problem
from vdpsim.cli import main
from vdpsim.files import reading
from vdpsim.report import watch
from vdpsim.report.server import PageServer
from vdpsim.report.watch import Watched

ROOT = Path(__file__).parents[2]
PATIENCE = 10.0
"""Seconds that a test waits for what should come in a fraction of one."""


@pytest.fixture
def place(tmp_path):
    """A copy of the shipped scenes to be changed."""
    shutil.copytree(ROOT / "scenes", tmp_path / "scenes")
    return tmp_path / "scenes"


@pytest.fixture
def watched(place):
    one = Watched(place / "saltmarsh.scene.toml", range(1))
    one.start()
    yield one
    one.stop()


@contextmanager
def served(watched):
    with PageServer(watched) as one:
        threading.Thread(target=one.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True).start()
        yield one
        one.shutdown()


@pytest.fixture
def server(watched):
    with served(watched) as one:
        yield one


@pytest.fixture(scope="module")
def steady():
    """A server of a shipped scene, whose files nobody changes."""
    watched = Watched(ROOT / "scenes" / "saltmarsh.scene.toml", range(1))
    watched.start()
    with served(watched) as one:
        yield one
    watched.stop()


def after(watched, version):
    """The news after ``version``; there have to be some."""
    found = watched.news(version, PATIENCE)
    assert found["version"] != version
    return found


def changed(watched, path, change):
    """The news that come of a change of ``path``'s text."""
    version = watched.version
    path.write_text(change(path.read_text(encoding="utf-8")), encoding="utf-8")
    return after(watched, version)


def asked(server, path, host=None, method="GET"):
    """Status, headers and body of an answer."""
    link = http.client.HTTPConnection("127.0.0.1", server.server_port, timeout=PATIENCE)
    link.putrequest(method, path, skip_host=True)
    link.putheader("Host", f"127.0.0.1:{server.server_port}" if host is None else host)
    link.endheaders()
    answer = link.getresponse()
    return answer.status, dict(answer.getheaders()), answer.read()


def test_scene_chip_and_art_are_followed(place, watched):
    """A save of each of the three is drawn; the chip in another folder, the art named in the scene."""
    first = watched.facts["frames"][0]["planes"]
    told = changed(
        watched, place / "saltmarsh.scene.toml", lambda text: text.replace('name = "Saltmarsh"', 'name = "Other"')
    )
    assert told["facts"]["scene"]["name"] == "Other"
    told = changed(
        watched, place / "chips" / "curlew.chip.toml", lambda text: text.replace('name = "Curlew"', 'name = "Whimbrel"')
    )
    assert told["facts"]["chip"]["name"] == "Whimbrel"
    version = watched.version
    art = place / "art" / "saltmarsh-far.png"
    shutil.copy(place / "art" / "saltmarsh-near.png", place / "art" / "new.png")
    (place / "art" / "new.png").replace(art)  # as editors save: another file under the same name
    told = after(watched, version)
    assert told["trouble"] or told["facts"]["frames"][0]["planes"] != first


def test_a_file_is_followed_whatever_its_name_and_where_its_link_leads(place):
    """A name without a dot; a link that leads elsewhere from now on; the scene's folder by another name."""
    art, scene = place / "art", place / "saltmarsh.scene.toml"
    (art / "far").write_bytes((art / "saltmarsh-far.png").read_bytes())
    (art / "near").symlink_to("saltmarsh-near.png")
    text = (
        scene.read_text("utf-8")
        .replace("art/saltmarsh-far.png", "art/far")
        .replace("art/saltmarsh-near.png", "art/near")
    )
    scene.write_text(text, "utf-8")
    (place.parent / "alias").symlink_to(place)
    one = Watched(place.parent / "alias" / scene.name, range(1))
    one.start()
    try:
        version = one.version
        (art / "far").write_bytes(b"no picture")
        told = after(one, version)
        assert "art/far is no PNG file" in told["trouble"]
        (art / "far").write_bytes((art / "saltmarsh-far.png").read_bytes())
        while told["trouble"]:
            told = after(one, told["version"])
        (art / "new").symlink_to("gone.png")
        (art / "new").replace(art / "near")
        assert "near' cannot be read" in after(one, told["version"])["trouble"]
    finally:
        one.stop()


def counted(monkeypatch, module, name):
    """What the function of that name is asked for from now on."""
    asked, real = [], getattr(module, name)

    def noted(what):
        asked.append(what)
        return real(what)

    monkeypatch.setattr(module, name, noted)
    return asked


def beside(place, names):
    """Those of the files that lie in ``place``: watchers of other tests may be there still."""
    return [name for name in names if Path(name).is_relative_to(place)]


def test_an_idle_watcher_reads_nothing_and_looks_a_few_times_a_second(place, monkeypatch):
    """Counted, as a share of a core is the machine's: one look at each name in ``LOOK_EVERY`` seconds, and no parsing."""
    looks, reads = counted(monkeypatch, watch, "seen_at"), counted(monkeypatch, reading, "opened")
    one = Watched(place / "saltmarsh.scene.toml", range(1))
    one.start()
    first = beside(place, reads)
    assert len(first) == len(set(first)) > 2
    reads.clear()
    began = time.monotonic()
    time.sleep(0.6)
    one.stop()
    most = (time.monotonic() - began) / watch.LOOK_EVERY + 1
    assert not beside(place, reads)
    assert set(beside(place, looks)) == set(one._files)
    assert all(0 < count <= most for count in Counter(beside(place, looks)).values())


def test_very_many_files_are_looked_at_less_often(watched, monkeypatch):
    """A look that takes long is waited for ``SHARE`` times as long, so that following them is idling too."""
    slow = watched._files | {f"{watched.path}{number}": None for number in range(20_000)}
    watched._files = slow
    looks = counted(monkeypatch, watch, "seen_at")
    time.sleep(0.8)
    assert 0 < len(looks) < 2 * len(slow) + 1


def test_half_written_and_deleted_files_are_trouble_and_then_none(place, watched):
    """Each state is told with its place; the last good picture stays, and comes back when the file is whole again."""
    path = place / "saltmarsh.scene.toml"
    text = path.read_text(encoding="utf-8")
    good = watched.facts
    told = changed(watched, path, lambda whole: whole[:300] + '\nabout = "')
    assert told["facts"] is None
    assert re.search(r"saltmarsh\.scene\.toml(:\d+)?: ", told["trouble"])
    assert watched.facts is good
    version = watched.version
    path.unlink()
    assert "cannot be read" in after(watched, version)["trouble"]
    version = watched.version
    path.write_text(text, encoding="utf-8")
    told = after(watched, version)
    while told["trouble"]:  # it may have been seen before all of it was there
        told = after(watched, told["version"])
    assert told["facts"]["scene"]["name"] == "Saltmarsh"


def test_a_missing_picture_is_seen_when_it_comes(place, watched):
    art = place / "art" / "saltmarsh-far.png"
    data, version = art.read_bytes(), watched.version
    art.unlink()
    told = after(watched, version)
    assert "saltmarsh-far.png" in told["trouble"]
    art.write_bytes(data)
    told = after(watched, told["version"])
    while told["trouble"]:
        told = after(watched, told["version"])
    assert told["facts"]


def test_no_news_is_told_in_time(watched):
    told = watched.news(watched.version, 0.05)
    assert told == {"version": watched.version, "trouble": "", "facts": None}


def test_a_scene_that_is_wrong_from_the_start_is_told(tmp_path, capsys):
    assert main(["watch", str(tmp_path / "no.scene.toml")]) == 2
    assert "no.scene.toml: cannot be read" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("error", "told"),
    [
        (
            InputError([Problem("a.toml", 3, "x", "is wrong"), Problem("b.toml", 0, "", "is no file")]),
            "a.toml:3: x: is wrong\nb.toml: is no file",
        ),
        (NotInTimeError("line 3: too late"), "line 3: too late"),
        (PermissionError(13, "Permission denied"), "cannot be read: [Errno 13] Permission denied"),
        (MemoryError(), "there is not enough memory to draw it"),
        (KeyError("reed"), "a fault of vdpsim itself, please report it: KeyError: 'reed'"),
    ],
)  # fmt: skip
def test_each_trouble_is_told_in_its_words(error, told):
    assert watch.trouble_of(error) == told


def test_the_page_and_its_news_and_nothing_else(steady):
    """No file of the folder, no way up, no other method."""
    status, headers, body = asked(steady, "/")
    assert (status, headers["Content-Type"]) == (200, "text/html; charset=utf-8")
    assert b"Saltmarsh on Curlew" in body
    assert b"connect-src 'self'" in body
    status, headers, body = asked(steady, "/news?after=0")
    assert (status, headers["Content-Type"]) == (200, "application/json")
    assert json.loads(body)["facts"]["scene"]["name"] == "Saltmarsh"
    assert headers["Cache-Control"] == "no-store"
    for path in (
        "/saltmarsh.scene.toml",
        "/../saltmarsh.scene.toml",
        "/%2e%2e/",
        "/favicon.ico",
        "//etc/passwd",
        "/news/",
    ):
        assert asked(steady, path)[0] == 404, path
    for method in ("POST", "PUT", "DELETE"):
        assert asked(steady, "/", method=method)[0] == 501
    assert json.loads(asked(steady, "/news?after=x")[2])["version"] == json.loads(body)["version"]


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:80", "", "127.0.0.1", "127.0.0.1:1", "localhost.evil.example"]
)
def test_another_hosts_name_is_refused(steady, host):
    """A page from elsewhere whose name was pointed at this machine gets nothing."""
    status, _, body = asked(steady, "/", host=host)
    assert status == 403
    assert b"Saltmarsh" not in body


def test_localhost_is_this_machine(steady):
    assert asked(steady, "/", host=f"localhost:{steady.server_port}")[0] == 200


def test_it_listens_on_the_loopback_address_alone(steady):
    assert steady.server_address[0] == "127.0.0.1"


def test_a_port_that_is_taken_is_told(place, capsys):
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert main(["watch", str(place / "saltmarsh.scene.toml"), "--port", str(port)]) == 2
    assert f"port {port} cannot be used" in capsys.readouterr().err


@pytest.mark.parametrize("port", ["80", "65536", "x"])
def test_what_no_port_is(capsys, port):
    assert main(["watch", "x.scene.toml", "--port", port]) == 2
    assert "must be 1024 to 65535" in capsys.readouterr().err


@pytest.mark.ci
def test_the_browser_shows_what_is_saved_and_what_is_wrong(place, server):
    """A save is drawn without a word from the reader; trouble lies over the last good picture and goes away again."""
    path = place / "saltmarsh.scene.toml"
    text = path.read_text(encoding="utf-8")
    with browser() as chrome, opened(chrome, server.address) as page:
        page.focus("#picture")
        page.keyboard.press("ArrowDown")
        path.write_text(text.replace('name = "Saltmarsh"', 'name = "Samphire"'), encoding="utf-8")
        page.wait_for_selector("h1:text-is('Samphire on Curlew')")
        assert page.inner_text("#dot-text").startswith("Line 1, dot 0:")
        path.write_text(text + "\n[[", encoding="utf-8")
        page.wait_for_selector("#trouble:visible")
        assert "saltmarsh.scene.toml:" in page.inner_text("#trouble")
        assert page.inner_text("h1") == "Samphire on Curlew"
        path.write_text(text, encoding="utf-8")
        page.wait_for_selector("h1:text-is('Saltmarsh on Curlew')")
        page.wait_for_selector("#trouble", state="hidden")


def test_the_command_says_where_and_stops_when_told(place):
    words = [sys.executable, "-m", "vdpsim", "watch", str(place / "saltmarsh.scene.toml")]
    pipe = subprocess.PIPE
    with heeded(), subprocess.Popen(words, stdout=pipe, stderr=pipe, text=True) as process:
        first = process.stdout.readline()
        assert re.search(r"http://127\.0\.0\.1:\d+/ \(stop with Ctrl-C\)", first)
        time.sleep(0.1)
        process.send_signal(signal.SIGINT)
        assert process.wait(PATIENCE) == 130
        assert "vdpsim: interrupted" in process.stderr.read()
