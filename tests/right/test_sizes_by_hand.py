"""The picture's size as a register, worked by hand: from when it counts, where a smaller picture lies, what a buffer holds."""

from __future__ import annotations

from io import BytesIO
from typing import Any

import pytest
from paper import BITMAP, SPRITES, TILES, Json, at, both, holding, small_chip, sprite
from PIL import Image
from refusal import refused

from vdpsim.chip.checks import check
from vdpsim.chip.controls import controls
from vdpsim.chip.design import design_warnings
from vdpsim.chip.line.displays import display_warnings
from vdpsim.chip.load import chip_text, parse_chip
from vdpsim.chip.model import Chip
from vdpsim.chip.registers import at_largest, at_sizes, field_names, registers
from vdpsim.cli import main
from vdpsim.engine import Plan, draw
from vdpsim.machine.machine import Machine
from vdpsim.output.animation import animation
from vdpsim.output.frame import on_canvas
from vdpsim.scene.load import load_scene
from vdpsim.state.writes import PortWrite, RegisterWrite, Transfer

FRAME = {
    "sizes": [[64, 64], [80, 70]],
    "border": {"left": 1, "right": 2, "top": 3, "bottom": 4},
    "dot_clock": 1_000_000,
    "dots_per_line": 120,
    "lines_per_frame": 80,
}
MEMORY = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 1}


def chip_of(*modes: Any, sizes: Any = None, **tables: Any) -> Chip:
    return small_chip(*(modes or (BITMAP,)), frame={**FRAME, **({"sizes": sizes} if sizes else {})}, **tables)


# When it counts


def test_a_size_counts_from_the_next_frame_on():
    """Written at line 20 of frame 0: that frame stays 64 x 64, the next is 80 x 70, the one after it is too."""
    machine = Machine(chip_of())
    machine.lines(20)
    machine.registers["picture_size"] = 1
    assert machine.frame().size == (64, 64)
    assert [machine.frame().size for _ in range(2)] == [(80, 70), (80, 70)]


def test_a_size_set_between_frames_is_that_of_the_frame_to_come():
    """Before line 0 nothing has to wait: by name as well as by number."""
    machine = Machine(chip_of())
    machine.registers["picture_size"] = "80x70"
    frame = machine.frame()
    assert (frame.size, frame.width, frame.height, frame.slots) == ((80, 70), 80, 70, None)
    assert machine.registers["picture_size"] == 1


def test_a_byte_of_the_cpu_sets_the_size():
    """In the default map the size follows the backdrop, at address 1; a byte beyond it sets the last size."""
    chip = chip_of(sizes=[[64, 64], [64, 65], [80, 70]])
    assert registers(chip)["picture_size"].address == 1
    for byte, size in ((0, (64, 64)), (2, (80, 70)), (3, (80, 70))):
        machine = Machine(chip)
        machine.frame([PortWrite(79, 1, byte, 119)])
        assert machine.frame().size == size


def test_the_control_is_there_where_there_is_a_choice():
    one, two = (chip_of(sizes=sizes) for sizes in ([[64, 64]], [[64, 64], [64, 65]]))
    assert "picture_size" not in controls(one)
    control = controls(two)["picture_size"]
    assert (control.top, control.rest, control.step, control.names) == (1, 0, 1, ("64x64", "64x65"))
    assert field_names(two)["picture_size"].effect == "next frame"
    assert Machine(one).frame().size == (64, 64)


def test_eight_sizes_are_the_most():
    def of(count: int) -> str:
        return chip_text(chip_of()).replace("[[64, 64], [80, 70]]", str([[64, 64 + number] for number in range(count)]))

    assert len(parse_chip(of(8)).frame.sizes) == 8
    with refused(ValueError, "must have at most 8 elements"):
        parse_chip(of(9))


def test_a_split_rests_at_the_tallest_size():
    modes = [{**BITMAP, "name": "b"}, {**BITMAP, "name": "c"}]
    chip = Chip.model_validate(
        {
            **small_chip(BITMAP).model_dump(mode="json", exclude_unset=True),
            "frame": FRAME,
            "layers": [{"name": "a", "modes": modes}],
        },
        strict=False,
    )
    assert (controls(chip)["a.split"].rest, controls(chip)["a.split"].top) == (70, 70)
    assert [controls(one) == controls(chip) for one in chip.each_size] == [True, True]


# Where it lies


def test_a_smaller_picture_has_wider_borders():
    """80 x 70 with 1, 2, 3 and 4 around it is 83 x 77. Of 64 x 64 the 16 dots that are over are 8 and 8, the 6 lines 3 and 3."""
    machine = Machine(chip_of())
    machine.palette[0], machine.palette[3] = 0xF00, 0x0F0
    small, large = machine.frame([RegisterWrite(5, "picture_size", 1)]), machine.frame()
    assert (small.border, large.border) == ((9, 10, 6, 7), (1, 2, 3, 4))
    assert small.image(1, True).size == large.image(1, True).size == (83, 77)
    assert len(small.border_rgb) == 64 + 7 and len(large.border_rgb) == 70 + 4


def test_what_is_odd_is_over_at_the_right_and_below():
    """Of 72 x 67 in 80 x 70: 8 dots are 4 and 4, of 3 lines 1 is above and 2 are below."""
    chip = chip_of(sizes=[[72, 67], [80, 70]])
    edge = chip.at_size(0).frame.border
    assert (edge.left, edge.right, edge.top, edge.bottom) == (5, 6, 4, 6)


def test_a_moving_picture_has_all_sizes_on_one_canvas():
    """The small frame lies at dot 8 and line 3 of 80 x 70, in the border's colour; with the border all of it is 83 x 77."""
    chip = chip_of(BITMAP)

    def frames() -> list[Any]:
        machine = Machine(chip, holding(chip, {0: b"\x55" * 256}))  # entry 1 at every dot
        return [machine.frame([RegisterWrite(5, "picture_size", 1)]), machine.frame()]

    small, large = frames()
    placed = on_canvas(small, (80, 70))
    assert placed.shape == (70, 80, 3)
    assert (placed[3:67, 8:72] == small.rgb).all()
    around = placed.copy()
    around[3:67, 8:72] = 0
    assert not around.any() and small.rgb.any()
    assert on_canvas(large, (80, 70)) is large.rgb
    for ending in (".png", ".gif", ".webp"):
        for border, size in ((False, (80, 70)), (True, (83, 77))):
            made = animation(frames(), chip, ending, border=border)
            assert made.frames == 2
            with Image.open(BytesIO(made.data)) as picture:
                assert (picture.size, picture.n_frames) == (size, 2)


# What it does to time


def test_the_end_of_the_picture_is_told_at_each_height():
    """Line 64 of the small picture, line 70 of the large one; line 0 of one that fills the frame."""
    status = {"address": 0x80, "picture_end": 0, "cleared": "read"}
    chip = chip_of(sizes=[[64, 64], [80, 70]], status=status)
    state = holding(chip)
    seen = [both(state, [RegisterWrite(0, "picture_size", 1)]).raised, both(state).raised]
    assert seen == [[(64, 0, "picture_end")], [(70, 0, "picture_end")]]
    full = small_chip(
        BITMAP,
        frame={"sizes": [[64, 64], [64, 70]], "dot_clock": 1_000_000, "dots_per_line": 80, "lines_per_frame": 70},
        status=status,
    )
    state = holding(full)
    seen = [both(state, [RegisterWrite(0, "picture_size", 1)]).raised, both(state).raised]
    assert seen == [[(64, 0, "picture_end")], [(0, 0, "picture_end")]]


def test_each_size_has_its_own_blank_slots():
    """120 slots a line: 56 before dot 0 of the small picture, 40 before that of the large one."""
    chip = chip_of(BITMAP, memory=MEMORY, time={"clients": {"a.bitmap": {"when": "in time", "lead": 8}}})
    machine = Machine(chip)
    frames = [machine.frame([RegisterWrite(0, "picture_size", 1)]), machine.frame()]
    assert [frame.blank for frame in frames] == [56, 40]
    assert [frame.slots.per_line for frame in frames] == [120, 120]
    assert [frame.log.by_line["a.bitmap"][0] for frame in frames] == [16, 20]


@pytest.mark.parametrize(("before", "after", "shown"), [(0, 1, 64), (1, 0, 64), (0, 0, 64), (1, 1, 80)])
def test_line_0_of_a_buffer_has_what_the_size_before_it_fetched(before, after, shown):
    """Line 0 is fetched on the last line of the frame before, as wide as that one's picture: behind 64 dots a picture of 80
    shows what is behind the layer, entry 0; of 80 dots a picture of 64 shows the first.
    """
    chip = chip_of(BITMAP, memory=MEMORY, time={"clients": {"a.bitmap": {"when": "line before"}}})
    state = holding(chip, {0: b"\x55" * 256}, picture_size=before)
    both(state, [RegisterWrite(30, "picture_size", after)])
    rows = both(state).indices
    width = chip.frame.sizes[after][0]
    assert rows[0] == [1] * shown + [0] * (width - shown)
    assert rows[1] == [1] * width


def test_cells_of_line_0_are_kept_for_line_1_of_the_same_width_alone():
    """In a buffer: cells for line 0 are fetched on the last line. On line 0, for line 1, there are none to fetch where the
    picture is as wide as it was, of whatever height; of another width all are fetched again.
    """
    clients = {"a.cells": {"when": "line before", "keep": True}, "a.pattern": {"when": "line before"}}
    chip = chip_of(TILES, sizes=[[64, 64], [80, 70], [64, 70]], memory=MEMORY, time={"clients": clients})
    for after, fetched in ((0, 0), (1, 11), (2, 0)):
        state = holding(chip, picture_size=0, a__scroll_x=1)
        both(state, [RegisterWrite(3, "picture_size", after)])
        assert state.kept[0].width == 64
        assert both(state).slots[0]["a.cells"] == fetched, after


def test_sprites_of_line_0_are_cut_off_at_the_new_edge():
    """A sprite at x = 60, prepared for line 0 while the picture is 80 wide: its dots 60 to 63 show on a picture of 64."""
    table = {**SPRITES, "sizes": [[8, 4]], "transparent": 0}
    clients = {"a.bitmap": {"when": "in time", "lead": 8}, "sprites": {"when": "line before"}}
    modes = {**BITMAP, "transparent": 0}
    chip = chip_of(modes, sprites=table, memory=MEMORY, time={"clients": clients})
    state = holding(
        chip, {1016: b"\xff" * 8}, [sprite(60, 0), sprite(0, 100), sprite(0, 100), sprite(0, 100)], picture_size=1
    )
    state.controls[state.names.index("sprites.patterns")] = 1016
    both(state, [RegisterWrite(30, "picture_size", 0)])
    rows = both(state).indices
    assert at(rows[:2], 1) == [(x, y) for y in (0, 1) for x in range(60, 64)]


def test_a_transfer_goes_on_in_slots_that_follow_each_other():
    """Nobody else asks: 120 slots a line, 80 lines. 200 bytes begun on the last line, at dot 64 of a picture of 64, which is
    where line 0's slots begin: 120 land on line 0 and 80 on line 1 of the larger frame.
    """
    time = {"clients": {"a.bitmap": {"when": "blanking"}}, "cpu": {"active": "free", "blanking": True}}
    chip = chip_of(
        BITMAP,
        memory=MEMORY,
        time=time,
        constants={"a.enable": 0},
        registers={"picture_size": {"bits": 1, "effect": "next frame"}, "others": "wired"},
    )
    state = holding(chip)
    first = both(state, [RegisterWrite(0, "picture_size", 1), Transfer(79, 0, bytes(200), 64)])
    assert sum(line["cpu"] for line in first.slots) == 0
    second = both(state)
    assert [line["cpu"] for line in second.slots[:3]] == [120, 80, 0]


# Files


def test_a_file_of_sizes_comes_back():
    chip = chip_of()
    assert parse_chip(chip_text(chip)) == chip
    told = chip.model_dump(mode="json")["frame"]
    assert told["sizes"] == [[64, 64], [80, 70]] and "width" not in told and "height" not in told
    plain = small_chip(BITMAP)
    assert parse_chip(chip_text(plain)) == plain
    assert "sizes" not in chip_text(plain)
    for one in (chip, plain):  # everything that a chip has, what its file leaves out too
        assert Chip.model_validate_json(one.model_dump_json(exclude_none=True)) == one


def test_sizes_of_another_chip_are_refused():
    chip = chip_of()
    with refused(IndexError, "index out of range"):
        chip.at_size(2)
    with refused(ValueError, "the frame is at size 0 already, got 1"):
        chip.at_size(0).at_size(1)
    assert small_chip(BITMAP).at_size(0) == small_chip(BITMAP)


def test_the_effect_has_to_be_that_of_the_next_frame():
    wrong = {}
    for effect in ("at once", "next line", "next frame"):
        chip = Chip.model_validate(
            {
                **small_chip(BITMAP).model_dump(mode="json", exclude_unset=True),
                "frame": FRAME,
                "registers": {"picture_size": {"bits": 1, "effect": effect}, "others": "wired"},
            },
            strict=False,
        )
        wrong[effect] = [place for place, _ in check(chip)]
    assert wrong == {
        "at once": [("registers", "picture_size", "effect")],
        "next line": [("registers", "picture_size", "effect")],
        "next frame": [],
    }


def test_a_field_of_a_word_says_the_effect_or_its_register_does():
    """The field's own effect goes before that of the register; tied to another control it is still that of a frame."""

    def wrong(word: Json, field: Json) -> list[str]:
        fields = {"size": {"bits": "0", "sets": ["picture_size", "a.enable"], "reset": 1, **field}}
        registers = [{"name": "control", "bits": 8, "fields": fields, **word}, {"others": "wired"}]
        tables = small_chip(BITMAP).model_dump(mode="json", exclude_unset=True)
        chip = Chip.model_validate({**tables, "frame": FRAME, "registers": registers}, strict=False)
        return [".".join(map(str, place)) for place, _ in check(chip)]

    at = ["registers.0.fields.size.effect"]
    assert wrong({"effect": "next frame"}, {}) == wrong({}, {"effect": "next frame"}) == []
    assert wrong({}, {}) == wrong({"effect": "next frame"}, {"effect": "at once"}) == at


def test_text_begins_within_every_size():
    """Left at dot 63 of 64 and 80 is well, at 64 it is not."""
    text = {
        "name": "x",
        "kind": "text",
        "glyph": [6, 8],
        "cell_bytes": 1,
        "cell": {"character": "3:0"},
        "columns": 4,
        "rows": 4,
    }
    assert list(check(chip_of({**text, "left": 63}))) == []
    chip = chip_of({**text, "left": 0})
    layer = chip.layers[0]
    moved = layer.modes[0].model_copy(update={"left": 64})
    bad = chip.model_copy(update={"layers": (layer.model_copy(update={"modes": (moved,)}),)})
    assert [told for _, told in check(bad)] == ["must be a dot of the picture at each of its sizes, 0 to 63, got 64"]


def test_a_wired_size_and_a_short_register_leave_fewer_sizes():
    def of(**tables: object) -> Chip:
        return chip_of(sizes=[[64, 64], [80, 70], [72, 64]], **tables)

    wired = of(registers={"others": "wired"}, constants={"picture_size": 1})
    short = of(registers={"picture_size": {"bits": 1, "effect": "next frame"}, "others": "wired"})
    assert [[one.frame.number for one in at_sizes(chip)] for chip in (of(), wired, short)] == [[0, 1, 2], [1], [0, 1]]
    assert [at_largest(chip).frame.number for chip in (of(), wired, short)] == [1, 1, 1]
    assert Machine(wired).frame().size == (80, 70)
    assert at_largest(chip_of(sizes=[[64, 70], [72, 64]])).frame.number == 1  # 4,480 and 4,608 dots
    assert at_largest(chip_of(sizes=[[64, 72], [72, 64]])).frame.number == 0  # equal: the first


# What is told


def test_a_display_is_held_against_each_size():
    """A display of 525 lines wants 22 of its 262 lines blank: 240 lines leave 22, and 241 leave 21."""
    frame = {"dot_clock": 6_041_957, "dots_per_line": 384, "lines_per_frame": 262, "display": "525 lines"}
    sizes = [[256, 192], [256, 240], [256, 241]]
    chip = small_chip(BITMAP, frame={**frame, "sizes": sizes})
    alone = [display_warnings(small_chip(BITMAP, frame={**frame, "width": w, "height": h}).frame) for w, h in sizes]
    always = [told for told in alone[0] if told in alone[1] and told in alone[2]]
    assert list(display_warnings(chip.frame)[: len(always)]) == always
    rest = display_warnings(chip.frame)[len(always) :]
    assert rest == tuple(f"at 256x241: {told}" for told in alone[2] if told not in always) and rest


def test_a_client_is_said_never_to_be_served_where_no_size_serves_it():
    """Its one slot is number 3. Of 74 dots a line 10 are blank at 64 dots and 2 at 72: the small picture's line serves it."""
    picture = {**BITMAP, "width": 128, "scroll": False}

    def warned(*sizes: list[int], dots: int) -> list[str]:
        chip = small_chip(
            picture,
            frame={"sizes": list(sizes), "dot_clock": 1_000_000, "dots_per_line": dots, "lines_per_frame": 70},
            memory=MEMORY | {"size": 2048},
            time={"clients": {"a.bitmap": {"when": "blanking", "every": dots, "at": [3]}}},
        )
        return [".".join(map(str, place)) for place, _ in design_warnings(chip)]

    assert warned([64, 64], [72, 64], dots=74) == []  # 10 and 2 blank slots: slot 3 serves at 64 dots
    assert warned([64, 64], [72, 64], dots=75) == []  # 11 and 3
    assert warned([72, 64], [72, 66], dots=75) == ["time.clients.a.bitmap"]  # slots 0 to 2
    assert warned([72, 64], [72, 66], dots=76) == []  # and 3
    assert warned([72, 64], [64, 64], dots=66 + 8) == []


SCENE = """
name = "Sizes"
chip = "of.chip.toml"
frames = 6
[registers]
picture_size = "80x70"
[[palette]]
at = 0
colours = ["#204060", "#f0f0f0"]
[[bitmaps]]
for = "a.b"
rows = ["1111", "1001", "1111"]
[[motion]]
register = "picture_size"
from = "64x64"
to = "80x70"
step = 1
every = 2
then = "repeat"
"""


def test_a_scene_moves_the_size(tmp_path, capsys):
    """Two frames small, two large, two small: by ``render`` alone, one after the other, and as a moving picture."""
    (tmp_path / "of.chip.toml").write_text(chip_text(chip_of()), "utf-8")
    path = tmp_path / "sizes.scene.toml"
    path.write_text(SCENE, "utf-8")
    scene = load_scene(path)
    assert [scene.state(frame).value("picture_size") for frame in range(6)] == [0, 0, 1, 1, 0, 0]
    out = tmp_path / "moves.png"
    assert main(["render", str(path), "--frames", "0:6", "-o", str(out)]) == 0
    with Image.open(out) as picture:
        assert (picture.size, picture.n_frames) == ((80, 70), 6)
    assert main(["check", str(tmp_path / "of.chip.toml")]) == 0
    assert "64 x 64 or 80 x 70 dots" in capsys.readouterr().out


def test_a_plan_is_made_for_each_size_once():
    chip = chip_of()
    plan, state = Plan(chip), holding(chip)
    first = plan.of(state)
    draw(plan, state, [RegisterWrite(0, "picture_size", 1)])
    second = plan.of(state)
    assert (first.width, second.width) == (64, 80)
    draw(plan, state, [RegisterWrite(0, "picture_size", 0)])
    assert plan.of(state) is first and first.store is second.store
    assert first.of(state) is first
