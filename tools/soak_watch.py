"""The watcher under siege: its files broken and mended at random while strangers send it rubbish.

Law: one case is one server process. After each mending a browser must get the mended page within ``PATIENCE`` seconds, whatever
others do meanwhile; the process must stay small, say nothing of its insides, and stop promptly when it is told to.
"""

from __future__ import annotations

import os
import re
import shutil
import signal
import socket
import struct
import subprocess
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from random import Random

from soak_bytes import bend_bytes
from soak_files import ROOT
from soak_guard import FaultError, Limits, step, took
from soak_run import MEMORY, PYTHON, STATUSES

LIMITS = Limits(wall=240.0, memory=None)
PATIENCE = 10.0
"""Seconds in which a mended page must be there, and the process gone when it is stopped."""

THREADS = 64
ROUNDS = 5
SCENES = ("saltmarsh", "ferry", "flock", "portrait")


# What happens to the files


def _empty(_: Random, path: Path) -> None:
    path.write_bytes(b"")


def _bent(random: Random, path: Path) -> None:
    path.write_bytes(bend_bytes(random, path.read_bytes()))


def _gone(_: Random, path: Path) -> None:
    path.unlink()


def _pipe(_: Random, path: Path) -> None:
    path.unlink()
    os.mkfifo(path)


def _folder(_: Random, path: Path) -> None:
    path.unlink()
    path.mkdir()


def _device(random: Random, path: Path) -> None:
    path.unlink()
    path.symlink_to(random.choice(("/dev/zero", "/dev/full", "/dev/tty", path.name)))


def _huge(random: Random, path: Path) -> None:
    with open(path, "r+b") as file:
        file.truncate(random.choice((9 << 20, 1 << 30, 1 << 40)))


def _deep(random: Random, path: Path) -> None:
    path.write_text(
        "a = " + "[" * 5000 + "]" * 5000 if random.randrange(2) else "a" + ".a" * 5000 + " = 1", encoding="utf-8"
    )


HURTS: tuple[Callable[[Random, Path], None], ...] = (_empty, _bent, _bent, _gone, _pipe, _folder, _device, _huge, _deep)


def _mend(path: Path, data: bytes) -> None:
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path)
    new = path.with_name("new.file")
    new.write_bytes(data)
    new.replace(path)


# What strangers send


def _request(random: Random, port: int) -> bytes:
    path = random.choice(("/", "/news?after=0", "/news?after=1", "/x"))
    good = f"GET {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode()
    return random.choice(
        (
            good,
            good,
            good[: random.randrange(len(good))],
            bend_bytes(random, good),
            random.randbytes(2000),
            b"GET / HTTP/9.9\r\n\r\n",
            b"GET /" + b"a" * 70_000,
            good[:-2] + b"X: " + b"b" * 70_000,
            good[:-2] + b"a: b\r\n" * 500,
            b"\r\n" * 100,
            b"\x16\x03\x01\x02\x00",
            f"POST / HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\nContent-Length: 999999999\r\n\r\nabc".encode(),
            f"GET http://[::1 HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode(),
            f"GET //[ HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode(),
        )
    )


def siege(random: Random, port: int) -> list[socket.socket]:
    """Strangers come; those that stay connected are given back."""
    staying = []
    for _ in range(random.choice((3, 10, 30, 90))):
        with suppress(OSError):
            link = socket.create_connection(("127.0.0.1", port), timeout=2)
            link.settimeout(0.5)
            link.sendall(_request(random, port))
            way = random.randrange(4)
            if way == 0:
                link.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))  # reset rather than end
                link.close()
            elif way == 1:
                link.close()
            elif way == 2:
                link.recv(10)
                staying.append(link)
            else:
                staying.append(link)
    return staying


def page(port: int, patience: float) -> bytes:
    """What a browser gets."""
    with socket.create_connection(("127.0.0.1", port), timeout=patience) as link:
        link.settimeout(patience)
        link.sendall(f"GET / HTTP/1.0\r\nHost: 127.0.0.1:{port}\r\n\r\n".encode())
        found = b""
        while piece := link.recv(1 << 20):
            found += piece
    return found


# One server


class Server:
    """A watcher of ``scene`` as a process."""

    def __init__(self, scene: Path, folder: Path) -> None:
        self.told, self.wrong = folder / "out.txt", folder / "err.txt"
        env = {**os.environ, "PYTHONPATH": os.environ.get("PYTHONPATH", str(ROOT)), "PYTHONUNBUFFERED": "1"}
        with open(self.told, "wb") as out, open(self.wrong, "wb") as err:
            self.process = subprocess.Popen(
                [*PYTHON, "watch", str(scene)], stdin=subprocess.DEVNULL, stdout=out, stderr=err, env=env
            )
        self.port = self._port()

    def _port(self) -> int:
        end = time.monotonic() + 30
        while time.monotonic() < end and self.process.poll() is None:
            found = re.search(rb"http://127\.0\.0\.1:(\d+)/", self.told.read_bytes() + self.wrong.read_bytes())
            if found:
                return int(found[1])
            time.sleep(0.05)
        raise FaultError(
            "watch does not begin",
            f"{self.process.poll()}: {self.wrong.read_text(encoding='utf-8', errors='replace')[-500:]}",
        )

    def shows(self, name: str) -> None:
        """Raises FaultError where the page with ``name`` does not come."""
        end, last = time.monotonic() + PATIENCE, b""
        while time.monotonic() < end:
            if self.process.poll() is not None:
                raise FaultError("watch ended by itself", f"status {self.process.returncode}: {self._said()}")
            with suppress(OSError):
                last = page(self.port, max(0.1, end - time.monotonic()))
            if name.encode() in last:
                return
            time.sleep(0.05)
        about = last.partition(b'"trouble":')[2][:300] if last else "no answer at all"
        raise FaultError(
            "watch does not show what was mended" if last else "watch does not answer",
            f"{name}: {about!r}: {self._said()}",
        )

    def check(self) -> None:
        """Raises FaultError where it has grown too large."""
        with suppress(OSError):
            about = Path(f"/proc/{self.process.pid}/status").read_text(encoding="ascii", errors="replace")
            threads, peak = (
                int(found[1])
                for found in (re.search(rf"{key}:\s+(\d+)", about) for key in ("Threads", "VmHWM"))
                if found
            )
            took(peak << 10)
            if peak << 10 > MEMORY:
                raise FaultError("watch takes too much memory", f"{peak >> 10} MB")
            if threads > THREADS:
                raise FaultError("watch has too many threads", f"{threads}")

    def _said(self) -> str:
        return (self.wrong.read_bytes() + self.told.read_bytes())[-1500:].decode("utf-8", "replace")

    def _silent(self) -> None:
        text = self.wrong.read_text(encoding="utf-8", errors="replace")
        if "Traceback" in text:  # of several at once, the lines stand mixed
            kinds = sorted(set(re.findall(r"^([A-Za-z.]+(?:Error|Exception))\b", text, re.MULTILINE)))
            raise FaultError(f"watch prints a traceback: {kinds[0] if kinds else 'of some kind'}", text[-3000:])

    def stop(self, number: int) -> None:
        """Stop it by a signal. Raises FaultError where it does not stop as it should."""
        self.process.send_signal(number)
        try:
            status = self.process.wait(PATIENCE)
        except subprocess.TimeoutExpired:
            self._silent()
            raise FaultError(f"watch does not stop at {signal.Signals(number).name}", self._said()) from None
        if status not in {128 + number, -number}:
            raise FaultError(
                f"watch stopped by {signal.Signals(number).name} with status {status}", f"{STATUSES}: {self._said()}"
            )
        self._silent()

    def end(self) -> None:
        """End this process for good."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()


def case(seed: int, number: int, folder: Path) -> str:
    """One server. Raises what is wrong with it."""
    random = Random(f"{seed}/watch/{number}")  # noqa: S311 - a choice of examples, the same each time
    step("")  # what takes long here is waiting, for which the target's wall is
    home = folder / "scenes"
    shutil.copytree(ROOT / "scenes", home)
    scene = home / f"{random.choice(SCENES)}.scene.toml"
    text = scene.read_text(encoding="utf-8")
    parts = [scene, *(path for path in home.rglob("*") if path.is_file() and path != scene and path.name in text)]
    server = Server(scene, folder)
    try:
        for turn in range(ROUNDS):
            hurt = {path: path.read_bytes() for path in random.sample(parts, min(len(parts), random.choice((1, 1, 2))))}
            for path in hurt:
                random.choice(HURTS)(random, path)
            staying = siege(random, server.port)
            time.sleep(random.choice((0.0, 0.05, 0.3)))
            for path, data in hurt.items():
                _mend(path, data)
            name = f"Round {number} {turn}"
            _mend(scene, re.sub(r'^name = ".*"', f'name = "{name}"', text, count=1, flags=re.MULTILINE).encode())
            server.check()
            server.shows(name)
            for link in staying if random.randrange(2) else ():
                link.close()
        server.check()
        server.stop(random.choice((signal.SIGINT, signal.SIGTERM)))
    finally:
        server.end()
    return "drawn"
