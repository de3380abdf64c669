"""The words of command lines: each command's arguments and options, with values right and wrong.

Law: names what commands can be told and runs none. A value is chosen by the ``Random`` of the case, out of the case's own files.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from random import Random

from soak_bend import TEXTS

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
    return lambda random, _pool: random.choice(known) if random.randrange(8) else _safe(random.choice(TEXTS))


def _safe(text: str) -> str:
    return text.replace("\0", "0")[:5000]


number = among(
    "0",
    "1",
    "2",
    "3",
    "8",
    "16",
    "17",
    "-1",
    "00",
    "1" * 40,
    "\u0661",
    "99999",
    "100000",
    "1e3",
    "0x1",
    " 1",
    "+1",
    "1_0",
)
scales = among("1", "2", "3", "16", "17", "0", "\u00b2", "\u0663", "1" * 5000)
ranges = among(
    "0:2",
    "0:3:2",
    "1:2",
    "0:1",
    "2:1",
    "0:0",
    ":",
    "0:2:0",
    "0:",
    "a:b",
    "0:999999",
    "\u00b2:3",
    "0:1:1:1",
    "0:2:" + "9" * 30,
)
png_out = among(
    "out/a.png",
    "out/",
    "out/deep/er/a.png",
    "a.png",
    "a.gif",
    "a.webp",
    "out/a.txt",
    "/dev/full",
    "/dev/null",
    "/proc/no/a.png",
    "",
    "art",
)
html_out = among("out/a.html", "a.html", "a.htm", "/dev/full", "/proc/no/a.html", "out/", "bent.scene.toml")
folder_out = among("out/", "out/deep/", "a.png", "/proc/no/", "/dev/full", "art", "")
table_out = among("out/a.csv", "out/a.json", "out/", "a.txt", "/dev/full", "/proc/no/a.csv")

FRAMES: dict[str, Values | None] = {"--chip": of("chip"), "--frame": number, "--frames": ranges}
COMMANDS: dict[str, tuple[tuple[str, ...], dict[str, Values | None]]] = {
    "render": (
        ("scene",),
        {
            "-o": png_out,
            "--log": among("out/a.csv", "a.json", ".csv", ".json", "a.txt", "/dev/full"),
            "--views": folder_out,
            "--trace": among("out/a.npz", "out/", "a.txt"),
            "--busmap": among("out/b.png", "out/", "a.txt"),
            "--damage": None,
            "--scale": scales,
            "--border": None,
            **FRAMES,
        },
    ),
    "report": (("scene",), {"-o": html_out, **FRAMES}),
    "check": (("any", "any"), {}),
    "frame": (("display", "size"), {"--dots": number}),
    "budget": (
        ("chip",),
        {
            "--scene": of("scene"),
            "--witness": among("out/w.scene.toml", "w.scene.toml", "w.txt", "/dev/full"),
            "--all": None,
            "--explain": None,
            "--json": None,
        },
    ),
    "compare": (
        ("chip", "chip"),
        {"--scene": of("scene"), "--frame": number, "-o": folder_out, "--scale": scales, "--json": None},
    ),
    "sweep": (
        ("chip",),
        {
            "--vary": among(
                "sprites.per_line=1,2",
                "frame.width=64,72,x",
                "no.such=1",
                "name=a,b",
                "a",
                "=",
                "frame=1",
                "layers.0.name=a",
                "memory.size=256,512,1024",
                "time=-",
                "sprites.count=" + ",".join(map(str, range(60))),
                "palette.entries=1e9",
            ),
            "-o": table_out,
            "--scene": of("scene"),
            "--frame": number,
            "--jobs": among("1", "2", "0", "257"),
        },
    ),
    "fit": (
        ("art",),
        {
            "--chip": of("chip"),
            "--layer": among("far", "near", "far.picture", "no", "near."),
            "--sprites": among("8x8", "16x16", "0x1", "x", "9" * 30 + "x1"),
            "--glyphs": None,
            "--mode": among("tiles", "picture", "no"),
            "--cell": among("8x8", "0x0", "1"),
            "--max-tiles": number,
            "--over": among("merge", "error"),
            "--banks": among("0:4", "2,5,7", "-", "99", "a", "0:99999999999", "3:1"),
            "--dither": among("none", "ordered", "diffusion"),
            "--keep": among("0:16,240", "9999", "x"),
            "--scene": of("scene"),
            "--transparent": among("#f0f", "#ff00ff", "-", "red"),
            "--scale": None,
            "--seed": number,
            "-o": folder_out,
            "--json": None,
        },
    ),
    "export": (
        ("scene",),
        {
            "-o": folder_out,
            "--frames": ranges,
            "--only": among(
                "memory", "vectors", "memory,vectors", "constants", "registers", "no", "", "memory,", "waves"
            ),
            "--lines": ranges,
            "--chip": of("chip"),
            "--damage": None,
        },
    ),
    "map": (("scene",), {"--chip": of("chip")}),
    "schema": (("kind",), {}),
    "list": ((), {"--json": None}),
    "explain": (("word", "word"), {}),
    "guide": (("page",), {"--html": folder_out, "--files": folder_out}),
    "new": (
        ("new",),
        {
            "--ask": None,
            "--display": among("525 lines", "625 lines", "640x480", "lines", "625"),
            "--size": among(
                "-", "288x216", "64x64", "1024x288", "56x64", "64x289", "0x0", "9999x1", "289x216", "x", "9" * 30 + "x1"
            ),
            "--layers": among("1", "2", "3", "0", "4", "\u0661", "01"),
            "--colours": among("16", "64", "256", "17"),
            "--depth": among("2", "4", "3"),
            "--sprites": among("0", "4", "8", "16", "32", "-1"),
            "--memory": among("16", "32", "64", "128", "16 KiB"),
            "--bus": among("1", "2", "4", "3"),
            "--speed": among("1", "2", "1.0"),
        },
    ),
    "completion": (("kind",), {}),
}
"""Each command with the kinds of its arguments and its options; None: a flag."""

NEEDED = {"report": ("-o",), "sweep": ("-o", "--vary"), "fit": ("--chip",), "render": ("-o",), "export": ("-o",)}
MAY_WRITE = {"sweep": frozenset({0, 1}), "budget": frozenset({0, 1, 3})}
"""Statuses with which a command may have written files; 0 alone where nothing is said."""
