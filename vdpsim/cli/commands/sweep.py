"""``vdpsim sweep``: every combination of some fields of a chip file, and which of them fit."""

from __future__ import annotations

import argparse
import re
import sys
import time
import tomllib
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

import vdpsim
from vdpsim.door.shown import clipped, printable, shown_path
from vdpsim.door.shown import value as value_shown
from vdpsim.files.toml.places import too_deep
from vdpsim.sweeping.rows import COLUMNS, ERROR, SCENE_COLUMNS, counted

from ..files import CHIP_HELP, chip_file, is_folder, outputs, own_scene_file, replace_argument, say_first
from ..parsing import frame_number, number_within
from ..say import say, tell

if TYPE_CHECKING:
    from rich.progress import Progress, TaskID

ABOUT = """\
Tries a chip with every combination of values for some fields of its file: a table with the figures of each, and a
picture of all. If it is stopped, the same command goes on where it left off."""
_FIGURES = "\n".join(f"  {name:<20} {about}" for name, about in {**COLUMNS, **SCENE_COLUMNS}.items())
EXAMPLES = f"""\
examples:
  vdpsim sweep scenes/chips/curlew.chip.toml --vary sprites.per_line=8,12,16 --vary memory.accesses_per_dot=1,2 -o sweep.csv
  vdpsim sweep scenes/chips/curlew.chip.toml --vary sprites.per_line=4,8,12 --scene scenes/flock.scene.toml -o flock/
  vdpsim sweep scenes/chips/dunlin.chip.toml --vary layers.far.modes.tiles.bits_per_dot=2,4 -o depth.json
  vdpsim sweep scenes/chips/curlew.chip.toml --vary time.clients.near.cells.lead=8,16,32 --jobs 1 -o lead.csv

a field: keys separated by dots; an element of a list by its number, from 0, or its name
a value: a number, a text, true or false, a list or table as in the chip file; - leaves the field out of the file

what is written: FILE.csv or FILE.json, and FILE.png beside it; in DIR/ sweep.csv, sweep.json and sweep.png. Until the
sweep is done, finished points are kept in FILE.csv.journal or DIR/sweep.journal, which is removed at the end.

the columns: point, the fields, {ERROR} at the end, and between them
{_FIGURES}

exit status: 0 every point has its figures, whether it fits or not; 1 some have an error instead; 2 a file or an option
is wrong, or a file cannot be written
"""
PATIENCE = 1.0
"""Seconds after which progress is shown."""

TOLD = 5
"""Failed points that are told of on stderr."""

_BARE = re.compile(r"[^\s\"'\[\]{}=]([^\"'\[\]{}=]*[^\s\"'\[\]{}=])?")
"""A text that needs no quotes."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("chip", metavar="CHIP", type=chip_file, help=CHIP_HELP)
    parser.add_argument(
        "--vary",
        metavar="FIELD=VALUES",
        action="append",
        required=True,
        help="a field, and its values separated by commas",
    )
    parser.add_argument(
        "-o", "--output", metavar="PLACE", required=True, help="FILE.csv or FILE.json, or DIR/ for both"
    )
    replace_argument(parser)
    parser.add_argument(
        "--scene", metavar="SCENE", type=own_scene_file, help="a scene file: also draw its frame on each chip"
    )
    parser.add_argument(
        "--frame", metavar="N", type=frame_number, help="which frame of the scene, from 0 (the default)"
    )
    parser.add_argument(
        "--jobs", metavar="N", type=_jobs, help="how many processes, 1 to 256 (default: one for each core)"
    )


def run(options: argparse.Namespace) -> int:
    """Do it."""
    vary, problems = _vary(options.vary)
    problems += _misused(options)
    if problems:
        raise vdpsim.InputError(problems)
    stem = Path(options.output, "sweep") if is_folder(options.output) else Path(options.output).with_suffix("")
    journal = _journal(options.output, stem)
    outputs(options, *_places(options.output, stem))  # whoever waits for hours shall hear of it before
    try:
        with _Telling() as told:
            found = vdpsim.sweep(
                options.chip,
                vary,
                scene=options.scene,
                frame=options.frame or 0,
                jobs=options.jobs,
                journal=journal,
                told=told,
            )
    except vdpsim.SweepStoppedError as error:
        tell(f"vdpsim: {printable(error)}")
        _tell_journal(journal)
        return 2
    except KeyboardInterrupt:
        _tell_journal(journal)
        raise
    _write(found, options, stem)
    journal.unlink(missing_ok=True)
    return 1 if found.failed else 0


def _tell_journal(journal: Path) -> None:
    """Where the finished points are."""
    if journal.exists():
        tell(f"vdpsim: finished points are in {printable(journal)}; the same command goes on from there")


def _write(found: vdpsim.Sweep, options: argparse.Namespace, stem: Path) -> None:
    """Put the results in their places, together, and say what there is."""
    texts = {".csv": found.csv, ".json": found.json}
    places = _places(options.output, stem)
    with outputs(options) as written:
        say_first(written, lambda: _say(found, places))
        for place in places:
            made = texts.get(place.suffix)
            written.add(
                place, made().encode("utf-8", "backslashreplace") if made else vdpsim.png_bytes(found.picture())
            )


def _places(place: str, stem: Path) -> list[Path]:
    """The files that are written."""
    ends = [".csv", ".json"] if is_folder(place) else [Path(place).suffix]
    return [stem.with_name(stem.name + end) for end in (*ends, ".png")]


def _say(found: vdpsim.Sweep, written: list[Path]) -> None:
    reused = f" ({found.reused} from the journal)" if found.reused else ""
    points, places = f"{len(found.rows)} point{'s' if len(found.rows) != 1 else ''}", ", ".join(map(printable, written))
    say(f"{points}{reused}: {counted(found.rows)}; {places}")
    for row in found.failed[:TOLD]:
        tell(f"vdpsim: point {row['point']}: {clipped(row[ERROR], 400)}")
    if len(found.failed) > TOLD:
        tell(f"vdpsim: and {len(found.failed) - TOLD} more points failed")


def _journal(place: str, stem: Path) -> Path:
    return stem.with_name("sweep.journal") if is_folder(place) else Path(f"{place}.journal")


def _misused(options: argparse.Namespace) -> list[vdpsim.Problem]:
    """What is wrong with the command line as a whole."""
    wrong = []
    if not is_folder(options.output) and Path(options.output).suffix not in {".csv", ".json"}:
        wrong.append(("-o", f"must end in .csv or .json, or in / for a folder, got {shown_path(options.output)}"))
    if options.frame is not None and options.scene is None:
        wrong.append(("--frame", "is a frame of a scene: give --scene SCENE too"))
    return [vdpsim.Problem("vdpsim sweep", 0, place, message) for place, message in wrong]


def _vary(given: list[str]) -> tuple[dict[str, list[Any]], list[vdpsim.Problem]]:
    """The fields and their values, and what is wrong with how they are written."""
    vary: dict[str, list[Any]] = {}
    problems = []
    for text in given:
        name, sign, values = text.partition("=")
        name = name.strip()
        try:
            if not sign or not name:
                raise ValueError(f"must be a field, = and its values: sprites.per_line=8,12, got {clipped(text)}")  # noqa: TRY301
            if name in vary:
                raise ValueError(f"{name} is varied already")  # noqa: TRY301 - told with the others
            vary[name] = [_value(part) for part in _parts(values)]
        except ValueError as error:
            problems.append(vdpsim.Problem("vdpsim sweep", 0, "--vary", str(error)))
    return vary, problems


def _parts(text: str) -> list[str]:
    """The text at its commas, but for those within quotes and brackets."""
    parts, depth, quote = [""], 0, ""
    for letter in text:
        if quote:
            quote = "" if letter == quote else quote
        elif letter in "\"'":
            quote = letter
        elif letter in "[{":
            depth += 1
        elif letter in "]}":
            depth -= 1
        elif letter == "," and not depth:
            parts.append("")
            continue
        parts[-1] += letter
    return [part.strip() for part in parts]


def _value(text: str) -> Any:
    """A value as TOML writes it, or a text that needs no quotes; None for -. Raises ValueError."""
    if text == "-":
        return None
    if too_deep(text):
        raise ValueError(f"is nested too deeply, got {value_shown(text)}")
    with suppress(tomllib.TOMLDecodeError, RecursionError):
        value = tomllib.loads(f"value = {text}")
        if set(value) == {"value"} and isinstance(value["value"], bool | int | float | str | list | dict):
            return value["value"]
    if not _BARE.fullmatch(text):
        raise ValueError(
            f"must be numbers, texts, lists or tables as in a chip file, separated by commas, got {value_shown(text)}"
        )
    return text


def _jobs(text: str) -> int:
    return number_within(text, 1, 256)


class _Telling:
    """Shows progress on a terminal, once it has taken longer than ``PATIENCE``."""

    def __init__(self) -> None:
        self.begun, self.seen = time.monotonic(), sys.stderr.isatty()
        self.bar: Progress | None = None
        self.task: TaskID | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Take the bar away."""
        if self.bar is not None:
            self.bar.stop()
            self.bar = None

    def __call__(self, done: int, total: int) -> None:
        """So many points are done."""
        if not self.seen or (self.bar is None and time.monotonic() - self.begun < PATIENCE):
            return
        if self.bar is None:
            from rich.console import Console  # noqa: PLC0415 - takes as long to load as a frame to draw
            from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn  # noqa: PLC0415

            shape = (
                TextColumn("sweeping"),
                BarColumn(),
                MofNCompleteColumn(),
                TextColumn("points"),
                TimeRemainingColumn(),
            )
            self.bar = Progress(*shape, console=Console(stderr=True), transient=True)
            self.bar.start()
            self.task = self.bar.add_task("", total=total, completed=done)
        elif self.task is not None:
            self.bar.update(self.task, completed=done)
