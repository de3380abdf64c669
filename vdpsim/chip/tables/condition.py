"""A rung's condition: ``FIELD = NUMBER`` on a field of a cell or a sprite.

Law: one relation, one field, one number; parsed once, asked of ints and arrays alike. Knows no chip.
"""

from __future__ import annotations

import operator
import re
from collections.abc import Callable
from typing import Any

from ...door.shown import value as shown

RELATIONS: dict[str, Callable[[Any, Any], Any]] = {
    "=": operator.eq,
    "!=": operator.ne,
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
}


class Condition:
    """``FIELD = NUMBER`` (or ``!=``, ``<``, ``<=``, ``>``, ``>=``). Raises ValueError where the text reads otherwise.

    >>> Condition("priority >= 2").holds(3)
    True
    """

    field: str
    relation: str
    number: int

    GRAMMAR = re.compile(r"^\s*([a-z_]+)\s*(=|!=|<=|>=|<|>)\s*(\d{1,9})\s*$")

    def __init__(self, text: str) -> None:
        match = self.GRAMMAR.match(text)
        if not match:
            raise ValueError(f'must read like "priority = 1" (with =, !=, <, <=, > or >=), got {shown(text)}')
        self.field, self.relation, self.number = match[1], match[2], int(match[3])

    def holds(self, value: Any) -> Any:
        """Whether the condition holds for ``value``, an int or an array (then an array of bool)."""
        return RELATIONS[self.relation](value, self.number)

    def __str__(self) -> str:
        return f"{self.field} {self.relation} {self.number}"

    def __repr__(self) -> str:
        return f"Condition({str(self)!r})"

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Condition) and str(self) == str(other)

    def __hash__(self) -> int:
        return hash(str(self))
