"""A page of the guide on a terminal, by rich: headings, paragraphs, lists, tables and blocks of code.

Law: a link to another page says the command that shows it, a picture what can be seen in it. Code is neither broken nor coloured,
so that it can be copied. Without a terminal nothing but text comes out. Knows no list of pages.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from io import StringIO
from typing import Any

from rich import box
from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from .marked import head, tokens

STYLES = {"strong": "bold", "em": "italic", "h1": "bold underline", "h2": "bold", "h3": "bold", "th": "bold"}

LINED = box.Box("    \n    \n -- \n    \n    \n    \n    \n    \n", ascii=True)
"""A table's lines: one below its head, of a sign that every encoding has."""


def shown_on(screen: Console, text: str) -> None:
    """Print a page, with an empty line after each of its blocks."""
    for block in _inside(tokens(text)):
        screen.print(block, crop=False)
        screen.print()


def plain_text(text: str) -> str:
    """A page as text alone, as wide as COLUMNS in the environment says, else 80 characters; code may be wider."""
    printed = StringIO()
    screen = Console(file=printed, color_system=None, force_terminal=False, highlight=False, markup=False, emoji=False)
    shown_on(screen, text)
    return "\n".join(line.rstrip() for line in printed.getvalue().split("\n"))


def _pieces(part: Sequence[Any]) -> Iterator[Sequence[Any]]:
    """Tokens block by block, each with all that is in it."""
    begin = depth = 0
    for at, token in enumerate(part):
        depth += token.nesting
        if depth == 0:
            yield part[begin : at + 1]
            begin = at + 1


def _block(part: Sequence[Any]) -> RenderableType | None:
    kind = part[0].type
    if kind in {"fence", "code_block"}:
        return _code(part[0])
    if kind == "table_open":
        return _table(part)
    if kind in {"bullet_list_open", "ordered_list_open"}:
        return _points(part)
    return _line(part[1], STYLES.get(part[0].tag, "")) if kind in {"paragraph_open", "heading_open"} else None


def _code(token: Any) -> RenderableType:
    lines = "\n".join(f"    {line}".rstrip() for line in token.content.rstrip("\n").split("\n"))
    code = Text(lines, no_wrap=True, overflow="ignore")
    above = head(token.info)
    return Group(Text(f"{above}:", style="italic"), code) if above else Group(code)


def _line(inline: Any, style: str = "") -> Text:
    """A line of text with its styles; ``overflow`` is never needed, as rich folds what is too long."""
    text, styles, links = Text(style=style), [""], [""]
    for token in inline.children:
        if token.type == "link_open":
            links.append(_leads(str(token.attrs["href"])))
        elif token.type == "link_close":
            text.append(links.pop())
        elif token.type == "image":
            text.append(f"[picture: {token.content}]", style="italic")
        elif token.nesting > 0:
            styles.append(STYLES.get(token.tag, ""))
        elif token.nesting < 0:
            styles.pop()
        else:
            text.append(*_piece(token, styles[-1]))
    return text


def _piece(token: Any, style: str) -> tuple[str, str]:
    """A text and its style; code keeps its marks, by which it is known without colour too."""
    if token.type == "code_inline":
        return f"`{token.content}`", "cyan"
    return " " if token.type == "softbreak" else token.content, style


def _leads(target: str) -> str:
    """What is said behind a link: the command for a page, or the address."""
    page, dot, _ = target.partition(".md")
    return f" (vdpsim guide {page})" if dot else f" ({target})"


def _points(part: Sequence[Any]) -> RenderableType:
    """A list, its marks in a column of their own; lists in it are blocks of their item."""
    grid = Table.grid(padding=(0, 1))
    grid.add_column(no_wrap=True)
    grid.add_column()
    for number, item in enumerate(_pieces(part[1:-1]), 1):
        mark = f"{number}." if part[0].type == "ordered_list_open" else "-"
        for shown in _inside(item[1:-1]):
            grid.add_row(mark, shown)
            mark = ""
    return grid


def _inside(part: Sequence[Any]) -> Iterator[RenderableType]:
    """What rich prints of the blocks of a page, or of an item of a list."""
    return (shown for shown in map(_block, _pieces(part)) if shown is not None)


def _table(part: Sequence[Any]) -> RenderableType:
    table = Table(box=LINED, pad_edge=False)
    row: list[Text] = []
    for at, token in enumerate(part):
        if token.type in {"th_open", "td_open"}:
            row.append(_line(part[at + 1], STYLES.get(token.tag, "")))
            row[-1].justify = "right" if "right" in str(token.attrs.get("style", "")) else "left"
        elif token.type == "tr_close":
            if table.columns:
                table.add_row(*row)
            else:
                for title in row:
                    table.add_column(title, overflow="fold")
            row = []
    return table
