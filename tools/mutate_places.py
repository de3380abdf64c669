"""Mutants of a module: every small change of its text that a test ought to notice.

Law: tables say what becomes of which kind of node; nothing here runs a test or writes a file. A mutant is known by its module,
the function that it lies in, the text of its line and what is changed, so that it is found again when lines move. Left out
are docstrings, annotations, decorators, assertions, what stands under ``if TYPE_CHECKING``, and what an exception says.
"""

from __future__ import annotations

import ast
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice

At = tuple[tuple[str, int | None], ...]
"""Where a node lies in a tree: fields from the root, each with a number where it is a list."""

COMPARED: dict[type[ast.AST], type[ast.cmpop]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot, ast.IsNot: ast.Is,
}  # fmt: skip
RECKONED: dict[type[ast.AST], type[ast.operator]] = {
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.FloorDiv, ast.FloorDiv: ast.Mult, ast.Div: ast.Mult,
    ast.Mod: ast.FloorDiv, ast.Pow: ast.Mult, ast.LShift: ast.RShift, ast.RShift: ast.LShift,
    ast.BitAnd: ast.BitOr, ast.BitOr: ast.BitAnd, ast.BitXor: ast.BitAnd,
}  # fmt: skip
SWAPPED = {
    "min": "max", "max": "min", "any": "all", "all": "any", "minimum": "maximum", "maximum": "minimum", "argmin": "argmax",
    "argmax": "argmin", "floor": "ceil", "ceil": "floor", "left": "right", "right": "left",
}  # fmt: skip
REMOVED = (ast.AugAssign, ast.Raise, ast.Delete)
"""Statements that may go; so may calls, and assignments to a part of something: a name that is never given fails at once."""
NUMBERED = {"len", "sum", "min", "max", "int", "abs"}
"""Calls that give a number: where one is returned, 0 is the mutant, and elsewhere None."""
UNSEEN = {"annotation", "returns", "decorator_list"}
"""Fields of nodes that no mutant lies in."""
SILENT = {"repr", "description", "title", "stacklevel"}
"""Keywords of calls that change nothing but words."""


@dataclass(frozen=True)
class Mutant:
    """One change; ``where`` is the function it lies in, ``lines`` are those whose tests may notice it."""

    module: str
    where: str
    text: str
    change: str
    number: int
    """Which of the module's mutants it is."""
    lines: range
    inside: bool
    """Whether it lies in the body of a function, so that the function's code can be put in place of the old."""

    @property
    def key(self) -> str:
        """What a mutant is known by when lines have moved."""
        return f"{self.module} | {self.where} | {self.text} | {self.change}"


def _same(node: ast.AST, **fields: object) -> ast.AST:
    """A node of the same kind with some fields changed."""
    kept = {name: getattr(node, name) for name in node._fields if hasattr(node, name)}
    return type(node)(**{**kept, **fields})


def _is_text(node: ast.AST) -> bool:
    return isinstance(node, ast.JoinedStr) or (isinstance(node, ast.Constant) and isinstance(node.value, str))


def _number(node: ast.Constant) -> Iterator[ast.AST]:
    if isinstance(node.value, bool):
        yield ast.Constant(value=not node.value)
    elif isinstance(node.value, int | float):
        yield ast.Constant(value=node.value + 1)
        yield ast.Constant(value=node.value - 1)


def _word(node: ast.AST, parent: ast.AST, field: str) -> bool:
    """Whether a text is a key or a choice, not a message: an index, a dict's key, or what something is compared with."""
    if not (isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value):
        return False
    return (
        (isinstance(parent, ast.Subscript) and field == "slice")
        or isinstance(parent, ast.Compare | ast.MatchValue)
        or (isinstance(parent, ast.Dict) and field == "keys")
    )


def _compare(node: ast.Compare) -> Iterator[ast.AST]:
    for number, op in enumerate(node.ops):
        yield _same(node, ops=[*node.ops[:number], COMPARED[type(op)](), *node.ops[number + 1 :]])


def _reckon(node: ast.BinOp | ast.AugAssign) -> Iterator[ast.AST]:
    texts = [node.value] if isinstance(node, ast.AugAssign) else [node.left, node.right]
    if type(node.op) in RECKONED and not any(map(_is_text, texts)):
        yield _same(node, op=RECKONED[type(node.op)]())


def _swap(node: ast.Name | ast.Attribute) -> Iterator[ast.AST]:
    name = "id" if isinstance(node, ast.Name) else "attr"
    if getattr(node, name) in SWAPPED and isinstance(node.ctx, ast.Load):
        yield _same(node, **{name: SWAPPED[getattr(node, name)]})


def _tested(node: ast.If | ast.IfExp | ast.While | ast.comprehension) -> Iterator[ast.AST]:
    if isinstance(node, ast.comprehension):
        for number in range(len(node.ifs)):
            yield _same(node, ifs=[*node.ifs[:number], *node.ifs[number + 1 :]])
        return
    for truth in [False] if isinstance(node, ast.While) else [True, False]:
        yield _same(node, test=ast.Constant(value=truth))


def _returned(node: ast.Return) -> Iterator[ast.AST]:
    value = node.value
    if value is None or (isinstance(value, ast.Constant) and value.value in {None, False}):
        return  # False is as good as None almost everywhere, and has True for its mutant
    called = isinstance(value, ast.Call) and isinstance(value.func, ast.Name) and value.func.id in NUMBERED
    yield _same(node, value=ast.Constant(value=0 if called or isinstance(value, ast.BinOp) else None))


def _slice(node: ast.Slice) -> Iterator[ast.AST]:
    for name in ("lower", "upper"):
        if getattr(node, name) is not None:
            yield _same(node, **{name: None})


def _unary(node: ast.UnaryOp) -> Iterator[ast.AST]:
    yield node.operand


def _both(node: ast.BoolOp) -> Iterator[ast.AST]:
    yield _same(node, op=ast.Or() if isinstance(node.op, ast.And) else ast.And())


CHANGES = {
    ast.Constant: _number, ast.Compare: _compare, ast.BinOp: _reckon, ast.AugAssign: _reckon, ast.Name: _swap,
    ast.Attribute: _swap, ast.If: _tested, ast.IfExp: _tested, ast.While: _tested, ast.comprehension: _tested,
    ast.Return: _returned, ast.Slice: _slice, ast.UnaryOp: _unary, ast.BoolOp: _both,
    ast.Break: lambda _: iter([ast.Continue()]), ast.Continue: lambda _: iter([ast.Break()]),
}  # fmt: skip
"""What becomes of a node, by its kind."""


def _removable(node: ast.AST, *, inside: bool) -> bool:
    """Whether a statement may go: only in a function, and neither a docstring nor a bare annotation."""
    if not inside:
        return False
    if isinstance(node, ast.Expr):
        return isinstance(node.value, ast.Call)
    if isinstance(node, ast.Assign):
        return all(isinstance(target, ast.Attribute | ast.Subscript) for target in node.targets)
    return isinstance(node, REMOVED)


def _skipped(node: ast.AST) -> bool:
    """Whether nothing in this node is a mutant's place."""
    if isinstance(node, ast.Import | ast.ImportFrom | ast.Assert):
        return True
    if isinstance(node, ast.keyword) and node.arg in SILENT:
        return True
    if isinstance(node, ast.Expr) and _is_text(node.value):
        return True
    return isinstance(node, ast.If) and isinstance(node.test, ast.Name) and node.test.id == "TYPE_CHECKING"


def _children(node: ast.AST) -> Iterator[tuple[str, int | None, ast.AST]]:
    for field, value in ast.iter_fields(node):
        if field in UNSEEN or (isinstance(node, ast.ClassDef) and field != "body"):
            continue
        for number, child in enumerate(value) if isinstance(value, list) else [(None, value)]:
            if isinstance(child, ast.AST):
                yield field, number, child


def _found(
    node: ast.AST, parent: ast.AST, at: At, where: tuple[str, ...], *, inside: bool
) -> Iterator[tuple[ast.AST, ast.AST, At, tuple[str, ...], bool]]:
    """Every change: the old node, the new one, where it lies, in which function, and whether in a function's body."""
    if _skipped(node):
        return
    if _removable(node, inside=inside):
        yield node, ast.Pass(), at, where, inside
    if isinstance(node, ast.Raise):
        return
    for new in CHANGES.get(type(node), lambda _: iter(()))(node):  # type: ignore[operator]
        yield node, new, at, where, inside
    if at and _word(node, parent, at[-1][0]):
        yield node, ast.Constant(value=f"{node.value}?"), at, where, inside  # type: ignore[attr-defined]
    named = isinstance(node, ast.FunctionDef | ast.ClassDef)
    for field, number, child in _children(node):
        deeper = (*where, node.name) if named else where  # type: ignore[attr-defined]
        within = inside or (isinstance(node, ast.FunctionDef) and field == "body")
        yield from _found(child, node, (*at, (field, number)), deeper, inside=within)


def _short(node: ast.AST) -> str:
    words = (
        "".join(ast.unparse(ast.fix_missing_locations(node)).split("\n"))
        if not isinstance(node, ast.Pass)
        else "nothing"
    )
    return words if len(words) <= 120 else f"{words[:117]}..."


def _told(old: ast.AST, new: ast.AST) -> str:
    """What is changed, in words: of a condition only the condition."""
    if isinstance(old, ast.If | ast.While | ast.IfExp):
        old, new = old.test, new.test  # type: ignore[attr-defined]
    if isinstance(old, ast.Slice | ast.comprehension):
        return f"{ast.unparse(old)} -> {ast.unparse(new)}"
    return f"{_short(old)} -> {_short(new)}"


def mutants(module: str, text: str) -> list[Mutant]:
    """All mutants of a module, in the order of its text.

    ``module``: what the module is called in keys, a path from the project's root; ``text``: its source.
    """
    tree, rows, twice = ast.parse(text), text.splitlines(), Counter()  # type: ast.Module, list[str], Counter[str]
    found = []
    for number, (old, new, at, where, inside) in enumerate(_found(tree, tree, (), (), inside=False)):
        placed = _placed(tree, at)
        lines = range(placed.lineno, (placed.end_lineno or placed.lineno) + 1)  # type: ignore[attr-defined]
        if isinstance(old, ast.If | ast.While):
            lines = range(old.test.lineno, (old.test.end_lineno or old.lineno) + 1)
        one = Mutant(module, ".".join(where), rows[lines.start - 1].strip(), _told(old, new), number, lines, inside)
        twice[one.key] += 1
        if twice[one.key] > 1:
            one = replace(one, change=f"{one.change} (no. {twice[one.key]})")
        found.append(one)
    return found


def _placed(tree: ast.AST, at: At) -> ast.AST:
    """The nearest node on the way to this place, itself included, that has a line number."""
    here = placed = tree
    for field, number in at:
        here = getattr(here, field) if number is None else getattr(here, field)[number]
        if hasattr(here, "lineno"):
            placed = here
    return placed


def mutated(text: str, mutant: Mutant) -> ast.Module:
    """The module's tree with that change made."""
    tree = ast.parse(text)
    _, new, at, _, _ = next(islice(_found(tree, tree, (), (), inside=False), mutant.number, None))
    placed = _placed(tree, at)
    parent: ast.AST = tree
    for field, number in at[:-1]:
        parent = getattr(parent, field) if number is None else getattr(parent, field)[number]
    field, number = at[-1]
    ast.copy_location(new, placed)
    if number is None:
        setattr(parent, field, new)
    else:
        getattr(parent, field)[number] = new
    return ast.fix_missing_locations(tree)
