"""Is a table, and a sentence, no wider than who reads it has room for, and does it keep every letter?

Rows by chance, and what commands print of chips whose names are as long as they may be.
"""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path
from random import Random

import pytest
from scenery import TIMED

import vdpsim
from vdpsim.cli.main import main
from vdpsim.cli.say import listed
from vdpsim.door.columns import blocks, fitted, folded, lines

HEAD = ("name", "of", "bytes")
ROWS = (HEAD, ("near.tiles", "a map", "1,024"), ("far", "a sheet of patterns", "7"))


def test_columns_are_as_wide_as_their_widest_cell():
    assert list(lines(ROWS, 120, right=1)) == [
        "name        of                   bytes",
        "near.tiles  a map                1,024",
        "far         a sheet of patterns      7",
    ]


def test_the_widest_column_is_folded_first_and_only_as_far_as_it_must_be():
    """All of it takes 38 columns: in 38 nothing is folded, in 37 the second column has to be a column narrower."""
    assert len(list(lines(ROWS, 38, right=1))) == len(ROWS)
    assert list(lines(ROWS, 37, right=1))[-2:] == ["far         a sheet of              7", "            patterns"]
    assert fitted([10, 19, 5], [10, 16, 5], 37) == [10, 18, 5]


def test_columns_go_on_below_where_folding_is_not_enough():
    """Two names take 16 columns at least and the numbers 5: 41 with what is between them."""
    rows = [("x" * 40, "y" * 40, "bytes"), ("a", "b", "1,024")]
    assert len(list(blocks(rows, 41, right=1))) == 1
    one, other = blocks(rows, 40, right=1)
    assert [line.split() for line in one.rows + other.rows] == [["a", "b"], ["a", "1,024"]]
    assert all(block.head[0].startswith("x" * 16) for block in (one, other))
    assert "" in list(lines(rows, 40, right=1))


def test_a_long_name_is_broken_behind_its_dots_and_further_lines_of_a_row_begin_further_in():
    assert list(lines([("name", "of"), ("first_layer.second_mode.cells", "z" * 11)], 32))[1:] == [
        "first_layer.         zzzzzzzzzzz",
        "  second_mode.cells",
    ]


def test_the_sign_behind_a_number_stays_in_its_column():
    head, *rows = blocks([("", "a_long_name  "), ("x", "1,234 *"), ("y", "7  ")], 13, right=1)
    assert head.head == ["   a_long_n", "        ame"]
    assert head.rows == ["x     1,234 *", "y         7"]
    assert not rows


def test_a_name_that_is_wider_than_its_column_has_a_line_of_its_own(monkeypatch):
    """A column takes no more than half of the width: what is said of a long name begins below it."""
    monkeypatch.setattr("vdpsim.cli.say.wide", lambda: 40)
    rows = [("short", "a word"), ("n" * 25, "two words"), ("m" * 25, "")]
    assert listed(rows) == f"  short             a word\n  {'n' * 25}\n{' ' * 20}two words\n  {'m' * 25}"


def test_a_sentence_goes_on_further_in():
    assert folded("  one two three", 12) == ["  one two", "      three"]
    assert folded("one two", 7) == ["one two"]
    assert folded("", 7) == [""]


@pytest.mark.parametrize("seed", range(8))
def test_no_line_is_wider_and_no_letter_is_lost(seed):
    random = Random(f"columns {seed}")
    for _ in range(40):
        columns, right = random.randint(1, 9), 0
        right = random.randint(0, columns - 1)
        rows = [
            [_text(random) if at < columns - right else str(random.randrange(10**9)) for at in range(columns)]
            for _ in range(random.randint(1, 5))
        ]
        width = random.choice([40, 60, 118])
        laid = list(blocks(rows, width, right=right))
        found = [line for block in laid for line in block.head + block.rows]
        assert max(map(len, found)) <= width, (seed, rows)
        again = [row[0] for row in rows] * (len(laid) - 1)
        assert _letters(*found) == _letters(*again, *(text for row in rows for text in row)), (seed, rows)


def _text(random: Random) -> str:
    words = ["".join(random.choices("abc_.", k=random.randint(1, 30))) for _ in range(random.randint(1, 6))]
    return " ".join(words)


def _letters(*texts: str) -> Counter[str]:
    return Counter("".join(texts).replace(" ", ""))


LONG = {
    name: f"{name}_{'x' * (39 - len(name))}"
    for name in ("near", "far", "status", "tiles", "bitmap", "text", "bird", "fish")
}
"""Names of layers, modes and groups, as long as they may be."""


@pytest.fixture(name="long_chip", scope="module")
def _long_chip(tmp_path_factory):
    """The file of a chip of which each name is as long as it may be."""
    names = "|".join(LONG)
    text = TIMED.replace("Reedling", "Reedling" + "y" * 52)
    text = re.sub(rf'(?<=")({names})(?=[."])', lambda found: LONG[found[0]], text)
    text = re.sub(rf'(?<=kind = ")({names})_x+', lambda found: found[1], text)
    path = tmp_path_factory.mktemp("long") / "long.chip.toml"
    path.write_text(text)
    assert vdpsim.load_chip(path).layers[0].modes[0].name == LONG["tiles"]
    return str(path)


@pytest.mark.parametrize("chips", [0, 2, 3, 8])
def test_tables_of_the_longest_names_are_no_wider_than_120_columns(chips, long_chip, capsys):
    words = ["compare", *[long_chip] * chips] if chips else ["budget", long_chip, "--all"]
    assert main(words) in (0, 1)
    rows = [line for line in capsys.readouterr().out.splitlines() if line.startswith("  ")]
    assert len(rows) > 40
    assert 100 < max(map(len, rows)) <= 120
    assert LONG["near"][:16] in "".join(rows)


@pytest.mark.parametrize("words", ["budget CHIP --all", "compare CHIP CHIP CHIP"])
def test_at_a_terminal_of_60_columns_they_have_60(words, long_chip, capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "60")
    monkeypatch.setenv("NO_COLOR", "1")
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    assert main(words.replace("CHIP", long_chip).split()) in (0, 1)
    assert 50 < max(map(len, capsys.readouterr().out.splitlines())) <= 60


def test_a_memory_map_is_no_wider_than_it_may_be(long_chip):
    name = f"{LONG['near']}.{LONG['tiles']}"
    scene = Path(long_chip).with_name("long.scene.toml")
    rows = ", ".join(['"1......."'] * 8)
    scene.write_text(f'name = "Long"\nchip = "long.chip.toml"\n[[patterns]]\nfor = "{name}"\nrows = [{rows}]\n')
    found = vdpsim.load_scene(scene)
    for width in (40, 120):
        assert max(map(len, found.memory_map(width).splitlines())) <= width
    told = "".join(found.memory_map().split())
    assert f"{name}.patterns" in told
