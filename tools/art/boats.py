"""The ferry and the rowing boat, in the birds' colours: sprites.

Law: drawings are planes of values 0 to 15 of ``birds.COLOURS``, 0 transparent. Knows no scene.
"""

from __future__ import annotations

import numpy as np

from .canvas import Plane, box, inside, line, put, run

NIGHT, SLATE, STEEL, GREY, PALE, WHITE, TAR, BROWN, TAN, SAND, RED, ORANGE, YELLOW, GREEN, BLUE = range(1, 16)


def ferry() -> Plane:
    """The ferry, 64 x 32 dots, bound for the right: hull, deck with rail, cabin, wheelhouse, funnel, flag and wake."""
    plane = np.zeros((32, 64), np.uint8)
    plane[inside(plane.shape, ((2, 19), (62, 18), (57, 28), (7, 28)))] = SLATE
    plane[inside(plane.shape, ((5, 25), (59, 25), (57, 29), (7, 29)))] = RED
    plane[inside(plane.shape, ((2, 18.4), (62, 17.4), (61.4, 20.4), (2.6, 20.4)))] = WHITE
    run(plane, 3, 21, 58, PALE)
    run(plane, 6, 25, 53, TAR)
    for x in range(12, 54, 7):
        put(plane, x, 23, YELLOW)
        put(plane, x + 1, 23, TAN)
    box(plane, 10, 11, 34, 8, WHITE)
    box(plane, 10, 17, 34, 2, PALE)
    for x in range(12, 42, 5):
        box(plane, x, 13, 4, 3, BLUE)
        run(plane, x, 13, 4, NIGHT)
        put(plane, x + 3, 15, PALE)
    run(plane, 8, 10, 38, TAR)
    run(plane, 9, 9, 37, SAND)
    box(plane, 32, 3, 11, 6, WHITE)
    box(plane, 37, 4, 6, 3, BLUE)
    run(plane, 37, 4, 6, NIGHT)
    box(plane, 33, 4, 3, 3, BLUE)
    run(plane, 31, 2, 13, RED)
    run(plane, 32, 8, 11, PALE)
    box(plane, 19, 3, 6, 6, RED)
    box(plane, 19, 3, 6, 2, NIGHT)
    box(plane, 19, 5, 6, 1, WHITE)
    box(plane, 24, 3, 1, 6, TAR)
    for x in range(46, 61, 4):
        box(plane, x, 14, 1, 4, PALE)
    line(plane, (44, 14), (60, 14), WHITE)
    for x in range(3, 10, 3):
        box(plane, x, 15, 1, 4, PALE)
    line(plane, (2, 15), (9, 15), WHITE)
    line(plane, (5, 4), (5, 15), TAN)
    box(plane, 0, 4, 5, 4, GREEN)
    box(plane, 1, 5, 3, 1, YELLOW)
    for x, coat in ((48, RED), (52, BLUE), (56, YELLOW)):
        box(plane, x, 13, 2, 5, coat)
        box(plane, x, 11, 2, 2, SAND)
        run(plane, x, 10, 2, TAR)
    for x in range(1, 63):
        put(plane, x, 29, PALE if (x * 5) % 7 < 3 else BLUE)
        if (x * 3) % 8 < 5:
            put(plane, x, 30, BLUE if (x * 5) % 9 < 6 else PALE)
    run(plane, 57, 28, 5, WHITE)
    run(plane, 59, 27, 3, WHITE)
    run(plane, 0, 28, 7, WHITE)
    run(plane, 0, 31, 9, PALE)
    return plane


def rowing_boat() -> Plane:
    """A small boat with a warden in it, 32 x 16 dots, bound for the left."""
    plane = np.zeros((16, 32), np.uint8)
    plane[inside(plane.shape, ((0, 9), (31.5, 8.6), (28, 14), (4, 14)))] = BROWN
    plane[inside(plane.shape, ((0, 8.4), (31.8, 7.6), (31, 10.4), (1, 10.4)))] = TAN
    run(plane, 4, 13, 24, TAR)
    run(plane, 3, 11, 27, TAR)
    box(plane, 14, 3, 5, 6, GREEN)
    box(plane, 14, 7, 5, 2, NIGHT)
    box(plane, 15, 0, 3, 3, SAND)
    run(plane, 14, 0, 5, TAN)
    run(plane, 15, 1, 3, TAN)
    line(plane, (13, 5), (3, 12), PALE)
    for x in range(32):
        if (x * 5) % 8 < 5:
            put(plane, x, 14, PALE if x % 6 < 2 else BLUE)
        if (x * 3) % 10 < 4:
            put(plane, x, 15, BLUE)
    return plane
