"""Do bash, zsh and fish complete what the parser has? Asked of the shells themselves."""

from __future__ import annotations

import io
import os
import pty
import re
import select
import shlex
import subprocess
import time
from contextlib import redirect_stdout

import pytest
from real_parts import program

from vdpsim.cli import main
from vdpsim.cli.completing.table import Command, Option
from vdpsim.cli.completing.zsh import _specs
from vdpsim.cli.main import COMMANDS, command_table
from vdpsim.shipped.files import chips, scenes

ASKED = {
    "vdpsim ren": {"render"},
    "vdpsim render curlew:fl": {"curlew:flock"},
    "vdpsim render du": set(),
    "vdpsim render --sca": {"--scale"},
    "vdpsim render x --chip dun": {"dunlin"},
    "vdpsim render sub/mi": {"sub/mine.scene.toml"},
    "vdpsim budget sub/mi": {"sub/mine.chip.toml"},
    "vdpsim schema c": {"chip"},
    "vdpsim fit x.png --dither o": {"ordered"},
    "vdpsim new x --memory 12": {"128"},
    "vdpsim new x --display 525": {"525\\ lines"},
    "vdpsim list --j": {"--json"},
    "vdpsim explain sprites.per_l": {"sprites.per_line"},
    "vdpsim explain tile lea": {"lead"},
    "vdpsim guide half": {"half-brightness"},
    "vdpsim frame 62": {"625\\ lines"},
    "vdpsim export curlew:flock --only reg": {"registers"},
    "vdpsim new x --size 288": {"288x216"},
    "vdpsim budget 'a": set(),
}
"""A line as far as it is typed, and all that may come of its last word."""


@pytest.fixture(scope="module")
def place(tmp_path_factory):
    """A folder with a scene and a chip, and each shell's script."""
    folder = tmp_path_factory.mktemp("shells")
    (folder / "sub").mkdir()
    for name in ("mine.scene.toml", "mine.chip.toml", "mine.txt"):
        (folder / "sub" / name).write_text("", "utf-8")
    for shell in ("bash", "zsh", "fish"):
        with redirect_stdout(io.StringIO()) as told:
            assert main(["completion", shell]) == 0
        (folder / shell).write_text(told.getvalue(), "utf-8")
    return folder


def test_the_table_is_the_parsers(capsys):
    """Each option of each command's help, and no other."""
    table = {one.name: one for one in command_table()}
    assert [*table] == [*COMMANDS]
    for name, one in table.items():
        assert main([name, "--help"]) == 0
        usage = capsys.readouterr().out.partition("\n\n")[0]
        own = {option.names[-1] for option in one.options} | {option.names[0] for option in one.options}
        assert set(re.findall(r"(?<![\w-])--?[a-z][a-z-]*", usage)) <= own, name
    kinds = {one.name: one.words[0].kind for one in command_table() if one.words}
    assert (kinds["render"], kinds["budget"], kinds["check"], kinds["new"]) == ("scene", "chip", "file", "folder")


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_each_script_has_all_commands_options_and_names(capsys, shell):
    assert main(["completion", shell]) == 0
    out = capsys.readouterr().out
    for command in command_table():
        assert command.name in out
        assert not [name for one in command.options for name in one.names if name.lstrip("-") not in out]
    assert not [name for name in [*chips(), *scenes()] if name not in out and name.replace(":", "\\:") not in out]


def test_bash_completes(place):
    """The words that the function leaves for bash, with what bash itself breaks off at a colon put before them."""
    script = (
        "source ./bash; complete -p vdpsim >/dev/null || exit 1; while IFS= read -r line; do COMPREPLY=(); "
        'COMP_LINE=$line; COMP_POINT=${#line}; _vdpsim; printf "%s\\n" "${COMPREPLY[@]}" ./; done'
    )
    done = subprocess.run(
        [program("bash"), "--norc", "-c", script],
        input="".join(f"{line}\n" for line in ASKED),
        cwd=place,
        capture_output=True,
        text=True,
        check=True,
    )
    assert not done.stderr
    *answers, rest = done.stdout.split("./\n")
    assert not rest
    for (line, wanted), told in zip(ASKED.items(), answers, strict=True):
        word = line.rpartition(" ")[2]
        broken = word[: word.rfind(":") + 1]
        assert {broken + one for one in told.split("\n") if one} == wanted, line


def test_fish_completes(place):
    for line, wanted in ASKED.items():
        if "'" in line:
            continue
        done = subprocess.run(
            [program("fish"), "--no-config", "-c", f"source ./fish; complete -C {shlex.quote(line)}"],
            cwd=place, capture_output=True, text=True, check=True, env={**os.environ, "HOME": str(place)},
        )  # fmt: skip
        found = {one.partition("\t")[0] for one in done.stdout.splitlines()}
        files = {"sub/mine.txt", "sub/mine.chip.toml", "sub/mine.scene.toml"}
        assert found - files == {one.replace("\\ ", " ") for one in wanted} - files or wanted <= found, line


def at_a_terminal(shell, setup, lines, folder):
    """What a person sees who types each text of ``lines`` and a tab, until what shall follow is seen or half a minute is over."""
    pid, terminal = pty.fork()
    if pid == 0:
        os.chdir(folder)
        os.execvpe(shell[0], shell, {**os.environ, "TERM": "dumb", "PS1": "$ ", "HOME": str(folder)})  # noqa: S606
    seen, until = b"", time.monotonic() + 30
    os.write(terminal, f"{setup}; echo rea''dy\n".encode())
    texts = [f"{typed}\t".encode() for typed in lines]
    ends = [re.escape(wanted.encode()) for wanted in lines.values()]
    away = b"\x15"  # takes away what is typed
    waits = list(
        zip([rb"ready\r\n[\s\S]*\$ ", *ends], [texts[0], *(away + text for text in texts[1:]), away], strict=True)
    )
    begin = 0
    while waits and time.monotonic() < until:
        if select.select([terminal], [], [], 0.1)[0]:
            seen += os.read(terminal, 4096)
        if found := re.search(waits[0][0], seen[begin:]):
            begin += found.end()
            os.write(terminal, waits.pop(0)[1])
    os.close(terminal)
    os.waitpid(pid, 0)
    return seen.decode(errors="replace")


@pytest.mark.unmeasured
def test_a_tab_in_bash(place):
    lines = {"vdpsim render curlew:fl": "curlew:flock"}
    seen = at_a_terminal([program("bash"), "--norc", "-i"], "source ./bash", lines, place)
    assert "vdpsim render curlew:flock" in seen


TYPED = {
    "vdpsim ren": "vdpsim render",
    "vdpsim render --sca": "vdpsim render --scale",
    "vdpsim budget sub/mi": "vdpsim budget sub/mine.chip.toml",
    "vdpsim schema c": "vdpsim schema chip",
    "vdpsim explain cpu.cy": "vdpsim explain cpu.cycles_per_byte",
    "vdpsim guide half": "vdpsim guide half-brightness",
    "vdpsim budget dun": "vdpsim budget dunlin",
}
"""What is typed before the tab, and what is there after it."""


@pytest.mark.unmeasured
def test_tabs_in_zsh(place):
    setup = "autoload -U compinit; compinit -u -D; source ./zsh"
    lines = {typed: wanted[len(typed) :] for typed, wanted in TYPED.items()}
    seen = at_a_terminal([program("zsh"), "-f", "-i"], setup, lines, place)
    seen = re.sub("\x1b\\[[0-9;?]*[a-zA-Z]|\x08|\x07", "", seen)
    assert [wanted for wanted in TYPED.values() if wanted not in seen] == [], seen


def test_zsh_reads_its_script(place):
    assert subprocess.run([program("zsh"), "-n", "./zsh"], cwd=place, capture_output=True, check=True).stderr == b""


def test_an_unknown_shell_is_refused(capsys):
    assert main(["completion", "ash"]) == 2
    assert "invalid choice: 'ash'" in capsys.readouterr().err


def test_what_ends_a_text_in_zsh_does_not_end_it():
    """zsh ends what an option is about at ], and takes what stands between colons for what follows the option."""
    option = Option(("--odd",), "a [b]: c:d", None)
    (spec,) = _specs(Command("odd", "", (option,), ()))
    assert shlex.split(spec) == ["*--odd[a (b); c;d]"]
