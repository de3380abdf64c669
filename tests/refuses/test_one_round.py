"""Is everything independent told in one round, of a chip and its scene together, and nothing that hangs on what is wrong?"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from refusal import refused
from scenery import CHIP, HEAD, TIMED, load, png, refusal
from soaked import every, few

import vdpsim
from vdpsim.scene.findings import MOST_TOLD, Together, WrongError
from vdpsim.scene.model import LISTS

SLOTS = """
[time]
cpu = { active = "none" }
[time.clients]
"near.cells" = { when = "blanking" }
"near.pattern" = { when = "blanking" }
"far.bitmap" = { when = "blanking" }
"far.colours" = { when = "blanking" }
"status.cells" = { when = "blanking" }
"status.glyphs" = { when = "blanking" }
sprites = { when = "blanking" }
[cpu]
clock = 1_000_000
cycles_per_byte = 10
[status]
address = 0x2000
line = 0
cleared = "read"
[[ports]]
target = "memory"
address = 0x1000
data = 0x1002
"""
BLOCKS = 'colours = { block = [4, 4], cell_bytes = 1, cell = { bank = "1:0" } }'
WHOLE = CHIP.replace("bytes_per_access = 2", "bytes_per_access = 2\naccesses_per_dot = 8") + SLOTS
WHOLE = WHOLE.replace("stride = 10", f"stride = 10\n{BLOCKS}")

BROKEN = {
    "name": ('name = "Reedling"', "name = 5"),
    "about": ('name = "Reedling"', 'name = "Reedling"\nabout = 5'),
    "unknown": ('name = "Reedling"', 'name = "Reedling"\nunknown = 5'),
    "frame": ("width = 64", "width = 65"),
    "frame and palette": ("lines_per_frame = 80", "lines_per_frame = 80\nbackdrop = 64"),
    "memory": ("size = 8192", "size = 8191"),
    "palette": ('red = "11:8"', 'red = "11:3"'),
    "layers": ("tile = 8", "tile = 9"),
    "layers that disagree": ("stride = 10", "stride = 9"),
    "layers that show nothing": ("transparent = 0\n[[layers]]", "exclusive = ['fur']\n[[layers]]"),
    "ladder": ('{ source = "far" }]', '{ source = "fur" }]'),
    "ladder itself": ('{ source = "far" }]', "{ source = 7 }]"),
    "sprites": ("count = 4", "count = 0"),
    "sprites that disagree": ("[[8, 8], [16, 16]]", "[[8, 8]]"),
    "collisions": ('pairs = [["bird", "fish"]]', 'pairs = [["bird", "fowl"]]'),
    "time": ('"near.cells" = { when', '"nearer.cells" = { when'),
    "time itself": ('active = "none"', 'active = "some"'),
    "cpu": ("cycles_per_byte = 10", "cycles_per_byte = 0"),
    "status": ("line = 0", "line = 8"),
    "ports": ('target = "memory"', 'target = "memories"'),
    "ports that disagree": ("data = 0x1002", "data = 0x1000"),
    "registers": ("[cpu]", "[registers]\nbackdrop = { bits = 0 }\n[cpu]"),
    "registers of no control": ("[cpu]", '[registers]\n"near.cable" = { bits = 1, effect = "at once" }\n[cpu]'),
    "registers at one address": (
        "[cpu]",
        '[registers]\nothers = "default"\nbackdrop = { bits = 6, effect = "at once", address = 0x1000 }\n[cpu]',
    ),
    "registers that are too small": (
        "[cpu]",
        '[registers]\nothers = "wired"\nbackdrop = { bits = 1, effect = "at once", reset = 2 }\n[cpu]',
    ),
    "constants of no control": ("[cpu]", '[registers]\nothers = "wired"\n[constants]\ncable = 1\n[cpu]'),
    "constants that are too large": ("[cpu]", '[registers]\nothers = "wired"\n[constants]\nbackdrop = 64\n[cpu]'),
    "layers of one name": ('name = "far"', 'name = "near"'),
    "ports for no table": ('target = "memory"', 'target = "sprites"'),
    "constants": ("[cpu]", "[constants]\nbackdrop = 1\n[cpu]"),
}
"""Ways to break one table of a chip."""

HIDES = {
    "registers": {"registers"},
    "registers of no control": {"registers"},
    "registers that are too small": {"registers"},
    "layers of one name": {"bitmaps"},
}
"""Of which lists of the wrong scene something is not told, as it hangs on what is broken; all is told of the other ways."""

MENDED = {
    "registers that are too small": ("reset = 2", "reset = 1"),
    "constants that are too large": ("backdrop = 64", "backdrop = 63"),
    "constants of no control": ("cable = 1", "backdrop = 1"),
}
"""What puts a chip right again and yet not as it was: all other controls are wired, which a scene must heed."""

RIGHT = """
[registers]
backdrop = 3
[[palette]]
colours = ["#fff"]
[[patterns]]
name = "reeds"
for = "near.tiles"
png = "art.png"
[[patterns]]
for = "sprites"
name = "heron"
rows = ["33333333", "33333333", "33333333", "33333333", "33333333", "33333333", "33333333", "33333333"]
[[maps]]
for = "near.tiles"
fill = "reeds"
[[bitmaps]]
for = "far.bitmap"
rows = ["1"]
[[colours]]
for = "far.bitmap"
fill = { bank = 1 }
[[patterns]]
for = "status.text"
font = "builtin"
[[text]]
for = "status.text"
text = "A"
[[sprites]]
name = "bird"
pattern = "heron"
x = 3
y = 4
[[writes]]
line = 3
register = "backdrop"
value = 1
[[motion]]
sprite = "bird"
field = "x"
from = 0
to = 5
step = 1
"""

WRONG = """
frames = 0
[registers]
backdrop = 64
[[palette]]
at = 64
colours = ["#fff"]
[[patterns]]
for = "near.tiles"
png = "none.png"
[[bitmaps]]
for = "far.bitmap"
rows = ["q"]
[[sprites]]
name = "bird"
x = 3
y = 4
pattern = "none"
[[sprites]]
name = "bird"
pattern = "none"
x = 3
y = 4
[[writes]]
line = 99
register = "backdrop"
value = 1
[[writes]]
line = 1
memory = 0
raw = "none.bin"
"""
"""A mistake in each list that can have one, files that are not there among them."""


def problems(folder: Path, scene: str, chip: str) -> set[str]:
    """What is told of a scene on a chip: file, place and message of each problem."""
    (folder / "test.chip.toml").write_text(chip, "utf-8")
    (folder / "art.png").write_bytes(png([[1] * 8] * 8))
    path = folder / "test.scene.toml"
    path.write_text(HEAD + scene, "utf-8")
    try:
        vdpsim.load_scene(path)
    except vdpsim.InputError as error:
        return {f"{Path(one.file).name}: {one.place}: {one.message}" for one in error.problems}
    return set()


def on_mended(folder: Path, scene: str, way: str) -> set[str]:
    """What is told of the scene on the chip broken in a ``way`` and put right."""
    return problems(folder, scene, WHOLE.replace(*BROKEN[way], 1).replace(*MENDED[way], 1)) if way in MENDED else set()


def of_scene(told: set[str]) -> set[str]:
    return {one for one in told if one.startswith("test.scene.toml")}


@pytest.fixture(name="all_of_it")
def _all_of_it(tmp_path):
    """What is told of the wrong scene on a chip without mistakes."""
    return problems(tmp_path, WRONG, WHOLE)


def test_the_chip_and_one_scene_are_right_and_the_other_scene_is_wrong_in_many_places(tmp_path, all_of_it):
    assert problems(tmp_path, RIGHT, WHOLE) == set()
    places = {one.split(": ")[1].partition(".")[0] for one in all_of_it}
    assert places == {"frames", "registers", "palette", "patterns", "bitmaps", "sprites", "writes"}


@pytest.mark.parametrize("way", every(2, BROKEN))
def test_a_right_scene_on_a_wrong_chip_has_no_mistake_of_its_own(way, tmp_path):
    old, new = BROKEN[way]
    assert old in WHOLE
    told = problems(tmp_path, RIGHT, WHOLE.replace(old, new, 1))
    assert told
    assert of_scene(told) <= on_mended(tmp_path, RIGHT, way)


@pytest.mark.parametrize("way", BROKEN)
def test_a_wrong_scene_on_a_wrong_chip_tells_what_does_not_hang_on_it(way, tmp_path, all_of_it):
    told = problems(tmp_path, WRONG, WHOLE.replace(*BROKEN[way], 1))
    own = of_scene(told)
    assert told - own
    assert own <= all_of_it | on_mended(tmp_path, WRONG, way)
    always = {one for one in all_of_it if re.search(r": frames: |none\.png|none\.bin", one)}
    assert len(always) == 3
    assert always <= own
    palette = {one for one in all_of_it if ": palette." in one}
    assert palette
    assert palette <= own
    hidden = {re.sub(r".*toml: ([a-z]+).*", r"\1", one) for one in (on_mended(tmp_path, WRONG, way) or all_of_it) - own}
    assert hidden == HIDES.get(way, set())


def test_a_chip_that_cannot_be_read_leaves_what_needs_none(tmp_path, all_of_it):
    for chip in ("name = ", 'name = "Only"\n', WHOLE + "[[[", ""):
        own = of_scene(problems(tmp_path, WRONG, chip))
        assert own <= all_of_it
        assert {one.split(": ")[1] for one in own} == {"frames", "patterns.0.png", "writes.1.raw"}


PAIRS = [
    (("frame", "width = 64", "width = 65"), ("ladder.3.source", '{ source = "far" }]', '{ source = "fur" }]')),
    (("memory.size", "size = 8192", "size = 100"), ("ladder.3.source", '{ source = "far" }]', '{ source = "fur" }]')),
    (
        ("ladder.3.source", '{ source = "far" }]', "{ source = 7 }]"),
        ("sprites.sizes", "[[8, 8], [16, 16]]", "[[8, 8]]"),
    ),
    (("time.cpu.active", 'active = "none"', 'active = "some"'), ("layers.1.name", 'name = "far"', 'name = "near"')),
    (("cpu.clock", "clock = 1_000_000\ncyc", "clock = 1\ncyc"), ("ports.0.data", "data = 0x1002", "data = 0x1000")),
]


@pytest.mark.parametrize(("one", "other"), PAIRS)
def test_a_table_that_is_wrong_in_itself_hides_no_disagreement_of_others(one, other):
    def places(*changes: tuple[str, str, str]) -> set[str]:
        text = WHOLE
        for _, old, new in changes:
            assert old in text
            text = text.replace(old, new, 1)
        with refused(vdpsim.InputError, "chip:") as caught:
            vdpsim.parse_chip(text)
        return {problem.place for problem in caught.value.problems}

    assert one[0] in places(one)
    assert places(one, other) >= places(one) | {other[0]}


CORPUS = Path(__file__).parent / "corpus" / "chips"
CHIPS = sorted(path.name for path in CORPUS.glob("*.chip.toml"))


@pytest.mark.parametrize("name", few(CHIPS, CHIPS[8::12].__contains__))
def test_a_scene_on_any_chip_of_the_corpus_tells_what_is_wrong_and_files_that_are_not_there(name, tmp_path):
    told = problems(tmp_path, WRONG, (CORPUS / name).read_text("utf-8"))
    assert len([one for one in of_scene(told) if re.search(r": frames: |none\.png|none\.bin", one)]) >= 2


@pytest.mark.parametrize(
    ("table", "key", "name"),
    [
        (
            '[[maps]]\nfor = 7\nat = [1]\npicture = "gone.png"\nmake = 3\nset = [1, 2]\nbanked = 7',
            "picture",
            "gone.png",
        ),
        ('[[bitmaps]]\nfor = "x"\nraw = "gone.bin"\noffset = -1\nlength = "a"\npng = []', "raw", "gone.bin"),
        ('[[writes]]\nregister = 3\nraw = "gone.bin"\nmemory = "x"\nlines = "q"', "raw", "gone.bin"),
    ],
)
def test_of_a_table_for_which_no_values_are_found_the_files_are_looked_at(tmp_path, table, key, name):
    told = problems(tmp_path, f"{RIGHT}\n{table}\n", WHOLE)
    assert [one for one in told if f"{key}: '{name}' cannot be read" in one], told


def test_every_list_of_a_scene_is_looked_at():
    assert {key for key in LISTS if f"[[{key}]]" in RIGHT} == set(LISTS)


def test_a_write_beyond_memory_whose_file_is_not_there_has_two_mistakes(tmp_path):
    said = refusal(tmp_path, '[[writes]]\nline = 1\nmemory = 8192\nraw = "none.bin"\n')
    assert "writes.0.memory: must be an address of video memory, 0x0 to 0x1FFF, got 0x2000" in said
    assert "none.bin" in said and len(said.splitlines()) == 2


def test_a_bitmap_outside_whose_dots_are_a_file_has_its_place_told_alone(tmp_path):
    text = '[[bitmaps]]\nfor = "far.bitmap"\nat = [16, 0]\nraw = "dots.bin"\n'
    said = refusal(tmp_path, text, dots_bin=b"\0")
    assert "must be a dot and line of 16x8, got [16, 0]" in said and len(said.splitlines()) == 1


def test_fields_of_cells_are_looked_at_though_their_picture_is_not_there(tmp_path):
    said = refusal(tmp_path, '[[maps]]\nfor = "near.tiles"\npicture = "none.png"\nset = { bank = 4, priority = 7 }\n')
    assert "maps.0.set.bank: bank must be 0 to 3 in a cell of near.tiles, got 4" in said
    assert "none.png" in said and len(said.splitlines()) == 2


def test_a_mistake_that_several_cells_make_is_told_once(tmp_path):
    rows = ", ".join(['"00000000"'] * 8)
    text = f'[[patterns]]\nname = "reed"\nfor = "near.tiles"\nrows = [{rows}]\n'
    cells = ", ".join(f'{{ pattern = "reed", bank = 4, {flip} = 1 }}' for flip in ("flip_x", "flip_y"))
    said = refusal(tmp_path, f'{text}[[maps]]\nfor = "near.tiles"\nrows = [[{cells}]]\n')
    assert "maps.0.rows.0.0.bank: bank must be 0 to 3 in a cell of near.tiles, got 4" in said
    assert len(said.splitlines()) == 1


def test_of_very_many_mistakes_of_a_table_the_first_are_told():
    each = Together()
    for number in range(MOST_TOLD + 1):
        each.tell(f"reed {number} is wrong", "reeds", number)
    with refused(WrongError, "reed 0 is wrong") as error:
        each.done()
    assert [one.sub[1] for one in (error.value, *error.value.others)] == list(range(MOST_TOLD))


def test_a_picture_that_ends_between_two_of_its_chunks_is_cut_off(tmp_path):
    """Without its last twelve bytes, the end chunk, all that is there is whole."""
    whole = png([[1] * 16] * 8)
    text = '[[bitmaps]]\nfor = "far.bitmap"\npng = "dots.png"\n'
    load(tmp_path, text, dots_png=whole)
    assert f"is cut off after {len(whole) - 12} bytes" in refusal(tmp_path, text, dots_png=whole[:-12])


def test_where_the_table_of_time_is_lost_the_cpus_bytes_are_not_told_to_lack_it(tmp_path):
    """But a file that they name is looked at."""
    text = '[[writes]]\nline = 1\nmemory = 0\nby = "cpu"\nraw = "bytes.bin"\n'
    lost = TIMED.replace("[time.clients]", "[time.clientz]")
    for files, more in (({}, ["bytes.bin"]), ({"bytes_bin": b"\1"}, [])):
        said = refusal(tmp_path, text, lost, **files).splitlines()
        assert len(said) == 2 + len(more)
        assert all(
            any(what in line for line in said) for what in ("time.clients: is missing", "time.clientz: is not", *more)
        )


def test_patterns_that_lie_in_other_planes_are_none_of_a_layers(tmp_path):
    """The near layer's in four planes, each of its own; the status layer's glyphs in one."""
    chip = CHIP.replace("bits_per_dot = 4\n", 'bits_per_dot = 4\nplanes = "apart"\n', 1)
    glyph = ", ".join(['"......"'] * 8)
    text = f'[[patterns]]\nname = "reed"\nfor = "status.text"\nat = 65\nrows = [{glyph}]\n'
    said = refusal(tmp_path, f'{text}[[maps]]\nfor = "near.tiles"\nfill = {{ pattern = "reed" }}\n', chip)
    assert "patterns for near.tiles" in said and "reed" in said and len(said.splitlines()) == 1
