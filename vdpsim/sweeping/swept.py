"""What a sweep gave: its rows, and which of them its picture shows.

Law: plain data, and its table as text; nothing is worked out here.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from ..door.lazy import by_notebook
from .rows import ERROR, PointRow, columns, csv_text, json_text

MOST_SHOWN = 240
"""Points in the picture of a sweep; of more, every so manieth is shown."""


@dataclass(frozen=True, repr=False)
class Swept:
    """What a sweep gave. ``rows``: a dictionary for each point, with the keys ``columns``, in the order of the combinations.

    ``vary``: the fields and their values; ``reused``: points that were taken from the journal. A row's ``error`` is empty, or
    says why the point has no figures; these are then None.
    """

    chip: str
    vary: dict[str, tuple[Any, ...]]
    scene: str | None
    frame: int
    rows: tuple[PointRow, ...]
    reused: int = 0
    pictures: dict[int, bytes] = field(default_factory=dict, repr=False, compare=False)

    def __repr__(self) -> str:
        return f"<{type(self).__name__} of {self.chip}: {len(self.rows)} points>"

    _repr_html_ = by_notebook("budgets", "sweep_html")

    @property
    def columns(self) -> tuple[str, ...]:
        """The keys of every row, in order."""
        return columns(self.vary, scene=self.scene is not None)

    @property
    def failed(self) -> tuple[PointRow, ...]:
        """The rows of points that could not be worked out."""
        return tuple(row for row in self.rows if row[ERROR])

    @property
    def shown(self) -> range:
        """The numbers of the points that the picture shows."""
        return shown_of(len(self.rows))

    def csv(self) -> str:
        """The table as CSV: a head, then a line a point."""
        return csv_text(self.columns, self.rows)

    def json(self) -> str:
        """The table as JSON, with what was varied."""
        about: dict[str, Any] = {"chip": self.chip, "vary": {name: list(values) for name, values in self.vary.items()}}
        if self.scene is not None:
            about |= {"scene": self.scene, "frame": self.frame}
        return json_text(about, self.rows)


def shown_of(total: int) -> range:
    """The numbers of the points that a picture of ``total`` shows."""
    return range(0, total, max(1, -(-total // MOST_SHOWN)))
