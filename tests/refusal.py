"""How tests ask for a refusal: never without the words that it must say."""

from __future__ import annotations

from typing import TypeVar

import pytest

Error = TypeVar("Error", bound=BaseException)


def refused(error: type[Error] | tuple[type[Error], ...], told: str) -> pytest.RaisesExc[Error]:
    """A block in which ``error`` is raised, with a message that ``told``, a regular expression, is found in."""
    return pytest.raises(error, match=told)  # the match is what this function is for
