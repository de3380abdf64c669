"""Values of the wrong kind and out of range, for tests of what Python calls refuse, and what such a refusal has to say.

Law: each tuple is named for what its values are not. Nothing here is random.
"""

from __future__ import annotations

from collections.abc import Callable
from math import inf, nan
from typing import Any

import numpy as np
from refusal import refused

from vdpsim.door.shown import value as shown

NOT_WHOLE: tuple[Any, ...] = (
    None,
    nan,
    inf,
    1.5,
    39.0,
    True,
    np.bool_(1),
    np.float64(2),
    "text",
    b"bytes",
    [],
    (1,),
    object(),
    {},
)
OUT_OF_RANGE: tuple[Any, ...] = (-1, 2**70, -(2**70), np.int64(-1), 10**9)
NOT_TEXT: tuple[Any, ...] = (None, nan, 1, True, b"bytes", [], object())
NOT_FLAG: tuple[Any, ...] = (None, 1, 0, nan, "text", [], object())
NO_OBJECT: tuple[Any, ...] = (None, nan, -1, 2**70, True, "text", b"bytes", [], object(), np.int64(3))
NOT_BYTES: tuple[Any, ...] = (None, 5, 1.5, "text", [1, 2], object())
NOT_SEVERAL: tuple[Any, ...] = (5, 1.5, True, "text", b"bytes", object())
WHOLE = (*NOT_WHOLE, *OUT_OF_RANGE)
FROM_ZERO = (*NOT_WHOLE, -1, np.int64(-1), -(2**70))


def names_it(text: str, name: str, value: Any, told_as: Callable[[Any], str] = shown) -> None:
    """Fails where a refusal does not name what it refuses, or not repeat it as ``told_as`` does."""
    with refused(ValueError, f"(?s)({name})"):
        raise ValueError(text)
    for foreign in ("object has no attribute", "object is not", "__index__", "not supported between", "unhashable"):
        assert foreign not in text
    whole = type(value) in {int, np.int64}
    given = shown(int(value)) if whole else told_as(value)
    if isinstance(value, np.ndarray):
        given = f"{value.dtype} {value.shape}"
    empty = isinstance(value, list) and not value and "got none" in text
    parts = value if isinstance(value, list | tuple) else ()
    assert (
        given in text
        or any(f"got {told_as(part)}" in text for part in parts)
        or (whole and f"{value:#x}" in text.lower())
        or empty
    ), text
