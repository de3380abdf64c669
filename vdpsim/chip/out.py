"""A chip as the text of a chip file.

Law: the file loads as the same chip.
"""

from __future__ import annotations

from ..files.toml.out import key, table, value
from .model import Chip


def chip_text(chip: Chip) -> str:
    """A chip as a chip file that loads as the same chip."""
    data = chip.model_dump(mode="json", exclude_unset=True, by_alias=True)
    plain = {name: one for name, one in data.items() if not isinstance(one, dict | list)}
    parts = ["\n".join(f"{key(name)} = {value(one)}" for name, one in plain.items()) + "\n"]
    for name, one in data.items():
        if isinstance(one, dict):
            parts.append(table(f"[{key(name)}]", one))
        elif isinstance(one, list):
            parts += [table(f"[[{key(name)}]]", each) for each in one]
    return "\n".join(parts)
