"""A page that follows the files: it is drawn anew when the chip, the scene or its art is saved.

Law: what is served is the page and its news, to this machine alone: the server listens on the loopback address, answers no
other host's name, reads nothing but the scene's own files and writes nothing. A file that is half written, gone or wrong is
trouble that is told; the last good picture stays. Any change of a file's time or size is looked at, so that what is put right
shows at once.
"""

from __future__ import annotations

import json
import threading
import time
import tomllib
from collections.abc import Callable, Iterator
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

from ..chip.load import load_chip
from ..engine import NotInTimeError
from ..files import UnreadableError, fresh, once
from ..problems import InputError
from ..scene import Scene, load_scene
from ..toml_file import LARGEST
from .facts import facts
from .page import page

LOOK_EVERY = 0.02
"""Seconds between two looks at the files."""

WAIT = 20.0
"""Seconds that a browser's question for news waits at most."""

MOST_FILES = 1000
"""Files that are looked at."""

Signature = dict[Path, tuple[int, int, int] | None]


class Watched:
    """One scene, drawn anew whenever a file that it is made of changes.

    ``version`` counts what was drawn and what went wrong; ``facts`` are those of the last good picture, ``trouble`` says what is
    wrong with the files as they are, "" for nothing.
    """

    def __init__(self, scene: str | Path, wanted: range, chip: str | Path | None = None) -> None:
        self.path, self.wanted, self.chip = Path(scene), wanted, None if chip is None else Path(chip)
        self.version = 0
        self.facts: dict[str, Any] | None = None
        self.trouble = ""
        self.changed = threading.Condition()
        self._stop = threading.Event()
        self._files: Signature = {}
        self._names: set[Path] = set()

    def start(self) -> None:
        """Draw, and go on looking in a thread of its own. Raises InputError where there is nothing good to begin with."""
        self._files = self._look()
        self.facts = self._facts(self._load())
        self.version = 1
        threading.Thread(target=self._run, daemon=True, name="watch").start()

    def stop(self) -> None:
        """Look no more."""
        self._stop.set()

    def news(self, after: int, wait: float = WAIT) -> dict[str, Any]:
        """What there is once the version is another than ``after``, or as it is after ``wait`` seconds."""
        with self.changed:
            self.changed.wait_for(lambda: self.version != after or self._stop.is_set(), wait)
            fresh = self.version != after
            return {
                "version": self.version,
                "trouble": self.trouble,
                "facts": self.facts if fresh and not self.trouble else None,
            }

    def _run(self) -> None:
        while not self._stop.wait(LOOK_EVERY):
            files = self._look()
            if files != self._files:
                self._files = files
                self._draw()

    def _draw(self) -> None:
        found, trouble = None, ""
        try:
            found = self._facts(self._load())
        except InputError as error:
            trouble = "\n".join(str(problem) for problem in error.problems)
        except (NotInTimeError, OSError) as error:
            trouble = str(error)
        with self.changed:
            self.version += 1
            self.trouble = trouble
            self.facts = found or self.facts
            self.changed.notify_all()

    def _load(self) -> Scene:
        with once(anew=True):  # one picture is of one state of each file, and the next of another
            return load_scene(self.path, chip=None if self.chip is None else load_chip(self.chip))

    def _facts(self, scene: Scene) -> dict[str, Any]:
        return facts(scene, self.wanted)

    def _look(self) -> Signature:
        """Time, size and identity of each file that the scene is made of; None for one that is not there."""
        return {path: _stamp(path) for path in self._paths()}

    def _paths(self) -> list[Path]:
        try:
            told = tomllib.loads(fresh(self.path, LARGEST).decode("utf-8"))
        except (UnreadableError, ValueError):  # half written: the files known from before
            told = None
        if told is not None:
            found = {self.path.parent / text for text in _texts(told) if _may_be_a_file(text)}
            self._names = set(sorted(found)[:MOST_FILES])
        return [self.path, *([self.chip] if self.chip else []), *sorted(self._names)]


def _stamp(path: Path) -> tuple[int, int, int] | None:
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino


def _texts(told: Any) -> Iterator[str]:
    """Every text in a TOML file's data."""
    if isinstance(told, str):
        yield told
    elif isinstance(told, dict):
        for value in told.values():
            yield from _texts(value)
    elif isinstance(told, list):
        for value in told:
            yield from _texts(value)


def _may_be_a_file(text: str) -> bool:
    """Whether a text can be a file's name: a line with an ending, and no path from elsewhere."""
    return (
        0 < len(text) < 200 and "\n" not in text and "\0" not in text and "." in text and not Path(text).is_absolute()
    )


class Server(ThreadingHTTPServer):
    """Serves one Watched on the loopback address; ``port`` 0 takes any that is free."""

    daemon_threads = True

    def __init__(self, watched: Watched, port: int = 0) -> None:
        self.watched = watched
        super().__init__(("127.0.0.1", port), _Handler)

    @property
    def address(self) -> str:
        """Where a browser finds the page."""
        return f"http://127.0.0.1:{self.server_port}/"


class _Handler(BaseHTTPRequestHandler):
    server: Server
    server_version, sys_version = "watch", ""

    def do_GET(self) -> None:
        """The page, or its news."""
        if not self._is_for_us():
            return
        asked = urlsplit(self.path)
        watched = self.server.watched
        if asked.path == "/":
            with watched.changed:
                told = {**(watched.facts or {}), "version": watched.version, "trouble": watched.trouble}
            self._answer(page(told, live=True).encode(), "text/html; charset=utf-8")
        elif asked.path == "/news":
            after = parse_qs(asked.query).get("after", [""])[0]
            number = int(after) if after.isascii() and after.isdigit() and len(after) < 10 else 0
            self._answer(json.dumps(watched.news(number)).encode(), "application/json")
        else:
            self.send_error(HTTPStatus.NOT_FOUND, "There is just the page")

    def _is_for_us(self) -> bool:
        """Whether the question names this machine as its host: a page from elsewhere that found the port does not."""
        port = self.server.server_port
        if self.headers.get("Host", "") in {f"127.0.0.1:{port}", f"localhost:{port}"}:
            return True
        self.send_error(HTTPStatus.FORBIDDEN, "This is for 127.0.0.1 alone")
        return False

    def _answer(self, body: bytes, kind: str) -> None:
        self.send_response(HTTPStatus.OK)
        for name, value in (
            ("Content-Type", kind),
            ("Content-Length", str(len(body))),
            ("Cache-Control", "no-store"),
            ("X-Content-Type-Options", "nosniff"),
            ("Cross-Origin-Resource-Policy", "same-origin"),
        ):
            self.send_header(name, value)
        self.end_headers()
        try:
            self.wfile.write(body)
        except (BrokenPipeError, ConnectionResetError):  # the browser has gone away
            self.close_connection = True

    def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 - the library's name
        """Say nothing: what matters is told by the command."""


def serve(watched: Watched, port: int, told: Callable[[str], None]) -> None:
    """Serve until interrupted; ``told`` is given each thing worth saying. Raises OSError where the port is taken."""
    with Server(watched, port) as server:
        threading.Thread(target=server.serve_forever, daemon=True, name="serve").start()
        told(f"Watching {watched.path}: {server.address} (stop with Ctrl-C)")
        version = watched.version
        try:
            while True:
                news = watched.news(version, 3600)
                if news["version"] != version:
                    version = news["version"]
                    told(f"{time.strftime('%H:%M:%S')} {news['trouble'] or 'drawn anew'}")
        finally:
            watched.stop()
            server.shutdown()
