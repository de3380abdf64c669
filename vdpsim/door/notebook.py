"""How a thing shows itself in a notebook: by a function of the room ``notebook/``, which is loaded when it is first asked for.

Law: a thing knows no more than that function's name, so that nobody loads tables and pictures who does not look at them.
"""

from __future__ import annotations

from collections.abc import Callable
from importlib import import_module
from typing import Any

HOME = "vdpsim.notebook"


def by_notebook(home: str, name: str) -> Callable[[Any], str]:
    """A method ``_repr_html_`` that is the function ``name`` of the module ``home`` in ``notebook/``: the HTML of a thing."""

    def html(shown: Any) -> str:
        """What a notebook shows."""
        found: str = of_notebook(home, name)(shown)
        return found

    return html


def of_notebook(home: str, name: str) -> Callable[..., Any]:
    """The function ``name`` of the module ``home`` in ``notebook/``."""
    found: Callable[..., Any] = getattr(import_module(f"{HOME}.{home}"), name)
    return found
