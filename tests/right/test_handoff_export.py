"""Is an exported folder whole, and does it say what was drawn? Read back by a reader that knows nothing but README's columns."""

from __future__ import annotations

import json
import re
import tracemalloc
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from refusal import refused
from scenery import TIMED, load

import vdpsim
from vdpsim.cli import main
from vdpsim.handoff.parts import PARTS
from vdpsim.handoff.records.kinds import KINDS, MEANINGS
from vdpsim.handoff.records.text import as_text

SCENES = Path(__file__).resolve().parents[2] / "scenes"


@pytest.fixture(scope="module")
def marsh() -> vdpsim.Scene:
    return vdpsim.load_scene(SCENES / "saltmarsh.scene.toml")


@pytest.fixture(scope="module")
def folder(marsh, tmp_path_factory) -> Path:
    """Two frames of the shipped scene saltmarsh."""
    place: Path = tmp_path_factory.mktemp("marsh")
    vdpsim.export(marsh, place / "out", frames=range(2))
    return place / "out"


@pytest.fixture(scope="module")
def records(folder) -> dict[str, list[list[str]]]:
    """The records of each of its files of vectors."""
    return {path.stem: rows(path) for path in (folder / "vectors").glob("*.txt")}


def rows(path: Path) -> list[list[str]]:
    """The records of a file, word by word."""
    return [line.split() for line in path.read_text("ascii").splitlines() if not line.startswith("#")]


def test_the_index_lists_just_the_files_that_are_there(folder):
    index = json.loads((folder / "index.json").read_text())
    there = sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())
    assert sorted(index["files"]) == there
    readme = (folder / "README.md").read_text()
    assert all(f"`{name}`" in readme or f"files `{name.rpartition('/')[0]}/*.svg`" in readme for name in there)


def test_dots_and_accesses_are_those_that_are_drawn(records, marsh):
    for number in range(2):
        frame = vdpsim.render(marsh, number, trace=True)
        _, _, line, dot, entry, colour, *behind = zip(
            *(row for row in records["dot"] if row[1] == str(number)), strict=True
        )
        assert len(dot) == frame.width * frame.height
        where = np.array([line, dot]).astype(int)
        assert (where == np.indices((frame.height, frame.width)).reshape(2, -1)).all()
        assert [int(each, 16) for each in entry] == frame.indices.reshape(-1).tolist()
        assert "".join(colour) == frame.rgb.tobytes().hex() and {*map(len, colour)} == {6}
        told = np.array(behind).astype(int)
        assert (told == np.reshape([frame.source, frame.rung, frame.sprite], (3, -1))).all()
        accesses = [row[2:] for row in records["access"] if row[1] == str(number)]
        found = [(int(a), int(b), int(c), int(d, 16), int(e, 16)) for a, b, c, d, e in accesses]
        assert found == frame.trace.tolist()


def test_images_are_the_memory_at_the_first_frame(folder, marsh):
    state = marsh.state(0)
    wide = marsh.chip.memory.bytes_per_access
    words = (folder / "memory/video.hex").read_text().split()
    order = marsh.chip.memory.byte_order
    assert b"".join(int(word, 16).to_bytes(wide, order) for word in words) == state.memory.tobytes()
    assert (folder / "memory/video.bin").read_bytes() == state.memory.tobytes()
    palette = [int(word, 16) for word in (folder / "memory/palette.hex").read_text().split()]
    assert palette == state.palette.tolist()
    assert (folder / "memory/sprites.bin").read_bytes() == state.sprites.tobytes()
    index = json.loads((folder / "index.json").read_text())
    registers = next(one for one in index["memory"] if one["file"] == "memory/registers")
    machine = vdpsim.Machine.of(marsh)
    for at, byte in enumerate((folder / "memory/registers.bin").read_bytes(), registers["first"]):
        assert byte == machine.read(at)


def test_the_index_counts_the_records_of_each_frame(folder, records):
    index = json.loads((folder / "index.json").read_text())
    for kind, told in records.items():
        frames = Counter(row[1] for row in told)
        assert {one["frame"]: one["records"][kind] for one in index["frames"]} == {0: frames["0"], 1: frames["1"]}


def test_the_map_of_video_memory_is_the_scenes(folder, marsh):
    index = json.loads((folder / "index.json").read_text())
    assert [(one["owner"], one["first"], one["last"]) for one in index["video_memory"]] == [
        (row.owner, row.start, row.last) for row in marsh.layout
    ]


def test_the_chip_is_in_the_folder_and_loads_as_the_same(folder, marsh):
    assert vdpsim.load_chip(folder / "chip.toml") == marsh.chip


def test_every_kind_has_a_meaning_and_columns_in_readme(folder, records):
    assert KINDS.keys() == MEANINGS.keys()
    text = (folder / "README.md").read_text()
    for every in records.values():
        for kind in {row[0] for row in every}:
            told = text[text.index(f"### `{kind}`") :]
            columns = re.findall(r"^\| (\w+) \| (?:10|16) \|", told[: told.index("\n### ", 5)], re.MULTILINE)
            lengths = {len(row) - 1 for row in every if row[0] == kind}
            assert lengths == {len(columns)}


@pytest.mark.parametrize("kind", KINDS)
def test_a_record_reads_back_at_both_ends_of_each_column(kind):
    for field in KINDS[kind]:
        at = KINDS[kind].index(field)
        least, most = (-1 if field.base == 10 and field.wide > 1 else 0), field.base**field.wide - 1
        for number in {least, 0, 1, 9, 10, 9999, 10_000, 10_001, most} & set(range(least, min(most, 1 << 17) + 1)) | {
            most
        }:
            columns = [
                np.array([0, number, 0], np.uint64 if number > 1 << 62 else np.int64) if n == at else 0
                for n in range(len(KINDS[kind]))
            ]
            line = as_text(kind, columns).decode().splitlines()[1].split()
            assert int(line[at + 1], field.base) == number
        for number in (least - 1, most + 1):
            if -(1 << 63) <= number < 1 << 63:
                columns = [np.array([number]) if n == at else 0 for n in range(len(KINDS[kind]))]
                with refused(ValueError, rf"{field.name} has {field.wide} digits in base {field.base}, got {number}"):
                    as_text(kind, columns)


@pytest.mark.parametrize("part", PARTS)
def test_one_part_alone_has_its_files_and_no_others(part, marsh, tmp_path):
    vdpsim.export(marsh, tmp_path / "out", only=[part])
    there = {path.relative_to(tmp_path / "out").parts[0] for path in (tmp_path / "out").rglob("*") if path.is_file()}
    always = {"README.md", "index.json", "chip.toml", "chip.schema.json"}
    assert always < there
    assert all(name.startswith(part) for name in there - always)


@pytest.mark.parametrize(
    ("wrong", "told"),
    [
        ({"frames": range(0)}, r"frames must be range\(A, B\).*got range\(0, 0\)"),
        ({"frames": range(0, 4, 2)}, "frames must be range"),
        ({"frames": range(-1, 1)}, "frames must be range"),
        ({"frames": range(99_999, 100_001)}, "frames from 0 to 99,999"),
        ({"only": []}, "only must name parts, of memory, vectors.*, got none"),
        ({"only": ["memory", "vector"]}, "only must name parts.*got .vector."),
    ],
)
def test_what_cannot_be_exported_is_refused_and_nothing_written(wrong, told, marsh, tmp_path):
    with refused(ValueError, told):
        vdpsim.export(marsh, tmp_path / "out", **wrong)
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["--frames", "0:4:2"], "--frames: must be A:B"),
        (["--only", "memory,vektors"], "--only: must name parts, of memory, vectors.*got 'vektors'"),
        (["--only", ""], "--only: must name parts"),
    ],
)
def test_a_wrong_command_line_ends_with_2(words, told, tmp_path, capsys):
    status = main(["export", str(SCENES / "saltmarsh.scene.toml"), "-o", str(tmp_path / "out"), *words])
    assert status == 2
    assert re.search(told, capsys.readouterr().err)
    assert not list(tmp_path.iterdir())


def test_a_person_s_file_in_the_folder_is_not_written_over(tmp_path, capsys):
    (tmp_path / "README.md").write_text("mine")
    words = ["export", str(SCENES / "saltmarsh.scene.toml"), "--only", "memory", "-o", str(tmp_path)]
    assert main(words) == 2
    assert "README.md" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["README.md"]
    assert main([*words, "--replace"]) == 0
    assert main(words) == 0
    assert (tmp_path / "memory/video.hex").exists()


def test_recorded_writes_are_exported_with_the_scene(tmp_path):
    """A byte that goes to a port in frame 0 stands in the memory with which frame 1 begins."""
    path = load(tmp_path, "", TIMED).path
    (tmp_path / "w.csv").write_text("frame,line,dot,address,value\n0,3,0,0x1002,165\n", "utf-8")
    words = ["export", str(path), "--only", "memory", "--frames", "1:2", "-o"]
    assert main([*words, str(tmp_path / "driven"), "--writes", str(tmp_path / "w.csv")]) == 0
    assert main([*words, str(tmp_path / "alone")]) == 0
    driven, alone = ((tmp_path / name / "memory/video.hex").read_text("utf-8") for name in ("driven", "alone"))
    assert ("a5" in driven, "a5" in alone) == (True, False)


def test_a_file_where_the_folder_should_be_is_told(tmp_path, capsys):
    (tmp_path / "out").write_text("mine", "utf-8")
    assert main(["export", str(SCENES / "saltmarsh.scene.toml"), "-o", str(tmp_path / "out")]) == 2
    assert re.search("-o: must be a folder, .*out is a file", capsys.readouterr().err)
    assert (tmp_path / "out").read_text("utf-8") == "mine"


def test_frames_beyond_the_scenes_are_told(tmp_path, capsys):
    words = ["export", str(SCENES / "slipway.scene.toml"), "--only", "memory", "-o", str(tmp_path)]
    assert main([*words, "--frames", "2:3"]) == 0
    assert not capsys.readouterr().err
    assert main([*words, "--frames", "2:4"]) == 0
    assert "meant to run 3 frames, of which 3 is none" in capsys.readouterr().err


def test_memory_does_not_grow_with_the_number_of_frames(tmp_path):
    """A frame of 64 x 64 dots is 190 kB of text: 9 more of them would be 1.7 MB."""
    scene = load(tmp_path, "")
    peaks = []
    for frames in (3, 12):
        tracemalloc.start()
        vdpsim.export(scene, tmp_path / str(frames), frames=range(frames))
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert (tmp_path / "12/vectors/dot.txt").stat().st_size > 3.9 * (tmp_path / "3/vectors/dot.txt").stat().st_size
    assert peaks[1] < peaks[0] + 500_000


def test_a_chip_that_does_not_fit_is_exported_only_with_its_damage(tmp_path, capsys):
    """Saltmarsh on a chip with three quarters of the accesses; what is missed is told line by line."""
    text = (SCENES / "chips/curlew.chip.toml").read_text()
    slow = re.sub(r"(?m)^accesses_per_dot = .*", 'accesses_per_dot = "3/4"', text)
    assert slow != text
    (tmp_path / "slow.chip.toml").write_text(slow)
    words = ["export", str(SCENES / "saltmarsh.scene.toml"), "--chip", str(tmp_path / "slow.chip.toml"), "-o"]
    assert main([*words, str(tmp_path / "out")]) == 1
    assert not (tmp_path / "out").exists()
    assert main([*words, str(tmp_path / "out"), "--damage"]) == 0
    missed = sum(int(row[4]) for row in rows(tmp_path / "out/vectors/missed.txt"))
    chip = vdpsim.load_chip(tmp_path / "slow.chip.toml")
    frame = vdpsim.render(vdpsim.load_scene(SCENES / "saltmarsh.scene.toml", chip), damage=True)
    assert missed == frame.missed.sum() > 0


def test_parts_that_need_no_frame_draw_none(tmp_path):
    """A chip that does not fit, in a frame that nobody could wait for: its memory is exported all the same."""
    text = (SCENES / "chips/curlew.chip.toml").read_text()
    slow = re.sub(r"(?m)^accesses_per_dot = .*", 'accesses_per_dot = "3/4"', text)
    (tmp_path / "slow.chip.toml").write_text(slow)
    scene = vdpsim.load_scene(SCENES / "saltmarsh.scene.toml", vdpsim.load_chip(tmp_path / "slow.chip.toml"))
    vdpsim.export(scene, tmp_path / "out", frames=range(90_000, 100_000), only=["memory", "registers"])
    index = json.loads((tmp_path / "out/index.json").read_text())
    assert index["frames"] == [{"frame": 90_000, "width": 288, "height": 216, "records": {}, "left_out": 0}]
    assert (tmp_path / "out/memory/sprites.bin").read_bytes() == scene.state(90_000).sprites.tobytes()
