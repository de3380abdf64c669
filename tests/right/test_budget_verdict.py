"""Does it fit? Verdicts that can be worked out on paper, both sides of each limit, and what is told of the lines behind them.

The chip, unless it says otherwise: 64 dots of picture, 80 a line, so 16 of blanking before dot 0; one access a dot, one byte
wide, so 80 slots a line of which 16 are blank. A tile takes one access for its cell and one for its row of 8 dots. Of a layer
that is asked for ``lead`` dots ahead, a tile due at dot d has slots 16 + d - lead to 15 + d.
"""

from __future__ import annotations

from itertools import repeat
from pathlib import Path
from random import Random
from typing import Any

import pytest
import witnesses
from attack_script import Miss, Script, replay
from budgeted import any_odd
from paper import SPRITES, TILES, small_chip
from soaked import every
from witnesses import Shown, loaded, shown

from vdpsim.budgets import proof
from vdpsim.budgets.budget import Budget, budget, witness_of
from vdpsim.budgets.line.ways import Ways
from vdpsim.budgets.witness.search import MissSearch
from vdpsim.budgets.witness.staging import Stage
from vdpsim.budgets.witness.witness import Seeker
from vdpsim.chip.line.slots import Server
from vdpsim.chip.load import load_chip
from vdpsim.chip.model import Chip
from vdpsim.chip.registers import at_sizes

CHIPS = Path(__file__).parents[2] / "scenes" / "chips"
MEMORY = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 1}
STILL = {**TILES, "scroll": False}
LETTER = {
    "name": "x", "kind": "text", "glyph": [8, 8], "cell_bytes": 1, "cell": {"character": "3:0"}, "columns": 1, "rows": 8,
}  # fmt: skip


def lead(dots: int) -> dict[str, Any]:
    return {"when": "in time", "lead": dots}


def at(every: int, *slots: int) -> dict[str, Any]:
    return {"when": "blanking", "every": every, "at": list(slots)}


def seen(found: Budget) -> Shown:
    """What the witness of a verdict against shows."""
    assert found.witness is not None
    return shown(found.chip, found.witness)


# A layer that fills its buffer while it does not show


def filled_beside(rate: str) -> Chip:
    """Layer a, a line of 64 dots of 4 bits in 32 accesses, is fetched a line ahead and switches off b."""
    picture = {"name": "b", "kind": "bitmap", "bits_per_dot": 4, "width": 64, "height": 16, "scroll": False}
    clients = {"a.bitmap": {"when": "line before"}, "b.cells": lead(8), "b.pattern": lead(8)}
    memory = {**MEMORY, "accesses_per_dot": rate}
    return small_chip({**picture, "exclusive": ["b"]}, STILL, memory=memory, time={"clients": clients})


@pytest.mark.parametrize(
    ("rate", "missed"), [("1", {"b.cells": 3, "b.pattern": 3}), ("2", {"b.cells": 1, "b.pattern": 1}), ("17/8", {})]
)
def test_a_layer_fills_its_buffer_while_the_one_that_it_switches_off_still_shows(rate, missed):
    """On the line at whose dot 0 a is enabled it has the first 32 slots, 0 to 31, and b shows still.

    At one access a dot b's tiles due at dots 0, 8 and 16, in slots 8 to 31, find none. At two the first, in slots 16 to 31,
    finds none, and the second, from slot 32 on, does. At 17/8 the first has slots 17 to 33: its cell 32, its row 33.
    """
    found = budget(filled_beside(rate))
    assert (found.verdict, found.how) == (("does not fit", "witness") if missed else ("fits", "served"))
    if not missed:
        assert (found.lines.least("b.cells"), found.lines.least("b.pattern")) == (1, 0)
        return
    assert seen(found) == (missed, 0, sum(missed.values()))
    assert found.witness.missed == missed


# Fewer sprites, and no sprites


def with_fewer(slot: int) -> Chip:
    """A letter each of a and b, and a sprite of one access before them, all in the blank slots."""
    clients = {
        "sprites": {"when": "blanking"},
        "a.cells": at(8, 0),
        "a.glyphs": at(8, 2),
        "b.cells": at(16, 1),
        "b.glyphs": at(16, slot),
    }
    return small_chip(
        LETTER, LETTER, sprites={**SPRITES, "count": 1, "per_line": 1}, memory=MEMORY, time={"clients": clients}
    )


def test_fewer_sprites_can_be_worse():
    """The sprite takes slot 0, a's cell 8, its glyph 10, b's cell 1 and its glyph 2. Without the sprite a's cell takes slot 0,
    its glyph 2, the only one that serves b's. In slot 3 b's glyph is in nobody's way.
    """
    found, sister = budget(with_fewer(2)), budget(with_fewer(3))
    assert (found.verdict, sister.verdict) == ("does not fit", "fits")
    (late,) = found.lines.late
    assert (late.client, late.missed, late.line.sprites) == ("b.glyphs", 1, 0)
    missed, dropped, _ = seen(found)
    assert (missed, dropped) == ({"b.glyphs": 1}, 0) == (found.witness.missed, found.witness.dropped)


def scanned(slot: int) -> Chip:
    """The same with a table in memory of a sprite that is always on, read a line ahead: a scan of 1 access, and 3 for the sprite.

    Addresses are registers; nothing can be switched off.
    """
    clients = {
        "sprites": {"when": "line before"},
        "a.cells": at(8, 0),
        "a.glyphs": at(8, 6),
        "b.cells": at(16, 4),
        "b.glyphs": at(16, slot),
    }
    sprites = {**SPRITES, "count": 1, "per_line": 1, "table": "memory"}
    names = ("a.x.map", "a.x.glyphs", "b.x.map", "b.x.glyphs", "sprites.patterns", "sprites.table")
    registers = {name: {"bits": 10, "effect": "at once"} for name in names}
    return small_chip(LETTER, LETTER, sprites=sprites, memory=MEMORY, registers=registers, time={"clients": clients})


def test_on_the_last_line_of_the_picture_nobody_scans():
    """Slots 0, or 0 to 3, are the sprites'; then a's cell has slot 8, its glyph 14, b's cell 4 and its glyph 6. On line 63,
    after which no line shows, no sprite is prepared: a's cell has slot 0, its glyph 6, and b's glyph none. In slot 7 it would.
    """
    found = budget(scanned(6))
    assert [miss.line for miss in replay(found.chip, Script())] == [63]
    assert found.verdict == "does not fit"
    assert seen(found) == ({"b.glyphs": 1}, 0, 1)
    assert found.witness.line == 63
    assert budget(scanned(7)).verdict == "fits"


# Many modes


def of_three_modes(layers: int, dots: int, rate: int) -> Chip:
    """Layers that show still tiles, a still bitmap of a bit a dot or a letter, with ``dots`` of lead."""
    line = {"name": "b", "kind": "bitmap", "bits_per_dot": 1, "width": 64, "height": 8, "scroll": False}
    names = [f"l{number}" for number in range(layers)]
    clients = {f"{name}.{what}": lead(dots) for name in names for what in ("cells", "pattern", "bitmap", "glyphs")}
    return small_chip(
        layers=[{"name": name, "modes": [STILL, line, LETTER]} for name in names],
        ladder=[{"source": name} for name in names],
        memory={**MEMORY, "accesses_per_dot": rate},
        time={"clients": clients},
    )


@pytest.mark.parametrize(("dots", "verdict"), [(6, "fits"), (5, "does not fit")])
def test_three_layers_of_three_modes(dots, verdict):
    """Tiles in all three: 6 accesses in the last ``lead`` slots before each of 8 tiles. With 5 slots the last row finds none,
    eight times on a line.
    """
    found = budget(of_three_modes(3, dots, 1))
    assert found.verdict == verdict
    assert found.lines.spare["l2.pattern"].line.kind.modes == (0, 0, 0)
    if verdict == "fits":
        assert found.lines.least("l2.pattern") == 0
        return
    assert found.lines.spare["l2.pattern"].missed == 8
    assert seen(found)[0] == {"l2.pattern": 8}
    assert {miss.client for miss in replay(found.chip, Script())} == {"l2.pattern"}


@pytest.mark.parametrize(("dots", "verdict"), [(8, "fits"), (7, "does not fit")])
def test_eight_layers_of_three_modes_get_a_verdict(dots, verdict):
    """At two accesses a dot: 16 accesses in the last 16 slots before each tile, or in 14. All modes are 3 to the power of 8."""
    found = budget(of_three_modes(8, dots, 2))
    assert found.verdict == verdict
    if verdict == "does not fit":
        missed, _, _ = seen(found)
        assert missed == found.witness.missed
        assert sum(missed.values()) > 0
    else:
        assert found.lines.least("l7.pattern") == 0


# The least slack, of all lines


def test_curlews_nearest_line_is_not_its_fullest():
    """near scrolled by 1, far by 7: near's tiles are due at dots 0 and 7, far's at 0 and 1."""
    found = budget(load_chip(CHIPS / "curlew.chip.toml"))
    spare = found.lines.spare["near.cells"]
    assert (found.lines.least("near.cells"), spare.slots) == (14, 14)
    assert [way.fine for way in spare.line.layers] == [1, 7]
    served = [line for line in found.lines.kinds if line.kind == spare.line.kind]
    assert served[0].spare["near.cells"].slots == 14


def beside_a_moving_one(dots: int) -> Chip:
    """b stands still and has ``dots`` of lead; a, which is served first, scrolls and has 8."""
    clients = {"a.cells": lead(8), "a.pattern": lead(8), "b.cells": lead(dots), "b.pattern": lead(dots)}
    return small_chip(TILES, STILL, memory=MEMORY, time={"clients": clients})


def test_the_least_slack_is_that_of_the_worst_scroll_position():
    """a scrolled by f has tiles due at 0, 8 - f and so on, the second from slot 16 - f on. b's tile due at dot 0 has slots 12
    to 15. f = 4: a takes 12 and 13, b 14 and 15, which leaves 1 and 0. f = 3: a 13 and 14, b 12 and 15: 3 and 0. f = 5: a 11
    and 12, b 13 and 14: 2 and 1. f = 7, where a's first two tiles are due together: 9 to 11 are a's, b has 12 and 13: 3 and 2.
    """
    found = budget(beside_a_moving_one(4))
    assert found.fits
    cells, pattern = found.lines.spare["b.cells"], found.lines.spare["b.pattern"]
    assert (cells.slots, cells.line.layers[0].fine, cells.slot, cells.last) == (1, 4, 14, 15)
    assert (pattern.slots, pattern.slot) == (0, 15)
    assert pattern.line.layers[0].fine in {3, 4}
    assert (found.first.client, found.first.slots, found.first.proved) == ("b.pattern", 0, 0)


def test_a_dot_of_lead_less_and_it_is_late():
    """b has slots 13 to 15. f = 2: a takes 14 and 15, b's cell 13, and its row finds none, and so
    with each of b's 8 tiles. f = 3: a takes 13 and 14. f = 4: a has 12 and 13.
    """
    found = budget(beside_a_moving_one(3))
    assert found.verdict == "does not fit"
    (late,) = found.lines.late
    assert (late.client, late.missed, late.group, late.last) == ("b.pattern", 8, 0, 15)
    assert late.line.layers[0].fine in {2, 3}
    assert seen(found)[0] == found.witness.missed == {"b.pattern": 8}


@pytest.mark.parametrize(("refresh", "room", "verdict"), [(8, 4, "fits"), (9, 3, "does not fit")])
def test_the_least_room_of_all_lines_is_the_sprites(refresh, room, verdict):
    """Of 16 blank slots refresh has 8 or 9. a scrolled by f: its first two tiles, due at 0 and 8 - f, are asked for from slots
    8 and 16 - f on, so for f of 2 and more four accesses are in blank slots; for f = 1 three, for f = 0 two. 4 or 3 are left.
    """
    clients = {"a.cells": lead(8), "a.pattern": lead(8), "sprites": {"when": "blanking"}}
    chip = small_chip(
        TILES,
        sprites={**SPRITES, "per_line": 4},
        memory=MEMORY,
        time={"clients": clients, "refresh": {"slots": refresh}},
    )
    found = budget(chip)
    assert (found.verdict, found.sprites.room, found.sprites.found, found.sprites.slack) == (
        verdict,
        room,
        room,
        room - 4,
    )
    assert found.sprites.line.layers[0].fine >= 2
    if verdict == "fits":
        assert (found.first.client, found.first.slots) == ("sprites", 0)
    else:
        assert seen(found) == ({}, 1, 0)
        assert (found.witness.missed, found.witness.dropped) == ({}, 1)


@pytest.mark.parametrize(
    ("refresh", "dropped", "unread"), [(7, 0, 0), (8, 1, 0), (10, 1, 0), (11, 1, 1), (13, 1, 3), (14, 0, 4)]
)
def test_a_table_that_is_not_read_to_its_end_does_not_fit(refresh, dropped, unread):
    """Of 16 blank slots the layer has two and refresh the first. Four records are scanned with an access each, and the sprite
    that a line may have takes three more: 7. With one slot fewer it is dropped, as it is with the one for its own record alone;
    with none nobody finds it, and nobody drops it.
    """
    clients = {"a.cells": lead(8), "a.pattern": lead(8), "sprites": {"when": "blanking"}}
    sprites = {**SPRITES, "table": "memory", "per_line": 1}
    time = {"clients": clients, "refresh": {"slots": refresh}}
    found = budget(small_chip(STILL, sprites=sprites, memory=MEMORY, time=time))
    assert (found.verdict, found.sprites.slack) == ("fits" if refresh == 7 else "does not fit", 7 - refresh)
    if refresh > 7:
        witness = found.witness
        assert (witness.missed, witness.dropped, witness.unread) == ({}, dropped, unread)
        assert (*seen(found), witnesses.unread(found.chip, witness)) == ({}, dropped, 0, unread)
        told = ["1 sprite"] * dropped + [f"{unread} access{'es' if unread > 1 else ''} to the sprite table"] * bool(
            unread
        )
        assert f"there is no slot in time for {' and '.join(told)}" in witness.about
        there = budget(found.chip, loaded(found.chip, witness)).seen
        assert (there.fits, bool(there.unread)) == (False, bool(unread))


def test_cells_of_a_map_of_one_row_that_is_always_on_are_fetched_on_line_0_alone():
    """Elsewhere they are kept. Scrolled by 7 the first two tiles are due at dots 0 and 1: cells in slots 8 and 9, rows in 10 and
    11, where 15 and 16 serve. Kept, the rows are in slots 8 and 9.
    """
    keeps = {**lead(8), "keep": True}
    registers = {"a.scroll_x": {"bits": 3, "effect": "at once"}, "a.scroll_y": {"bits": 6, "effect": "at once"}}
    time = {"clients": {"a.cells": keeps, "a.pattern": lead(8)}}
    chip = small_chip({**TILES, "page": [16, 1]}, memory=MEMORY, registers=registers, time=time)
    found = budget(chip)
    assert (found.first.client, found.first.slots) == ("a.pattern", 5)
    assert (found.first.line.layers[0].fine, found.first.line.layers[0].kept) == (7, False)
    witness = witness_of(found)
    assert (witness.line, witness.frame) == (0, 0)


# What is told of a miss


@pytest.mark.parametrize(("dots", "fits"), [(3, True), (2, False)])
def test_a_verdict_against_names_line_scroll_and_client(dots, fits):
    """Scrolled by 7 the first two tiles are due at dots 0 and 1. With a lead of 2 they may be asked for from slots 14 and 15
    on: cells 14 and 15, then the first row finds none, and the second has slot 16. Scrolled less, the second tile comes later.
    """
    chip = small_chip(TILES, memory=MEMORY, time={"clients": {"a.cells": lead(dots), "a.pattern": lead(dots)}})
    found = budget(chip)
    assert found.fits is fits
    if fits:
        assert found.witness is None
        assert found.lines.late == ()
        return
    (late,) = found.lines.late
    assert (late.client, late.missed, late.group, late.line.layers[0].fine) == ("a.pattern", 1, 0, 7)
    assert (found.first.client, found.first.slots) == ("a.pattern", -1)
    witness = found.witness
    assert seen(found) == (witness.missed, witness.dropped, witness.total) == ({"a.pattern": 1}, 0, 64)
    assert str(witness.line) in witness.about
    assert "no slot in time for 1 access of a.pattern." in witness.about
    assert "scroll_x" in witness.text("chip.toml")


def test_a_chip_that_shows_nothing_has_no_nearest_line():
    chip = small_chip(TILES, memory=MEMORY, registers={"a.scroll_x": {"bits": 3, "effect": "at once"}}, constants={"a.enable": 0},
                      time={"clients": {"a.cells": lead(8), "a.pattern": lead(8)}})  # fmt: skip
    found = budget(chip)
    assert found.fits
    assert found.first is None
    assert witness_of(found) is None


# Every mode


@pytest.mark.parametrize("seed", every(2, range(20)))
def test_every_mode_is_on_some_line_that_is_told(seed, monkeypatch):
    """Where no layer can switch another off, each mode in which registers can put it is of some kind, served or searched.

    A miss that is found ends a search, so chips that do not fit are passed over.
    """
    monkeypatch.setattr("vdpsim.budgets.witness.search.MOST_TRIED", 150)
    random = Random(seed)
    chip = any_odd(random)
    while any(mode.exclusive for layer in chip.layers for mode in layer.modes) or (
        (told := budget(chip)).verdict == "does not fit"
    ):
        chip = any_odd(random)
    for alone, of_size in zip(told.sizes or (told,), at_sizes(chip), strict=True):
        shown, ways = {kind.kind for kind in alone.lines.kinds}, Ways(of_size)
        for number in range(len(chip.layers)):
            missing = {mode for mode in ways.modes(number) if mode is not None} - {kind.modes[number] for kind in shown}
            assert not missing, number


# Open


def in_haste(chip: Chip, monkeypatch: pytest.MonkeyPatch) -> Budget:
    """The budget when there is time for the bound alone, and for the first lines of a search."""
    with monkeypatch.context() as patch:
        patch.setattr(proof, "MOST_LINES", 1)
        patch.setattr(proof, "MOST_SERVED", 1)
        patch.setattr("vdpsim.budgets.witness.search.MOST_TRIED", 3)
        return budget(chip)


@pytest.mark.parametrize("wanted", [1, pytest.param(3, marks=pytest.mark.soak)])
def test_what_is_not_served_and_not_bounded_is_open(monkeypatch, wanted):
    """Of chips that fit, those that the bound cannot settle are open in haste; what is proved is never above what was found,
    and what is found never below what is there.
    """
    open_ = 0
    seeds = iter(range(200))
    while open_ < wanted:
        chip = any_odd(Random(next(seeds)))
        fast = in_haste(chip, monkeypatch)
        if fast.verdict == "does not fit":
            assert replay_of(fast)
            continue
        lines = fast.lines
        assert not lines.complete or fast.how == "served"
        for name, spare in lines.spare.items():
            assert lines.least(name) <= spare.slots
        if fast.sprites is not None:
            assert fast.sprites.room <= fast.sprites.found
        assert fast.first is None or fast.first.proved <= fast.first.slots
        if fast.verdict == "open":
            open_ += 1
            assert not fast.fits
            assert fast.how == "open"
            promised = fast.sprites is not None and fast.sprites.promised
            assert min(lines.at_least.values()) < 0 or (promised and fast.sprites.slack < 0)


def test_lines_are_served_where_the_bound_alone_settles_nothing(monkeypatch):
    """A chip that is open by its bound: once all of its lines are served after all, they are the proof."""
    chip = any_odd(Random(13))
    assert in_haste(chip, monkeypatch).verdict == "open"
    monkeypatch.setattr(proof, "MOST_LINES", 1)
    late = proof.prove(chip)
    assert (late.verdict, late.how) == ("fits", "served")
    monkeypatch.undo()
    assert proof.prove(chip).verdict == "fits"


@pytest.mark.parametrize(("asked", "wanted"), [(28, ("fits", "bound")), (29, ("does not fit", "witness"))])
def test_sprites_that_ask_for_just_the_room_that_the_bound_has_are_settled_by_it(monkeypatch, asked, wanted):
    """32 blank slots, of which the tiles that are due at dot 0 and, scrolled by 7, at dot 1 take 2 each before the sprites."""
    clients = {"a.cells": lead(2), "a.pattern": lead(2), "sprites": {"when": "blanking"}}
    memory, sprites = {**MEMORY, "accesses_per_dot": 2}, {**SPRITES, "count": 64, "per_line": asked}
    found = in_haste(small_chip(TILES, memory=memory, time={"clients": clients}, sprites=sprites), monkeypatch)
    assert (found.verdict, found.how) == wanted
    assert (found.sprites.room, found.sprites.slack) == (28, 28 - asked)


def replay_of(found: Budget) -> bool:
    """Whether the witness misses something or loses a sprite."""
    return bool(found.witness.missed or found.witness.dropped)


@pytest.mark.parametrize("seeds", [range(8, 14), pytest.param(range(14, 32), marks=pytest.mark.soak)], ids=str)
def test_haste_never_turns_a_verdict_round(seeds, monkeypatch):
    """What the bound alone says fits does fit when all lines are served; what a witness refutes does not."""
    settled = 0
    for seed in seeds:
        chip = any_odd(Random(seed))
        fast = in_haste(chip, monkeypatch)
        with monkeypatch.context() as patch:
            patch.setattr("vdpsim.budgets.witness.search.MOST_TRIED", 60)
            slow = budget(chip)
        if fast.verdict != "open" and slow.verdict != "open":
            settled += 1
            assert fast.verdict == slow.verdict
    assert settled >= len(seeds) // 2


def test_a_verdict_that_does_not_look_is_seen(monkeypatch):
    """A proof that overlooks misses says that a chip fits of which the plainest frame misses something."""
    monkeypatch.setattr(proof._Case, "_against", lambda self: iter(()))
    assert budget(with_fewer(2)).verdict == "fits"
    assert replay(with_fewer(2), Script()) != []


def test_a_search_that_finds_nothing_proves_nothing(monkeypatch):
    """A chip that misses, neither served nor searched, is open, not said to fit."""
    monkeypatch.setattr(proof, "MOST_LINES", 1)
    monkeypatch.setattr(proof, "MOST_SERVED", 1)
    monkeypatch.setattr(MissSearch, "run", lambda self: None)
    monkeypatch.setattr(proof._Case, "_witness", lambda self: None)
    monkeypatch.setattr(proof, "lines_of", lambda *given: None)
    assert proof.prove(with_fewer(2)).verdict == "open"
    assert replay(with_fewer(2), Script())[0] == Miss(0, 4, "b.glyphs", 1)


def test_a_table_that_shares_its_place_with_the_patterns_is_written_as_bytes():
    """80 slots. Table and patterns are wired to address 0, where no scene can lay out both. The scan of 4 records and 4 sprites
    of 3 accesses each come first, in slots 0 to 15. Scrolled by 7, the tile due at dot 0 finds nothing before slot 16; of that
    due at dot 1 the cell has slot 16 and the pattern nothing: 3 are missed.
    """
    clients = {"sprites": {"when": "line before"}, "a.cells": lead(8), "a.pattern": lead(8)}
    sprites = {**SPRITES, "table": "memory", "per_line": 4}
    chip = small_chip(
        TILES,
        memory=MEMORY,
        time={"clients": clients},
        sprites=sprites,
        registers={"a.scroll_x": {"bits": 4, "effect": "at once"}},
    )
    found = budget(chip)
    assert found.sprites.asked == 16
    assert (found.verdict, found.how) == ("does not fit", "witness")
    assert not any(where == "[[sprites]]" for where, _ in found.witness.tables)
    assert sum(found.witness.missed.values()) == 3


def test_a_hundred_scenes_are_staged_in_search_of_a_witness_and_no_more(monkeypatch):
    """60 for each line, of which none can be dressed: 60 for the first, 40 for the second, none for the third."""
    chip = small_chip(STILL, memory=MEMORY, time={"clients": {"a.cells": lead(9), "a.pattern": lead(9)}})
    seeker, staged = Seeker(chip, Server(chip), Ways(chip)), []
    line = next(iter(budget(chip).lines.spare.values())).line
    monkeypatch.setattr(seeker.stager, "stages", lambda _: repeat(Stage(3), 60))

    def dressed(stage):
        staged.append(stage)
        return ()

    monkeypatch.setattr(seeker.dresser, "dressed", dressed)
    counted = []
    for _ in range(3):
        assert seeker.against(line, promised=False) is None
        counted.append(len(staged))
    assert counted == [60, 100, 100]
