"""Timed writes as the file tells them, resolved against the chip and the scene's names.

Law: a table is resolved once, and every value that it can ever write is checked then; what is left is a TimedWrite. Tables
that lack what a failed table would have given are left out without a word.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from ..chip.registers import Register, settable
from ..state.writes import MemoryWrite, Transfer, fault
from .contents.assets import Assets
from .contents.patterns import Patterns
from .contents.sprites import SpriteList, SpriteMaker
from .findings import Findings, Together
from .tables.timed import WriteTable
from .values import ValueWrites
from .writes import Draft, SpriteDraft, TimedWrite


class WriteMaker:
    """Resolves tables of timed writes."""

    def __init__(
        self,
        findings: Findings,
        assets: Assets,
        patterns: Patterns,
        sprites: SpriteList,
        maker: SpriteMaker | None,
        bases: dict[str, int],
    ) -> None:
        self.findings, self.chip, self.sprites, self.maker = findings, findings.chip, sprites, maker
        self.values = ValueWrites(self.chip)
        self._in_memory = assets, patterns, bases

    def timed(self, table: WriteTable) -> list[TimedWrite]:
        """The table resolved, one write for each place that it writes to.

        None at all where a failed table hides what it needs. Raises WrongError where it cannot happen.
        """
        each = Together()
        lines: Sequence[int] | None = table.lines if table.line is None else range(table.line, table.line + 1)
        assert lines is not None
        each(self._in_frame, table, lines)
        if table.by and self.chip.time is None:
            each.tell(f"needs a chip with a time table, to find slots in; {self.chip.name} has none", "by")
        kind = next(name for name in table.SOURCES if name in table.given)
        drafts = each(self._resolver(kind), table, lines) or []
        if table.by:
            drafts = [_transfer(draft, table) for draft in drafts]
        if kind == "port" and table.values is not None and table.line is not None:
            lines = [table.line] * len(drafts)  # one after the other, all on the one line
        if each.clear({"dot", "by"}):
            for draft in drafts:
                reason = None if isinstance(draft, SpriteDraft) else fault(self.chip, draft)
                if reason:
                    each.tell(reason, *self._culprit(table, kind))
        each.done()
        frames = table.frames if table.frame is None else range(table.frame, table.frame + 1)
        places, follows = [[draft] for draft in drafts] if kind == "patterns" else [drafts], self._follows(table)
        return [TimedWrite(tuple(lines), tuple(each), frames, table.advance, follows) for each in places if each]

    def _resolver(self, kind: str) -> Callable[[WriteTable, Sequence[int]], list[Draft]]:
        """What makes the drafts of a table that writes to this."""
        values = self.values
        known = {"register": values.register, "entry": values.palette, "port": values.port, "sprite": self._sprite}
        if kind in known:
            return known[kind]
        from .content_writes import ContentWrites  # noqa: PLC0415 - few scenes write to memory

        contents = ContentWrites(self.findings, *self._in_memory)
        return {"memory": contents.memory, "patterns": contents.pattern, "map": contents.cell}[kind]

    def _follows(self, table: WriteTable) -> bool:
        """Whether it writes a whole register with a part of a split field: what that sets hangs on the other parts."""
        one = settable(self.chip).get(table.control or "")
        return isinstance(one, Register) and any(field.split for field, _ in one.holds)

    def _in_frame(self, table: WriteTable, lines: Sequence[int]) -> None:
        """Raises WrongError where a line or the dot lies outside the frame."""
        each, top = Together(), self.chip.frame.lines_per_frame - 1
        if lines[-1] > top:
            key = "lines" if table.line is None else "line"
            each.tell(f"must be lines of the frame, 0 to {top}, got {lines[-1]}", key)
        last_dot = self.chip.frame.dots_per_line - 1
        if table.dot > last_dot:
            each.tell(f"must be a dot of the line, 0 to {last_dot}, got {table.dot}", "dot")
        each.done()

    @staticmethod
    def _culprit(table: WriteTable, kind: str) -> tuple[str, ...]:
        """The key that most likely holds the mistake: the value where there is one, else what is written to."""
        keys = ("value", "values", "from") if kind in {"register", "port"} else ("memory",)
        return tuple(key for key in keys if key in table.given)[:1] or (kind,)

    def _sprite(self, table: WriteTable, _lines: Sequence[int]) -> list[Draft]:
        assert table.sprite is not None
        assert table.set is not None
        each = Together()
        number = each(self.sprites.number, self.findings, table.sprite, "sprite")
        if not table.set.told:
            each.tell("names no field", "set")
        base = (None if number is None else self.sprites.fields[number]) or None
        changes = None if self.maker is None else each(self.maker.changes, table.set.told, "set", base=base)
        each.done()
        return [SpriteDraft(0, number, tuple(changes.items()))] if changes and number is not None else []


def _transfer(draft: Draft, table: WriteTable) -> Draft:
    """What goes to memory, as a transfer by the CPU."""
    assert isinstance(draft, MemoryWrite)
    return Transfer(draft.line, draft.address, draft.data, table.dot, table.step)
