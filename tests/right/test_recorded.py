"""A recorded list of bus writes drives a scene as its own port writes would."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from refusal import refused
from scenery import TIMED, load

import vdpsim
from vdpsim.chip.addresses import listens
from vdpsim.cli import main
from vdpsim.testing import assert_same

ROOT = Path(__file__).resolve().parents[2]
SALTMARSH = ROOT / "scenes/saltmarsh.scene.toml"
HEADING = "frame,line,dot,address,value\n"


@pytest.fixture(scope="module")
def marsh() -> vdpsim.Scene:
    return vdpsim.load_scene(SALTMARSH)


def recorded(folder: Path, rows: list[tuple[int, ...]], heading: str = HEADING) -> Path:
    path = folder / "writes.csv"
    path.write_text(heading + "".join(",".join(map(str, row)) + "\n" for row in rows), "utf-8")
    return path


@pytest.fixture(scope="module")
def little(tmp_path_factory) -> vdpsim.Scene:
    """A little chip with ports and a byte of the scene's own on its way."""
    text = "[[writes]]\nframe = 0\nline = 3\nport = 0x1002\nvalue = 5\n"
    return load(tmp_path_factory.mktemp("little"), text, TIMED)


def rows_for(chip: vdpsim.Chip) -> st.SearchStrategy[list[tuple[int, ...]]]:
    """Bytes to wherever ``chip`` listens, in the first three frames."""
    addresses = [address for address in range(0x1020) if listens(chip, address)]
    lines, dots = st.integers(0, chip.frame.lines_per_frame - 1), st.integers(0, chip.frame.dots_per_line - 1)
    row = st.tuples(st.integers(0, 2), lines, dots, st.sampled_from(addresses), st.integers(0, 255))
    return st.lists(row, max_size=30)


@settings(max_examples=settings.default.max_examples // 16)
@given(st.data())
def test_recorded_writes_are_port_writes_frame_by_frame(tmp_path_factory, little, data) -> None:
    """Held against a machine that is given the same bytes as timed writes, in the order of time, frame after frame."""
    rows = data.draw(rows_for(little.chip))
    driven = little.driven(recorded(tmp_path_factory.mktemp("rows"), rows))
    for frame in range(3):
        more = [vdpsim.PortWrite(line, address, value, dot) for at, line, dot, address, value in rows if at == frame]
        ordered = sorted([*little.writes(frame), *more], key=lambda write: (write.line, write.dot))
        by_hand = vdpsim.Machine.of(driven, frame).frame(ordered, damage=True)
        assert_same(vdpsim.render(driven, frame, damage=True), by_hand)


def test_rows_of_one_instant_act_in_their_order(tmp_path, marsh) -> None:
    """The backdrop, register 0, written twice at one dot: the later row wins."""
    register = vdpsim.Machine(marsh.chip).registers
    first, second = [(0, 10, 0, 0, 3), (0, 10, 0, 0, 9)], [(0, 10, 0, 0, 9), (0, 10, 0, 0, 3)]
    shown = [
        vdpsim.render(marsh.driven(recorded(tmp_path, rows))).border_rgb[12] for rows in (first, second, [first[0]])
    ]
    assert "backdrop" in register
    assert not np.array_equal(shown[0], shown[1])
    assert np.array_equal(shown[1], shown[2])


def test_numbers_may_be_hexadecimal_and_rows_may_come_in_any_order(tmp_path, marsh) -> None:
    plain = marsh.driven(recorded(tmp_path, [(0, 20, 5, 2, 16), (1, 30, 6, 2, 32)]))
    (tmp_path / "hex").mkdir()
    path = tmp_path / "hex/writes.csv"
    path.write_text("frame, line, dot, address, value\n1,0x1E,6,0x02,0x20\n\n0,20,0x5,0x0002,0X10\n", "utf-8")
    mixed = marsh.driven(path)
    assert all(plain.writes(frame) == mixed.writes(frame) for frame in range(3))


def test_what_is_recorded_stays_in_force_in_later_frames(tmp_path, marsh) -> None:
    """Register writes of frame 1 hold in frame 5, which is drawn alone; a file without rows changes nothing."""
    late = marsh.driven(recorded(tmp_path, [(1, 250, 0, 0, 77)]))
    assert vdpsim.Machine.of(late, 5).registers["backdrop"] == 77
    assert vdpsim.Machine.of(late, 1).registers["backdrop"] == 0
    (tmp_path / "none").mkdir()
    assert_same(vdpsim.render(marsh.driven(recorded(tmp_path / "none", []))), vdpsim.render(marsh))


def test_the_command_draws_what_python_draws(tmp_path, marsh) -> None:
    path = recorded(tmp_path, [(0, 60, 100, 2, 40)])
    assert main(["render", str(SALTMARSH), "--writes", str(path), "-o", str(tmp_path / "p.png")]) == 0
    assert (tmp_path / "p.png").read_bytes() == vdpsim.render(marsh.driven(path)).png()
    assert (tmp_path / "p.png").read_bytes() != vdpsim.render(marsh).png()


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", r"writes.csv:1: must begin with the heading frame,line,dot,address,value"),
        ("frame,line,dot,value,address\n", r"heading frame,line,dot,address,value, got 'frame,line,dot,value,address'"),
        (f"{HEADING}0,1,2,0\n", r"writes.csv:2: must be 5 numbers, .*, got 4"),
        (f"{HEADING}0,1,2,0,0,0\n", r"got 6"),
        (f"{HEADING}0,1,2,0,x\n", r"writes.csv:2: value: must be a whole number such as 12 or 0x0C, got 'x'"),
        (f"{HEADING}0,1,-2,0,0\n", r"dot: must be a whole number .* got '-2'"),
        (f"{HEADING}0,1,2,0x,0\n", r"address: must be a whole number .* got '0x'"),
        (f"{HEADING}0,1,2,0,99999999999\n", r"value: must be a whole number"),
        (f"{HEADING}0,312,0,0,0\n", r"line must be 0 to 311, got 312"),
        (f"{HEADING}0,0,384,0,0\n", r"dot must be 0 to 383, got 384"),
        (f"{HEADING}0,0,0,0,256\n", r"a port takes a byte, 0 to 255, got 256"),
        (f"{HEADING}0,0,0,0x70,0\n", r"writes.csv:2: address: must be an address where Curlew listens: .*; got 0x70"),
        (f"{HEADING}100000,0,0,0,0\n", r"frame: must be 0 to 99999, got 100000"),
        (f"{HEADING}0,1,2,0,{'1' * 200_000}\n", r"writes.csv:2: must be at most 200 characters, got 200008"),
        (f"{HEADING}0,1,2,0,\0\n", r"writes.csv:2: value: must be a whole number"),
        (f"{HEADING}0,1,2,0,\u0663\n", r"value: must be a whole number"),
        (f"{HEADING}0,0,0,0,1\r0,0,0,0,x\r\n", r"writes.csv:3: value: must be a whole number .* got 'x'"),
        (f'{HEADING}0,1,"2\n,0,1\n', r"writes.csv:2: must be 5 numbers, .*, got 3"),
    ],
)
def test_a_mistake_is_told_with_its_line_and_column(tmp_path, marsh, text, told) -> None:
    path = tmp_path / "writes.csv"
    path.write_text(text, "utf-8", newline="")
    with refused(vdpsim.InputError, told):
        marsh.driven(path)


def test_the_edges_of_what_is_allowed_are_taken(tmp_path, marsh) -> None:
    """The other side of each limit above."""
    longest = f"0,0,0,0,0{' ' * 191}"
    assert len(longest) == 200
    path = tmp_path / "longest.csv"
    path.write_text(f"{HEADING}{longest} \n", "utf-8")
    with refused(vdpsim.InputError, "must be at most 200 characters, got 201"):
        marsh.driven(path)
    path.write_text(f"{HEADING}{longest}\r\n", "utf-8", newline="")
    assert len(marsh.driven(path).writes(0)) == len(marsh.writes(0)) + 1
    rows = [(0, 311, 383, 0, 255), (99_999, 0, 0, 0, 0), (0, 0, 0, "0x00", "0000000000")]
    assert len(marsh.driven(recorded(tmp_path, rows)).writes(0)) == len(marsh.writes(0)) + 2


def test_all_mistakes_are_told_at_once_and_the_rest_is_counted(tmp_path, marsh, capsys) -> None:
    path = recorded(tmp_path, [(0, 400, 0, 0, row) for row in range(250)])
    with refused(vdpsim.InputError, "line must be 0 to 311") as caught:
        marsh.driven(path)
    assert len(caught.value.problems) == 201
    assert "and 50 more mistakes after these" in str(caught.value)
    assert main(["render", str(SALTMARSH), "--writes", str(path), "-o", str(tmp_path / "p.png")]) == 2
    assert not (tmp_path / "p.png").exists()
    assert "Traceback" not in capsys.readouterr().err


@pytest.mark.parametrize(("data", "told"), [(b"\xff\xfe\x00", "no text in UTF-8"), (None, "cannot be read")])
def test_what_is_no_text_or_not_there_is_refused(tmp_path, marsh, data, told) -> None:
    path = tmp_path / "writes.csv"
    if data is not None:
        path.write_bytes(data)
    with refused(vdpsim.InputError, told):
        marsh.driven(path)


def test_there_are_at_most_so_many_rows(tmp_path, marsh, monkeypatch) -> None:
    monkeypatch.setattr("vdpsim.scene.recorded.MOST_ROWS", 3)
    rows = [(0, 0, 0, 0, row) for row in range(4)]
    assert len(marsh.driven(recorded(tmp_path, rows[:3])).writes(0)) == len(marsh.writes(0)) + 3
    with refused(vdpsim.InputError, r"writes.csv:5: must be at most 3 writes"):
        marsh.driven(recorded(tmp_path, rows))
