"""Chip and scene files of strangers: bent, and then loaded, drawn, budgeted, mapped and reported.

Law: a file is refused with an InputError whose every line can be printed, or all that can be asked of it is answered; the only
other exceptions are those that the public door documents. Good files are the shipped ones, those of the tests' corpus, and
odd chips made by chance.
"""

from __future__ import annotations

import json
import os
import sys
import tomllib
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from odd_chips import odd_plan
from soak_bend import bend_data, stretch, toml
from soak_bytes import bend_bytes
from soak_guard import FaultError, Limits, step

import vdpsim
from vdpsim.chip.load import chip_text
from vdpsim.chip.model import Chip
from vdpsim.testing.strategies.made.chips import make_chip
from vdpsim.testing.strategies.made.states import make_state
from vdpsim.testing.strategies.made.timed import make_writes

LIMITS = Limits()
ROOT = Path(__file__).resolve().parents[1]
CORPUS = ROOT / "tests" / "refuses" / "corpus"
HOMES = (ROOT / "scenes", CORPUS)


@cache
def shipped(kind: str, *, good: bool = True) -> tuple[Path, ...]:
    """The good, or the bad, files of a kind, chip or scene; the shipped ones many times, since there is more in them."""
    found = [path for home in HOMES for path in sorted(home.rglob(f"*.{kind}.toml"))]
    right = [path for path in found if not path.read_bytes().startswith(b"# expect")]
    return tuple(
        [path for path in right for _ in range(1 if CORPUS in path.parents else 4)] if good else set(found) - set(right)
    )


@cache
def limits(kind: str) -> tuple[int, ...]:
    """Every limit that the schema of a kind of file names."""
    found: set[int] = set()

    def look(value: Any) -> None:
        if isinstance(value, dict):
            for key, one in value.items():
                if key in {"minimum", "maximum", "minItems", "maxItems", "minLength", "maxLength"}:
                    found.add(int(one))
                look(one)
        elif isinstance(value, list):
            for one in value:
                look(one)

    look(vdpsim.schema("chip" if kind == "chip" else "scene"))
    return tuple(sorted(found))


def bent(random: Random, text: bytes, kind: str, how: str = "roughly") -> bytes:
    """A file, bent as text or as the data that it holds: "roughly", "gently", or made "large"."""
    try:
        data = tomllib.loads(text.decode())
    except ValueError:
        data = None
    if data is None or (how == "roughly" and random.randrange(3) == 0):
        return bend_bytes(random, text)
    if how == "large":
        stretch(random, data, limits(kind))
    for _ in range({"large": 0, "gently": 1}.get(how, random.choice((1, 1, 1, 2, 2, 3, 6)))):
        bend_data(random, data, limits(kind), gently=how == "gently" and random.randrange(5) > 0)
    try:
        return toml(data).encode("utf-8", "surrogatepass")
    except RecursionError:  # bent into itself again and again
        return bend_bytes(random, text)


def put_chip(random: Random, folder: Path) -> Path:
    """A chip file in ``folder``, as a rule a good one."""
    kind, place = random.randrange(7), folder / "bent.chip.toml"
    if kind < 3:
        place.write_bytes(random.choice(shipped("chip")).read_bytes())
    elif kind < 4:
        place.write_bytes(random.choice(shipped("chip", good=False)).read_bytes())
    elif kind < 6:
        place.write_text(chip_text(make_chip(random)), encoding="utf-8")
    else:
        plan = odd_plan(random)
        plan["memory"]["accesses_per_dot"] = random.choice(("2", "1", "1/2", "5/3"))
        place.write_text(toml(plan), encoding="utf-8")
    return place


def put_scene(random: Random, folder: Path) -> Path:
    """A scene, as a rule a good one, with what it names, in ``folder``."""
    source = random.choice(shipped("scene", good=random.randrange(6) > 0))
    text, place = source.read_bytes(), folder / "bent.scene.toml"
    for asset in source.parent.rglob("*"):
        if asset.is_file() and asset.suffix != ".scene.toml" and asset.name.encode() in text:
            copy = folder / asset.relative_to(source.parent)
            copy.parent.mkdir(parents=True, exist_ok=True)
            copy.write_bytes(asset.read_bytes())
    place.write_bytes(text)
    return place


def loaded(path: Path) -> Any:
    """What is in a file; None where it is refused, as it should be."""
    step(f"load {path.name}")
    try:
        return vdpsim.load_chip(path) if path.name.endswith(".chip.toml") else vdpsim.load_scene(path)
    except vdpsim.InputError as error:
        told(error)
        return None


def bend_files(random: Random, path: Path) -> Any:
    """What is in the file at ``path`` once it, or the chip that it names, was bent; None where that is refused.

    Bent roughly once; or gently or larger again and again, and what is refused then is taken back.
    """
    parts = [path, *(path.parent / "chips").glob("*.chip.toml")]
    if random.randrange(3) == 0:
        one = random.choice([path, path, *parts])
        one.write_bytes(bent(random, one.read_bytes(), one.name.split(".")[1]))
        return loaded(path)
    found, how = None, random.choice(("gently", "gently", "gently", "large"))
    for _ in range(random.choice((2, 4, 8, 16))):
        one = random.choice([path, path, *parts])
        before = one.read_bytes()
        one.write_bytes(bent(random, before, one.name.split(".")[1], how))
        now = loaded(path)
        if now is None:
            one.write_bytes(before)
        else:
            found = now
    return found


def told(error: vdpsim.InputError) -> str:
    """The refusal. Raises FaultError where it does not say anything that can be printed."""
    if not error.problems:
        raise FaultError("refusal without a problem")
    for problem in error.problems:
        text = str(problem)
        bad = [one for one in text if not one.isprintable()]
        if bad:
            raise FaultError("problem that cannot be printed", repr(text[:500]))
        if not problem.message or len(text) > 4000:
            raise FaultError("problem that is empty or endless", repr(text[:500]))
    return str(error)


def ask_chip(random: Random, chip: Chip) -> None:
    """All that can be asked of a chip."""
    step("chip as text")
    if vdpsim.parse_chip(chip_text(chip)) != chip:
        raise FaultError("a chip that is written reads back as another")
    step("display")
    list(vdpsim.display_warnings(chip.frame))
    list(vdpsim.design_warnings(chip))
    step("budget")
    found = vdpsim.budget(chip)
    json.dumps(vdpsim.budget_data(found), allow_nan=False, default=str)
    step("witness")
    witness = vdpsim.witness_of(found)
    if witness is not None:
        witness.text("x.chip.toml")
    step("draw")
    machine = vdpsim.Machine(chip, make_state(random, chip) if chip.memory.size <= 1 << 18 else None)
    writes = make_writes(random, chip) if chip.memory.size <= 1 << 18 else []
    ask_frame(machine.frame(writes, planes=True, damage=True, trace=chip.time is not None), chip)
    step("draw without damage")
    try:
        machine.frame()
    except vdpsim.NotInTimeError:
        if chip.time is None:
            raise


def ask_frame(frame: vdpsim.Frame, chip: Chip) -> None:
    """All that can be asked of a frame that was drawn with its planes and, on a chip with a time table, its trace."""
    step("frame")
    frame.png(1, border=True)
    vdpsim.log_text(frame, ".csv")
    json.loads(vdpsim.log_text(frame, ".json"))
    if frame.planes:
        vdpsim.views(frame)
    if chip.time is not None:
        vdpsim.trace_npz(frame)
        vdpsim.bus_map(frame)


def ask_scene(random: Random, scene: vdpsim.Scene) -> None:
    """All that can be asked of a scene."""
    chip, last = scene.chip, scene.frames - 1
    step("map")
    scene.memory_map()
    for number in sorted({0, min(last, random.randrange(20)), min(last, 300) if random.randrange(8) == 0 else 0}):
        step(f"render frame {number}")
        ask_frame(vdpsim.render(scene, number, planes=True, damage=True, trace=chip.time is not None), chip)
    step("render without damage")
    try:
        vdpsim.render(scene)
    except vdpsim.NotInTimeError:
        if chip.time is None:
            raise
    step("report")
    vdpsim.report_page(scene, range(min(2, scene.frames)))
    if random.randrange(3) == 0:
        step("budget of the scene")
        json.dumps(
            vdpsim.budget_data(vdpsim.budget(chip, scene, range(min(2, scene.frames)))), allow_nan=False, default=str
        )
    if random.randrange(3) == 0:
        step("animation")
        frames = vdpsim.frames(scene, range(min(3, scene.frames)), damage=True)
        vdpsim.animation(frames, chip, random.choice((".png", ".gif", ".webp")))


def case(seed: int, number: int, folder: Path) -> str:
    """One bent file. Raises what it should not."""
    random = Random(f"{seed}/files/{number}")  # noqa: S311 - a choice of examples, the same each time
    found = bend_files(random, (put_chip if random.randrange(2) else put_scene)(random, folder))
    if found is None:
        return "refused"
    if isinstance(found, Chip):
        ask_chip(random, found)
    else:
        ask_scene(random, found)
    return "drawn"
