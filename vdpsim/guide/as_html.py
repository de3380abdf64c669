"""A page of the guide as HTML: no script, no request, and nothing that is not in the page itself.

Law: every text is escaped; the page's own policy forbids scripts and the network, and its pictures are in it as data. Knows no
files and no list of pages but the one that it is given.
"""

from __future__ import annotations

import html
from base64 import b64encode
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from ..handoff.sheet.style import page_head
from .marked import anchor, head, tokens

MORE_STYLE = """
body { max-width: 60rem; }
h3 { margin: 1.5rem 0 .4rem; font-size: 1.1rem; }
code, pre { font-family: ui-monospace, "DejaVu Sans Mono", monospace; font-size: .875em; }
pre { overflow-x: auto; padding: .7rem .9rem; background: var(--band); border: 1px solid var(--edge); line-height: 1.4; }
pre code { font-size: .8125rem; }
pre.out { background: none; border-style: dashed; }
pre:focus-visible { outline: 2px solid var(--strong); outline-offset: 2px; }
img { max-width: 100%; height: auto; image-rendering: pixelated; border: 1px solid var(--edge); }
p.file { margin: 1rem 0 0; font-size: .875rem; color: var(--faint); }
p.file + pre { margin-top: .2rem; }
nav.pages { font-size: .875rem; border-bottom: 1px solid var(--edge); padding-bottom: .6rem; margin-bottom: 1rem; }
nav.pages summary { cursor: pointer; color: var(--strong); }
nav.pages p { margin: .6rem 0 .1rem; color: var(--faint); }
"""

TEXTS = {"text", "code_inline", "softbreak", "html_inline", "html_block"}
"""Tokens that are text; all others are elements."""


def as_html(
    text: str, title: str, groups: Mapping[str, Mapping[str, str]], picture: Callable[[str], bytes], here: str
) -> str:
    """A page of Markdown as a whole page of HTML, UTF-8, with links to all pages of ``groups`` (title by file name).

    ``picture`` gives the PNG that the text calls by a name; ``here`` is the page's own file name.
    """
    body = "".join(_written(tokens(text), picture))
    begin = page_head(html.escape(title), MORE_STYLE, pictures=True)
    return f"{begin}{_pages(groups, here)}<main>\n{body}</main>\n</body>\n</html>\n"


def _pages(groups: Mapping[str, Mapping[str, str]], here: str) -> str:
    """The list of all pages, folded."""
    parts = []
    for group, pages in groups.items():
        links = (
            f'<li><a href="{file}"{_current(file, here)}>{html.escape(title)}</a></li>' for file, title in pages.items()
        )
        parts.append(f"<p>{html.escape(group)}</p><ul>{''.join(links)}</ul>")
    inside = "".join(parts)
    return f'<nav class="pages" aria-label="Pages"><details><summary>All pages</summary>{inside}</details></nav>\n'


def _current(file: str, here: str) -> str:
    return ' aria-current="page"' if file == here else ""


def _written(parsed: Sequence[Any], picture: Callable[[str], bytes]) -> Iterator[str]:
    """Tokens as HTML, one after the other. A token's own tag is HTML's name for it."""
    for at, token in enumerate(parsed):
        if token.type == "inline":
            yield from _written(token.children, picture)
        elif token.type in {"fence", "code_block"}:
            yield _code(token)
        elif token.type == "image":
            yield _image(token, picture)
        elif token.type == "heading_open":
            yield f'<{token.tag} id="{anchor(parsed[at + 1].content)}">'
        elif token.type == "table_open":
            yield '<div class="wide" role="region" tabindex="0" aria-label="table"><table>'
        elif token.type == "table_close":
            yield "</table></div>\n"
        elif token.type in TEXTS:
            yield _text(token)
        elif not token.hidden:
            yield _tag(token)


def _tag(token: Any) -> str:
    if token.nesting < 0:
        return f"</{token.tag}>" + ("\n" if token.block else "")
    attributes = {key: _address(str(value)) if key == "href" else str(value) for key, value in token.attrs.items()}
    told = "".join(f' {key}="{html.escape(value)}"' for key, value in attributes.items())
    return f"<{token.tag}{told}>"


def _text(token: Any) -> str:
    """A text, escaped; what Markdown lets through as HTML is text as well."""
    if token.type == "softbreak":
        return "\n"
    said = html.escape(token.content)
    return f"<code>{said}</code>" if token.type == "code_inline" else said


def _code(token: Any) -> str:
    """A block, with what it is said above it where it is a file."""
    out = ' class="out"' if token.info == "text" else ""
    above = f'<p class="file">{html.escape(head(token.info))}</p>\n' if head(token.info) else ""
    return f'{above}<pre tabindex="0"{out}><code>{html.escape(token.content)}</code></pre>\n'


def _image(token: Any, picture: Callable[[str], bytes]) -> str:
    data = b64encode(picture(str(token.attrs["src"]))).decode("ascii")
    return f'<img alt="{html.escape(token.content)}" src="data:image/png;base64,{data}">'


def _address(target: str) -> str:
    """A link to another page of the guide leads to its file of HTML."""
    file, dot, rest = target.partition(".md")
    return f"{file}.html{rest}" if dot and "/" not in file else target
