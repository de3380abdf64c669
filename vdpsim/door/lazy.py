"""What is loaded when it is first asked for: a package's names, and how a thing shows itself in a notebook.

Law: what a caller sees of a package is what its ``__all__`` says, and asking for one name loads no other name's module: so
``import vdpsim`` costs next to nothing, and ``vdpsim fit`` never loads the engine. A thing knows no more of the room
``notebook/`` than a function's name, so that nobody loads tables and pictures who does not look at them.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from importlib import import_module
from typing import Any

NOTEBOOK = "vdpsim.notebook"


def names_of(package: str, homes: Mapping[str, Sequence[str]]) -> tuple[Callable[[str], Any], Callable[[], list[str]]]:
    """The ``__getattr__`` and ``__dir__`` of ``package``, whose names stand in modules by ``homes``: module to names.

    A module is named as in an import within the package, ``.fitted`` or ``..colour.space``. ``__getattr__`` raises
    AttributeError for a name that is in none.
    """
    home_of = {name: home for home, names in homes.items() for name in names}

    def get(name: str) -> Any:
        if name not in home_of:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        value = getattr(import_module(home_of[name], package), name)
        setattr(sys.modules[package], name, value)  # the next time it is found without coming here
        return value

    def known() -> list[str]:
        return sorted(sys.modules[package].__all__)

    return get, known


def by_notebook(home: str, name: str) -> Callable[[Any], str]:
    """A method ``_repr_html_`` that is the function ``name`` of the module ``home`` in ``notebook/``: the HTML of a thing."""

    def html(shown: Any) -> str:
        """What a notebook shows."""
        found: str = of_notebook(home, name)(shown)
        return found

    return html


def of_notebook(home: str, name: str) -> Callable[..., Any]:
    """The function ``name`` of the module ``home`` in ``notebook/``."""
    found: Callable[..., Any] = getattr(import_module(f"{NOTEBOOK}.{home}"), name)
    return found
