"""A chip as the text of a chip file.

Law: the file loads as the same chip.
"""

from __future__ import annotations

from ..files.toml.out import document
from .model import Chip


def chip_text(chip: Chip) -> str:
    """A chip as a chip file that loads as the same chip."""
    return document(chip.model_dump(mode="json", exclude_unset=True, by_alias=True))
