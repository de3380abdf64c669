"""Does the guide do what it says? Its files are written, its commands and Python run, its output and pictures compared."""

from __future__ import annotations

import re
import shutil
from html.parser import HTMLParser
from io import StringIO
from pathlib import Path

import guided
import pytest
from markdown_it import MarkdownIt
from refusal import refused
from rich.console import Console

import vdpsim
from vdpsim.cli import main
from vdpsim.cli.main import COMMANDS
from vdpsim.guide import as_html, as_text, marked, worked
from vdpsim.guide.pages import ELSEWHERE, NAMES, page
from vdpsim.guide.site import site
from vdpsim.sweeping import workers

ROOT = Path(__file__).resolve().parents[2]
APART = [
    name
    for name in NAMES
    if name not in (*worked.ROAD, *ELSEWHERE) and any(one.words != "" for one in marked.blocks(page(name)))
]
"""Pages that begin with the second chapter's files, and have something to run."""


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A folder as a reader has it, with the shipped scenes, and a terminal that is 80 characters wide."""
    shutil.copytree(ROOT / "scenes", tmp_path / "scenes")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.setattr(workers, "cores", lambda: 1)  # to start a process takes longer than the guide's sweeps


def compared(name, files, record):
    said, drawn = guided.gone_through(name, files)
    if record:
        guided.recorded(name, said, drawn)
    for shown, came in said:
        assert record or guided.says(shown, came), f"{name} shows\n{shown}\nand there came\n{came}"
    for target, path in drawn.items():
        assert guided.looks(target, path), f"{name}: {target}"


@pytest.mark.unmeasured
def test_the_chapters_one_after_the_other(folder, pytestconfig):
    files: dict[str, str] = {}
    for name in worked.ROAD:
        assert files == worked.before(name)
        compared(name, files, pytestconfig.getoption("--record-guide"))


@pytest.mark.unmeasured
@pytest.mark.parametrize("name", APART)
def test_a_page_by_itself(folder, name, pytestconfig):
    files = worked.before(name)
    for file, text in files.items():
        Path(file).write_text(text, "utf-8")
    compared(name, files, pytestconfig.getoption("--record-guide"))


class Told(HTMLParser):
    """A page of HTML: its text, its ids, where it leads, and its elements."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.ids: list[str] = []
        self.leads: list[str] = []
        self.tags: set[str] = set()
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        """An element begins."""
        self.tags.add(tag)
        for key, value in attrs:
            assert not key.startswith("on")
            if key == "id":
                self.ids.append(value)
            if key in {"href", "src"}:
                self.leads.append(value)

    def handle_data(self, data):
        """A text."""
        self.words += data.split()


@pytest.fixture(scope="module")
def pages_of_html():
    return {name: Told(data.decode()) for name, data in site().items()}


def test_a_page_has_the_words_that_another_writer_of_html_gives_it():
    """markdown-it-py's own, which takes no part in ours; above a file we say its name."""
    reader = MarkdownIt("commonmark").enable("table")
    for name in NAMES:
        text = page(name)
        ours = as_html.as_html(text, "", {}, lambda _: b"", "").partition("<main>")[2].partition("</main>")[0]
        heads = [one for block in marked.blocks(text) if (one := marked.head(block.words))]
        assert sorted(Told(ours).words) == sorted(Told(reader.render(text)).words + " ".join(heads).split()), name


def test_pages_need_no_script_and_no_network_and_lead_somewhere(pages_of_html):
    assert sorted(pages_of_html) == sorted([f"{name}.html" for name in NAMES] + ["index.html"])
    ids = {name: told.ids for name, told in pages_of_html.items()}
    for name, told in pages_of_html.items():
        assert len(told.ids) == len(set(told.ids)), name
        assert not told.tags & {"script", "link", "iframe", "object", "form"}
        for target in told.leads:
            file, _, anchor = target.partition("#")
            if not target.startswith(("data:image/png;base64,", "https://")):
                assert file in ids, f"{name}: {target}"
                assert not anchor or anchor in ids[file], f"{name}: {target}"


def test_what_a_page_says_is_text_and_nothing_else():
    hostile = (
        '# <b onclick="x">\n\nx <script>y</script> `<i>` &amp; ![a"b](pictures/x.png)\n\n```text\n</pre><script>\n```\n'
    )
    told = Told(as_html.as_html(hostile, "<script>", {"<u>": {'x.html"': "<u>"}}, lambda _: b"", ""))
    assert not told.tags & {"script", "b", "i", "u"}
    assert "".join(told.words).endswith('<bonclick="x">x<script>y</script><i>&</pre><script>')


def test_each_page_leads_to_the_next_and_links_lead_to_pages():
    for name, after in zip(NAMES, (*NAMES[1:], "start"), strict=True):
        assert page(name).startswith("# ")
        assert page(name).endswith(f"({after}.md)\n")
        for target in marked.targets(page(name)):
            assert target.partition("#")[0] in {f"{one}.md" for one in (*NAMES, "start")} or "/" in target, target
    assert {target for target in marked.targets(page("start")) if "/" not in target} == {f"{one}.md" for one in NAMES}


def test_no_text_and_no_picture_lies_there_unread():
    texts = {path.stem for path in (guided.HOME / "texts").iterdir()}
    assert texts == {*NAMES, "start"} - set(ELSEWHERE)
    pictures = {f"pictures/{path.name}" for path in guided.HOME.glob("pictures/*")}
    assert pictures == {target for name in NAMES for target in marked.targets(page(name)) if target.endswith(".png")}


def test_every_option_that_the_guide_names_exists(capsys):
    helped = ""
    for command in COMMANDS:
        assert main([command, "--help"]) == 0
        helped += capsys.readouterr().out
    for name in NAMES:
        for option in re.findall(r"(?<![\w-])--[a-z]+(?:-[a-z]+)*", "\n".join(re.findall(r"`[^`\n]+`", page(name)))):
            assert option in helped, f"{name}: {option}"


def test_every_command_that_the_guide_names_exists_and_those_of_its_first_page_run(folder, capsys):
    for name in NAMES:
        for command in re.findall(r"`vdpsim ([a-z]+)", page(name)):
            assert command in COMMANDS, name
    lines = re.findall(r"^    vdpsim ([^#\n]+)", page("start"), re.MULTILINE)
    assert len(lines) == 3
    for line in lines:
        assert main(line.split()) == 0, capsys.readouterr().err


def test_no_other_page_can_be_had():
    with refused(KeyError, "nonsense"):
        page("nonsense")


@pytest.mark.parametrize("kind", ["chip", "scene"])
def test_the_reference_has_every_key_of_every_table(kind):
    """A property of the schema with its description, as the schema has it but for Markdown's own signs."""
    told = page(f"{kind}-file").replace("\\", "")
    for table in (found := vdpsim.schema(kind), *found["$defs"].values()):
        for key, described in table.get("properties", {}).items():
            assert re.search(rf"^- `{key}` \([a-z ,]+\): {re.escape(described['description'])}$", told, re.MULTILINE), (
                key
            )


def test_on_a_narrow_screen_only_code_is_wider(monkeypatch, capsys):
    monkeypatch.setenv("COLUMNS", "60")
    monkeypatch.setenv("FORCE_COLOR", "1")
    assert main(["guide", "idea"]) == 0
    said = capsys.readouterr().out
    assert "\x1b" not in said
    assert [line for line in said.split("\n") if len(line) > 60 and not line.startswith("    ")] == []
    assert main(["guide"]) == 0
    assert "vdpsim guide idea" in capsys.readouterr().out


def test_a_page_becomes_text_with_what_its_links_pictures_and_tables_say(monkeypatch):
    """A link leads to a command or an address; a column is as wide as its widest word; a rule is nothing."""
    monkeypatch.setenv("COLUMNS", "60")
    links = "See [it](idea.md) and [that](https://a.example/b).\n![a heron](pictures/x.png)\n\n---\n\n"
    points, table = "- one\n  1. two\n- *three* `x`\n\n", "| a | b |\n| --- | ---: |\n| long | 12 |\n| **x** | 3 |\n\n"
    said = as_text.plain_text(f"{links}{points}{table}```toml add a.toml\nx = 1\n```\n")
    assert re.sub(r"\n+", "\n", said).split("\n") == [
        "See it (vdpsim guide idea) and that (https://a.example/b).", "[picture: a heron]",
        "- one", "  1. two", "- three `x`", " a       b", " ---------", " long   12", " x       3",
        "a.toml, at its end:", "    x = 1", "",
    ]  # fmt: skip


def test_a_terminal_gets_the_page_as_its_console_draws_it(monkeypatch, capsys):
    monkeypatch.setenv("COLUMNS", "60")
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr("sys.stdout.isatty", lambda: True, raising=False)
    assert main(["guide", "idea"]) == 0
    drawn = capsys.readouterr().out
    assert "\x1b[1" in drawn
    assert (
        re.sub(r"\x1b\[[\d;]*m| +$", "", drawn, flags=re.MULTILINE).split() == as_text.plain_text(page("idea")).split()
    )


def test_a_terminal_gets_colours_unless_it_wants_none(monkeypatch):
    """On a terminal that says so; NO_COLOR leaves weight and underlines, which are no colours."""
    for none, colours in (("", True), ("1", False)):
        monkeypatch.setenv("NO_COLOR", none)
        screen = Console(file=StringIO(), force_terminal=True, color_system="standard", width=80)
        as_text.shown_on(screen, "# A\n\n`b`\n")
        assert bool(re.search(r"\x1b\[[\d;]*3[0-7]m", screen.file.getvalue())) is colours


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["nonsense"], "PAGE: must be one of idea, "),
        (["registres"], "got 'registres'; did you mean registers?"),
        (["idea", "--html", "guide"], "--html: writes all pages"),
        (["--replace"], "--replace: needs --html or --files"),
        (["--files", "guide"], "--files: needs the name of a page"),
        (["idea", "--files", "guide", "--html", "guide"], "--files: goes with a page's name and without --html"),
    ],
)
def test_a_wrong_line_is_refused(words, told, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["guide", *words]) == 2
    assert told in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_a_pages_files_are_written_as_they_stand_at_its_end(tmp_path):
    """Also those of a page that changes none: then as the second chapter leaves them."""
    for name, chips in (("smaller-chip", {"tern", "stint"}), ("words", {"tern"})):
        assert main(["guide", name, "--files", str(tmp_path / name)]) == 0
        there = {path.name for path in (tmp_path / name).iterdir()}
        assert there == {"terns.scene.toml", *(f"{chip}.chip.toml" for chip in chips)}
        assert vdpsim.load_scene(tmp_path / name / "terns.scene.toml").chip.name == "Tern"
    assert vdpsim.load_chip(tmp_path / "smaller-chip/stint.chip.toml").sprites.count == 4


def test_faults_that_are_planted_are_seen():
    assert guided.says("a\n...\nd\n", "a\nb\nc\nd\n")
    assert guided.says("a\n...\n", "a\nb\n")
    assert not guided.says("a\nd\n", "a\nb\nd\n")
    assert not guided.says("a\n...\nb\n", "a\nc\n")
    block = marked.Block("toml change f", '[[x]]\nname = "b"\nv = 2\n')
    files = {"f": 'n = 1\n[[x]]\nname = "a"\n[[x]]\nname = "b"\n[y]\n'}
    assert worked.written(block, files) == {"f": 'n = 1\n[[x]]\nname = "a"\n[[x]]\nname = "b"\nv = 2\n\n[y]\n'}
    with refused(ValueError, "0 parts are called"):
        worked.written(marked.Block("toml change f", "[z]\n"), files)
    assert worked.written(marked.Block("toml change f", "  \nn = 2\n"), files)["f"].startswith("n = 2\n\n[[x]]")
