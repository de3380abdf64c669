"""Where a memory does otherwise than the model: are an export's reads what memory holds in their own slot, but where README says?

A memory is played here from the folder alone: its image, what the stimulus puts into it, and the bytes that land.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from ponds import CHIP, SCENE
from scenery import load, png

import vdpsim

SCENES = Path(__file__).resolve().parents[2] / "scenes"

RESERVED = CHIP.replace('cpu = { active = "none" }', 'cpu = { active = "reserved", every = 2, at = [1] }')
"""A slot of the CPU's stands between the two accesses of every pattern's row, which is 4 bytes."""

WRITES = """
[[writes]]
line = 10
memory = {address}
step = 0
bytes = [{bytes}]
by = "cpu"
"""


PATTERN, CPU = 1, 4
"""The clients' numbers."""

PICTURE = png([[1 + x % 15 for x in range(128)]] * 64)


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    """A folder whose CPU writes 600 bytes, from line 10 on, to the second half of a row that is fetched on every eighth line."""
    place: Path = tmp_path_factory.mktemp("pond")
    trace = vdpsim.render(load(place, SCENE, RESERVED, reeds_png=PICTURE), trace=True).trace
    rows = trace["address"][(trace["client"] == PATTERN) & (trace["line"] == 16)]
    several = ", ".join(str(number % 256) for number in range(600))
    scene = load(place, SCENE + WRITES.format(address=rows[5], bytes=several), RESERVED, reeds_png=PICTURE)
    vdpsim.export(scene, place / "out", frames=range(1), only=["memory", "vectors"], damage=True)
    return place / "out"


def otherwise(folder: Path) -> Iterator[tuple[list[int], list[list[int]]]]:
    """Each access whose value is not what memory holds in its slot, and all accesses of the line before it."""
    chip = vdpsim.load_chip(folder / "chip.toml")
    wide, clients = chip.memory.bytes_per_access, json.loads((folder / "index.json").read_text())["clients"]
    cpu, refresh = clients.index("cpu"), clients.index("refresh")
    memory = bytearray((folder / "memory/video.bin").read_bytes())
    before: list[list[int]] = []
    for row in (folder / "vectors/access.txt").read_text("ascii").splitlines():
        if row.startswith("#"):
            continue
        words = row.split()
        one = [*map(int, words[1:5]), *(int(word, 16) for word in words[5:])]
        _, line, _, client, address, value = one
        before = before if before and before[-1][1] == line else []
        if client == cpu:
            memory[address] = value
        elif client != refresh and value != int.from_bytes(memory[address : address + wide], chip.memory.byte_order):
            yield one, [*before]
        before.append(one)


def test_a_burst_has_what_memory_held_at_its_first_access(folder):
    found = list(otherwise(folder))
    assert found
    for one, before in found:
        first = [each for each in before if each[3] == one[3]][-1]
        assert (one[3], first[4]) == (PATTERN, one[4] - 2)
        assert any(each[3] == CPU and each[2] > first[2] and each[4] == one[4] for each in before)


def test_a_memory_that_reads_in_its_own_slot_is_told_why_it_differs(tmp_path, folder):
    """A capture of such a design, and one whose byte is another than that which landed."""
    one, before = next(otherwise(folder))
    byte = [each for each in before if each[3] == CPU and each[4] == one[4]][-1]
    for came, told in ((one[5] & ~0xFF | byte[5], True), (one[5] & ~0xFF | byte[5] ^ 0x55, False)):
        text = f"access {one[0]} {one[1]} {one[2]} {one[3]} {one[4]:x} {came:x}\n"
        (tmp_path / "capture.txt").write_text(text)
        found = vdpsim.verify(tmp_path / "capture.txt", folder)
        assert found.outcomes["access"].wrong == 1
        landed = f"the CPU's byte 0x{byte[5]:02x} landed at 0x{byte[4]:06x} in slot {byte[2]}: a memory has it by then"
        assert (landed in found.text()) is told


def test_no_byte_of_a_shipped_scene_lands_within_a_burst(tmp_path):
    """Slipway's transfers pass the beam, into cells, which are an access each."""
    vdpsim.export(vdpsim.load_scene(SCENES / "slipway.scene.toml"), tmp_path, only=["memory", "vectors"])
    assert list(otherwise(tmp_path)) == []
