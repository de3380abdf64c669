"""The worst line: every kind of line served with every way to scroll, and the busiest of them.

Law: what is told of a line is what serving its slots gave, never an estimate. Nothing is written in mid-line. Where there are
too many ways to serve them all, or cells can be turned one by one, a deterministic part of them is served, and ``proved``
says no. Plain Python.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import chain, islice, product
from math import prod
from random import Random

from ..chip.clients import layer_clients
from ..chip.model import Chip, TilesMode
from ..chip.slots import BELOW, Served, Server, Shape, Stretch, mode_costs
from .following import all_kinds, is_sure
from .reach import Kind, most_accesses, reachable, scan_costs, stretches

MOST_WAYS = 2_000
"""Lines that are served for one budget."""


@dataclass(frozen=True)
class LineBudget:
    """A line of one kind: slots ``used`` by each client, the CPU not among them, and those ``free`` for it or for nobody.

    ``missed``: accesses of each client that come too late. ``sprites``: accesses that the sprites want at most; ``room``:
    slots that they can have. ``cpu``: slots that the CPU can have. ``slack``: for each client of a layer, how many slots
    before the last that serves its latest burst came. ``shape`` is the line as it was served.
    """

    name: str
    kind: Kind | None
    used: int
    free: int
    by_client: dict[str, int]
    missed: dict[str, int]
    sprites: int
    room: int
    cpu: int
    cpu_blank: int
    slack: dict[str, int]
    shape: Shape


@dataclass(frozen=True)
class LinesBudget:
    """All kinds of lines, each by its busiest line; ``below`` the picture; ``poorest`` leaves the CPU fewest slots.

    ``late``: for each kind with lines that are, the first of them. ``proved``: every line that can come about without writes
    in mid-line was served. ``bound``: slots that no such line exceeds, ``most`` the same client by client; where ``proved``,
    or where the fullest line has a slot for everything that is asked for, ``bound`` is what that line uses. ``sure``: every
    kind is known to come about; else some may never.
    """

    slots: int
    blank: int
    kinds: tuple[LineBudget, ...]
    below: LineBudget
    late: tuple[LineBudget, ...]
    poorest: LineBudget
    least_room: int
    proved: bool
    sure: bool
    ways: int
    bound: int
    most: dict[str, int]

    @property
    def worst(self) -> LineBudget:
        """The line with most slots used; the first of such."""
        return max((*self.kinds, self.below), key=lambda line: line.used)


def lines_budget(chip: Chip) -> LinesBudget:
    """Serve the lines of ``chip``. Raises ValueError for a chip without a time table, or with too many choices of modes."""
    if chip.time is None:
        raise ValueError(f"{chip.name} has no time table: its fetches are counted, but have no slots to fit into")
    server, can = Server(chip), reachable(chip)
    asked = most_accesses(chip)[0]

    def with_sprites(kind: Kind) -> bool:
        return kind.picture or server.sprites_ahead

    offers = [(kind, ways, _asked(chip, ways)) for kind in all_kinds(chip) for ways in [_ways(chip, kind, can)]]
    offers.sort(key=lambda offer: -sum(offer[2].values()))
    asks = [each for _, _, each in offers]
    total = sum(prod(map(len, ways)) for _, ways, _ in offers)
    share = None if total <= MOST_WAYS else max(1, MOST_WAYS // len(offers))
    found: list[LineBudget] = []
    below = [_line(chip, server, None, BELOW, asked if server.sprites_ahead else 0)]
    late: list[LineBudget] = []
    poorest: LineBudget | None = None
    least_room = server.line.slots
    for kind, ways, _ in offers[:MOST_WAYS]:
        worst: LineBudget | None = None
        for layers in _shapes(ways, share):
            shape = Shape(kind.picture, layers)
            line = _line(chip, server, kind, shape, asked if with_sprites(kind) else 0)
            if with_sprites(kind):
                least_room = min(least_room, line.room)
            if line.missed and not (late and late[-1].kind == kind):
                late.append(line)
            worst = line if worst is None or line.used > worst.used else worst
            if kind.picture:
                poorest = line if poorest is None or line.cpu < poorest.cpu else poorest
        assert worst is not None
        (found if kind.picture else below).append(_with_slack(server, worst))
    assert poorest is not None
    refresh = chip.time.refresh.slots if chip.time.refresh else 0
    fullest = max(line.used for line in (*found, *below))
    proved = share is None and not _turns(chip)
    most_of_sprites = asked if server.sprites_ahead else min(asked, server.line.blank)
    most_asked = max(sum(each.values()) + (most_of_sprites if with_sprites(kind) else 0) for kind, _, each in offers)
    bound = min(server.line.slots, most_asked + refresh)
    most = {name: max(each[name] for each in asks) for name in asks[0]}
    return LinesBudget(
        server.line.slots,
        server.line.blank,
        tuple(sorted(found, key=lambda line: -line.used)),
        max(below, key=lambda line: line.used),
        tuple(late),
        poorest,
        least_room,
        proved,
        is_sure(chip),
        min(total, MOST_WAYS),
        fullest if proved else max(bound, fullest),
        {**most, "refresh": refresh},
    )


def _turns(chip: Chip) -> bool:
    """Whether cells can be turned one by one."""
    return any(isinstance(m, TilesMode) and m.cell.turn is not None for layer in chip.layers for m in layer.modes)


def _asked(chip: Chip, ways: Sequence[Sequence[Stretch | None]]) -> dict[str, int]:
    """The most accesses that each client of the layers can ask for on a line of these ways."""
    found = dict.fromkeys(layer_clients(chip), 0)
    for layer, way in zip(chip.layers, ways, strict=True):
        for stretch in way:
            if stretch is None:
                continue
            costs = mode_costs(chip, layer.modes[stretch.mode])
            for what, count in costs.costs.items():
                each = costs.turned if what == "pattern" and stretch.turned else count
                asked = 0 if what == "cells" and stretch.kept else each * (stretch.last - stretch.first + 1)
                found[f"{layer.name}.{what}"] = max(found[f"{layer.name}.{what}"], asked)
    return found


def _ways(chip: Chip, kind: Kind, can: dict[str, range]) -> list[list[Stretch | None]]:
    """For each layer, the ways in which it can fetch on a line of ``kind``; below the picture nothing is kept from before."""
    return [
        [None]
        if mode is None
        else [one for one in stretches(chip, layer, mode, can) if kind.picture or one is None or not one.kept]
        for layer, mode in zip(chip.layers, kind.modes, strict=True)
    ]


def _shapes(
    ways: Sequence[Sequence[Stretch | None]], most: int | None
) -> Iterator[tuple[tuple[Stretch | None, ...], ...]]:
    """Every line of the ways, or ``most`` of them: the one with most groups, each layer's ways alone, some others."""
    if most is None:
        for chosen in product(*ways):
            yield tuple((one,) for one in chosen)
        return
    first = tuple((way[0],) for way in ways)
    alone = ((*first[:number], (one,), *first[number + 1 :]) for number, way in enumerate(ways) for one in way[1:])
    random = Random(0)  # noqa: S311 - a choice of examples, the same each time
    others = (tuple((random.choice(way),) for way in ways) for _ in range(most))
    yield from islice(chain([first], alone, others), most)


def _line(chip: Chip, server: Server, kind: Kind | None, shape: Shape, asked: int) -> LineBudget:
    served = server.serve(shape, min(asked, len(server.room(shape))))
    names = server.names
    counts = {name: count for name, count in zip(names, served.counts, strict=True) if name != "cpu"}
    if chip.sprites:
        counts["sprites.pattern"] = len(served.sprites)
    by_client = _with_attributes(chip, counts, len(served.sprites))
    used = sum(by_client.values())
    return LineBudget(
        name=kind.name(chip) if kind else "below the picture",
        kind=kind,
        used=used,
        free=server.line.slots - used,
        by_client=by_client,
        missed={name: count for name, count in zip(names, served.missed, strict=True) if count},
        sprites=asked,
        room=len(served.room),
        cpu=len(served.cpu),
        cpu_blank=sum(slot < server.line.blank for slot in served.cpu) if shape.picture else len(served.cpu),
        slack={},
        shape=shape,
    )


def _with_slack(server: Server, line: LineBudget) -> LineBudget:
    """``line`` with how much time its clients had to spare."""
    served = server.serve(line.shape, min(line.sprites, line.room))
    return replace(line, slack=_slack(server, line.shape, served))


def _with_attributes(chip: Chip, counts: dict[str, int], made: int) -> dict[str, int]:
    """Divide the sprites' accesses among attributes and patterns, for the sprites that ask for most."""
    if chip.sprites is None or chip.sprites.table == "chip":
        return counts
    scan, rest = scan_costs(chip)
    _, chosen, _ = most_accesses(chip)
    left, attribute = made, min(made, scan)
    left -= attribute
    width = chip.memory.bytes_per_access
    for size, number in chosen:
        pattern = max(1, chip.sprites.row_bytes(size) // width)
        for _ in range(number):
            got = min(left, rest)
            attribute += got
            left -= got + min(left - got, pattern)
    return {**counts, "sprites.attribute": attribute, "sprites.pattern": made - attribute}


def _slack(server: Server, shape: Shape, served: Served) -> dict[str, int]:
    found: dict[str, int] = {}
    for layer, index, client, bursts in served.bursts:
        stretch = shape.layers[layer][index]
        assert stretch is not None
        for group, slots in bursts:
            end = server.end(client, layer, stretch, group)
            name = server.names[client]
            found[name] = min(found.get(name, end), end - 1 - slots[-1])
    return found
