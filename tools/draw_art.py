"""Draws the pictures that the shipped scenes are made of, into scenes/art/.

Law: the same dots each time, on any machine; a picture's indices are the values, or the entries, that the scene takes from
it. ``tools/draw_art`` is its starter; the drawing itself lives in tools/art/.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from art import birds, boats, dusk, ferry, portrait, saltmarsh, tidetable
from art.canvas import Plane, save
from art.icons import icons

Drawing = tuple[str, Plane, Sequence[str]]


def sprites() -> list[Drawing]:
    """Sheets of sprites, one for each size."""
    small = birds.sheet(
        birds.LAPWING_UP, birds.LAPWING_LEVEL, birds.LAPWING_DOWN, birds.AVOCET, birds.AVOCET_FEEDING, birds.CURLEW,
        birds.TERN, birds.TERN_DOWN, birds.POST, birds.BUOY, birds.DRAGONFLY,
    )  # fmt: skip
    wide = np.hstack([birds.sheet(birds.HARRIER, birds.SWAN), boats.rowing_boat()])
    large = np.hstack([np.vstack([np.zeros_like(wide), wide]), boats.ferry()])
    return [
        ("birds.png", small, birds.COLOURS),
        ("large.png", large, birds.COLOURS),
        ("tall.png", birds.sheet(birds.HERON, birds.VISITOR), birds.COLOURS),
    ]


def marsh() -> list[Drawing]:
    """The saltmarsh's two layers."""
    return [
        ("saltmarsh-far.png", saltmarsh.far(), saltmarsh.COLOURS),
        ("saltmarsh-near.png", saltmarsh.near(), saltmarsh.COLOURS),
    ]


def dusks() -> list[Drawing]:
    """Dusk: two layers, and what moves before them."""
    return [
        ("dusk-far.png", dusk.far(), dusk.COLOURS),
        ("dusk-near.png", dusk.near(), dusk.COLOURS),
        ("dusk-sun.png", dusk.sun(), dusk.COLOURS[16:]),
        ("dusk-geese.png", dusk.geese(), dusk.COLOURS[16:]),
        ("dusk-heron.png", dusk.heron(), dusk.COLOURS[16:]),
    ]


def river() -> list[Drawing]:
    """The ferry's river and village."""
    return [
        ("ferry-far.png", ferry.far(), ferry.COLOURS),
        ("ferry-near.png", ferry.near(), ferry.COLOURS),
        ("ferry-village.png", ferry.village(), ferry.COLOURS),
    ]


def bitmaps() -> list[Drawing]:
    """The tide table's graph and the heron's portrait."""
    return [("tidetable.png", tidetable.chart(), tidetable.COLOURS), ("portrait.png", *portrait.portrait())]


def text() -> list[Drawing]:
    """Icons for the text modes."""
    return [("icons.png", icons(), ("#012", "#fed"))]


PARTS: tuple[Callable[[], list[Drawing]], ...] = (text, sprites, marsh, dusks, river, bitmaps)


def main() -> None:
    """Draw everything, or into another folder."""
    parser = argparse.ArgumentParser(prog="tools/draw_art", description=__doc__.partition("\n")[0])
    parser.add_argument("-o", "--output", type=Path, default=Path(__file__).resolve().parents[1] / "scenes/art")
    parser.add_argument("--lists", action="store_true", help="print the colour lists of dusk's timed writes instead")
    options = parser.parse_args()
    if options.lists:
        for name, colours in dusk.LISTS.items():
            rows = [", ".join(f'"{colour}"' for colour in colours[at : at + 16]) for at in range(0, len(colours), 16)]
            print(f"# {name}\ncolours = [\n" + "".join(f"    {row},\n" for row in rows) + "]")
        return
    folder = options.output
    folder.mkdir(parents=True, exist_ok=True)
    for part in PARTS:
        for name, plane, colours in part():
            save(folder / name, plane, colours)
            print(f"{name:24} {plane.shape[1]:4} x {plane.shape[0]:<4} {(folder / name).stat().st_size:6} bytes")


if __name__ == "__main__":
    main()
