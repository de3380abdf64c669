"""A rule in Python that takes the ladder's place, held to what any rule must do.

Law: a rule is tried on what a scene shows it, and on what it may come to see elsewhere: each source alone switched off, all of
them, all of them everywhere, one line alone, and dots and winners by chance, with a seed. What each of these is has a name, which
is told. What a rule is given is its own copy.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from ...door.given import function, instance, items, whole_number
from ...engine.ladder import Rule, Sources
from ...machine.machine import render
from ...output.frame import Frame
from ...scene import Scene
from ..asked import Asked
from ..failing import Begun, fail
from ..finding import Finding

SEED = 1
"""Of the dots and winners by chance: the same on every run."""

Mask = npt.NDArray[np.bool_]


class Case(NamedTuple):
    """Something that a rule is shown: ``sources``, what they are in words, and the ladder's frame that they come from."""

    words: str
    sources: Sources
    frame: Frame


class Answer(NamedTuple):
    """What a rule answered: the winner's number at each dot, and colours of its own or None."""

    winner: npt.NDArray[Any]
    rgb: npt.NDArray[Any] | None


def assert_rule(rule: Rule, scene: Scene, frames: Iterable[int] = (0,)) -> RuleHeld:
    """A check of ``rule``, on these ``frames`` of ``scene`` and on what it may come to see on that scene's chip elsewhere.

    >>> assert_rule(mist, scene("marsh")).total().pure().shows_what_is_there().agrees_with_the_ladder(outside=lines_30_to_39)
    """
    if rule is None:
        raise TypeError("rule must be a function, got None")
    function("rule", rule)
    instance("scene", scene, Scene)
    numbers = [whole_number("each of frames", one) for one in items("frames", frames, "frames' numbers")]
    if not numbers:
        raise ValueError("a rule is tried on a frame at least, got none")
    return RuleHeld(rule, [case for number in numbers for case in _cases(scene, number)])


def _seen(scene: Scene, number: int) -> tuple[Sources, Frame]:
    """What a rule is given for a frame, and the ladder's own frame."""
    found: list[Sources] = []

    def look(sources: Sources) -> npt.NDArray[np.uint8]:
        found.append(sources)
        return sources.winner

    render(scene, number, look, damage=True)
    return found[0], render(scene, number, damage=True)


def _cases(scene: Scene, number: int) -> Iterator[Case]:
    sources, frame = _seen(scene, number)
    called = Asked.of(frame).called
    yield Case(called, sources, frame)
    others = range(1, len(sources.names))
    for source in others:
        yield Case(f"{called} with {sources.names[source]} off", _without(sources, [source]), frame)
    yield Case(f"{called} with all sources off", _without(sources, others), frame)
    everywhere = tuple(np.ones_like(one) for one in sources.opaque)
    yield Case(f"{called} with all sources everywhere", replace(sources, opaque=everywhere), frame)
    yield Case(f"{called} with dots by chance, seed {SEED}", _by_chance(sources), frame)
    yield Case(f"line {frame.first} of {called} alone", _rows(sources, slice(0, 1)), frame)


def _without(sources: Sources, off: Iterable[int]) -> Sources:
    """The same with some sources transparent everywhere; where one of them won, the backdrop does."""
    off = list(off)
    opaque = tuple(np.zeros_like(one) if number in off else one for number, one in enumerate(sources.opaque))
    return replace(
        sources, opaque=opaque, winner=np.where(np.isin(sources.winner, off), 0, sources.winner).astype(np.uint8)
    )


def _by_chance(sources: Sources) -> Sources:
    """Other dots: each source shows at any, and of those that do any wins."""
    chance = np.random.default_rng(SEED)
    shape = sources.winner.shape
    opaque = np.stack([np.ones(shape, np.bool_), *(chance.random(shape) < 0.5 for _ in sources.names[1:])])
    winner = np.where(opaque, chance.random(opaque.shape), -1.0).argmax(axis=0).astype(np.uint8)
    return replace(sources, opaque=tuple(opaque), winner=winner)


def _rows(sources: Sources, rows: slice) -> Sources:
    """Some rows alone."""
    return replace(
        sources,
        entry=tuple(one[rows] for one in sources.entry),
        opaque=tuple(one[rows] for one in sources.opaque),
        fields=tuple({name: plane[rows] for name, plane in one.items()} for one in sources.fields),
        winner=sources.winner[rows],
        colours=lambda number: sources.colours(number)[rows],
    )


def _copied(sources: Sources) -> Sources:
    """The same in arrays of its own."""
    return replace(
        sources,
        entry=tuple(one.copy() for one in sources.entry),
        opaque=tuple(one.copy() for one in sources.opaque),
        fields=tuple({name: plane.copy() for name, plane in one.items()} for one in sources.fields),
        winner=sources.winner.copy(),
        colours=lambda number: sources.colours(number).copy(),
    )


class RuleHeld(Begun):
    """A rule that is held to something; what is said one after the other is held one after the other."""

    def __init__(self, rule: Rule, cases: list[Case]) -> None:
        self._rule, self._all = rule, cases
        self._called = f"the rule {getattr(rule, '__name__', 'given')}"
        self.begin(f"a check of {self._called}")

    def total(self) -> RuleHeld:
        """It answers whatever it sees, with a source's number at each dot and, if it likes, with colours for each."""
        __tracebackhide__ = True
        self.asked()
        for case in self._all:
            _, wrong = self._answer(case)
            if wrong and not self._hold(case, "must answer whatever it sees", wrong):
                break
        return self

    def pure(self) -> RuleHeld:
        """It answers the same each time that it sees the same, and changes nothing of what it sees."""
        __tracebackhide__ = True
        self.asked()
        for case in self._all:
            given = _copied(case.sources)
            first, wrong = self._answer(case, given)
            self._answer(self._all[-1])
            second, _ = self._answer(case)
            wrong = wrong if wrong or _alike(given, case.sources) else "it changed what it was given"
            if not wrong and not _same(first, second):
                wrong = "asked again, it answers otherwise"
            if wrong and not self._hold(case, "must answer the same each time and change nothing", wrong):
                break
        return self

    def shows_what_is_there(self) -> RuleHeld:
        """It names no source at a dot where that source shows nothing."""
        __tracebackhide__ = True
        self.asked()
        for case in self._all:
            answer, none = self._answer(case)
            if answer is None:
                self._hold(case, "must show no dot where there is none", none)
                break
            shown = np.take_along_axis(np.stack(case.sources.opaque), answer.winner.astype(np.int64)[None], axis=0)[0]
            if not self._hold_dots(case, "must show no dot where there is none", ~shown, answer):
                break
        return self

    def agrees_with_the_ladder(self, outside: Callable[[Sources], Any] | None = None) -> RuleHeld:
        """Where ``outside``, a function from Sources to bool (rows, width), is not True, it shows what the ladder would.

        Colours of its own are those of the sources there. None: it agrees everywhere. Raises ValueError for a mask of another
        shape or kind.
        """
        __tracebackhide__ = True
        self.asked()
        for case in self._all:
            answer, none = self._answer(case)
            if answer is None:
                self._hold(case, "must agree with the ladder there", none)
                break
            region = np.zeros(case.sources.winner.shape, np.bool_)
            if outside is not None:
                region = np.asarray(outside(_copied(case.sources)))
            if region.shape != case.sources.winner.shape or region.dtype != np.bool_:
                raise ValueError(
                    f"outside must give bool of shape {case.sources.winner.shape}, got {region.dtype} {region.shape}"
                )
            wrong = (answer.winner != case.sources.winner) | _recoloured(case.sources, answer)
            if not self._hold_dots(case, "must agree with the ladder there", wrong & ~region, answer):
                break
        return self

    def _answer(self, case: Case, given: Sources | None = None) -> tuple[Answer | None, str]:
        """What the rule says, and what is wrong with that; None where it is no answer."""
        sources = _copied(case.sources) if given is None else given
        try:
            found = self._rule(sources)
        except Exception as error:  # noqa: BLE001 - a rule may raise anything, and that is what is told
            return None, f"it raises {type(error).__name__}: {error}"
        winner, rgb = found if isinstance(found, tuple) and len(found) == 2 else (found, None)
        winner, shape = np.asarray(winner), case.sources.winner.shape
        if winner.shape != shape or winner.dtype.kind not in "iu":
            return (
                None,
                f"it answers with {winner.dtype} of shape {winner.shape}, and must with whole numbers of shape {shape}",
            )
        if winner.min(initial=0) < 0 or winner.max(initial=0) >= len(case.sources.names):
            return None, f"it names sources {winner.min()} to {winner.max()}, of 0 to {len(case.sources.names) - 1}"
        if rgb is not None:
            rgb = np.asarray(rgb)
            if rgb.shape != (*shape, 3) or rgb.dtype != np.uint8:
                return (
                    None,
                    f"its colours are {rgb.dtype} of shape {rgb.shape}, and must be uint8 of shape {(*shape, 3)}",
                )
        return Answer(winner, rgb), ""

    def _hold(self, case: Case, words: str, wrong: str, where: Mask | None = None) -> bool:
        """Fail with what is ``wrong`` on one case; False: the others need not be looked at."""
        __tracebackhide__ = True
        fail(Finding(case.frame, f"{self._called} {words}", (f"on {case.words}: {wrong}",), where))
        return False

    def _hold_dots(self, case: Case, words: str, wrong: Mask, answer: Answer) -> bool:
        """Fail where some dot is ``wrong``; whether none was."""
        __tracebackhide__ = True
        if not wrong.any():
            return True
        row, dot = (int(one) for one in np.argwhere(wrong)[0])
        names, winner = case.sources.names, int(case.sources.winner[row, dot])
        line = row + case.frame.first
        told = f"first at line {line}, dot {dot}, at {int(wrong.sum())} of {wrong.size} dots: it shows "
        told += f"{names[int(answer.winner[row, dot])]}, the ladder {names[winner]}"
        there = [name for name, one in zip(names, case.sources.opaque, strict=True) if one[row, dot]]
        return self._hold(case, words, f"{told}; there are {', '.join(there)}", wrong)


def _recoloured(sources: Sources, answer: Answer) -> Mask:
    """Where a rule gives another colour than the winner's own."""
    if answer.rgb is None:
        return np.zeros(sources.winner.shape, np.bool_)
    colours = np.stack([sources.colours(number) for number in range(len(sources.names))])
    own = np.take_along_axis(colours, answer.winner.astype(np.int64)[None, ..., None], axis=0)[0]
    found: Mask = (own != answer.rgb).any(axis=2)
    return found


def _alike(one: Sources, other: Sources) -> bool:
    """Whether two rules' inputs hold the same."""
    planes = zip((*one.entry, *one.opaque, one.winner), (*other.entry, *other.opaque, other.winner), strict=True)
    return all(np.array_equal(a, b) for a, b in planes) and all(
        mine.keys() == others.keys() and all(np.array_equal(mine[name], others[name]) for name in mine)
        for mine, others in zip(one.fields, other.fields, strict=True)
    )


def _same(one: Answer | None, other: Answer | None) -> bool:
    """Whether two answers say the same."""
    if one is None or other is None:
        return one is other
    mine, others = (each.winner if each.rgb is None else each.rgb for each in (one, other))
    return np.array_equal(one.winner, other.winner) and np.array_equal(mine, others)
