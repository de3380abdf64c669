"""``registers.rdl`` as a compiler of SystemRDL reads it: the chip's addresses, fields, widths, resets, accesses, bit by bit."""

from __future__ import annotations

import json
import tempfile
import tomllib
from pathlib import Path

import pytest
from drawn import read
from hypothesis import given, settings
from rdl import bits_of, compiled, elaborated, registers_of, told
from refusal import refused
from strategies import chips

from vdpsim.chip.load import load_chip
from vdpsim.chip.registers import field_names, fields, registers
from vdpsim.files.problems import InputError
from vdpsim.handoff.registers import register_files
from vdpsim.machine.machine import Machine
from vdpsim.testing.strategies.made.chips import read_chip

CHIPS = Path(__file__).parents[2] / "scenes" / "chips"
SHIPPED = ("curlew", "dunlin", "sanderling")


def shipped(name):
    return load_chip(CHIPS / f"{name}.chip.toml")


def numbers(bits):
    """Bit numbers of a layout, from the one that counts most."""
    return [bit for high, low in bits.parts for bit in range(high, low - 1, -1)]


def compare(chip, top):
    """All that the compiler read, against the chip and against a machine that was just switched on."""
    found = bits_of(top)
    compare_bits(chip, found)
    compare_values(chip, found)
    compare_half_writes(chip, top)
    for field in fields(chip).values():
        mine = [bit.field for bit in found.values() if bit.sets and bit.name == field.name]
        for name, value in (
            ("takes_effect", field.effect),
            ("counts_in", field.step),
            ("takes_up_to", field.top // field.step),
            ("sets", ", ".join(field.controls)),
        ):
            assert {node.get_property(name) for node in mine} == {value}
    return found


def compare_half_writes(chip, top):
    """Said of a register of several bytes, or with a part of a split field, and of no other."""
    said = {address: node.get_property("half_write", default=None) for address, node, _ in registers_of(top)}
    for one in registers(chip).values():
        asked = one.bits > 8 or any(len(field.parts) > 1 for field, _ in one.holds)
        assert said[one.address] == (one.half_write if asked else None)


def compare_bits(chip, found):
    """Each bit of each register is that of a field that the chip's file says, or has a field that sets nothing."""
    fielded, all_bits = {}, set()
    for register in registers(chip).values():
        at = 8 * register.address
        all_bits |= set(range(at, at + register.bits))
        for field, part in register.holds:
            pairs = zip(numbers(part.bits), numbers(part.of), strict=True)
            fielded |= {at + bit: (field.name, own) for bit, own in pairs}
        readable = register.access == "read-back"
        assert found.keys() >= set(range(at, at + register.bits))
        mine = [found[bit].field for bit in range(at, at + register.bits)]
        assert {(one.is_sw_readable, one.is_sw_writable) for one in mine} == {(readable, True)}
    assert {at: (bit.name, bit.own) for at, bit in found.items() if bit.sets} == fielded
    ends = {at for one in registers(chip).values() for at in range(8 * one.address, 8 * (one.address + one.size))}
    assert ends & found.keys() == all_bits


def compare_values(chip, found):
    """A machine gives each byte's bits as their resets are, where the map lets them be read, and elsewhere 0 or nothing."""
    machine = Machine(chip)
    held = {byte for one in registers(chip).values() for byte in range(one.address, one.address + one.size)}
    for address in {at // 8 for at in found}:
        mine = {place: bit for place in range(8) if (bit := found.get(8 * address + place))}
        if any(bit.reset is None for bit in mine.values()):
            assert machine.read(address) == 0  # a port's data: all memory is 0
        elif all(bit.field.is_sw_readable for bit in mine.values()):
            assert machine.read(address) == sum((bit.reset or 0) << place for place, bit in mine.items())
        elif address in held:
            assert machine.read(address) == 0
        else:
            with refused(KeyError, "nothing to read"):
                machine.read(address)


@pytest.mark.parametrize("name", SHIPPED)
def test_the_shipped_chips(tmp_path, name):
    chip = shipped(name)
    told(chip, tmp_path)
    top = elaborated(tmp_path / "registers.rdl")
    found = compare(chip, top)
    assert top.inst_name == chip.name
    assert top.get_property("littleendian")
    assert len(found) > 8 * len(registers(chip)) // 2


@pytest.mark.unmeasured
@settings(max_examples=settings.default.max_examples // 20)  # the compiler takes a third of a second for each
@given(chip=chips())
def test_any_chip(chip):
    with tempfile.TemporaryDirectory() as folder:
        told(chip, Path(folder))
        top_of = compiled(Path(folder) / "registers.rdl")
        compare(chip, top_of(None))
        for port in chip.ports:
            (mem,) = top_of(f"{chip.name}_port_{port.target}").children()
            assert (mem.absolute_address, mem.get_property("memwidth"), mem.size) == (0, 8, reach(chip, port.target))


def reach(chip, target):
    """Bytes behind a port, counted from the chip's own tables."""
    if target == "memory":
        return chip.memory.size
    if target == "palette":
        return chip.palette.entries * -(-chip.palette.word_bits // 8)
    return chip.sprites.count * chip.sprites.record_bytes


def test_curlews_map_on_paper(tmp_path):
    """The chip file's own addresses: registers from 0x00 on, a byte or two each, in its order; ports and status as it says."""
    told(shipped("curlew"), tmp_path)
    top = elaborated(tmp_path / "registers.rdl")
    at = {node.inst_name: address for address, node, _ in registers_of(top)}
    first = ["backdrop", "near_enable", "near_scroll_x", "near_scroll_y", "near_mode", "near_below", "near_split"]
    assert [at[name] for name in first] == [0, 1, 2, 4, 5, 6, 7]
    ports = {name: address for name, address in at.items() if name.startswith(("port", "status"))}
    assert ports == {
        "port_memory_address": 0x80,
        "port_memory_data": 0x82,
        "port_memory_step": 0x83,
        "port_palette_address": 0x88,
        "port_palette_data": 0x8A,
        "port_sprites_address": 0x90,
        "port_sprites_data": 0x91,
        "status_flags": 0xA0,
        "status_groups": 0xA1,
    }
    scroll = top.get_child_by_name("near_scroll_x")
    assert (scroll.get_property("regwidth"), scroll.get_property("accesswidth")) == (16, 8)
    (field,) = scroll.fields()
    assert (field.inst_name, field.high, field.low, field.get_property("reset")) == ("near_scroll_x", 8, 0, 0)
    assert top.find_by_path("near_split.near_split").get_property("reset") == 216
    step = top.find_by_path("port_memory_step.memory_step")
    assert (step.get_property("reset"), step.is_sw_readable, step.is_sw_writable) == (1, False, True)
    halves = [top.get_child_by_name(f"port_{target}_address") for target in ("memory", "sprites")]
    assert [node.get_property("half_write", default=None) for node in halves] == ["counts", None]  # of 2 bytes, of 1
    data = top.find_by_path("port_sprites_data.sprites_byte")
    assert data.get_property("swacc") and data.get_property("swmod") and data.get_property("reset") is None
    patterns = top.find_by_path("near_tiles_patterns.near_tiles_patterns")
    assert (patterns.get_property("counts_in"), patterns.get_property("takes_up_to")) == (0x400, 63)
    mode = top.find_by_path("far_mode.far_mode").get_property("encode")
    assert {one.name: one.value for one in mode} == {"tiles": 0, "chart": 1, "picture": 2, "text": 3}


WORDS = """
[[registers]]
name = "one"
bits = 24
half_write = "waits"
fields = { "near.scroll_x" = { bits = "23, 17:15, 3:2", of = "5:0" }, backdrop = "14:7" }
[[registers]]
name = "two"
bits = 3
access = "write-only"
half_write = "counts"
fields = { "near.scroll_x" = { bits = "2:0", of = "8:6", reset = 0b1_0110_1101 } }
[[registers]]
name = "three"
bits = 12
[[registers]]
others = "wired"
"""


FAR_MODE = """
[[registers]]
name = "mode"
bits = 2
fields = { "far.mode" = { bits = "1:0", step = 2 } }
"""


def with_registers(text, **more):
    """Curlew with other registers."""
    plan = tomllib.loads((CHIPS / "curlew.chip.toml").read_text("utf-8"))
    return read_chip(json.loads(json.dumps({**plan, **tomllib.loads(text), **more})))


def test_split_and_scattered_fields_on_paper(tmp_path):
    """A register of three bytes is two words; near.scroll_x = 0b1_0110_1101 has its bits 8:6 in ``two``, and 5:0 in ``one`` at
    bits 23, 17:15 and 3:2: bit 5 alone, 4:2 cut where the second word begins, and 1:0.
    """
    told(with_registers(WORDS), tmp_path)
    top = elaborated(tmp_path / "registers.rdl")
    one, two = top.get_child_by_name("one"), top.get_child_by_name("two")
    assert [(word.inst_name, word.absolute_address, word.get_property("regwidth")) for word in one.registers()] == [
        ("low", 0, 16),
        ("high", 2, 8),
    ]
    assert one.get_property("half_write") == "waits"
    found = [
        (
            field.inst_name,
            field.high,
            field.low,
            field.get_property("reset"),
            field.get_property("has_bits", default=None),
        )
        for word in (*one.registers(), two)
        for field in word.fields()
    ]
    assert found == [
        ("no_name_1_0", 1, 0, 0, None),
        ("near_scroll_x_1_0", 3, 2, 0b01, "1:0"),
        ("no_name_6_4", 6, 4, 0, None),
        ("backdrop", 14, 7, 0, None),
        ("near_scroll_x_2", 15, 15, 1, "2"),
        ("near_scroll_x_4_3", 1, 0, 0b01, "4:3"),
        ("no_name_22_18", 6, 2, 0, None),
        ("near_scroll_x_5", 7, 7, 1, "5"),
        ("near_scroll_x_8_6", 2, 0, 0b101, "8:6"),
    ]
    assert two.absolute_address == 3
    assert [field.is_sw_readable for field in two.fields()] == [False]
    three = top.get_child_by_name("three")
    assert (three.absolute_address, three.get_property("regwidth"), three.get_property("half_write", default=None)) == (
        4,
        16,
        "counts",
    )
    (field,) = three.fields()
    assert (field.high, field.low, field.get_property("hw").name) == (11, 0, "na")


@pytest.mark.parametrize("name", SHIPPED)
def test_a_number_above_the_top_reads_back_as_it_says(tmp_path, name):
    """Each field that is whole within a byte, whose writes count at once: its byte written all ones, it is ``takes_up_to``."""
    chip, tried = shipped(name), 0
    told(chip, tmp_path)
    for address, _, word in registers_of(elaborated(tmp_path / "registers.rdl")):
        for field in word.fields():
            top, byte = field.get_property("takes_up_to", default=None), field.low // 8
            whole = field.get_property("has_bits", default=None) is None and field.high // 8 == byte
            if top is None or not whole or word.get_property("half_write", default="counts") != "counts":
                continue
            machine, tried = Machine(chip), tried + 1
            machine.write(address + byte, 0xFF)
            found = machine.read(address + byte) >> field.low % 8 & (1 << field.width) - 1
            assert found == min(top, (1 << field.width) - 1), field
    assert tried > 3


@pytest.mark.parametrize("name", SHIPPED)
def test_flags_are_cleared_as_it_says(tmp_path, name):
    chip = shipped(name)
    told(chip, tmp_path)
    top = elaborated(tmp_path / "registers.rdl")
    for path in ("status_flags", "status_groups"):
        word = top.get_child_by_name(path)
        for field in word.fields() if word else ():
            machine, bit = Machine(chip), 1 << field.low
            machine.state.status = machine.state.collision_flags = 0xFF
            address = word.absolute_address
            assert field.get_property("hwset") and field.get_property("precedence").name == "hw"
            machine.read(address)
            clears = field.get_property("onread") is not None
            by = [one and one.name for one in (field.get_property("onread"), field.get_property("onwrite"))]
            assert by == (["rclr", None] if clears else [None, "woclr"])
            assert field.is_sw_writable is not clears and field.is_hw_writable and not field.is_hw_readable
            assert ("Cleared by reading." in field.get_property("desc")) is clears
            assert bool(machine.read(address) & bit) is not clears
            machine.state.status = machine.state.collision_flags = 0xFF
            machine.write(address, bit)
            found = machine.read(address)
            assert found == (0xFF if clears else 0xFF & ~bit)


def test_wired_controls_are_told(tmp_path):
    chip = with_registers('registers.others = "wired"\nconstants."far.mode" = "picture"')
    files = told(chip, tmp_path)
    rdl, document = files["registers.rdl"].decode(), files["registers.md"].decode()
    assert "//   far.mode = 2 (picture)\n" in rdl
    assert "//   near.split = 216\n" in rdl
    assert "| far.mode | 2 (picture) |\n" in document
    assert field_names(chip) == {}
    assert "status_flags" in [node.inst_name for _, node, _ in registers_of(elaborated(tmp_path / "registers.rdl"))]


def test_names_that_become_one_are_told_together(tmp_path):
    text = """
registers = [
    { name = "wing-beat", bits = 8, fields = { "a b" = { bits = "0", sets = SETS0 }, "a.b" = { bits = "1", sets = SETS1 } } },
    { name = "wing beat", bits = 8 },
    { name = "port memory data", bits = 8 },
    { others = "wired" },
]
"""
    text = text.replace("SETS0", '["near.enable"]').replace("SETS1", '["far.enable"]')
    with refused(InputError, "wing_beat") as raised:
        list(register_files(with_registers(text)))
    where, differ = "in SystemRDL, as", "names must differ in letters or digits"
    assert [str(problem) for problem in raised.value.problems] == [
        f"registers.rdl: 'a.b': would be a_b {where} 'a b' is: {differ}",
        f"registers.rdl: 'port' 'memory' 'data': would be port_memory_data {where} 'port memory data' is: {differ}",
        f"registers.rdl: 'wing beat': would be wing_beat {where} 'wing-beat' is: {differ}",
    ]


def test_names_of_a_fields_values_that_become_one_are_refused():
    """Modes may be called ``a_b`` and ``a__b``."""
    plan = (CHIPS / "curlew.chip.toml").read_text("utf-8")
    plan = plan.replace('name = "chart"', 'name = "a_b"').replace('name = "picture"', 'name = "a__b"')
    chip = read_chip(tomllib.loads(plan.replace('"far.chart.', '"far.a_b.').replace('"far.picture.', '"far.a__b.')))
    with refused(InputError, "^registers.rdl: 'a__b': would be a_b in SystemRDL, as 'a_b' is") as raised:
        list(register_files(chip))
    assert [problem.place for problem in raised.value.problems] == ["'a__b'", "'far.a__b.bitmap'"]


def test_the_document_on_paper(tmp_path):
    """near.scroll_x is 0b1_0110_1101: bit 5 at 23 of ``one``, bits 4:2 = 0b011 at 17:15, bits 1:0 = 0b01 at 3:2. ``two`` is
    write-only. far.mode counts in 2, so that its numbers 0 and 1 are tiles and picture, and a larger one is kept as 1.
    """
    document = told(with_registers(WORDS + FAR_MODE), tmp_path)["registers.md"].decode()
    rows = [line for line in document.splitlines() if line.startswith("| ")]
    assert f"| 0x00 | one | 24 | read, write | 0x{1 << 23 | 0b011 << 15 | 0b01 << 2:X} |" in rows
    assert "| 0x03 | two | 3 | write | 0x5 |" in rows
    assert "| 0x80 | port memory address | 16 | write | 0x0 |" in rows
    assert "| 0x82 | port memory data | 8 | read, write | - |" in rows
    assert "| sprites | sprite table | 240 |" in rows
    (mode,) = [line for line in rows if "far.mode |" in line]
    assert mode.startswith(
        "| 1:0 | far.mode | 0x0 | read, write | at once | Sets far.mode: the mode above the split line. One"
    )
    assert " One unit is 2. " in mode
    assert mode.endswith(
        "Takes 0 to 1; a larger number is kept as 1. Counts from the dot written on. 0 tiles, 1 picture. |"
    )
    assert (
        "| 14:7 | backdrop | 0x0 | read, write | at once | Sets backdrop: entry that shows where every rung is "
        in "".join(rows)
    )
    assert [line for line in rows if "| backdrop |" in line and "Takes" in line] == []  # 8 bits, 256 entries
    top = elaborated(tmp_path / "registers.rdl")
    encoded = top.find_by_path("mode.far_mode").get_property("encode")
    assert {one.name: one.value for one in encoded} == {"tiles": 0, "picture": 1}


def test_the_drawings_on_paper(tmp_path):
    """``one`` has its three addresses, its reset 0x81_8004 as bits, and two rows of its table, the highest bits first."""
    files = told(with_registers(WORDS), tmp_path)
    found = read(files["registers/one.svg"])
    texts = [one.text for one in found.texts]
    ordered = [one.text for one in sorted(found.texts, key=lambda one: (one.top, one.left))]
    assert [text for text in ordered if text.startswith("0x0")] == ["0x02", "0x01", "0x00", "0x0"]
    boxes = [box for box, _ in found.boxes]
    bits = sorted(
        (box.top, one.left, one.text) for box in boxes for one in found.texts if one.meets(box) and one.text in "01"
    )
    assert "".join(text for *_, text in bits) == f"{1 << 23 | 0b011 << 15 | 0b01 << 2:024b}"
    table = texts[texts.index("bits") :]
    columns = [table[place : place + 3] for place in range(0, 15, 3)]
    assert columns == [
        ["bits", "23, 17:15, 3:2", "14:7"],
        ["name", "near.scroll_x", "backdrop"],
        ["reset", "0x2D", "0x0"],
        ["access", "read, write", "read, write"],
        ["takes effect", "at once", "at once"],
    ]
    flags = [one.text for one in read(files["registers/status_flags.svg"]).texts]
    assert flags.count("read, which clears") == 4
    assert flags.count("-") == 5  # the bits of nobody, and four flags that take no effect
    document = files["registers.md"].decode()
    section = document[document.index("## 0x00 one") : document.index("## 0x03 two")]
    rows = [line.split(" | ")[0].removeprefix("| ") for line in section.splitlines() if line.startswith("| ")]
    assert rows == ["bits", "---", "23, 17:15, 3:2", "22:18", "14:7", "6:4", "1:0"]
    assert "near.scroll_x&#91;5:0&#93;" in section


OWN_WORDS = (
    "takes_effect",
    "sets",
    "name",
    "desc",
    "reset",
    "sw",
    "encode",
    "default",
    "mem",
    "low",
    "high",
    "Curlew",
    "lsb0",
)


def test_names_that_the_language_or_the_file_has_too(tmp_path):
    words = [*OWN_WORDS, "n_name_names"]
    listed = [{"name": word, "bits": 24, "fields": {word: {"bits": "3", "sets": ["far.mode"]}}} for word in words[:1]]
    listed += [{"name": word, "bits": 24} for word in words[1:]]
    told(with_registers("", registers=[*listed, {"others": "wired"}], name="sets"), tmp_path)
    names = [node.get_property("name") for _, node, _ in registers_of(elaborated(tmp_path / "registers.rdl"))]
    assert [name for name in dict.fromkeys(names) if not name.startswith(("port", "status"))] == words


def test_a_wrong_file_would_be_seen(tmp_path):
    """The comparison is no formality: each of these changes to the file fails it, or fails to elaborate."""
    chip = shipped("curlew")
    rdl = told(chip, tmp_path)["registers.rdl"].decode()
    for old, new in (
        ("near_split @ 0x7", "near_split @ 0x77"),
        ("near_split[7:0] = 8'hD8", "near_split[7:0] = 8'hD9"),
        ("near_mode[0:0]", "near_mode[1:1]"),
        ('takes_effect = "next line"', 'takes_effect = "next frame"'),
        ("counts_in = 1024", "counts_in = 512"),
        ("takes_up_to = 255", "takes_up_to = 254"),
        ("sw = rw;\n            hw = r;", "sw = w;\n            hw = r;"),
        ("near_split @ 0x7", "near_split @ 0x6"),
    ):
        assert old in rdl, old
        (tmp_path / "registers.rdl").write_text(rdl.replace(old, new, 1))
        with refused(AssertionError, "assert|overlap"):
            compare(chip, elaborated(tmp_path / "registers.rdl"))
