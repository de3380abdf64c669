"""Names that the rule of ``vdpsim/handoff/names.py`` gives, before the languages' own compilers.

Each declares every keyword of all the languages, escaped for its own: one that its list lacked would be refused.
"""

from __future__ import annotations

import pytest
from real_parts import program, run

from vdpsim.handoff.keywords import KEYWORDS, Language
from vdpsim.handoff.names import escaped

ALL = sorted(set().union(*KEYWORDS.values()))


def names(language: Language, *, upper: bool = False) -> list[str]:
    """All keywords as names of ``language``, each once; of those that differ in case alone the first."""
    made = {(name := escaped([word], language, upper=upper)).lower(): name for word in reversed(ALL)}
    return list(made.values())


def verilog(made: list[str]) -> str:
    lines = [f"    localparam {name} = {number};" for number, name in enumerate(made)]
    return "\n".join(["module top;", *lines, "endmodule", ""])


@pytest.mark.parametrize("upper", [False, True])
@pytest.mark.parametrize("words", [["-g2005", "-Wall"], ["-g2012", "-Wall"]])
def test_iverilog_takes_them(tmp_path, words, upper):
    (tmp_path / "top.v").write_text(verilog(names("verilog", upper=upper)))
    done = run(tmp_path, program("iverilog"), *words, "-t", "null", "top.v")
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize("words", [["--language", "1364-2005"], ["--language", "1800-2017"]])
def test_verilator_takes_them(tmp_path, words):
    (tmp_path / "top.v").write_text(verilog(names("verilog")))
    done = run(tmp_path, program("verilator"), "--lint-only", *words, "top.v")
    assert (done.returncode, done.stderr) == (0, "")


def test_yosys_takes_them(tmp_path):
    (tmp_path / "top.v").write_text(verilog(names("verilog")))
    done = run(tmp_path, program("yosys"), "-q", "-p", "read_verilog -sv top.v")
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize("standard", ["93", "08"])
def test_ghdl_takes_them(tmp_path, standard):
    lines = [f"  constant {name} : natural := {number};" for number, name in enumerate(names("vhdl"))]
    (tmp_path / "top.vhd").write_text("\n".join(["package top is", *lines, "end package;", ""]))
    done = run(tmp_path, program("ghdl"), "-a", f"--std={standard}", "top.vhd")
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize("standard", ["c11", "gnu11", "gnu2x"])
def test_gcc_takes_them(tmp_path, standard):
    lines = [f"    int {name} = {number}; (void){name};" for number, name in enumerate(names("c"))]
    (tmp_path / "top.c").write_text("\n".join(["void top(void);", "void top(void)", "{", *lines, "}", ""]))
    done = run(tmp_path, program("gcc"), f"-std={standard}", "-Wall", "-Werror", "-fsyntax-only", "top.c")
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize(
    ("language", "name", "words"),
    [("vhdl", "top.vhd", ["ghdl", "-a", "--std=08"]), ("verilog", "top.v", ["iverilog", "-g2012", "-t", "null"])],
)
def test_without_the_rule_they_would_be_refused(tmp_path, language, name, words):
    """That a compiler takes what it is given says something: bare, each of these keywords fails."""
    for word in ("register", "inout", "begin") if language == "vhdl" else ("reg", "inout", "begin"):
        text = (
            f"package top is\n  constant {word} : natural := 1;\nend package;\n"
            if language == "vhdl"
            else verilog([word])
        )
        (tmp_path / name).write_text(text)
        assert run(tmp_path, program(words[0]), *words[1:], name).returncode
