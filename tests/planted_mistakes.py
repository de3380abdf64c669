"""Mistakes planted into right chips and scenes, each found alone, for tests that plant several.

Law: a mistake changes one key of one table; every chance is drawn from the ``Random`` that is given. Knows the form of a file
and of no table.
"""

from __future__ import annotations

import shutil
import tomllib
from collections.abc import Iterable, Iterator
from copy import deepcopy
from pathlib import Path
from random import Random
from typing import Any, NamedTuple

import vdpsim
from vdpsim.files.toml.out import key, value

SCENES = Path(__file__).parents[1] / "scenes"
PAIRS = {"saltmarsh": "curlew", "flock": "curlew", "tidetable": "curlew", "moonlit": "sanderling", "slipway": "curlew"}
"""Shipped scenes and their chips."""

Told = tuple[str, str, str]
"""``chip`` or ``scene``, the place and the message of a problem."""

GONE = object()


class Mistake(NamedTuple):
    """``value`` stands at ``place`` of the chip or the scene, or nothing does."""

    of: str
    place: tuple[str | int, ...]
    value: Any

    def __str__(self) -> str:
        given = "nothing" if self.value is GONE else repr(self.value)
        return f"{self.of} {'.'.join(map(str, self.place))} = {given}"

    @property
    def table(self) -> tuple[str | int, ...]:
        """The table that it is in: a key of the file or, where that holds a list of tables, one of them."""
        return self.place[:2] if len(self.place) > 1 and isinstance(self.place[1], int) else self.place[:1]


class Files:
    """A shipped scene and its chip in a folder of their own, with mistakes planted and taken out again."""

    def __init__(self, folder: Path, scene: str) -> None:
        self.folder = folder / "scenes"
        shutil.copytree(SCENES, self.folder, dirs_exist_ok=True)
        self.paths = {
            "chip": self.folder / "chips" / f"{PAIRS[scene]}.chip.toml",
            "scene": self.folder / f"{scene}.scene.toml",
        }
        self.right = {of: tomllib.loads(path.read_text("utf-8")) for of, path in self.paths.items()}
        self._told: dict[tuple[str, ...], tuple[Told, ...]] = {}

    def told(self, *mistakes: Mistake) -> tuple[Told, ...]:
        """What is told of the files with ``mistakes``, in its order."""
        names = tuple(sorted(map(str, mistakes)))
        if names not in self._told:
            data = deepcopy(self.right)
            for one in mistakes:
                put(data[one.of], one.place, one.value)
            for of, path in self.paths.items():
                path.write_text("\n".join(f"{key(name)} = {value(one)}" for name, one in data[of].items()), "utf-8")
            self._told[names] = self._problems()
        return self._told[names]

    def _problems(self) -> tuple[Told, ...]:
        try:
            vdpsim.load_scene(self.paths["scene"])
        except vdpsim.InputError as error:
            return tuple(("chip" if "chips" in one.file else "scene", one.place, one.message) for one in error.problems)
        return ()

    def unfounded(self, mistakes: list[Mistake]) -> list[Told]:
        """What is told with all of ``mistakes``, and of none of them alone, and not of the scene's on a right chip."""
        founded = {one for mistake in mistakes for one in self.told(mistake)}
        founded |= {one for one in self.told(*(each for each in mistakes if each.of == "scene")) if one[0] == "scene"}
        founded |= {one for one in self.told(*(each for each in mistakes if each.of == "chip")) if one[0] == "chip"}
        # An item whose name is wrong is called by its number, here alone.
        named = [one for one in mistakes if one.place[2:] == ("name",)]
        called = {one.place[:2]: self.right[one.of][str(one.place[0])][one.place[1]].get("name") for one in named}
        founded |= {
            (of, place.replace(f"{key}.{name}.", f"{key}.{number}."), message)
            for (key, number), name in called.items()
            for of, place, message in founded
        }
        return [one for one in self.told(*mistakes) if one not in founded]

    def hidden(self, mistakes: list[Mistake]) -> list[Mistake]:
        """Those of ``mistakes`` of which nothing is told that is told of them alone."""
        told = set(self.told(*mistakes))
        return [one for one in mistakes if told.isdisjoint(self.told(one))]

    def untold(self, one: Mistake, other: Mistake) -> bool:
        """Whether nothing of ``one`` is told beside ``other``: no sentence that is told of it alone, and nothing at its key."""
        together = self.told(one, other)
        at_key = self._spot((one.of, ".".join(map(str, one.place)), ""))
        told_alone = self._sentences(self.told(one))
        return told_alone.isdisjoint(self._sentences(together)) and at_key not in set(map(self._spot, together))

    def made_up(self, one: Mistake, other: Mistake) -> list[Told]:
        """What is told of both in places where neither of them alone is told."""
        founded = set(map(self._spot, self.told(one) + self.told(other)))
        return [each for each in self.told(one, other) if self._spot(each) not in founded]

    def _sentences(self, told: Iterable[Told]) -> set[tuple[str, ...]]:
        """What is told, sentence by sentence: what a table says of several keys is one message."""
        return {(*self._spot((of, place, message)), one) for of, place, message in told for one in message.split("; ")}

    def _spot(self, told: Told) -> tuple[str, str, str]:
        """File, table or list and key of what is told: a list's item is called by its name only where that is right."""
        of, place, _ = told
        words = place.split(".")
        if isinstance(self.right[of].get(words[0]), list):
            del words[1:2]
        return of, words[0], words[-1]

    def mistakes(self, random: Random, of: str, count: int) -> list[Mistake]:
        """``count`` mistakes in the chip or the scene, each of which is told when it is planted alone."""
        places = list(leaves(self.right[of]))
        found: list[Mistake] = []
        while len(found) < count:
            one = Mistake(of, *bent(random, *random.choice(places)))
            if one not in found and self.told(one):
                found.append(one)
        return found


def planted(random: Random, pool: list[Mistake]) -> list[Mistake]:
    """Two to four of ``pool``, each in a table of its own: of one alone there is nothing to hide and nothing that follows."""
    found: list[Mistake] = []
    most = random.randint(2, 4)
    for one in random.sample(pool, len(pool)):
        if (one.of, one.table) not in [(other.of, other.table) for other in found]:
            found.append(one)
    return found[:most]


def pairs(pool: list[Mistake]) -> list[tuple[Mistake, Mistake]]:
    """Any two of ``pool`` at different keys of one table, the innermost around them."""
    return [
        (one, other)
        for at, one in enumerate(pool)
        for other in pool[at + 1 :]
        if one.of == other.of and one.place[:-1] == other.place[:-1] and one.place != other.place
    ]


def leaves(data: Any, at: tuple[str | int, ...] = ()) -> Iterator[tuple[tuple[str | int, ...], Any]]:
    """The places of a file that hold no table and no list of tables, with what stands there; tables are met alike often."""
    for part, one in data.items() if isinstance(data, dict) else enumerate(data):
        if isinstance(one, dict) or (isinstance(one, list) and one and isinstance(one[0], dict)):
            yield from leaves(one, (*at, part))
        else:
            yield (*at, part), one


def bent(random: Random, place: tuple[str | int, ...], given: Any) -> tuple[tuple[str | int, ...], Any]:
    """A place at or beside ``place`` and what may be wrong there."""
    way, name = random.randrange(8), str(place[-1])
    if way == 0:
        return (*place[:-1], random.choice(["zzz", name + "z", name[:-1] or "z"])), given
    if way == 1:
        return place, GONE
    if way == 2:
        return place, random.choice([-1, 0, 5_000_000, 1.5, True, "zzz", [], {}, [1, 2, 3]])
    if isinstance(given, bool) or not isinstance(given, int | str | list):
        return place, "zzz"
    if isinstance(given, int):
        return place, random.choice([given + 1, given - 1, given * 2, given // 2, given * 100, given // 100, given + 7])
    if isinstance(given, str):
        return place, random.choice([given + "z", given[:-1], given[1:], given.upper(), "0", "15:0", "63"])
    return place, random.choice([given[:-1], given + given[-1:], given[::-1], given * 2])


def put(data: Any, place: tuple[Any, ...], given: Any) -> None:
    """Have ``given`` stand at ``place``, or nothing."""
    for part in place[:-1]:
        data = data[part]
    if given is not GONE:
        data[place[-1]] = given
    elif isinstance(data, list):
        del data[place[-1]]
    else:
        data.pop(place[-1], None)
