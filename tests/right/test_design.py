"""Is a designer warned of what can never come about, and of nothing else? Both sides of each warning."""

from __future__ import annotations

from pathlib import Path

import pytest
from refusal import refused
from scenery import CHIP, TIMED, load

import vdpsim
from vdpsim.cli import main

ROOT = Path(__file__).resolve().parents[2]
LADDER = 'ladder = [{ source = "status" }, { source = "sprites" }, { source = "near" }, { source = "far" }]'


def warned(text: str) -> list[tuple[str, str]]:
    """What is warned of in the chip of ``text``."""
    found = vdpsim.design_warnings(vdpsim.parse_chip(text))
    return [(".".join(map(str, place)), message) for place, message in found]


def ladder(*rungs: str, chip: str = CHIP) -> str:
    """``chip`` with these rungs, ``SOURCE`` or ``SOURCE when CONDITION``."""
    tables = []
    for rung in rungs:
        source, _, when = rung.partition(" when ")
        tables.append(f'{{ source = "{source}"' + (f', when = "{when}" }}' if when else " }"))
    assert LADDER in chip
    return chip.replace(LADDER, f"ladder = [{', '.join(tables)}]")


def listed(registers: str, chip: str = CHIP) -> str:
    return f'{chip}\n[registers]\nothers = "wired"\n{registers}\n'


OPAQUE = CHIP.replace("pages = [2, 2]\ntransparent = 0", "pages = [2, 2]")
"""``near`` has no transparent value."""


def test_the_shipped_chips_scenes_and_good_files_are_not_warned_of(capsys):
    files = [*ROOT.glob("scenes/**/*.toml"), *ROOT.glob("tests/chips/*.toml")]
    assert len(files) >= 10
    assert main(["check", *map(str, files)]) == 0
    assert capsys.readouterr().err == ""
    assert warned(CHIP) == warned(OPAQUE) == []


def test_a_source_on_no_rung():
    assert warned(ladder("status", "near", "far")) == [
        ("sprites", "sprites are on no rung of any ladder: they never show")
    ]
    assert warned(ladder("sprites", "near", "far")) == [
        ("layers.2", "status is on no rung of any ladder: it never shows")
    ]
    mine = 'exclusive = []\nladder = [{ source = "status" }]\ntransparent = 0\n[[layers]]\nname = "far"'
    own = ladder("sprites", "near", "far").replace('transparent = 0\n[[layers]]\nname = "far"', mine)
    assert warned(own) == []


BEFORE = "another rung of {0} stands before it without a condition"
MET = "no value meets its condition that does not meet that of another rung of {0} before it"


@pytest.mark.parametrize(
    ("rungs", "why"),
    [
        (["near when priority = 1", "near"], None),
        (["near", "near when priority = 1"], BEFORE),
        (["near", "near"], BEFORE),
        (["near when priority = 7"], None),
        (["near when priority > 7"], MET),
        (["near when priority > 6"], None),
        (["near when priority < 0"], MET),
        (["near when priority <= 0"], None),
        (["near when priority >= 0", "near"], MET),
        (["near when priority >= 1", "near"], None),
        (["near when priority >= 4", "near when priority < 4", "near"], MET),
        (["near when priority >= 5", "near when priority < 4", "near"], None),
        (["near when priority = 3", "near when priority != 3", "near when bank = 1"], MET),
        (["near when priority = 3", "near when bank != 3", "near when priority = 3"], MET),
        (["near when priority = 3", "near when bank != 3", "near when priority = 4"], None),
        (["near when flip_x = 0", "near when flip_x = 1", "near"], MET),
        (["sprites when group < 2", "sprites"], None),
        (["sprites when group <= 3", "sprites"], MET),
    ],
)
def test_a_rung_behind_others_of_its_source(rungs, why):
    rest = [name for name in ("status", "sprites", "far", "near") if not any(one.startswith(name) for one in rungs)]
    expected = (
        [(f"ladder.{len(rungs) - 1}", f"{rungs[-1]} never shows: {why.format(rungs[0].split()[0])}")] if why else []
    )
    assert warned(ladder(*rungs, *rest)) == expected


def test_a_rung_behind_a_layer_that_has_an_opaque_dot_everywhere():
    some = '"near.scroll_x" = { bits = 4, effect = "at once" }'
    told = [("ladder.3", "far never shows: rung 2, near, has an opaque dot everywhere")]
    assert warned(listed(some, OPAQUE)) == told
    assert warned(listed(some)) == []  # near has a transparent value
    assert warned(listed(some + '\n"near.enable" = { bits = 1, effect = "at once" }', OPAQUE)) == []
    assert warned(listed(some, OPAQUE) + '[constants]\n"near.enable" = 0\n') == []
    other = OPAQUE.replace('name = "bitmap"\nkind', 'name = "bitmap"\nexclusive = ["near"]\nkind')
    assert warned(listed(some, other)) == []  # far can switch it off
    last = ladder("status", "sprites", "far", "near", chip=OPAQUE)
    assert warned(listed(some, last)) == [("ladder.3", "near never shows: rung 2, far, has an opaque dot everywhere")]
    conditional = ladder("status", "sprites", "near when priority = 1", "far", chip=OPAQUE)
    assert warned(listed(some, conditional)) == []


WIRED = '[registers]\nothers = "default"\n[constants]\n"near.enable" = 1\n'
FAST = TIMED.replace("pages = [2, 2]\ntransparent = 0", "pages = [2, 2]").replace("dot = 8", "dot = 64") + WIRED
ONES = (
    f'[[patterns]]\nfor = "near.tiles"\nrows = {["1" * 8] * 8}\n[[maps]]\nfor = "near.tiles"\nfill = 0\n'
    '[[bitmaps]]\nfor = "far.bitmap"\nrows = ["5555555555555555"]\n'
)
"""``near`` is all ones, and the line of ``far`` that the picture begins with all fives."""


def test_a_rung_behind_an_opaque_layer_that_can_miss_a_fetch(tmp_path):
    """A group of which an access is missed shows nothing: what lies behind is seen there, and nowhere else."""
    told = "far shows at most where rung 2, near, misses a fetch: it has an opaque dot everywhere else"
    for when, missed in (("every = 2, at = [0]", False), ("every = 1024, at = [1000]", True)):
        chip = FAST.replace('"near.cells" = { when = "blanking"', f'"near.cells" = {{ when = "blanking", {when}')
        assert [one for one in warned(chip) if one[0] == "ladder.3"] == [("ladder.3", told)]
        frame = vdpsim.render(load(tmp_path, ONES, chip), damage=True)
        line, fetches = frame.indices[0], frame.missed[0]
        assert (bool(fetches.sum()), 5 in line, set(line) <= {1, 5}) == (missed, missed, True)


def test_a_rung_behind_a_line_buffer_that_can_be_shorter_than_the_line(tmp_path):
    """The buffer for line 0 is as wide as a line of the frame before: beyond it far is seen, though no fetch is missed."""

    def ahead(*sizes: list[int]) -> str:
        buffers = FAST.replace("slots = 600", "slots = 1").replace("dots_per_line = 80", "dots_per_line = 160")
        for client in ("cells", "pattern"):
            buffers = buffers.replace(
                f'"near.{client}" = {{ when = "blanking"', f'"near.{client}" = {{ when = "line before"'
            )
        return buffers.replace("width = 64\nheight = 64", f"sizes = {list(sizes)}")

    wider = ahead([64, 64], [128, 64])
    assert warned(wider) == []
    assert [place for place, _ in warned(ahead([64, 64], [64, 72]))] == ["ladder.3"]
    assert [place for place, _ in warned(wider + "picture_size = 1\n")] == ["ladder.3"]
    assert [place for place, _ in warned(wider.replace("line before", "blanking"))] == ["ladder.3"]
    machine = vdpsim.Machine.of(load(tmp_path, ONES, wider))
    machine.frame([vdpsim.RegisterWrite(3, "picture_size", 1)])
    frame = machine.frame()
    assert not frame.missed.any()
    assert frame.indices[0].tolist() == [1] * 64 + [5] * 64
    assert set(frame.indices[1].tolist()) == {1}


def test_a_ladder_of_a_modes_own():
    own = 'exclusive = ["far"]\nladder = [{rungs}]\ntransparent = 0\n[[layers]]\nname = "far"'
    at = 'transparent = 0\n[[layers]]\nname = "far"'

    def of(rungs: str, chip: str = CHIP) -> list[tuple[str, str]]:
        return warned(chip.replace(at, own.replace("{rungs}", rungs)))

    assert of('{ source = "near" }, { source = "status" }') == []
    switched = "far never shows: this ladder is in force where near shows tiles, which switches far off"
    assert of('{ source = "far" }') == [("layers.0.modes.0.ladder.0", switched)]
    # in its own ladder the layer shows that mode, whatever registers say
    whole = CHIP.replace(
        at, own.replace("{rungs}", '{ source = "near" }, { source = "status" }').replace("transparent = 0\n", "")
    )
    assert warned(whole) == [
        ("layers.0.modes.0.ladder.1", "status never shows: rung 0, near, has an opaque dot everywhere")
    ]


def test_addresses_at_reset_that_lead_beyond_memory():
    # the map's cells are 64 bytes, the table's records 24, of 8192
    def at(name: str, value: int, table: str = "constants") -> list[tuple[str, str]]:
        text = (
            f'"{name}" = {value}'
            if table == "constants"
            else f'"{name}" = {{ bits = 13, effect = "at once", step = 2, reset = {value} }}'
        )
        return warned(
            f'{CHIP}\n[registers]\nothers = "wired"\n[constants]\n{text}\n' if table == "constants" else listed(text)
        )

    assert at("near.tiles.map", 8192 - 64) == []
    told = [("constants.near.tiles.map", "at reset 64 bytes from 0x1FC2 on: the last 2 are beyond memory")]
    assert at("near.tiles.map", 8192 - 62) == told
    assert at("near.tiles.map", 8192 - 62, "registers") == [(told[0][0].replace("constants", "registers"), told[0][1])]
    assert at("sprites.table", 8192 - 24) == []
    assert at("sprites.table", 8192 - 22)[0][0] == "constants.sprites.table"
    assert at("far.bitmap.bitmap", 8192 - 78) == []
    assert at("far.bitmap.bitmap", 8192 - 76)[0][1].startswith("at reset 78 bytes")


def test_colour_cells_at_reset_that_lead_beyond_memory():
    # 2 x 2 blocks of 8x4 dots, a byte each
    cells = 'colours = { block = [8, 4], cell_bytes = 1, cell = { bank = "1:0" } }'
    chip = CHIP.replace('first_dot = "low"', f'first_dot = "low"\n{cells}')

    def at(value: int) -> list[tuple[str, str]]:
        return warned(f'{chip}\n[registers]\nothers = "wired"\n[constants]\n"far.bitmap.colours" = {value}\n')

    assert at(8192 - 4) == []
    told = "at reset 4 bytes from 0x1FFE on: the last 2 are beyond memory"
    assert at(8192 - 2) == [("constants.far.bitmap.colours", told)]


def test_the_place_of_what_a_listed_register_holds_at_reset(tmp_path, capsys):
    """It is that of the field that says so, under its own name where it has one, and of a split field that of its first part."""

    def of(*words: str) -> str:
        registers = (f"{word}\n" if word.startswith("others") else f"bits = 8\n{word}\n" for word in words)
        return CHIP + "".join(f"[[registers]]\n{one}" for one in registers)

    split = of(
        'others = "wired"',
        'name = "low"\nhalf_write = "counts"\n[registers.fields]\n"near.tiles.map" = { bits = "7:0", of = "7:0" }',
        'name = "high"\nhalf_write = "counts"\n[registers.fields]\n'
        '"near.tiles.map" = { bits = "4:0", of = "12:8", step = 2, reset = 8130 }',
    )
    told = "at reset 64 bytes from 0x1FC2 on: the last 2 are beyond memory"
    assert warned(split) == [("registers.1.fields.near.tiles.map", told)]
    assert warned(split.replace("8130", "8128")) == []
    own = (
        'fields = { both = { bits = "7:0", sets = ["near.tiles.map", "far.bitmap.bitmap"], step = 62, reset = 8122 } }'
    )
    both = of('name = "a"\nfields = { backdrop = "5:0" }', 'others = "wired"', f'name = "b"\n{own}')
    assert warned(both) == [
        ("registers.2.fields.both", "at reset 78 bytes from 0x1FBA on: the last 8 are beyond memory")
    ]
    path = tmp_path / "far.chip.toml"
    path.write_text(split, "utf-8")
    assert main(["check", str(path)]) == 0
    line = split[: split.index('"near.tiles.map" =')].count("\n") + 1
    assert f"far.chip.toml:{line}: registers.low.fields.near.tiles.map: at reset 64 bytes" in capsys.readouterr().err


def test_what_registers_cannot_hold_is_a_mistake():
    """Where a value is out of its use for good, the file is refused: no warning is left to give."""
    for name, reset in (("near.enable", 2), ("backdrop", 64), ("near.tiles.map", 8192)):
        with pytest.raises(vdpsim.InputError, match=r"reset: must be 0 to "):
            vdpsim.parse_chip(listed(f'"{name}" = {{ bits = 14, effect = "at once", reset = {reset} }}'))
    kind = 'name = "other"\nkind = "bitmap"\nbits_per_dot = 4\nwidth = 16\nheight = 8'
    second = f'[[layers.modes]]\n{kind}\n[[layers]]\nname = "far"'
    modes = CHIP.replace('[[layers]]\nname = "far"', second)
    for name, most in (("near.mode", 1), ("near.below", 1), ("near.split", 64)):
        good = f'"{name}" = {{ bits = 14, effect = "at once", reset = {most} }}'
        assert warned(listed(good, modes)) == []
        with refused(vdpsim.InputError, f"{name}.reset: must be 0 to {most} "):
            vdpsim.parse_chip(listed(good.replace(f"reset = {most}", f"reset = {most + 1}"), modes))
    with pytest.raises(vdpsim.InputError, match="must name one for each value of the size field, 2, got 3"):
        vdpsim.parse_chip(CHIP.replace("sizes = [[8, 8], ", "sizes = [[8, 8], [8, 16], "))


def test_a_sprite_larger_than_memory():
    def sized(memory: int) -> list[tuple[str, str]]:
        chip = CHIP.replace("[16, 16]]", "[64, 64]]").replace("size = 8192", f"size = {memory}")
        return warned(chip.replace("bits_per_dot = 2\nx_bias", "bits_per_dot = 2\npattern_bytes = 16\nx_bias"))

    assert sized(1024) == []
    told = "no pattern number reaches a whole sprite of 64 x 64 dots, 1024 bytes: memory has 768"
    assert sized(768) == [("sprites.sizes.1", told)]


def test_a_sprite_that_reaches_beyond_memory_and_yet_has_each_of_its_bytes():
    """Addresses count on from 0: 2x2 tiles of 16 bytes, memory has 32 of them; ``stride`` lies from row to row."""

    def strided(stride: int) -> list[tuple[str, str]]:
        tiles = f"sizes = [[8, 8], [16, 16]]\ntiles = {{ size = [8, 8], stride = {stride} }}"
        return warned(CHIP.replace("sizes = [[8, 8], [16, 16]]", tiles).replace("size = 8192", "size = 512"))

    told = "no pattern number reaches a whole sprite of 16 x 16 dots, {0} bytes: memory has 512"
    assert strided(30) == []
    assert strided(31) == [("sprites.sizes.1", told.format(33 * 16))]  # its last tile is its first
    assert strided(33) == [("sprites.sizes.1", told.format(35 * 16))]  # as is that before, or the second
    assert strided(34) == []


def timed(client: str, when: str, chip: str = TIMED) -> list[tuple[str, str]]:
    """Warnings where refresh leaves all but the slots from 100 on, and one client has another time."""
    chip = chip.replace("slots = 600", "slots = 100").replace("bytes_per_access = 2\nacc", "bytes_per_access = 2\nacc")
    line = next(line for line in chip.splitlines() if line.lstrip('"').startswith(client))
    return warned(chip.replace(line, f"{line.partition('=')[0]}= {when}"))


NEVER = "can never be served in {0}: no dot of a line has the slots before it that a group takes"


def test_a_client_that_finds_no_slots():
    # 640 slots a line at 8 a dot, 128 of them blank; refresh has the first 100; a tile's row of pattern takes 2
    told = [("time.clients.near.pattern", NEVER.format("tiles"))]
    assert timed("near.pattern", '{ when = "blanking" }') == []
    assert timed("near.pattern", '{ when = "blanking", every = 128, at = [126, 127] }') == []
    assert timed("near.pattern", '{ when = "blanking", every = 128, at = [99, 127] }') == told
    assert timed("near.pattern", '{ when = "blanking", every = 1024, at = [128, 129] }') == told
    buffered = TIMED.replace('"near.cells" = { when = "blanking" }', '"near.cells" = { when = "line before" }')
    assert timed("near.pattern", '{ when = "line before", every = 1024, at = [638, 639] }', buffered) == []
    assert timed("near.pattern", '{ when = "line before", every = 1024, at = [639] }', buffered) == told
    # due at dot 0 at the earliest, 128 slots after the line's beginning, and at dot 63 at the latest: slots up to 631
    assert timed("near.pattern", '{ when = "in time", lead = 1 }') == []
    assert timed("near.pattern", '{ when = "in time", lead = 1, every = 1024, at = [630, 631] }') == []
    assert timed("near.pattern", '{ when = "in time", lead = 1, every = 1024, at = [631, 632] }') == told
    assert timed("near.pattern", '{ when = "in time", lead = 1, every = 8, at = [7] }') == told
    assert timed("near.pattern", '{ when = "in time", lead = 2, every = 8, at = [7] }') == []


def test_the_cpus_slots_are_not_for_a_client():
    reserved = TIMED.replace('active = "none"', 'active = "reserved", every = 8, at = [7]')
    # blank slots are not reserved, but those of this pattern lie too early for any dot
    when = '{ when = "in time", lead = 2, every = 64, at = [39, 47] }'
    assert timed("near.pattern", when) == []
    assert timed("near.pattern", when, reserved) == [("time.clients.near.pattern", NEVER.format("tiles"))]


def test_sprites_that_find_no_slots():
    # a sprite of 8 dots takes 1 access a row; the table is on the chip
    assert timed("sprites", '{ when = "blanking", every = 1024, at = [127] }') == []
    told = "can never be served: a line has 0 slots for it, and one sprite takes 1"
    assert timed("sprites", '{ when = "blanking", every = 1024, at = [128] }') == [("time.clients.sprites", told)]
    assert timed("sprites", '{ when = "line before", every = 1024, at = [639] }') == []
    # in memory: a scan of 4 records, of which all three accesses hold a bit of y, size or enable: two of them
    memory = TIMED.replace('table = "chip"', 'table = "memory"')
    scan = timed("sprites", '{ when = "blanking", every = 128, at = [100, 101, 102, 103, 104, 105] }', memory)
    assert scan[0][1].startswith("can never be served: a line has 6 slots for it, and one sprite takes ")


def test_a_raw_file_that_is_shorter_than_what_it_is_for(tmp_path, capsys):
    def said(text: str, **files: bytes) -> list[str]:
        return [one.message for one in load(tmp_path, PATTERNS + text, **files).warnings]

    cells, dots = (
        '[[maps]]\nfor = "near.tiles"\nraw = "art.bin"\n',
        '[[bitmaps]]\nfor = "far.bitmap"\nraw = "art.bin"\n',
    )
    assert said(cells, art_bin=bytes(64)) == []
    assert said(cells, art_bin=bytes(62)) == ["art.bin is 2 bytes shorter than the 64 of the map"]
    assert said(dots, art_bin=bytes(78)) == []
    assert said(dots, art_bin=bytes(77)) == ["art.bin is 1 bytes shorter than the 78 from line 0 on"]
    assert said(dots + "at = [0, 7]\n", art_bin=bytes(8)) == []
    assert main(["check", str(tmp_path / "test.scene.toml")]) == 0
    assert capsys.readouterr().err == ""
    # what is meant: a length that is given, a fill, a second table that goes on
    assert said(cells + "length = 62\n", art_bin=bytes(64)) == []
    assert said(cells + "fill = 0\n", art_bin=bytes(2)) == []
    assert said(cells + '[[maps]]\nfor = "near.tiles"\nat = [1, 1]\nrows = [[0]]\n', art_bin=bytes(2)) == []
    said(dots, art_bin=bytes(70))
    assert main(["check", str(tmp_path / "test.scene.toml")]) == 0
    assert (
        capsys.readouterr()
        .err.strip()
        .endswith("test.scene.toml:8: bitmaps.0.raw: art.bin is 8 bytes shorter than the 78 from line 0 on")
    )


PATTERNS = '[[patterns]]\nfor = "near.tiles"\nrows = [' + '"........",' * 8 + "]\n"


def test_check_warns_of_a_chip_and_ends_well(tmp_path, capsys):
    path = tmp_path / "dead.chip.toml"
    path.write_text(
        ladder("near", "sprites", "far", "status", "near").replace(
            "lines_per_frame = 80", 'lines_per_frame = 80\ndisplay = "other"'
        ),
        "utf-8",
    )
    assert main(["check", str(path)]) == 0
    assert capsys.readouterr().err == f"warning: {path}:3: ladder.4: near never shows: {BEFORE.format('near')}\n"
