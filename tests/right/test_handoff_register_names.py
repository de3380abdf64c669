"""Hostile names in the files of a chip's registers: they are shown, and nothing of them ends a string, a cell or a tag."""

from __future__ import annotations

import json
import re
import tempfile
import tomllib
from pathlib import Path

import pytest
from drawn import read
from hypothesis import example, given, settings
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from rdl import compiled, elaborated, registers_of, told

from vdpsim.chip.registers import registers
from vdpsim.door.shown import PLAIN
from vdpsim.handoff.markdown import paragraph, shown
from vdpsim.handoff.registers.rdl import inside
from vdpsim.testing.strategies.made.chips import read_chip

CHIPS = Path(__file__).parents[2] / "scenes" / "chips"
HOSTILE = (
    '"; }; addrmap x { };',
    "\\",
    '\\"',
    "<%= `touch /tmp/x` %>",
    "<% system('x') %>",
    "%>",
    "`include",
    '`include "/etc/passwd"',
    "`define x",
    "/* ",
    " */ //",
    "[b]x[/b][url=javascript:alert(1)]",
    "<script>alert(1)</script>",
    "</text></svg><image href='x'/>",
    "| a | b |",
    "a\\|b",
    "`x`",
    "``",
    "![x](y)",
    "[x]: y",
    "<!--",
    "]]>",
    "&lt;&#60;",
    "# x",
    "1. x",
    "- x",
    "--- ",
    "www.example.org http://example.org a@example.org",
    "_x_ *y* ~~z~~ $q$",
    ":smile:",
    "\u00a0\ufffe\uffff",
    "鳥 \U0001f426",
    " ",
    "'",
    "%s %d {x} {{y}}",
)
PLAIN_TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=24).filter(lambda text: re.match(PLAIN, text))
NAMES = st.one_of(st.sampled_from(HOSTILE), PLAIN_TEXT, st.lists(st.sampled_from(HOSTILE), max_size=2).map("".join))


def hostile_chip(names, fields, name, about):
    """Sanderling with registers and fields of these names; each with a number behind it, so that no two become one."""
    plan = tomllib.loads((CHIPS / "sanderling.chip.toml").read_text("utf-8"))
    listed = [{"name": f"{one[:30]} q{number}", "bits": 9} for number, one in enumerate(names)]
    controls = ["near.enable", "far.enable", "backdrop", "far.split"]
    for number, (one, control) in enumerate(zip(fields, controls, strict=False)):
        listed[0].setdefault("fields", {})[f"{one[:80]} f{number}"] = {"bits": str(2 * number), "sets": [control]}
    more = {"name": name[:60] or "x", "about": about, "constants": {}, "registers": [*listed, {"others": "wired"}]}
    return read_chip(json.loads(json.dumps({**plan, **more, "ports": [], "status": None})))


def same(text):
    """A text but for runs of spaces, and for what XML and Markdown have no place for."""
    return " ".join(re.sub("[\x00\ufffe\uffff]", "\ufffd", text).split())


@pytest.mark.unmeasured
@settings(max_examples=max(1, settings.default.max_examples // 5))
@given(
    names=st.lists(NAMES, min_size=1, max_size=6),
    fields=st.lists(NAMES, max_size=4),
    name=NAMES,
    about=st.one_of(NAMES, st.text(max_size=60)),
)
@example(names=list(HOSTILE), fields=list(HOSTILE[:4]), name=HOSTILE[0], about="\n\n# x\n<b>\n")
@example(names=["x"], fields=[], name="x", about="1. x")
def test_whatever_names_are_the_files_say_them_and_no_more(names, fields, name, about):
    chip = hostile_chip(names, fields, name, about)
    with tempfile.TemporaryDirectory() as folder:
        files = told(chip, Path(folder))
        top = elaborated(Path(folder) / "registers.rdl")
    check_rdl(chip, files["registers.rdl"].decode(), top)
    check_document(chip, files["registers.md"].decode())
    drawings = [data for path, data in files.items() if path.endswith(".svg")]
    assert len(drawings) == len(registers(chip))
    for data, register in zip(drawings, registers(chip).values(), strict=True):
        drawn = [same(text.text) for text in read(data).texts]
        assert same(f"{register.name}, 9 bits") in drawn[0]
        assert all(same(field.name) in drawn for field, _ in register.holds)


def check_rdl(chip, text, top):
    assert "`" not in text and "<%" not in text
    found = [(node.inst_name, node.get_property("name"), node.get_html_desc()) for _, node, _ in registers_of(top)]
    assert [name for _, name, _ in found] == [inside(name) for name in registers(chip)]
    assert all(re.fullmatch(r"(n_)?[A-Za-z0-9_]*q\d+", name) for name, _, _ in found)
    fields = [field.get_property("name") for _, _, word in registers_of(top) for field in word.fields()]
    named = [one for one in fields if not one.startswith("no name ")]
    assert sorted(named) == sorted(inside(field.name) for one in registers(chip).values() for field, _ in one.holds)
    html = [top.get_html_desc() or "", top.get_html_name() or "", *(told or "" for _, _, told in found)]
    for _, _, word in registers_of(top):
        html += [field.get_html_desc() or "" for field in word.fields()]
    tags = {tag for one in html for tag in re.findall(r"<\s*/?\s*([^\s>/]*)", one)}
    assert tags <= {"p", "em", "strong", "h1", "h2", "ul", "ol", "li", "hr", "br"}, tags


def check_document(chip, text):
    tokens = MarkdownIt("commonmark", {"html": True}).enable(["table", "strikethrough"]).parse(text)
    kinds = {one.type for one in tokens}
    blocks = {"heading", "paragraph", "table", "thead", "tbody", "tr", "th", "td"}
    assert kinds <= {"inline", *(f"{one}_{end}" for one in blocks for end in ("open", "close"))}, kinds
    inside = [child for one in tokens for child in one.children or ()]
    assert {one.type for one in inside} <= {"text", "softbreak", "image", "text_special"}
    pictures = [child.attrs["src"] for child in inside if child.type == "image"]
    assert len(pictures) == len(registers(chip))
    assert all(re.fullmatch(r"registers/[A-Za-z0-9_]+\.svg", str(one)) for one in pictures)
    said = [same("".join(child.content for child in one.children or ())) for one in tokens if one.type == "inline"]
    assert said[0] == same(f"{chip.name}: registers")
    assert sum(one.type == "heading_open" for one in tokens) == 1 + len(registers(chip))
    assert sum(one.type == "table_open" for one in tokens) == 2 + len(registers(chip))
    for register in registers(chip).values():
        assert same(register.name) in said
        assert all(same(field.name) in said for field, _ in register.holds)


@pytest.mark.parametrize("text", HOSTILE)
def test_a_paragraph_is_one_paragraph(text):
    tokens = MarkdownIt("commonmark", {"html": True}).enable("table").parse(f"{paragraph(text)}\n\n{shown('x')}\n")
    kinds = [one.type for one in tokens if one.type != "inline"]
    assert kinds == ["paragraph_open", "paragraph_close"] * (2 if text.strip() else 1)


@pytest.mark.ci
def test_many_registers(tmp_path):
    """As many as a file may list, 1,024 elements of which one is that of the others; and their map still elaborates."""
    names = [f"r{number}" for number in range(1023)]
    files = told(hostile_chip(names, [], "Many", ""), tmp_path)
    assert len(files) == 1025
    assert sum(map(len, files.values())) < 20_000_000
    top = compiled(tmp_path / "registers.rdl")(None)
    assert [address for address, _, _ in registers_of(top)] == [2 * number for number in range(1023)]
