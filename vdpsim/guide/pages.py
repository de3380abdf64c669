"""The guide's pages, in the order in which they are read.

Law: a page is Markdown and begins with its title. Most stand in ``texts/``; the formats' reference is made from the models that
read the files, and the model's text is the one that hardware is given. Knows no screen and no HTML.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from importlib.resources import files

from ..handoff.sections import whole_model
from .reference import format_reference

START = "start"
"""The page that tells of all others."""

GROUPS: Mapping[str, tuple[str, ...]] = {
    "From the idea to the hand-off": ("idea", "scene", "drawing", "budget", "sprites", "art", "comparing", "hand-off"),
    "Recipes": (
        "status-strip",
        "more-sprites",
        "shared-palette",
        "half-brightness",
        "line-scroll",
        "smaller-chip",
        "filling",
        "planes",
    ),
    "More of the same": ("registers", "time", "explained", "machine", "testing", "commands", "bounds"),
    "To look things up": ("chip-file", "scene-file", "model", "words"),
}
"""Names of pages by what they are; read one after the other, from the first to the last."""

ROAD = GROUPS["From the idea to the hand-off"]
"""The chapters, each of which goes on with the files of the one before."""

BASE = "scene"
"""The chapter with whose files every other page begins."""

NAMES = tuple(name for names in GROUPS.values() for name in names)
"""All pages but the first, in order."""


ELSEWHERE = {"testing": "../testing/tutorial.md"}
"""Pages that are another room's text as it is, which that room's own tests go through."""


def _model() -> str:
    """The model's text under the guide's own heading, its sections a step higher than in an exported folder."""
    return _text("model") + "\n" + "\n\n".join(whole_model()).replace("### ", "## ")


_MADE: Mapping[str, Callable[[], str]] = {
    "chip-file": lambda: format_reference("chip", _text("chip-file")),
    "scene-file": lambda: format_reference("scene", _text("scene-file")),
    "model": _model,
}
"""Pages of which more is made than stands in ``texts/``."""


@cache
def page(name: str) -> str:
    """A page as Markdown (CommonMark with tables), which ends with a link to the next. Raises KeyError where there is none.

    Links to other pages are ``NAME.md``, pictures ``pictures/NAME.png``.
    """
    if name == START:
        return f"{_text(START)}\n{_contents()}"
    if name not in NAMES:
        raise KeyError(name)
    return f"{_begun(name).rstrip()}\n\n{_next(name)}\n"


@cache
def titles() -> Mapping[str, str]:
    """The title of each page, in order."""
    return {name: _text(name).split("\n", 1)[0].removeprefix("# ") for name in (START, *NAMES)}


def picture(target: str) -> bytes:
    """The PNG file that a page calls ``pictures/NAME.png``."""
    return (files(__package__) / target).read_bytes()


def _begun(name: str) -> str:
    """A page; one that goes on with the chip of the chapters says, below its title, where its files are."""
    text = _body(name)
    if name in ROAD or ("tern.chip.toml" not in text and "terns.scene.toml" not in text):
        return text
    title, rest = text.split("\n", 1)
    told = f"Begins with the files of [the second chapter]({BASE}.md). Those of this page, as they stand at its end, writes"
    return f"{title}\n\n{told}\n`vdpsim guide {name} --files {name}/`.\n{rest}"


def _body(name: str) -> str:
    made = _MADE.get(name)
    return made() if made else _text(name)


def _text(name: str) -> str:
    return files(__package__).joinpath(ELSEWHERE.get(name, f"texts/{name}.md")).read_text("utf-8")


def _contents() -> str:
    """Every page with a link, by group."""
    lines: list[str] = []
    for group, names in GROUPS.items():
        mark = "1." if names is ROAD else "-"
        lines += [f"## {group}", "", *(f"{mark} [{titles()[name]}]({name}.md)" for name in names), ""]
    return "\n".join(lines)


def _next(name: str) -> str:
    after = dict(zip(NAMES, (*NAMES[1:], START), strict=True))[name]
    return f"Next: [{titles()[after]}]({after}.md)"
