"""Does the watcher live through whatever its files hold, and its server through whoever connects? Raw sockets, broken files."""

from __future__ import annotations

import http.client
import os
import socket
import struct
import threading
import time
from contextlib import ExitStack, suppress

import pytest
from scenery import load

from vdpsim.report import server as serving
from vdpsim.report import watch
from vdpsim.report.server import PageServer
from vdpsim.report.watch import Watched

PATIENCE = 20.0
"""Seconds that a test waits for what should come in a fraction of one."""


@pytest.fixture
def place(tmp_path):
    """A folder with a small scene to be changed."""
    load(tmp_path, "")
    return tmp_path


@pytest.fixture
def watched(place):
    one = Watched(place / "test.scene.toml", range(1))
    one.start()
    yield one
    one.stop()


@pytest.fixture
def server(watched, monkeypatch):
    """A server that loses patience soon; ``told`` is what it told of faults."""
    monkeypatch.setattr(serving, "PATIENCE", 0.6)
    monkeypatch.setattr(serving._Handler, "timeout", 0.6)
    told = []
    with PageServer(watched, told=told.append) as one:
        one.faults = told
        threading.Thread(target=one.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True).start()
        yield one
        one.shutdown()


def connected(server):
    return socket.create_connection(("127.0.0.1", server.server_port), timeout=PATIENCE)


def answers(server):
    """Whether the page can be had."""
    link = http.client.HTTPConnection("127.0.0.1", server.server_port, timeout=PATIENCE)
    link.request("GET", "/")
    answer = link.getresponse()
    return answer.status == 200 and b"Reedling" in answer.read()


def ended(link):
    """What is left to be read until the other side ends the connection, which it has to."""
    found = b""
    try:
        while data := link.recv(1 << 16):
            found += data
    except ConnectionResetError:
        pass
    return found


def told_until(watched, good):
    """The first news that ``good`` says yes to."""
    version, until = watched.version - 1, time.monotonic() + PATIENCE
    while time.monotonic() < until:
        news = watched.news(version, 0.2)
        if good(news):
            return news
        version = news["version"]
    raise AssertionError(news)


@pytest.mark.parametrize(
    ("broken", "words"),
    [
        ("[" * 3000, "nested too deeply"),
        ("a." * 5000 + "b = 1", "nested too deeply"),
        ("a = 1" + "0" * 5000, "is not TOML"),
        ("\x00", "is not TOML"),
        ("", "chip: is missing"),
    ],
)
def test_whatever_a_scene_holds_the_watcher_outlives_it(place, watched, broken, words):
    path = place / "test.scene.toml"
    text = path.read_text("utf-8")
    path.write_text(broken, "utf-8")
    told_until(watched, lambda news: words in news["trouble"])
    path.write_text(text.replace('name = "Test"', 'name = "Mended"'), "utf-8")
    told_until(watched, lambda news: not news["trouble"])
    assert watched.facts["scene"]["name"] == "Mended"


@pytest.mark.parametrize(
    "error", [RecursionError("deep"), TypeError("ours"), MemoryError(), OSError(5, "Input/output error")]
)
@pytest.mark.parametrize("step", ["facts", "seen_at", "load_scene"])
def test_a_fault_of_our_own_is_told_and_outlived(place, watched, monkeypatch, error, step):
    """Where it draws, where it looks, and before it has opened any file: those from before are followed still."""
    path = place / "test.scene.toml"

    def faulty(*_words, **_named):
        raise error

    with monkeypatch.context() as patch:
        patch.setattr(watch, step, faulty)
        path.write_text(path.read_text("utf-8") + "\n", "utf-8")
        told = told_until(watched, lambda news: news["trouble"])["trouble"]
        assert any(words in told for words in ("a fault of vdpsim itself", "not enough memory", "cannot be read"))
    path.write_text(path.read_text("utf-8") + "\n", "utf-8")
    told_until(watched, lambda news: not news["trouble"])


def test_a_scene_that_becomes_a_fifo_holds_nobody_up(place, watched):
    path = place / "test.scene.toml"
    text = path.read_text("utf-8")
    path.unlink()
    os.mkfifo(path)
    told_until(watched, lambda news: "no regular file" in news["trouble"])
    path.unlink()
    path.write_text(text, "utf-8")
    told_until(watched, lambda news: not news["trouble"])


SENT = [b"", b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\nA: ", b"G", b"GET / HTTP/1.1\r\n"]


def test_who_does_not_finish_the_question_is_cut_off(server):
    """Four at once, each of whom has said another part of it."""
    with ExitStack() as stack:
        links = [stack.enter_context(connected(server)) for _ in SENT]
        for link, sent in zip(links, SENT, strict=True):
            link.sendall(sent)
        for link in links:
            ended(link)
    assert answers(server)
    assert server.faults == []


def test_who_sends_a_letter_now_and_then_is_cut_off_too(server):
    """Each letter comes in time; the question does not."""
    begun = time.monotonic()
    with connected(server) as link, suppress(BrokenPipeError, ConnectionResetError):
        while time.monotonic() - begun < PATIENCE:
            link.sendall(b"A")
            time.sleep(0.1)
    assert time.monotonic() - begun < PATIENCE
    assert answers(server)


def test_who_does_not_take_the_answer_is_cut_off(server, watched):
    watched.facts["scene"]["about"] = "x" * (32 << 20)
    with connected(server) as link:
        link.sendall(f"GET / HTTP/1.1\r\nHost: 127.0.0.1:{server.server_port}\r\n\r\n".encode())
        until = time.monotonic() + PATIENCE
        while server._until and time.monotonic() < until:
            time.sleep(0.05)
        assert not server._until
    watched.facts["scene"]["about"] = ""
    assert answers(server)
    assert server.faults == []


def test_a_connection_that_is_reset_is_no_word(server, capfd):
    for sent in (
        b"",
        b"GET / HTTP/1.1\r\n",
        f"GET / HTTP/1.1\r\nHost: 127.0.0.1:{server.server_port}\r\n\r\n".encode(),
    ):
        link = connected(server)
        link.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        link.sendall(sent)
        link.close()
    assert answers(server)
    time.sleep(0.2)
    assert capfd.readouterr().err == ""
    assert server.faults == []


def test_so_many_are_heard_at_once_and_the_others_come_again(server, monkeypatch):
    before = threading.active_count()
    with ExitStack() as stack:
        links = [stack.enter_context(connected(server)) for _ in range(serving.MOST_AT_ONCE + 10)]
        busy = [link for link in links[-10:] if ended(link).startswith(b"HTTP/1.0 503 ")]
        assert len(busy) == 10
        assert threading.active_count() - before <= serving.MOST_AT_ONCE
    until = time.monotonic() + PATIENCE
    while server._until and time.monotonic() < until:
        time.sleep(0.05)
    assert answers(server)


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        (b"GET /" + b"a" * 70_000 + b" HTTP/1.1\r\n\r\n", b"414"),
        (b"GET / HTTP/1.1\r\nA: " + b"a" * 70_000 + b"\r\n\r\n", b"431"),
        (b"GET / HTTP/1.1\r\n" + b"A: a\r\n" * 200 + b"\r\n", b"431"),
        (b"GET / HTTP/9.9\r\n\r\n", b"505"),
        (b"\xff\xfe\x00\r\n\r\n", b"400"),
        (b"POST / HTTP/1.1\r\nHost: x\r\n\r\n", b"501"),
        (b"BREW / HTTP/1.1\r\nHost: x\r\n\r\n", b"501"),
        (b"HEAD / HTTP/1.1\r\nHost: x\r\n\r\n", b"403"),
    ],
)
def test_what_cannot_be_answered_gets_its_number(server, sent, status):
    """By RFC 9110, section 15."""
    with connected(server) as link:
        link.sendall(sent)
        told = ended(link)  # before a version is known, the library answers with the page alone
    assert told.split(b" ")[1] == status or b"Error code: " + status in told
    assert answers(server)


@pytest.mark.parametrize("target", [b"//[", b"http://[::1", b"/\xff?\xfe", b"*", b"?", b"/news?after=%ff&&=&after"])
def test_a_target_that_is_no_address_is_no_fault(server, capfd, target):
    with connected(server) as link:
        link.sendall(b"HEAD %s HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n\r\n" % (target, link.getpeername()[1]))
        told = ended(link)
    assert told.split(b" ")[1] in {b"200", b"404", b"400"}
    assert capfd.readouterr().err == ""


def test_the_head_is_the_answer_without_its_body(server):
    """RFC 9110, section 9.3.2."""
    with connected(server) as link:
        link.sendall(f"HEAD / HTTP/1.1\r\nHost: 127.0.0.1:{server.server_port}\r\n\r\n".encode())
        head, _, body = ended(link).partition(b"\r\n\r\n")
    assert head.startswith(b"HTTP/1.0 200 OK\r\n")
    assert b"Content-Length: " in head
    assert body == b""


def test_a_fault_of_the_page_is_told(server, monkeypatch):
    def faulty(*_words, **_options):
        raise TypeError("ours")

    monkeypatch.setattr(serving, "page", faulty)
    with connected(server) as link:
        link.sendall(f"GET / HTTP/1.1\r\nHost: 127.0.0.1:{server.server_port}\r\n\r\n".encode())
        ended(link)
    assert server.faults == ["a fault of vdpsim itself, please report it: TypeError: ours"]


def test_it_stops_promptly_while_others_hold_on(watched):
    with PageServer(watched) as one, ExitStack() as stack:
        thread = threading.Thread(target=one.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
        thread.start()
        for _ in range(5):
            link = stack.enter_context(connected(one))
            link.sendall(f"GET /news?after=1 HTTP/1.1\r\nHost: 127.0.0.1:{one.server_port}\r\n\r\n".encode())
        stack.enter_context(connected(one))
        time.sleep(0.2)
        begun = time.monotonic()
        watched.stop()
        one.shutdown()
        one.server_close()
        assert time.monotonic() - begun < 2
