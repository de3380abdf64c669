"""A sweep: every combination of some fields of a chip file, each with its figures.

Law: rows stand in the order of the combinations, the last field counting fastest, and are the same however many processes
have worked at them. What has come back of a point is in the journal at once. Knows no figure and no picture.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from itertools import product
from math import prod
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ..chip.model import Chip
from ..door.given import function, whole_number
from ..files.toml.tables import Loc
from .inputs import check_files, check_vary, checked_jobs, read_chip, task_of, varied
from .journal import Journal, inputs_key
from .points import PointResult
from .rows import PointRow, columns
from .swept import Swept, shown_of
from .workers import WantedPoint, worked

if TYPE_CHECKING:
    from PIL.Image import Image

PointsTold = Callable[[int, int], None]
"""Told of progress: how many points are done, of how many."""

Varied = dict[str, tuple[Any, ...]]
"""The varied fields, each with its values."""


class Sweep(Swept):
    """What a sweep gave, and its picture."""

    def picture(self) -> Image:
        """All points at a glance: a small frame each or, without a scene, a bar of slots each. See ``shown``."""
        from .sheet import sheet  # noqa: PLC0415 - needs Pillow

        return sheet(self)


def sweep(
    chip: str | Path | Chip,
    vary: Mapping[str, Iterable[Any]],
    *,
    scene: str | Path | None = None,
    frame: int = 0,
    jobs: int | None = None,
    executor: Executor | None = None,
    journal: str | Path | None = None,
    told: PointsTold | None = None,
) -> Sweep:
    """Every combination of the values of ``vary`` set in ``chip``, a chip file or a Chip: what fits, and what it costs.

    ``vary`` has a list of values for each field, named by its path: ``sprites.per_line``, ``layers.near.modes.tiles.tile``,
    ``layers.0.modes.1.bits_per_dot``, ``registers.near.scroll_x.bits``. None leaves the field out of the file. With the path
    of a ``scene`` file also what happens in its ``frame``, drawn with what damage there is.

    Points are worked out by ``jobs`` processes (None: one for each core; 1: this one), or by any ``executor`` of
    concurrent.futures, such as a cluster's; its workers must have vdpsim, and the scene's files at the same paths. With the
    path of a ``journal`` finished points are noted there, and are taken from there as long as chip file, scene and program
    stay the same; it is not removed.
    ``told`` is called in this process with how many points are done, and of how many.

    A point that is no chip, or cannot draw the scene, is a row with its error. Raises InputError where the chip file, the
    scene file, a path or the list of values is wrong, or where there are more than 100,000 points; SweepStoppedError where
    the executor fails.
    """
    frame = whole_number("frame", frame, -1 << 63)
    function("told", told)
    check_files(chip, scene, journal)
    check_vary(vary)
    jobs = checked_jobs(jobs, executor)
    text, source, made = read_chip(chip)
    fields, places = varied(source, made, vary)
    task = task_of(text, source, made, scene, frame)
    results = _Results(None if journal is None else Journal(journal, inputs_key(task)), told)
    points = list(_points(fields, places, pictured=scene is not None))
    left = results.reuse(points)
    reused = len(points) - len(left)
    for point, result in worked(task, left, jobs, executor):
        results.add(point, result)
    return Sweep(
        chip=made.name,
        vary=fields,
        scene=None if scene is None else str(scene),
        frame=frame,
        rows=tuple(results.rows(points, fields, scene=scene is not None)),
        reused=reused,
        pictures=results.pictures(points),
    )


def _points(fields: Varied, places: Sequence[Loc], *, pictured: bool) -> Iterator[WantedPoint]:
    """All combinations, the last field counting fastest; ``pictured``: those that the sweep's picture shows want theirs."""
    shown = shown_of(prod(map(len, fields.values())))
    for number, values in enumerate(product(*fields.values())):
        yield WantedPoint(number, tuple(zip(places, values, strict=True)), pictured and number in shown)


class _Results:
    """What points gave, as it comes: noted in the ``journal`` and told of at once."""

    def __init__(self, journal: Journal | None, told: PointsTold | None) -> None:
        self.journal, self.told = journal, told
        self.found: dict[int, PointResult] = {}
        self.total = 0

    def reuse(self, points: Sequence[WantedPoint]) -> list[WantedPoint]:
        """Take what the journal knows; the points that are left."""
        left = []
        for point in points:
            known = self.journal.get(point.changes, pictured=point.pictured) if self.journal else None
            if known is None:
                left.append(point)
            else:
                self.found[point.number] = known
        self.total = len(points)
        self._tell()
        return left

    def add(self, point: WantedPoint, result: PointResult) -> None:
        """A point has come back."""
        self.found[point.number] = result
        if self.journal:
            self.journal.add(point.changes, result)
        self._tell()

    def _tell(self) -> None:
        if self.told:
            self.told(len(self.found), self.total)

    def rows(self, points: Sequence[WantedPoint], fields: Varied, *, scene: bool) -> Iterator[PointRow]:
        """A row for each point, all with the same keys."""
        empty = dict.fromkeys(columns(fields, scene=scene))
        for point in points:
            values = dict(zip(fields, (value for _, value in point.changes), strict=True))
            yield {**empty, "point": point.number, **values, **self.found[point.number].figures}

    def pictures(self, points: Sequence[WantedPoint]) -> dict[int, bytes]:
        """The small pictures of the points that want one and have one."""
        each = ((point.number, self.found[point.number].picture) for point in points if point.pictured)
        return {number: picture for number, picture in each if picture is not None}
