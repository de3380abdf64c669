"""Who may know whom: the rooms' imports point one way."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import vdpsim

HOME = Path(vdpsim.__file__).parent
FORBIDDEN = {
    "chip": {"scene", "memory", "engine", "machine", "picture", "cli", "logs", "PIL", "numpy"},
    "engine": {"scene", "machine", "picture", "cli", "files", "logs", "toml_file", "PIL", "pathlib", "io"},
    "scene": {"engine", "machine", "picture", "cli"},
}


def imported(text: str) -> set[str]:
    """The first names of everything that ``text`` imports, within the package or from outside."""
    names = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            names |= {name.name.split(".")[0] for name in node.names}
        elif isinstance(node, ast.ImportFrom):
            names |= {node.module.split(".")[0]} if node.module else {name.name for name in node.names}
    return names


@pytest.mark.parametrize("room", sorted(FORBIDDEN))
def test_a_room_knows_only_what_its_law_allows(room):
    for path in sorted((HOME / room).rglob("*.py")):
        wrong = imported(path.read_text("utf-8")) & FORBIDDEN[room]
        assert not wrong, f"{path.relative_to(HOME)} knows {', '.join(sorted(wrong))}"


def test_the_check_would_see_a_forbidden_import():
    assert imported("from ..machine import Machine\nimport PIL.Image") == {"machine", "PIL"}
    assert imported("from .. import picture") == {"picture"}


def test_modules_stay_readable_and_open_with_their_law():
    for path in HOME.rglob("*.py"):
        text = path.read_text("utf-8")
        assert text.count("\n") <= 650, path
        if path.name not in ("__init__.py", "__main__.py") and path.parent.name != "cli":
            assert "Law:" in (ast.get_docstring(ast.parse(text)) or ""), f"{path} does not open with its law"
