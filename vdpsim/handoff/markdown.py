"""Markdown: foreign text made text, and tables.

Law: whatever characters a name has, it is shown and does nothing. Knows no folder.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

_SPECIAL = re.compile(r"([\\`*_\[\]<>|#&~])")


def shown(text: str) -> str:
    """Foreign text as it is to stand in Markdown."""
    return _SPECIAL.sub(r"\\\1", text)


def table(columns: Sequence[str], rows: Iterable[Sequence[object]]) -> Iterator[str]:
    """A Markdown table."""
    yield f"| {' | '.join(columns)} |"
    yield f"| {' | '.join('---' for _ in columns)} |"
    yield from (f"| {' | '.join(map(str, row))} |" for row in rows)
