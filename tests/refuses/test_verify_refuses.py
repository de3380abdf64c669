"""Is a wrong folder or capture, or a hostile one, refused with status 2, its place and what is allowed, in bounded memory?"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from ponds import H, L, W, pond, rows
from refusal import refused
from soaked import quick

import vdpsim
from vdpsim.cli import main


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    return pond(tmp_path_factory.mktemp("pond"), frames=range(2))


CAPTURES = {
    "no record": ("hello\n", r"c\.txt: has no record of a kind that is compared: dot, access, missed, sprites"),
    "nothing": ("", r"has no record"),
    "stimulus": ("bus 0 0 0 12 ff\n", r"has no record"),
    "no place": ("dot x x x 00\n", r"has no record .*; 1 have no place that is known"),
    "too few columns": (
        "# one\n\ndot 0 0 0\n",
        r"c\.txt:3: dot must have the columns frame line dot entry, got 3 of them",
    ),
    "too few for an access": (
        "access 0 0 0 1\n",
        r"c\.txt:1: access must have the columns frame line slot client address, got 4",
    ),
    "no number": (
        "dot 0 0 0 1\ndot 0 0 zero 1\n",
        r"c\.txt:2: dot must be a number in base 10, 0 to 2147483647, got zero",
    ),
    "a digit of another base": ("dot 0 a 0 1\n", r"c\.txt:1: line must be a number in base 10"),
    "a huge number": ("dot 0 0 0 1\ndot 0 0 2147483648 1\n", r"c\.txt:2: dot must be a number in base 10"),
    "a number of 1000 digits": (
        "dot 0 0 " + "9" * 1000 + " 1\n",
        r"c\.txt:1: dot must be a number in base 10, .* got 9{18}",
    ),
    "a value of 65 bits": (
        "access 0 0 0 1 0 10000000000000000\n",
        r"c\.txt:1: value must be a number in base 16, of up to 64 bits",
    ),
    "a sign in base 16": ("dot 0 0 0 -1\n", r"c\.txt:1: entry must be a number in base 16"),
    "two signs": ("dot 0 0 --1 1\n", r"c\.txt:1: dot must be a number in base 10"),
    "a sign behind digits": ("dot 0 0 1- 1 0 0 0 0\n", r"c\.txt:1: dot must be a number in base 10, .* got 1-"),
    "frames out of order": ("dot 1 0 0 1\ndot 0 0 0 1\n", r"dot records of frame 0 come after those of frame 1"),
    "a long line": (
        "dot 0 0 0 1" + " 7" * 1_000_000,
        r"c\.txt:1: a record's line must be at most 65536 characters long",
    ),
}


@pytest.mark.parametrize("name", CAPTURES)
def test_a_wrong_capture_is_refused_with_its_line(tmp_path, folder, name, capsys):
    text, told = CAPTURES[name]
    (tmp_path / "c.txt").write_text(text)
    with refused(vdpsim.InputError, told):
        vdpsim.verify(tmp_path / "c.txt", folder)
    assert main(["verify", str(tmp_path / "c.txt"), "--against", str(folder), "-o", str(tmp_path / "d.png")]) == 2
    assert capsys.readouterr().out == "" and not (tmp_path / "d.png").exists()


@pytest.mark.parametrize(("number", "taken"), [("2147483647", True), ("2147483648", False)])
def test_both_sides_of_the_largest_number(tmp_path, folder, number, taken):
    (tmp_path / "c.txt").write_text(f"dot 0 0 0 1\ndot 0 {number} {number} 1\n")
    if taken:
        assert vdpsim.verify(tmp_path / "c.txt", folder).outcomes["dot"].outside == 1
    else:
        with refused(vdpsim.InputError, "c.txt:2"):
            vdpsim.verify(tmp_path / "c.txt", folder)


def edited(folder: Path, place: Path, name: str, change) -> Path:
    """A copy of the folder in which one file is changed; None: left out."""
    for one in ("index.json", *(str(path.relative_to(folder)) for path in (folder / "vectors").iterdir())):
        text = (folder / one).read_text()
        text = change(text) if one == name else text
        if text is not None:
            (place / one).parent.mkdir(parents=True, exist_ok=True)
            (place / one).write_text(text)
    return place


def of_index(**given):
    return lambda text: json.dumps({**json.loads(text), **given})


LAST = f"{H - 1:5}{W - 1:5}"
"""The place of the picture's last dot, as a record has it."""

MOST = (2 << 20) // L
"""Slots of a line, of which a frame may have so many and no more."""

FOLDERS = {
    "no index": ("index.json", lambda _text: None, r"index\.json: cannot be read: No such file or directory; it stands in every"),
    "no JSON": ("index.json", lambda _text: "{", r"index\.json: "),
    "another form": ("index.json", of_index(format=2), r"index\.json: format: "),
    "no frames": ("index.json", of_index(frames=[]), r"index\.json: frames: "),
    "a wide picture": ("index.json", of_index(width=1025), r"index\.json: width: "),
    "no dots": ("vectors/dot.txt", lambda _text: None, r"vectors/dot\.txt: cannot be read: No such file"),
    "fewer dots": (
        "vectors/dot.txt", lambda text: text.rsplit("\n", 2)[0] + "\n", rf"dot\.txt: must have {H * W} dot records of frame 1"),
    "dots of a later frame": (
        "vectors/dot.txt", lambda text: text.replace("dot      1", "dot      5"), rf"must have {H * W} dot records of frame 1"),
    "a dot that is none": (
        "vectors/dot.txt", lambda text: text.replace("dot      1 ", "dot      q ", 1), r"dot\.txt:\d+: frame must be"),
    "a dot beyond": ("vectors/dot.txt", lambda text: text.replace(LAST, f"{H - 1:5}   99", 1), r"beyond the frame"),
    "two dots at one place": (
        "vectors/dot.txt", lambda text: text.replace(LAST, f"{H - 1:5}{W - 2:5}", 1), r"out of order, or two at one place"),
    "a frame wider than the picture": (
        "index.json", of_index(width=W - 1), rf"index\.json: width must be at least {W}, .* got {W - 1}"),
    "a frame taller than the picture": (
        "index.json", of_index(height=H - 1), rf"height must be at least {H}, .* got {H - 1}"),
    "frames out of order": (
        "index.json",
        lambda text: json.dumps({**json.loads(text), "frames": json.loads(text)["frames"][::-1]}),
        r"index\.json: the frames must be in order",
    ),
    "a picture wider than the line": (
        "index.json", of_index(dots_per_line=W - 1), rf"dots_per_line must be at least {W}, .* got {W - 1}"),
    "more slots than a frame has": (
        "index.json", of_index(slots_per_line=MOST + 1), rf"at most 2,097,152 slots, got {(MOST + 1) * L:,}"),
}  # fmt: skip


@pytest.mark.parametrize("name", FOLDERS)
def test_a_wrong_folder_is_refused(tmp_path, folder, name):
    file, change, told = FOLDERS[name]
    bad = edited(folder, tmp_path / "bad", file, change)
    with refused(vdpsim.InputError, told):
        vdpsim.verify(folder / "vectors/dot.txt", bad)


@pytest.mark.parametrize("given", [{"width": W + 1, "height": H + 1}, {"slots_per_line": MOST}, {"dots_per_line": W}])
def test_numbers_that_are_just_right_together_are_taken(tmp_path, folder, given):
    assert vdpsim.verify(
        folder / "vectors/dot.txt", edited(folder, tmp_path / "bent", "index.json", of_index(**given))
    ).same


def test_a_folder_that_was_exported_without_vectors_says_what_is_missing(tmp_path, folder):
    def bare(text):
        index = json.loads(text)
        return json.dumps({**index, "frames": [{**one, "records": {}} for one in index["frames"]]})

    with refused(vdpsim.InputError, 'has no expected records; export it with the part "vectors"'):
        vdpsim.verify(folder / "vectors/dot.txt", edited(folder, tmp_path / "bad", "index.json", bare))


def test_files_that_are_none_are_refused(tmp_path, folder):
    for capture, against, told in (
        (tmp_path / "none.txt", folder, r"none\.txt: cannot be read"),
        (tmp_path, folder, r"cannot be read: it is no regular file"),
        (folder / "vectors/dot.txt", tmp_path / "none", r"index\.json: cannot be read"),
        (folder / "vectors/dot.txt", folder / "vectors/dot.txt", r"index\.json: cannot be read"),
    ):
        with refused(vdpsim.InputError, told):
            vdpsim.verify(capture, against)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--signal", "dot"], "--signal: must be ROLE=PATH, got dot"),
        (["--signal", "dot=a", "--signal", "dot=b"], "--signal: dot is chosen twice"),
        (["-o", "diff.jpg"], "-o: must end in .png, got diff.jpg"),
        (["--scale", "9"], "1 to 8"),
    ],
)
def test_a_wrong_command_line_is_refused(folder, words, told, capsys):
    assert main(["verify", str(folder / "vectors/dot.txt"), "--against", str(folder), *words]) == 2
    assert told in capsys.readouterr().err


def test_python_is_refused_what_is_no_such_argument(folder):
    for given, told in (
        ({"whole": 1}, "whole must be"),
        ({"signals": {"dot": 3}}, "signals must"),
        ({"signals": 3}, "signals must"),
    ):
        with refused((TypeError, ValueError), told):
            vdpsim.verify(folder / "vectors/dot.txt", folder, **given)


MEGABYTE = 1 << 20

EACH = """
import json, os, resource, sys
import vdpsim
import vdpsim.cli.hardware.verify
from vdpsim.cli import main
resource.setrlimit(resource.RLIMIT_AS, (2 << 30, 2 << 30))
folder, against = sys.argv[1:]
vdpsim.verify(os.path.join(against, "vectors/dot.txt"), against).text()  # what is loaded for it is loaded once
found = {}
for name in sorted(os.listdir(folder)):
    place = os.path.join(folder, name)
    if (child := os.fork()) == 0:
        told = os.open(place + ".told", os.O_WRONLY | os.O_CREAT)
        os.dup2(told, 1)
        os.dup2(told, 2)
        sys.exit(main(["verify", place, "--against", against]))
    _, status, used = os.wait4(child, 0)
    found[name] = [os.waitstatus_to_exitcode(status), open(place + ".told").read(), used.ru_maxrss // 1024]
print(json.dumps(found))
"""
"""The command on each file of a folder, each in a process of its own: its status, what it says, and its most memory in MB."""


@pytest.fixture(scope="module")
def hostile(tmp_path_factory, folder, request) -> dict[str, tuple[int, str, int, float]]:
    """What the command makes of each hostile capture that this run asks for, and how many megabytes that has."""
    place = tmp_path_factory.mktemp("hostile")
    asked = [one.callspec.params["name"] for one in request.session.items if "hostile" in one.fixturenames]
    asked.append(HARMLESS)
    for number, name in enumerate(asked):
        (place / f"{number:02}").write_bytes(HOSTILE.get(name, lambda: b"dot 0 0 0 1\n")())
    sizes = [path.stat().st_size for path in sorted(place.iterdir())]
    done = subprocess.run(
        [sys.executable, "-c", EACH, place, folder], capture_output=True, text=True, timeout=300, check=True
    )
    shutil.rmtree(place)
    told = zip(json.loads(done.stdout).values(), sizes, strict=True)
    return {name: (*found, size / MEGABYTE) for name, (found, size) in zip(asked, told, strict=True)}


HARMLESS = "one dot"
"""A capture that shows what a process takes anyway."""


HOSTILE = {
    "two megabytes of one line": lambda: b"x" * (2 * MEGABYTE),
    "two megabytes of one line that is a record": lambda: b"dot " + b"0 " * MEGABYTE,
    "two megabytes of zeros": lambda: bytes(2 * MEGABYTE),
    "all bytes": lambda: bytes(range(256)) * 8_000,
    "very many frames": lambda: b"".join(b"dot %d 0 0 1\n" % number for number in range(70_000)),
    "very many frames backwards": lambda: b"".join(b"dot %d 0 0 1\n" % number for number in range(70_000, 0, -1)),
    "one dot two million times": lambda: b"dot 0 0 0 1\n" * 2_100_000,
    "lines of every length": lambda: b"".join(b"z" * (number % 900) + b"\n" for number in range(5_000)),
    "words without end": lambda: b"a " * MEGABYTE + b"\n",
    "numbers that are not known": lambda: b"dot 0 0 0 xx\n" * 20_000,
    "a dump of very many signals": lambda: b"".join(b"$var wire 1 %x n%d $end\n" % (n, n) for n in range(265_000)),
    "a dump of one id a megabyte long": lambda: (
        b"$var wire 1 " + b"!" * (2 * MEGABYTE) + b" n $end $enddefinitions $end\n"
    ),
    "a dump with a comment of a megabyte": lambda: b"$comment " + b"x\n" * (MEGABYTE // 2),
    "a dump with a wide vector": lambda: (
        b"$var wire 999999999 ! dot $end $enddefinitions $end\n#0\nb" + b"1" * 60_000 + b" !\n"
    ),
}


@pytest.mark.parametrize(
    "name", quick(HOSTILE, lambda name: name not in {"one dot two million times", "a dump of very many signals"})
)
@pytest.mark.unmeasured
def test_a_hostile_capture_ends_in_bounded_memory_and_without_a_traceback(hostile, name):
    """At most forty bytes for each of the file's, beside what a process takes anyway and five MB; and never more than 160 MB."""
    status, said, most, size = hostile[name]
    assert status in {1, 2} and "Traceback" not in said and "fault of vdpsim" not in said
    assert said and max(map(len, said.splitlines())) < 2000
    assert most < min(160, hostile[HARMLESS][2] + 5 + 40 * size)


def test_both_sides_of_the_most_records_of_a_frame(tmp_path, folder, monkeypatch):
    monkeypatch.setattr("vdpsim.handoff.records.framed.MOST", H * W)
    assert vdpsim.verify(folder / "vectors/dot.txt", folder).same
    monkeypatch.setattr("vdpsim.handoff.records.framed.MOST", H * W - 1)
    with refused(vdpsim.InputError, rf"frame 0 has more than {H * W - 1:,} dot records, the most that are taken"):
        vdpsim.verify(folder / "vectors/dot.txt", folder)


def test_frames_that_the_folder_has_not_are_told_and_not_compared(tmp_path, folder):
    told = [" ".join(row) for row in rows(folder, "dot")] + ["dot 7 0 0 1", "dot 9 0 0 1"]
    (tmp_path / "c.txt").write_text("\n".join(told))
    found = vdpsim.verify(tmp_path / "c.txt", folder)
    assert found.same and found.strange == (7, 9) and "not in the folder: frames 7, 9 of the capture" in found.text()


def test_of_very_many_frames_that_the_folder_has_not_the_first_are_told(tmp_path, folder, monkeypatch):
    """A stranger's capture may number a frame for each of its lines: so many are kept, and no more."""
    monkeypatch.setattr("vdpsim.handoff.verifying.trial.MOST_STRANGE", 2)
    told = [" ".join(row) for row in rows(folder, "dot")] + [f"dot {number} 0 0 1" for number in (7, 8, 9)]
    (tmp_path / "c.txt").write_text("\n".join(told))
    assert vdpsim.verify(tmp_path / "c.txt", folder).strange == (7, 8)
