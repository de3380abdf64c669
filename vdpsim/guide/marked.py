"""Markdown taken apart: a page's tokens, and what stands where in it.

Law: reads with the parser that rich brings. Knows no page, and nothing of how one is shown.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from functools import cache
from typing import Any, NamedTuple, cast


class Block(NamedTuple):
    """A block of code: the words behind its fence, and its text. An indented one has no words."""

    words: str
    text: str


@cache
def tokens(text: str) -> Sequence[Any]:
    """The page as markdown-it's tokens (CommonMark with tables): blocks, each ``inline`` with children of its own.

    Nobody changes them: a page is asked for its blocks again with each page that goes on with its files.
    """
    from rich.markdown import Markdown  # noqa: PLC0415 - takes as long to load as a frame to draw

    return cast("Sequence[Any]", Markdown(text).parsed)


def blocks(text: str) -> list[Block]:
    """Its blocks of code, in order."""
    return [Block(one.info.strip(), one.content) for one in tokens(text) if one.type in {"fence", "code_block"}]


def targets(text: str) -> Iterator[str]:
    """Where its links and pictures lead."""
    for inline in (child for token in tokens(text) for child in token.children or ()):
        if inline.type in {"link_open", "image"}:
            yield str(inline.attrs.get("href", inline.attrs.get("src")))


def anchor(heading: str) -> str:
    """The name by which a link finds a heading within its page."""
    return re.sub(r"[^a-z0-9]+", "-", heading.lower()).strip("-")


def head(words: str) -> str:
    """What is said above a block of code that is a file, or of one; empty for any other."""
    match words.split():
        case [_, "add", name]:
            return f"{name}, at its end"
        case [_, "change", name]:
            return f"{name}, instead of what it has under these names"
        case [_, "add", old, "as", name]:
            return f"{name}: {old}, and at its end"
        case [_, "change", old, "as", name]:
            return f"{name}: {old}, but instead of what it has under these names"
        case [_, name]:
            return name
    return ""
