"""Draws every shipped scene into out/, saying each command as a person would type it.

Law: does nothing that ``vdpsim`` on the command line does not; ``tools/demo`` is its starter.
"""

from __future__ import annotations

import argparse
import shlex
import sys
from pathlib import Path

import vdpsim
from vdpsim.cli import main as command_line

SCENES = Path("scenes")
MORE = {
    "ferry": [
        [
            "--border",
            "--chip",
            "scenes/chips/dunlin.chip.toml",
            "-o",
            "out/ferry-dunlin.png",
            "--log",
            "out/ferry-dunlin.csv",
        ]
    ],
    "slipway": [["--trace", "out/slipway.npz", "--busmap", "out/slipway-bus.png"]],
}
"""What else is worth drawing of a scene."""

PICTURES = {"saltmarsh": ["--scale", "3"]}
"""The README's pictures, kept in scenes/pictures/, and how they are drawn."""


def commands(path: Path) -> list[list[str]]:
    """The commands that show everything about the scene at ``path``."""
    name = path.name.removesuffix(".scene.toml")
    shown = [
        "--scale",
        "3",
        "--border",
        "-o",
        f"out/{name}.png",
        "--log",
        f"out/{name}.csv",
        "--views",
        f"out/views-{name}/",
    ]
    found = [
        ["render", str(path), *shown],
        *(["render", str(path), "--scale", "3", *words] for words in MORE.get(name, [])),
    ]
    frames = vdpsim.load_scene(path).frames
    if frames > 1:
        found.append(["render", str(path), "--frames", f"0:{frames}", "-o", f"out/{name}/"])
    return [[*words, "--replace"] for words in found]  # out/ is this tool's own


def run(words: list[str]) -> None:
    """Say and run one ``vdpsim`` command; leave where it fails."""
    print("$ vdpsim", shlex.join(words), flush=True)
    status = command_line(words)
    if status:
        sys.exit(status)


def main() -> None:
    """Draw what the command line asks for."""
    parser = argparse.ArgumentParser(prog="tools/demo", description=__doc__.partition("\n")[0])
    parser.add_argument("scenes", nargs="*", metavar="NAME", help="scenes to draw (left out: all)")
    parser.add_argument("--pictures", action="store_true", help="also redraw the README's pictures in scenes/pictures/")
    options = parser.parse_args()
    paths = {path.name.removesuffix(".scene.toml"): path for path in sorted(SCENES.glob("*.scene.toml"))}
    unknown = [name for name in options.scenes if name not in paths]
    if unknown:
        parser.error(f"no such scene: {', '.join(unknown)}; there are {', '.join(paths)}")
    chosen = options.scenes or list(paths)
    run(["check", *map(str, sorted(SCENES.glob("chips/*.chip.toml"))), *(str(paths[name]) for name in chosen)])
    for name in chosen:
        for words in commands(paths[name]):
            run(words)
        if options.pictures and name in PICTURES:
            run(["render", str(paths[name]), *PICTURES[name], "-o", f"scenes/pictures/{name}.png", "--replace"])
    print(f"Drawn: {len(chosen)} scenes. Look into out/.")


if __name__ == "__main__":
    main()
