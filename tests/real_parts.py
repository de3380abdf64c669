"""Programs and libraries from outside, found for a test; where there is none the test is left out, and fails where CI is set."""

from __future__ import annotations

import importlib
import shutil
import signal
import subprocess
from pathlib import Path
from typing import Any

from browser import missing


def program(name: str, package: str | None = None) -> str:
    """The path of a program that the Debian package ``package`` brings, by default one of its own name."""
    path = shutil.which(name)
    if path is None:
        missing(f"{name} (Debian: apt-get install {package or name})")
    assert path is not None
    return path


def module(name: str, package: str) -> Any:
    """A module of the library that PyPI has as ``package``.

    Signals stay as they are: one of these libraries lets a broken pipe end the whole process, in which servers are tried too.
    """
    before = {number: signal.getsignal(number) for number in signal.valid_signals()}
    try:
        return importlib.import_module(name)
    except ModuleNotFoundError:
        missing(f"{package} (pip install {package})")
    finally:
        for number, handler in before.items():
            if handler is not None and signal.getsignal(number) is not handler:
                signal.signal(number, handler)


def run(folder: Path, *words: str | Path) -> subprocess.CompletedProcess[str]:
    """What becomes of a program that runs in ``folder``: its status, and all that it says."""
    return subprocess.run(list(map(str, words)), cwd=folder, capture_output=True, text=True, check=False)
