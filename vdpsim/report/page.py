"""A scene as one page: the parts of ``parts/`` put together around its facts.

Law: what the files say gets into the page as JSON with every ``<`` written as an escape, and as HTML that ``still/`` has made,
which escapes every name. The page's code shows plain facts as text. The page asks nothing of any network: its own policy
forbids that to the browser. Without scripts the first frame, the verdict, what vanished and the budget still stand in it.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable
from functools import cache
from importlib.resources import files
from typing import Any

from ..door.given import function, instance, items, whole_number
from ..scene import Scene
from .facts import facts
from .still.markup import escaped

SCRIPTS = (
    "data.js",
    "picture.js",
    "chart.js",
    "marks.js",
    "explain.js",
    "panels.js",
    "frames.js",
    "place.js",
    "main.js",
)

PLACE = re.compile(r"\{([a-z-]+)\}")
"""Where the page's form has room for a part."""


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
    plain = {name: value for name, value in told.items() if name not in ("bare", "still")}
    first = told["frames"][0]
    parts = {
        **told["still"],
        **told["bare"],
        "title": escaped(f"{told['scene']['name']} on {told['chip']['name']}"),
        "about": escaped(told["scene"]["about"]),
        "frame": escaped(first["number"]),
        "width": escaped(first["width"]),
        "calm": "hidden" if told["flashes"]["passes"] else "",
        "style": part("page.css"),
        "connect": "; connect-src 'self'" if live else "",
        "script": "\n".join(part(name) for name in (*SCRIPTS, *(("live.js",) if live else ()))),
        "facts": json.dumps(plain, separators=(",", ":"), ensure_ascii=True).replace("<", "\\u003c"),
    }
    # In one pass: braces in what a scene says are never taken for a place.
    return PLACE.sub(lambda found: parts[found[1]], part("page.html"))


@cache
def part(name: str) -> str:
    """The text of a file of ``parts/``."""
    return (files(__package__) / "parts" / name).read_text(encoding="utf-8")
