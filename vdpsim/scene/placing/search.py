"""A place for all parts, or the proof that there is none: every order that matters is tried, within a bound.

Law: memory is filled from its first free byte up: whichever part lies next lies as low as it can. Any layout can be moved
down into one of these, so that where all orders fail there is none. The bound counts looks at a part, not time, so that the
same parts always have the same outcome.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

from .parts import Part, Stretch, lowest

MOST_LOOKS = 120_000
"""Looks at a part: about a second on a slow machine."""

HOPES: tuple[Callable[[Part, int], tuple[int, ...]], ...] = (
    lambda part, end: (part.step + end, part.size),
    lambda part, end: (part.step, end, part.size),
    lambda part, _: (part.step, part.size),
)
"""What to go by among parts that waste alike: step, size, and what the end is a multiple of. Each has its share of looks."""

Left = tuple[int, ...]
"""How many parts of each kind have no place yet."""


@dataclass(frozen=True)
class Searched:
    """``bases``: the address of each part, None where none were found. ``all_tried``: there is no layout."""

    bases: tuple[int, ...] | None
    all_tried: bool


@dataclass
class _Search:
    """Parts alike in all but their name are one kind. ``failed``: the lowest first free byte from which what is left failed."""

    kinds: list[Part]
    free: Sequence[Stretch]
    looks: int = 0
    hope: Callable[[Part, int], tuple[int, ...]] = HOPES[0]
    failed: dict[Left, int] = field(default_factory=dict)

    def next(self, left: Left, least: int) -> list[tuple[int, int]]:
        """Kinds that can lie next from the byte ``least`` on, each with its address, the most hopeful last.

        A part that has room below the start of another need not come after it: the layout in which it does can be
        changed into one in which it does not. None at all where a part has no place left, or all have too little room.
        """
        found: list[tuple[int, int]] = []
        free = [(max(start, least), end) for start, end in self.free if end > least]
        wanted = sum([number * part.size for number, part in zip(left, self.kinds, strict=True)])
        if wanted > sum([end - start for start, end in free]):
            return []
        for kind, number in enumerate(left):
            if number:
                self.looks -= 1
                base = lowest(self.kinds[kind], free)
                if base is None:
                    return []
                found.append((kind, base))
        end = min((base + self.kinds[kind].high for kind, base in found), default=0)
        found = [(kind, base) for kind, base in found if base + self.kinds[kind].low < end]
        return sorted(found, key=self._hope)

    def _hope(self, one: tuple[int, int]) -> tuple[int, ...]:
        kind, base = one
        part, end = self.kinds[kind], base + self.kinds[kind].high
        # ``end & -end``, its lowest bit: the largest power of two that the end is a multiple of.
        return -(base + part.low), *self.hope(part, end & -end)

    def run(self, left: Left) -> list[tuple[int, int]] | None:
        """Kinds and addresses in order of address; None where all was tried (``left`` has failed) or no looks are left."""
        placed: list[tuple[int, int]] = []
        stack: list[tuple[Left, int, list[tuple[int, int]]]] = [(left, 0, self.next(left, 0))]
        while stack and self.looks > 0:
            left, least, choices = stack[-1]
            if not any(left):
                return placed
            if not choices:
                self.failed[left] = min(least, self.failed.get(left, least))
                stack.pop()
                placed = placed[:-1]
                continue
            kind, base = choices.pop()
            after = (*left[:kind], left[kind] - 1, *left[kind + 1 :])
            end = base + self.kinds[kind].high
            # The same parts have failed from a lower byte on, and from here have less room still.
            if after not in self.failed or end < self.failed[after]:
                placed.append((kind, base))
                stack.append((after, end, self.next(after, end)))
        return None


def search(parts: Sequence[Part], free: Sequence[Stretch], looks: int = MOST_LOOKS) -> Searched:
    """A place for all ``parts`` in the stretches ``free``. A part with a hole is tried as though the hole were its own.

    So where one has a hole, that all was tried is no proof, and is not told.
    """
    names: dict[tuple[int, int, int, int], list[int]] = {}
    for number, part in enumerate(parts):
        names.setdefault((part.step, part.low, part.high, part.top), []).append(number)
    kinds = [Part("", ((low, high),), step, top) for step, low, high, top in names]
    work, whole, found = _Search(kinds, free), tuple(len(numbers) for numbers in names.values()), None
    for hope in HOPES:
        work.hope, work.looks = hope, looks // len(HOPES)
        found = work.run(whole) if whole not in work.failed else None
        if found is not None:
            break
    if found is None:
        return Searched(None, all_tried=whole in work.failed and all(len(part.spans) == 1 for part in parts))
    waiting = [iter(numbers) for numbers in names.values()]
    bases = {next(waiting[kind]): base for kind, base in found}
    return Searched(tuple(bases[number] for number in range(len(parts))), all_tried=False)
