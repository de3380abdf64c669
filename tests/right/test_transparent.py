"""Which value shows nothing: one rule for layers and sprites, said, left out or none; and who tells of it."""

from __future__ import annotations

from typing import Any

import pytest
from paper import BITMAP, SPRITES, TEXT, TILES, both, holding, small_chip, sprite

import vdpsim
from vdpsim.chip.load import chip_text
from vdpsim.cli import main
from vdpsim.comparing.described import described, differing

SOLID = dict.fromkeys(range(8, 12), b"\xff")
"""Pattern 1 of sprites that are 8 x 4 dots of one bit."""


@pytest.mark.parametrize(("said", "shows"), [(0, {1}), (1, {0}), ("none", {0, 1})])
def test_sprites_show_what_is_not_transparent(said, shows):
    """Sprite 0 at (8, 2) with pattern 0, all value 0; sprite 1 at (32, 2) with pattern 2, all value 1."""
    chip = small_chip(BITMAP, sprites={**SPRITES, "transparent": said}, ladder=[{"source": "sprites"}, {"source": "a"}])
    table = [sprite(8, 2), sprite(32, 2, pattern=2)]
    frame = both(holding(chip, SOLID, table, a__b__bitmap=512))
    drawn = {number for number, x in ((0, 8), (1, 32)) if frame.sprite[3][x] == number}
    assert drawn == shows


@pytest.mark.parametrize(("said", "opaque"), [(0, False), (3, True), ("none", True), (None, True)])
def test_layers_show_what_is_not_transparent(said, opaque):
    """A bitmap of value 0 alone, before the backdrop 7."""
    mode: dict[str, Any] = {**BITMAP, **({} if said is None else {"transparent": said})}
    chip = small_chip(mode)
    assert both(holding(chip, backdrop=7)).indices[5][5] == (0 if opaque else 7)


def test_left_out_and_none_are_the_same_and_told_apart():
    out, none = small_chip(BITMAP), small_chip({**BITMAP, "transparent": "none"})
    assert out == none
    assert differing([out, none]) == ()
    assert described(out)["layers.a.modes.b.transparent"] == described(none)["layers.a.modes.b.transparent"] == "none"
    assert (out.transparency, none.transparency) == ({"a.b": "none (left out)"}, {"a.b": "none"})


def test_every_mode_and_the_sprites_are_told_of():
    chip = small_chip({**TILES, "transparent": "none"}, TEXT, BITMAP, sprites=SPRITES)
    assert chip.transparency == {"a.t": "none", "b.x": "0", "c.b": "none (left out)", "sprites": "0"}


def test_a_file_that_is_written_says_it_as_it_was_said():
    for said in (0, 1, "none"):
        chip = small_chip({**TILES, "transparent": said}, BITMAP, sprites={**SPRITES, "transparent": said})
        text = chip_text(chip)
        assert text.count("transparent = " + (f'"{said}"' if said == "none" else str(said))) == 2
        assert vdpsim.parse_chip(text) == chip


def test_check_tells_what_is_transparent(capsys):
    assert main(["check", "scenes/chips/curlew.chip.toml"]) == 0
    told = capsys.readouterr().out.rpartition("; transparent: ")[2].strip()
    assert told == (
        "near.tiles 0, near.text 0, far.tiles none (left out), far.chart none (left out), far.picture none (left out), "
        "far.text none (left out), sprites 0"
    )
