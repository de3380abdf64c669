"""Constants as text in four languages: Verilog-2005, VHDL-2008, C11 and Python.

Law: a language says how a number, a table and a remark are written, and what goes around them; what they are is told once, by the
sections. Every file is complete: it needs nothing but its language's standard library. Knows no chip.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import lru_cache
from textwrap import wrap
from typing import NamedTuple

from ..keywords import Language as KeywordsOf
from .table import Constant, Item, Section

WIDE = 96
"""Columns that remarks and tables are broken at."""

Named = Callable[[Item], str]


class Language(NamedTuple):
    """``file``: its name. ``remark``: what a line of remarks begins with. ``head``, ``foot``: lines around everything.

    ``scalar`` and ``table``: from a name and its numbers to lines. ``key``: the language's name for the rule of names.
    """

    file: str
    key: KeywordsOf
    remark: str
    head: Sequence[str]
    foot: Sequence[str]
    scalar: Callable[[str, int], list[str]]
    table: Callable[[str, Sequence[int]], list[str]]


def text(language: Language, sections: Iterable[Section], named: Named, opening: Sequence[str]) -> bytes:
    """The whole file; ``opening`` stands at its top as remarks."""
    lines = [*_remarks(language, opening), *(["", *language.head] if language.head else [])]
    for section in sections:
        lines += ["", *_remarks(language, [f"{section.title}. {section.about}"])]
        for item in section.items:
            lines += _remarks(language, [item.about] if item.about else [])
            given = item.value if isinstance(item, Constant) else item.values
            lines += (
                language.scalar(named(item), given) if isinstance(given, int) else language.table(named(item), given)
            )
    return ("\n".join([*lines, "", *language.foot]).rstrip("\n") + "\n").encode()


def _remarks(language: Language, paragraphs: Iterable[str]) -> Iterator[str]:
    for paragraph in paragraphs:
        for line in _broken(paragraph):
            yield f"{language.remark} {line}".rstrip()


@lru_cache(4096)  # a remark stands in the files of all languages
def _broken(paragraph: str) -> Sequence[str]:
    return wrap(paragraph, WIDE) or [""]


def _listed(words: Sequence[str], first: str, last: str, indent: str = "    ") -> list[str]:
    """Words in several lines, commas between, with what stands before and after them."""
    each = max(1, WIDE // (max(map(len, words)) + 2))
    rows = [", ".join(words[at : at + each]) for at in range(0, len(words), each)]
    return [first, *(f"{indent}{row}," for row in rows[:-1]), f"{indent}{rows[-1]}", last]


MOST_INTEGER = (1 << 31) - 1
"""The largest number that every VHDL integer and every Verilog integer holds."""


def _verilog(name: str, value: int) -> list[str]:
    if value > 0xFFFF_FFFF:
        return [f"localparam [63:0] {name} = 64'h{value:x};"]
    if value > MOST_INTEGER:
        return [f"localparam [31:0] {name} = 32'h{value:x};"]
    return [f"localparam integer {name} = {value};"]


def _verilog_table(name: str, values: Sequence[int]) -> list[str]:
    if not values:
        return [f"localparam [31:0] {name} = ~32'd0; // empty"]
    words = [f"32'd{value}" if value >= 0 else f"~32'd{~value}" for value in reversed(values)]
    return _listed(words, f"localparam [{32 * len(values) - 1}:0] {name} = {{", "};")


def _vhdl(name: str, value: int) -> list[str]:
    if value > MOST_INTEGER:
        wide = 64 if value > 0xFFFF_FFFF else 32
        return [f'  constant {name} : std_logic_vector({wide - 1} downto 0) := x"{value:0{wide // 4}x}";']
    return [f"  constant {name} : integer := {value};"]


def _vhdl_table(name: str, values: Sequence[int]) -> list[str]:
    if max(values, default=0) > MOST_INTEGER:
        kind, words = "words", [f'x"{value & 0xFFFF_FFFF:08x}"' for value in values]
    else:
        kind, words = "integers", [str(value) for value in values]
    if len(words) < 2:  # a list of one is told by place
        words = [f"0 => {word}" for word in words or ["-1"]]
    return _listed(words, f"  constant {name} : {kind}(0 to {len(words) - 1}) := (", "  );")


def _c(name: str, value: int) -> list[str]:
    if value > MOST_INTEGER:
        return [f"#define {name} UINT64_C({value:#x})"]
    return [f"#define {name} {value if value >= 0 else f'({value})'}"]


def _c_table(name: str, values: Sequence[int]) -> list[str]:
    words = [f"{value}" if value <= MOST_INTEGER else f"INT64_C({value})" for value in values] or ["-1"]
    first, *lines = _listed(words, f"#define {name} {{", "}")
    return [line + " \\" for line in (first, *lines[:-1])] + [lines[-1]]


def _python(name: str, value: int) -> list[str]:
    return [f"{name} = {value if value <= MOST_INTEGER else hex(value)}"]


def _python_table(name: str, values: Sequence[int]) -> list[str]:
    if not values:
        return [f"{name} = ()"]
    return _listed([*map(str, values[:-1]), f"{values[-1]},"], f"{name} = (", ")")


LANGUAGES = (
    Language("constants.svh", "verilog", "//", (), (), _verilog, _verilog_table),
    Language(
        "constants.vhd",
        "vhdl",
        "--",
        (
            "library ieee;",
            "use ieee.std_logic_1164.all;",
            "",
            "package constants is",
            "  type integers is array (natural range <>) of integer;",
            "  type words is array (natural range <>) of std_logic_vector(31 downto 0);",
        ),
        ("end package constants;",),
        _vhdl,
        _vhdl_table,
    ),
    Language(
        "constants.h",
        "c",
        "//",
        ("#ifndef CHIP_CONSTANTS_H", "#define CHIP_CONSTANTS_H", "", "#include <stdint.h>"),
        ("#endif",),
        _c,
        _c_table,
    ),
    Language("constants.py", "python", "#", (), (), _python, _python_table),
)
"""The languages that a chip's constants are written in."""
