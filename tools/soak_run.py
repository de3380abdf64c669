"""A process that is watched to its end: what it printed, how it ended, what it took; and what it left in its folder.

Law: knows no command. Every process that is started here is ended here. What a run may not do, whatever it was asked, is a
FaultError: a traceback, a status that none of the documents name, more time or memory than there is, half a file, rubbish.
"""

from __future__ import annotations

import io
import json
import os
import re
import resource
import signal
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image
from soak_guard import CPU, FaultError

MEMORY = 1 << 30
"""Bytes that a process may have held at its peak."""

WALL = 90.0
"""Seconds by the clock in which it has to have ended: the machine may have others to serve."""

SPACE = 6 << 30
"""Bytes of address space, so that a run that goes wild is ended before the machine is."""

STATUSES = frozenset({0, 1, 2, 3})
CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")
LEFT = re.compile(r"^\.(vdpsim-)?.*\.tmp$")


@dataclass(frozen=True)
class Ended:
    """How a process ended: its status, negative for a signal; what it printed; seconds of the processor; bytes at its peak."""

    status: int
    out: bytes
    err: bytes
    seconds: float
    memory: int


def run(
    words: list[str | bytes],
    folder: Path,
    *,
    env: Mapping[str, str] | None = None,
    before: Callable[[], None] | None = None,
    after: tuple[float, int] | None = None,
    out: Callable[[], int] | None = None,
    err: Callable[[], int] | None = None,
) -> Ended:
    """Run ``words`` in ``folder``.

    ``before`` is called in the new process; ``after`` so many seconds it gets a signal; its output goes to what ``out`` and
    ``err`` open, where given. Raises FaultError where it takes too long or too much.
    """

    def prepare() -> None:
        resource.setrlimit(resource.RLIMIT_AS, (SPACE, SPACE))
        resource.setrlimit(resource.RLIMIT_CPU, (int(4 * CPU), int(4 * CPU) + 1))
        if before is not None:
            before()

    with open(folder / ".out", "w+b") as told, open(folder / ".err", "w+b") as wrong:
        streams = [file.fileno() if make is None else make() for file, make in ((told, out), (wrong, err))]
        process = subprocess.Popen(
            words,
            cwd=folder,
            env=env,
            stdin=subprocess.DEVNULL,
            stdout=streams[0],
            stderr=streams[1],
            preexec_fn=prepare,  # noqa: PLW1509 - no thread runs in a worker
        )
        for stream in {*streams} - {told.fileno(), wrong.fileno()}:
            os.close(stream)
        status, used = _waited(process, after)
        told.seek(0)
        wrong.seek(0)
        ended = Ended(status, told.read(), wrong.read(), used.ru_utime + used.ru_stime, used.ru_maxrss << 10)
    for name in (".out", ".err"):
        (folder / name).unlink()
    if status == -signal.SIGXCPU or ended.seconds > CPU:
        raise FaultError("command takes too long", f"{ended.seconds:.1f} s of the processor: {words!r}")
    if ended.memory > MEMORY:
        raise FaultError("command takes too much memory", f"{ended.memory >> 20} MB: {words!r}")
    return ended


def _waited(process: subprocess.Popen[bytes], after: tuple[float, int] | None) -> tuple[int, resource.struct_rusage]:
    begin, sent = time.monotonic(), False
    while True:
        pid, status, used = os.wait4(process.pid, os.WNOHANG)
        if pid:
            process.returncode = os.waitstatus_to_exitcode(status)
            return process.returncode, used
        past = time.monotonic() - begin
        if after is not None and not sent and past > after[0]:
            os.kill(process.pid, after[1])
            sent = True
        if past > WALL:
            os.kill(process.pid, signal.SIGKILL)
            os.wait4(process.pid, 0)
            process.returncode = -signal.SIGKILL
            raise FaultError("command hangs", f"not ended after {WALL:.0f} s: {process.args!r}")
        time.sleep(0.01)


def check_end(ended: Ended, words: list[str | bytes], signalled: int | None) -> None:
    """Raises FaultError where a run ended as none may."""
    text = (ended.err + ended.out).decode("utf-8", "replace")
    if "Traceback (most recent call last)" in text and "/vdpsim/" in text:
        last = text.strip().splitlines()[-1]
        frames = re.findall(r'File "[^"]*/vdpsim/([^"]+)", line (\d+), in (\S+)', text)
        where = f" in {frames[-1][0]}:{frames[-1][1]} {frames[-1][2]}" if frames else ""
        raise FaultError(
            f"traceback {last.split(':')[0][:60]}{where}", f"status {ended.status}: {words!r}: {text[-1500:]}"
        )
    allowed = STATUSES | ({128 + signalled, -signalled} if signalled else set())
    if ended.status not in allowed:
        raise FaultError(f"exit status {ended.status}", f"{words!r}: {text[-1500:]}")
    found = CONTROL.search(text)
    if found:
        raise FaultError(
            "control character in the output",
            f"{found[0]!r} by {words!r}: {text[max(0, found.start() - 100) :][:300]!r}",
        )


def holdings(folder: Path) -> dict[str, tuple[int, int]]:
    """Every file below ``folder``, with its size and time."""
    found = {}
    for path in folder.rglob("*"):
        try:
            about = path.lstat()
        except OSError:
            continue
        if not path.is_dir() or path.is_symlink():
            found[os.fsencode(path.relative_to(folder)).decode("utf-8", "surrogateescape")] = (
                about.st_size,
                about.st_mtime_ns,
            )
    return found


def check_left(folder: Path, before: Mapping[str, tuple[int, int]], ended: Ended, *, may_write: frozenset[int]) -> None:
    """Raises FaultError where a run left half a file, a temporary one, or anything at all when it had failed."""
    now = holdings(folder)
    new = sorted(name for name in now if now[name] != before.get(name) and not name.endswith(".journal"))
    left = [name for name in now if LEFT.match(Path(name).name)]
    if left:
        raise FaultError("temporary file left", f"status {ended.status}: {left}")
    if new and ended.status not in may_write:
        raise FaultError("files written by a run that failed", f"status {ended.status}: {new}: {ended.err[-500:]!r}")
    gone = sorted(set(before) - set(now))
    if gone:
        raise FaultError("files gone", f"status {ended.status}: {gone}")
    for name in new:
        try:
            _whole(folder / name)
        except Exception as error:
            raise FaultError("half a file", f"status {ended.status}: {name}: {error}") from error


def _whole(path: Path) -> None:
    """Raises whatever it takes where the file is not all there."""
    data = path.read_bytes()
    if path.suffix in {".png", ".gif", ".webp"}:
        with Image.open(io.BytesIO(data)) as image:
            for at in range(getattr(image, "n_frames", 1)):
                image.seek(at)
                image.load()
    elif path.suffix == ".json":
        json.loads(data)
    elif path.suffix == ".npz":
        with zipfile.ZipFile(io.BytesIO(data)) as packed:
            assert packed.testzip() is None
        with np.load(io.BytesIO(data)) as arrays:
            assert [arrays[name].shape for name in arrays.files]
    elif path.suffix == ".html":
        assert data.rstrip().endswith(b"</html>")
    elif path.suffix in {".csv", ".txt", ".toml"}:
        assert data.decode().endswith("\n")


PYTHON = [sys.executable, "-m", "vdpsim"]
