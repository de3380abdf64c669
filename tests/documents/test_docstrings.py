"""Do the examples in docstrings run, and give what they say? Each module's together, in a folder with the shipped scenes."""

from __future__ import annotations

import ast
import doctest
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest

import vdpsim
import vdpsim.testing

HOME = Path(vdpsim.__file__).parent
SCENES = Path(__file__).resolve().parents[2] / "scenes"
TOLD = {
    ".".join(path.relative_to(HOME.parent).with_suffix("").parts).removesuffix(".__init__"): path
    for path in sorted(HOME.rglob("*.py"))
    if "    >>> " in (text := path.read_text("utf-8")) or "\n>>> " in text
}
"""The modules that have examples."""


class Shown(doctest.OutputChecker):
    """What an example shows is held; where it shows nothing, nothing is."""

    def check_output(self, want, got, optionflags):
        """Whether an example gave what it shows."""
        return not want or super().check_output(want, got, optionflags)


@pytest.fixture(scope="module")
def names():
    """What examples may take as given: a chip, a scene, the fixture that finds scenes, a frame, a rule, and the test kit."""
    found = vdpsim.load_scene(SCENES / "flock.scene.toml")

    def scene(_name):
        return vdpsim.testing.played(found)

    kit = {name: getattr(vdpsim.testing, name) for name in vdpsim.testing.__all__}
    lines = {
        "mist": lambda sources: sources.winner,
        "lines_30_to_39": lambda sources: np.zeros(sources.winner.shape, bool),
    }
    return {
        "chip": found.chip,
        "Machine": vdpsim.Machine,
        "scene": scene,
        "frame": vdpsim.render(found),
        **kit,
        **lines,
    }


def examples(path):
    """The docstrings of a module with their examples, as they stand in its text: names that load late have theirs too."""
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef) and ">>> " in (ast.get_docstring(node) or ""):
            yield getattr(node, "name", "the module"), ast.get_docstring(node)


@pytest.mark.parametrize("name", TOLD)
def test_examples_give_what_they_say(name, names, tmp_path, monkeypatch):
    (tmp_path / "scenes").symlink_to(SCENES)
    monkeypatch.chdir(tmp_path)
    runner = doctest.DocTestRunner(checker=Shown(), optionflags=doctest.ELLIPSIS)
    for where, text in examples(TOLD[name]):
        given = {**names, **vars(import_module(name))}
        said = []
        runner.run(doctest.DocTestParser().get_doctest(text, given, f"{name}: {where}", None, None), out=said.append)
        assert not runner.failures, "".join(said)


def test_a_wrong_example_is_noticed(names):
    said = []
    runner = doctest.DocTestRunner(checker=Shown())
    runner.run(
        doctest.DocTestParser().get_doctest(">>> chip.name\n'Dunlin'\n", names, "planted", None, None), out=said.append
    )
    assert runner.failures == 1
    assert "'Curlew'" in "".join(said)
    assert len(TOLD) > 15
