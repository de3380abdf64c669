"""Names of a chip file as identifiers: one rule, keywords of five languages, and two names that become one."""

from __future__ import annotations

import keyword
import re

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from real_parts import module
from refusal import refused

from vdpsim.files.problems import InputError
from vdpsim.handoff.keywords import KEYWORDS
from vdpsim.handoff.names import TITLES, distinct, escaped

LANGUAGES = sorted(KEYWORDS)
IDENTIFIER = re.compile(r"[A-Za-z](_?[A-Za-z0-9])*")
"""IEEE 1076-2008, 15.4.2: the strictest of all: no underscore first, last or beside another."""


@pytest.mark.parametrize(
    ("words", "name"),
    [
        (["near"], "near"),
        (["near", "text.map"], "near_text_map"),
        (["near", "scroll_x"], "near_scroll_x"),
        (["__a--b  c__"], "a_b_c"),
        (["8 x 8"], "n_8_x_8"),
        (["a", "8"], "a_8"),
        (["", "a", ""], "a"),
        ([""], "n"),
        ([], "n"),
        (["_._"], "n"),
        (["Überlauf-Zähler"], "berlauf_Z_hler"),
        (["\u0665"], "n"),
        (["Mode"], "Mode"),
    ],
)
@pytest.mark.parametrize("language", LANGUAGES)
def test_the_rule(language, words, name):
    assert escaped(words, language) == name
    assert escaped(words, language, upper=True) == name.upper()


@pytest.mark.parametrize(
    ("language", "word", "name"),
    [
        ("vhdl", "register", "n_register"),
        ("vhdl", "Register", "n_Register"),
        ("verilog", "logic", "n_logic"),
        ("verilog", "Logic", "Logic"),
        ("verilog", "casex", "n_casex"),
        ("c", "linux", "n_linux"),
        ("c", "register", "n_register"),
        ("c", "entity", "entity"),
        ("python", "None", "n_None"),
        ("python", "none", "none"),
        ("systemrdl", "woclr", "n_woclr"),
        ("systemrdl", "name", "name"),
    ],
)
def test_a_keyword_is_set_apart(language, word, name):
    assert escaped([word], language) == name


def test_capitals_keep_a_keyword_only_where_case_counts():
    assert escaped(["in"], "vhdl", upper=True) == "N_IN"
    assert escaped(["int"], "c", upper=True) == "INT"


@pytest.mark.parametrize("language", LANGUAGES)
@given(words=st.lists(st.text(max_size=12), max_size=4))
@example(words=["end"])
@example(words=["\x1b[2J", '"; drop', "\u202e"])
def test_whatever_stands_in_a_name_an_identifier_comes_out(language, words):
    for upper in (False, True):
        name = escaped(words, language, upper=upper)
        assert IDENTIFIER.fullmatch(name), name
        assert name not in KEYWORDS[language]
        assert language != "vhdl" or name.lower() not in KEYWORDS[language]


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_keyword_comes_out_as_it_went_in_and_none_becomes_another(language):
    names = [escaped([word], language) for word in sorted(KEYWORDS[language])]
    assert set(names) & KEYWORDS[language] == set()
    assert len(set(names)) == len(names)


def test_distinct_gives_each_path_its_name_and_takes_one_twice():
    paths = [["near", "map"], ["far", "map"], ["near", "map"]]
    assert distinct(paths, "c", "Curlew") == {("near", "map"): "near_map", ("far", "map"): "far_map"}


@pytest.mark.parametrize("language", LANGUAGES)
def test_names_that_become_one_are_all_told_with_both(language):
    paths = [["wing-beat"], ["wing", "beat"], ["8"], ["n 8"], ["ok"]]
    with refused(InputError, "(?s)'wing' 'beat'.*'wing-beat'") as raised:
        distinct(paths, language, "Curlew")
    told = [str(problem) for problem in raised.value.problems]
    where = f"in {TITLES[language]}, as"
    assert told == [
        f"Curlew: 'n 8': would be n_8 {where} '8' is: names must differ in letters or digits",
        f"Curlew: 'wing' 'beat': would be wing_beat {where} 'wing-beat' is: names must differ in letters or digits",
    ]


def test_case_alone_is_a_difference_but_in_vhdl_and_in_what_becomes_capitals():
    paths = [["Near"], ["near"]]
    for language in ("verilog", "c", "python"):
        assert len(set(distinct(paths, language, "Curlew").values())) == 2
    with refused(InputError, "'near': would be near in SystemRDL, as 'Near' is"):
        distinct(paths, "systemrdl", "Curlew")
    with refused(InputError, "'near': would be near in VHDL, as 'Near' is"):
        distinct(paths, "vhdl", "Curlew")
    with refused(InputError, "'near': would be NEAR in C, as 'Near' is"):
        distinct(paths, "c", "Curlew", upper=True)


def test_a_refusal_is_one_line_however_hostile_the_names():
    with refused(InputError, "would be a_b in C") as raised:
        distinct([["a\x1b[2Jb"], ["a\n2Jb"], ["a\u202e2Jb"], ["a b"], ["a" + "-" * 9999 + "b"]], "c", "Curlew")
    assert all(len(str(problem)) < 600 and str(problem).isprintable() for problem in raised.value.problems)


# Against the languages themselves


def test_python_lists_its_own():
    assert set(keyword.kwlist) == KEYWORDS["python"]


def test_systemrdl_lists_are_those_of_a_parser():
    lexer = module("systemrdl.parser.SystemRDLLexer", "systemrdl-compiler").SystemRDLLexer
    words = {word.strip("'") for word in lexer.literalNames}
    assert {word for word in words if word.isalnum()} == KEYWORDS["systemrdl"]
