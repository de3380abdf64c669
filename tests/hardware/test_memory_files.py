"""Do the memory images and README's sketch go into a Verilog simulator as they are? Icarus Verilog reads and prints them.

The form of the images: IEEE 1364-2005, 17.2.9.
"""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from real_parts import program, run

import vdpsim
from vdpsim.handoff.records.text import as_text

SCENES = Path(__file__).resolve().parents[2] / "scenes"

TOP = """\
module top;
  reg [{high}:0] held [0:{last}];
  integer place;
  initial begin
    $readmemh("{file}", held);
    for (place = 0; place <= {last}; place = place + 1) $display("%h", held[place]);
  end
endmodule
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    place: Path = tmp_path_factory.mktemp("marsh")
    vdpsim.export(vdpsim.load_scene(SCENES / "saltmarsh.scene.toml"), place)
    return place


def simulated(text: str, folder: Path) -> list[str]:
    """What a Verilog text prints; it compiles and runs without a warning."""
    (folder / "top.v").write_text(text)
    compiled = run(folder, program("iverilog"), "-g2005", "-Wall", "-o", "top", "top.v")
    assert (compiled.returncode, compiled.stdout + compiled.stderr) == (0, "")
    ran = run(folder, program("vvp", "iverilog"), "-n", "top")
    assert (ran.returncode, ran.stderr) == (0, "")
    assert "WARNING" not in ran.stdout
    return ran.stdout.splitlines()


@pytest.mark.parametrize("name", ["video", "palette", "sprites", "registers"])
def test_an_image_loads_word_for_word_without_a_warning(name, folder):
    index = json.loads((folder / "index.json").read_text())
    image = next(one for one in index["memory"] if one["file"] == f"memory/{name}")
    text = TOP.format(high=image["bits"] - 1, last=image["words"] - 1, file=f"{image['file']}.hex")
    assert simulated(text, folder) == (folder / f"{image['file']}.hex").read_text().split()


def test_one_word_too_few_is_warned_of(folder):
    """The check can fail: the same with room for one more word."""
    index = json.loads((folder / "index.json").read_text())
    image = next(one for one in index["memory"] if one["file"] == "memory/palette")
    text = TOP.format(high=image["bits"] - 1, last=image["words"], file="memory/palette.hex")
    with pytest.raises(AssertionError, match="WARNING"):
        simulated(text, folder)


def test_the_sketch_of_readme_reads_both_kinds_of_file(folder):
    readme = (folder / "README.md").read_text()
    columns = {"status": (0, -1, 0x5A, 0xC3), "waiting": (0, -1, 0, 1, 0, 0x1234, 2, 3)}
    with (folder / "vectors/stimulus.txt").open("ab") as file:
        file.writelines(as_text(kind, numbers) for kind, numbers in columns.items())
    sketch = re.search(r"```verilog\n(.*?)```", readme, re.DOTALL)
    assert sketch
    frame = vdpsim.render(vdpsim.load_scene(SCENES / "saltmarsh.scene.toml"))
    shown = frame.indices.reshape(-1).tolist()
    (folder / "shown.hex").write_text("".join(f"{(entry ^ (place == 70)):03x}\n" for place, entry in enumerate(shown)))
    text = f"""\
module top;
{sketch[1]}
integer place, writes = 0, at_line;
reg [11:0] shown [0:{len(shown) - 1}];
task due(input integer a, input integer b, input integer c); begin writes = writes + 1; at_line = b; end endtask
task cpu_write(input [31:0] a, input [31:0] b); if (at_line == -1) $display("write %h %h", a, b); endtask
task force_byte(input [8*12-1:0] a, input [31:0] b, input [31:0] c); $display("force"); endtask
task begin_transfer(input [31:0] a, input integer b, input integer c); $display("transfer"); endtask
task force_status(input [31:0] a, input [31:0] b); $display("status %h %h", a, b); endtask
task go_on_with_transfer(input integer a, input integer b, input integer c, input [31:0] d, input integer e, input integer f);
  $display("waiting %0d %0d %0d %h %0d %0d", a, b, c, d, e, f);
endtask
initial begin
  $readmemh("shown.hex", shown);
  #1 for (place = 0; place < {len(shown)}; place = place + 1) check_dot(shown[place]);
  $display("%0d writes", writes);
end
endmodule
"""
    told = simulated(text, folder)
    stimulus = [line for line in (folder / "vectors/stimulus.txt").read_text().splitlines() if line.startswith("bus")]
    first = [line.split()[4:] for line in stimulus if line.split()[2] == "-1"]
    assert [line.split()[1:] for line in told if line.startswith("write ")] == [
        [f"{a:0>8}", f"{b:0>8}"] for a, b in first
    ]
    line, dot = divmod(70, frame.width)
    entry = shown[70]
    assert f"frame 0 line {line} dot {dot}: expected {entry:03x}, got {entry ^ 1:03x}" in told
    assert len([one for one in told if one.startswith("frame ")]) == 1
    assert f"{len(stimulus) + len(columns)} writes" in told
    assert {"status 0000005a 000000c3", "waiting 0 1 0 00001234 2 3"} <= set(told)
