"""How many fetches clients make.

Law: a fetch is what the frame's log counts as one, on the lines that it counts.
"""

from __future__ import annotations

from typing import Any

from ..asked import Asked
from .counted import Counted


def assert_fetches(frame: Any, client: str = "*") -> Counted:
    """A check of the fetches of all clients whose names match ``client``, together.

    ``client`` is a name of the frame's log such as ``near.cells``, or a pattern: ``near.*``, ``*.pattern``. It counts what
    ``Frame.log`` counts, on the picture's lines. Raises ValueError where no client matches.

    >>> assert_fetches(frame, "near.*").on_every_line().at_most(120)
    """
    asked = Asked.of(frame)
    columns = asked.clients(client)
    log = asked.frame.log

    def detail(row: int) -> str:
        return ", ".join(f"{log.clients[one]} {log.counts[row, one]}" for one in columns if log.counts[row, one])

    what = "fetches" if client == "*" else f"fetches of {client}"
    return Counted(asked, what, log.counts[: asked.frame.height, columns].sum(axis=1), detail)
