"""Shipped chips and scenes by name.

Law: a chip is called as its file is, ``curlew``; a scene has the name of the chip that it runs on before its own,
``curlew:flock``. What there is follows from the files alone: a wheel has them beside this module, a checkout at its top.
Reads of each its title and what it is about; loads none.
"""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from ..door.shown import meant, nearest

CHIP, SCENE = ".chip.toml", ".scene.toml"
"""How files of each kind end."""


class Shipped(NamedTuple):
    """A shipped file: its ``name`` and ``path``, what its file calls it (``title``), and what it is ``about`` in a line.

    ``chip``: the name of the chip that a scene names itself; "" for a chip.
    """

    name: str
    path: Path
    title: str
    about: str
    chip: str = ""


class UnknownNameError(LookupError):
    """There is no shipped file of this name; the text says so, with the names that come near."""


@cache
def folder() -> Path:
    """Where the shipped scenes stand; their chips are in its ``chips/``."""
    here = Path(__file__).resolve().parent
    return next(place for place in (here / "scenes", here.parents[1] / "scenes") if place.is_dir())


@cache
def chips() -> dict[str, Shipped]:
    """The shipped chips by name, in the alphabet's order."""
    found = {}
    for path in sorted((folder() / "chips").glob(f"*{CHIP}")):
        name = path.name.removesuffix(CHIP)
        found[name] = Shipped(name, path, *_told(_read(path)))
    return found


@cache
def scenes() -> dict[str, Shipped]:
    """The shipped scenes by name, those of one chip together; each on the chip that its file names."""
    found = []
    for path in sorted(folder().glob(f"*{SCENE}")):
        data = _read(path)
        chip = Path(data["chip"]).name.removesuffix(CHIP)
        found.append(Shipped(f"{chip}:{path.name.removesuffix(SCENE)}", path, *_told(data), chip))
    return {one.name: one for one in sorted(found)}


def chip_named(name: str) -> Shipped:
    """The shipped chip called ``name``. Raises UnknownNameError."""
    if ":" in name and name.partition(":")[0] in chips():
        raise UnknownNameError(f"must be a chip, {name.partition(':')[0]} alone")
    if name not in chips():
        raise UnknownNameError(f"there is no shipped chip of this name{meant(name, chips())}")
    return chips()[name]


def scene_named(name: str) -> tuple[Shipped, Shipped | None]:
    """The shipped scene called ``name`` and, where that names another chip than the scene itself does, this chip.

    Raises UnknownNameError.
    """
    if name in scenes():
        return scenes()[name], None
    if name in chips():
        own_scenes = ", ".join(one.name for one in scenes().values() if one.chip == name)
        raise UnknownNameError(f"is a chip, and must be a scene: {own_scenes}")
    chip, _, own = name.partition(":")
    found = next((one for one in scenes().values() if one.name == f"{one.chip}:{own}"), None)
    if found is None or chip not in chips():
        raise UnknownNameError(f"there is no shipped scene of this name{_meant(name)}")
    return found, chips()[chip]


def _meant(name: str) -> str:
    """What may have been meant by ``name``: a scene's whole name, or one without its chip."""
    alone = {one.partition(":")[2]: one for one in scenes()}
    found = nearest(name, [*scenes(), *alone])
    return meant(alone.get(found, found), scenes()) if found else ""


def _told(data: dict[str, Any]) -> tuple[str, str]:
    return data["name"], data.get("about", "")


def _read(path: Path) -> dict[str, Any]:
    return tomllib.loads(path.read_text(encoding="utf-8"))
