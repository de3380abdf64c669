"""A chip's data sheet: each figure by hand from the chip's file, page and Markdown alike, and no name that leaves its place."""

from __future__ import annotations

import json
import re
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest
from browser import browser
from hypothesis import given, settings
from hypothesis import strategies as st
from scenery import CHIP, TIMED, load
from strategies import chips

import vdpsim
from vdpsim.handoff.sheet import files
from vdpsim.handoff.sheet.as_html import as_html
from vdpsim.handoff.sheet.as_markdown import as_markdown
from vdpsim.handoff.sheet.files import data_sheet, sheet_files
from vdpsim.handoff.sheet.parts import Grid, Points, Section, Sheet, Words
from vdpsim.handoff.sheet.told.budgeted import budgeted
from vdpsim.handoff.sheet.told.clients import clients
from vdpsim.handoff.sheet.told.cpu_side import ports, register_map
from vdpsim.handoff.sheet.told.features import features
from vdpsim.handoff.sheet.told.layers import ladders, layers, palette
from vdpsim.handoff.sheet.told.sprites import limits, sprites
from vdpsim.handoff.sheet.told.timing import timing

markdown_it = pytest.importorskip("markdown_it", reason="markdown-it-py comes with rich")

SCENES = Path(__file__).resolve().parents[2] / "scenes"
CHIPS = SCENES / "chips"
SHIPPED = ("saltmarsh", "ferry", "tideline")
HOSTILE = (
    "</title><script>alert(1)</script>",
    "| a | **b** _c_ `d` [e](javascript:f) ![g](h) ~~i~~",
    "# one",
    "1. two & &amp; <!-- -->",
    "-->]]>\\",
    "www.example.invalid https://example.invalid $x$",
    "鳥" * 20,
    "    four",
    "***",
    "\\|",
)


@cache
def shipped(name: str) -> vdpsim.Scene:
    """A shipped scene, on Dunlin if it is the ferry: loaded once, and its chip keeps what its sheet is made of."""
    chip = vdpsim.load_chip(CHIPS / "dunlin.chip.toml") if name == "ferry" else None
    return vdpsim.load_scene(SCENES / f"{name}.scene.toml", chip=chip)


# Every figure by hand


@pytest.fixture(scope="module")
def curlew():
    """Curlew's sheet, with the memory of Saltmarsh."""
    return data_sheet(shipped("saltmarsh"))


def section(sheet: Sheet, title: str) -> Section:
    """The section of this title."""
    (found,) = (one for one in sheet.sections if one.title == title)
    return found


def table(sheet: Sheet | Section, caption: str) -> list[str]:
    """The rows of the table of this caption, cells with bars between."""
    parts = sheet.parts if isinstance(sheet, Section) else [part for one in sheet.sections for part in one.parts]
    (found,) = (part for part in parts if isinstance(part, Grid) and part.caption == caption)
    assert all(len(row) == len(found.head) for row in found.rows)
    return [" | ".join(row) for row in found.rows]


def points(found: Section) -> list[str]:
    """All items of a section's lists."""
    return [item for part in found.parts if isinstance(part, Points) for item in part.items]


def lines(text: str) -> list[str]:
    """The lines of a text that have something."""
    return [line.strip() for line in text.splitlines() if line.strip()]


BY_HAND = {
    # 6 MHz / 384 = 15,625 lines, / 312 = 50.080128... frames; 1 / 6 MHz = 166.667 ns
    "Rates": """
        dot clock | 6 MHz
        a dot | 166.667 ns
        line rate | 15.625 kHz
        frame rate | 50.080128 Hz
        accesses a dot | 1
        a slot | 166.667 ns
        CPU clock | 6 MHz
        CPU cycles a byte, at least | 21
        meant for a display of | 625 lines
        """,
    # 384 - 288 = 96 ahead: 16 of border, 96 - 32 = 64 of blanking, 16 of border; a slot a dot, a dot 1/6 us
    "A line, in order of time": """
        right border, of the line before | -96 | 16 | 2.667 | 0 | 16
        blanking | -80 | 64 | 10.667 | 16 | 64
        left border | -16 | 16 | 2.667 | 80 | 16
        picture | 0 | 288 | 48.000 | 96 | 288
        whole line | -96 | 384 | 64.000 | 0 | 384
        """,
    # 312 - 216 - 24 = 72 lines of blanking; 64 us each
    "A frame, in order of time": """
        picture | 0 | 216 | 13,824.000
        lower border | 216 | 12 | 768.000
        blanking | 228 | 72 | 4,608.000
        upper border | 300 | 12 | 768.000
        whole frame | 0 | 312 | 19,968.000
        """,
    # a 16-bit access: a row of a tile is 4 bytes, 2 accesses; of a bitmap it brings 4 dots of 4 bits, 2 of 8
    "Clients and places, in the order in which they are served": """
        1 | CPU | - | in its own slots of the picture | - | - | - | s with s mod 8 = 7 | -
        2 | refresh | - | on every line | - | - | - | the first 4 | -
        3 | near.cells | tiles | in time | 16 | 8 | 1 | any | no
        3 | near.cells | text | in time | 16 | 6 | 1 | any | no
        4 | near.pattern | tiles | in time | 16 | 8 | 2 | any | -
        5 | near.glyphs | text | in time | 16 | 6 | 1 | any | -
        6 | far.cells | tiles | in time | 16 | 8 | 1 | any | no
        6 | far.cells | text | in time | 16 | 6 | 1 | any | no
        7 | far.pattern | tiles | in time | 16 | 8 | 2 | any | -
        8 | far.glyphs | text | in time | 16 | 6 | 1 | any | -
        9 | far.bitmap | chart | in time | 16 | 4 | 1 | any | -
        9 | far.bitmap | picture | in time | 16 | 2 | 1 | any | -
        10 | sprites | - | line before | - | - | 2 to 16 a sprite | any | -
        11 | CPU | - | in blanking | - | - | - | all that are left there | -
        """,
    # 64 x 32 x 2 = 4,096; 48 x 27 x 2 = 2,592; 8 x 8 / 2 = 32
    "Layer near": """
        tiles | a map of 64 x 32 tiles of 8 x 8 dots, 4 bits a dot | 4,096 | 32 | 1 of cells, 2 of pattern, for 8 dots \
| scrolls in x and y | goes on from the other edge
        text | text of 48 x 27 characters of 6 x 8 dots | 2,592 | 8 | 1 of cells, 1 of glyphs, for 6 dots | stands still \
| nothing in the margins; 0 dots at the left
        """,
    # 288 x 128 / 2 = 18,432; 288 x 192 = 55,296; 46 x 27 x 2 = 2,484
    "Layer far": """
        tiles | a map of 64 x 32 tiles of 8 x 8 dots, 4 bits a dot | 4,096 | 32 | 1 of cells, 2 of pattern, for 8 dots \
| scrolls in x and y | goes on from the other edge
        chart | a bitmap of 288 x 128 dots, 4 bits a dot | 18,432 | - | 1 of bitmap, for 4 dots | scrolls in x and y \
| goes on from the other edge
        picture | a bitmap of 288 x 192 dots, 8 bits a dot | 55,296 | - | 1 of bitmap, for 2 dots | scrolls in x and y \
| goes on from the other edge
        text | text of 46 x 27 characters of 6 x 8 dots | 2,484 | 8 | 1 of cells, 1 of glyphs, for 6 dots | stands still \
| entry 16 in the margins; 6 dots at the left
        """,
    "Fields: Colour word of a palette entry, 12 bits": """
        11:8 | red | how much red
        7:4 | green | how much green
        3:0 | blue | how much blue
        """,
    "Fields: Cell of near.tiles, 16 bits": """
        15 | priority | the bits that a rung's condition can ask
        14:5 | pattern | the bits of the cell that hold the pattern's number
        4:2 | bank | the bits that hold the bank
        1 | flip_x | the bit that turns the pattern left for right
        0 | flip_y | the bit that turns the pattern upside down
        """,
    "Fields: Cell of near.text and far.text, 16 bits": """
        15:12 | background | the bits that hold the colour number of the other dots
        11:4 | character | the bits of the cell that hold the glyph's number
        3:0 | foreground | the bits that hold the colour number of set dots
        """,
    "Fields: Cell of far.tiles, 16 bits": """
        14:5 | pattern | the bits of the cell that hold the pattern's number
        4:2 | bank | the bits that hold the bank
        1 | flip_x | the bit that turns the pattern left for right
        0 | flip_y | the bit that turns the pattern upside down
        """,
    "Fields: Record of a sprite, 40 bits": """
        39 | enable | the bit that is 1 for a sprite that is shown
        38 | x_bias | the bit that moves it left by the chip's x_bias dots
        37:36 | group | the bits that say which collision group
        35:33 | size | the bits that say which of the sizes
        32 | priority | the bits that a rung's condition can ask
        31:29 | bank | the bits that hold the bank
        28 | flip_y | the bit that turns it upside down
        27 | flip_x | the bit that turns it left for right
        26:17 | pattern | the bits that hold the pattern's number
        16:9 | y | the bits that hold the line of the upper edge
        8:0 | x | the bits that hold the dot of the left edge
        """,
    "How values become entries": """
        near.tiles | 0 | 16 | 1 | in the cell | value 0
        near.text | 0 | 0 | 16 | 0 | value 0
        far.tiles | 0 | 16 | 1 | in the cell | no value
        far.chart | 0 | 16 | 1 | 0 | no value
        far.picture | 0 | 16 | 1 | 0 | no value
        far.text | 0 | 0 | 16 | 0 | no value
        sprites | 32 | 16 | 1 | in the record | value 0
        """,
    "The sprite engine": """
        records in the table | 48
        the table lies | on the chip
        bytes of a record | 5
        dots | 4 bits a dot
        in front | the first of the table
        beyond a limit | those at the back are dropped
        x_bias moves to the left by | 24 dots
        x counts modulo 512 | no
        y counts modulo 256 | no
        """,
    # w x h / 2 bytes; w / 2 bytes a row, 2 bytes an access
    "Sizes, as the field size numbers them": """
        0 | 8 x 8 | 8 x 8 | 32 | 32 | 2
        1 | 16 x 16 | 16 x 16 | 128 | 32 | 4
        2 | 16 x 32 | 16 x 32 | 256 | 32 | 4
        3 | 32 x 32 | 32 x 32 | 512 | 32 | 8
        4 | 32 x 16 | 32 x 16 | 256 | 32 | 8
        5 | 16 x 8 | 16 x 8 | 64 | 32 | 4
        6 | 8 x 16 | 8 x 16 | 64 | 32 | 2
        7 | 64 x 32 | 64 x 32 | 1,024 | 32 | 16
        """,
    "Collision groups": """
        0 | boat
        1 | bird
        2 | visitor
        """,
    # in the file's order, two bytes for what has more than 8 bits; 216 = 0xD8
    "Registers, in their order": """
        0x00 | backdrop | 8 | read-back | 0x00 | - | backdrop 7:0
        0x01 | near.enable | 1 | read-back | 0x1 | - | near.enable 0
        0x02 | near.scroll_x | 9 | read-back | 0x000 | counts | near.scroll_x 8:0
        0x04 | near.scroll_y | 8 | read-back | 0x00 | - | near.scroll_y 7:0
        0x05 | near.mode | 1 | read-back | 0x0 | - | near.mode 0
        0x06 | near.below | 1 | read-back | 0x0 | - | near.below 0
        0x07 | near.split | 8 | read-back | 0xD8 | - | near.split 7:0
        0x08 | near.tiles.map | 6 | read-back | 0x00 | - | near.tiles.map 5:0
        0x09 | near.tiles.patterns | 6 | read-back | 0x00 | - | near.tiles.patterns 5:0
        0x0A | near.text.map | 6 | read-back | 0x00 | - | near.text.map 5:0
        0x0B | near.text.glyphs | 6 | read-back | 0x00 | - | near.text.glyphs 5:0
        0x0C | far.enable | 1 | read-back | 0x1 | - | far.enable 0
        0x0D | far.scroll_x | 9 | read-back | 0x000 | counts | far.scroll_x 8:0
        0x0F | far.scroll_y | 8 | read-back | 0x00 | - | far.scroll_y 7:0
        0x10 | far.mode | 2 | read-back | 0x0 | - | far.mode 1:0
        0x11 | far.below | 2 | read-back | 0x0 | - | far.below 1:0
        0x12 | far.split | 8 | read-back | 0xD8 | - | far.split 7:0
        0x13 | far.tiles.map | 6 | read-back | 0x00 | - | far.tiles.map 5:0
        0x14 | far.tiles.patterns | 6 | read-back | 0x00 | - | far.tiles.patterns 5:0
        0x15 | far.chart.bitmap | 6 | read-back | 0x00 | - | far.chart.bitmap 5:0
        0x16 | far.picture.bitmap | 6 | read-back | 0x00 | - | far.picture.bitmap 5:0
        0x17 | far.text.map | 6 | read-back | 0x00 | - | far.text.map 5:0
        0x18 | far.text.glyphs | 6 | read-back | 0x00 | - | far.text.glyphs 5:0
        0x19 | sprites.enable | 1 | read-back | 0x1 | - | sprites.enable 0
        0x1A | sprites.patterns | 6 | read-back | 0x00 | - | sprites.patterns 5:0
        0x1B | line_flag | 16 | read-back | 0x0000 | counts | line_flag 15:0
        """,
    # steps of 0x400 = 1,024, of which 63 are 64,512; a map of 512 x 256 dots; the last of 312 lines is 311
    "Fields": """
        backdrop | 7:0 | 1 | 255 | 0 | at once | entry that shows where every rung is transparent
        near.enable | 0 | 1 | 1 | 1 | next line | 1: the layer fetches and shows
        near.scroll_x | 8:0 | 1 | 511 | 0 | at once | dot of the map at the picture's left edge
        near.scroll_y | 7:0 | 1 | 255 | 0 | at once | line of the map at the mode's line 0
        near.mode | 0 | 1 | 1 | 0 (tiles) | next frame | the mode above the split line (0 tiles, 1 text)
        near.below | 0 | 1 | 1 | 0 (tiles) | next frame | the mode from the split line on (0 tiles, 1 text)
        near.split | 7:0 | 1 | 216 | 216 | next line | first line of the lower zone
        near.tiles.map | 5:0 | 1,024 | 64,512 | 0 | next frame | address of the first cell
        near.tiles.patterns | 5:0 | 1,024 | 64,512 | 0 | next line | address of pattern 0
        near.text.map | 5:0 | 1,024 | 64,512 | 0 | next frame | address of the first cell
        near.text.glyphs | 5:0 | 1,024 | 64,512 | 0 | next frame | address of glyph 0
        far.enable | 0 | 1 | 1 | 1 | next line | 1: the layer fetches and shows
        far.scroll_x | 8:0 | 1 | 511 | 0 | at once | dot of the map at the picture's left edge
        far.scroll_y | 7:0 | 1 | 255 | 0 | at once | line of the map at the mode's line 0
        far.mode | 1:0 | 1 | 3 | 0 (tiles) | next frame | the mode above the split line (0 tiles, 1 chart, 2 picture, 3 text)
        far.below | 1:0 | 1 | 3 | 0 (tiles) | next frame | the mode from the split line on (0 tiles, 1 chart, 2 picture, 3 text)
        far.split | 7:0 | 1 | 216 | 216 | next line | first line of the lower zone
        far.tiles.map | 5:0 | 1,024 | 64,512 | 0 | next frame | address of the first cell
        far.tiles.patterns | 5:0 | 1,024 | 64,512 | 0 | next line | address of pattern 0
        far.chart.bitmap | 5:0 | 1,024 | 64,512 | 0 | next frame | address of the bitmap's first dot
        far.picture.bitmap | 5:0 | 1,024 | 64,512 | 0 | next frame | address of the bitmap's first dot
        far.text.map | 5:0 | 1,024 | 64,512 | 0 | next frame | address of the first cell
        far.text.glyphs | 5:0 | 1,024 | 64,512 | 0 | next frame | address of glyph 0
        sprites.enable | 0 | 1 | 1 | 1 | next line | 1: the sprites are prepared and shown
        sprites.patterns | 5:0 | 1,024 | 64,512 | 0 | next frame | address of sprite pattern 0
        line_flag | 15:0 | 1 | 311 | 0 | at once | line at whose dot 0 the line flag is raised
        """,
    # 256 entries of 12 bits are 512 bytes, which want 9 bits of address; 48 records of 5 bytes are 240
    "Ports": """
        memory | 65,536 | 0x80 | 2 | 0x82 | 0x83 | 1
        palette | 512 | 0x88 | 2 | 0x8A | - | 1
        sprites | 240 | 0x90 | 1 | 0x91 | - | 1
        """,
    "Flags": """
        3 | collision | raised where sprites collide
        2 | dropped | raised on a line that loses a sprite
        1 | picture_end | raised after the picture's last line
        0 | line | raised at dot 0 of the line that the control line_flag names
        """,
}
"""Tables of Curlew's sheet, worked out from its file."""


@pytest.mark.parametrize("caption", BY_HAND)
def test_curlews_tables_by_hand(curlew, caption):
    assert table(curlew, caption) == lines(BY_HAND[caption])


def test_curlews_sentences_by_hand(curlew):
    assert curlew.title == "Curlew: data sheet"
    assert curlew.about[0].startswith("Two scrolling layers, a text strip, 48 sprites and one palette of 256")
    assert points(section(curlew, "Features")) == [
        (
            "Picture of 288 x 216 dots within a border that shows the backdrop, 320 x 240 in all; dot clock 6 MHz, 15,625 lines "
            "and 50.08 frames a second"
        ),
        "Video memory of 65,536 bytes (64 KiB), 2 bytes an access, 1 access a dot: 384 slots a line",
        (
            "Layer near: a map of 64 x 32 tiles of 8 x 8 dots, 4 bits a dot (mode tiles) and text of 48 x 27 characters of 6 x 8 "
            "dots (mode text)"
        ),
        (
            "Layer far: a map of 64 x 32 tiles of 8 x 8 dots, 4 bits a dot (mode tiles), a bitmap of 288 x 128 dots, 4 bits a "
            "dot (mode chart), a bitmap of 288 x 192 dots, 8 bits a dot (mode picture) and text of 46 x 27 characters of 6 x 8 "
            "dots (mode text)"
        ),
        (
            "48 sprites in 8 sizes from 8 x 8 to 64 x 32 dots, 4 bits a dot, their table on the chip; at most 12 sprites and 256 "
            "of their dots a line"
        ),
        "Collisions told between 3 groups of sprites",
        "Palette of 256 entries, 4-4-4 bits of red, green and blue, in banks of 16",
        "Ladder of 5 rungs that says which source shows at each dot; 1 mode with a ladder of its own",
        "26 registers at addresses of the CPU",
        "3 ports to memory, palette and sprites",
        "4 flags: line, picture_end, dropped and collision",
        "Queue of 1 byte for what the CPU puts into video memory",
    ]
    assert points(section(curlew, "Ladder")) == [
        "sprites, where priority = 1 in the record",
        "layer near, where priority = 1 in the cell",
        "sprites",
        "layer near",
        "layer far",
        "the backdrop, entry 0 at reset",
        "sprites",
        "layer far",
        "the backdrop, entry 0 at reset",
    ]
    assert points(section(curlew, "Sprites")) == [
        "boat and bird are told to collide.",
        "boat and visitor are told to collide.",
        "bird and bird are told to collide.",
        "Dots that a layer covers count too.",
    ]


def test_memory_is_that_of_the_scene():
    """As ``vdpsim map`` prints it, which goes from the scene's own rows by another way."""
    scene = shipped("saltmarsh")
    printed = [line.split(maxsplit=3) for line in scene.memory_map().splitlines()[1:-1]]
    found = [row.replace(",", "").split(" | ") for row in table(data_sheet(scene), "Who owns which bytes")]
    assert found == printed


def test_another_scene_of_the_same_chip_has_its_own_memory():
    """Most of a sheet is kept with its chip; what a scene says is not."""
    kept, fresh = (vdpsim.load_chip(CHIPS / "curlew.chip.toml") for _ in range(2))
    told = [
        dict(sheet_files(vdpsim.load_scene(SCENES / f"{name}.scene.toml", chip=kept)))
        for name in ("tidetable", "flock")
    ]
    assert told[1] == dict(sheet_files(vdpsim.load_scene(SCENES / "flock.scene.toml", chip=fresh)))
    assert told[0]["sheet.md"] != told[1]["sheet.md"]


def test_the_budget_is_what_vdpsim_budget_tells(curlew, capsys):
    from vdpsim.cli import main  # noqa: PLC0415 - the command as it is

    assert main(["budget", str(CHIPS / "curlew.chip.toml")]) == 0
    told = capsys.readouterr().out
    verdict = points(section(curlew, "Budget"))
    assert verdict == told.splitlines()[: len(verdict)]
    assert "Curlew fits: proved" in verdict[0]
    assert "First to give way: far.pattern, 1 slot to spare" in verdict[1]
    for row in table(curlew, "Time: 384 slots a line, 96 of them blank; each figure at its worst"):
        assert " ".join(row.replace("|", " ").split()) in " ".join(told.split())
    found = vdpsim.budget(vdpsim.load_chip(CHIPS / "curlew.chip.toml"))
    limits = dict(row.rsplit(" | ", 1) for row in table(curlew, "The most that there can be"))
    assert limits == {
        "bytes of video memory": "65,536",
        "accesses a line": "384",
        "palette entries": "256",
        "sprites of a frame": "48",
        "sprites of a line": "12",
        "sprite dots of a line": "256",
        "sprite patterns by number": "1,024",
        "sprites of 64 x 32 dots that find slots on any line": f"{found.sprites.fit}",
        "bytes that the CPU gets into video memory in a frame, at worst": f"{found.cpu.bytes_per_frame:,}",
        "bytes in the queue": "1",
        "bits kept on the chip": f"{found.chip_bits:,}",
    }


@pytest.mark.parametrize("slow", [False, True])
def test_the_verdict_is_told_whatever_it_is(slow):
    """With lead 32 Dunlin fits, and with 8 it does not (its file says that less than 32 is too late somewhere)."""
    text = (CHIPS / "dunlin.chip.toml").read_text("utf-8")
    chip = vdpsim.parse_chip(text.replace("lead = 32", "lead = 8") if slow else text)
    found = budgeted(vdpsim.budget(chip))
    assert Words(f"Verdict: {'does not fit' if slow else 'fits'}") in found.parts
    assert any("Worst: " in one for one in points(found)) == slow


def test_a_budget_is_made_once(monkeypatch):
    asked, whole = [], files.budget

    def once(chip: vdpsim.Chip) -> vdpsim.Budget:
        asked.append(chip.name)
        return whole(chip)

    monkeypatch.setattr(files, "budget", once)
    names = [name for name, _ in sheet_files(vdpsim.load_scene(SCENES / "saltmarsh.scene.toml"))]
    assert asked == ["Curlew"]
    assert names[:2] == ["sheet.html", "sheet.md"]
    assert all(re.fullmatch(r"sheet/[a-z0-9-]+\.svg", name) for name in names[2:])
    assert len(names) == len(set(names))


# What Curlew has not


def test_registers_with_fields_by_hand():
    """Sanderling's words: 15:8 of 200 is 0xC800; three enables and no mode are 0xE000; parts of far.scroll_x."""
    chip = vdpsim.load_chip(CHIPS / "sanderling.chip.toml")
    rows = table(register_map(chip), "Registers, in their order")
    assert rows[0] == (
        "0x00 | display | 16 | read-back | 0xE000 | counts | near.enable 15, far.enable 14, sprites.enable 13, near.mode 9, "
        "near.below 8, far.mode 5:4, far.below 1:0"
    )
    assert rows[1] == "0x02 | split and backdrop | 16 | read-back | 0xC800 | counts | split 15:8, backdrop 6:0"
    assert "0x08 | far across | 8 | read-back | 0x00 | waits | far.scroll_x 7:0" in rows
    fields = table(register_map(chip), "Fields")
    assert (
        "far.scroll_x | 7:0 of far across, its bits 7:0; 0 of far high bits, its bits 8 | 1 | 511 | 0 | at once "
        "| dot of the map at the picture's left edge" in fields
    )
    assert (
        "split | 15:8 of split and backdrop | 1 | 200 | 200 | next line | near.split, far.split: first line of the lower zone"
        in fields
    )


def test_a_table_in_memory_is_scanned():
    """Sanderling: one access of each of 40 records; two more and 2 x 1 to 2 x 6 of the pattern for each that is drawn."""
    found = clients(vdpsim.load_chip(CHIPS / "sanderling.chip.toml"))
    rows = table(found, "Clients and places, in the order in which they are served")
    assert "12 | sprites | - | line before | - | - | 4 to 14 a sprite | any | -" in rows
    assert found.parts[-1] == Words(
        "To find its sprites, every line makes 40 accesses to the table, before those for sprites that it shows."
    )


def test_wired_controls_sizes_and_what_is_left_out():
    text = TIMED.replace("width = 64\nheight = 64\n", "sizes = [[64, 64], [64, 72]]\n", 1)
    text = text.replace(
        "[palette]", '[registers]\nothers = "wired"\nbackdrop = { bits = 6, effect = "at once" }\n[palette]'
    )
    chip = vdpsim.parse_chip(text)
    wired = table(register_map(chip), "Wired: no register sets these")
    assert "near.enable | 1 | 1: the layer fetches and shows" in wired
    assert "picture_size | 0 (64x64) | the size of the picture, from the next frame on" in wired
    sizes = table(timing(chip), "Sizes of the picture, each with its border; all else here is of the largest")
    assert sizes == ["0 | 64x64 | 0 | 0 | 4 | 4 | 128", "1 | 64x72 | 0 | 0 | 0 | 0 | 128"]
    alone = vdpsim.parse_chip(CHIP[: CHIP.index("[sprites]")].replace('{ source = "sprites" }, ', ""))
    assert sprites(alone) == ports(alone) == ()
    most = table(limits(alone, vdpsim.budget(alone)), "The most that there can be")
    assert [row.partition(" | ")[0] for row in most] == [
        "bytes of video memory",
        "palette entries",
        "bits kept on the chip",
    ]
    assert clients(alone).parts == (
        Words("The chip has no time table: its fetches are counted, but not placed in time."),
    )


def test_a_cpu_that_has_no_slot_is_no_client_and_a_status_without_flags_has_no_table_of_them():
    caption = "Clients and places, in the order in which they are served"
    never = TIMED.replace('cpu = { active = "none" }', 'cpu = { active = "none", blanking = false }')
    served = [
        [row.split(" | ")[1] for row in table(clients(vdpsim.parse_chip(text)), caption)] for text in (TIMED, never)
    ]
    assert served[0] == [*served[1], "CPU"]
    told = []
    for flags in ("line = 0\n", ""):
        status = f'[status]\naddress = 0x80\n{flags}cleared = "read"\n'
        (found,) = ports(vdpsim.parse_chip(CHIP + status))
        told.append([part.caption for part in found.parts if isinstance(part, Grid)])
    assert told == [["Flags"], []]


@settings(max_examples=settings().max_examples // 4)
@given(chip=chips())
def test_sections_of_any_chip(chip):
    """Every row has a cell for each column, and every cell something; so does the whole in both forms."""
    made = [
        features(chip),
        clients(chip),
        layers(chip),
        palette(chip),
        *sprites(chip),
        ladders(chip),
        register_map(chip),
    ]
    sheet = Sheet("Random", (), (*made, *ports(chip)))
    for one in sheet.sections:
        for part in one.parts:
            if isinstance(part, Grid):
                assert all(len(row) == len(part.head) and all(row) for row in part.rows), part.caption
    same(sheet)


# Both forms


class Told(HTMLParser):
    """What a page says, element by element; elements must be closed in order, and names of places stand once."""

    SAY = ("h1", "h2", "p", "li", "td", "th", "caption", "figcaption")
    VOID = ("meta", "img", "br", "hr")

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.texts: list[list[str]] = []
        self.told: list[tuple[str, str]] = []
        self.names: list[str] = []
        self.links: list[str] = []
        self.tags: set[str] = set()
        self.feed(page)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        """An element begins."""
        self.tags.add(tag)
        self.names += [value for name, value in attrs if name == "id"]
        self.links += [value for name, value in attrs if name in ("href", "src")]
        assert not [name for name, _ in attrs if name.startswith("on")]
        assert len({name for name, _ in attrs}) == len(attrs)
        if tag not in self.VOID:
            self.open.append(tag)
            self.texts.append([])

    def handle_endtag(self, tag):
        """The innermost element ends."""
        assert self.open.pop() == tag
        text = "".join(self.texts.pop())
        if tag in self.SAY:
            kind = "p" if tag in ("caption", "figcaption") else tag
            self.told += [(kind, " ".join(text.split()))] if text.strip() or kind in ("td", "th") else []
        elif self.texts and tag not in ("svg", "style", "title"):
            self.texts[-1].append(text)

    def handle_startendtag(self, tag, attrs):
        """An element that is all of itself."""
        self.tags.add(tag)
        self.links += [value for name, value in attrs if name in ("href", "src")]

    def handle_data(self, data):
        """Some text."""
        if self.texts:
            self.texts[-1].append(data)


def same(sheet: Sheet) -> tuple[Told, Told]:
    """Both forms of a sheet, read by parsers of HTML and of Markdown (markdown-it-py); they must say the same."""
    page = Told(as_html(sheet))
    reader = markdown_it.MarkdownIt("commonmark").enable(["table", "strikethrough"])
    text = Told(reader.render(as_markdown(sheet, "sheet")))
    assert page.told == text.told
    assert not page.tags & {"script", "iframe", "object", "embed", "link", "base", "form", "img"}
    assert not text.tags & {"script", "em", "code", "s", "del", "hr", "pre", "blockquote"}
    assert ("ol" in text.tags) == ("ol" in page.tags)
    assert set(page.links) <= {f"#{name}" for name in page.names}
    return page, text


@pytest.mark.parametrize("scene", SHIPPED)
def test_page_and_markdown_say_the_same(scene):
    sheet = data_sheet(shipped(scene))
    page, text = same(sheet)
    assert len(page.told) > 300
    assert len(set(page.names)) == len(page.names) == len(sheet.sections)
    assert [link for link in text.links if link.endswith(".svg")] == [f"sheet/{one.name}.svg" for one in sheet.pictures]
    html = as_html(sheet)
    assert html.startswith("<!doctype html>\n<html lang=")
    assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)|url\(|@import", html)
    assert html.count("<svg ") == len(sheet.pictures)


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_stay_text(tmp_path, name):
    text = (CHIPS / "sanderling.chip.toml").read_text("utf-8")
    about = f"{name}\n\n{name}"
    text = text.replace('name = "Sanderling"', f"name = {json.dumps(name)}")  # a text of JSON is one of TOML
    text = re.sub(r'about = ".*"', lambda _: f"about = {json.dumps(about)}", text, count=1)
    text = text.replace('name = "near across"', f"name = {json.dumps(name[:39] + '!')}")
    text = text.replace('"split" = {', f"{json.dumps(name)} = {{")
    if name != HOSTILE[0]:  # the budget, whose lines take long and have no names of their own that others have not
        text = re.sub(r"(?ms)^\[time\]$.*?(?=^\[cpu\]$)", "", text)
    sheet = data_sheet(load(tmp_path, "", text))
    page, told = same(sheet)
    shown = " ".join(name.split())
    assert any(shown in one for _, one in page.told)
    assert [one for one in told.links if not one.startswith(("#", "sheet/"))] == []
    for picture in sheet.pictures:
        assert "<script" not in picture.svg


@given(text=st.text(st.characters(codec="utf-8"), min_size=1, max_size=60))
def test_any_text_stays_text(text):
    parts = (Words(f"{text}"), Points((text, text)), Grid(text, (text, "b"), ((text, text),)))
    same(Sheet(text, (text,), (Section("One", (*parts, Words("x"))),)))


# The page in a browser


@pytest.mark.ci
@pytest.mark.unmeasured
def test_a_browser_shows_it_wide_and_narrow_light_and_dark(tmp_path):
    """Nothing is asked of a network, nothing complained of, the page is never wider than the screen, no label is clipped."""
    for name, data in sheet_files(shipped("saltmarsh")):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(data)
    address = (tmp_path / "sheet.html").as_uri()
    with browser() as chrome:
        page = chrome.new_page()
        asked: list[str] = []
        said: list[str] = []
        page.on("request", lambda request: asked.append(request.url))
        page.on("console", lambda message: said.append(message.text))
        for scheme, wide in (("light", 1280), ("dark", 1280), ("light", 390), ("dark", 390)):
            page.emulate_media(color_scheme=scheme)
            page.set_viewport_size({"width": wide, "height": 900})
            page.goto(address)
            assert (asked, said) == ([address], [])
            asked.clear()
            assert page.evaluate("document.documentElement.scrollWidth") == wide
            assert page.evaluate(_CLIPPED) == []
            ink, back = page.evaluate(_COLOURS)
            assert (sum(ink) < sum(back)) == (scheme == "light")
        page.emulate_media(media="print", color_scheme="dark")
        ink, back = page.evaluate(_COLOURS)
        assert sum(ink) < sum(back), "paper is light"
        page.close()


_CLIPPED = """() => [...document.querySelectorAll("svg text")].filter((text) => {
    const at = text.getBBox(), box = text.ownerSVGElement.viewBox.baseVal;
    return at.x < 0 || at.y < 0 || at.x + at.width > box.width || at.y + at.height > box.height;
}).map((text) => text.textContent)"""

_COLOURS = """() => ["color", "backgroundColor"].map((name) =>
    getComputedStyle(document.body)[name].match(/[0-9.]+/g).slice(0, 3).map(Number))"""


@pytest.mark.unmeasured
@pytest.mark.parametrize("scene", SHIPPED)
def test_no_drawing_is_higher_than_a_printed_page(scene):
    """A4 is 297 mm high; 14 mm of it above and below are margin, and a caption wants some: 225 mm at 96 units an inch."""
    for one in data_sheet(shipped(scene)).pictures:
        across, down = (float(size) for size in re.search(r'width="([0-9.]+)" height="([0-9.]+)"', one.svg).groups())
        assert down <= 225 / 25.4 * 96, one.name
        assert across <= 1100, one.name


def test_the_markdown_leads_to_its_sections_by_letters_digits_and_dashes_alone():
    """As those who show Markdown make a heading's anchor: lower case, dashes for spaces, nothing else (common practice)."""
    told = dict(sheet_files(shipped("tideline")))["sheet.md"].decode()
    links = dict(re.findall(r"(?m)^- \[([^\]]+)\]\(#([^)]+)\)$", told))
    assert len(links) > 10 and "Cells, records and colours" in links
    for title, anchor in links.items():
        assert f"\n## {title}\n" in told and re.fullmatch("[a-z0-9-]+", anchor), anchor
