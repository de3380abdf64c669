"""Do DEVELOPERS.md and the map of the tests speak of the files that there are?"""

from __future__ import annotations

import os
import re
from pathlib import Path

import vdpsim

ROOT = Path(__file__).resolve().parents[2]
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
TESTS = (ROOT / "tests/README.md").read_text(encoding="utf-8")
MODULES = sorted(path for path in (ROOT / "vdpsim").rglob("*.py") if path.name != "__init__.py")


def test_the_map_of_the_tests_lists_exactly_the_test_files():
    told = re.findall(r"^\| `(\S+\.py)` \|", TESTS, re.MULTILINE)
    there = [str(path.relative_to(ROOT / "tests")) for path in (ROOT / "tests").rglob("*.py")]
    assert sorted(told) == sorted(there)


def test_tools_that_are_named_exist_and_can_be_run():
    named = set(re.findall(r"(?<![\w/.])((?:tools|\.ci)/[a-z]+)\b(?![\w./])", DEVELOPERS))
    assert {"tools/check", "tools/test", "tools/demo", "tools/bench", ".ci/run"} <= named
    for name in named:
        assert os.access(ROOT / name, os.X_OK), name


def test_the_changelog_tells_of_this_version():
    assert f"### {vdpsim.__version__}\n" in DEVELOPERS


def test_modules_open_with_their_law_and_are_not_too_long():
    """The law says what lives there and what it must not know; for the commands' files ``main.py`` says it once."""
    for path in MODULES:
        text = path.read_text(encoding="utf-8")
        assert re.match(r'r?"""\S', text), path
        docstring = text.split('"""')[1]
        if path.name != "__main__.py" and (
            path.parent.name not in {"cli", "commands", "hardware", "starting"} or path.name == "main.py"
        ):
            assert "Law: " in docstring, path
        assert len(text.splitlines()) <= 300, path
