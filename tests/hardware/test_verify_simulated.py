"""Does a design that a simulator runs compare with its folder, by what it prints and by what it dumps? Icarus Verilog runs it.

The dump: IEEE 1364-2005, clause 18, by ``$dumpvars``; read beside by vcdvcd.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from ponds import D, H, L, S, W, pond, rows
from real_parts import module, program, run
from refusal import refused

import vdpsim
from vdpsim.cli import main
from vdpsim.handoff.verifying.wave.dump import Dump

DESIGN = """\
`timescale 1ns / 1ps
// Shows entries out of a memory that holds the pond's pictures, LATE dots after their time, and makes the pond's accesses.
module ppu (input clk, output reg [6:0] line, output reg [6:0] dot, output reg frame, output valid, output [4:0] entry,
            output [7:0] slot, output busy, output [3:0] client, output [12:0] address, output [15:0] data);
  parameter LATE = 0;
  reg [4:0] picture [0:{pictures} - 1];
  reg [33:0] access [0:{accesses} - 1];
  reg [4:0] behind [0:3];
  wire [12:0] place = (frame * {H} + line) * {W} + dot;
  wire [4:0] shown = line < {H} && dot < {W} ? picture[place] : 5'd0;
  // A line's slots begin {D} - {W} dots before its dot 0, two a dot; here one is looked at for half a dot, by the clock's level.
  wire early = dot >= {W};
  wire [6:0] of_line = early ? (line == {L} - 1 ? 7'd0 : line + 7'd1) : line;
  wire of_frame = early && line == {L} - 1 ? !frame : frame;
  wire [7:0] at = early ? dot - {W} : dot + {D} - {W};
  assign slot = {at[6:0], !clk};
  wire [33:0] now = access[(of_frame * {L} + of_line) * {S} + slot];
  assign {busy, client, address, data} = now;
  assign valid = line < {H} && dot < {W};
  assign entry = LATE == 0 ? shown : behind[LATE - 1];
  initial begin
    $readmemh("picture.hex", picture);
    $readmemh("access.hex", access);
    line = {L} - 1; dot = {W}; frame = 1;
  end
  always @(posedge clk) begin
    behind[0] <= shown; behind[1] <= behind[0]; behind[2] <= behind[1]; behind[3] <= behind[2];
    dot <= dot == {D} - 1 ? 0 : dot + 1;
    if (dot == {D} - 1) begin
      line <= line == {L} - 1 ? 0 : line + 1;
      if (line == {L} - 1) frame <= !frame;
    end
  end
endmodule

module bench;
  reg clk = 0;
  wire [6:0] line, dot;
  wire frame, valid, busy;
  wire [4:0] entry;
  wire [7:0] slot;
  wire [3:0] client;
  wire [12:0] address;
  wire [15:0] data;
  ppu #(.LATE({late})) ppu (.clk(clk), .line(line), .dot(dot), .frame(frame), .valid(valid), .entry(entry), .slot(slot),
                            .busy(busy), .client(client), .address(address), .data(data));
  integer print;
  always #5 clk = !clk;
  always @(negedge clk) if (valid && started) $fdisplay(print, "dot %0d %d %0d %h  # at %0t", frame, line, dot, entry, $time);
  reg started = 0;
  always @(posedge clk) if (line == {L} - 1 && dot == {D} - 1) started <= 1;
  initial begin
    print = $fopen("capture.txt");
    $dumpfile("bench.vcd");
    $dumpvars(0, bench);
    #({dots} * 10) $finish;
  end
endmodule
"""


WRONG = 1, 20, 23
"""The frame, line and dot of a dot that a design shows wrong."""

LENGTHS = {"pictures": 2 * H * W, "accesses": 2 * L * S, "D": D, "H": H, "L": L, "S": S, "W": W}


def sized(text: str, **more: int) -> str:
    """A design's text with the pond's sizes and ``more`` numbers where it has their names in braces."""
    for name, number in {**LENGTHS, **more}.items():
        text = text.replace(f"{{{name}}}", str(number))
    return text


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    return pond(tmp_path_factory.mktemp("pond"), frames=range(2))


@pytest.fixture(scope="module")
def right(tmp_path_factory, folder) -> Path:
    """What a design without a fault prints and dumps."""
    place: Path = tmp_path_factory.mktemp("right")
    simulated(folder, place)
    return place


def simulated(folder: Path, place: Path, *, late: int = 0, wrong: tuple[int, int, int] | None = None) -> None:
    """Run the design on the folder's own pictures and accesses; ``wrong``: one dot is another."""
    put_memories(folder, place, wrong)
    (place / "bench.v").write_text(sized(DESIGN, late=late, dots=2 * L * D + 15))
    compiled = run(place, program("iverilog"), "-g2005", "-o", "bench", "bench.v")
    assert (compiled.returncode, compiled.stderr) == (0, "")
    assert run(place, program("vvp", "iverilog"), "-n", "bench").returncode == 0


def put_memories(folder: Path, place: Path, wrong: tuple[int, int, int] | None) -> None:
    """The folder's pictures and accesses as a design loads them."""
    picture = np.zeros((2, H, W), int)
    access = np.zeros((2, L, S), object)
    for row in rows(folder):
        if row[0] == "dot":
            picture[tuple(map(int, row[1:4]))] = int(row[4], 16)
        if row[0] == "access":
            where, client, address, data = tuple(map(int, row[1:4])), int(row[4]), int(row[5], 16), int(row[6], 16)
            access[where] = 1 << 33 | client << 29 | address << 16 | data
    if wrong is not None:
        picture[wrong] ^= 16
    (place / "picture.hex").write_text("".join(f"{one:02x}\n" for one in picture.reshape(-1).tolist()))
    (place / "access.hex").write_text("".join(f"{one:09x}\n" for one in access.reshape(-1).tolist()))


def test_what_a_simulated_design_prints_and_dumps_is_the_same(right, folder):
    text = vdpsim.verify(right / "capture.txt", folder)
    assert text.same and not text.shifts and text.outcomes["dot"].seen == 2 * H * W
    with refused(
        vdpsim.InputError,
        r"signal dot: could be any of bench\.dot, bench\.ppu\.dot: say which, or the scope that counts",
    ):
        vdpsim.verify(right / "bench.vcd", folder)
    dump = vdpsim.verify(right / "bench.vcd", folder, signals={"scope": "bench.ppu"})
    assert dump.same and not dump.shifts, dump.text()
    assert dump.outcomes["dot"].seen == 2 * H * W
    every = sum(row[0] == "access" for row in rows(folder))
    assert dump.outcomes["access"].seen == every - 1  # the clock is low at first: line 0's slot 0 is over by then


def test_a_late_design_with_one_dot_wrong_is_told_so_by_both(tmp_path, folder, capsys):
    simulated(folder, tmp_path, late=3, wrong=WRONG)
    for name, signals in (("capture.txt", {}), ("bench.vcd", {"scope": "ppu"})):
        found = vdpsim.verify(tmp_path / name, folder, signals=signals)
        assert found.shifts == {"dot": (0, 3, 0)} and found.outcomes["dot"].wrong == 1
        assert found.first is not None and found.first[1][:3] == WRONG
    assert main(["verify", str(tmp_path / "bench.vcd"), "--against", str(folder), "--signal", "scope=ppu"]) == 1
    assert f"first difference: frame 1, line {WRONG[1]}, dot {WRONG[2]}\n" in capsys.readouterr().out


def test_the_simulators_dump_is_read_as_vcdvcd_reads_it(right):
    vcdvcd = module("vcdvcd", "vcdvcd")
    theirs = vcdvcd.VCDVCD(str(right / "bench.vcd"))
    dump = Dump([(right / "bench.vcd").read_bytes()])
    assert {one.path for one in dump.signals} == {name.partition("[")[0] for name in theirs.signals}
    codes = {one.code: number for number, one in enumerate({one.code: one for one in dump.signals}.values())}
    ours: dict[int, list[int]] = {number: [] for number in codes.values()}
    for changes in dump.changes(codes):
        for number, value in changes:
            ours[number].append(value)
    for one in dump.signals:
        name = next(name for name in theirs.signals if name.partition("[")[0] == one.path)
        wanted = [int(value, 2) if set(value.lower()) <= set("01") else -1 for _, value in theirs[name].tv]
        assert ours[codes[one.code]] == wanted, name


VHDL = """\
library ieee;
use ieee.std_logic_1164.all;
use ieee.numeric_std.all;
use std.textio.all;
entity bench is end;
-- Shows entries out of a memory that holds the pond's pictures, two dots after their time; its counters are integers.
architecture one of bench is
  type pictures is array (0 to {pictures} - 1) of std_logic_vector(7 downto 0);
  impure function loaded return pictures is
    file held : text open read_mode is "picture.hex";
    variable row : line;
    variable found : pictures;
  begin
    for place in found'range loop
      readline(held, row);
      hread(row, found(place));
    end loop;
    return found;
  end;
  constant held : pictures := loaded;
  signal beat : std_logic := '0';
  signal down, across, turn : integer := 0;
  signal now, before, shown : std_logic_vector(4 downto 0);
begin
  beat <= not beat after 5 ns;
  now <= held((turn mod 2 * {H} + down) * {W} + across)(4 downto 0) when down < {H} and across < {W} else "00000";
  process (beat)
  begin
    if rising_edge(beat) then
      before <= now;
      shown <= before;
      across <= (across + 1) mod {D};
      if across = {D} - 1 then
        down <= (down + 1) mod {L};
        if down = {L} - 1 then
          turn <= turn + 1;
        end if;
      end if;
    end if;
  end process;
end;
"""


def test_a_dump_of_a_design_in_vhdl_is_read_and_its_signals_found(tmp_path, folder):
    """GHDL's form: commands between names that are none, integers of 32 bits, bits of a name without a space before them."""
    put_memories(folder, tmp_path, wrong=WRONG)
    (tmp_path / "bench.vhd").write_text(sized(VHDL))
    for words in (
        ["-a", "--std=08", "bench.vhd"],
        ["-r", "--std=08", "bench", "--vcd=ghdl.vcd", f"--stop-time={2 * L * D * 10}ns"],
    ):
        done = run(tmp_path, program("ghdl"), *words)
        assert done.returncode == 0, done.stderr
    told = (
        r"signal entry: by its bits and what it does could be any of bench\.now, bench\.before, bench\.shown: say which"
    )
    with refused(vdpsim.InputError, told):
        vdpsim.verify(tmp_path / "ghdl.vcd", folder)
    found = vdpsim.verify(tmp_path / "ghdl.vcd", folder, signals={"entry": "shown"})
    assert {each.role: each.path for each in found.taken} == {
        "dot": "bench.across", "line": "bench.down", "frame": "bench.turn", "entry": "bench.shown",
    }  # fmt: skip
    assert found.shifts == {"dot": (0, 2, 0)} and found.outcomes["dot"].wrong == 1
    assert found.first is not None and found.first[1][:3] == WRONG


@pytest.mark.soak
def test_a_dump_by_another_verilog_simulator_says_the_same(tmp_path, folder):
    """Verilator's form: scopes set in, all bits of a vector, no time before the first."""
    simulated(folder, tmp_path, late=3, wrong=WRONG)
    theirs = vdpsim.verify(tmp_path / "bench.vcd", folder, signals={"scope": "bench.ppu"})
    quiet = ["-Wno-fatal", "-Wno-lint", "--top-module", "bench", "-CFLAGS", "-O0"]
    built = run(tmp_path, program("verilator"), "--binary", "--timing", "--trace", *quiet, "bench.v")
    assert built.returncode == 0, built.stderr
    assert run(tmp_path, tmp_path / "obj_dir/Vbench").returncode == 0
    assert (tmp_path / "bench.vcd").read_text().startswith("$version Generated by VerilatedVcd")
    ours = vdpsim.verify(tmp_path / "bench.vcd", folder, signals={"scope": "bench.ppu"})
    assert ours.text() == theirs.text() and ours.outcomes["dot"].wrong == 1
