"""A watched scene's page and its news, served to this machine.

Law: what is served is the page and its news, to this machine alone: the server listens on the loopback address and answers no
other host's name. Whoever connects has a bounded time to ask and to take the answer, whatever they send and however slowly,
and no more than ``MOST_AT_ONCE`` are heard at once; the others are told to come again. What goes wrong with one of them is no
trouble of the others, and no word on the terminal.
"""

from __future__ import annotations

import json
import socket
import sys
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from http import HTTPStatus
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs

from ..door.shown import printable
from .page import page
from .watch import WAIT, Watched, trouble_of

MOST_AT_ONCE = 32
"""Connections that are heard at once."""

PATIENCE = 10.0
"""Seconds in which a question has to be there, and again in which its answer has to be taken."""

LOOK_AFTER = 0.25
"""Seconds between two looks at whose time is over."""

BUSY = b"HTTP/1.0 503 Service Unavailable\r\nContent-Length: 0\r\nRetry-After: 1\r\nConnection: close\r\n\r\n"


class PortError(OSError):
    """The port cannot be had."""


class PageServer(ThreadingHTTPServer):
    """Serves one Watched on the loopback address; ``port`` 0 takes any that is free. ``told`` hears of faults of our own."""

    daemon_threads = True
    block_on_close = False
    request_queue_size = 2 * MOST_AT_ONCE

    def __init__(self, watched: Watched, port: int = 0, told: Callable[[str], None] = lambda _: None) -> None:
        self.watched, self.told = watched, told
        self._until: dict[socket.socket, float] = {}
        try:
            super().__init__(("127.0.0.1", port), _Handler)
        except OSError as error:
            raise PortError(error.errno, error.strerror) from None

    @property
    def address(self) -> str:
        """Where a browser finds the page."""
        return f"http://127.0.0.1:{self.server_port}/"

    def allow(self, request: socket.socket, seconds: float) -> None:
        """Hear ``request`` for so long from now on."""
        self._until[request] = time.monotonic() + seconds

    def process_request(self, request: Any, client_address: Any) -> None:
        """Hear them in a thread of their own, where there is room."""
        if len(self._until) >= MOST_AT_ONCE:
            with suppress(OSError):
                request.settimeout(0)
                request.sendall(BUSY)
                request.recv(1 << 16)  # what is not taken would make the answer's end a reset
            self.shutdown_request(request)
            return
        self.allow(request, PATIENCE)
        super().process_request(request, client_address)

    def shutdown_request(self, request: Any) -> None:
        """The end of every connection."""
        super().shutdown_request(request)
        self._until.pop(request, None)

    def service_actions(self) -> None:
        """Again and again: end the connections whose time is over under the threads that wait for them."""
        now = time.monotonic()
        for request, until in list(self._until.items()):
            if until < now:
                with suppress(OSError):
                    request.shutdown(socket.SHUT_RDWR)

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Tell of a fault of our own. Who has gone away, or sends what nobody can answer, is none."""
        del request, client_address
        error = sys.exc_info()[1]
        if isinstance(error, Exception) and not isinstance(error, OSError):
            self.told(trouble_of(error))


class _Handler(BaseHTTPRequestHandler):
    server: PageServer
    server_version, sys_version = "watch", ""
    timeout = PATIENCE

    def do_GET(self) -> None:
        """The page, or its news."""
        if not self._is_for_us():
            return
        self.server.allow(self.connection, WAIT + PATIENCE)
        where, _, query = self.path.partition("?")  # whatever was sent: a parser of addresses refuses some
        watched = self.server.watched
        if where == "/":
            with watched.changed:
                told = {**(watched.facts or {}), "version": watched.version, "trouble": watched.trouble}
            self._answer(page(told, live=True).encode(), "text/html; charset=utf-8")
        elif where == "/news":
            after = parse_qs(query).get("after", [""])[0]
            number = int(after) if after.isascii() and after.isdigit() and len(after) < 10 else 0
            news = watched.news(number, WAIT if self.command == "GET" else 0)
            self._answer(json.dumps(news).encode(), "application/json")
        else:
            self.send_error(HTTPStatus.NOT_FOUND, "There is just the page")

    def do_HEAD(self) -> None:
        """What ``do_GET`` says before the body."""
        self.do_GET()

    def _is_for_us(self) -> bool:
        """Whether the question names this machine as its host: a page from elsewhere that found the port does not."""
        port = self.server.server_port
        if self.headers.get("Host", "") in {f"127.0.0.1:{port}", f"localhost:{port}"}:
            return True
        self.send_error(HTTPStatus.FORBIDDEN, "This is for 127.0.0.1 alone")
        return False

    def _answer(self, body: bytes, kind: str) -> None:
        self.server.allow(self.connection, PATIENCE)
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
        if self.command != "HEAD":
            self.wfile.write(body)

    def log_message(self, format: str, *args: Any) -> None:  # noqa: A002 - the library's name
        """Say nothing: what matters is told by the command."""


def serve(watched: Watched, port: int, told: Callable[[str], None]) -> None:
    """Serve until interrupted; ``told`` is given each thing worth saying. Raises PortError where the port cannot be had."""
    with PageServer(watched, port, told) as server:
        threading.Thread(
            target=server.serve_forever, kwargs={"poll_interval": LOOK_AFTER}, daemon=True, name="serve"
        ).start()
        try:
            told(f"Watching {printable(watched.path)}: {server.address} (stop with Ctrl-C)")
            version = watched.version
            while True:
                news = watched.news(version, 3600)
                if news["version"] != version:
                    version = news["version"]
                    told(f"{time.strftime('%H:%M:%S')} {news['trouble'] or 'drawn anew'}")
        finally:
            watched.stop()
            server.shutdown()
