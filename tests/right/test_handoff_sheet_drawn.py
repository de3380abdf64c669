"""The drawings of a data sheet: nothing clipped, nothing on anything, every arrow from a box to a box, whatever the chip is."""

from __future__ import annotations

import itertools

import pytest
from drawn import Area, Path, Read, read
from hypothesis import given, settings
from hypothesis import strategies as st
from scenery import CHIP, TIMED
from strategies import chips, timed_chips

import vdpsim
from vdpsim.budgets.memory import memory_budget
from vdpsim.budgets.onchip import on_chip
from vdpsim.chip.line.slots import Server
from vdpsim.handoff.drawing.svg import Drawing
from vdpsim.handoff.sheet.drawn.memory import memory_drawn
from vdpsim.handoff.sheet.drawn.spread import spread
from vdpsim.handoff.sheet.parts import Grid, Picture, Section
from vdpsim.handoff.sheet.told.blocks import block_diagram
from vdpsim.handoff.sheet.told.cpu_side import ports
from vdpsim.handoff.sheet.told.layouts import layouts
from vdpsim.handoff.sheet.told.timing import timing

FEW = settings.default.max_examples // 4
SLIGHT = 0.11
"""Coordinates are written to a tenth."""


def pictures(*sections: Section) -> dict[str, Read]:
    """The drawings of sections, by name."""
    return {part.name: read(part.svg) for one in sections for part in one.parts if isinstance(part, Picture)}


def tidy(drawing: Read) -> None:
    """Everything lies on the sheet, no text on another, no text astride a box's edge, and no two boxes astride each other."""
    assert all(one.within(drawing.sheet) for one in drawing.texts)
    assert all(one.within(drawing.sheet) for one, _ in drawing.boxes)
    for one, other in itertools.combinations(drawing.texts, 2):
        assert not one.meets(other), (one, other)
    for box, _ in drawing.boxes:
        for one in drawing.texts:
            assert not one.meets(box) or one.within(box), (one, box)
    for (one, _), (other, _) in itertools.combinations(drawing.boxes, 2):
        apart = not shrunk(one).meets(shrunk(other))
        assert apart or near(one, other) or near(other, one), (one, other)
    for path in drawing.paths:
        assert all(0 <= x <= drawing.sheet.right and 0 <= y <= drawing.sheet.bottom for x, y in path.points)


def shrunk(one: Area) -> Area:
    """Without what rounding adds."""
    return Area(one.left + SLIGHT, one.top + SLIGHT, one.right - SLIGHT, one.bottom - SLIGHT)


def near(one: Area, other: Area) -> bool:
    """Whether one lies within the other, to a rounding."""
    return shrunk(one).within(other)


def on_edge(box: Area, point: tuple[float, float]) -> bool:
    """Whether a point lies on the edge of a box."""
    x, y = point
    across = box.left - SLIGHT <= x <= box.right + SLIGHT
    down = box.top - SLIGHT <= y <= box.bottom + SLIGHT
    sides = min(abs(x - box.left), abs(x - box.right)) <= SLIGHT
    ends = min(abs(y - box.top), abs(y - box.bottom)) <= SLIGHT
    return across and down and (sides or ends)


def arrows(drawing: Read) -> list[Path]:
    """The lines at whose last point a tip stands."""
    ends = [path.points[1] for path in drawing.paths if path.kind == "tip"]
    found = [path for path in drawing.paths if path.kind != "tip" and path.points[-1] in ends]
    assert len(found) == len(ends)
    return found


def names(drawing: Read, boxes: list[Area]) -> list[str]:
    """What boxes are called: the uppermost text of each."""
    return [min((one for one in drawing.texts if one.meets(box)), key=lambda one: one.top).text for box in boxes]


def wires(drawing: Read) -> set[tuple[str, str, bool]]:
    """From which block each arrow goes to which, and whether it is dashed; every end must lie on the edge of one box."""
    found = set()
    for path in arrows(drawing):
        ends = [[box for box, _ in drawing.boxes if on_edge(box, point)] for point in (path.points[0], path.points[-1])]
        assert [len(each) for each in ends] == [1, 1], path
        start, end = names(drawing, [each[0] for each in ends])
        found.add((start, end, path.kind == "dashed"))
    return found


def blocks_of(chip: vdpsim.Chip) -> tuple[Read, Grid]:
    """The block diagram and the table beside it."""
    section = block_diagram(chip, on_chip(chip))
    (table,) = (part for part in section.parts if isinstance(part, Grid))
    return pictures(section)["blocks"], table


def free_of_lines(drawing: Read) -> None:
    """No line runs through a text or through the inside of a box."""
    for path in drawing.paths:
        if path.kind == "tip":
            continue
        for one in drawing.texts:
            assert not path.meets(one), (path, one)
        for box, _ in drawing.boxes:
            assert not path.meets(Area(box.left + 1, box.top + 1, box.right - 1, box.bottom - 1)), (path, box)


@settings(max_examples=FEW)
@given(chip=chips())
def test_a_block_diagram_of_any_chip(chip):
    drawing, table = blocks_of(chip)
    tidy(drawing)
    free_of_lines(drawing)
    told = {(name, other) for name, _, goes in table.rows for other in goes.split(", ") if other != "-"}
    assert {(start, end) for start, end, _ in wires(drawing)} == told
    texts = {one.text for one in drawing.texts}
    assert {row[0] for row in table.rows} <= texts
    for row in table.rows:
        assert row[1] == "-" or set(row[1].split("; ")) <= texts


@settings(max_examples=FEW)
@given(chip=chips())
def test_a_block_diagram_has_what_the_chip_has(chip):
    drawing, table = blocks_of(chip)
    found = [row[0] for row in table.rows]
    assert len(drawing.boxes) == len(found)
    assert found.count("Ports") == bool(chip.ports)
    assert found.count("Status") == (chip.status is not None)
    assert found.count("Sprite engine") == (chip.sprites is not None)
    assert found.count("Queue") == (chip.cpu is not None)
    assert [name for name in found if name.startswith("Layer ")] == [f"Layer {name}" for name in chip.layer_names]
    kept = [one.name for one in on_chip(chip) if one.name.endswith(" line buffers")]
    assert found.count("Line buffers") == len(kept)
    dashed = {end for start, end, dashes in wires(drawing) if dashes}
    assert dashed == {name for name in found if name.startswith(("Layer ", "Sprite "))} | {"Ladder"}


@settings(max_examples=FEW)
@given(chip=timed_chips())
def test_line_and_frame_of_any_chip(chip):
    found = pictures(timing(chip))
    for drawing in found.values():
        tidy(drawing)
    line = found["line"]
    assert {one.text.partition(":")[0] for one in line.texts} >= set(Server(chip).order)
    frame = found["frame"]
    assert f"{chip.frame.width} dots x {chip.frame.height} lines" in {one.text for one in frame.texts}


@settings(max_examples=FEW)
@given(chip=chips())
def test_words_bytes_and_flags_of_any_chip(chip):
    found = pictures(layouts(chip), *ports(chip))
    assert "word-0" in found
    assert ("status" in found) == (chip.status is not None)
    for drawing in found.values():
        tidy(drawing)


@settings(max_examples=2 * FEW)
@given(
    size=st.integers(1, 1 << 16).map(lambda pages: 256 * pages),
    cuts=st.lists(st.floats(0, 1), max_size=60),
    free=st.lists(st.booleans(), min_size=62, max_size=62),
)
def test_memory_of_any_parts(size, cuts, free):
    edges = sorted({0, size, *(int(cut * size) for cut in cuts)})
    rows = [
        (first, end, f"a.b.{number}")
        for number, (first, end) in enumerate(itertools.pairwise(edges))
        if not free[number] and end > first
    ]
    memory = memory_budget(vdpsim.parse_chip(CHIP).model_copy(update={"memory": sized(size)}), rows)
    drawing = read(memory_drawn(memory))
    tidy(drawing)
    assert len(drawing.boxes) == len(drawing.texts) == len(memory.allotted)
    assert [grey for _, grey in drawing.boxes] == [row.free for row in memory.allotted]
    high = (
        max(box.bottom for box, _ in drawing.boxes) - min(box.top for box, _ in drawing.boxes) if memory.allotted else 0
    )
    for (box, _), row in zip(drawing.boxes, memory.allotted, strict=True):
        assert box.bottom - box.top == pytest.approx(row.bytes / size * high, abs=SLIGHT)


def sized(size):
    """A memory of so many bytes."""
    return vdpsim.parse_chip(CHIP).memory.model_copy(update={"size": size})


@given(
    wanted=st.lists(st.floats(-100, 900), max_size=30),
    rooms=st.lists(st.floats(1, 60), min_size=30, max_size=30),
    most=st.floats(0, 900),
)
def test_labels_have_their_room_and_keep_their_order(wanted, rooms, most):
    wanted = sorted(wanted)
    room = rooms[: len(wanted)]
    found = spread(wanted, room, 0, most)
    for (one, size), (other, next_size) in itertools.pairwise(zip(found, room, strict=True)):
        assert other - one >= (size + next_size) / 2 - 1e-6
    if found:
        assert found[0] - room[0] / 2 >= -1e-6
        assert found[-1] + room[-1] / 2 <= max(most, sum(room)) + 1e-6


def test_labels_move_as_little_as_can_be():
    assert spread([10, 50, 90], [20, 20, 20], 0, 100) == [10, 50, 90]
    assert spread([50, 50], [20, 20], 0, 100) == [40, 60]
    assert spread([0, 0], [20, 20], 0, 100) == [10, 30]
    assert spread([100, 100], [20, 20], 0, 100) == [70, 90]
    assert spread([5, 5], [20, 20], 0, 30) == [10, 30]
    assert spread([], [], 0, 30) == []


def test_an_arrow_ends_in_a_tip():
    made = Drawing()
    made.box(10, 10, 20, 20, "mark")
    made.arrow((30, 20), (60, 20), dashed=True)
    made.arrow((60, 20), (60, 40))
    found = read(made.svg("x"))
    assert [path.kind for path in found.paths] == ["dashed", "tip", "", "tip"]
    assert found.paths[1].points == [(52, 24), (60, 20), (52, 16)]
    assert found.paths[3].points == [(64, 32), (60, 40), (56, 32)]


def test_curlews_blocks_by_hand():
    """From its file: ports to memory, palette and sprites; no layer in a line buffer; sprites a line ahead."""
    drawing, _ = blocks_of(vdpsim.load_chip("scenes/chips/curlew.chip.toml"))
    sources = {"Layer near", "Layer far", "Sprite engine"}
    assert wires(drawing) == {
        ("CPU", "Registers", False),
        ("CPU", "Ports", False),
        ("Ports", "Queue", False),
        ("Ports", "Palette", False),
        ("Ports", "Sprite engine", False),
        ("Queue", "Video memory", False),
        ("Status", "CPU", False),
        *(("Registers", name, True) for name in (*sources, "Ladder")),
        *(("Video memory", name, False) for name in sources),
        ("Layer near", "Ladder", False),
        ("Layer far", "Ladder", False),
        ("Sprite engine", "Line buffers", False),
        ("Line buffers", "Ladder", False),
        ("Ladder", "Palette", False),
        ("Palette", "Output", False),
    }


def test_a_chip_without_sprites_ports_and_time_has_none_of_these():
    text = CHIP[: CHIP.index("[sprites]")].replace('{ source = "sprites" }, ', "")
    drawing, table = blocks_of(vdpsim.parse_chip(text))
    assert [row[0] for row in table.rows] == [
        "CPU", "Registers", "CPU's bytes", "Video memory", "Layer near", "Layer far", "Layer status",
        "Ladder", "Palette", "Output",
    ]  # fmt: skip
    tidy(drawing)
    assert set(pictures(timing(vdpsim.parse_chip(text)))) == {"frame"}
    assert set(pictures(timing(vdpsim.parse_chip(TIMED)))) == {"frame", "line"}


def test_names_of_every_length_fit_their_boxes():
    """The longest names that a chip file takes, and the most layers and modes."""
    name = "m" * 40
    text = CHIP.replace('"near"', f'"{name}"')
    chip = vdpsim.parse_chip(text)
    (near, *others), more = chip.layers, range(5)
    modes = tuple(near.modes[0].model_copy(update={"name": name[:-1] + str(number)}) for number in range(8))
    full = (
        near.model_copy(update={"modes": modes}),
        *others,
        *(others[0].model_copy(update={"name": f"a{n}"}) for n in more),
    )
    drawing, _ = blocks_of(chip.model_copy(update={"layers": full}))
    tidy(drawing)
    free_of_lines(drawing)
    assert len([one for one in drawing.texts if one.text.startswith("Layer ")]) == 8


def test_the_most_slots_that_a_line_can_have():
    """8,192 dots and 64 accesses a dot, of which the CPU has every second: too many to draw each."""
    text = TIMED.replace("dots_per_line = 80", "dots_per_line = 8192").replace(
        "accesses_per_dot = 8", "accesses_per_dot = 64"
    )
    chip = vdpsim.parse_chip(text.replace('active = "none"', 'active = "reserved", every = 2, at = [1]'))
    drawing = pictures(timing(chip))["line"]
    tidy(drawing)
    assert "CPU: 2048 slots of its own" in {one.text for one in drawing.texts}
    assert len(drawing.boxes) < 50


def test_a_line_by_hand():
    """Curlew: 384 slots on 700 units; refresh 0 to 3; the CPU every eighth from 103 on; near.cells from 96 - 16 = 80 on.

    Dot 287 is due at slot 96 + 287 = 383, so that 382 is the last that can serve. The group at dot 144 has 240 - 16 to 239.
    """
    chip = vdpsim.load_chip("scenes/chips/curlew.chip.toml")
    drawing = pictures(timing(chip))["line"]
    rows = {
        one.text: sorted(
            (round((box.left - 12) * 384 / 700), round((box.right - 12) * 384 / 700))
            for box, _ in drawing.boxes
            if 0 < box.top - one.bottom < 8
        )
        for one in drawing.texts
    }
    assert rows["refresh: 4 slots"] == [(0, 4)]
    assert rows["CPU: 36 slots of its own"] == [(slot, slot + 1) for slot in range(103, 384, 8)]
    assert rows["near.cells: in time, 16 dots ahead; for dot 144: slots 224 to 239"] == [
        (80, 224),
        (224, 240),
        (240, 383),
    ]
    assert rows["sprites: for the next line"] == [(0, 384)]
