"""Does the kit's tutorial do what it says? Its files are written, its commands run, and what they print is looked for."""

from __future__ import annotations

import itertools
import re
import shlex
from pathlib import Path

import vdpsim.handoff.verifying.told.words
import vdpsim.report.page
import vdpsim.testing.claims.rules
import vdpsim.testing.claims.sources
import vdpsim.testing.claims.sprites
import vdpsim.testing.fixtures

pytest_plugins = ["pytester"]

TEXT = Path(vdpsim.testing.__file__).with_name("tutorial.md").read_text("utf-8")
BLOCKS = re.findall(r"^```(\w+) ?(\S*)\n(.*?)^```$", TEXT, re.MULTILINE | re.DOTALL)
OURS = ("-p", "no:vdpsim", "-p", "vdpsim.testing.plugin", "-p", "no:cacheprovider", "-p", "no:cov")


def test_the_tutorial_has_what_this_file_looks_for():
    kinds = [kind for kind, _, _ in BLOCKS]
    assert (kinds.count("python"), kinds.count("sh"), kinds.count("text")) == (7, 6, 6)
    assert all(after == "text" for kind, after in itertools.pairwise(kinds) if kind == "sh")


def test_each_step_prints_what_it_says(pytester):
    result, seen = None, 0
    for kind, name, text in BLOCKS:
        if kind == "python":
            (pytester.path / name).write_text(text, "utf-8")
        elif kind == "sh":
            command, *words = shlex.split(text)
            assert command == "pytest"
            result = pytester.runpytest_inprocess(*OURS, *words)
        else:
            assert result is not None
            lines = [line.replace("[", "[[]") for line in text.splitlines()]
            result.stdout.fnmatch_lines(lines)
            seen += len(lines)
    assert seen > 15
