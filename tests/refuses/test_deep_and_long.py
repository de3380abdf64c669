"""Is every text answered in a time that grows as the text does, and nothing refused that goes deep only within texts?"""

from __future__ import annotations

import gc
import time
import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from refusal import refused
from soaked import every, few

import vdpsim
from vdpsim.files.toml.places import DEEPEST, places, too_deep
from vdpsim.files.toml.tables import LARGEST, MOST_TOLD, Source

HANG = 30.0
"""Seconds after which something does not end: the guard of a slow machine, no measure."""

# Texts by what they repeat: name -> what n characters of it are.
FAMILIES = {
    "spaces": lambda n: "a = 1" + " " * n,
    "spaces before a key": lambda n: " " * n + "a = 1",
    "spaces in a key": lambda n: "a" + " " * n + "= 1",
    "words and spaces": lambda n: ("a" + " " * 50) * (n // 51),
    "tabs in a list": lambda n: "a = [" + "\t" * n + "]",
    "lines": lambda n: "\n" * n,
    "comments": lambda n: "#\n" * (n // 2),
    "a comment": lambda n: "#" * n,
    "comments in a list": lambda n: "a = [" + "#\n" * (n // 2) + "]",
    "numbers": lambda n: "a = [" + "1," * (n // 2) + "]",
    "lists": lambda n: "a = [" + "[]," * (n // 3) + "]",
    "tables": lambda n: "a = [" + "{}," * (n // 3) + "]",
    "texts": lambda n: "a = [" + '"",' * (n // 3) + "]",
    "keys": lambda n: "".join(f"k{i}=1\n" for i in range(n // 9)),
    "heads": lambda n: "".join(f"[k{i}]\n" for i in range(n // 9)),
    "heads of lists": lambda n: "[[a]]\n" * (n // 6),
    "heads below lists": lambda n: "[[a]]\n[a.b]\n" * (n // 12),
    "deep heads": lambda n: "".join("[" + "a." * 60 + f"b{i}]\n" for i in range(n // 128)),
    "deep keys": lambda n: "".join("a." * 60 + f"b{i}=1\n" for i in range(n // 128)),
    "deep lists": lambda n: "a = [" + ("[" * 60 + "]" * 60 + ",") * (n // 121) + "]",
    "escapes": lambda n: 'a = "' + "\\n" * (n // 2) + '"',
    "long escapes": lambda n: 'a = """' + "\\\n" * (n // 2) + '"""',
    "quotes": lambda n: '"' * n,
    "single quotes": lambda n: "'" * n,
    "quotes in a long text": lambda n: 'a = """' + '""\n' * (n // 3) + '"""',
    "no end": lambda n: 'a = """' + '"\n' * (n // 2),
    "backslashes": lambda n: 'a = "' + "\\" * n,
    "digits": lambda n: "a = " + "1" * n,
    "digits of a fraction": lambda n: "a = 0." + "1" * n,
    "hexadecimal": lambda n: "a = 0x" + "f" * n,
    "underscores": lambda n: "a = 1" + "_1" * (n // 2),
    "a name": lambda n: "a" * n + " = 1",
    "a dotted key": lambda n: "a." * (n // 2) + "b = 1",
    "a dotted key of texts": lambda n: '"a" . ' * (n // 6) + "b = 1",
    "a dotted key in a table": lambda n: "a = { " + "b." * (n // 2) + "c = 1 }",
    "a deep head": lambda n: "[" + "a." * (n // 2) + "b]",
    "brackets": lambda n: "a = " + "[" * n,
    "braces": lambda n: "a = " + "{a=" * (n // 3),
    "dots in a text": lambda n: 'a = "' + "g." * (n // 2) + '"',
    "maps": lambda n: "maps = [" + "1," * (n // 2) + "]",
    "maps of short lists": lambda n: '[[maps]]\nlayer = "a"\nrows = [' + "[]," * (n // 3) + "]",
}  # fmt: skip


def seconds(text: str) -> float:
    """How long a scene's loader and the finder of lines take to take or refuse it.

    The collector is off: what it takes grows with all that the other tests of the process have left, not with the text.
    """
    gc.collect()
    gc.disable()
    try:
        begun = time.process_time()
        with refused(vdpsim.InputError, "chip") as caught:
            vdpsim.parse_chip(text)
        assert len(caught.value.problems) <= MOST_TOLD + 1
        assert max(len(str(problem)) for problem in caught.value.problems) < 500
        return time.process_time() - begun
    finally:
        gc.enable()


@pytest.mark.unmeasured
@pytest.mark.parametrize("name", every(8, FAMILIES))
def test_four_times_the_text_takes_about_four_times_as_long(name):
    """A square would take sixteen times as long; ten times are let pass, for a busy machine."""
    four, once = (seconds(FAMILIES[name](n)) for n in (80_000, 20_000))
    if four >= max(0.2, 10 * once):  # once more, in case the machine was busy
        four, once = (min(seconds(FAMILIES[name](n)) for _ in range(4)) for n in (80_000, 20_000))
    assert four < max(0.2, 10 * once), (once, four)
    assert four < HANG


@pytest.mark.unmeasured
@pytest.mark.parametrize(
    "name", few(["comments in a list", "deep heads", "numbers", "maps"], lambda name: name == "comments in a list")
)
def test_a_file_of_the_largest_size_is_answered(name):
    text = FAMILIES[name](LARGEST - 100)
    assert seconds(text) < HANG


def test_more_mistakes_than_anybody_reads_are_counted():
    with refused(vdpsim.InputError, "chip: 8,006 mistakes in all; these are the first") as caught:
        vdpsim.parse_chip("layers = [" + "1," * 8_000 + "]")
    assert len(caught.value.problems) < 100
    with refused(vdpsim.InputError, "mistakes in all; these are the first") as caught:
        vdpsim.parse_chip("".join(f"k{number} = 1\n" for number in range(MOST_TOLD + 1)))
    assert len(caught.value.problems) == MOST_TOLD + 1


DEEP = {
    "lists": lambda n: "a = " + "[" * n + "]" * n,
    "tables": lambda n: "a = " + "{b=" * n + "1" + "}" * n,
    "a key": lambda n: ".".join("b" * n) + " = 1",
    "a head": lambda n: "[" + " . ".join("b" * n) + "]",
    "a key in a table": lambda n: "a = { " + ".".join(["'b.'"] * n) + " = 1 }",
}


@pytest.mark.parametrize("kind", DEEP)
def test_both_sides_of_the_depth(kind):
    """With the line, and what is allowed."""
    ends = "\n\n" + DEEP[kind](DEEPEST)
    assert too_deep(ends) is None
    tomllib.loads(ends)
    with refused(vdpsim.InputError, rf"^x:3: is nested too deeply: .* at most {DEEPEST}"):
        Source("\n\n" + DEEP[kind](DEEPEST + 1), "x")


@pytest.mark.parametrize("quoted", ['"{}"', "'{}'", '"""\n{}"""', "'''\n{}'''", '"a" # {}', '"\\"{}"', '"""\\"""{}"""'])
@pytest.mark.parametrize("inside", ["g." * 100, "[" * 100, "{" * 100, "a . " * 100, "]" * 100])
def test_depth_within_texts_and_comments_is_none(quoted, inside):
    text = f"a = {quoted.format(inside)}\nb = 1\n"
    assert tomllib.loads(text)["b"] == 1
    assert Source(text, "x").data["b"] == 1


PIECES = st.lists(
    st.sampled_from(["a", ".", "[", "]", "{", "}", '\\"', "'", "#", "=", " ", "\\\\", "\n", "é", "''", ","]),
    max_size=200,
).map("".join)


def texts(inner: str) -> st.SearchStrategy[str]:
    """Ways to write a text that holds ``inner`` as TOML, as far as each can."""
    plain = inner.replace("\n", " ").replace("'", "")
    return st.sampled_from(
        [
            '"' + inner.replace("\n", "") + '"',
            f"'{plain}'",
            f'"""{inner}"""',
            f"'''{inner.replace(chr(39), '')}'''",
            f'"""{inner}"""""',
            f"1 # {plain}",
        ]
    )


FILES = st.lists(PIECES.flatmap(texts), min_size=1, max_size=6).map(
    lambda values: "".join(f"k{place}.a.\"b.[\".'c]' = {value}\n" for place, value in enumerate(values))
)


@given(FILES)
def test_no_file_that_the_parser_takes_is_refused_for_what_its_texts_hold(text):
    """Against Python's own tomllib: what it takes, the bounds let pass, and the finder of lines finds the last key."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    assert too_deep(text) is None
    last = f"k{len(data) - 1}"
    found = places(text)
    assert text.split("\n")[found[(last,)] - 1].startswith(f"{last}.a.")
