"""Does it refuse well? What is no file, wherever a command takes or writes one: at once, in one way, and nothing is written."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import stat
from pathlib import Path

import pytest
from soaked import few

from vdpsim.cli import main

CORPUS = Path(__file__).parent / "corpus"
GOOD = (CORPUS / "good.scene.toml").read_text("utf-8")
CHIP, SCENE, ART = "chips/small.chip.toml", "good.scene.toml", "art/two.png"
ROOT = os.name == "posix" and os.geteuid() == 0
PATIENCE = 10
"""Seconds after which a command hangs."""

pytestmark = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes, devices and sockets are a matter of Unix")


def bound(path: Path) -> None:
    with socket.socket(socket.AF_UNIX) as one:
        one.bind(str(path))


def device(path: Path) -> None:
    os.mknod(path, stat.S_IFCHR | 0o666, os.makedev(1, 5))  # /dev/zero: whoever reads it never comes to an end


def locked(path: Path) -> None:
    path.write_bytes(b"")
    path.chmod(0)


MAKERS = {
    "pipe": os.mkfifo,
    "folder": os.mkdir,
    "endless link": lambda path: path.symlink_to(path.name),
    "socket": bound,
    **({"device": device} if ROOT else {"no permission": locked}),  # root may make the one, and reads the other
}
NAMES = {"zero byte": "a\0b", "name too long": "n" * 300}
KINDS = [*MAKERS, *NAMES]

READ = {
    "budget CHIP": ["budget", "X.chip.toml"],
    "budget --scene": ["budget", CHIP, "--scene", "X.scene.toml"],
    "check CHIP": ["check", "X.chip.toml"],
    "check SCENE": ["check", "X.scene.toml"],
    "compare CHIP": ["compare", "X.chip.toml", CHIP],
    "compare second CHIP": ["compare", CHIP, "X.chip.toml"],
    "fit PICTURE": ["fit", "X.png", "--chip", CHIP, "--layer", "near", "-o", "out"],
    "fit FONT": ["fit", "X.psf", "--chip", CHIP, "--glyphs", "-o", "out"],
    "fit --chip": ["fit", ART, "--chip", "X.chip.toml", "--layer", "near", "-o", "out"],
    "fit --scene": ["fit", ART, "--chip", CHIP, "--layer", "near", "--scene", "X.scene.toml", "-o", "out"],
    "map SCENE": ["map", "X.scene.toml"],
    "map --chip": ["map", SCENE, "--chip", "X.chip.toml"],
    "render SCENE": ["render", "X.scene.toml", "-o", "out.png"],
    "render --chip": ["render", SCENE, "--chip", "X.chip.toml", "-o", "out.png"],
    "report SCENE": ["report", "X.scene.toml", "-o", "out.html"],
    "report --chip": ["report", SCENE, "--chip", "X.chip.toml", "-o", "out.html"],
    "sweep CHIP": ["sweep", "X.chip.toml", "--vary", "sprites.per_line=4", "-o", "out.csv"],
    "sweep --scene": ["sweep", CHIP, "--vary", "sprites.per_line=4", "--scene", "X.scene.toml", "-o", "out.csv"],
    "watch SCENE": ["watch", "X.scene.toml"],
    "watch --chip": ["watch", SCENE, "--chip", "X.chip.toml"],
}
"""The slots of each command that take a file to read; X stands for what is none."""

SCENES = {
    "chip": (f'"{CHIP}"', "in.chip.toml"),
    "tiles": (f'for = "near.tiles"\npng = "{ART}"', "in.png"),
    "raw": ('"art/sixteen.bin"', "in.bin"),
    "bitmap": (f'for = "far.bitmap"\npng = "{ART}"', "in.png"),
    "palette": ('colours = ["#000", "#fff", 0xABC]', "in.png"),
    "map": ('fill = { pattern = "reeds", bank = 1 }\nrows = [[1, "reeds+1", { pattern = 1, flip_x = 1 }]]', "in.png"),
}
"""The slots of a scene that take a file: what stands there in the good scene, and another's name."""

LOADING = {
    "budget": ["budget", CHIP, "--scene", "bad.scene.toml"],
    "check": ["check", "bad.scene.toml"],
    "fit": ["fit", ART, "--chip", CHIP, "--layer", "near", "--scene", "bad.scene.toml"],
    "map": ["map", "bad.scene.toml"],
    "render": ["render", "bad.scene.toml", "-o", "out.png"],
    "report": ["report", "bad.scene.toml", "-o", "out.html"],
    "watch": ["watch", "bad.scene.toml"],
}

OTHERS = [command for command in LOADING if command != "check"]
LOADING_OF = {
    (slot, kind): [(command, LOADING[command]) for command in ("check", OTHERS[(one + two) % len(OTHERS)])]
    for one, slot in enumerate(SCENES)
    for two, kind in enumerate(KINDS)
}
"""For each slot of a scene and kind of no file, the commands that every run tries."""

WRITTEN = {
    "budget --witness": ["budget", CHIP, "--witness", "X.scene.toml"],
    "render -o": ["render", SCENE, "-o", "X.png"],
    "render --log": ["render", SCENE, "--log", "X.csv"],
    "render DIR": ["render", SCENE, "-o", "X/"],
    "render --views": ["render", SCENE, "--views", "X"],
    "report -o": ["report", SCENE, "-o", "X.html"],
    "sweep -o": ["sweep", CHIP, "--vary", "sprites.per_line=4", "-o", "X.csv", "--jobs", "1"],
    "sweep journal": ["sweep", CHIP, "--vary", "sprites.per_line=4", "-o", "X.csv", "--jobs", "1"],
    "compare DIR": ["compare", CHIP, CHIP, "--scene", SCENE, "-o", "X"],
    "fit DIR": ["fit", ART, "--chip", CHIP, "--layer", "far", "-o", "X"],
}
"""The slots that name a file, or a folder, to be written."""

WRITING = [(slot, kind) for slot in WRITTEN for kind in KINDS if kind != "no permission"]
WRITTEN_OFTEN = {
    (slot, kind) for one, slot in enumerate(WRITTEN) for two, kind in enumerate(KINDS) if (one + two) % 3 == 0
}
"""Of all meetings of a slot and a kind of no file those of every run: each slot meets two or three kinds."""


@pytest.fixture
def place(tmp_path, monkeypatch):
    """The corpus's good scene with its chip and art; a command that hangs is an error."""
    shutil.copytree(CORPUS / "art", tmp_path / "art")
    (tmp_path / "chips").mkdir()
    shutil.copy(CORPUS / CHIP, tmp_path / CHIP)
    (tmp_path / SCENE).write_text(GOOD, "utf-8")
    monkeypatch.chdir(tmp_path)

    def hangs(*_: object) -> None:
        raise AssertionError("it hangs")

    before = signal.signal(signal.SIGALRM, hangs)
    signal.alarm(PATIENCE)
    yield tmp_path
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


def named(kind: str, name: str) -> str:
    """A path that ends as ``name`` does and is no file, of the ``kind``."""
    if kind in NAMES:
        return NAMES[kind] + Path(name).suffix if "." in name else NAMES[kind]
    MAKERS[kind](Path(name))
    return name


def refused_at_once(words: list[str], place: Path, capsys: pytest.CaptureFixture[str]) -> str:
    """What is told, by lines that say what is wrong, with exit status 2 and nothing written."""
    before = sorted(place.rglob("*"))
    assert main(words) == 2
    assert sorted(place.rglob("*")) == before
    out, err = capsys.readouterr()
    assert not out
    assert err
    assert all(len(line) < 500 and line.isprintable() for line in err.splitlines())
    return err


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("slot", READ)
def test_a_command_that_should_read_it(place, capsys, slot, kind):
    ending = next(word for word in READ[slot] if word.startswith("X"))
    name = named(kind, ending)
    if kind in NAMES:
        name = NAMES[kind] + ending[1:]
    err = refused_at_once([name if word == ending else word for word in READ[slot]], place, capsys)
    assert ": cannot be read: " in err


@pytest.mark.parametrize("slot", [*READ, *WRITTEN])
def test_a_name_of_thousands_of_letters_does_not_flood(place, capsys, slot):
    words = {**READ, **WRITTEN}[slot]
    long = [word.replace("X", "n" * 5000, 1) if word.startswith("X") else word for word in words]
    err = refused_at_once(long, place, capsys)
    assert "nnn...nnn" in err
    assert "File name too long" in err


@pytest.mark.parametrize("every_command", [False, pytest.param(True, marks=pytest.mark.soak)])
@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("slot", SCENES)
def test_a_scene_that_names_it(place, capsys, slot, kind, every_command):
    """By all commands that load a scene; on every run by ``check`` and one of the others, each of which meets every slot."""
    old, name = SCENES[slot]
    assert old in GOOD
    quoted = '"' + named(kind, name).replace("\0", "\\u0000") + '"'
    key = {"palette": "png", "map": "picture"}.get(slot)
    new = f"{key} = {quoted}" if key else old[: old.rindex('"', 0, -1)] + quoted
    (place / "bad.scene.toml").write_text(GOOD.replace(old, new, 1), "utf-8")
    for command, words in LOADING.items() if every_command else LOADING_OF[slot, kind]:
        if (slot, command) == ("chip", "budget"):
            continue  # the scene is loaded for another chip, and its own is not asked for
        assert "cannot be read: " in refused_at_once(words, place, capsys)


@pytest.mark.parametrize(("slot", "kind"), few(WRITING, WRITTEN_OFTEN.__contains__))
def test_a_command_that_should_write_it(place, capsys, slot, kind):
    """A folder is no file to be written, but where a folder is asked for it is one."""
    ending = next(word for word in WRITTEN[slot] if word.startswith("X"))
    made = f"{ending}.journal" if slot == "sweep journal" else ending.rstrip("/")
    wants_folder = "." not in ending
    if kind == "folder" and (wants_folder or slot in {"render -o", "sweep -o"}):
        pytest.skip("a folder is taken, with the results in it")
    name = ending
    if kind in NAMES:
        name = NAMES[kind] + ending[1:]
    else:
        named(kind, made)
    err = refused_at_once([name if word == ending else word for word in WRITTEN[slot]], place, capsys)
    assert "no scene was found" not in err
    assert {"zero byte": "a\\u0000b", "name too long": "File name too long"}.get(kind, made) in err
