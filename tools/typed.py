"""Whether a second checker of types, pyright, knows the type of everything public, as mypy does.

Law: public is what the package's doors list in ``__all__``, with all members that have no ``_`` before their name. Exit status 0
all is known, 1 it is not. What is public and is no part of the report counts as not known.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Iterable, Iterator
from importlib import import_module
from pathlib import Path
from typing import Any

DOORS = ("vdpsim", "vdpsim.art", "vdpsim.testing", "vdpsim.testing.strategies")


def public(doors: Iterable[str] = DOORS) -> dict[str, str]:
    """Where each public name is defined, by the name that people use."""
    found = {}
    for door in doors:
        module = import_module(door)
        for name in (one for one in module.__all__ if not one.startswith("_")):
            thing = getattr(module, name)
            home, inner = getattr(thing, "__module__", None), getattr(thing, "__qualname__", None)
            found[f"{door}.{name}"] = f"{home}.{inner}" if home and inner else f"{door}.{name}"
    return found


def unknown(names: dict[str, str], symbols: list[dict[str, Any]]) -> Iterator[str]:
    """Lines on what of the public ``names`` has no type that every checker would find; ``symbols`` as pyright tells them."""
    told = {symbol["name"] for symbol in symbols}
    homes = set(names.values())
    for name, home in names.items():
        if home not in told and name not in told:
            yield f"{name}: nothing is told of it"
    for symbol in symbols:
        mine = any(symbol["name"] == home or symbol["name"].startswith(f"{home}.") for home in homes)
        if mine and (not symbol["isTypeKnown"] or symbol["isTypeAmbiguous"]):
            why = [" ".join(one["message"].split()) for one in symbol["diagnostics"]] or ["by what it is made of"]
            yield f"{symbol['name']}: {'; '.join(why)}"


def report() -> list[dict[str, Any]]:
    """What pyright says of every symbol of the package that this Python has."""
    place = {
        "VIRTUAL_ENV": sys.prefix,
        "PATH": os.pathsep.join([str(Path(sys.prefix, "bin")), os.environ.get("PATH", "")]),
    }
    words = [sys.executable, "-m", "pyright", "--verifytypes", "vdpsim", "--ignoreexternal", "--outputjson"]
    done = subprocess.run(words, capture_output=True, text=True, check=False, env=os.environ | place)
    try:
        found: list[dict[str, Any]] = json.loads(done.stdout)["typeCompleteness"]["symbols"]
    except (ValueError, KeyError):
        raise SystemExit(f"pyright gave no report: {done.stdout[-400:]}{done.stderr[-400:]}") from None
    return found


def main() -> int:
    """Print what is not known."""
    names = public()
    wrong = list(unknown(names, report()))
    for line in wrong:
        print(line)
    print(f"{len(names)} public names, {len(wrong)} of them or of their members without a known type")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
