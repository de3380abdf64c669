"""The files that tell a chip's address map, in the order in which they are written.

Law: each is whole; what is wrong with names is told before the first is there. Knows no folder.
"""

from __future__ import annotations

from collections.abc import Iterator

from ...chip.model import Chip
from .address_map import entries
from .document import drawings, registers_md
from .pieces import FILE, named
from .rdl import registers_rdl


def register_files(chip: Chip) -> Iterator[tuple[str, bytes]]:
    """``registers.rdl``, ``registers.md`` and ``registers/NAME.svg`` for each word: path within the folder, and bytes in UTF-8.

    Raises InputError, at the first, where names of the chip become one as names of SystemRDL (see ``names.py``).
    """
    found = named(entries(chip))
    yield FILE, registers_rdl(chip, found).encode()
    yield "registers.md", registers_md(chip, found).encode()
    for path, text in drawings(found):
        yield path, text.encode()
