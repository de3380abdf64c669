"""A chip's registers: words at addresses, and the fields in them that set its controls."""

from .fields import (
    Part,
    Register,
    RegisterField,
    field_names,
    fields,
    own_names,
    registers,
    rest_values,
    settable,
    unfit,
)
from .sizes import at_largest, at_sizes

__all__ = [
    "Part",
    "Register",
    "RegisterField",
    "at_largest",
    "at_sizes",
    "field_names",
    "fields",
    "own_names",
    "registers",
    "rest_values",
    "settable",
    "unfit",
]
