"""The guide's pages gone through as a reader would: files written, commands and Python run, what they print and draw compared."""

from __future__ import annotations

import contextlib
import io
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np
from PIL import Image

import vdpsim.guide
from vdpsim.cli import main
from vdpsim.guide.marked import blocks, targets
from vdpsim.guide.pages import page
from vdpsim.guide.worked import written

sys.path.insert(0, str(Path(__file__).parents[1] / "tools"))

from art.canvas import packed

HOME = Path(vdpsim.guide.__file__).parent
PLAIN = {"head", "ls"}
"""Commands of the system that a page may use."""

STATUS = re.compile(r"# exit status (\d+)$")

OUTPUT = re.compile(r"(^```text\n)(.*?)(^```$)", re.MULTILINE | re.DOTALL)


def gone_through(name: str, files: dict[str, str]) -> tuple[list[tuple[str, str]], dict[str, Path]]:
    """What stands in a page's blocks of output and what came instead, and where each of its pictures was drawn.

    Runs in the present folder, which has ``files``; those of the page are added to both.
    """
    text = page(name)
    return list(said(text, files)), {one: _drawn(Path(one).name) for one in targets(text) if one.endswith(".png")}


def _drawn(name: str) -> Path:
    """The file of which a page's picture ``name`` is a copy: its path with dashes between the folders."""
    (found,) = (path for path in Path().rglob("*.png") if "-".join(path.parts) == name)
    return found


def said(text: str, files: dict[str, str]) -> Iterator[tuple[str, str]]:
    """What stands in a text's blocks of output, and what came instead."""
    names: dict[str, object] = {}
    printed: str | None = None
    for block in blocks(text):
        kind = block.words.split()[0] if block.words else ""
        if kind == "text":
            assert printed is not None, f"output of nothing: {block.text}"
            yield block.text, printed
        printed = None
        for name, whole in written(block, files).items():
            files[name] = whole
            Path(name).write_text(whole, "utf-8")
        if kind == "sh":
            printed = "".join(map(_ran, block.text.splitlines()))
        elif block.words == "python":
            with _heard() as heard:
                exec(compile(block.text, "a page's Python", "exec"), names)  # noqa: S102 - that is the question
            printed = heard.getvalue()


def _ran(line: str) -> str:
    """What a command says on both streams; its exit status is 0, or what its remark says."""
    words = shlex.split(line, comments=True)
    expected = int(status[1]) if (status := STATUS.search(line)) else 0
    if words[0] in PLAIN:
        return subprocess.run(words, check=True, capture_output=True, text=True).stdout
    assert words[0] == "vdpsim", f"a command that is not tried: {line}"
    with _heard() as heard:
        status_now = main(words[1:])
    assert status_now == expected, f"{line}: exit status {status_now}\n{heard.getvalue()}"
    return heard.getvalue()


@contextlib.contextmanager
def _heard() -> Iterator[io.StringIO]:
    heard = io.StringIO()
    with contextlib.redirect_stdout(heard), contextlib.redirect_stderr(heard):
        yield heard


def says(shown: str, came: str) -> bool:
    """Whether the output that a page shows is what came; a line of three dots stands for any number of lines."""
    lines = (r"(?:.*\n)*?" if line == "..." else re.escape(line) + r"\n" for line in _level(shown).split("\n"))
    return re.fullmatch("".join(lines), _level(came) + "\n") is not None


def _level(came: str) -> str:
    return "\n".join(line.rstrip() for line in came.strip("\n").split("\n"))


def looks(shown: str, drawn: Path) -> bool:
    """Whether a page's picture has the very dots that were drawn."""
    with Image.open(HOME / shown) as one, Image.open(drawn) as other:
        return np.array_equal(np.asarray(one.convert("RGBA")), np.asarray(other.convert("RGBA")))


def recorded(name: str, said: list[tuple[str, str]], drawn: dict[str, Path]) -> None:
    """Write a page's output and pictures anew; output with left-out lines is a person's to mend."""
    file = HOME / "texts" / f"{name}.md"
    text = file.read_text("utf-8")
    came = iter(said)
    text = OUTPUT.sub(lambda found: f"{found[1]}{_anew(*next(came))}{found[3]}", text)
    file.write_text(text, "utf-8")
    for target, path in drawn.items():
        (HOME / target).parent.mkdir(exist_ok=True)
        with Image.open(path) as image:
            (HOME / target).write_bytes(packed(image))
        assert looks(target, path), target


def _anew(shown: str, came: str) -> str:
    if says(shown, came):
        return shown
    assert "\n...\n" not in f"\n{shown}", f"a person's to mend:\n{shown}\nand there came\n{came}"
    return f"{_level(came)}\n"
