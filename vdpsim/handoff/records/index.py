"""The index of an exported folder: what its numbers mean, which files it has, and how many records each frame has.

Law: whoever reads a folder learns from here what it holds, so that chip and scene are not needed any more. It is plain data, and
what is read from a file is checked like any other input. Knows no record's text.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, ClassVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from ...files import UnreadableError, read
from ...files.problems import InputError, Problem
from ...files.toml.words import sentence, without_echoes

NAME = "index.json"

FORMAT = 1
"""The version of the folder's files; another one is refused."""

MOST_BYTES = 1 << 26
"""The longest index, in bytes: that of 100,000 frames, the most that are exported at once, has about half of it."""

Count = Annotated[int, Field(ge=0, le=1 << 40)]
Names = Annotated[tuple[str, ...], Field(max_length=4096)]


class _Plain(BaseModel):
    model_config: ClassVar[ConfigDict] = ConfigDict(extra="forbid", frozen=True)


class FrameIndex(_Plain):
    """A frame of the folder: its number, the size of its picture, and how many records of each kind it has.

    ``left_out``: how many collisions are not among them, where there are more than 524,288.
    """

    frame: Count
    width: Annotated[int, Field(ge=1, le=1024)]
    height: Annotated[int, Field(ge=1, le=768)]
    records: dict[str, Count]
    left_out: Count = 0


class ImageIndex(_Plain):
    """A memory image: its file without its ending, its words and the bits of each, and what the words are.

    ``first``: the address in the chip at which word 0 stands. ``binary``: what the bytes of its ``.bin`` are.
    """

    file: str
    words: Count
    bits: Annotated[int, Field(ge=1, le=64)]
    first: Count
    about: str
    binary: str


class PartIndex(_Plain):
    """A part of video memory: the control that holds its address, the addresses of its first and its last byte."""

    owner: str
    first: Count
    last: Count


class Index(_Plain):
    """What a folder holds. Numbers in records count through ``sources``, ``rungs``, ``clients`` and so on from 0.

    ``width`` and ``height`` of the picture in dots and lines, the largest where it has several; ``slots_per_line``, 0 where
    the chip says nothing of time, of which the first ``blank_slots`` are over before dot 0 of a picture of that width;
    ``dots_per_slot`` as two whole numbers, the one over the other.
    """

    format: Annotated[int, Field(ge=FORMAT, le=FORMAT)]
    chip: str
    scene: str
    parts: Names
    width: Annotated[int, Field(ge=1, le=1024)]
    height: Annotated[int, Field(ge=1, le=768)]
    dots_per_line: Annotated[int, Field(ge=1, le=8192)]
    lines_per_frame: Annotated[int, Field(ge=1, le=8192)]
    slots_per_line: Annotated[int, Field(ge=0, le=1 << 20)]
    blank_slots: Annotated[int, Field(ge=0, le=1 << 20)]
    dots_per_slot: tuple[Annotated[int, Field(ge=1)], Annotated[int, Field(ge=1)]]
    sources: Names
    rungs: Names
    clients: Names
    fields: Annotated[tuple[str, ...], Field(max_length=1 << 17)]
    registers: Names
    sprites: dict[str, Count]
    memory: tuple[ImageIndex, ...]
    video_memory: tuple[PartIndex, ...]
    files: Names
    frames: Annotated[tuple[FrameIndex, ...], Field(min_length=1)]

    def text(self) -> bytes:
        """The index as JSON text."""
        return (self.model_dump_json(indent=1) + "\n").encode()


def sizes(index: Index) -> dict[int, tuple[int, int]]:
    """The picture of each frame: lines and dots, which are fewer than the index's own where the chip has several sizes."""
    return {one.frame: (one.height, one.width) for one in index.frames}


def read_index(folder: str | Path) -> Index:
    """The index of the exported ``folder``. Raises InputError where there is none, or with everything that is wrong with it."""
    path = Path(folder) / NAME
    try:
        return Index.model_validate_json(read(path, MOST_BYTES))
    except UnreadableError as error:
        raise InputError([Problem(str(path), 0, "", f"{error}; it stands in every folder that export makes")]) from None
    except ValidationError as error:
        found = without_echoes(error.errors(include_url=False))
        told = [(".".join(map(str, each["loc"])), sentence(each, Index)) for each in found]
        raise InputError([Problem(str(path), 0, place, message) for place, message in told]) from None
