"""Does it refuse well? Every bad file of the corpus is refused with each of its mistakes, in its place, and nothing else.

A file begins with what must be said about it: ``# expect:`` words of the message, then ``# line:`` its line number where
it has one.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import pytest
from pydantic import BaseModel
from refusal import refused
from refuses import make_art
from soaked import few, quick

import vdpsim
from vdpsim.chip.checks import check
from vdpsim.chip.model import Chip
from vdpsim.cli import main
from vdpsim.door.shown import LONGEST_PATH
from vdpsim.files.problems import LONGEST, LONGEST_PLACE
from vdpsim.files.toml.mending import Asked, Mending
from vdpsim.files.toml.tables import Source

CORPUS = Path(__file__).parent / "corpus"


@dataclass(frozen=True)
class Expected:
    """Words that a problem must hold, and the line that it must stand on; None: any."""

    words: str
    line: int | None = None

    def told_by(self, problem: vdpsim.Problem) -> bool:
        """Whether ``problem`` says so."""
        return self.words in str(problem) and self.line in {None, problem.line}


def expectations(path: Path) -> list[Expected]:
    """What the head of a corpus file says must be told about it."""
    found: list[Expected] = []
    for line in path.read_text("utf-8").splitlines():
        if line.startswith("# expect: "):
            found.append(Expected(line.removeprefix("# expect: ")))
        elif line.startswith("# line: "):
            found[-1] = Expected(found[-1].words, int(line.removeprefix("# line: ")))
        else:
            break
    return found


def disagreements(expected: list[Expected], problems: tuple[vdpsim.Problem, ...]) -> list[str]:
    """What was expected and is not told, and what is told and was not expected."""
    missing = [f"not told: {one}" for one in expected if not any(one.told_by(problem) for problem in problems)]
    surplus = [f"also told: {problem}" for problem in problems if not any(one.told_by(problem) for one in expected)]
    return missing + surplus


def load(path: Path) -> object:
    return vdpsim.load_chip(path) if path.name.endswith(".chip.toml") else vdpsim.load_scene(path)


FILES = {path.relative_to(CORPUS).as_posix(): path for path in sorted(CORPUS.rglob("*.toml"))}
BAD = {name: path for name, path in FILES.items() if expectations(path)}
GOOD = {name: path for name, path in FILES.items() if name not in BAD}


LONG = {
    f"chips/{name}.chip.toml"
    for name in (
        "colours_one_field", "colours_priority_alone", "colours_three_fields", "field_number",
        "field_reset", "field_sets_twice", "field_sets_unknown", "field_step", "ladder_field",
        "many_mistakes", "planes_text", "reset_name_unknown", "sizes_wide", "split_shared", "split_without_of",
        "sprite_tiles_row_bytes",
    )
}  # fmt: skip
"""Files that are long in mending, which ``.ci/run`` tries; every run asks what is found in them as they stand."""
OF_A_MENDED_FILE = 'registers: must have the key others = "default"'


@pytest.mark.parametrize("name", quick(BAD, lambda name: name not in LONG))
def test_every_mistake_is_told_in_its_place_and_no_other(name):
    with refused(vdpsim.InputError, re.escape(BAD[name].name)) as caught:
        load(BAD[name])
    assert disagreements(expectations(BAD[name]), caught.value.problems) == []
    assert all(
        len(str(problem)) <= LONGEST_PATH + LONGEST_PLACE + LONGEST + 20 and str(problem).isprintable()
        for problem in caught.value.problems
    )


@pytest.mark.parametrize("name", sorted(LONG))
def test_what_is_long_in_mending_is_told_of_the_file_as_it_stands(name):
    """All but one, which is looked for in a file that is right in itself."""
    source = Source.read(BAD[name])
    chip, faults = source.faults(Chip, source.data)
    found = tuple(source.problem(place, message) for place, message, *_ in (check(chip) if chip else faults))
    expected = [one for one in expectations(BAD[name]) if one.words != OF_A_MENDED_FILE]
    assert disagreements(expected, found) == []


@pytest.mark.parametrize("name", few(BAD, [name for name in BAD if name not in LONG][::20].__contains__))
def test_the_command_line_ends_with_status_2_and_writes_nothing(name, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    command = ["check", str(BAD[name])]
    if name.endswith(".scene.toml"):
        command = ["render", str(BAD[name]), "-o", "out.png", "--log", "out.csv"]
    before = {path: path.stat().st_mtime_ns for path in CORPUS.rglob("*")}
    assert main(command) == 2
    said = capsys.readouterr()
    assert "Traceback" not in said.err + said.out
    assert [one for one in expectations(BAD[name]) if one.words not in said.err] == []
    assert list(tmp_path.iterdir()) == []
    assert {path: path.stat().st_mtime_ns for path in CORPUS.rglob("*")} == before


@pytest.mark.parametrize("name", GOOD)
def test_a_good_file_of_the_same_folder_passes(name, capsys):
    load(GOOD[name])
    assert main(["check", str(GOOD[name])]) == 0
    assert capsys.readouterr().err == ""


def test_the_corpus_is_large_and_has_good_files_too():
    assert len(BAD) >= 200
    assert set(BAD) > LONG
    good = [
        "chips/inked.chip.toml",
        "chips/small.chip.toml",
        "chips/timed.chip.toml",
        "chips/two_modes.chip.toml",
        "chips/wired.chip.toml",
        "chips/words.chip.toml",
        "good.scene.toml",
    ]
    assert sorted(GOOD) == [*good, "good_cpu.scene.toml"]


def test_ways_to_mend_a_file_have_their_looks_at_it_in_common(monkeypatch):
    """What was given is looked at once before it is mended, and then, like all else that is tried, once for all ways."""
    looks, faults = Counter(), Source.faults

    def counted(self, model, data):
        looks[json.dumps(data)] += 1
        return faults(self, model, data)

    monkeypatch.setattr(Source, "faults", counted)
    with refused(vdpsim.InputError, "cell_overlap"):
        load(BAD["chips/cell_overlap.chip.toml"])
    given, *others = looks.values()
    assert given == 2
    assert len(others) > 10
    assert set(others) == {1}


def test_a_look_is_one_at_what_is_lost_too():
    """The same values, once as they are and once for who has lost one of them."""

    class Only(BaseModel):
        only: int

    asked = Asked(Only, lambda made, lost: [] if "only" in lost else [(("only",), f"is {made.only}")])
    way = Mending(Source("only = 3", "x"), asked, {"only": 3}, ())
    assert [one.message for one in way._look().faults] == ["is 3"]
    assert way._look(frozenset({"only"})).faults == []


def test_check_tells_all_files_and_goes_on_after_a_bad_one(capsys):
    assert main(["check", str(BAD["no_name.scene.toml"]), str(GOOD["good.scene.toml"])]) == 2
    said = capsys.readouterr()
    assert "name: is missing" in said.err
    assert "good.scene.toml" in said.out


def test_the_checker_itself_finds_a_wrong_line_a_missing_and_a_surplus_problem():
    problem = vdpsim.Problem("a.scene.toml", 3, "frames", "must be 1 to 9, got 0")
    right = Expected("frames: must be 1 to 9", 3)
    assert disagreements([right], (problem,)) == []
    assert disagreements([Expected("must be 1 to 9")], (problem,)) == []
    assert len(disagreements([Expected(right.words, 4)], (problem,))) == 2
    assert disagreements([right, Expected("name")], (problem,)) == [f"not told: {Expected('name')}"]
    assert disagreements([right], (problem, vdpsim.Problem("a", 1, "b", "c"))) == ["also told: a:1: b: c"]


def test_the_art_is_what_its_maker_lists():
    assert {path.name for path in make_art.ART.iterdir()} == set(make_art.files())
