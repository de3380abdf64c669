"""The CPU's side of the reference design, by stimuli of the pool that are changed by hand: reads, many bytes, whole registers.

What the CPU reads is what it reads of the model at the same moment, however late the answer comes. An exported frame has no
reads: those here are a word of the bench's own.
"""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterable
from pathlib import Path

import pytest
from pools import pool
from real_parts import program, run

import vdpsim
from vdpsim.machine.machine import Machine

BENCH = Path(__file__).parent / "bench" / "run.py"

STATUS, GROUPS = 0x80, 0x81
MEMORY, MEMORY_AT, PALETTE, SPRITES, SPRITES_AT = 0x94, 0x90, 0xA4, 0xB4, 0xB0
WAITING, HIGH = 0x10, 0x11
"""Addresses of the pool's chip: its registers `low`, of which bits wait, and `high`."""

Access = tuple[int, int | None]
"""An address of the CPU's, and the byte that is written there; None where one is read."""


def read(address: int, times: int = 1) -> list[Access]:
    """Reads, one after the other."""
    return [(address, None)] * times


PROGRAM: dict[int, list[Access]] = {
    7: [*read(WAITING), *read(HIGH)],  # a byte that waits for the other half
    9: [*read(WAITING), *read(HIGH), *read(STATUS)],
    10: read(STATUS, 2),  # the line's flag, raised in the line that ends: it is read, and by being read cleared
    19: read(MEMORY, 3),  # by steps of 3
    21: read(PALETTE, 3),  # after bytes and records of this line
    24: [*read(STATUS), *read(GROUPS), *read(SPRITES, 6)],
    25: [*read(STATUS, 2), *read(GROUPS)],
    28: [(SPRITES_AT, 0xFA), (SPRITES_AT + 1, 0x04), *read(SPRITES, 12)],  # sprites 254 and 255
    34: [(MEMORY_AT, 0), (MEMORY_AT + 1, 6), *read(MEMORY, 20)],  # a transfer that is on its way
    36: [(MEMORY_AT, 0), (MEMORY_AT + 1, 6), *read(MEMORY, 20), *read(STATUS)],
    48: [(MEMORY_AT, 0xFF), (MEMORY_AT + 1, 0x1F), *read(MEMORY, 3)],  # the last byte, and round to the first
    60: [*read(GROUPS), *read(PALETTE), *read(STATUS)],
}
"""What the CPU does at the end of the line before each of these."""

KINDS = {MEMORY: 0, PALETTE: 1, SPRITES: 2, STATUS: 3, GROUPS: 3, WAITING: 4, HIGH: 4}
"""The number by which the design tells the answer to a read there."""


def asked_of_the_model(scene: vdpsim.Scene) -> tuple[dict[int, list[int]], str]:
    """The answers of each kind, and what stands in the status at the frame's end, as the record says it."""
    machine = Machine.of(scene)
    program = machine.compile(scene.writes(0))
    answers: dict[int, list[int]] = {}
    for line, accesses in PROGRAM.items():
        machine.lines(line - machine.state.line, program, damage=True)
        for address, byte in accesses:
            if byte is None:
                answers.setdefault(KINDS[address], []).append(machine.read(address))
            else:
                machine.write(address, byte)
    machine.frame(program, damage=True)
    return answers, f"{machine.state.status:02x} {machine.state.collision_flags:02x}"


def with_reads(records: Iterable[str], width: int) -> Iterable[str]:
    """The stimulus with the program in it: a line's is done when the slots of the line begin, after what is due before."""
    left = dict(PROGRAM)
    for record in records:
        words = record.split()
        if words[0] not in {"#", "byte", "hand", "waiting", "status"} and not record.startswith("#"):
            due = (int(words[2]) - 1, width) if words[0] in {"memory", "sprite"} else (int(words[2]), int(words[3]))
            for line in [line for line in left if (line - 1, width) < due]:
                yield from program_records(line, width, left.pop(line))
        yield record
    for line, accesses in left.items():
        yield from program_records(line, width, accesses)


def program_records(line: int, width: int, accesses: Iterable[Access]) -> Iterable[str]:
    """The records of what is done before ``line``."""
    for address, byte in accesses:
        told = f"{0:6d} {line - 1:4d} {width:4d} {address:04x}"
        yield f"read {told}\n" if byte is None else f"bus {told} {byte:02x}\n"


def stimulus_of(scene: vdpsim.Scene, folder: Path) -> tuple[Path, str]:
    """The stimulus of the scene's first frame, which is exported into ``folder``: its file and what it says."""
    vdpsim.export(scene, folder, frames=range(1), only=["memory", "vectors", "constants"], damage=True)
    stimulus = folder / "vectors" / "stimulus.txt"
    return stimulus, stimulus.read_text("ascii")


def simulated(folder: Path) -> subprocess.CompletedProcess[str]:
    """The bench's run over a folder."""
    program("iverilog")
    return run(folder, sys.executable, BENCH, folder)


@pytest.mark.ci
@pytest.mark.parametrize("cleared", ["read", "write"])
def test_reads_give_what_the_model_gives_and_clear_no_more_than_that(tmp_path, cleared):
    folder, scene = tmp_path / "folder", pool(tmp_path, cleared=cleared)
    stimulus, text = stimulus_of(scene, folder)
    stimulus.write_text("".join(with_reads(text.splitlines(keepends=True), scene.chip.frame.width)), "ascii")
    answers, left = asked_of_the_model(scene)
    expected = folder / "vectors" / "left.txt"
    expected.write_text(re.sub(r"\w\w \w\w$", left, expected.read_text("ascii").rstrip("\n")) + "\n", "ascii")

    done = simulated(folder)

    assert (done.returncode, done.stderr) == (0, ""), done.stdout[-2000:]
    told: dict[int, list[int]] = {}
    for kind, byte in re.findall(r"^answer (\d) (\w\w)$", done.stdout, re.MULTILINE):
        told.setdefault(int(kind), []).append(int(byte, 16))
    assert told == answers
    assert {kind: len(set(values)) > 1 for kind, values in answers.items()} == dict.fromkeys(range(5), True)


@pytest.mark.ci
def test_a_register_record_lets_bits_of_a_split_field_wait(tmp_path):
    """As the register's bytes do: the folder's half of a field, told as a record of the whole register, matches as it stands."""
    stimulus, text = stimulus_of(pool(tmp_path), tmp_path / "folder")
    byte = "bus      0    6   10 0010 55\n"
    assert text.count(byte) == 1
    stimulus.write_text(text.replace(byte, "register      0    6   10    0 00000055\n"), "ascii")
    done = simulated(tmp_path / "folder")
    assert (done.returncode, done.stderr) == (0, ""), done.stdout[-2000:]


@pytest.mark.ci
def test_as_many_bytes_as_the_cpu_offers_wait_and_more_are_refused_by_name(tmp_path):
    """A CPU of one dot a byte offers 160 in two lines; the same clear of the groups again and again changes nothing."""
    stimulus, text = stimulus_of(pool(tmp_path, cycles=1), tmp_path / "folder")
    clear = "bus      0   35   60 0081 03\n"
    assert text.count(clear) == 1
    stimulus.write_text(text.replace(clear, 160 * clear), "ascii")
    done = simulated(tmp_path / "folder")
    assert (done.returncode, done.stderr) == (0, ""), done.stdout[-2000:]
    stimulus.write_text(text.replace(clear, 257 * clear), "ascii")
    done = simulated(tmp_path / "folder")
    assert done.returncode == 1
    assert "this design does not do: more than 256 clears of the status in two lines" in done.stdout
