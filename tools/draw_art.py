"""Draws the pictures that the shipped scenes are made of, into scenes/art/.

Law: the same dots each time, on any machine; a picture's indices are the values, or the entries, that the scene takes from
it; a ``.cells`` file holds cells of a map as they lie in memory. ``tools/draw_art`` is its starter; the drawing itself lives
in tools/art/.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
from art import birds, boats, dusk, ferry, portrait, regatta, saltmarsh, slipway, tidetable
from art.canvas import Plane, save
from art.icons import icons
from art.shore import moonlit, reserve, tideline

Drawing = tuple[str, Plane, Sequence[str]]


def sprites() -> list[Drawing]:
    """Sheets of sprites, one for each size."""
    small = birds.sheet(
        birds.LAPWING_UP, birds.LAPWING_LEVEL, birds.LAPWING_DOWN, birds.AVOCET, birds.AVOCET_FEEDING, birds.CURLEW,
        birds.TERN, birds.TERN_DOWN, birds.POST, birds.BUOY, birds.DRAGONFLY,
    )  # fmt: skip
    wide = np.hstack([birds.sheet(birds.HARRIER, birds.SWAN), boats.rowing_boat()])
    return [
        ("birds.png", small, birds.COLOURS),
        ("wide.png", wide, birds.COLOURS),
        ("ferry-boat.png", boats.ferry(), birds.COLOURS),
        ("tall.png", birds.sheet(birds.HERON, birds.VISITOR), birds.COLOURS),
    ]


def marsh() -> list[Drawing]:
    """The saltmarsh's two layers."""
    return [
        ("saltmarsh-far.png", saltmarsh.far(), saltmarsh.COLOURS),
        ("saltmarsh-near.png", saltmarsh.near(), saltmarsh.COLOURS),
    ]


def river() -> list[Drawing]:
    """The ferry's river and village."""
    return [
        ("ferry-far.png", ferry.far(), ferry.COLOURS),
        ("ferry-near.png", ferry.near(), ferry.COLOURS),
        ("ferry-village.png", ferry.village(), ferry.COLOURS),
    ]


def evening() -> list[Drawing]:
    """Dusk, and the chart of a tide."""
    return [
        ("dusk-far.png", dusk.dusk_far(), dusk.DUSK_COLOURS),
        ("dusk-near.png", dusk.dusk_near(), dusk.DUSK_COLOURS),
        ("dusk-birds.png", dusk.dusk_birds(), ("#000", "#112", "#213")),
        ("tidetable-chart.png", tidetable.chart(), tidetable.CHART_COLOURS),
    ]


def painting() -> list[Drawing]:
    """The portrait with its fringe of reeds: ten times the work of all others."""
    plane, colours = portrait.portrait()
    return [
        ("portrait.png", plane, colours),
        ("portrait-fringe.png", portrait.fringe(colours), colours),
    ]


def text() -> list[Drawing]:
    """Icons for the text modes."""
    return [("icons.png", icons(), ("#012", "#fed"))]


PARTS: tuple[Callable[[], list[Drawing]], ...] = (
    text,
    sprites,
    marsh,
    river,
    evening,
    painting,
    regatta.pictures,
    slipway.pictures,
    tideline.pictures,
    reserve.pictures,
    moonlit.pictures,
)

CELLS: tuple[Callable[[], list[tuple[str, bytes]]], ...] = (slipway.cells, reserve.cells, moonlit.cells)


def main() -> None:
    """Draw everything, or into another folder."""
    parser = argparse.ArgumentParser(prog="tools/draw_art", description=__doc__.partition("\n")[0])
    parser.add_argument("-o", "--output", type=Path, default=Path(__file__).resolve().parents[1] / "scenes/art")
    folder = parser.parse_args().output
    folder.mkdir(parents=True, exist_ok=True)
    for part in PARTS:
        for name, plane, colours in part():
            save(folder / name, plane, colours)
    for cells in CELLS:
        for name, data in cells():
            (folder / name).write_bytes(data)
    for path in sorted([*folder.glob("*.png"), *folder.glob("*.cells")]):
        print(f"{path.name:24} {path.stat().st_size:6} bytes")


if __name__ == "__main__":
    main()
