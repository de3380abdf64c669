"""Names that the rule of ``vdpsim/handoff/names.py`` gives, before the languages' own compilers.

Each declares every keyword of all the languages, escaped for its own: one that its list lacked would be refused. And each is
given the words of its own list as they are, which it refuses.
"""

from __future__ import annotations

import re
from typing import NamedTuple

import pytest
from real_parts import module, program, run

from vdpsim.handoff import keywords
from vdpsim.handoff.keywords import KEYWORDS, Language
from vdpsim.handoff.names import escaped
from vdpsim.handoff.registers.rdl import inside

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


PACKAGE = """package {file} is
  constant {word} : natural := 1;
  constant b : bit := '0'; constant c : character := 'a'; constant d : delay_length := 1 ns; constant e : severity_level := note;
  constant f : boolean := false; constant t : boolean := true; constant i : integer := 3; constant n : natural := 3;
  constant p : positive := 1; constant r : real := 1.0; constant s : string := "a"; constant u : time := 1 ns;
  constant k : file_open_kind := read_mode; constant q : file_open_status := open_ok; constant bs : bit_vector := "00";
  constant fs : boolean_vector := (f, t); constant is_2 : integer_vector := (1, 2); constant rs : real_vector := (1.0, 2.0);
  constant us : time_vector := (1 ns, 2 ns);
end package;
"""
HEADERS = "#include <stdalign.h>\n#include <assert.h>\n#include <stdbool.h>\n#include <threads.h>\n"
FUNCTION = "void {file}(void);\nvoid {file}(void) {{ int {word} = 1; (void){word}; }}\n"
MODULE = "module {file};\n  localparam {word} = 1;\nendmodule\n"


class Tool(NamedTuple):
    """A command that names each file in which something is wrong, and such a file that has a word for a name.

    ``together``: how many words one run takes.
    """

    command: tuple[str, ...]
    ending: str
    text: str
    together: int = 1000


LISTS = {
    "VERILOG": Tool(("iverilog", "-g2005", "-t", "null"), "v", MODULE),
    "SYSTEMVERILOG": Tool(("iverilog", "-g2012", "-t", "null"), "v", MODULE),
    "AMS": Tool(("iverilog", "-g2005", "-t", "null"), "v", MODULE),
    "STD": Tool(("verilator", "--lint-only", "--error-limit", "1000", "--language", "1800-2017"), "v", MODULE),
    "VHDL": Tool(
        ("ghdl", "-s", "--std=08", "-fmax-errors=10000"),
        "vhd",
        "package {file} is\n  constant {word} : natural := 1;\nend;\n",
    ),
    "STANDARD": Tool(("ghdl", "-s", "--std=08", "-fmax-errors=10000"), "vhd", PACKAGE, 1),
    "C": Tool(("gcc", "-std=c11", "-fsyntax-only"), "c", FUNCTION),
    "GNU": Tool(("gcc", "-std=gnu11", "-fsyntax-only"), "c", FUNCTION),
    "C_HEADERS": Tool(("gcc", "-std=c11", "-fsyntax-only"), "c", HEADERS + FUNCTION),
}
"""For each list of ``keywords.py`` who refuses its words."""

LAST = ("table", "package")
"""After the one Icarus Verilog reads the next file as its rows, after the other GHDL 2.0 ends with a fault of its own."""


@pytest.mark.parametrize("name", LISTS)
def test_each_word_of_a_list_is_refused_as_a_name_and_a_word_of_no_list_is_not(tmp_path, name):
    """Several words in one run of a tool, each before the file of an ordinary one, in which nothing may be wrong."""
    tool, words = LISTS[name], sorted(getattr(keywords, name).split(), key=LAST.__contains__)
    for begin in range(0, len(words), tool.together):
        files = []
        for number, word in enumerate(words[begin : begin + tool.together]):
            for file, text in ((f"fen{number}", f"reed{number}"), (f"bad{number}", word)):
                files.append(f"{file}.{tool.ending}")
                (tmp_path / files[-1]).write_text(tool.text.format(file=file, word=text))
        done = run(tmp_path, program(tool.command[0]), *tool.command[1:], *files)
        wrong = re.findall(rf"^(?:%Error[^:]*: )?(\w+)\.{tool.ending}:\d+:", done.stdout + done.stderr, re.MULTILINE)
        assert set(wrong) == {file.partition(".")[0] for file in files if file.startswith("bad")}, done.stderr[:2000]


def test_each_word_of_systemrdl_is_refused_and_no_other(tmp_path):
    rdl, messages = module("systemrdl", "systemrdl-compiler"), module("systemrdl.messages", "systemrdl-compiler")

    class Quiet(messages.MessagePrinter):  # type: ignore[misc,name-defined] # of a library without which this module loads too
        def emit_message(self, lines: list[str]) -> None:
            """Say nothing: whether there was a mistake is all that counts."""

    def taken(word: str) -> bool:
        (tmp_path / "top.rdl").write_text(f"addrmap top {{ reg {{ field {{ sw = rw; }} {word}; }} one; }};\n")
        compiler = rdl.RDLCompiler(message_printer=Quiet())
        try:
            compiler.compile_file(str(tmp_path / "top.rdl"))
            compiler.elaborate()
        except rdl.RDLCompileError:
            return False
        return True

    assert {word for word in ALL if not taken(word)} == KEYWORDS["systemrdl"]


@pytest.mark.parametrize("raw", ['"', "[b]reed[/b]"])
def test_what_systemrdl_would_read_in_a_text_is_what_strings_takes_out(tmp_path, raw):
    """Raw, each ends the string or is markup; as ``inside`` writes it, each is read as it stands."""
    for text, same in ((raw, False), (inside(raw), True)):
        (tmp_path / "top.rdl").write_text(
            f'addrmap top {{ reg {{ desc = "{text}"; field {{ sw = rw; }} f; }} one; }};\n'
        )
        rdl = module("systemrdl", "systemrdl-compiler")
        compiler = rdl.RDLCompiler()
        try:
            compiler.compile_file(str(tmp_path / "top.rdl"))
            told = compiler.elaborate().top.registers()[0].get_html_desc()
        except rdl.RDLCompileError:
            told = None
        assert (told is not None and re.sub(r"</?p>", "", told).strip() == text) is same
