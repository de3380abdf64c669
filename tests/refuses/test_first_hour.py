"""Does it refuse well, as a newcomer meets it? Slips in words, files in each other's place, and what to do instead."""

from __future__ import annotations

import io
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image
from rich.text import Text
from soaked import few

from vdpsim.budgets.told.plain import table_lines
from vdpsim.budgets.told.section import Section
from vdpsim.cli import main, say
from vdpsim.cli.main import COMMANDS
from vdpsim.door.shown import meant, nearest

ROOT = Path(__file__).resolve().parents[2]
FLOCK = "scenes/flock.scene.toml"


@pytest.fixture(scope="module")
def shared(tmp_path_factory):
    folder = tmp_path_factory.mktemp("hour")
    shutil.copytree(ROOT / "scenes", folder / "scenes")
    return folder


@pytest.fixture
def place(shared, monkeypatch):
    monkeypatch.chdir(shared)
    return shared


def changed(place, name, pattern, other):
    """A copy of a shipped file in which one thing is other."""
    text, count = re.subn(
        pattern, lambda _: other, (place / "scenes" / name).read_text("utf-8"), count=1, flags=re.MULTILINE
    )
    assert count == 1
    made = place / "scenes" / name.replace(".chip", "x.chip").replace(".scene", "x.scene")
    made.write_text(text, "utf-8")
    return str(made.relative_to(place))


def told(capsys, *words):
    """What is told of a command line that is refused."""
    assert main(list(words)) == 2
    out, err = capsys.readouterr()
    assert not out
    return err


SLIPS = {
    "a command": ("rendr", "invalid choice: 'rendr' (choose from", "; did you mean render?"),
    "an option": (f"render {FLOCK} --scal 2 -o x.png", "unrecognized arguments: --scal 2; did you mean --scale?"),
    "a choice": ("schema chp", "invalid choice: 'chp'", "; did you mean chip?"),
    "frames with a dash": (f"render {FLOCK} -o x/ --frames 0-5", "--frames: must be A:B or A:B:STEP", "got '0-5'"),
    "lines with a dash": (f"export {FLOCK} -o x/ --lines 0-5", "--lines: must be A:B with A below B, got '0-5'"),
    "a chip as a scene": (
        "render scenes/chips/curlew.chip.toml -o x.png",
        "curlew.chip.toml: is a chip file, and must be a scene file",
    ),
    "a scene as a chip": (
        f"budget {FLOCK}",
        "flock.scene.toml: is a scene file, and must be a chip file; the chip that it names is 'chips/curlew.chip.toml'",
    ),
    "a scene as the chip of another": (
        f"map scenes/ferry.scene.toml --chip {FLOCK}",
        "is a scene file, and must be a chip file",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", SLIPS)
def test_a_slip_in_a_command_line_is_told_with_what_was_meant(place, capsys, name):
    words, *parts = SLIPS[name]
    err = told(capsys, *words.split())
    assert not [part for part in parts if part not in err], err
    assert len(err.splitlines()) == 1 or "usage: " in err


FILES = {
    "a key": (
        "chips/curlew.chip.toml", "^per_line = 12", "per_lines = 12",
        "per_lines: is not a known key; known are ", "; did you mean per_line?",
    ),
    "a source": ("chips/curlew.chip.toml", '^source = "far"', 'source = "fra"', "got 'fra'; did you mean far?"),
    "a client": (
        "chips/curlew.chip.toml", '^"far.cells" =', '"far.cell" =',
        "far.cell: is no client of this chip", "; did you mean far.cells?",
    ),
    "a register": ("saltmarsh.scene.toml", '^"near.split"', '"near.splt"', "got 'near.splt'; did you mean near.split?"),
    "a mode": (
        "saltmarsh.scene.toml", '^for = "far.tiles"',
        'for = "far.tile"', "got 'far.tile'; did you mean far.tiles?",
    ),
    "a group": ("saltmarsh.scene.toml", '^group = "bird"', 'group = "brid"', "got 'brid'; did you mean bird?"),
    "a moved register": (
        "saltmarsh.scene.toml", '^register = "near.scroll_x"',
        'register = "near.scrol_x"', "did you mean near.scroll_x?",
    ),
    "a written register": (
        "saltmarsh.scene.toml", '^register = "far.enable"',
        'register = "far.enabel"', "did you mean far.enable?",
    ),
    "a chip that is a scene": (
        "saltmarsh.scene.toml", "^chip = .*",
        'chip = "ferry.scene.toml"', "ferry.scene.toml: is a scene file, and must be a chip file",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", FILES)
def test_a_slip_in_a_file_is_told_with_what_was_meant(place, capsys, name):
    file, pattern, other, *parts = FILES[name]
    err = told(capsys, "check", changed(place, file, pattern, other))
    assert not [part for part in parts if part not in err], err


def test_a_picture_that_is_no_paletted_one_is_told_what_makes_it_one(place, capsys):
    Image.new("RGB", (16, 16)).save("scenes/art/rgb.png")
    err = told(capsys, "check", changed(place, "flock.scene.toml", '^png = "art/birds.png"$', 'png = "art/rgb.png"'))
    assert "must be a paletted picture (or grey of 1 to 8 bits), is 8-bit RGB: vdpsim fit makes one of it" in err


@pytest.mark.parametrize(("target", "link"), [("/etc/passwd", True), ("../../out.png", False)])
def test_a_link_out_of_the_folder_is_called_that(place, capsys, target, link):
    Path("scenes/art/link.png").unlink(missing_ok=True)
    Path("scenes/art/link.png").symlink_to(target)
    given = "art/link.png" if link else target
    err = told(capsys, "check", changed(place, "flock.scene.toml", '^png = "art/birds.png"$', f'png = "{given}"'))
    assert (
        f"must be a path inside the scene's folder scenes, got '{given}'{', which is a link out of it' if link else ''}\n"
        in err
    )


def test_a_register_written_as_a_table_is_one_mistake_and_not_eleven(place, capsys):
    one = '[registers]\nname = "layers"\naddress = 4\nbits = 8\neffect = "next line"\n'
    one += 'fields."near.enable" = "0"\nfields."far.enable" = "1"\n'
    err = told(capsys, "check", changed(place, "chips/curlew.chip.toml", r"^\[registers\]\n(?:[^\[#].*\n)*", one))
    assert len(err.splitlines()) == 1
    assert (
        "registers: is a table with one register's own keys: a list of registers is written [[registers]], once for each"
        in err
    )


def test_a_frame_beyond_the_scenes_is_said_and_drawn(place, capsys):
    assert main(["render", "scenes/dusk.scene.toml", "--frame", "47", "-o", "x.png"]) == 0
    assert capsys.readouterr().err == ""
    assert main(["render", "scenes/dusk.scene.toml", "--frame", "48", "-o", "x.png"]) == 0
    assert (
        "dusk: frame 48 is beyond the 48 frames of the scene, which goes on as its file says" in capsys.readouterr().err
    )


def test_who_says_nothing_is_told_what_to_do_first(capsys):
    assert main([]) == 0
    out, err = capsys.readouterr()
    assert not err
    assert len(re.findall("^  vdpsim (?!.*--help|guide)", out, re.MULTILINE)) == 3
    assert len(out.splitlines()) <= 15


def test_the_words_to_begin_with_run(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    main([])
    lines = re.findall(r"^  vdpsim (.*?)(?:  .*)?$", capsys.readouterr().out, re.MULTILINE)
    assert [line.split()[0] for line in lines] == ["render", "new", "explain", "--help", "COMMAND", "guide"]
    for line in lines:
        if "COMMAND" not in line:
            assert main(line.split()) == 0, line


@pytest.mark.parametrize("columns", [60, 80])
def test_help_is_no_wider_than_the_terminal(monkeypatch, capsys, columns):
    monkeypatch.setenv("COLUMNS", str(columns))
    for words in ([], *([name] for name in COMMANDS)):
        assert main([*words, "--help"]) == 0
        wide = [line for line in capsys.readouterr().out.splitlines() if len(line) > columns and " " in line.strip()]
        assert not wide, words


def test_a_command_that_is_broken_can_be_copied():
    """A backslash at the end goes on with the next line (POSIX.1-2017, Shell Command Language, 2.2.1)."""
    text = "    vdpsim fit photo.jpg --chip scenes/chips/curlew.chip.toml --layer far --scale -o out/portrait/"
    lines = list(say.broken(text, 60))
    assert max(map(len, lines)) <= 60
    assert len(lines) > 1
    assert "\n".join(lines).replace("\\\n", "").split() == text.split()
    assert list(say.broken(text, len(text))) == [text]


def test_without_colours_there_is_no_bold_either(monkeypatch):
    def shown():
        screen = say.console()
        screen.file = io.StringIO()
        screen.print(Text("x", style="bold red"))
        return screen.file.getvalue()

    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert "\x1b[" in shown()
    monkeypatch.setenv("NO_COLOR", "1")
    assert shown() == "x\n"


def test_what_is_near_is_found_and_what_is_not_is_not():
    assert nearest("Per_Lines", ["per_line", "count"]) == "per_line"
    assert meant("zzz", ["per_line"]) == ""
    assert meant("x" * 10_000, ["x"]) == ""
    assert meant(3, ["per_line"]) == ""
    assert "\x1b" not in meant("a\x1bb", ["a\x1bc"])


def test_a_process_says_it_too():
    """Started with nothing: at once, without anything heavy."""
    code = "import sys; from vdpsim.cli import main; main([]); print(*sys.modules, file=sys.stderr)"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=dict(os.environ)
    )
    assert not {"numpy", "PIL", "pydantic", "rich"} & set(done.stderr.split())


def test_places_call_elements_by_their_names_as_a_sweep_does(place, capsys):
    """A name that two have, that is no plain word, or that there is none of: the number, as before."""
    path = changed(place, "chips/curlew.chip.toml", "^tile = 8 ", "tile = 7 ")
    err = told(capsys, "check", path)
    assert ": layers.near.modes.tiles.tile: must be" in err
    twice = (
        Path(path).read_text("utf-8").replace('name = "far"', 'name = "near"').replace('name = "chart"', 'name = "a b"')
    )
    Path(path).write_text(twice, "utf-8")
    err = told(capsys, "check", path)
    assert ": layers.0.modes.tiles.tile: must be" in err
    assert ": layers.1.modes.1.name: must be a name" in err
    field = "layers.near.modes.tiles.tile"
    assert main(["sweep", "scenes/chips/curlew.chip.toml", "--vary", f"{field}=8", "--jobs", "1", "-o", "s.csv"]) == 0


@pytest.mark.parametrize(
    "words",
    few(
        ["budget curlew", "budget sanderling", "compare curlew dunlin", "list", "explain sprites"],
        lambda words: words != "budget sanderling",
    ),
)
def test_a_table_that_is_piped_is_no_wider_than_120_columns(capsys, words):
    assert main(words.split()) == 0
    rows = [line for line in capsys.readouterr().out.splitlines() if line.startswith("  ")]
    assert len(rows) > 5
    assert not [row for row in rows if len(row) > 120]


def test_the_last_cell_of_a_row_goes_on_where_it_begins():
    """Both sides of the 120th column: six before the text, and 114 of the text."""
    for last, lines in (("x" * 57 + " " + "y" * 56, 1), ("x" * 57 + " " + "y" * 57, 2)):
        section = Section("", ("", ""), (("ab", last),), 0, ())
        found = list(table_lines(section))[1:]
        assert [len(line) for line in found] == ([120] if lines == 1 else [63, 63])
        assert found[-1].startswith("  ab" if lines == 1 else " " * 6 + "y")
