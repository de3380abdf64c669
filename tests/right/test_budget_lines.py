"""Does a budget know every line that can be? Lines that the engine served are looked up among its ways, kinds and sprites.

And are its worst lines served as any line is? Each is served once more on its own, and the numbers of accesses that sprites
can make are counted by trying all sprites. Then ways are taken away, and the checks have to see it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations_with_replacement, product
from random import Random
from typing import Any
from unittest import mock

import pytest
from attack import Attack
from attack_moves import Window
from attack_script import RESET, Fresh, Script, Slots, Watched
from budgeted import any_odd, without_cuts
from hypothesis import given, note, settings
from hypothesis import strategies as st
from paper import SPRITES, TEXT, TILES, small_chip
from soaked import every
from strategies import states, timed_chips, writes
from witnesses import client_of

from vdpsim.budgets.line import worst as worsts
from vdpsim.budgets.line.line import Line
from vdpsim.budgets.line.ways import Beside, Ways
from vdpsim.budgets.line.worst import Worst
from vdpsim.budgets.reach import sprite_accesses
from vdpsim.chip.line.clients import scan_of
from vdpsim.chip.line.serving import Shape, Stretch
from vdpsim.chip.line.slots import Server
from vdpsim.chip.model import Chip
from vdpsim.engine import Plan, draw
from vdpsim.engine.slots import ahead, timed

EXAMPLES = max(1, settings.default.max_examples // 8)
MEMORY = {"size": 1024, "bytes_per_access": 1, "accesses_per_dot": 1}


# Is any line wanting?


class Known:
    """What a budget knows of the lines of a chip, and which of those that were served it does not know."""

    def __init__(self, chip: Chip) -> None:
        self.chip, self.ways = chip, Ways(chip)
        self.worst = Worst(chip, Server(chip), self.ways)
        self.seen: set[tuple[object, ...]] = set()
        self.at_sizes = [self if one is chip else Known(one) for one in chip.each_size]

    def wanting(self, slots: Iterable[Slots]) -> Iterator[str]:
        """In words, what of the lines of a frame is not known."""
        for line, shape, made, served, plan in slots:
            if plan.chip.frame.number != self.chip.frame.number:
                size = plan.chip.frame.number
                assert size is not None
                known = self.at_sizes[size]
                yield from known.wanting([Slots(line, shape, made, served, plan)])
            elif (shape, made) not in self.seen:
                self.seen.add((shape, made))
                yield from (f"line {line}: {what}" for what in self._of_line(line, shape, made, len(served.room)))

    def _of_line(self, line: int, shape: Shape, made: int, room: int) -> Iterator[str]:
        picture = shape.picture
        if not shape.layers and not made:
            return  # nothing at all is fetched below the picture
        last = line in {RESET, self.chip.frame.lines_per_frame - 1}
        if not picture and not last:
            yield "fetches below the picture, not on the last line there"
        layers: list[Stretch | None] = []
        for number, stretches in enumerate(shape.layers or [()] * len(self.chip.layers)):
            if len(stretches) != 1 and (picture or stretches):
                yield f"layer {number} has stretches {stretches}"
            layers.append(stretches[0] if stretches else None)
        for number, way in enumerate(layers):
            if way is None:
                continue
            known = {one and one._replace(turned=b"") for one in self.ways.of(number, way.mode, picture=picture)}
            if way._replace(turned=b"") not in known:
                yield f"layer {number} fetches {way}"
            if way.turned and not self.ways.turns:
                yield f"layer {number} turns cells"
        if not self._stand(layers, (), picture=picture):
            yield f"modes {[way and way.mode for way in layers]} do not stand beside each other"
        counts = self.worst.counts(picture=picture)
        if made not in {min(count, room) for count in counts}:
            yield f"sprites make {made} accesses, have room for {room} and are said to ask for {counts}"

    def _stand(self, layers: Sequence[Stretch | None], modes: tuple[int | None, ...], *, picture: bool) -> bool:
        """Whether the layers can be in the modes in which they fetch; one that fetches nothing is off, or beyond its rows."""
        order = self.worst.order
        if len(modes) == len(order):
            return True
        number = order[len(modes)]
        way = layers[number]
        for mode in self.worst.beside(picture=picture).next(modes):
            if way is not None and mode != way.mode:
                continue
            if way is None and mode is not None and None not in self.ways.of(number, mode, picture=picture):
                continue
            if self._stand(layers, (*modes, mode), picture=picture):
                return True
        return False


@settings(max_examples=EXAMPLES)
@given(st.data())
def test_every_line_of_a_random_scene_is_known(data):
    """Three frames one after the other: written to, left alone, written to again."""
    chip = data.draw(timed_chips())
    note(chip.model_dump_json(exclude_defaults=True))
    state, known, plan = data.draw(states(chip)), Known(chip), Plan(chip)
    with mock.patch.object(timed, "Fetches", Watched), mock.patch.object(ahead, "Fetches", Fresh):
        for writes_of_frame in (data.draw(writes(chip)), [], data.draw(writes(chip))):
            Fresh.taken()
            draw(plan, state, without_cuts(chip, writes_of_frame), damage=True)
            kept, fresh = Watched.taken(), Fresh.taken()
            slots = list(kept.by_line())
            slots += [] if fresh is None else [one._replace(line=RESET) for one in fresh.by_line()]
            assert list(known.wanting(slots)) == []


class Looking(Attack):
    """An attack whose lines are looked up, whatever they miss."""

    def __init__(self, chip: Chip, seed: int) -> None:
        super().__init__(chip, seed)
        self.looked, self.wanting = Known(chip), list[str]()

    def look(self, restarts: int, scripts: int) -> list[str]:
        """What is not known of the lines of all scripts."""
        for number in range(restarts):
            self.moves.restart(number, keep=False)
            self.elite = {}
            for _ in range(scripts):
                self._try([self._windows() for _ in range(1 + self.random.randrange(2))])
        return self.wanting

    def _score(self, slots: list[Slots], windows: list[Window], script: Script) -> None:
        self.wanting += self.looked.wanting(slots)
        super()._score(slots, windows, script)


@pytest.mark.unmeasured
@pytest.mark.parametrize("seed", every(3, range(25)))
def test_every_line_of_an_attack_is_known(seed):
    """Odd chips and the adversary's frames, in which registers change from line to line: buffers filled under one setting and
    shown under another, zones, splits, text beyond its rows, kept and turned cells.
    """
    assert Looking(any_odd(Random(seed)), seed).look(4, 2) == []


def always_on(**sprites: object) -> Chip:
    """A table of one sprite in memory that is always on, and is read a line ahead."""
    clients = {
        "sprites": {"when": "line before"},
        "a.cells": {"when": "in time", "lead": 16},
        "a.pattern": {"when": "in time", "lead": 16},
    }
    table = {**SPRITES, "count": 1, "table": "memory", **sprites}
    return small_chip(
        TILES,
        sprites=table,
        memory=MEMORY,
        registers={"a.scroll_x": {"bits": 3, "effect": "at once"}},
        time={"clients": clients},
    )


def test_after_the_last_line_of_the_picture_there_are_no_sprites_to_prepare():
    """A scan of 1 access on every line but 63, in whose slots nothing is prepared: 0, 1 or 1 + 3."""
    chip = always_on()
    worst = Worst(chip, Server(chip), Ways(chip))
    assert worst.counts(picture=True) == [0, 1, 4]
    assert worst.counts(picture=False) == [1, 4]
    assert Looking(chip, 1).look(2, 2) == []


# Are the worst lines served as any line is?


def small_odd(random: Random) -> Chip:
    """An odd chip with few lines."""
    while True:
        chip = any_odd(random)
        if 1 < Worst(chip, Server(chip), Ways(chip)).count(picture=True) <= 400:
            return chip


def every_line(worst: Worst) -> Iterator[Line]:
    """The chip's lines by a plain account: each way of each layer in each mode, each number of accesses of sprites."""
    chip, ways = worst.chip, worst.ways
    numbers = range(len(chip.layers))
    for picture in (True, False):
        for modes in product(*(ways.modes(number) for number in numbers)):
            kind = worst.kind(modes, picture=picture)
            if kind not in ways.kinds:
                continue
            for layers in product(*(worst.ways_of(number, modes[number], picture=picture) for number in numbers)):
                for sprites in worst.counts(picture=picture):
                    yield Line(kind, layers, sprites)


def slacks(server: Server, line: Line) -> dict[str, int]:
    """How near each layer's client comes to being late, from the line served as the engine has it served; -1 for a miss."""
    served = server.serve(line.shape, line.sprites)
    found: dict[str, int] = {}
    for layer, index, client, bursts in served.bursts:
        stretch = line.shape.layers[layer][index]
        assert stretch is not None
        spare = [server.end(client, stretch, group) - 1 - slots[-1] for group, slots in bursts]
        found[server.place(client, stretch)] = min(spare)
    for client, count in enumerate(served.missed):
        if count:
            [stretch] = line.shape.layers[layer_of(server, client)]
            assert stretch is not None
            found[server.place(client, stretch)] = -1
    return found


def layer_of(server: Server, client: int) -> int:
    """The layer of a client, by numbers."""
    return server.chip.layer_names.index(server.names[client].partition(".")[0])


@pytest.mark.unmeasured
@pytest.mark.parametrize("seed", every(2, range(12)))
def test_all_lines_are_served_as_each_is_on_its_own(seed):
    """The least slack, the least room, the most slots and the sets that the CPU is left with, kind by kind.

    Where nobody comes after the sprites, lines with fewer of them are not served: they leave the CPU the same slots and more.
    """
    chip = small_odd(Random(seed))
    server, ways = Server(chip), Ways(chip)
    worst = Worst(chip, server, ways)
    for picture in (True, False):
        worst.serve_all(picture=picture)
    assert ways.exact
    assert worst.lines <= sum(worst.count(picture=picture) for picture in (True, False))
    least: dict[tuple[object, str], int] = {}
    used, cpu = dict[object, int](), {True: set(), False: set()}
    for line in every_line(worst):
        kind, served = line.kind, server.serve(line.shape, line.sprites)
        for name, slots in slacks(server, line).items():
            least[kind, name] = min(least.get((kind, name), slots), slots)
        counts = dict(zip(server.names, served.counts, strict=True))
        total = sum(count for name, count in counts.items() if name != "cpu" and not name.startswith("sprites."))
        used[kind] = max(used.get(kind, 0), total + len(served.sprites))
        cpu[kind.picture].add(served.cpu)
        if worst.counts(picture=kind.picture) != [0]:
            assert worst.kinds[kind].room.slots <= len(served.room)
    assert {
        (kind, name): one.slots for kind, found in worst.kinds.items() for name, one in found.spare.items()
    } == least
    assert {kind: found.used for kind, found in worst.kinds.items()} == used
    for picture, sets in worst.cpu.items():
        assert set(sets) <= cpu[picture]
        assert all(any(set(fewer) <= set(slots) for fewer in sets) for slots in cpu[picture])
    for found in worst.kinds.values():
        for name, spare in found.spare.items():
            assert slacks(server, spare.line)[name] == spare.slots
            missed = server.serve(spare.line.shape, spare.line.sprites).missed
            assert missed[server.number[client_of(name)]] == spare.missed


# The numbers of accesses that sprites can make


SIZES = [[8, 4], [16, 4], [32, 4], [8, 8]]


def by_trying(chip: Chip) -> set[int]:
    """The accesses of every choice of sprites that a line may hold."""
    sprites: Any = chip.sprites
    _, scan, rest = scan_of(chip)
    width = chip.memory.bytes_per_access
    found = {scan}
    for number in range(1, min(sprites.count, sprites.per_line or sprites.count) + 1):
        for sizes in combinations_with_replacement(range(len(sprites.sizes)), number):
            dots = sum(sprites.sizes[size][0] for size in sizes)
            if sprites.dots_per_line is None or dots <= sprites.dots_per_line:
                rows = [sprites.sizes[size][0] * sprites.bits_per_dot // 8 for size in sizes]
                found.add(scan + sum(max(1, row // width) + rest for row in rows))
    return found


@pytest.mark.parametrize("table", ["chip", "memory"])
@pytest.mark.parametrize("width", [1, 4])
@pytest.mark.parametrize("bits", [1, 4])
@pytest.mark.parametrize(
    "limits", [{}, {"per_line": 3}, {"dots_per_line": 40}, {"dots_per_line": 8}, {"per_line": 4, "dots_per_line": 72}]
)
@pytest.mark.parametrize("enable", [True, False])
def test_the_numbers_of_accesses_of_sprites(table, width, bits, limits, enable):
    """Every choice of at most six sprites of four sizes; 0 too where sprites can be switched off."""
    record = 4 if table == "memory" else 3
    fields = {**SPRITES["fields"], "size": "22:21"}
    sprites = {
        **SPRITES, "count": 6, "table": table, "record_bytes": record, "bits_per_dot": bits, "fields": fields,
        "sizes": SIZES, "pattern_bytes": 64 * bits // 4, **limits,
    }  # fmt: skip
    clients = {"sprites": {"when": "blanking"}, "a.cells": {"when": "blanking"}, "a.pattern": {"when": "blanking"}}
    registers = {"a.enable": {"bits": 1, "effect": "at once"}}
    if enable:
        registers["sprites.enable"] = {"bits": 1, "effect": "at once"}
    memory = {**MEMORY, "bytes_per_access": width, "accesses_per_dot": 8}
    chip = small_chip(
        {**TILES, "bits_per_dot": 4}, sprites=sprites, memory=memory, registers=registers, time={"clients": clients}
    )
    assert set(sprite_accesses(chip)) == by_trying(chip) | ({0} if enable else set())


# Faults planted


def without_kept(ways: Ways, found: list[Stretch | None]) -> list[Stretch | None]:
    return [way for way in found if way is None or not way.kept]


def without_unkept(ways: Ways, found: list[Stretch | None]) -> list[Stretch | None]:
    return [way for way in found if way is None or way.kept] or found


def without_none(ways: Ways, found: list[Stretch | None]) -> list[Stretch | None]:
    return [way for way in found if way is not None]


def without_a_position(ways: Ways, found: list[Stretch | None]) -> list[Stretch | None]:
    return [way for way in found if way is None or way.fine != 1]


@pytest.mark.parametrize("fault", [without_kept, without_unkept, without_none, without_a_position])
def test_ways_that_are_wanting_are_seen(fault, monkeypatch):
    """Kept cells, cells fetched, text beyond its rows, a scroll position. The text of 4 rows cannot be switched off."""
    of = Ways.of
    monkeypatch.setattr(Ways, "of", lambda self, *given, **more: fault(self, of(self, *given, **more)))
    keep = {"when": "in time", "lead": 16, "keep": True}
    clients = {name: {"when": "in time", "lead": 16} for name in ("a.cells", "a.pattern", "b.cells", "b.glyphs")}
    registers = {
        name: {"bits": bits, "effect": "at once"}
        for name, bits in (("a.enable", 1), ("a.scroll_x", 3), ("a.scroll_y", 6))
    }
    chip = small_chip(TILES, TEXT, memory=MEMORY, registers=registers, time={"clients": {**clients, "a.cells": keep}})
    assert Looking(chip, 1).look(3, 2)


def test_a_mode_that_is_wanting_is_seen(monkeypatch):
    """The last mode of each choice is forgotten."""
    following = Beside.next
    monkeypatch.setattr(Beside, "next", lambda self, modes: following(self, modes)[:-1] or following(self, modes))
    assert any(Looking(any_odd(Random(seed)), seed).look(2, 2) for seed in range(20))


def test_kinds_of_buffers_that_are_wanting_are_seen(monkeypatch):
    """Layers that a line buffer holds are taken to ask for the same mode on a line and on the next."""
    for module in ("ways", "kinds"):
        monkeypatch.setattr(f"vdpsim.budgets.line.{module}.buffered", lambda chip, layer: False)
    assert any(Looking(any_odd(Random(seed)), seed).look(2, 2) for seed in range(20))


def test_sprites_that_are_wanting_are_seen(monkeypatch):
    """The most accesses of sprites are taken for all; and none for the picture's last line is forgotten."""
    monkeypatch.setattr(worsts, "sprite_accesses", lambda chip: sprite_accesses(chip)[-1:])
    assert any(Looking(any_odd(Random(seed)), seed).look(2, 2) for seed in range(12))
    monkeypatch.setattr(worsts, "_counts", lambda chip, server: dict.fromkeys((True, False), sprite_accesses(chip)))
    assert Looking(always_on(), 1).look(1, 1)


def all_of(worst: Worst) -> None:
    """Serve every line."""
    for picture in (True, False):
        worst.serve_all(picture=picture)


def test_a_walk_that_skips_sprites_is_seen(monkeypatch):
    """Serving all lines with the most sprites alone gives other figures than each line on its own, on some small odd chip."""
    wrong = 0
    for seed in range(12):
        chip = small_odd(Random(seed))
        whole, spoilt = (Worst(chip, Server(chip), Ways(chip)) for _ in range(2))
        whole.serve_all(picture=True)
        monkeypatch.setattr(
            spoilt, "_counts", {picture: whole.counts(picture=picture)[-1:] for picture in (True, False)}
        )
        spoilt.serve_all(picture=True)
        wrong += whole.cpu != spoilt.cpu or any(
            whole.kinds[kind].spare != found.spare for kind, found in spoilt.kinds.items()
        )
    assert wrong
