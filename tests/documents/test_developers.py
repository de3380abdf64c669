"""Do DEVELOPERS.md and the map of the tests speak of the files that there are?"""

from __future__ import annotations

import ast
import os
import re
from pathlib import Path

import pytest

import vdpsim

ROOT = Path(__file__).resolve().parents[2]
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
TESTS = (ROOT / "tests/README.md").read_text(encoding="utf-8")
MODULES = sorted(path for path in (ROOT / "vdpsim").rglob("*.py") if path.name != "__init__.py")


def test_the_map_of_the_rooms_lists_exactly_the_modules():
    block = re.search(r"^```rooms\n(.*?)^```$", DEVELOPERS, re.MULTILINE | re.DOTALL)[1]
    told = re.findall(r"^(vdpsim/\S+\.py)  +\S", block, re.MULTILINE)
    assert sorted(told) == [str(path.relative_to(ROOT)) for path in MODULES if path.name != "__main__.py"]
    assert len(told) == len(set(told))


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


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ROOT)))
def test_a_module_opens_with_its_law_and_is_not_too_long(path):
    """The law says what lives there and what it must not know; for the commands' files ``main.py`` says it once."""
    text = path.read_text(encoding="utf-8")
    docstring = ast.get_docstring(ast.parse(text))
    assert docstring
    if path.name != "__main__.py" and (path.parent.name != "cli" or path.name == "main.py"):
        assert "Law: " in docstring
    assert len(text.splitlines()) <= 650


def imports(path):
    """What the module at ``path`` imports of this package, as dotted names within it, and of others; not for types alone."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    room = list(path.relative_to(ROOT / "vdpsim").parent.parts)
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = ["vdpsim", *room[: len(room) - node.level + 1]] if node.level else []
            yield ".".join([*base, *([node.module] if node.module else [])])


FORBIDDEN = {
    "chip": ("vdpsim.scene", "vdpsim.engine", "vdpsim.memory", "vdpsim.machine", "vdpsim.picture", "PIL", "numpy"),
    "scene": ("vdpsim.engine", "vdpsim.machine", "vdpsim.picture", "vdpsim.cli"),
    "engine": ("vdpsim.scene", "vdpsim.machine", "vdpsim.picture", "vdpsim.cli", "PIL", "pydantic"),
}


@pytest.mark.parametrize("room", FORBIDDEN)
def test_knowing_points_one_way(room):
    for path in (ROOT / "vdpsim" / room).rglob("*.py"):
        for name in imports(path):
            wrong = [other for other in FORBIDDEN[room] if name == other or name.startswith(f"{other}.")]
            assert not wrong, f"{path.relative_to(ROOT)} imports {name}"


def test_imports_are_found_where_they_are():
    """Were ``imports`` blind, the test above could not fail."""
    found = set(imports(ROOT / "vdpsim/engine/draw.py"))
    assert {"numpy", "vdpsim.memory", "vdpsim.engine.frame"} <= found
