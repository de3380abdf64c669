"""What the comparison with the reference design excepts, by hand: bytes that land within a burst, and nothing more.

The records are those of a chip with a layer whose bursts for a pattern are two accesses of two bytes, and with a table of
sprites in memory, all of which is 0.
"""

from __future__ import annotations

import pytest
from designed import EXCEPTED, design_run, design_scene
from excepted import as_a_memory
from real_parts import program

CONSTANTS = """
MEMORY_BIG_END_FIRST, MEMORY_ACCESS_BYTES = 0, 2
CLIENT_A_PATTERN, CLIENT_SPRITES_TABLE, CLIENT_SPRITES_PATTERN, CLIENT_REFRESH, CLIENT_CPU = range(5)
WHAT_CELLS, WHAT_PATTERN, WHAT_GLYPHS, WHAT_COLOURS, WHAT_BITMAP, WHAT_SPRITES = range(6)
PLACES_LAYER, PLACES_WHAT, PLACES_CLIENT = (0, -1), (WHAT_PATTERN, WHAT_SPRITES), (CLIENT_A_PATTERN, -1)
MODES_LAYER, MODES_PATTERN_ACCESSES, SPRITE_SIZES_ROW_ACCESSES = (0,), (2,), (1,)
"""
PATTERN, TABLE, SPRITE, CPU = 0, 1, 2, 4

CASES = {
    "after the burst's first access": ([(0, 1, PATTERN, 0, 0), (0, 2, CPU, 3, 0xAB), (0, 3, PATTERN, 2, 0)], 0xAB00),
    "in the slot of the first access of a record's line": ([(0, 0, CPU, 4, 0xCD), (0, 3, TABLE, 4, 0)], 0xCD),
    "the memory's value already": ([(0, 1, PATTERN, 0, 0), (0, 2, CPU, 3, 0xAB), (0, 3, PATTERN, 2, 0xAB00)], None),
    "before the burst": ([(0, 0, CPU, 3, 0xAB), (0, 1, PATTERN, 0, 0), (0, 3, PATTERN, 2, 0)], None),
    "within the burst before": (
        [(0, 1, PATTERN, 0, 0), (0, 2, CPU, 3, 0xAB), (0, 3, PATTERN, 8, 0), (0, 4, PATTERN, 2, 0)],
        None,
    ),
    "after the access": ([(0, 1, PATTERN, 0, 0), (0, 2, PATTERN, 2, 0xAB00), (0, 3, CPU, 3, 0xAB)], None),
    "on another byte": ([(0, 1, PATTERN, 0, 0), (0, 2, CPU, 4, 0xAB), (0, 3, PATTERN, 2, 0x0100)], None),
    "and another byte is wrong": ([(0, 1, PATTERN, 0, 0), (0, 2, CPU, 3, 0xAB), (0, 3, PATTERN, 2, 0x0001)], None),
    "for another client's burst": ([(0, 1, PATTERN, 0, 0), (0, 2, CPU, 3, 0xAB), (0, 3, SPRITE, 2, 0)], None),
    "on the line before": ([(0, 1, CPU, 4, 0xCD), (1, 3, TABLE, 4, 0)], None),
}  # fmt: skip
"""When a byte lands: line, slot, client, address and value of accesses, and what a memory gives for the last; None: as it is."""


@pytest.mark.parametrize("name", CASES)
def test_a_byte_is_excepted_within_its_burst_alone(tmp_path, name):
    accesses, other = CASES[name]
    rows = [
        f"access {0:6d} {line:4d} {slot:6d} {client:2d} {address:06x} {value:016x}\n"
        for line, slot, client, address, value in accesses
    ]
    for part, data in (
        ("constants.py", CONSTANTS),
        ("memory/video.bin", "\0" * 16),
        ("vectors/stimulus.txt", "# nothing\n"),
        ("vectors/access.txt", "# header\n" + "".join(rows)),
    ):
        (tmp_path / part).parent.mkdir(exist_ok=True)
        (tmp_path / part).write_text(data, "ascii")
    assert as_a_memory(tmp_path) == (other is not None)
    told = (tmp_path / "vectors" / "access.txt").read_text("ascii").splitlines(keepends=True)
    last = rows[-1] if other is None else f"{rows[-1][:-17]}{other:016x}\n"
    assert told == ["# header\n", *rows[:-1], last]


@pytest.mark.soak
@pytest.mark.parametrize(("seed", "number", "fault"), [(10, 23, "PACE"), (11, 31, "SLOT_LATE")])
def test_a_fault_beside_what_is_excepted_is_told(tmp_path, seed, number, fault):
    program("iverilog")
    scene = design_scene(seed, number)
    sound, faulty = (
        design_run(scene, tmp_path / name, *words) for name, *words in (("sound",), ("faulty", "--fault", fault))
    )
    assert sound.returncode == 0 and f"{EXCEPTED}1 accesses" in sound.stdout
    assert faulty.returncode == 1 and f"{EXCEPTED}1 accesses" in faulty.stdout, faulty.stdout
