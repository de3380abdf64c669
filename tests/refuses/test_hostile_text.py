"""Does a foreign text stay a text? Every command, with names and paths that would command a terminal, in every encoding."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from itertools import product
from pathlib import Path

import pytest
from soaked import few

from vdpsim.chip.tables.table import PLAIN
from vdpsim.cli import main, say
from vdpsim.door import shown

ROOT = Path(__file__).resolve().parents[2]
CORPUS = Path(__file__).parent / "corpus"
NAMES = {
    "escape": b"a\x1b[2J\x1b]0;b\x07",
    "two_lines": b"a\nOK b",
    "return": b"a\rb\x7f",
    "cyrillic": "Чибис".encode(),
    "emoji": "a😀".encode(),
    "not_utf8": b"a\xff\xfeb",
    "turned": "a\u202ecod".encode(),
    "separator": "a\u2028b\x85".encode(),
}
ENCODINGS = ("utf-8", "ascii", "latin-1")
CONTROLS = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")
ALLOWED = {0, 1, 2, 3}

# Every command with a chip {c}, a scene {s}, a text that is no good {t} and a place to write to {o}.
COMMANDS = [
    "check {c} {s} {t}", "map {s}", "map {t}", "budget {c}", "budget {c} --json", "budget {c} --witness {o}.scene.toml",
    "compare {c} {c}", "compare {c} {t}", "compare {c} {c} --json", "render {s} -o {o}.png", "render {s} -o {t}",
    "render {s} --frames 0:2 -o {o}.png", "render {s} -o {o}.png --log {o}.json --busmap {o}b.png",
    "report {s} -o {o}.html", "report {s} -o {t}",
    "export {s} --only memory,constants,registers -o {o}", "export {s} --only {t} -o {o}",
    "sweep {c} --vary sprites.per_line=1,{t} -o {o}.csv", "sweep {c} --vary {t}=1 -o {o}.json",
    "fit {t} --chip {c} --layer near", "fit scenes/art/birds.png --chip {c} --sprites 16x16 --json -o {o}",
    "fit scenes/art/birds.png --chip {c} --layer {t}", "frame {t} 1x1", "frame 640x480 {t}", "schema {t}", "watch {t}",
    "explain {t} {t}", "new {o}new", "new x --size {t}", "render {t} --chip {t} -o x.png",
    "guide {t}", "{t}", "check {t} --{t}", "render {s} --scale {t}", "schema chip",
]  # fmt: skip


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A copy of the shipped scenes, each hostile name a scene and a chip of its own."""
    folder = tmp_path_factory.mktemp("hostile")
    shutil.copytree(ROOT / "scenes", folder / "scenes")
    for name in NAMES.values():
        for kind, source in (("chip", "chips/dunlin.chip.toml"), ("scene", "ferry.scene.toml")):
            data = (ROOT / "scenes" / source).read_bytes()
            data = data.replace(b"chips/curlew", b"chips/dunlin")
            Path(os.fsdecode(os.fsencode(folder / "scenes") + b"/" + name + f".{kind}.toml".encode())).write_bytes(data)
    return folder


def words_of(command: str, name: bytes) -> list[str]:
    """The command with the hostile ``name`` in its places."""
    text = os.fsdecode(name)
    put = {"c": f"scenes/{text}.chip.toml", "s": f"scenes/{text}.scene.toml", "t": text, "o": f"out/{text}"}
    return [word.format(**put) for word in command.split(" ")]


MEETINGS = [(command, kind) for command in COMMANDS for kind in NAMES]
OFTEN = {
    (COMMANDS[one], kind) for one in range(len(COMMANDS)) for two, kind in enumerate(NAMES) if (one + two) % 4 == 0
}
"""Of all meetings of a command and a name those of every run: each command meets two names, each name eight or nine commands."""


@pytest.mark.parametrize(("command", "kind"), few(MEETINGS, OFTEN.__contains__))
def test_a_hostile_path_or_value_is_told_without_its_controls(place, monkeypatch, capfdbinary, command, kind):
    """Seen by Python: what is written is bytes without controls, and the status one of a command's own."""
    monkeypatch.chdir(place)
    status = main(words_of(command, NAMES[kind]))
    said = capfdbinary.readouterr()
    told = (said.out + said.err).decode("utf-8")
    assert status in ALLOWED, told
    assert "Traceback" not in told
    assert CONTROLS.findall(told) == []
    assert [line for line in told.splitlines() if line.startswith("OK b")] == []
    if status in {0, 3} and "--json" in command:
        json.loads(said.out)


SPOKEN = ("check {c} {t}", "budget {c} --json", "render {s} --frames 0:2 -o {o}.png")
WAYS = list(product(SPOKEN, ("cyrillic", "not_utf8", "turned"), ENCODINGS))
ONCE = {WAYS[9 * one + 3 * one + (one + 1) % 3] for one in range(3)}
"""Of all ways three, in which each command, name and encoding comes up once."""


@pytest.mark.parametrize(("command", "kind", "encoding"), few(WAYS, ONCE.__contains__))
def test_a_process_of_any_encoding_tells_it_too(place, command, kind, encoding):
    home = {**os.environ, "PYTHONIOENCODING": encoding, "LC_ALL": "C"}
    words = [os.fsencode(word) for word in words_of(command, NAMES[kind])]
    done = subprocess.run(
        [sys.executable, "-m", "vdpsim", *words], cwd=place, env=home, capture_output=True, check=False
    )
    told = (done.stdout + done.stderr).decode(encoding)
    assert done.returncode in ALLOWED, told
    assert "Traceback" not in told
    assert CONTROLS.findall(told) == []
    if "--json" in command:
        json.loads(done.stdout)


@pytest.mark.parametrize("text", ["a\x1bb", "a\nb", "a\x7fb", "a\u202eb", "a\u2028b"])
def test_a_chips_and_a_scenes_name_is_one_line(tmp_path, capsys, text):
    for source in ("chips/small.chip.toml", "good.scene.toml"):
        path = tmp_path / Path(source).name
        given = re.sub(
            '^name = ".*"',
            lambda _: f"name = {json.dumps(text)}",
            (CORPUS / source).read_text("utf-8"),
            count=1,
            flags=re.MULTILINE,
        )
        path.write_text(given.replace("\x7f", "\\u007f"), "utf-8")
        assert main(["check", str(path)]) == 2
        assert "name: must be a text of one line, without control characters, got " in capsys.readouterr().err


def test_letters_of_every_script_are_names():
    for text in ("Чибис", "鷸", "a😀", "é", "a b"):
        assert re.search(PLAIN, text)
        assert shown.printable(text) == text


@pytest.mark.parametrize("number", range(0, 0x110000, 0x1111))
def test_no_character_makes_an_exception_or_leaves_as_a_control(number, capfdbinary):
    """And none makes JSON something else."""
    for code in range(number, min(number + 40, 0x110000)):
        say.say(chr(code))
        say.say(say.as_json(chr(code)))
    told = capfdbinary.readouterr().out.decode("utf-8")
    assert CONTROLS.findall(told) == []


def test_json_of_every_control_reads_back(capsys):
    text = "".join(map(chr, [*range(0x100), 0x202E, 0x2028, 0xDC80, 0x1F600]))
    say.say(say.as_json(text))
    assert json.loads(capsys.readouterr().out) == text


def test_no_module_prints_past_the_one_place():
    """``print`` and the streams' ``write`` stand in ``cli/say.py`` alone."""
    found = [
        f"{path.name}:{number}"
        for path in (ROOT / "vdpsim").rglob("*.py")
        if path.name != "say.py"
        for number, line in enumerate(path.read_text("utf-8").splitlines(), 1)
        if re.search(r"^\s*print\(|sys\.std(out|err)\.write|[^.\w>] print\(", line) and ">>>" not in line
    ]
    assert found == []


def test_what_is_long_is_cut_in_its_middle():
    assert shown.clipped("a" * 80) == "a" * 80
    assert shown.clipped("a" * 81) == "a" * 39 + "..." + "a" * 38
    assert shown.value(10**400) == "a number of 1329 bits"
    assert len(shown.value(["a"] * 10**6)) <= 80
    assert shown.named(["a" * 50, "b"] * 50).endswith("more")
