"""A mode's own place in the time table: a sequencer that binds tiles and not text, on paper, by budget, engine and twin.

The chip: 128 dots of picture, 160 a line, one access a dot and one byte wide: 160 slots a line, of which 32 are blank. A dot d
of the picture is due before slot 32 + d. Its one layer a has tiles of 8 dots in mode t, and in mode x text of 21 columns of 6
dots from dot 2 on. Of each 16 slots tiles have two for cells, 0 and 8, and two for patterns, 1 and 9: as many as 16 dots
show. Text needs a cell in every 6 slots, which such a sequencer cannot give.
"""

from __future__ import annotations

import json
from typing import Any

import pytest
from paper import BITMAP, SPRITES, TEXT, TILES, both, holding, small_chip

from vdpsim.budgets.budget import budget
from vdpsim.budgets.line.bound import bound
from vdpsim.budgets.line.ways import Ways
from vdpsim.budgets.onchip import on_chip
from vdpsim.budgets.told.data import budget_data
from vdpsim.budgets.told.plain import plain
from vdpsim.chip.line.clients import Place, keeps, places
from vdpsim.chip.line.slots import Server
from vdpsim.chip.load import chip_text
from vdpsim.chip.model import Chip
from vdpsim.comparing.described import differing
from vdpsim.state.writes import RegisterWrite

Json = dict[str, Any]

FRAME = {"width": 128, "height": 64, "dot_clock": 1_000_000, "dots_per_line": 160, "lines_per_frame": 70}
MEMORY = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 1}
CELLS, PATTERN = {"every": 16, "at": [0, 8]}, {"every": 16, "at": [1, 9]}


def sequencer(lead: int = 16, *, text: Json | None = None, alone: bool = True) -> Chip:
    """The chip; ``lead`` that of the tiles, ``alone``: the sequencer's cells are for tiles alone."""
    modes = [TILES, {**TEXT, "columns": 21}]
    clients = {
        "a.t.cells" if alone else "a.cells": {"when": "in time", "lead": lead, **CELLS},
        "a.pattern": {"when": "in time", "lead": lead, **PATTERN},
        **({"a.cells": {"when": "in time", "lead": 8, **(text or {})}} if alone else {}),
        "a.glyphs": {"when": "in time", "lead": 8},
    }
    layers = [{"name": "a", "modes": modes}]
    return small_chip(layers=layers, ladder=[{"source": "a"}], frame=FRAME, memory=MEMORY, time={"clients": clients})


def test_the_worst_line_of_a_sequencer_that_does_not_bind_text():
    """Tiles scrolled by 7: tile 0 is due at dot 0, tile k at 8k - 7. Tile 1 may be asked for from slot 32 + 1 - 16 = 17 on,
    has its cell in slot 24 and its pattern in 25; the last that would do is 32: 8 and 7 to spare, as for every tile after it.
    Text: column k is due at 2 + 6k, may be asked for from slot 26 + 6k on and is served there and in the next; the last is
    33 + 6k: 7 and 6 to spare. A line of text takes 2 x 21 slots, one of tiles 2 x 17.
    """
    found = budget(sequencer())
    assert (found.verdict, found.how) == ("fits", "served")
    assert {name: spare.slots for name, spare in found.lines.spare.items()} == {
        "a.t.cells": 8, "a.pattern": 7, "a.cells": 7, "a.glyphs": 6,
    }  # fmt: skip
    assert {name: spare.line.layers[0].fine for name, spare in found.lines.spare.items()} == {
        "a.t.cells": 7, "a.pattern": 7, "a.cells": -2, "a.glyphs": -2,
    }  # fmt: skip
    assert found.worst_line.used == 42
    assert found.worst_line.by_client == {"a.cells": 21, "a.pattern": 0, "a.glyphs": 21, "refresh": 0}
    assert found.lines.most == {"a.t.cells": 17, "a.pattern": 17, "a.cells": 21, "a.glyphs": 21, "refresh": 0}
    assert found.first.client == "a.glyphs"
    assert "a.t.cells" in plain(found)
    assert json.dumps(budget_data(found))


def test_with_a_dot_of_lead_less_tile_1_is_late():
    """With 15, tile 0 asks from slot 17 on: its cell comes in 24, its pattern in 25. Tile 1 has its cell in 32, the last, and its
    pattern would have 33: late, and so is that of each of the 15 tiles after it.
    """
    found = budget(sequencer(15))
    assert found.verdict == "does not fit"
    assert found.witness.what == "16 accesses of a.pattern"


@pytest.mark.parametrize(("alone", "text", "fits"), [(True, None, True), (True, CELLS, False), (False, None, False)])
def test_the_same_slots_for_text_do_not_do(alone, text, fits):
    """A cell every 8 slots, where one is due every 6: by the last column 21 x 2 slots behind, with a lead of 8."""
    found = budget(sequencer(alone=alone, text=text))
    assert found.verdict == ("fits" if fits else "does not fit")


def test_a_client_of_one_mode_alone_may_be_named_either_way():
    """Only tiles fetch patterns: ``a.pattern`` and ``a.t.pattern`` are the same place."""
    chip = sequencer()
    clients = {name.replace("a.pattern", "a.t.pattern"): one for name, one in chip.time.clients.items()}
    other = chip.model_copy(update={"time": chip.time.model_copy(update={"clients": clients})})
    one, two = (both(holding(each, a__scroll_x=7)) for each in (chip, other))
    assert one.trace == two.trace
    assert budget(other).lines.spare["a.t.pattern"].slots == 7


def test_each_access_has_the_slot_that_paper_says():
    """Lines 0 to 31 show tiles scrolled by 7, lines from 32 on text: as above, slot by slot."""
    chip = sequencer()
    frame = both(holding(chip, a__scroll_x=7, a__split=32, a__below=1))
    tiles = [(slot, client) for line, slot, client, *_ in frame.trace if line == 5]
    wanted = [(8 * tile + at, client) for tile in range(17) for at, client in ((16, "a.cells"), (17, "a.pattern"))]
    assert tiles == wanted
    text = [(slot, client) for line, slot, client, *_ in frame.trace if line == 40]
    rows = 4 * 8  # of text, from line 0 of the picture on: none is left below the split
    assert text == [] and rows == 32
    frame = both(holding(chip, a__mode=1))
    text = [(slot, client) for line, slot, client, *_ in frame.trace if line == 5]
    wanted = [
        (26 + 6 * column + at, client) for column in range(21) for at, client in ((0, "a.cells"), (1, "a.glyphs"))
    ]
    assert text == wanted


def test_a_line_that_changes_its_mode_has_each_modes_groups_at_its_own_place():
    """Tiles up to dot 63, text from 64 on: the sequencer's slots for tiles 0 to 7, any for the columns from dot 64 on."""
    chip = sequencer()
    write = RegisterWrite(5, "a.mode", 1, 64)
    frame = both(holding(chip), [write])
    line = [(slot, client) for at, slot, client, *_ in frame.trace if at == 5]
    tiles = [(8 * tile + at, client) for tile in range(8) for at, client in ((16, "a.cells"), (17, "a.pattern"))]
    # column 10 covers dots 62 to 67: it is due at dot 64, and 24 slots are what is left from 32 + 64 - 8 = 88 on
    columns = [
        (max(88, 26 + 6 * column) + at, what)
        for column in range(10, 21)
        for at, what in enumerate(("a.cells", "a.glyphs"))
    ]
    assert sorted(line) == sorted(tiles + columns)


def halves(own: Json, other: Json, pattern: Json) -> list[tuple[int, str]]:
    """Line 5 of 64 dots of 80, 16 slots of them blank: mode t up to dot 31, whose cells come by ``own``, then u, by ``other``."""
    modes = [TILES, {**TILES, "name": "u"}]
    clients = {"a.u.cells": other, "a.t.cells": own, "a.pattern": pattern}
    chip = small_chip(
        layers=[{"name": "a", "modes": modes}], ladder=[{"source": "a"}], memory=MEMORY, time={"clients": clients}
    )
    frame = both(holding(chip), [RegisterWrite(5, "a.mode", 1, 32)], damage=True)
    assert frame.missed[5] == {"a.cells": 8 - frame.counts[5]["a.cells"], "a.pattern": 8 - frame.counts[5]["a.pattern"]}
    return [(slot, client) for line, slot, client, *_ in frame.trace if line == 5]


def lead(dots: int, **more: Any) -> Json:
    """A client that asks so many dots before its dots show."""
    return {"when": "in time", "lead": dots, **more}


def in_slots(client: str, *slots: int) -> list[tuple[int, str]]:
    """``client`` in each of ``slots``."""
    return [(slot, client) for slot in slots]


def test_a_place_serves_its_groups_in_order_also_where_their_cells_have_places_of_their_own():
    """u's cells are there from slot 8, 16, 24 and 32, 40 dots ahead, t's in 14 + d for dot d = 0, 8, 16, 24. The patterns are
    one queue: t's rows in 15 + d, up to 39, then u's four in 40 to 43, though they might have gone in 9.
    """
    assert halves(lead(2), lead(40), lead(40)) == sorted(
        in_slots("a.cells", 8, 14, 16, 22, 24, 30, 32, 38) + in_slots("a.pattern", 15, 23, 31, 39, 40, 41, 42, 43)
    )


NOTHING = {"every": 80, "at": [79]}
"""The line's last slot, which is late for every dot."""


@pytest.mark.parametrize("own", [lead(1), lead(2, **NOTHING)])
def test_a_row_that_waits_in_vain_holds_up_the_queue_until_it_is_late(own):
    """t's cell for dot d comes in slot 15 + d, the last, or never. Its row is late from slot 16 + d on, and leaves the queue
    there: that of dot 24 in slot 40, in which u's first row goes.
    """
    cells = in_slots("a.cells", 15, 23, 31, 39) if own == lead(1) else []
    assert halves(own, lead(40), lead(40)) == sorted(
        cells + in_slots("a.cells", 8, 16, 24, 32) + in_slots("a.pattern", 40, 41, 42, 43)
    )


def test_a_row_whose_cell_had_to_come_in_blanking_holds_up_the_queue_until_dot_0():
    """t's cells may have slot 12 alone, of the blank ones 0 to 15: that of dot 0 comes there, the three others are missed when
    slot 15 is over. u's cells are there in slots 0 to 3; its rows wait for that of dot 0, in 13, and for the three, until 16.
    """
    own = {"when": "blanking", "every": 80, "at": [12]}
    assert halves(own, {"when": "blanking"}, lead(64)) == sorted(
        in_slots("a.cells", 0, 1, 2, 3, 12) + in_slots("a.pattern", 13, 16, 17, 18, 19)
    )


def test_who_is_first_follows_from_the_place_of_the_mode():
    """Sprites ask from slot 0; tiles stand before them and text after: of the blank slots each gets what the order says."""
    modes = [TILES, TEXT]
    clients = {
        "a.t.cells": {"when": "blanking"}, "a.pattern": {"when": "blanking"}, "sprites": {"when": "blanking"},
        "a.cells": {"when": "blanking"}, "a.glyphs": {"when": "blanking"},
    }  # fmt: skip
    chip = small_chip(
        layers=[{"name": "a", "modes": modes}], ladder=[{"source": "a"}, {"source": "sprites"}], sprites=SPRITES,
        memory={**MEMORY, "accesses_per_dot": 4}, time={"clients": clients},
    )  # fmt: skip
    assert list(places(chip).values()) == [
        Place(0, "cells", "a.cells", (0,)), Place(0, "pattern", "a.pattern", (0,)), Place(-1, "", "sprites", ()),
        Place(0, "cells", "a.cells", (1,)), Place(0, "glyphs", "a.glyphs", (1,)),
    ]  # fmt: skip
    for mode, first in ((0, "a.cells"), (1, "sprites.pattern")):
        frame = both(holding(chip, table=[bytes(3)] * 4, a__mode=mode))
        assert [client for line, slot, client, *_ in frame.trace if (line, slot) == (1, 0)] == [first]


def test_cells_are_kept_in_the_modes_that_keep_them():
    """Text keeps its cells for the 8 lines of a row, tiles fetch them anew on each: both logged as a.cells."""
    clients: Json = {
        name: {"when": "in time", "lead": 24} for name in ("a.t.cells", "a.pattern", "a.x.cells", "a.glyphs")
    }
    clients["a.x.cells"]["keep"] = True
    chip = small_chip(
        layers=[{"name": "a", "modes": [TILES, TEXT]}], ladder=[{"source": "a"}],
        memory={**MEMORY, "accesses_per_dot": 2}, time={"clients": clients},
    )  # fmt: skip
    assert [keeps(chip, chip.layers[0], mode) for mode in (0, 1)] == [False, True]
    counts = [line["a.cells"] for line in both(holding(chip, a__split=16, a__mode=1)).counts]
    assert counts[:16] == [10, *[0] * 7] * 2
    assert counts[16:] == [8] * 48
    [kept] = [one for one in on_chip(chip) if "kept" in one.name]
    assert (kept.name, kept.bits) == ("a kept cells", 10 * 8)  # of text alone, not the 9 of tiles


def test_the_bound_knows_which_mode_a_place_is_for():
    """The slots of layer a's tiles, 0 and 8 of each 16, never hold up bitmap b, which has the others; those of its text may."""
    modes = [TILES, {**TEXT, "columns": 21}]
    clients = {
        "a.t.cells": {"when": "blanking", **CELLS}, "a.pattern": {"when": "in time", "lead": 24, **CELLS},
        "a.cells": {"when": "in time", "lead": 8}, "a.glyphs": {"when": "in time", "lead": 8},
        "b.bitmap": {"when": "in time", "lead": 12, "every": 16, "at": [1, 2, 3, 4, 9, 10, 11, 12]},
    }  # fmt: skip
    bitmap = {**BITMAP, "width": 128, "scroll": "none"}
    layers = [{"name": "a", "modes": modes}, {"name": "b", "modes": [bitmap]}]
    ladder = [{"source": "a"}, {"source": "b"}]
    time = {"clients": clients}

    def slack(**constants: int) -> int:
        known = {"registers": {"a.scroll_x": {"bits": 3, "effect": "at once"}}, "constants": constants}
        chip = small_chip(layers=layers, ladder=ladder, frame=FRAME, memory=MEMORY, time=time, **known)
        return bound(chip, Server(chip), Ways(chip)).slack["b.bitmap"]

    alone = slack(**{"a.enable": 0})
    assert slack(**{"a.mode": 0, "a.below": 0}) == alone
    assert slack(**{"a.mode": 1, "a.below": 1}) < alone
    assert slack(**{"a.mode": 0, "a.below": 1, "a.split": 16}) == slack(**{"a.mode": 1, "a.below": 1})


def test_files_and_comparisons_tell_of_places():
    from vdpsim import parse_chip  # noqa: PLC0415 - the one place that needs it

    chip, other = sequencer(), sequencer(lead=17)
    assert parse_chip(chip_text(chip)) == chip
    assert {field.path for field in differing([chip, other])} == {
        'time.clients."a.t.cells".lead', 'time.clients."a.pattern".lead',
    }  # fmt: skip
