"""The README of an exported folder: what is in it, and how it is used.

Law: says what the index says, in words and tables; what is the same for all folders stands in ``guide/``. Columns of records come
from where records are made. A name out of a file is text, whatever characters it has.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache
from importlib.resources import files

from ..chip.line.clients import layers_ahead
from ..chip.model import Chip
from ..scene import Scene
from .markdown import shown, table
from .numbers import numbers
from .parts import PARTS
from .records.index import Index
from .records.kinds import KINDS, MEANINGS, OUTCOMES, STIMULI
from .sections import model_text
from .waves.signals import TOP, signals

MOST_FRAMES = 32
"""Frames of which the page has a row."""

MOST_NAMED = 12
"""Files of one ending that are named one by one."""

ALWAYS = {
    "README.md": "this page",
    "index.json": "what the numbers in records mean, which files there are, and how many records each frame has",
    "chip.toml": "the chip: its whole description, from which all else here follows. The constants say again all that it says "
    "but `about` and `frame.display`, on which no record depends; its `name` stands at the head of each file",
    "chip.schema.json": "what the keys of `chip.toml` are: JSON Schema, with ranges and what leaving a key out means",
}
"""What every folder has."""


def readme(scene: Scene, index: Index) -> bytes:
    """The README as Markdown."""
    return ("\n\n".join(part.strip("\n") for part in _sections(scene, index)) + "\n").encode()


def _sections(scene: Scene, index: Index) -> Iterator[str]:
    yield f"# {shown(index.scene)} on {shown(index.chip)}"
    yield _about(index)
    yield "## Files\n\n" + "\n".join(_files(index))
    if "vectors" in index.parts:
        yield guide("use")
        yield guide("sketch")
        yield _when(scene.chip)
        yield "\n".join(_records(index))
    if "memory" in index.parts:
        yield "\n".join(_memory(index))
    if "waves" in index.parts:
        yield guide("waves")
        yield "\n".join(_waves(scene))
    yield "\n".join(numbers(scene.chip, index))
    yield guide("model")
    yield from model_text(scene.chip)


def _about(index: Index) -> str:
    first, last = index.frames[0].frame, index.frames[-1].frame
    which = f"frame {first}" if first == last else f"frames {first} to {last}"
    return (
        f"What the hardware side needs to check itself against the model: {which} of a scene, on one chip. All files are "
        "plain text but for `.bin`; `index.json` says for programs what this page says for people."
    )


def _files(index: Index) -> Iterator[str]:
    for name, what in ALWAYS.items():
        yield f"- `{name}`: {what}"
    for part in index.parts:
        yield f"- *{part}*: {PARTS[part]}: {_named([name for name in index.files if name.startswith(part)])}"
    yield "\nA file that is here and not named so is not of this export."


def _named(names: Sequence[str]) -> str:
    """Files by their names; very many of one ending as one."""
    by_ending: dict[str, list[str]] = {}
    for name in names:
        by_ending.setdefault(name.rpartition(".")[2], []).append(name)
    few = [name for found in by_ending.values() if len(found) <= MOST_NAMED for name in found]
    many = [
        f"{len(found)} files `{found[0].rpartition('/')[0]}/*.{ending}`"
        for ending, found in by_ending.items()
        if len(found) > MOST_NAMED
    ]
    return ", ".join([*(f"`{name}`" for name in sorted(few)), *many])


def _records(index: Index) -> Iterator[str]:
    yield "## Records\n"
    there = {name.removeprefix("vectors/").removesuffix(".txt") for name in index.files}
    yield f"`vectors/stimulus.txt` has records of the kinds {', '.join(STIMULI)}; each expected kind has a file of its own."
    for kind in (*STIMULI, *(kind for kind in OUTCOMES if kind in there)):
        yield f"\n### `{kind}`: {MEANINGS[kind]}\n"
        rows = [(each.name, each.base, each.wide, each.about) for each in KINDS[kind]]
        yield from table(("column", "base", "characters", "what"), rows)
    yield "\nRecords of each frame:\n"
    names = sorted({kind for frame in index.frames for kind in frame.records})
    few = index.frames[:MOST_FRAMES]
    rows_of = [(one.frame, f"{one.width} x {one.height}", *(one.records.get(kind, 0) for kind in names)) for one in few]
    yield from table(("frame", "picture", *names), rows_of)
    if len(index.frames) > len(few):
        yield f"\nThose of the other {len(index.frames) - len(few)} frames stand in `index.json`."
    if "collision" in there:
        yield "\nCollisions beyond 524,288 of a frame have no record; `left_out` in `index.json` says how many."


def _waves(scene: Scene) -> Iterator[str]:
    rows = [(f"`{TOP}.{one.key}`", one.bits, one.unit, shown(one.about)) for one in signals(scene.chip)]
    yield from table(("signal", "bits", "unit", "what"), rows)


def _memory(index: Index) -> Iterator[str]:
    yield "## Memory images\n"
    yield (
        "As the first frame begins, its records of line -1 done. A `.hex` file has a word a line for `$readmemh` "
        "(IEEE 1364-2005, 17.2.9), the first at index 0 of the array; a `.bin` file the same memory byte by byte.\n"
    )
    rows = [(f"`{one.file}`", one.words, one.bits, f"0x{one.first:x}", one.about, one.binary) for one in index.memory]
    yield from table(("file", "words", "bits of a word", "address of word 0", "`.hex`", "`.bin`"), rows)
    yield "\n### Video memory\n"
    yield "Which control holds the address of what lies there, and its first and last byte address. Elsewhere nothing was put.\n"
    parts = [(shown(one.owner), f"0x{one.first:06x}", f"0x{one.last:06x}") for one in index.video_memory]
    yield from table(("owner", "first", "last"), parts)


def _when(chip: Chip) -> str:
    """How things go in time: a line that is prepared ahead is told where the chip has one."""
    ahead = " and ".join(_ahead(chip))
    kind = "" if ahead else "no-"
    told = guide("when").replace("{empty line}", guide(f"{kind}empty-line").strip("\n").replace("{ahead}", ahead))
    if chip.time is None:  # nothing is told of when an access is made
        return told.replace("{last line}\n\n", "")
    return told.replace("{last line}", guide(f"{kind}last-line").strip("\n"))


def _ahead(chip: Chip) -> Iterator[str]:
    """What a chip prepares on the line before."""
    for number in layers_ahead(chip):
        yield f"the layer {shown(chip.layers[number].name)}, which is held in a line buffer (see *Line buffers*)"
    if chip.time is not None and chip.sprites is not None and chip.time.clients["sprites"].when == "line before":
        yield "its sprites, which are fetched on the line before the one on which they show (see *Time on the line*)"


@cache
def guide(name: str) -> str:
    """A text of ``guide/``."""
    return (files(__package__) / "guide" / f"{name}.md").read_text("utf-8")
