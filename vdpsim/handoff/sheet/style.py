"""How a page without scripts begins and looks: on wide and narrow screens, light and dark, and printed on A4.

Law: needs no file and no font that is not there anyway, and its own policy forbids the browser scripts and requests; paper is
light. Drawings have their own style. Knows no text.
"""

STYLE = """
:root {
  color-scheme: light dark;
  --back: #ffffff; --text: #1a1a1a; --faint: #4d5555; --edge: #c3caca; --strong: #1f5066; --band: #f3f6f7;
}
@media screen and (prefers-color-scheme: dark) {
  :root { --back: #161616; --text: #eeeeee; --faint: #b4bcbc; --edge: #454d4f; --strong: #8fcbe6; --band: #1f2426; }
}
* { box-sizing: border-box; }
html { -webkit-text-size-adjust: 100%; text-size-adjust: 100%; }
body { margin: 0 auto; max-width: 70rem; padding: 1.5rem 1.25rem 4rem; background: var(--back); color: var(--text);
  font: 1rem/1.5 system-ui, "DejaVu Sans", sans-serif; overflow-wrap: break-word; }
header { border-bottom: 3px solid var(--strong); margin-bottom: 1rem; }
h1 { margin: 0; font-size: 2rem; line-height: 1.2; }
h2 { margin: 2.2rem 0 .6rem; font-size: 1.3rem; color: var(--strong); border-bottom: 1px solid var(--edge); }
p, li { max-width: 48rem; }
ul, ol { padding-left: 1.4rem; }
nav ul { columns: 14rem; list-style: none; padding: 0; margin: 0; }
a { color: var(--strong); }
.wide { overflow-x: auto; }
.wide:focus-visible { outline: 2px solid var(--strong); outline-offset: 2px; }
table { min-width: min(100%, 16rem); border-collapse: collapse; margin: 0 0 .4rem; font-size: .875rem;
  line-height: 1.35; font-variant-numeric: tabular-nums; }
caption { text-align: left; font-weight: 600; padding: .9rem 0 .3rem; }
th, td { border-bottom: 1px solid var(--edge); padding: .25rem .7rem .25rem .35rem; text-align: left; vertical-align: top;
  max-width: 26rem; }
thead th { border-bottom: 2px solid var(--strong); vertical-align: bottom; }
tbody tr:nth-child(even) { background: var(--band); }
th.right, td.right { text-align: right; white-space: nowrap; }
figure { margin: 1rem 0 1.4rem; }
figure svg { display: block; }
figcaption { font-size: .875rem; color: var(--faint); max-width: 48rem; margin-top: .3rem; }
@media screen and (max-width: 60rem) {
  body { padding: 1rem .8rem 3rem; }
  table { width: max-content; }
  th, td { max-width: 15rem; }
  caption { max-width: calc(100vw - 1.6rem); }
}
@page { size: A4; margin: 14mm 13mm; }
@media print {
  body { max-width: none; padding: 0; font-size: 9.5pt; line-height: 1.4; }
  h1 { font-size: 20pt; }
  h2 { font-size: 13pt; break-after: avoid; }
  nav { display: none; }
  figure, tr, li, .short { break-inside: avoid; }
  figcaption { font-size: 8.5pt; }
  caption, section > p:has(+ .wide), section > p:has(+ figure) { break-after: avoid; }
  thead { display: table-header-group; }
  p { orphans: 3; widows: 3; }
  .wide { overflow: visible; }
  table { font-size: 8pt; }
  th, td { padding: .15rem .5rem .15rem .25rem; }
  figure svg { max-width: 100%; max-height: 225mm; width: auto; height: auto; zoom: .8; }
}
"""
"""The page's style sheet."""

_HEAD = """\
<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'{pictures}">
<title>{title}</title>
<style>{style}</style>
</head>
<body>
"""


def page_head(title: str, more: str = "", *, pictures: bool = False) -> str:
    """A page up to its body; ``title`` is escaped, ``more`` adds to the style, ``pictures`` that lie in the page may show."""
    return _HEAD.format(title=title, style=STYLE + more, pictures="; img-src data:" * pictures)
