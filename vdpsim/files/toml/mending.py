"""A wrong file with other values where it is wrong, so that the rest of it can be looked at.

Law: a file is mended in two ways, or more, that differ wherever something else stands than was given. What is found all ways in
the very same words hangs on nothing that is wrong, as a sentence says what is allowed: it is told. An unknown key is told and
left out, and nothing hangs on it but a known key that it resembles. A disagreement is laid to its place and to the keys that its
sentence names, by one way to the first of them, by the other to the last; where keys between them may be its cause too, further
ways lay it to these. Where no value is found the whole of a table is lost. Bounded: ``TRIES`` looks at the file in a way, fewer
at a long one. Knows no chip and no scene.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from copy import deepcopy
from difflib import get_close_matches
from hashlib import blake2b
from typing import Any, Generic, NamedTuple

from .allowed import KEPT, Allowed, Loc, bits_in
from .data import LEFT_OUT, each_at, get_at, put_at
from .tables import Fault, Model, Source

TRIES, LONG, MOST = 400, 400_000, 120
"""How often a file is looked at, of how many characters just once, and how many mistakes it may have to be mended."""

WORD = re.compile(r"[a-z_]+")
NAMED = re.compile(r"'([a-z][a-z0-9_]*)'")


class Asked(NamedTuple, Generic[Model]):
    """What a file is read as, and what else is asked of it.

    ``check`` yields what parts of it do not agree, but for what hangs on the keys that it is given. ``stand_ins``: keys of the
    whole that can be lost, with what then stands there or LEFT_OUT. ``causes``: by words of a place and its sentence, places to
    which a disagreement is laid besides its own, whose names may be groups of the words, or a key beside that or around it.
    ``unfelt``: keys on which nothing hangs that is looked at. ``unknown``: what sentences say of a key that could as well not be
    there.
    """

    model: type[Model]
    check: Callable[[Model, frozenset[str]], Iterable[tuple[Loc, str]]] = lambda _made, _lost: ()
    stand_ins: dict[str, Any] = {}  # noqa: RUF012 - never changed
    causes: Sequence[tuple[str, Loc | str]] = ()
    unfelt: frozenset[str] = frozenset()
    unknown: str = "^$"


class Mended(NamedTuple, Generic[Model]):
    """One way to mend a file.

    What is ``made``, the keys that are ``lost``, and whether more is ``other`` than was given than that unknown keys are gone.
    """

    made: Model
    lost: frozenset[str]
    other: bool


class _Look(NamedTuple):
    """A file looked at: whether a model was made of it, and what is wrong with it."""

    made: bool
    faults: list[Fault]

    def badness(self, fault: Fault | None) -> tuple[bool, int, bool, int]:
        """How far it is from right; mistakes in what tables are for themselves hide those between them.

        ``fault``: of a key, which hides what its table says of several keys; as many mistakes are less where that comes to light,
        and of these the fewest sentences are best.
        """
        sentences = 0 if fault is None else sum(1 + one.message.count("; ") for one in self.faults)
        return not self.made, len(self.faults), fault in self.faults, sentences


def _length(data: Any) -> int:
    """Characters that ``data`` takes, at least 1; of a number of more digits than Python writes, as many as are too long."""
    try:
        return max(1, len(str(data)))
    except ValueError:
        return LONG


def _digest(data: Any) -> bytes:
    """What tells ``data`` from any other; of all that hold a number of more digits than Python writes the same."""
    try:
        return blake2b(json.dumps(data, default=str).encode()).digest()
    except ValueError:
        return b""


class Mending(Generic[Model]):
    """One way: numbers from their least on or, beside ``others``, from their largest down and unlike those of the others."""

    def __init__(self, source: Source, asked: Asked[Model], data: Any, others: Sequence[Mending[Model]]) -> None:
        self.source, self.asked, self.given, self.others = source, asked, data, others
        self.data, self.other = deepcopy(data), others[0] if others else None
        self.allowed = Allowed(asked.model)
        self.changed: dict[Loc, None] = {}
        self.laid: set[Loc] = set()  # where the cause of a disagreement may lie
        self.lost: frozenset[str] = frozenset()
        self.tries, self.renamed = 0, False
        self.looks: dict[tuple[bytes, frozenset[str]], _Look] = others[0].looks if others else {}
        self.most = min(TRIES, (LONG // _length(data)) ** 2)
        self.settled: set[Fault] = set()
        self.left_out: list[Fault] = []  # what came to light as unknown while others were mended

    def beside(self, others: Sequence[Mending[Model]]) -> Mending[Model]:
        """Another way to mend what was given, beside ``others``."""
        return Mending(self.source, self.asked, self.given, tuple(others))

    def done(self) -> Mended[Model] | None:
        """The file mended; None where it cannot be."""
        look = self._look()
        self.settled.update(look.faults)
        while look.faults:
            if len(look.faults) > MOST or self.tries > self.most + len(self.asked.stand_ins) + 1:
                return None
            fault, unknown = look.faults[0], [one for one in look.faults if one.kind == "extra_forbidden"]
            if unknown:
                self.left_out += [one for one in unknown if one not in self.settled]
                self._unknown(one.place for one in unknown)
            elif re.match(self.asked.unknown, fault.message):
                causes = [] if self.other is None or self.renamed else self._causes(fault)
                self.renamed = True
                if not self._better(causes, look):
                    self.left_out.append(fault)
                    put_at(self.data, fault.place, LEFT_OUT)
            elif (self.tries > self.most or not self._step(look)) and not self._lose(fault.place):
                return None
            look = self._look()
        made = self.source.part(self.asked.model, self.data)
        assert made is not None
        return Mended(made, self.lost, bool(self.changed))

    def keeps(self, given: Any) -> bool:
        """Whether no key that was ``given`` is gone but what was unknown, so that nothing is unknown by this way alone."""
        pairs = [(get_at(given, place), get_at(self.data, place)) for place in self.changed]
        gone = [
            old.keys() - new.keys() if isinstance(old, dict) and isinstance(new, dict) else new is LEFT_OUT
            for old, new in pairs
        ]
        return not self.lost and not any(gone)

    def again(self, given: Any, *, late: bool) -> dict[Fault, None]:
        """What is wrong where what was ``given`` stands at one place, the rest mended; ``late``: also what was unknown."""
        found = dict.fromkeys(self.left_out if late else ())
        for place in (*(place for place in self.changed if place[0] not in self.lost), *((key,) for key in self.lost)):
            before = get_at(self.data, place)
            put_at(self.data, place, get_at(given, place))
            found |= dict.fromkeys(self._look(self.lost - {str(place[0])}).faults)
            put_at(self.data, place, before)
        return found

    def _look(self, lost: frozenset[str] | None = None) -> _Look:
        """What is wrong now; ways have many of their looks in common, and each is taken once."""
        self.tries += 1
        lost = self.lost if lost is None else lost
        key = (_digest(self.data), lost)
        if key not in self.looks:
            made, faults = self.source.faults(self.asked.model, self.data)
            if made is not None:
                faults = [Fault(*one) for one in self.asked.check(made, lost)]
            self.looks[key] = _Look(made is not None, faults)
        return self.looks[key]

    def _step(self, look: _Look) -> bool:
        """Put another value where it makes the file less wrong; whether there was such a place and value."""
        laid = [place for place in self._laid_to(look.faults[0]) if place]
        around = dict.fromkeys(place[:end] for place in laid for end in range(len(place) - 1, 0, -1))
        fresh = [place for place in laid if all(place not in one.changed for one in self.others)]
        self.laid.update(laid if len(laid) > 1 else ())
        again = [] if look.faults[0] in self.settled else [*self.changed]
        self.settled.add(look.faults[0])
        return any(self._better(places, look) for places in (again, fresh, laid, *([place] for place in around)))

    def _better(self, places: Iterable[Loc], look: _Look) -> bool:
        """Put the best value at one of ``places``, if it is better than what stands there; whether there was one."""
        fault, found = look.faults[0], None
        of_key = None if look.made or self._is_table(fault.place) else fault
        best, fewer = look.badness(of_key), (True, len(look.faults) - 1)
        key = ".".join(map(str, fault.place[-1:]))
        names = [one for one in (*NAMED.findall(fault.message), *key.split(".")) if not one.isdigit()]
        for place in places:
            before = get_at(self.data, place)
            for value in self._values(place, names) if place[0] not in self.lost else ():
                if best[:2] in {(False, 0), fewer} or self.tries > self.most:
                    break
                put_at(self.data, place, value)
                badness = self._look().badness(of_key)
                if badness < best:
                    best, found = badness, (place, value)
            put_at(self.data, place, before)
        if found:
            put_at(self.data, *found)
            self.changed[found[0]] = None
        return found is not None

    def _values(self, place: Loc, names: list[str]) -> Iterator[Any]:
        """What may stand at ``place`` instead of what does: what a mistake names, what others have, what else may."""
        given = get_at(self.data, place)
        values: list[Any]
        if isinstance(given, list) and any(isinstance(one, dict) for one in given):
            # All of a list of tables at once: what names one of them would be told as wrong.
            tables = [one for one in self.allowed.values((*place, len(given)), None) if isinstance(one, dict)]
            values = [[*given, one] for one in tables if "name" not in one]
        else:
            listed = isinstance(given, list)
            said = [[*given, name] if listed else name for name in names if listed or isinstance(given, str)]
            values = [*said, *self._beside(place), *self.allowed.values(place, given)]
        if not self.allowed.needs(place):
            values = [*values, LEFT_OUT] if self.other is None else [LEFT_OUT, *values]
        # Texts begin with the most bits: the way that leaves them to the other has few there, as many only where no others do.
        upward = self.other is None or (isinstance(given, str) and place not in self.other.changed)
        unlike = [one for one in (values if upward else reversed(values)) if self._unlike(place, one)]
        theirs = None if self.other is None else bits_in(get_at(self.other.data, place))
        yield from sorted(unlike, key=lambda one: theirs is not None and bits_in(one) == theirs)

    def _unlike(self, place: Loc, value: Any) -> bool:
        """Whether ``value`` at ``place`` would be other than what the other ways have put there, into it or around it."""
        if not self.asked.unfelt.isdisjoint(place):
            return True
        for other, at in ((one, at) for one in self.others for at in one.changed):
            end = min(len(at), len(place))
            if at[:end] == place[:end]:
                if end == len(at) and end < len(place) and get_at(other.data, place) == value:
                    return False
                if end == len(place) and get_at(value, at[end:]) == get_at(other.data, at):
                    return False
        return True

    def _beside(self, place: Loc) -> list[Any]:
        """What stands at the same key of the tables beside the one around ``place``."""
        tables = get_at(self.data, place[:-2]) if len(place) > 1 else None
        if not isinstance(tables, list) or place[-1] in KEPT:
            return []
        here, found = get_at(self.data, place), [get_at(one, place[-1:]) for one in tables]
        return [one for at, one in enumerate(found) if one not in (here, LEFT_OUT) and one not in found[:at]]

    def _laid_to(self, fault: Fault) -> list[Loc]:
        """The places that may hold the cause of ``fault``, in the order in which this way asks them."""
        place, of_table = fault.place, self._is_table(fault.place)
        if fault.kind and not of_table:
            return [place]
        table = place if of_table else place[:-1]
        named = [*self._named(table, set(WORD.findall(fault.message))), *self._causes(fault)]
        found = list(dict.fromkeys([*([place] if place != table or not named else []), *named]))
        return found if self.other is None else found[::-1]

    def _is_table(self, place: Loc) -> bool:
        """Whether a table stands at ``place``, where one may."""
        return isinstance(get_at(self.data, place), dict) and self.allowed.takes_table(place)

    def _causes(self, fault: Fault) -> Iterator[Loc]:
        """The places elsewhere to which ``fault`` may be laid."""
        for words, at in self.asked.causes:
            said = re.search(words, f"{'.'.join(map(str, fault.place))}: {fault.message}")
            if said:
                here = fault.place if self._is_table(fault.place) else fault.place[:-1]
                while isinstance(at, str) and here and at not in self.allowed.keys(here):
                    here = here[:-1]
                place = (*here, at) if isinstance(at, str) else tuple(said.expand(str(part)) for part in at)
                yield from each_at(self.data, place)

    def _named(self, table: Loc, words: set[str]) -> Iterator[Loc]:
        """The keys of a table, and of the tables in it, that ``words`` name."""
        given = get_at(self.data, table)
        for key in sorted(self.allowed.keys(table) & words):
            yield (*table, key)
        for key, below in given.items() if isinstance(given, dict) else ():
            if isinstance(below, dict):
                yield from (
                    (*table, key, one) for one in sorted(self.allowed.keys((*table, key)) & words & below.keys())
                )

    def _unknown(self, places: Iterable[Loc]) -> None:
        """Take out the keys at ``places``; a key that one of them may have been meant for is no longer known."""
        for place in places:
            given, known = get_at(self.data, place), self.allowed.keys(place[:-1])
            put_at(self.data, place, LEFT_OUT)
            for near in get_close_matches(str(place[-1]), sorted(known), 1):
                at = (*place[:-1], near)
                if get_at(self.data, at) is LEFT_OUT and not self.allowed.needs(at):
                    self.changed[at] = None
                    if self.other is not None:
                        put_at(self.data, at, given)

    def _lose(self, place: Loc) -> bool:
        """Have a stand-in in the place of the whole key; whether there is one."""
        key = str(place[0]) if place else ""
        if key not in self.asked.stand_ins or key in self.lost:
            return False
        self.lost |= {key}
        put_at(self.data, (key,), self.asked.stand_ins[key])
        return True
