"""Command lines by chance, run as processes in surroundings that are none too friendly.

Law: the words are those of ``soak_words.py``, and files come from the pools of the other targets. How a run may end and what it
may leave stands in ``soak_run.py``; here is what is tried.
"""

from __future__ import annotations

import os
import re
import signal
import socket
from collections.abc import Callable
from pathlib import Path
from random import Random
from typing import Any

from soak_art import bent_art, good_font, good_picture
from soak_bend import TEXTS, toml
from soak_files import ROOT, bend_files, put_chip, put_scene
from soak_guard import Limits, step, took
from soak_run import PYTHON, check_end, check_left, holdings, run
from soak_words import COMMANDS, MAY_WRITE, NEEDED, Pool, Words

LIMITS = Limits(wall=180.0, memory=None)


_NAME = re.compile(rb'^name = ".*"|^"name" = "[^"]*"', re.MULTILINE)


def _odd_name(random: Random) -> Callable[[re.Match[bytes]], bytes]:
    """What to call a chip or scene so that a terminal may stumble."""
    name = toml({"name": random.choice(TEXTS)[:60]}).strip().encode()
    return lambda _: name


def put_pool(random: Random, folder: Path) -> Pool:
    """Files of every kind in ``folder``, good and bent, and things that are none."""
    scene = put_scene(random, folder)
    chip = put_chip(random, folder)
    if random.randrange(2):
        bend_files(random, random.choice((scene, chip)))
    for path in (scene, chip):
        if random.randrange(3) == 0:
            path.write_bytes(_NAME.sub(_odd_name(random), path.read_bytes(), count=1))
    names = (b"caf\xe9.png", "\u00e9tang.png", "a\nb.png", "\x1b[31mred.png", "-o.png", "bent.png")
    arts: list[str | bytes] = [random.choice(names), "bent.font"]
    for name, make in zip(arts, (good_picture, good_font), strict=True):
        (folder / os.fsdecode(name)).write_bytes(bent_art(random, make(random)))
    odd: list[str | bytes] = [
        "no.such",
        "fifo",
        "art",
        "",
        "/dev/zero",
        "/dev/full",
        "loop",
        ".",
        b"\xff\xfe",
        "socket",
        "no\n\x1b[1m.scene.toml",
        "x" * 300,
    ]
    os.mkfifo(folder / "fifo")
    (folder / "loop").symlink_to("loop")
    with socket.socket(socket.AF_UNIX) as bound:
        bound.bind(str(folder / "socket"))
    copy = os.fsdecode(b"sc\xe8ne.scene.toml")
    (folder / copy).write_bytes(scene.read_bytes())
    chips: list[str | bytes] = [str(path.relative_to(folder)) for path in folder.rglob("*.chip.toml")]
    scenes: list[str | bytes] = [scene.name, scene.name, scene.name, os.fsencode(copy)]
    files: dict[str, list[str | bytes]] = {
        "scene": scenes,
        "chip": chips,
        "art": arts,
        "odd": odd,
        "any": [*scenes, *chips, *arts, *odd],
    }
    files |= {
        "display": ["525 lines", "625 lines", "640x480", "other"],
        "size": ["288x216", "64x64", "0x0", "x", "\u00b2x3"],
        "kind": ["chip", "scene", ""],
        "word": [
            "sprites.per_line",
            "layers.near.modes.tiles.tile",
            "lead",
            "near.cells",
            "slack",
            "scroll_x",
            "",
            ".",
            "0",
            *(text[:5000] for text in TEXTS),
        ],
        "page": ["idea", "model", "status-strip", "chip-file", "idee", "", "../idea"],
        "new": [
            "own",
            "own/deep/er/",
            "art",
            "",
            ".",
            "1own",
            "own bird",
            "\u00e9tang",
            "a\nb",
            "-own",
            "/proc/no/",
            "x" * 300,
            *odd,
        ],
    }
    return Pool({kind: tuple(names) for kind, names in files.items()})


def line(random: Random, pool: Pool) -> tuple[str, Words]:
    """A command by its name, and all its words."""
    name = random.choice([*COMMANDS, "render", "render", "fit"])
    kinds, options = COMMANDS[name]
    words: Words = [pool.one(random, kind) for kind in kinds]
    chosen = [one for one in NEEDED.get(name, ()) if random.randrange(12)]
    chosen += random.choices(list(options), k=random.choice((0, 1, 1, 2, 3, 5))) if options else []
    if name == "fit" and random.randrange(8):
        chosen.append(random.choice(("--layer", "--sprites", "--glyphs")))
    for one in dict.fromkeys(chosen):
        value = options[one]
        words += [one] if value is None else [one, value(random, pool)]
    if random.randrange(20) == 0:
        words.append(random.choice(("--", "-", "--no", "-h", "--frame=1", "\u2014o")))
    return name, words


def _surroundings(random: Random) -> tuple[str, dict[str, Any]]:
    """Where a command runs: a name, and what ``run`` is to be told."""
    python = {
        "PYTHONPATH": os.environ.get("PYTHONPATH", str(ROOT)),
        "PATH": os.environ["PATH"],
        "HOME": "/nowhere",
        "PYTHONDONTWRITEBYTECODE": "1",  # on a full disk a compiled module would be half there, and break all that come later
    }
    known: dict[str, dict[str, Any]] = {
        "plain": {},
        "ascii": {"env": {**python, "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}},
        "ascii streams": {"env": {**python, "PYTHONIOENCODING": "ascii"}},
        "latin-1": {"env": {**python, "PYTHONIOENCODING": "latin-1"}},
        "no stdout": {"before": lambda: os.close(1)},
        "no stderr": {"before": lambda: os.close(2)},
        "neither": {"before": lambda: os.closerange(1, 3)},
        "no stdin": {"before": lambda: os.close(0)},
        "stdout full": {"out": _full},
        "stderr full": {"err": _full},
        "stdout broken": {"out": _broken},
        "stderr broken": {"err": _broken},
        "disk full": {"before": _small_files},
        "few files": {"before": _few_files},
        "interrupted": {"after": (random.uniform(0.3, 1.5), signal.SIGINT)},
        "ended": {"after": (random.uniform(0.3, 1.5), signal.SIGTERM)},
        "narrow": {"env": {**python, "COLUMNS": random.choice(("0", "1", "20", "-5", "x", "100000")), "TERM": "dumb"}},
    }
    name = random.choice(["plain", *known])
    return name, {"env": {**python, "LC_ALL": "C.UTF-8"}, **known[name]}


def _full() -> int:
    return os.open("/dev/full", os.O_WRONLY)


def _broken() -> int:
    """A pipe that nobody reads."""
    reader, writer = os.pipe()
    os.close(reader)
    return writer


def _small_files() -> None:
    import resource  # noqa: PLC0415 - in the new process

    resource.setrlimit(resource.RLIMIT_FSIZE, (2000, 2000))


def _few_files() -> None:
    import resource  # noqa: PLC0415 - in the new process

    resource.setrlimit(resource.RLIMIT_NOFILE, (5, 5))


def case(seed: int, number: int, folder: Path) -> str:
    """One command line. Raises what is wrong with how it ended."""
    random = Random(f"{seed}/commands/{number}")  # noqa: S311 - a choice of examples, the same each time
    step("pool")
    pool = put_pool(random, folder)
    name, words = line(random, pool)
    around, more = _surroundings(random)
    (folder / "out").mkdir()
    command: Words = [*PYTHON, name, *(os.fsdecode(word).replace("\0", "") for word in words)]
    before = holdings(folder)
    step(f"run {around}: {command[3:]!r}")
    ended = run(command, folder, **more)
    took(ended.memory)
    signalled = more["after"][1] if "after" in more else None
    check_end(ended, [around, *command[2:]], signalled)
    check_left(folder, before, ended, may_write=MAY_WRITE.get(name, frozenset({0})))
    return "drawn" if ended.status in {0, 1, 3} else "refused"
