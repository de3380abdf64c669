"""How tests ask for a refusal: never without the words that it must say."""

from __future__ import annotations

import pytest


def refused(error: type[BaseException], told: str) -> pytest.RaisesExc[BaseException]:
    """A block in which ``error`` is raised, with a message that ``told``, a regular expression, is found in."""
    return pytest.raises(error, match=told)  # the match is what this function is for
