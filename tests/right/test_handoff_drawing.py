"""Bit diagrams: each bit once, each name written out, nothing clipped, nothing on anything, whatever the names are."""

from __future__ import annotations

import itertools
from random import Random

import pytest
from browser import browser
from drawn import Area, read
from hypothesis import given
from hypothesis import strategies as st

from vdpsim.chip.tables.bits import Bits
from vdpsim.handoff.drawing.bits import BIT, Held, bit_diagram
from vdpsim.handoff.drawing.svg import Drawing

NAMES = (
    "x",
    "near.scroll_x",
    "</text><script>alert(1)</script>",
    '"\' onload="x" &amp; <b>',
    "]]> <!-- -->",
    "\ufffe\uffff",
    "鳥" * 40,
    "n" * 100,
    " two  spaces ",
    "e\u0301\u0302",
    "\U0001f426",
)
B = Bits.parse


def layout(random: Random, width: int) -> list[Held]:
    """A word's bits given out at random, in one piece or scattered; some to nobody."""
    free = random.sample(range(width), width) if random.randrange(2) else list(range(width))
    held = []
    for number in range(random.randint(0, min(width, 12))):
        free = free[random.randint(0, 2) :]
        count = min(random.choice((1, 1, 1, 2, 5, 9)), len(free))
        if not count:
            break
        mine, free = free[:count], free[count:]
        bits = Bits(tuple((bit, bit) for bit in mine))
        of = Bits(((31, 32 - count),)) if random.randrange(3) == 0 else None
        held.append(Held(f"{random.choice(NAMES)}{number}", bits, of, ("0x0", "rw")))
    return held


def shown(name: str) -> str:
    """A name as it can stand in XML."""
    return name.replace("\ufffe", "\ufffd").replace("\uffff", "\ufffd")


@given(seed=st.integers(0, 1 << 32), width=st.integers(1, 64), reset=st.booleans(), table=st.booleans())
def test_every_bit_and_every_name_is_there_and_nothing_lies_on_anything(seed, width, reset, table):
    random = Random(seed)
    held = layout(random, width)
    said = {"columns": ("reset", "access") if table else (), "reset": 5 if reset else None}
    found = read(bit_diagram(random.choice(NAMES), width, held, **said, byte_names=["0x00"] * 8 if table else ()))

    assert all(one.within(found.sheet) for one in found.texts)
    for one, other in itertools.combinations(found.texts, 2):
        assert not one.meets(other), (one, other)
    for box, _ in found.boxes:
        assert all(one.within(box) for one in found.texts if one.meets(box))

    used = sum(one.bits.mask for one in held)
    bits = [round((box.right - box.left) / BIT) for box, _ in found.boxes]
    assert sum(bits) == width
    assert sum(n for n, (_, grey) in zip(bits, found.boxes, strict=True) if grey) == width - used.bit_count()
    for name in (shown(one.name) for one in held):
        assert any(each.text.startswith(name) for each in found.texts)
        assert name in found.label


def test_a_layout_on_paper():
    """Curlew's cell: ``flip_y`` bit 0, ``flip_x`` 1, ``bank`` 4:2, ``pattern`` 14:5, ``priority`` 15, left to right from 15."""
    cell = {"flip_y": "0", "flip_x": "1", "bank": "4:2", "pattern": "14:5", "priority": "15"}
    found = read(bit_diagram("cell", 16, [Held(name, B(bits)) for name, bits in cell.items()]))
    boxes = [box for box, _ in found.boxes]
    assert [round((box.right - box.left) / BIT) for box in boxes] == [1, 10, 3, 1, 1]
    assert [(box.left - boxes[0].left) / BIT for box in boxes] == [0, 1, 11, 14, 15]
    numbers = sorted((one.left, int(one.text)) for one in found.texts if one.text.isdigit())
    assert [number for _, number in numbers] == [*range(15, -1, -1)]
    inside = {one.text: place for one in found.texts for place, box in enumerate(boxes) if one.meets(box)}
    assert inside == {"pattern": 1, "bank": 2}
    lines = [one.text for one in sorted(found.texts, key=lambda one: one.top)][-3:]
    assert lines == ["flip_y", "flip_x", "priority"]


@pytest.mark.parametrize(
    ("bits", "of", "width", "names"),
    [
        ("7:0", None, 8, ["name"]),
        ("7:0", "15:8", 8, ["name[15:8]"]),
        ("7, 1:0", None, 8, ["name[2]", "name[1:0]"]),
        ("1:0, 7", None, 8, ["name[0]", "name[2:1]"]),
        ("7:4", "3, 1, 2, 0", 8, ["name[3, 1, 2, 0]"]),
        ("16:9", None, 24, ["name[7]", "name[6:0]"]),
        ("15:8", None, 24, ["name"]),
    ],
)
def test_a_box_that_has_not_all_of_its_field_says_what_it_has(bits, of, width, names):
    found = read(bit_diagram("word", width, [Held("name", B(bits), of and B(of))]))
    assert sorted(one.text for one in found.texts if "name" in one.text) == sorted(names)


@pytest.mark.parametrize("width", [1, 7, 8, 9, 15, 16, 17, 32, 33, 63, 64])
def test_rows_of_sixteen_bits_and_of_eight_for_a_byte(width):
    found = read(bit_diagram("word", width, [], columns=("reset",), reset=(1 << width) - 1))
    assert "reset" not in [one.text for one in found.texts]
    rows = {box.top for box, _ in found.boxes}
    assert len(rows) == (width + 15) // 16
    assert [one.text for one in found.texts].count("-") == len(rows)
    texts = [one.text for one in found.texts]
    assert [texts.count(str(bit)) for bit in range(2, width)] == [1] * max(0, width - 2)
    assert texts.count("1") == width + (width > 1)


def test_a_drawing_is_as_large_as_what_is_put_there():
    made = Drawing(edge=10)
    made.box(30, 40, 50, 60)
    made.line((5, 5), (200, 20))
    assert read(made.svg("x")).sheet == Area(0, 0, 210, 110)
    made.text(500, 500, "")
    assert read(made.svg("x")).sheet == Area(0, 0, 210, 110), "no text has no place"


@pytest.mark.unmeasured
@pytest.mark.ci
def test_a_browser_clips_nothing_and_shows_it_in_both_schemes(tmp_path):
    """The boxes that chromium gives for each text; contrast as WCAG 2.1, 1.4.3 asks for text, 4.5:1."""
    held = [Held(name, Bits(((2 * place, 2 * place),)), said=("0x0",)) for place, name in enumerate(NAMES)]
    text = bit_diagram(NAMES[2], 32, held, columns=("reset",), reset=0x5A5A5A5A)
    (tmp_path / "word.svg").write_text(text, encoding="utf-8")
    with browser() as chrome:
        page = chrome.new_page()
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            page.goto((tmp_path / "word.svg").as_uri())
            found = page.evaluate(_MEASURED)
            assert len(found["texts"]) == len(read(text).texts)
            assert [one for one in found["texts"] if not _inside(one, found["sheet"])] == []
            assert _contrast(found["ink"], found["paper"]) > 4.5, scheme
            assert _contrast(found["ink"], found["still"]) > 4.5, scheme
            assert (_luminance(found["paper"]) > 0.5) == (scheme == "light")


_MEASURED = """() => {
    const place = (one) => { const at = one.getBBox(); return [at.x, at.y, at.x + at.width, at.y + at.height]; };
    const fill = (name) => getComputedStyle(document.querySelector(name)).fill;
    return {
        texts: [...document.querySelectorAll("text")].map(place),
        sheet: place(document.querySelector(".sheet")),
        ink: fill("text"), paper: fill("rect:not(.still)"), still: fill(".still"),
    };
}"""


def _inside(one: list[float], sheet: list[float]) -> bool:
    return one[0] >= sheet[0] and one[1] >= sheet[1] and one[2] <= sheet[2] and one[3] <= sheet[3]


def _luminance(colour: str) -> float:
    """Relative luminance, WCAG 2.1."""
    channels = [int(one) / 255 for one in colour.removeprefix("rgb(").removesuffix(")").split(",")]
    linear = [one / 12.92 if one <= 0.03928 else ((one + 0.055) / 1.055) ** 2.4 for one in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(one: str, other: str) -> float:
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)
