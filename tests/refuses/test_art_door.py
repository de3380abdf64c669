"""What the calls of ``vdpsim.art`` refuse: every argument of its public names, given values of the wrong kind and out of range.

As at the Python door: a TypeError or a ValueError (an InputError is one), told at once, in words that name the argument and
repeat what was given; arrays are told by their dtype and shape.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf, nan
from typing import Any

import numpy as np
import pytest
from PIL import Image
from refusal import refused
from wrong_values import FROM_ZERO, NO_OBJECT, NOT_FLAG, NOT_SEVERAL, NOT_TEXT, NOT_WHOLE, names_it

import vdpsim
from vdpsim import art
from vdpsim.door.arrays import told as shown_array

CURLEW, FERRY = "scenes/chips/curlew.chip.toml", "scenes/ferry.scene.toml"

NO_PATH = (None, nan, 1, True, b"bytes", [], object())
NO_COLOUR = (5, nan, "text", b"by", [], (1, 2), (0, 0, 256), (0, 0, 1.5), (True, 0, 0), (-1, 0, 0), object(), {})
NO_SIZE = (5, nan, "text", b"by", [], (1,), (8, 8, 8), (8.0, 8), (True, 8), ("8", 8), object(), {})
NO_ARRAY: tuple[Any, ...] = (None, "text", b"bytes", object(), {}, [object()], np.array(["a"]), np.array([None]))
NO_NUMBERS = (*NO_ARRAY, np.zeros(3, np.bool_), 1j, [[1], [1, 2]])
NO_COLOURS = (*NO_NUMBERS, 5, nan, [], [1, 2], np.zeros((2, 4)), [nan, 0, 0], [inf, 0, 0], [0, 0, 1e9], [0, 0, 2**70])
NO_DOTS = (
    *NO_ARRAY[:5],
    [],
    [[[0, 0, 0]]],
    np.zeros((2, 2, 3)),
    np.zeros((2, 2), np.uint8),
    np.zeros((0, 2, 3), np.uint8),
)
NO_MASK = (
    *NO_ARRAY,
    5,
    nan,
    np.ones((2, 2)),
    np.ones((2, 2), np.uint8),
    np.ones((2, 3), np.bool_),
    np.ones(2, np.bool_),
)
NO_SYMBOLS = (None, 5, nan, True, "text", b"bytes", object(), [1.5], [None], ["a"], [True], {1: 2})
BEYOND = (-1, -(2**70), np.int64(-1))

DOTS = np.zeros((2, 2, 3), np.uint8)
SEEN = np.ones((2, 2), np.bool_)
TILES, SHOWN = np.zeros((2, 4, 3), np.uint8), np.ones((2, 4), np.bool_)
INK = {65: np.ones((8, 6), np.bool_)}


@pytest.fixture(scope="module")
def things() -> dict[str, Any]:
    chip = vdpsim.load_chip(CURLEW)
    image = Image.fromarray(np.arange(192, dtype=np.uint8).reshape(8, 8, 3) & 0x80)
    return {"chip": chip, "image": image, "art": art.fit(image, chip, layer="far")}


def fit(t: dict[str, Any], **more: Any) -> Any:
    return art.fit(**{"picture": t["image"], "chip": t["chip"], "layer": "far", **more})


def sheet(t: dict[str, Any], **more: Any) -> Any:
    return art.fit_sprites(**{"sheet": t["image"], "chip": t["chip"], "cell": (8, 8), **more})


def glyphs(t: dict[str, Any], **more: Any) -> Any:
    return art.fit_glyphs(**{"font": art.Font((6, 8), INK, True), "chip": t["chip"], **more})


def chosen(**more: Any) -> Any:
    return art.choose(**{"tiles": TILES, "opaque": SHOWN, "rooms": [art.Room(2)], "channels": (4, 4, 4), **more})


def font(**more: Any) -> Any:
    return art.Font(**{"size": (6, 8), "glyphs": INK, "characters": True, **more})


TABLE: dict[str, tuple[Any, tuple[Any, ...], str]] = {
    "fit picture": (lambda t, v: fit(t, picture=v), NO_PATH, "picture"),
    "fit chip": (lambda t, v: fit(t, chip=v), NO_OBJECT, "chip"),
    "fit layer": (lambda t, v: fit(t, layer=v), (*NOT_TEXT[1:], "none"), "layer"),
    "fit mode": (lambda t, v: fit(t, mode=v), (*NOT_TEXT[1:], "none"), "mode"),
    "fit max_tiles": (lambda t, v: fit(t, max_tiles=v), (*NOT_WHOLE[1:], 0, *BEYOND), "max_tiles"),
    "fit over": (lambda t, v: fit(t, over=v), (*NOT_TEXT, "none"), "over"),
    "fit banks": (lambda t, v: fit(t, banks=v), (*NO_SYMBOLS[2:-1], 0, 99, 2**70, *BEYOND), "banks"),
    "fit bank": (lambda t, v: fit(t, banks=[v]), (*NOT_WHOLE, *BEYOND, 2**70, 99), "banks"),
    "fit dither": (lambda t, v: fit(t, dither=v), (*NOT_TEXT, "none at all"), "dither"),
    "fit keep": (lambda t, v: fit(t, keep=v), NOT_SEVERAL, "keep"),
    "fit keep entry": (lambda t, v: fit(t, keep=[v]), (*NOT_WHOLE, *BEYOND, 2**70, 256), "keep"),
    "fit keep colour": (lambda t, v: fit(t, keep={3: v}), NO_COLOUR, "keep"),
    "fit transparent": (lambda t, v: fit(t, transparent=v), NO_COLOUR, "transparent"),
    "fit scale": (lambda t, v: fit(t, scale=v), NOT_FLAG, "scale"),
    "fit seed": (lambda t, v: fit(t, seed=v), FROM_ZERO, "seed"),
    "fit progress": (lambda t, v: fit(t, progress=v), NO_OBJECT[1:], "progress"),
    "fit_sprites sheet": (lambda t, v: sheet(t, sheet=v), NO_PATH, "sheet"),
    "fit_sprites chip": (lambda t, v: sheet(t, chip=v), NO_OBJECT, "chip"),
    "fit_sprites cell": (lambda t, v: sheet(t, cell=v), (None, *NO_SIZE, (0, 8), (8, -1)), "cell"),
    "fit_sprites cell beyond": (lambda t, v: sheet(t, cell=(v, 8)), (2**70, 9, *BEYOND), "multiple|cell"),
    "fit_sprites banks": (lambda t, v: sheet(t, banks=v), (*NO_SYMBOLS[2:-1], 0, 99, *BEYOND), "banks"),
    "fit_sprites transparent": (lambda t, v: sheet(t, transparent=v), NO_COLOUR, "transparent"),
    "fit_sprites seed": (lambda t, v: sheet(t, seed=v), FROM_ZERO, "seed"),
    "fit_glyphs font": (lambda t, v: glyphs(t, font=v), NO_PATH, "font"),
    "fit_glyphs chip": (lambda t, v: glyphs(t, chip=v), NO_OBJECT, "chip"),
    "fit_glyphs layer": (lambda t, v: glyphs(t, layer=v), (*NOT_TEXT[1:], "none"), "layer"),
    "fit_glyphs mode": (lambda t, v: glyphs(t, layer="near", mode=v), (*NOT_TEXT[1:], "none"), "mode"),
    "fit_glyphs cell": (lambda t, v: glyphs(t, cell=v), NO_SIZE, "cell"),
    "fit_glyphs name": (lambda t, v: glyphs(t, name=v), NOT_TEXT[1:], "name"),
    "fit_together asks": (lambda t, v: art.fit_together(v, t["chip"]), (None, *NOT_SEVERAL), "asks"),
    "fit_together ask": (lambda t, v: art.fit_together([v], t["chip"]), NO_OBJECT, "asks"),
    "fit_together chip": (lambda t, v: art.fit_together([], v), NO_OBJECT, "chip"),
    "Ask picture": (lambda t, v: art.Ask(v), NO_PATH, "picture"),
    "Ask layer": (lambda t, v: art.Ask("x", v), NOT_TEXT[1:], "layer"),
    "Ask sprites": (lambda t, v: art.Ask("x", sprites=v), NO_SIZE, "sprites"),
    "Ask max_tiles": (lambda t, v: art.Ask("x", max_tiles=v), NOT_WHOLE[1:], "max_tiles"),
    "Ask over": (lambda t, v: art.Ask("x", over=v), NOT_TEXT, "over"),
    "Ask banks": (lambda t, v: art.Ask("x", banks=v), (*NO_SYMBOLS[2:-1], -1), "banks"),
    "Ask transparent": (lambda t, v: art.Ask("x", transparent=v), NO_COLOUR, "transparent"),
    "Ask scale": (lambda t, v: art.Ask("x", scale=v), NOT_FLAG, "scale"),
    "Ask name": (lambda t, v: art.Ask("x", name=v), NOT_TEXT[1:], "name"),
    "loss asked": (lambda t, v: art.loss(v, DOTS, SEEN), NO_DOTS, "asked"),
    "loss given": (lambda t, v: art.loss(DOTS, v, SEEN), (*NO_DOTS, np.zeros((2, 3, 3), np.uint8)), "given"),
    "loss opaque": (lambda t, v: art.loss(DOTS, DOTS, v), NO_MASK, "opaque"),
    "compared": (lambda t, v: art.compared(v), NO_OBJECT, "art"),
    "bank_map": (lambda t, v: art.bank_map(v), NO_OBJECT, "art"),
    "save arts": (lambda t, v: art.save(v, "/nowhere"), (None, *NOT_SEVERAL), "arts"),
    "save art": (lambda t, v: art.save([v], "/nowhere"), NO_OBJECT, "arts"),
    "save folder": (lambda t, v: art.save([t["art"]], v), NO_PATH, "folder"),
    "save chip_file": (lambda t, v: art.save([t["art"]], "/nowhere", v), NO_PATH[1:], "chip_file"),
    "Art.save folder": (lambda t, v: t["art"].save(v), NO_PATH, "folder"),
    "open_picture path": (lambda t, v: art.open_picture(v), NO_PATH, "path"),
    "open_picture most": (lambda t, v: art.open_picture("x.png", most=v), (*NOT_WHOLE, 0, *BEYOND), "most"),
    "from_image image": (lambda t, v: art.from_image(v), NO_OBJECT, "image"),
    "from_image name": (lambda t, v: art.from_image(t["image"], v), NOT_TEXT, "name"),
    "from_image most": (lambda t, v: art.from_image(t["image"], most=v), (*NOT_WHOLE, 0, *BEYOND), "most"),
    "Picture rgb": (lambda t, v: art.Picture(v, SEEN, (), "x"), NO_DOTS, "rgb"),
    "Picture opaque": (lambda t, v: art.Picture(DOTS, v, (), "x"), NO_MASK, "opaque"),
    "Picture notes": (lambda t, v: art.Picture(DOTS, SEEN, v, "x"), (None, *NOT_SEVERAL), "notes"),
    "Picture name": (lambda t, v: art.Picture(DOTS, SEEN, (), v), NOT_TEXT, "name"),
    "read_font path": (lambda t, v: art.read_font(v), NO_PATH, "path"),
    "read_font cell": (lambda t, v: art.read_font("x.bdf", cell=v), NO_SIZE, "cell"),
    "Font size": (lambda t, v: font(size=v), (None, *NO_SIZE, (0, 8), (8, 257), (2**70, 8)), "size"),
    "Font glyphs": (lambda t, v: font(glyphs=v), NO_OBJECT, "glyphs"),
    "Font glyph": (lambda t, v: font(glyphs={65: v}), (None, 5, [], np.ones((8, 6)), np.ones((6, 8), np.bool_)), "glyphs"),
    "Font number": (lambda t, v: font(glyphs={v: INK[65]}), (None, 1.5, True, "a", -1), "number"),
    "Font characters": (lambda t, v: font(characters=v), NOT_FLAG, "characters"),
    "Font notes": (lambda t, v: font(notes=v), (None, *NOT_SEVERAL), "notes"),
    "Font widths": (lambda t, v: font(widths=v), NO_OBJECT, "widths"),
    "Font width": (lambda t, v: font(widths={65: v}), (*NOT_WHOLE, 7, 2**70, *BEYOND), "widths"),
    "entries_of scene": (lambda t, v: art.entries_of(v), NO_PATH, "scene"),
    "entries_of chip": (lambda t, v: art.entries_of(FERRY, v), NO_OBJECT[1:], "chip"),
    "pack sets": (lambda t, v: art.pack(v, 4), (None, *NOT_SEVERAL), "sets"),
    "pack set": (lambda t, v: art.pack([v], 4), NO_SYMBOLS, "sets"),
    "pack capacity": (lambda t, v: art.pack([{1}], v), (*NOT_WHOLE, 0, *BEYOND), "capacity"),
    "pack shared": (lambda t, v: art.pack([{1}], 4, shared=v), NO_SYMBOLS, "shared"),
    "pack seed": (lambda t, v: art.pack([{1}], 4, seed=v), FROM_ZERO, "seed"),
    "place sets": (lambda t, v: art.place(v, [art.Page(4)]), (None, *NOT_SEVERAL), "sets"),
    "place set": (lambda t, v: art.place([v], [art.Page(4)]), NO_SYMBOLS, "sets"),
    "place pages": (lambda t, v: art.place([{1}], v), (None, *NOT_SEVERAL), "pages"),
    "place page": (lambda t, v: art.place([{1}], [v]), NO_OBJECT, "pages"),
    "place reach": (lambda t, v: art.place([{1}], [art.Page(4)], v), (*NOT_SEVERAL, []), "reach"),
    "place reach of one": (lambda t, v: art.place([{1}], [art.Page(4)], [v]), (*NO_SYMBOLS, [], [1], [-1], [2**70]), "reach"),
    "place seed": (lambda t, v: art.place([{1}], [art.Page(4)], seed=v), FROM_ZERO, "seed"),
    "Page room": (lambda t, v: art.Page(v), FROM_ZERO, "room"),
    "Page fixed": (lambda t, v: art.Page(4, v), NO_SYMBOLS, "fixed"),
    "Room free": (lambda t, v: art.Room(v), (*FROM_ZERO, 4097, 2**70), "free"),
    "Room fixed": (lambda t, v: art.Room(1, v), (None, *NOT_SEVERAL), "fixed"),
    "Room fixed colour": (lambda t, v: art.Room(1, (v,)), (None, *NO_COLOUR), "fixed"),
    "choose tiles": (lambda t, v: chosen(tiles=v), (*NO_NUMBERS, TILES / 2, TILES - np.int64(1), TILES + np.uint16(256)),
        "tiles"),
    "choose opaque": (lambda t, v: chosen(opaque=v), NO_MASK, "opaque"),
    "choose rooms": (lambda t, v: chosen(rooms=v), (None, *NOT_SEVERAL, []), "rooms"),
    "choose room": (lambda t, v: chosen(rooms=[v]), NO_OBJECT, "rooms"),
    "choose channels": (lambda t, v: chosen(channels=v), (None, *NOT_SEVERAL, (4, 4), (4, 4, 4, 4)), "channels"),
    "choose channel": (lambda t, v: chosen(channels=(4, v, 4)), (*NOT_WHOLE, 0, 9, 2**70, *BEYOND), "channels"),
    "choose reach": (lambda t, v: chosen(reach=v), NO_MASK[1:], "reach"),
    "choose weights": (lambda t, v: chosen(weights=v), (*NO_NUMBERS[1:], 1, [1], [1, -1], [1, nan], [1, 1e300], [1, 2**70]),
        "weights"),
    "choose seed": (lambda t, v: chosen(seed=v), FROM_ZERO, "seed"),
    "choose progress": (lambda t, v: chosen(progress=v), NO_OBJECT[1:], "progress"),
    "lab": (lambda t, v: art.lab(v), NO_COLOURS, "rgb8"),
    "oklab": (lambda t, v: art.oklab(v), NO_COLOURS, "rgb8"),
    "ciede2000 lab1": (lambda t, v: art.ciede2000(v, [0, 0, 0]), NO_COLOURS, "lab1"),
    "ciede2000 lab2": (lambda t, v: art.ciede2000([0, 0, 0], v), NO_COLOURS, "lab2"),
    "psnr first": (lambda t, v: art.psnr(v, [1]), (*NO_NUMBERS, [], nan, inf, -1, 256, 2**70), "first"),
    "psnr second": (lambda t, v: art.psnr([1], v), (*NO_NUMBERS, [], nan, inf, -1, 256, 2**70), "second"),
}  # fmt: skip

FOREIGN = ("could not convert", "inhomogeneous", "broadcast together", "sequence index", "out of bounds")
"""Words of numpy's own refusals."""


@pytest.mark.parametrize("row", TABLE)
def test_a_wrong_argument_is_refused(things, row):
    call, wrong, name = TABLE[row]
    for value in wrong:
        with refused((TypeError, ValueError), ".") as refusal:
            call(things, value)
        text = str(refusal.value)
        names_it(text, name, value, shown_array)
        assert not [foreign for foreign in FOREIGN if foreign in text], text


def test_every_name_that_is_called_has_a_row():
    """But for the results, which only fitting, packing and choosing make."""
    made = {"Fitted", "FittedSprites", "FittedGlyphs", "Art", "Placed", "Report", "Loss", "Packing", "Chosen"}
    assert {row.partition(" ")[0] for row in TABLE} - {"Art.save"} == set(art.__all__) - made


def test_numpy_s_whole_numbers_and_arrays_are_taken(things):
    eight: Any = np.int64(8)
    one: Any = np.int64(1)
    assert art.Ask(things["image"], sprites=(eight, eight)).sprites == (8, 8)
    kept = fit(things, keep=np.array([0, 1]), banks=np.uint8(2), transparent=np.array([0, 128, 0]), seed=np.int64(1))
    assert kept.report.banks <= 2
    assert art.pack([np.array([1, 2]), {np.int64(2), 3}], np.int64(3)).pages == ((0, 1),)
    assert art.place([[one]], [art.Page(one, np.array([1]))], [range(1)]) == (0,)
    assert art.pack([{1, 2**70}], 2**70).pages == ((0,),)
    assert art.place([{1, 2**70}], [art.Page(2**70)]) == (0,)
    assert chosen(tiles=TILES.astype(np.int64), weights=[1, 2.5], seed=2**70).banks.tolist() == [0, 0]


def test_a_picture_s_arrays_stay_as_they_are():
    """Another array can be written to, the Picture's own cannot."""
    dots = DOTS.copy()
    picture = art.Picture(dots, SEEN, ["a note"], "x")
    assert (picture.rgb.flags.writeable, dots.flags.writeable, picture.notes) == (False, True, ("a note",))


def test_only_art_that_was_fitted_together_is_saved_together(things, tmp_path):
    one = things["art"]
    other = vdpsim.load_chip("scenes/chips/dunlin.chip.toml")
    for second, told in (
        (one, "names of their own, got picture twice"),
        (replace(one, name="b", palette={**one.palette, 200: 1}), "fitted together, got other palettes"),
        (replace(one, name="b", chip=other), "fitted to one chip, got Curlew and Dunlin"),
    ):
        with refused(ValueError, told):
            art.save([one, second], tmp_path)
    assert not list(tmp_path.iterdir())
