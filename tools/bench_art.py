"""Rows of the bench about art: how good fitted photographs are, and how long that takes.

Law: quality stands as what is missing or as a ratio of errors, so that less is better, as in every row. The photographs are
scikit-learn's china.jpg and flower.jpg, scaled to 320x216 with Lanczos; seconds are processor time of one core.
"""

from __future__ import annotations

import time
from functools import cache
from pathlib import Path

import numpy as np
from bench_measure import NotMeasured, row
from PIL import Image

from vdpsim import art, load_chip
from vdpsim.art.colours.units import channels, grid
from vdpsim.art.tiles import cut
from vdpsim.scene.contents.dots import joined

CHIP = load_chip(Path(__file__).resolve().parents[1] / "tests" / "chips" / "photo.chip.toml")

LIMIT = 256
"""Tiles in the rows with a limit."""


@cache
def photograph(name: str) -> Image.Image:
    """One of scikit-learn's two."""
    try:
        from sklearn.datasets import load_sample_image  # noqa: PLC0415 - takes long to load, and only these rows want it
    except ImportError:
        raise NotMeasured("it wants scikit-learn, of the test extra") from None
    return Image.fromarray(load_sample_image(name)).resize((320, 216), Image.Resampling.LANCZOS)


@cache
def fitted(name: str, limit: int | None = None) -> tuple[art.Fitted, float]:
    """A photograph fitted, and the seconds that it took."""
    from threadpoolctl import threadpool_limits  # noqa: PLC0415 - comes with scikit-learn

    image = photograph(name)
    with threadpool_limits(1):
        begun = time.process_time()
        found = art.fit(image, CHIP, layer="near", max_tiles=limit)
        return found, time.process_time() - begun


def error(asked: np.ndarray, given: np.ndarray) -> float:
    """The mean square of the difference."""
    return float(((asked.astype(float) - given) ** 2).mean())


def against_pillow(name: str) -> float:
    """The error of 16 banks of 15 colours, in that of Pillow's 256 for the whole picture: median cut, put on the chip's grid."""
    image = photograph(name)
    asked = np.asarray(image)
    best = image.quantize(256, Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE).convert("RGB")
    return error(asked, np.asarray(fitted(name)[0].image)) / error(asked, grid(np.asarray(best), channels(CHIP)))


def against_k_means(name: str) -> float:
    """The error with 256 tiles, in that of dropping tiles by plain k-means from the picture that was fitted without a limit."""
    from sklearn.cluster import KMeans  # noqa: PLC0415

    whole = cut(np.asarray(fitted(name)[0].image), 8, 8)
    flat = whole.reshape(len(whole), -1).astype(float)
    made = KMeans(LIMIT, n_init=3, random_state=0).fit(flat)
    nearest = (
        ((flat[:, None] - made.cluster_centers_) ** 2).sum(axis=2).argmin(axis=0)
    )  # the tile that stands for each group
    dropped = joined(whole[nearest][made.labels_], 40)
    asked = np.asarray(photograph(name))
    return error(asked, np.asarray(fitted(name, LIMIT)[0].image)) / error(asked, dropped)


def missing(name: str, wanted: float) -> float:
    """Decibels that are wanting."""
    return max(0.0, wanted - fitted(name)[0].report.loss.psnr)


@row("fit china.jpg: dB below 32.0", 0, "dB")
def _china() -> float:
    return missing("china.jpg", 32.0)


@row("fit flower.jpg: dB below 34.8", 0, "dB")
def _flower() -> float:
    return missing("flower.jpg", 34.8)


@row("fit china.jpg: error / Pillow's 256 colours'", 1.52)
def _china_pillow() -> float:
    return against_pillow("china.jpg")


@row("fit flower.jpg: error / Pillow's 256 colours'", 0.91)
def _flower_pillow() -> float:
    return against_pillow("flower.jpg")


@row("fit china.jpg: seconds", 5, "s")
def _china_seconds() -> float:
    return fitted("china.jpg")[1]


@row("fit flower.jpg: seconds", 5, "s")
def _flower_seconds() -> float:
    return fitted("flower.jpg")[1]


@row("fit china.jpg to 256 tiles: error / plain k-means'", 1.0)
def _china_tiles() -> float:
    return against_k_means("china.jpg")


@row("fit flower.jpg to 256 tiles: error / plain k-means'", 1.0)
def _flower_tiles() -> float:
    return against_k_means("flower.jpg")
