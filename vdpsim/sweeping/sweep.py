"""A sweep: every combination of some fields of a chip file, each with its figures.

Law: rows stand in the order of the combinations, the last field counting fastest, and are the same however many processes
have worked at them. Points go out in small groups to any executor and come back in any order; what has come back is in the
journal at once. Knows no figure and no picture.
"""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from itertools import islice, product
from math import prod
from multiprocessing import get_all_start_methods, get_context, parent_process
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any

from ..chip.load import chip_from
from ..chip.model import Chip
from ..door.given import function, instance, whole_number
from ..door.given import path as path_of
from ..door.given import text as text_of
from ..door.shown import value as shown
from ..files import once
from ..files.problems import InputError, Problem
from ..files.toml.tables import Source
from .fields import Loc, place_of, plain_value
from .journal import Journal, inputs_key, scene_files, scene_key
from .points import Changes, Result, Task, run
from .rows import columns
from .swept import Swept, shown_of

if TYPE_CHECKING:
    from PIL.Image import Image

MOST_POINTS = 100_000
"""Points of one sweep; more are refused."""

LARGEST_GROUP = 4
"""Points that go out together: few enough that little is lost where they do not come back."""

FAR = 64
"""Groups that are under way at once on somebody else's executor, which may have many workers."""

Told = Callable[[int, int], None]
"""Told of progress: how many points are done, of how many."""

Part = tuple[int, Changes, bool]
"""A point to be worked out: its number, what it sets, whether its small picture is wanted."""


class SweepStoppedError(RuntimeError):
    """The executor has failed, not a point: a worker died or the cluster is gone. Finished points are in the journal."""


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
    told: Told | None = None,
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
    for name, place in (("scene", scene), ("journal", journal), ("chip", None if isinstance(chip, Chip) else chip)):
        if place is not None:
            path_of(name, place)
    if chip is None:
        raise TypeError("chip must be a path or a Chip, got None")
    for name, values in instance("vary", vary, Mapping, "fields with their values").items():
        text_of("a field of vary", name)
        if isinstance(values, bytes):  # as a list it would be numbers that nobody meant
            raise TypeError(f"{name} must have a list of values, got {shown(values)}")
    jobs = None if jobs is None else whole_number("jobs", jobs, -1 << 63)
    if jobs is not None and (jobs < 1 or executor is not None):
        raise ValueError(f"give jobs, 1 or more, or an executor; got jobs={jobs}, executor={executor}")
    if executor is not None:
        instance("executor", executor, Executor, "an Executor or None")
    text, source, made = _chip(chip)
    fields, places = _fields(source, made, vary)
    task = _task(text, source, scene, frame)
    kept = None if journal is None else Journal(journal, inputs_key(task))
    names, total = list(fields), prod(map(len, fields.values()))
    pictured = set(shown_of(total)) if scene is not None else set()
    combinations = list(product(*fields.values()))
    found: dict[int, Result] = {}
    left: list[Part] = []
    for number, values in enumerate(combinations):
        changes = tuple(zip(places, values, strict=True))
        known = kept.get(changes, pictured=number in pictured) if kept else None
        if known is not None:
            found[number] = known
        else:
            left.append((number, changes, number in pictured))
    reused = len(found)
    if told:
        told(reused, total)
    for part, result in _worked(task, left, jobs, executor):
        found[part[0]] = result
        if kept:
            kept.add(part[1], result)
        if told:
            told(len(found), total)
    every = columns(names, scene=scene is not None)
    rows = [
        dict.fromkeys(every) | {"point": number, **dict(zip(names, values, strict=True)), **found[number].figures}
        for number, values in enumerate(combinations)
    ]
    pictures = {number: found[number].picture for number in sorted(pictured)}
    return Sweep(
        made.name,
        fields,
        None if scene is None else str(scene),
        frame,
        tuple(rows),
        reused,
        {number: picture for number, picture in pictures.items() if picture is not None},
    )


def _chip(chip: str | Path | Chip) -> tuple[str, Source, Chip]:
    """The chip file's text, empty for a Chip; its data; and the chip. Raises InputError."""
    if not isinstance(chip, Chip):
        source = Source.read(chip)
        return source.text, source, chip_from(source)
    source = Source("", chip.name)
    source.data = chip.model_dump(mode="json", by_alias=True, exclude_unset=True)
    return "", source, chip


def _fields(
    source: Source, chip: Chip, vary: Mapping[str, Iterable[Any]]
) -> tuple[dict[str, tuple[Any, ...]], list[Loc]]:
    """The fields with their values, and their places. Raises InputError with everything that is wrong with them."""
    problems: list[Problem] = []
    fields: dict[str, tuple[Any, ...]] = {}
    places: list[Loc] = []
    for name, values in vary.items():
        path = name.strip()
        try:
            place = place_of(path, source.data, chip)
            known = next((other for other, at in zip(fields, places, strict=True) if _share(place, at)), None)
            if known is not None:
                raise ValueError(f"is varied already: {known}")  # noqa: TRY301 - told with the others
            fields[path] = _values(values, place)
            places.append(place)
        except ValueError as error:
            problems.append(Problem(source.name, 0, path, str(error)))
    total = prod(map(len, fields.values()))
    if not vary:
        problems.append(Problem(source.name, 0, "", "nothing is varied: name a field and its values"))
    elif total > MOST_POINTS:
        problems.append(Problem(source.name, 0, "", f"a sweep has at most {MOST_POINTS:,} points, got {total:,}"))
    if problems:
        raise InputError(problems)
    return fields, places


def _share(one: Loc, other: Loc) -> bool:
    """Whether one place is the other, or lies in it."""
    least = min(len(one), len(other))
    return one[:least] == other[:least]


def _values(values: Iterable[Any], place: Loc) -> tuple[Any, ...]:
    if isinstance(values, str | Mapping) or not isinstance(values, Iterable):
        raise ValueError(f"must have a list of values, got {shown(values)}")  # noqa: TRY004 - told as an InputError
    found = tuple(plain_value(value) for value in values)
    if not found:
        raise ValueError("must have one value at least, got none")
    texts = [json.dumps(value) for value in found]
    for number, text in enumerate(texts):
        if text in texts[:number]:
            raise ValueError(f"must have different values, got {text} twice")
    if None in found and isinstance(place[-1], int):
        raise ValueError("is an element of a list, which cannot be left out")
    return found


def _task(text: str, source: Source, scene: str | Path | None, frame: int) -> Task:
    """What all points share. Raises InputError where the scene file cannot be read or is wrong in itself."""
    if frame < 0:
        raise InputError([Problem(source.name, 0, "frame", f"frames are numbered from 0, got {frame}")])
    if scene is None:
        return Task(source.name, text, source.data)
    from ..scene.model import SceneFile  # noqa: PLC0415 - a sweep without a scene needs none of this

    path = Path(os.path.abspath(scene))  # noqa: PTH100 - workers may stand in another folder; links stay as they are
    with once():
        told = Source.read(scene)
        told.validate(SceneFile)
        read = scene_files(told, path)
    key = scene_key(told, path, read)
    return Task(source.name, text, source.data, str(path), str(scene), key, frame, read)


def _worked(
    task: Task, left: Sequence[Part], jobs: int | None, executor: Executor | None
) -> Iterator[tuple[Part, Result]]:
    """Work out what is ``left``; each point as soon as it is known. Raises SweepStoppedError."""
    if executor is not None:
        yield from _sent(executor, task, _groups(left, FAR), FAR)
        return
    processes = min(_cores() if jobs is None else jobs, len(left))
    if processes <= 1:
        for part in left:
            yield part, run(task, [part[1:]])[0]
        return
    # Processes that begin anew hold none of this one's locks, whatever threads it has; where there is a server it forks them.
    method = "forkserver" if "forkserver" in get_all_start_methods() else "spawn"
    pool = _Pool(processes, mp_context=get_context(method), initializer=_left_alone)
    try:
        yield from _sent(pool, task, _groups(left, processes), 2 * processes)
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


class _Pool(ProcessPoolExecutor):
    """Processes that do not run the caller's script again, as new ones else do: they need nothing of it.

    So a script need not be guarded against that, and may come from a terminal or a pipe. Processes begin as work is sent.
    """

    def submit(self, work: Callable[..., Any], /, *words: Any, **named: Any) -> Future[Any]:
        """Send work out."""
        script = sys.modules["__main__"]
        sys.modules["__main__"] = ModuleType("__main__")
        try:
            return super().submit(work, *words, **named)
        finally:
            sys.modules["__main__"] = script


def _left_alone() -> None:
    """In a worker of our own: an interruption from the keyboard is for the process that has the others; we end with it."""
    import gc  # noqa: PLC0415 - only here
    import signal  # noqa: PLC0415
    from threading import Thread  # noqa: PLC0415

    gc.set_threshold(
        50_000
    )  # as for a command's own process: what a point makes goes by itself, looking for more finds nothing
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    Thread(target=_end_with_parent, daemon=True).start()


def _end_with_parent() -> None:
    """Where the process that has the others is ended by force, its workers would wait for work for ever."""
    parent = parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _groups(left: Sequence[Part], workers: int) -> Iterator[Sequence[Part]]:
    """What is left in groups, the last ones of a single point, so that no worker waits long for another."""
    at = 0
    while at < len(left):
        size = max(1, min(LARGEST_GROUP, (len(left) - at) // (4 * workers)))
        yield left[at : at + size]
        at += size


def _sent(executor: Executor, task: Task, groups: Iterator[Sequence[Part]], most: int) -> Iterator[tuple[Part, Result]]:
    """Send groups out, at most ``most`` at once. Where one does not come back no more go out, and those under way are awaited."""
    waiting: dict[Future[list[Result]], Sequence[Part]] = {}
    wrong: BaseException | None = None
    try:
        while True:
            try:
                for group in islice(groups, most - len(waiting) if wrong is None else 0):
                    waiting[executor.submit(run, task, [part[1:] for part in group])] = group
            except Exception as error:  # noqa: BLE001 - executors differ in what they raise where they are broken
                wrong = error
            if not waiting:
                break
            done, _ = wait(waiting, return_when=FIRST_COMPLETED)
            for future in done:
                group = waiting.pop(future)
                if future.cancelled() or future.exception() is not None:
                    wrong = wrong or (None if future.cancelled() else future.exception()) or RuntimeError("cancelled")
                else:
                    yield from zip(group, future.result(), strict=True)
    finally:
        for future in waiting:
            future.cancel()
    if wrong is not None:
        raise SweepStoppedError(f"the sweep has stopped: {type(wrong).__name__}: {wrong}") from wrong
