"""Which sprites collide on which line.

Law: what this costs grows with the dots that sprites share, not with the pairs that share them, of which a line may have half
a million. Flags and counts are those of all pairs; the list of pairs ends at a bound. Two ways tell the same: a few pairs, as
in most frames, are gone through one by one, where the other way would take ten times as long; many are kept as bits, a word
for 64 sprites, whom each has still to meet. Knows no layer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import reduce
from itertools import pairwise
from operator import or_
from typing import Any

import numpy as np
import numpy.typing as npt

from ..frame import COLLISIONS
from ..plan import Plan
from ..timeline import Timeline
from .dots import Shown, front_most
from .lines import LineSprites

Ints = npt.NDArray[np.int64]
Words = npt.NDArray[np.uint64]

BITS = 64
FEW = 1 << 15
"""Pairs of dots on one place that are gone through one by one."""

MOST_WORDS = 1 << 16
"""Words of bits for the lines that are looked at together, where they are several."""


@dataclass(eq=False, repr=False)
class Collided:
    """Who collides: ``records`` as COLLISIONS, and for each the bits of its ``groups``, int64; ``left_out``: how many more do.

    ``flags``: the bits of all groups that collide. ``touched()`` int64 (n, 3): line, dot and bits of groups, wherever the
    leftmost dot of a pair lies, listed or not; in order. Only a chip with a status asks, and it takes a fiftieth of a frame.
    """

    records: npt.NDArray[Any] = field(default_factory=lambda: np.empty(0, COLLISIONS))
    groups: Ints = field(default_factory=lambda: np.empty(0, np.int64))
    left_out: int = 0
    flags: int = 0
    touched: Callable[[], Ints] = lambda: np.empty((0, 3), np.int64)


@dataclass(eq=False, repr=False)
class _Dots:
    """Dots of sprites that may collide, where several fall on one place; by place.

    ``who`` numbers the members, which are sprites on a line: by line, from the back to the front. Of each member ``line``,
    ``sprite`` and ``group``; ``first`` (lines + 1,): the first member of each line.
    """

    place: Ints
    who: Ints
    line: Ints
    sprite: Ints
    group: Ints
    first: Ints


def collide(plan: Plan, timeline: Timeline, shown: Shown, hidden: npt.NDArray[np.bool_] | None, room: int) -> Collided:
    """The pairs that collide, by line and table numbers, each with the leftmost dot that it shares.

    ``hidden`` marks dots of the list that a layer covers; None where they count all the same. Of more than ``room`` pairs the
    first are listed.
    """
    kept, dots = shown.kept, shown.dots
    if dots.front.all():  # no two dots share a place
        return Collided()
    unnamed = len(plan.colliding) - 1
    group = np.minimum(kept.fields.get("group", np.full(len(kept.line), 0)), unnamed)
    place, item, front, ahead = dots.place, dots.item, dots.front, dots.ahead
    if hidden is not None:
        place, item = place[~hidden], item[~hidden]
        front, ahead = front_most(place, timeline.lines * plan.width)
    met = _few(plan, timeline.lines, group, place, item, front, ahead)
    if met is None:
        found = _many(plan, _contested(plan, timeline.lines, kept, group, place, item), room)
    else:
        where, one, other = met
        bits = 1 << group[one] | 1 << group[other]
        found = _told(plan, where, kept.sprite[one], kept.sprite[other], bits, room)
    found.records["line"] += timeline.first
    of_lines = found.touched
    found.touched = lambda: of_lines() + np.array([timeline.first, 0, 0])
    return found


def _few(
    plan: Plan,
    lines: int,
    group: Ints,
    place: Ints,
    item: Ints,
    front: npt.NDArray[np.bool_],
    ahead: npt.NDArray[np.int32],
) -> tuple[Ints, Ints, Ints] | None:
    """Each place where two collide, and the two items; None where dots stand before more than ``FEW`` dots."""
    found = [(np.empty(0, np.int64),) * 3]
    count = 0
    while len(behind := (~front).nonzero()[0]):
        count += len(behind)
        if count > FEW:
            return None
        # at every place the front-most meets all that is behind it, and is then taken away
        other = item.take(ahead.take(behind))
        place, item = place.take(behind), item.take(behind)
        both = plan.colliding[group.take(item), group.take(other)].nonzero()[0]
        found.append((place.take(both), item.take(both), other.take(both)))
        front, ahead = front_most(place, lines * plan.width)
    where, one, other = (np.concatenate(part) for part in zip(*found, strict=True))
    return where, one, other


def _told(plan: Plan, where: Ints, one: Ints, other: Ints, bits: Ints, room: int) -> Collided:
    """What is told of sprites ``one`` and ``other`` that share the places ``where``; ``bits`` of their groups."""
    if not len(where):
        return Collided()
    assert plan.chip.sprites is not None
    count = plan.chip.sprites.count
    line, dot = np.divmod(where, plan.width)
    key = ((line * count + np.minimum(one, other)) * count + np.maximum(one, other)) * plan.width + dot  # up to 2**40
    order = np.argsort(key, kind="stable")
    key = key[order]
    fresh = np.ones(len(key), np.bool_)
    fresh[1:] = key[1:] // plan.width != key[:-1] // plan.width  # of each pair the first, its leftmost dot
    key, order = key[fresh], order[fresh]
    bits = bits[order]
    left_out = max(0, len(key) - room)
    key = key[:room]
    out = np.empty(len(key), COLLISIONS)
    for name, modulus in (("dot", plan.width), ("second", count), ("first", count)):
        key, out[name] = np.divmod(key, modulus)
    out["line"] = key
    return Collided(
        out, bits[:room], left_out, int(np.bitwise_or.reduce(bits)), lambda: _touched(plan, where[order], bits)
    )


def _touched(plan: Plan, place: Ints, bits: Ints) -> Ints:
    """Line, dot and all ``bits`` of each place."""
    order = np.argsort(place, kind="stable")
    place, bits = place[order], bits[order]
    begins = np.flatnonzero(np.concatenate([[True], place[1:] != place[:-1]]))
    return np.column_stack([*np.divmod(place[begins], plan.width), np.bitwise_or.reduceat(bits, begins)])


def _many(plan: Plan, dots: _Dots, room: int) -> Collided:
    """The same by bits, some lines at a time; more of them where no pairs are to be listed."""
    most = int(np.diff(dots.first).max())
    words = -(-most // BITS)
    lines, top = len(dots.first) - 1, 0
    found = [Collided()]
    while top < lines:
        step = (MOST_WORDS if room else 16 * MOST_WORDS) // max(1, most * words)
        band = range(top, min(top + max(1, step), lines))
        top = band.stop
        if dots.first[band.start] < dots.first[band.stop]:
            found.append(_Band(plan, dots, band, words).meet(room))
            room -= len(found[-1].records)
    records, groups = (np.concatenate([getattr(band, name) for band in found]) for name in ("records", "groups"))
    flags = reduce(or_, (band.flags for band in found))
    touched = np.concatenate([band.touched() for band in found])  # what a band would need to tell it later is large
    return Collided(records, groups, sum(band.left_out for band in found), flags, lambda: touched)


def _contested(plan: Plan, lines: int, kept: LineSprites, group: Ints, place: Ints, item: Ints) -> _Dots:
    """The dots among these of which it is not plain that they meet none."""
    meeting = np.flatnonzero(plan.colliding.any(axis=1))
    able = np.isin(group, meeting).take(item)
    place, item = place[able], item[able]
    shared = np.bincount(place, minlength=lines * plan.width).take(place) > 1
    place, item = place[shared], item[shared]
    order = np.argsort(place, kind="stable")
    place, item = place[order], item[order]
    there = np.zeros(len(kept.line), np.bool_)
    there[item] = True
    members = np.flatnonzero(there)
    members = members[np.argsort(kept.line[members], kind="stable")]
    number = np.empty(len(kept.line), np.int64)
    number[members] = np.arange(len(members))
    line = kept.line[members]
    first = np.searchsorted(line, np.arange(lines + 1))
    return _Dots(place, number[item], line, kept.sprite[members], group[members], first)


class _Band:
    """Some ``lines`` together, each place of a line after the one at its left.

    ``left`` (members, words) and ``present`` (places, words) have a bit for each member of a line: whom a member could meet and
    has not met yet, and who has a dot at a place.
    """

    def __init__(self, plan: Plan, dots: _Dots, lines: range, words: int) -> None:
        self.plan, self.words = plan, words
        begin, end = dots.first[[lines.start, lines.stop]].tolist()
        here = slice(*np.searchsorted(dots.place, [lines.start * plan.width, lines.stop * plan.width]).tolist())
        self.line, self.sprite, self.group = dots.line[begin:end], dots.sprite[begin:end], dots.group[begin:end]
        self.first = dots.first - begin
        self.rank = np.arange(end - begin) - self.first[self.line]
        self.left = self._foes(lines)
        place, who = dots.place[here], dots.who[here] - begin
        fresh = np.ones(len(place), np.bool_)
        fresh[1:] = place[1:] != place[:-1]
        run = np.cumsum(fresh) - 1
        self.place = place[fresh]
        present = np.zeros((len(self.place), words * BITS), np.bool_)
        present[run, self.rank[who]] = True
        self.present = _packed(present)
        line = self.place // plan.width
        step = (np.arange(len(line)) - np.searchsorted(line, line))[run]
        order = np.argsort(step, kind="stable")
        self.who, self.run = who[order], run[order]
        self.steps = np.concatenate([[0], np.cumsum(np.bincount(step))]).tolist()

    def _foes(self, lines: range) -> Words:
        """Whom each member could meet: all of its line whose group is set to collide with its own, but itself."""
        colliding, line = self.plan.colliding, self.line - lines.start
        there = np.zeros((len(lines), len(colliding), self.words * BITS), np.bool_)
        there[line, self.group, self.rank] = True
        foes = np.stack([there[:, row].any(axis=1) for row in colliding], axis=1)
        found = _packed(foes)[line, self.group]
        own = np.uint64(1) << (self.rank % BITS).astype(np.uint64)
        found[np.arange(len(found)), self.rank // BITS] &= ~own
        return found

    def meet(self, room: int) -> Collided:
        """All who meet; of the pairs the first ``room`` are listed."""
        behind = None
        if room:
            lower: npt.NDArray[np.bool_] = np.tri(self.words * BITS, k=-1, dtype=np.bool_)
            behind = _packed(lower)[self.rank]
        before = _count(self.left)
        some: list[Ints] = []
        pairs: list[tuple[Ints, Ints, Words]] = []
        for begin, end in pairwise(self.steps):  # a place of each line, from the left: nobody is there twice in a step
            who, run = self.who[begin:end], self.run[begin:end]
            left = self.left.take(who, axis=0)
            met = left & self.present.take(run, axis=0)
            hits = np.flatnonzero(met.any(axis=1))
            if not len(hits):
                continue
            self.left[who] = left ^ met  # only the first place of a pair counts
            some.append(begin + hits)
            if behind is not None:
                met &= behind.take(who, axis=0)  # each pair once, told by the one in front
                at = np.flatnonzero(met)
                pairs.append((begin + at // self.words, at % self.words, met.reshape(-1).take(at)))
        if not some:
            return Collided()
        listed = self._listed(pairs, room)
        # who meets one is met by it: each pair is there twice
        left_out = (before - _count(self.left)) // 2 - len(listed.records)
        dots = np.concatenate(some)
        touched = _touched(self.plan, self.place[self.run[dots]], 1 << self.group[self.who[dots]])
        return Collided(
            listed.records, listed.groups, left_out, int(np.bitwise_or.reduce(touched[:, 2])), lambda: touched
        )

    def _listed(self, pairs: list[tuple[Ints, Ints, Words]], room: int) -> Collided:
        """The first ``room`` of the pairs."""
        found = [np.empty((2, 0), np.int64)]
        for dot, column, word in pairs:
            for which, bit in _bits(word):
                found.append(np.stack([dot[which], BITS * column[which] + bit]))
        dot, rank = np.concatenate(found, axis=1)
        found.clear()
        one = self.who[dot]
        other = self.first[self.line[one]] + rank
        bits = 1 << self.group[one] | 1 << self.group[other]
        return _told(self.plan, self.place[self.run[dot]], self.sprite[one], self.sprite[other], bits, room)


def _packed(bits: npt.NDArray[np.bool_]) -> Words:
    """Bits along the last axis as words, the lowest bit first."""
    words: Words = np.packbits(bits, axis=-1, bitorder="little").view("<u8").astype(np.uint64, copy=False)
    return words


def _count(words: Words) -> int:
    """How many bits are set."""
    return int(np.count_nonzero(np.unpackbits(words.reshape(-1).view(np.uint8))))  # numpy 1 has no ``bitwise_count``


def _bits(words: Words) -> Iterator[tuple[Ints, Ints]]:
    """The bits set in each of some words: indices of words, and a bit of each, until all were there."""
    which = np.arange(len(words))
    while len(which):
        rest = words & (words - np.uint64(1))  # without its lowest bit, a power of two: as a float exactly itself
        yield which, np.frexp((words ^ rest).astype(np.float64))[1].astype(np.int64) - 1
        more = np.flatnonzero(rest)
        words, which = rest[more], which[more]
