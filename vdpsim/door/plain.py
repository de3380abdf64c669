"""Values as plain data: what ``json.dumps`` takes as it is.

Law: a fraction is a text such as ``"2000000/7"``, a tuple a list, numpy's number Python's; a name of a table's row is text.
Anything else is a fault of ours, and refused.
"""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from pathlib import PurePath
from typing import Any


def plain(value: Any) -> Any:
    """``value`` as None, bool, int, float, str, and lists and dicts of these. Raises TypeError where it cannot be."""
    if value is None or isinstance(value, bool | int | float | str):
        return value
    if isinstance(value, Mapping):
        return {str(name): plain(each) for name, each in value.items()}
    if isinstance(value, list | tuple | set | frozenset | range):
        return [plain(each) for each in (sorted(value) if isinstance(value, set | frozenset) else value)]
    if isinstance(value, Fraction | PurePath):
        return str(value)
    if hasattr(value, "tolist"):  # numpy's: asked for so that budgets need not load it
        return value.tolist()
    raise TypeError(f"{type(value).__name__} is no plain data")
