"""The whole guide as pages of HTML.

Law: puts pages and their look together; writes nothing.
"""

from __future__ import annotations

from .as_html import as_html
from .pages import GROUPS, NAMES, START, page, picture, titles


def site() -> dict[str, bytes]:
    """All pages by file name, ``start`` as ``index.html``: each whole by itself, without script and without any request."""
    groups = {group: {_file(name): titles()[name] for name in names} for group, names in GROUPS.items()}
    groups = {"Where it begins": {_file(START): titles()[START]}, **groups}
    return {
        _file(name): as_html(
            page(name).replace(f"({START}.md)", "(index.md)"), titles()[name], groups, picture, _file(name)
        ).encode()
        for name in (START, *NAMES)
    }


def _file(name: str) -> str:
    return "index.html" if name == START else f"{name}.html"
