"""Does what is written as TOML read back as the same? Every text, key and number, against Python's own tomllib."""

from __future__ import annotations

import math
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from refusal import refused

import vdpsim
from vdpsim.files.toml.out import LARGEST_BITS, key, table, value

TEXTS = st.text(st.characters(exclude_categories=("Cs",)), max_size=30)
VALUES = st.recursive(
    st.booleans() | st.integers() | st.floats() | TEXTS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXTS, inner, max_size=4),
    max_leaves=20,
)


def read(text: str) -> object:
    return tomllib.loads(f"value = {text}")["value"]


def same(one: object, other: object) -> bool:
    """Equal, and of one type, with nan equal to itself and -0.0 another than 0.0."""
    return repr(one) == repr(other)


def read_big(given: object) -> bool:
    """Whether ``given`` comes back, compared as numbers where it is too long for digits."""
    found = read(value(given))
    return found == given if isinstance(given, int) else same(found, given)


@given(st.dictionaries(TEXTS, VALUES, max_size=5))
def test_a_table_of_anything_reads_back(data):
    found = tomllib.loads(table("[all]", data))["all"]
    assert list(found) == list(data)
    assert found == data or any("nan" in repr(one) for one in _leaves(data))


def _leaves(data: object) -> list[object]:
    """The values that are neither lists nor tables."""
    inner = data.values() if isinstance(data, dict) else data if isinstance(data, list) else None
    return [data] if inner is None else [leaf for one in inner for leaf in _leaves(one)]


@pytest.mark.parametrize("first", range(0, 0x110000, 0x1000))
def test_every_character_reads_back_in_texts_and_in_keys(first):
    """All of them, but for the half characters, which are left out here."""
    text = "".join(map(chr, range(first, first + 0x1000)))
    text = text.encode("utf-8", "ignore").decode()
    assert read(value(text)) == text
    assert tomllib.loads(f"{key(text)} = 1") == {text: 1}


def test_half_characters_are_refused_in_keys_too():
    for name in ("\ud800", "\ude00\ud83d", "a\udcff", "\udfff"):
        with refused(vdpsim.InputError, "half characters"):
            key(name)
        with refused(vdpsim.InputError, "half characters"):
            value([{"a": name}])


@pytest.mark.parametrize("given", [math.inf, -math.inf, math.nan, 0.0, -0.0, 1e300, 5e-324, 1e16, 0.1, 2**63, -(2**64)])
def test_numbers_at_the_ends_read_back(given):
    assert same(read(value(given)), given)


def test_numbers_of_any_size_read_back_or_are_refused():
    for bits in (LARGEST_BITS, LARGEST_BITS + 1, 100_000):
        assert read_big((1 << bits) - 1)
    assert read_big(1 - (1 << LARGEST_BITS))
    with refused(vdpsim.InputError, "can hold no number below 0 of 8001 bits"):
        value(-(1 << LARGEST_BITS))
