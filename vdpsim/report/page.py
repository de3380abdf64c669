"""A scene as one page: the parts of ``parts/`` put together around its facts.

Law: what the files say gets into the page as JSON with every ``<`` written as an escape, and as a title with HTML's characters
escaped; the page's code shows it as text. The page asks nothing of any network: its own policy forbids that to the browser.
"""

from __future__ import annotations

import html
import json
from collections.abc import Callable, Iterable
from functools import cache
from importlib.resources import files
from typing import Any

from ..door.given import function, instance, items, whole_number
from ..scene import Scene
from .facts import facts

SCRIPTS = ("data.js", "picture.js", "explain.js", "main.js")


def report_page(
    scene: Scene, wanted: Iterable[int] | None = None, progress: Callable[[int], None] | None = None
) -> str:
    """The page of the ``wanted`` frames of ``scene`` (None: the first) as HTML text. Raises ValueError where none is wanted."""
    instance("scene", scene, Scene)
    function("progress", progress)
    if wanted is not None:
        wanted = [whole_number("wanted", each) for each in items("wanted", wanted, "frames' numbers or None")]
    return page(facts(scene, range(1) if wanted is None else wanted, progress))


def page(told: dict[str, Any], *, live: bool = False) -> str:
    """The page around ``told``; a ``live`` one asks where it came from for what is new."""
    data = json.dumps(told, separators=(",", ":"), ensure_ascii=True).replace("<", "\\u003c")
    parts = {
        "title": html.escape(f"{told['scene']['name']} on {told['chip']['name']}"),
        "style": part("page.css"),
        "connect": "; connect-src 'self'" if live else "",
        "script": "\n".join(part(name) for name in (*SCRIPTS, *(("live.js",) if live else ()))),
        "facts": data,
    }
    found = part("page.html")
    for name, text in parts.items():  # the facts come last: what stands in them is left alone
        found = found.replace("{" + name + "}", text)
    return found


@cache
def part(name: str) -> str:
    """The text of a file of ``parts/``."""
    return (files(__package__) / "parts" / name).read_text(encoding="utf-8")
