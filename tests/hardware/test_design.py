"""The reference design in Verilog against exported folders, in a simulator: the last dot and the last access of every scene.

The design (``design/``) was written from such folders and takes every number from ``constants.svh``: the same sources
serve all chips. Its bench (``bench/``) drives the stimulus and compares every record; what it prints is put before
``vdpsim verify`` too.
"""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest
from designed import design_run, design_scene
from pools import pool
from real_parts import program, run

import vdpsim
from vdpsim.chip.model import Chip
from vdpsim.cli import main
from vdpsim.handoff.constants.files import constants_files

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
BENCH = HERE / "bench" / "run.py"
CHIPS = ROOT / "scenes" / "chips"

OWN = sorted(path.name.removesuffix(".scene.toml") for path in (ROOT / "scenes").glob("*.scene.toml"))
SMALL = ("dusk", "ferry")
"""Scenes that the small chip can draw too."""

CASES = [*((name, None) for name in OWN), *((name, "dunlin") for name in SMALL)]
FRAMES = range(2 if os.environ.get("CI") else 1)
"""The frames that are compared: a second one, for what begins it otherwise than the first has left it, where there is time."""


def exported(folder: Path, name: str, chip: str | None = None, frames: range = FRAMES) -> Path:
    """A folder of a shipped scene, with what a bench needs."""
    if name == "pool":
        scene = pool(folder.parent)
    else:
        made = vdpsim.load_chip(CHIPS / f"{chip}.chip.toml") if chip else None
        scene = vdpsim.load_scene(ROOT / "scenes" / f"{name}.scene.toml", chip=made)
    vdpsim.export(scene, folder, frames=frames, only=["memory", "vectors", "constants"], damage=name == "pool")
    return folder


def simulated(folder: Path, *words: str | Path) -> subprocess.CompletedProcess[str]:
    """The bench's run over a folder."""
    program("iverilog")
    return run(folder, sys.executable, BENCH, folder, *words)


def test_the_scenes_that_the_small_chip_draws_are_all_that_it_can():
    dunlin = vdpsim.load_chip(CHIPS / "dunlin.chip.toml")

    def fits(name: str) -> bool:
        try:
            vdpsim.load_scene(ROOT / "scenes" / f"{name}.scene.toml", chip=dunlin)
        except vdpsim.InputError:
            return False
        return True

    assert tuple(name for name in OWN if fits(name)) == SMALL


@pytest.mark.ci
@pytest.mark.parametrize(("name", "chip"), CASES)
def test_a_scene_matches_to_the_last_dot_and_access(tmp_path, name, chip):
    folder = exported(tmp_path / "folder", name, chip)
    done = simulated(folder)
    assert (done.returncode, done.stderr) == (0, ""), done.stdout[-2000:]
    counted = {kind: sum(frame["records"].get(kind, 0) for frame in frames(folder)) for kind in ("dot", "access")}
    for kind, count in counted.items():  # the bench has seen as many as the folder has
        assert f"{kind}: {count} records, match" in done.stdout
    assert done.stdout.count(", match") == 8


def frames(folder: Path) -> Any:
    """What the index says of each frame."""
    return json.loads((folder / "index.json").read_text("utf-8"))["frames"]


@pytest.mark.ci
def test_a_chip_without_sprites_matches(tmp_path):
    """Curlew without sprites draws what it drew of a scene that shows none; the bench has no record of a kind that is theirs."""
    chip = unsprited("curlew")
    scene = vdpsim.load_scene(ROOT / "scenes" / "tidetable.scene.toml", chip=chip)
    vdpsim.export(scene, tmp_path / "folder", frames=range(1), only=["memory", "vectors", "constants"])
    done = simulated(tmp_path / "folder")
    assert (done.returncode, done.stderr) == (0, ""), done.stdout[-2000:]
    assert re.findall(r"^(\w+): [1-9]\d* records, match", done.stdout, re.MULTILINE) == [
        "dot",
        "access",
        "flag",
        "left",
    ]


def unsprited(name: str) -> Chip:
    """A shipped chip, and nothing of its sprites."""
    plan = tomllib.loads((CHIPS / f"{name}.chip.toml").read_text("utf-8"))
    for key in ("sprites", "collisions"):
        plan.pop(key, None)
    for table in [plan, *(mode for layer in plan["layers"] for mode in layer["modes"])]:
        if "ladder" in table:
            table["ladder"] = [rung for rung in table["ladder"] if rung["source"] != "sprites"]
    plan["ports"] = [port for port in plan["ports"] if port["target"] != "sprites"]
    for table in (plan["registers"], plan["time"]["clients"], plan["status"]):
        for key in [key for key in table if key.startswith("sprites") or key in {"dropped", "collision", "groups"}]:
            del table[key]
    return Chip.model_validate_json(json.dumps(plan))


@pytest.mark.ci
def test_verify_says_the_same_of_what_the_bench_prints(tmp_path, capsys):
    folder = exported(tmp_path / "folder", "flock", frames=range(1))
    capture = tmp_path / "capture.txt"
    assert simulated(folder, "--capture", capture).returncode == 0
    assert main(["verify", str(capture), "--against", str(folder), "--whole"]) == 0, capsys.readouterr().out


POOL = {
    "bus": 50, "field": 8, "register": 1, "palette": 1, "sprite": 5, "memory": 4, "transfer": 2, "waiting": 1, "hand": 2,
    "status": 1, "missed": 64, "flag": 17, "collision": 10,
}  # fmt: skip
"""How many records of a kind a frame of the pool has at least: each is there to be done, or to be told."""


@pytest.mark.ci
@pytest.mark.parametrize("frames", [range(1, 2), pytest.param(range(3), marks=pytest.mark.soak)], ids=str)
def test_a_scene_with_what_the_shipped_do_not_show_matches(tmp_path, frames):
    """Accesses missed, halves of registers, bytes by ports, clears, drops for slots, and transfers from a frame before."""
    folder = exported(tmp_path / "folder", "pool", frames=frames)
    text = "\n".join(path.read_text("ascii") for path in (folder / "vectors").glob("*.txt"))
    for kind, least in POOL.items():
        there = len(re.findall(rf"^{kind} ", text, re.MULTILINE))
        assert there >= least or (0 in frames and kind in {"waiting", "hand", "status"}), (kind, there)
    reasons = set(re.findall(r"^drop .*(\d)$", text, re.MULTILINE))
    assert reasons == {"0", "1", "2"}
    done = simulated(folder)
    assert (done.returncode, done.stderr) == (0, ""), done.stdout[-2000:]


MENDED = [(12, 7), (11, 13)]
"""Cases that differed once: a scroll position beyond its surface; a group of the last dot that the first slots fetch."""


@pytest.mark.soak
@pytest.mark.parametrize(("seed", "number"), [*((3, number) for number in range(6)), *MENDED])
def test_a_random_scene_of_a_random_chip_matches(tmp_path, seed, number):
    """A few of those that ``tools/soak design`` tries; what the design refuses by its name is no disagreement."""
    program("iverilog")
    done = design_run(design_scene(seed, number), tmp_path / "folder")
    assert done.returncode == 0 or "this design does not do" in done.stdout, done.stdout[-2000:]


FAULTS = {
    "SCROLL_LATE": ("dusk", "access", "0 0 83"),
    "PRIORITY": ("ferry", "dot", "0 136 54"),
    "SPRITE_LIMIT": ("flock", "sprites", "0 30"),
    "SLOT_LATE": ("tidetable", "access", "0 0 80"),
    "ATTRIBUTE": ("tideline", "dot", "0 56 0"),
    "WRONG_BANK": ("regatta", "dot", "0 17 142"),
    "COLLISION": ("regatta", "flag", "0 23 149"),
    "FLAG_LATE": ("tidetable", "flag", "0 0 0"),
    "PACE": ("slipway", "access", "0 61 4"),
    "REFRESH": ("reserve", "access", "0 0 4"),
    "ZONE": ("moonlit", "access", "0 177 118"),
    "HALF_WRITE": ("pool", "access", "0 6 7"),
    "QUEUE": ("pool", "access", "0 33 45"),
    "LANE": ("pool", "access", "0 40 28"),
    "BACKDROP": ("pool", "dot", "0 21 44"),
    "FLIP": ("pool", "access", "0 56 28"),
}
"""Faults that the sources have behind a word: a scene that shows each, and the record that is told first."""

SHOWN = ("FLIP", "FLAG_LATE", "SPRITE_LIMIT", "COLLISION")
"""Those that ``.ci/run`` plants; the soak plants all."""


@pytest.mark.parametrize(
    "fault", [pytest.param(name, marks=pytest.mark.ci if name in SHOWN else pytest.mark.soak) for name in FAULTS]
)
def test_a_planted_fault_is_named_at_its_first_place(tmp_path, fault):
    name, kind, place = FAULTS[fault]
    done = simulated(exported(tmp_path / "folder", name, frames=range(1)), "--fault", fault)
    assert done.returncode == 1
    told = re.search(rf"first difference of kind {kind}, record \d+\n +expected +{kind} +(.*)\n", done.stdout)
    assert told is not None, done.stdout
    assert told[1].split()[: len(place.split())] == place.split()


def test_without_its_word_no_fault_is_in_the_sources():
    """Every fault that the sources have is in the table, and stands behind its word alone."""
    text = "".join(path.read_text("utf-8") for path in (HERE / "design").glob("*.v"))
    assert set(re.findall(r"FAULT_([A-Z_]+)", text)) == set(FAULTS)
    assert len(re.findall(r"`if(?:n)?def FAULT_", text)) == len(re.findall(r"FAULT_", text))


@pytest.mark.ci
@pytest.mark.parametrize("name", ["curlew", "dunlin", "sanderling"])
def test_lint_has_nothing_to_say(tmp_path, name):
    """With what the sources name of the constants: the rest would be gone through for each module, in twice the time."""
    text = constants(name)
    for one in re.findall(r"^localparam .*?;\n", text, re.MULTILINE | re.DOTALL):
        if re.findall(r"[A-Z][A-Z0-9_]+", one)[0] not in words_of_sources():
            text = text.replace(one, "")
    (tmp_path / "constants.svh").write_text(text, "ascii")
    sources = sorted(path for path in (HERE / "design").glob("*.v") if path.name != "video_memory.v")
    words = [
        "--lint-only",
        "-Wall",
        "--language",
        "1364-2005",
        f"-I{tmp_path}",
        f"-I{HERE / 'design'}",
        "--top-module",
        "chip",
    ]
    done = run(tmp_path, program("verilator"), *words, *sources)
    assert (done.returncode, done.stderr) == (0, "")


def put_constants(folder: Path, name: str) -> None:
    """The constants of a shipped chip, as the sources include them."""
    chip = vdpsim.load_chip(CHIPS / f"{name}.chip.toml")
    (folder / "constants.svh").write_bytes(dict(constants_files(chip))["constants.svh"])


def test_no_name_of_a_chip_is_in_the_sources():
    """What the sources name of the constants, all three chips have: no layer, mode, register or field of one of them."""
    names = [
        set(re.findall(r"^localparam .*?([A-Z][A-Z0-9_]+) =", text, re.MULTILINE)) for text in map(constants, OF_CHIPS)
    ]
    common, every = set.intersection(*names), set.union(*names)
    used = words_of_sources() & every
    assert len(used) > 100
    assert used <= common


def words_of_sources() -> set[str]:
    """Every word in capitals of the sources."""
    text = "".join(path.read_text("utf-8") for path in (HERE / "design").glob("*.v*"))
    return set(re.findall(r"\b[A-Z][A-Z0-9_]+\b", text))


OF_CHIPS = ("curlew", "dunlin", "sanderling")


def constants(name: str) -> str:
    """The text of a chip's constants."""
    return dict(constants_files(vdpsim.load_chip(CHIPS / f"{name}.chip.toml")))["constants.svh"].decode()


@pytest.mark.ci
@pytest.mark.parametrize(
    "name", ["dunlin", *(pytest.param(one, marks=pytest.mark.soak) for one in ("curlew", "sanderling"))]
)
def test_synthesis_infers_the_memories_that_the_chip_has(tmp_path, name):
    """The palette and the table of sprites are as many bits as the budget says; the rest of the design's memory is told by name.

    The design has many times the bits of the budget: it runs a line and more behind the CPU so as to know a line's writes before
    it fetches, and keeps what it has found out of every dot meanwhile. A design that takes a write for what comes after its fetch
    needs none of that. Its line buffers have a bit for each sprite of a dot, and words to a power of two.
    """
    told = synthesised(tmp_path, name)
    chip = vdpsim.load_chip(CHIPS / f"{name}.chip.toml")
    budget = {item["name"]: item["bits"] for item in vdpsim.budget_data(vdpsim.budget(chip))["on_chip"]}
    memories = {key.removeprefix("chip."): bits for key, bits in told["memories"].items()}
    assert told["latches"] == 0
    assert memories.pop("palette.words") == 8 * -(-chip.palette.word_bits // 8) * chip.palette.entries  # whole bytes
    if "sprite table" in budget:
        assert (
            memories.pop("with_sprites.sprites.table_on_chip.sprite_table.records")
            == 8 * chip.sprites.record_bytes * chip.sprites.count
        )
    dots = 1 << (chip.frame.width - 1).bit_length()
    for number in range(2):
        drawn = chip.sprites.per_line or chip.sprites.count
        assert memories.pop(f"with_sprites.sprites.sprite_draw.a_buffer[{number}].dots.kept") == dots * (drawn + 16)
    assert memories.pop("scanner.sayings") % (2 * dots) == 0
    assert [key for key in memories if not WAITING.fullmatch(key)] == []
    assert told["flip_flops"]["chip.registers"] >= budget["registers"]


WAITING = re.compile(
    r"memory_side\.a_place\[\d+\]\.layers\.place\.(jobs\.kept|results\.kept|a_cell\[\d+\]\.hangs\.ring\.ring)"
    r"|memory_side\.cpu_queue\.(jobs\.kept|hands|landed|spots|values)"
    r"|(palette_history|status_history|memory_history|with_sprites\.sprites\.table_on_chip\.sprite_table)\.writes\.kept"
    r"|with_sprites\.sprites\.sprite_fetch\.(list|found|rows|drawn_records)"
)
"""Memories of what waits: groups and their bytes, transfers, writes until the picture is there, sprites of a few lines."""


@pytest.mark.soak
@pytest.mark.parametrize("name", ["dunlin", "curlew", "sanderling"])
def test_synthesis_down_to_gates_puts_memories_into_memory(tmp_path, name):
    """Within 4 GB; only queues of a few bytes become flip-flops."""
    found = synthesised(tmp_path, name, "--gates")["placed"]
    assert found["latches"] == 0
    assert sum(found["as_flip_flops"].values()) < 1024, found["as_flip_flops"]
    assert 1000 < found["flip_flops"] < 20_000
    assert 10_000 < found["gates"] < 200_000
    assert found["block_bits"] > 0 < found["table_bits"]


def synthesised(folder: Path, name: str, *words: str) -> Any:
    """What yosys makes of the design for a shipped chip."""
    put_constants(folder, name)
    program("yosys")
    done = run(folder, sys.executable, HERE / "bench" / "synth.py", folder, *words)
    assert (done.returncode, done.stderr) == (0, ""), done.stdout
    return json.loads(done.stdout)
