"""A chip's constants, read back by each language's own tools: all have the same names and the same numbers.

The compilers are Debian's: iverilog and verilator for Verilog-2005, ghdl for VHDL-2008, gcc for C11.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from bare import BARE, own
from hypothesis import HealthCheck, given, settings
from real_parts import program, run
from soaked import quick
from strategies import chips, timed_chips

from vdpsim.chip.load import load_chip, parse_chip
from vdpsim.handoff.constants.files import constants_files, sections
from vdpsim.handoff.constants.table import Constant
from vdpsim.handoff.names import escaped

CHIPS = Path(__file__).parents[2] / "scenes" / "chips"
SHIPPED = ("curlew", "dunlin", "sanderling")

Told = dict[str, tuple[int, ...]]


def expected(chip, language) -> Told:
    """Every constant by its name in a language: one number, or a table's; an empty table is written as -1."""
    found = {}
    for section in sections(chip):
        for item in section.items:
            values = (item.value,) if isinstance(item, Constant) else item.values or (-1,)
            found[escaped(item.words, language, upper=True)] = values
    return found


def printed(text: str) -> Told:
    """Lines of a name and its numbers."""
    lines = [line.split() for line in text.splitlines()]
    return {name: tuple(map(int, numbers)) for name, *numbers in lines}


def in_verilog(folder, chip, told: Told) -> Told:
    shows, single = [], scalars(chip, "verilog")
    for name, values in told.items():
        if len(values) == 1 and name in single:
            shows.append(f'$write("{name} %0d\\n", {name});')
        else:
            parts = " ".join("%0d" for _ in values)
            signed = ", ".join(f"{number(f'{name}[{32 * place} +: 32]', value)}" for place, value in enumerate(values))
            shows.append(f'$write("{name} {parts}\\n", {signed});')
    lines = ["module top;", '`include "constants.svh"', "initial begin", *shows, "end", "endmodule", ""]
    (folder / "top.v").write_text("\n".join(lines))
    built = run(folder, program("iverilog"), "-g2005", "-Wall", "-o", "top", "top.v")
    assert (built.returncode, built.stderr) == (0, "")
    return printed(run(folder, program("vvp", "iverilog"), "-n", "top").stdout)


def number(told: str, value: int) -> str:
    return f"$signed({told})" if value < 0 else told


def scalars(chip, language) -> set[str]:
    return {
        escaped(item.words, language, upper=True)
        for section in sections(chip)
        for item in section.items
        if isinstance(item, Constant)
    }


def in_c(folder, chip, told: Told) -> Told:
    lines = ["#include <stdio.h>", '#include "constants.h"', "int main(void)", "{"]
    single = scalars(chip, "c")
    for name in told:
        if name in single:
            lines.append(f'    printf("{name} %lld\\n", (long long)({name}));')
        else:
            lines.append(f'    {{ static const int64_t t[] = {name}; printf("{name}");')
            lines.append('    for (unsigned i = 0; i < sizeof t / sizeof *t; i++) printf(" %lld", (long long)t[i]);')
            lines.append('    printf("\\n"); }')
    (folder / "top.c").write_text("\n".join([*lines, "    return 0;", "}", ""]))
    built = run(folder, program("gcc"), "-std=c11", "-Wall", "-Wextra", "-pedantic", "-Werror", "-o", "top", "top.c")
    assert (built.returncode, built.stderr) == (0, "")
    return printed(run(folder, folder / "top").stdout)


def in_vhdl(folder, chip, told: Told) -> Told:
    shows, single = [], scalars(chip, "vhdl")
    for name, values in told.items():
        one = name in single
        names = [name] if one else [f"{name}({place})" for place in range(len(values))]
        # what an integer of VHDL does not hold is a vector, which is written in hexadecimal
        words = (one and values[0] > 0x7FFF_FFFF) or (not one and max(values) > 0x7FFF_FFFF)
        for each in names:
            image = "to_hstring" if words else "integer'image"
            shows.append(f'write(l, string\'("{name} " & {image}({each})));')
            shows.append("writeline(output, l);")
    lines = ["library ieee;", "use ieee.std_logic_1164.all;", "use std.textio.all;", "use work.constants.all;"]
    lines += ["entity top is", "end;", "architecture one of top is", "begin", "process", "variable l : line;", "begin"]
    (folder / "top.vhd").write_text("\n".join([*lines, *shows, "wait;", "end process;", "end;", ""]))
    for file in ("constants.vhd", "top.vhd"):
        built = run(folder, program("ghdl"), "-a", "--std=08", file)
        assert (built.returncode, built.stderr) == (0, "")
    found: dict[str, list[int]] = {}
    for line in run(folder, program("ghdl"), "--elab-run", "--std=08", "top").stdout.splitlines():
        name, value = line.split()
        wide = max(told[name]) > 0x7FFF_FFFF
        found.setdefault(name, []).append(int(value, 16 if wide else 10))
    return {name: tuple(values) for name, values in found.items()}


READERS = {"verilog": in_verilog, "c": in_c, "vhdl": in_vhdl}


def put(folder, chip) -> None:
    for name, data in constants_files(chip):
        (folder / name).write_bytes(data)


@pytest.mark.parametrize("language", READERS)
@pytest.mark.parametrize("name", quick(SHIPPED, "dunlin".__eq__))
def test_each_language_reads_back_every_number(tmp_path, name, language):
    chip = load_chip(CHIPS / f"{name}.chip.toml")
    put(tmp_path, chip)
    told = expected(chip, language)
    assert READERS[language](tmp_path, chip, told) == told


def test_what_a_chip_lacks_can_be_named_in_a_design(tmp_path):
    """All that Curlew names but by names of its own, in a design for a chip with next to nothing."""
    chip, full = parse_chip(BARE), load_chip(CHIPS / "curlew.chip.toml")
    put(tmp_path, chip)
    told = expected(chip, "verilog")
    assert {name for name in expected(full, "verilog") if not re.match(own(full), name)} <= told.keys()
    assert in_verilog(tmp_path, chip, told) == told


@settings(max_examples=3, deadline=None, suppress_health_check=list(HealthCheck))
@given(chip=chips() | timed_chips())
@pytest.mark.parametrize("language", quick(READERS, "verilog".__eq__))
def test_so_it_does_of_any_chip(tmp_path_factory, language, chip):
    folder = tmp_path_factory.mktemp("constants")
    put(folder, chip)
    told = expected(chip, language)
    assert READERS[language](folder, chip, told) == told


@pytest.mark.parametrize("name", quick(SHIPPED, "dunlin".__eq__))
def test_compilers_have_nothing_to_say_against_the_files(tmp_path, name):
    put(tmp_path, load_chip(CHIPS / f"{name}.chip.toml"))
    (tmp_path / "top.v").write_text('module top;\n`include "constants.svh"\nendmodule\n')
    quiet = ["-Wno-UNUSEDPARAM", "-Wno-DECLFILENAME"]
    for words in (
        [program("verilator"), "--lint-only", "-Wall", "--language", "1364-2005", *quiet, "top.v"],
        [program("ghdl"), "-a", "--std=93", "constants.vhd"],
        [
            program("gcc"),
            "-std=c11",
            "-Wall",
            "-Wextra",
            "-pedantic",
            "-Werror",
            "-fsyntax-only",
            "-x",
            "c",
            "constants.h",
        ],
    ):
        done = run(tmp_path, *words)
        assert (done.returncode, done.stderr) == (0, "")
