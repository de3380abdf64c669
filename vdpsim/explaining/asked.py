"""What is told of a word that somebody asks for: a key, a client, a word of the model, a control.

Law: everything that a word can mean is told, keys first; what is no word of ours is refused with the one that comes nearest. Rows
of a label and a text; how they are laid out is for who shows them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from ..door.shown import meant
from .controls import control_named
from .costs import COSTS, SCENE, WRITES, cost
from .examples import example
from .keys import KINDS, Key, every, keys_at, shape
from .words import CLIENTS, client_named, words

MOST_SHOWN = 4
"""Keys that are told whole; of more, each is told in a line."""


class Told(NamedTuple):
    """What is told under one ``title``, in ``rows`` of a label and a text."""

    title: str
    rows: tuple[tuple[str, str], ...]


class UnknownWordError(LookupError):
    """No key, client or word is called so; the text says which one comes nearest."""


def told(word: str) -> tuple[Told, ...]:
    """Everything that ``word`` means. Raises UnknownWordError."""
    keys = (*_of_keys(keys_at(word)),)
    found = (*keys, *_of_client(word), *_of_word(word))
    if not keys and ("." in word or not found):
        found = (*found, *_of_control(word))
    if not found:
        raise UnknownWordError(f"no key, client or word is called so{meant(word, _all(word))}")
    return found


def contents() -> tuple[Told, ...]:
    """What can be asked for: the tables of both kinds of file, clients and words."""
    tables = [
        Told(
            f"{kind} file",
            tuple((place, keys[0].about) for place, keys in every(kind).items() if "." not in place),
        )
        for kind in KINDS
    ]
    clients = Told("clients", tuple((name, one.about) for name, one in CLIENTS.items()))
    return (*tables, clients, Told("words", (("", ", ".join(sorted(words()))),)))


def names() -> list[str]:
    """Every word that can be asked for but controls: places of keys, their last parts, clients, words."""
    return [*dict.fromkeys([*_all("."), *_all("")])]


def _of_keys(keys: tuple[Key, ...]) -> Iterator[Told]:
    alike: dict[tuple[str, str, str], list[Key]] = {}
    for key in keys:
        alike.setdefault((key.kind, key.place, key.about), []).append(key)
    if len(alike) > MOST_SHOWN:
        rows = ((f"{kind}: {place}", about) for kind, place, about in alike)
        yield Told(f"{len(alike)} keys", tuple(rows))
        return
    for same in alike.values():
        yield Told(f"{same[0].place} ({same[0].kind} file{_of_kind(same)})", tuple(_rows(same)))


def _of_kind(keys: list[Key]) -> str:
    """Which kinds of table have the keys, where a word in the table says so."""
    kinds = [shape(key.kind)[key.table]["properties"].get("kind", {}).get("const", "") for key in keys]
    return f"; kind {', '.join(kinds)}" if all(kinds) else ""


def _rows(keys: list[Key]) -> Iterator[tuple[str, str]]:
    key = keys[0]
    yield "means", key.about
    shown = example(key)
    yield "example", shown.text + (f"   ({shown.name}, line {shown.line})" if shown.name else "")
    yield "costs", "; ".join(dict.fromkeys(map(_costs, keys)))
    for table in dict.fromkeys(table for one in keys for table in one.inside):
        yield "", ""
        yield "a table", " ".join(shape(key.kind)[table].get("description", "").replace("``", "").split())
        for name, below in shape(key.kind)[table].get("properties", {}).items():
            yield f"  {name}", below.get("description", "")


def _costs(key: Key) -> str:
    if key.kind == "chip":
        return cost(key.table, key.name)
    return WRITES if key.place.partition(".")[0] == "writes" else SCENE


def _of_client(word: str) -> Iterator[Told]:
    name = client_named(word)
    if name:
        yield Told(f"{name} (client)", (("fetches", CLIENTS[name].about), ("costs", CLIENTS[name].costs)))


def _of_control(word: str) -> Iterator[Told]:
    """Asked last, and where no key is called so: it takes loading the shipped chips."""
    shown = control_named(word)
    if shown:
        title = f"{shown.control.name} (control, as {shown.chip} has it)"
        yield Told(
            title, (("means", shown.control.about), ("takes", shown.takes), ("costs", COSTS["RegisterTable.bits"]))
        )


def _of_word(word: str) -> Iterator[Told]:
    sentence = words().get(word.lower()) or words().get(f"{word.lower()}s")
    if sentence:
        yield Told(f"{word.lower()} (word)", (("means", sentence),))


def _all(word: str) -> Iterable[str]:
    """What might have been meant: places where ``word`` is one, their last parts where it is not."""
    places = [place for kind in KINDS for place in every(kind)]
    if "." in word:
        return [*places, *CLIENTS]
    return [*dict.fromkeys(place.rpartition(".")[2] for place in places), *CLIENTS, *words()]
