"""Searches cut short, for tests of what holds however well is chosen.

Law: only how long is searched is changed, by the counts that bound it; what is searched, and how, stays. What is to be chosen
well, or the same on every machine, is asked of the whole search, in ``right/test_choose.py``
and ``right/test_pack.py``.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from vdpsim.art.colours.choose import choose
from vdpsim.art.packing.pack import pack
from vdpsim.art.packing.place import place


@contextmanager
def short_choice() -> Iterator[None]:
    """Colours are chosen in few rounds from two starts."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(choose.__globals__, "_FIRST", (1_100_000_000, 2, 32))
        patch.setitem(choose.__globals__, "_STARTS", 2)
        yield


@contextmanager
def short_packing() -> Iterator[None]:
    """Fewer banks are looked for in few moves; that there are none is proved as ever."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(pack.__globals__, "FIRST_STEPS", 60)
        patch.setitem(pack.__globals__, "MORE_STEPS", 200)
        patch.setitem(place.__globals__, "QUICK_STEPS", 50)
        yield


@contextmanager
def short_place() -> Iterator[None]:
    """A place for every set is looked for from few fillings, in few moves each."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(place.__globals__, "STARTS", 3)
        patch.setitem(place.__globals__, "STEPS", 100)
        patch.setitem(place.__globals__, "QUICK_STEPS", 50)
        yield
