"""What a command printed, kept for when it is asked the same again.

Law: for commands whose output follows from their options, the files named and the program alone. What is kept is found by a
digest of all of these, the program's own files among them, so that nothing old is ever told; where it cannot be kept, nothing
is lost but time. Loads next to nothing.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from hashlib import blake2b
from pathlib import Path

from .. import __version__

MOST = 64
"""Answers that are kept; the oldest go."""

ROOMS = ("", "chip", "budgets")
"""Where the program's files lie that such an answer follows from."""

Answer = tuple[int, str]
"""Exit status and what was printed."""


def again(words: Sequence[str], files: Iterable[str], ask: Callable[[], Answer]) -> Answer:
    """The answer of ``ask``, or what it was when ``words`` and the contents of ``files`` were the same.

    Raises what ``ask`` raises; files that cannot be read are for ``ask`` to complain of.
    """
    try:
        place = _folder() / f"{_key(words, files)}.txt"
        status, _, text = place.read_text("utf-8").partition("\n")
        return int(status), text
    except (OSError, ValueError, RuntimeError):  # RuntimeError: there is no home folder
        pass
    status_now, text = ask()
    with suppress(OSError, RuntimeError):
        _keep(_folder() / f"{_key(words, files)}.txt", f"{status_now}\n{text}")
    return status_now, text


def _folder() -> Path:
    base = os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path.home() / ".cache") / "vdpsim"


def _key(words: Sequence[str], files: Iterable[str]) -> str:
    """A digest of all that the answer follows from."""
    digest = blake2b(digest_size=20)
    package = Path(__file__).resolve().parents[1]
    for part in (__version__, str(package), *words):
        digest.update(part.encode() + b"\0")
    for room in ROOMS:
        with os.scandir(package / room) as entries:
            for entry in sorted(entries, key=lambda entry: entry.name):
                if entry.name.endswith(".py"):
                    kept = entry.stat()
                    digest.update(f"{entry.name} {kept.st_size} {kept.st_mtime_ns}\0".encode())
    for name in files:
        data = Path(name).read_bytes()
        digest.update(f"{name} {len(data)}\0".encode() + data)
    return digest.hexdigest()


def _keep(place: Path, text: str) -> None:
    """Write the answer whole, and let the oldest go."""
    place.parent.mkdir(parents=True, exist_ok=True)
    fresh = place.with_suffix(f".{os.getpid()}")
    fresh.write_text(text, "utf-8")
    fresh.replace(place)
    kept = sorted(place.parent.glob("*.txt"), key=lambda path: path.stat().st_mtime_ns)
    for old in kept[:-MOST]:
        old.unlink(missing_ok=True)
