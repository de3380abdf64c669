"""Programs of others that tests run: where ``CI`` is set a missing one fails, else its tests are left out."""

from __future__ import annotations

import os
import shutil

import pytest

PACKAGES = {"iverilog": "iverilog", "vvp": "iverilog"}
"""The Debian package of each."""


def found(program: str) -> str:
    """The path of ``program``."""
    path = shutil.which(program)
    if path is None:
        told = f"needs {program} (Debian: apt-get install {PACKAGES[program]})"
        if os.environ.get("CI"):
            pytest.fail(told)
        pytest.skip(told)
    return path
