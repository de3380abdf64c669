"""Command lines by chance, run as processes in surroundings that are none too friendly.

Law: options are those that each command has, with values right and wrong; files come from the pools of the other targets. How a run
may end and what it may leave stands in ``soak_run.py``; here is what is tried.
"""

from __future__ import annotations

import os
import signal
import socket
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from random import Random
from typing import Any

from soak_art import bent_art, good_font, good_picture
from soak_bend import TEXTS
from soak_files import ROOT, bend_files, put_chip, put_scene
from soak_guard import Limits, step, took
from soak_run import PYTHON, check_end, check_left, holdings, run

LIMITS = Limits(wall=120.0, memory=None)
Words = list[str | bytes]
Values = Callable[[Random, "Pool"], str | bytes]


@dataclass(frozen=True)
class Pool:
    """What a command line of a case may name, by kind; all in the folder in which it runs."""

    files: Mapping[str, tuple[str | bytes, ...]]

    def one(self, random: Random, kind: str) -> str | bytes:
        """A file of the kind, or, at times, something else under that name."""
        if random.randrange(14) == 0:
            kind = random.choice(list(self.files))
        return random.choice(self.files[kind] or ("none",))


def of(kind: str) -> Values:
    """Files of a kind."""
    return lambda random, pool: pool.one(random, kind)


def among(*known: str) -> Values:
    """One of these; at times what is none."""
    return lambda random, pool: random.choice(known) if random.randrange(8) else _safe(random.choice(TEXTS))


def _safe(text: str) -> str:
    return text.replace("\0", "0")[:5000]


number = among("0", "1", "2", "3", "8", "16", "17", "-1", "00", "1" * 40, "\u0661", "99999", "100000", "1e3", "0x1", " 1", "+1", "1_0")
scales = among("1", "2", "3", "16", "17", "0", "\u00b2", "\u0663", "1" * 5000)
ranges = among("0:2", "0:3:2", "1:2", "0:1", "2:1", "0:0", ":", "0:2:0", "0:", "a:b", "0:999999", "\u00b2:3", "0:1:1:1", "0:2:" + "9" * 30)
png_out = among("out/a.png", "out/", "out/deep/er/a.png", "a.png", "a.gif", "a.webp", "out/a.txt", "/dev/full", "/dev/null", "/proc/no/a.png", "", "art")
html_out = among("out/a.html", "a.html", "a.htm", "/dev/full", "/proc/no/a.html", "out/", "bent.scene.toml")
folder_out = among("out/", "out/deep/", "a.png", "/proc/no/", "/dev/full", "art", "")
table_out = among("out/a.csv", "out/a.json", "out/", "a.txt", "/dev/full", "/proc/no/a.csv")

FRAMES: dict[str, Values | None] = {"--chip": of("chip"), "--frame": number, "--frames": ranges}
COMMANDS: dict[str, tuple[tuple[str, ...], dict[str, Values | None]]] = {
    "render": (
        ("scene",),
        {"-o": png_out, "--log": among("out/a.csv", "a.json", ".csv", ".json", "a.txt", "/dev/full"), "--views": folder_out,
         "--trace": among("out/a.npz", "out/", "a.txt"), "--busmap": among("out/b.png", "out/", "a.txt"), "--damage": None,
         "--scale": scales, "--border": None, **FRAMES},
    ),
    "report": (("scene",), {"-o": html_out, **FRAMES}),
    "check": (("any", "any"), {}),
    "frame": (("display", "size"), {"--dots": number}),
    "budget": (("chip",), {"--scene": of("scene"), "--witness": among("out/w.scene.toml", "w.scene.toml", "w.txt", "/dev/full"),
                           "--all": None, "--explain": None, "--json": None}),
    "compare": (("chip", "chip"), {"--scene": of("scene"), "--frame": number, "-o": folder_out, "--scale": scales, "--json": None}),
    "sweep": (("chip",), {"--vary": among("sprites.per_line=1,2", "frame.width=64,72,x", "no.such=1", "name=a,b", "a", "=", "frame=1", "layers.0.name=a",
                                          "memory.size=256,512,1024", "time=-", "sprites.count=" + ",".join(map(str, range(60))), "palette.entries=1e9"),
                          "-o": table_out, "--scene": of("scene"), "--frame": number, "--jobs": among("1", "2", "0", "257")}),
    "fit": (
        ("art",),
        {"--chip": of("chip"), "--layer": among("far", "near", "far.picture", "no", "near."), "--sprites": among("8x8", "16x16", "0x1", "x", "9" * 30 + "x1"),
         "--glyphs": None, "--mode": among("tiles", "picture", "no"), "--cell": among("8x8", "0x0", "1"), "--max-tiles": number, "--over": among("merge", "error"),
         "--banks": among("0:4", "2,5,7", "-", "99", "a", "0:99999999999", "3:1"), "--dither": among("none", "ordered", "diffusion"),
         "--keep": among("0:16,240", "9999", "x"), "--scene": of("scene"), "--transparent": among("#f0f", "#ff00ff", "-", "red"), "--scale": None,
         "--seed": number, "-o": folder_out, "--json": None},
    ),
    "map": (("scene",), {"--chip": of("chip")}),
    "schema": (("kind",), {}),
}  # fmt: skip
"""Each command with the kinds of its arguments and its options; None: a flag."""

NEEDED = {"report": ("-o",), "sweep": ("-o", "--vary"), "fit": ("--chip",), "render": ("-o",)}
MAY_WRITE = {"sweep": frozenset({0, 1}), "budget": frozenset({0, 1, 3})}
"""Statuses with which a command may have written files; 0 alone where nothing is said."""


def put_pool(random: Random, folder: Path) -> Pool:
    """Files of every kind in ``folder``, good and bent, and things that are none."""
    scene = put_scene(random, folder)
    chip = put_chip(random, folder)
    if random.randrange(2):
        bend_files(random, random.choice((scene, chip)))
    names = (b"caf\xe9.png", "\u00e9tang.png", "a\nb.png", "\x1b[31mred.png", "-o.png", "bent.png")
    arts: list[str | bytes] = [random.choice(names), "bent.font"]
    for name, make in zip(arts, (good_picture, good_font), strict=True):
        (folder / os.fsdecode(name)).write_bytes(bent_art(random, make(random)))
    odd: list[str | bytes] = ["no.such", "fifo", "art", "", "/dev/zero", "/dev/full", "loop", ".", b"\xff\xfe", "socket", "no\n\x1b[1m.scene.toml", "x" * 300]
    os.mkfifo(folder / "fifo")
    (folder / "loop").symlink_to("loop")
    with socket.socket(socket.AF_UNIX) as bound:
        bound.bind(str(folder / "socket"))
    copy = os.fsdecode(b"sc\xe8ne.scene.toml")
    (folder / copy).write_bytes(scene.read_bytes())
    chips = [str(path.relative_to(folder)) for path in folder.rglob("*.chip.toml")]
    scenes = [scene.name, scene.name, scene.name, os.fsencode(copy)]
    files = {"scene": scenes, "chip": chips, "art": arts, "odd": odd, "any": [*scenes, *chips, *arts, *odd]}
    files |= {"display": ["525 lines", "625 lines", "640x480", "other"], "size": ["288x216", "64x64", "0x0", "x", "\u00b2x3"], "kind": ["chip", "scene", ""]}
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
    python = {"PYTHONPATH": os.environ.get("PYTHONPATH", str(ROOT)), "PATH": os.environ["PATH"], "HOME": "/nowhere"}
    known: dict[str, dict[str, Any]] = {
        "plain": {},
        "ascii": {"env": {**python, "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}},
        "ascii streams": {"env": {**python, "PYTHONIOENCODING": "ascii"}},
        "latin-1": {"env": {**python, "PYTHONIOENCODING": "latin-1"}},
        "no stdout": {"before": lambda: os.close(1)},
        "no stderr": {"before": lambda: os.close(2)},
        "neither": {"before": lambda: (os.close(1), os.close(2))},
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
