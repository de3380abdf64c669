"""A comparison in words and numbers: tables with a column a chip for people, one tree for programs.

Law: says what stands in the Comparison and works nothing out. The better figure has a sign beside it, never a colour alone. The
same comparison gives the same text.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from ..budgets.told.data import budget_data
from ..budgets.told.section import TextRow
from ..budgets.told.verdict import verdict
from ..door.columns import Block, blocks
from ..door.given import instance
from ..door.plain import plain as plain_data
from .compare import Comparison
from .described import MISSING
from .drawn import SceneOnChip
from .weighed import Figure, Value

WIDEST = 44
"""Characters of a field's value that are shown; of longer ones the part where they differ."""

TABLE, LEAST = 118, 16
"""Columns of a table, and those of a value however many chips there are."""

BEFORE = 12
"""Characters that are shown before the first that differs."""

FEW = 3
"""Mistakes that are told of a scene that a chip cannot load."""

MARK = "*"
"""Stands beside the better figure."""


@dataclass(frozen=True)
class ComparedTable:
    """A table with a ``title``; ``head`` names its columns. ``numbers``: all columns but the first are numbers."""

    title: str
    head: TextRow
    rows: tuple[TextRow, ...]
    numbers: bool


def parts(found: Comparison) -> Iterator[ComparedTable]:
    """Everything that is told in tables: figures that a chip has, section by section, then the fields that differ."""
    known = [figure for figure in found.figures if any(value is not None for value in figure.values)]
    for section in dict.fromkeys(figure.section for figure in known):
        rows = tuple((one.name, *_marked(one)) for one in known if one.section == section)
        yield ComparedTable(section, (f"{MARK} is better", *(f"{name}  " for name in found.names)), rows, numbers=True)
    room = TABLE - max((len(field.path) for field in found.fields), default=0)
    most = max(LEAST, min(WIDEST, room // len(found.names) - 2))
    fields = tuple((field.path, *shortened(field.values, most)) for field in found.fields)
    title = "What their files say differently" if fields else "Their files say the same"
    yield ComparedTable(title, ("field", *found.names), fields, numbers=False)


def verdicts(found: Comparison) -> list[str]:
    """Whether each chip fits, in a sentence."""
    return [verdict(budget) for budget in found.budgets]


def notes(found: Comparison) -> list[str]:
    """What the tables have no room for: why a chip cannot load the scene, and pictures that cannot be subtracted."""
    lines = []
    for name, one in zip(found.names, found.shown, strict=False):
        if one.problems:
            count = len(one.problems)
            lines.append(f"{name} cannot load the scene: {count} mistake{'s' if count != 1 else ''}")
            lines += [f"  {problem}" for problem in one.problems[:FEW]]
            lines += [f"  and {count - FEW} more"] if count > FEW else []
        elif one.other_size and found.first is not None:
            lines.append(f"{name}'s picture has another size than {found.names[found.first]}'s: no difference is told")
    return lines


def plain(found: Comparison) -> str:
    """The whole comparison as plain text."""
    told = [*verdicts(found), ""]
    for part, laid in laid_out(found, TABLE):
        told.append(part.title)
        for number, block in enumerate(laid):
            told += [""] * bool(number) + [f"  {line}" for line in block.head + block.rows]
        told.append("")
    return "\n".join([*told, *notes(found)]).rstrip() + "\n"


def laid_out(found: Comparison, width: int) -> Iterator[tuple[ComparedTable, list[Block]]]:
    """The tables with their lines of at most ``width`` columns; those of figures have columns of the same width."""
    told = list(parts(found))
    figures = [row for part in told if part.numbers for row in part.rows]
    for part in told:
        like = [part.head, *figures] if part.numbers else ()
        right = len(part.head) - 1 if part.numbers else 0
        table = [part.head, *part.rows]
        yield part, [*blocks(table, width, right=right, like=like)] if part.rows else []


def shortened(values: Sequence[str], most: int = WIDEST) -> TextRow:
    """Values of one field, short enough for a table, from where they differ on; whole where they would look alike."""
    if max(map(len, values)) <= most:
        return tuple(values)
    letters = enumerate(zip(*(value for value in values if value != MISSING), strict=False))
    same = next((at for at, each in letters if len(set(each)) > 1), 0)
    before = min(BEFORE, most // 3)
    begin = same - before if same > 2 * before else 0
    for room in (most, WIDEST):
        short = tuple(value if value == MISSING else _cut(value, begin, room) for value in values)
        if len(set(short)) == len(set(values)):
            return short
    return tuple(values)


def _cut(value: str, begin: int, most: int) -> str:
    shown = most - 3 * (begin > 0)
    end = len(value) if len(value) - begin <= shown else begin + shown - 3
    return f"{'...' if begin else ''}{value[begin:end]}{'...' if end < len(value) else ''}"


def _marked(figure: Figure) -> Iterator[str]:
    """A figure's values, the better ones with the sign."""
    for at, value in enumerate(figure.values):
        yield f"{_number(value)} {MARK if at in figure.best else ' '}"


def _number(value: Value) -> str:
    if value is None:
        return MISSING
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:,.4f}".rstrip("0").rstrip(".")
    return value if isinstance(value, str) else f"{value:,}"


def comparison_data(found: Comparison) -> dict[str, Any]:
    """The comparison as plain data, for JSON: fractions are texts, and each chip's whole budget is there."""
    instance("found", found, Comparison)
    data = {
        "chips": list(found.names),
        "description": [{"field": field.path, "values": list(field.values)} for field in found.fields],
        "figures": [_figure_data(one) for one in found.figures],
        "against": found.first,
        "scene": [_scene_data(one) for one in found.shown],
        "budgets": [budget_data(budget) for budget in found.budgets],
    }
    return {name: plain_data(each) for name, each in data.items()}


def _figure_data(one: Figure) -> dict[str, Any]:
    return {
        "section": one.section,
        "name": one.name,
        "values": list(one.values),
        "better": one.better,
        "best": list(one.best),
    }


def _scene_data(one: SceneOnChip) -> dict[str, Any]:
    """What a chip made of the scene; what is told of a difference is None where there is none to tell of."""
    subtracted = one.differ is not None
    return {
        "drawn": one.frame is not None,
        "problems": list(one.problems),
        "other_size": one.other_size,
        "dots_differ": one.differ,
        "share": round(one.share, 6) if subtracted else None,
        "largest": one.largest if subtracted else None,
        "mean": round(one.mean, 3) if subtracted else None,
    }


def comparison_json(found: Comparison) -> str:
    """``comparison_data`` as JSON text."""
    return json.dumps(comparison_data(found), indent=2).replace("\x7f", "\\u007f") + "\n"
