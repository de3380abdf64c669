"""The files of the guide's examples, as they stand once a page has been read.

Law: a block of a page is a whole file (``toml FILE``), is added at a file's end (``toml add FILE``), or takes the place of the
tables with its names (``toml change FILE``); either makes a file of its own with ``as NEW``. The chapters' files grow from one
to the next; any other page begins with those of the second chapter. Runs nothing and writes nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping

from .marked import Block, blocks
from .pages import BASE, ROAD, page

_HEAD = re.compile(r"^\[+[^\]\n]+\]+", re.MULTILINE)
_NAME = re.compile(r"^name = .*$", re.MULTILINE)


def before(name: str) -> dict[str, str]:
    """The files, by name, with which a page begins."""
    pages = ROAD[: ROAD.index(name)] if name in ROAD else ROAD[: ROAD.index(BASE) + 1]
    files: dict[str, str] = {}
    for one in pages:
        files = after(page(one), files)
    return files


def after(text: str, files: Mapping[str, str]) -> dict[str, str]:
    """The files, by name, once the page ``text`` has been read by somebody who had ``files``."""
    found = dict(files)
    for block in blocks(text):
        found.update(written(block, found))
    return found


def files_of(name: str) -> dict[str, bytes]:
    """The files of a page, by name, as they stand at its end. Raises KeyError where there is no such page."""
    return {file: text.encode() for file, text in after(page(name), before(name)).items()}


def written(block: Block, files: Mapping[str, str]) -> dict[str, str]:
    """The file that a block writes, none where it writes none. Raises ValueError where it changes what is not there."""
    match block.words.split():
        case [_, "add", name]:
            return {name: f"{files[name]}\n{block.text}"}
        case [_, "add", old, "as", name]:
            return {name: f"{files[old]}\n{block.text}"}
        case [_, "change", name]:
            return {name: _changed(files[name], block.text)}
        case [_, "change", old, "as", name]:
            return {name: _changed(files[old], block.text)}
        case [_, name]:
            return {name: block.text}
    return {}


def _changed(text: str, new: str) -> str:
    """``text`` with each part of ``new`` in the place of its part with that head and name."""
    for part in _parts(new):
        if part.strip():
            old = [one for one in _parts(text) if _key(one) == _key(part)]
            if len(old) != 1:
                raise ValueError(f"{len(old)} parts are called {_key(part)}")
            text = text.replace(old[0], f"{part.rstrip()}\n\n", 1)
    return text


def _parts(text: str) -> Iterator[str]:
    """What stands before the first head, then each table with its head; a key at the top is a part of its own."""
    heads = [found.start() for found in _HEAD.finditer(text)]
    ends = [*heads, len(text)]
    yield from (f"{line}\n" for line in text[: ends[0]].splitlines() if line)
    yield from (text[start:end] for start, end in zip(heads, ends[1:], strict=True))


def _key(part: str) -> str:
    """What a part is known by: its head, and its name where it has one; a line at the top by its key."""
    head, name = _HEAD.match(part), _NAME.search(part)
    if head is None:
        return part.partition(" =")[0]
    return f"{head[0]} {name[0]}" if name and head[0].startswith("[[") else head[0]
