"""A data sheet as it is known before any file: sections of sentences, lists, tables and drawings.

Law: whatever a data sheet says stands here once; a page and Markdown are two ways to write it down. Texts are plain: nothing in
them is escaped. Knows no chip and no form of file.
"""

from __future__ import annotations

from dataclasses import dataclass

KEPT = 32
"""Sections of which the text is kept: most of a sheet is the chip's alone, and the next scene's sheet says it again."""


@dataclass(frozen=True)
class Words:
    """A paragraph."""

    text: str


@dataclass(frozen=True)
class Points:
    """A list; in an ``ordered`` one it matters who comes first."""

    items: tuple[str, ...]
    ordered: bool = False


@dataclass(frozen=True)
class Grid:
    """A table: what it is, the names of its columns, rows of texts; the columns in ``right`` hold numbers."""

    caption: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()


@dataclass(frozen=True)
class Picture:
    """A drawing: the ``name`` of its file without ending, the SVG, and the sentence that stands below it."""

    name: str
    svg: str
    caption: str


Part = Words | Points | Grid | Picture


@dataclass(frozen=True)
class Section:
    """A section of a data sheet under its ``title``, which no other has."""

    title: str
    parts: tuple[Part, ...]

    @property
    def anchor(self) -> str:
        """The title as the name of a place to go to: small letters and digits, and a hyphen for a space."""
        return "".join(letter for letter in self.title.lower().replace(" ", "-") if letter.isalnum() or letter == "-")


@dataclass(frozen=True)
class Sheet:
    """A whole data sheet: what chip it is of, sentences about it, its sections."""

    title: str
    about: tuple[str, ...]
    sections: tuple[Section, ...]

    @property
    def pictures(self) -> tuple[Picture, ...]:
        """All drawings, in order."""
        return tuple(part for section in self.sections for part in section.parts if isinstance(part, Picture))
