"""Is what a message says of a value short, however long the value? 5,000 characters in every position of a chip and a scene."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from vdpsim.cli import main
from vdpsim.files.toml.out import key, value

CORPUS = Path(__file__).parent / "corpus"
LONG = "x" * 5000
LONGEST = 500
"""Characters of a line: a message of 400, and its place."""
HOSTILE = {"text": LONG, "list": [LONG] * 50, "table": {LONG: LONG}, "number": 10**3000, "spoken": "é'\"\x1b" * 2000}


def positions(data, place=()):
    """The place of every value in ``data``, tables and lists too."""
    if place:
        yield place
    inner = data.items() if isinstance(data, dict) else enumerate(data[:2]) if isinstance(data, list) else ()
    for part, one in inner:
        yield from positions(one, (*place, part))


def changed(data, place, given):
    """``data`` with ``given`` at ``place``; where that is None, with a long key beside it."""
    copy = json.loads(json.dumps(data, default=str))
    table = copy
    for part in place[:-1]:
        table = table[part]
    if given is None:
        if isinstance(table, dict):
            table[LONG] = 1
    else:
        table[place[-1]] = given
    return "".join(f"{key(name)} = {value(one)}\n" for name, one in copy.items())


def places(name):
    return list(positions(tomllib.loads((CORPUS / name).read_text("utf-8"))))


@pytest.mark.parametrize("step", [12, pytest.param(1, marks=pytest.mark.soak)])
@pytest.mark.parametrize("kind", [*HOSTILE, "key"])
@pytest.mark.parametrize("name", ["chips/wired.chip.toml", "good.scene.toml", "good_cpu.scene.toml"])
def test_no_line_is_long_whatever_stands_anywhere(name, kind, step, tmp_path, monkeypatch, capsys):
    """On every run each kind has a twelfth of the positions, and each its own."""
    data = tomllib.loads((CORPUS / name).read_text("utf-8"))
    for folder in ("chips", "art"):
        (tmp_path / folder).symlink_to(CORPUS / folder)
    monkeypatch.chdir(tmp_path)
    refused = 0
    tried = places(name)[2 * [*HOSTILE, "key"].index(kind) % step :: step]
    for place in tried:
        path = Path(f"a.{name.split('.', 1)[1]}")
        path.write_text(changed(data, place, HOSTILE.get(kind)), "utf-8")
        refused += main(["check", str(path)]) == 2
        said = capsys.readouterr()
        lines = (said.out + said.err).splitlines()
        assert max(map(len, lines)) <= LONGEST, (place, max(lines, key=len))
        assert "\x1b" not in said.err
        assert "a fault of vdpsim" not in said.err, (place, said.err)
    assert refused > len(tried) // 2


def test_words_of_a_command_line_are_cut_too(capsys):
    for words in (
        [LONG],
        ["check", LONG],
        ["render", "a", f"--{LONG}"],
        ["frame", LONG, "1x1"],
        ["schema", LONG],
        ["map", f"{LONG}/{LONG}"],
    ):
        assert main(words) == 2
        assert max(map(len, capsys.readouterr().err.splitlines())) <= LONGEST
