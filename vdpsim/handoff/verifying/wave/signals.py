"""The signals of a dump that is to be compared: found by choice and by name and, where these are not enough, by what they do.

Law: the order in which signals are looked for. What is taken for what, and why, is told wherever a name did not say it. Where
dots are found and several signals fit for accesses, these are not compared, which is told; any other doubt is a mistake.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

from ....files.problems import InputError
from ...records.index import Index
from .dump import Dump
from .fitting import Expected, Taken, fitted
from .roles import SCOPE, Chosen, chosen, refused, shows_dots, wanting, within

MOST_SEARCHED = 1 << 12
"""Among how many signals those that fit are looked for."""


class Signals(NamedTuple):
    """Which signal is what.

    Where names were not enough ``taken`` has all of them, each with why, and ``doubts`` why something is not compared.
    """

    roles: dict[str, Chosen]
    taken: tuple[Taken, ...] = ()
    doubts: tuple[str, ...] = ()


def signals_of(
    opened: Callable[[], Dump], index: Index, asked: Mapping[str, str], file: str, expected: Callable[[], Expected]
) -> Signals:
    """The signals of a dump. Raises UnreadableDumpError, and InputError where signals are wanting or ambiguous."""
    signals = within(opened().signals, asked.get(SCOPE), file)
    roles = chosen(signals, index, {role: path for role, path in asked.items() if role != SCOPE}, file)
    if not wanting(roles):
        return Signals(roles)
    if len({one.code for one in signals}) > MOST_SEARCHED:
        told = f"; a dump of more than {MOST_SEARCHED:,} signals is not searched: say the scope that counts"
        raise refused(file, roles, told)
    fits = fitted(opened, signals, index, roles, expected())
    every = {**roles, **fits.roles}
    if fits.doubts and (wanting(every) or not shows_dots(every)):
        raise InputError([each._replace(file=file) for each in fits.doubts])
    if wanting(every):
        raise refused(file, roles)
    named = [
        Taken(role, one.signal.path, "as was said" if role in asked else "its name") for role, one in roles.items()
    ]
    return Signals(
        every,
        (*named, *fits.taken),
        tuple(f"{each.place.removeprefix('signal ')} {each.message}" for each in fits.doubts),
    )
