"""The lines of a chip: what each kind of line comes to at worst, and the least that any line leaves.

Law: plain data, and how it comes of lines that were served and of the bound. Least means over every line, each with the line
on which it was found; where not every line was served, what was found is an upper limit of it, and the bound a lower one.
Plain Python.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from ...chip.line.clients import mode_costs, place_of, scan_of, sprite_costs
from ...chip.line.slots import Server
from ...chip.model import Chip
from ..reach import most_accesses
from .kinds import LineKind
from .line import Line, Spare, SpriteRoom
from .ways import Ways
from .worst import KindFound, Worst

if TYPE_CHECKING:
    from .bound import SlackBound


@dataclass(frozen=True)
class LineBudget:
    """What lines of one ``kind`` come to at worst, each figure on the line where it is worst; ``lines`` were served.

    ``used``: most slots of the picture's clients and refresh; ``by_client`` the same line client by client; ``free``: what it
    leaves for the CPU or nobody. ``cpu``: fewest slots of the CPU's, ``cpu_blank`` those of them that are blank. ``sprites``:
    accesses that sprites want at most; ``room``: the fewest slots that they can have, None where they ask for nothing here.
    ``spare``: for each client of a layer, how near it comes to being late.
    """

    name: str
    kind: LineKind
    lines: int
    used: int
    free: int
    by_client: dict[str, int]
    cpu: int
    cpu_blank: int
    sprites: int
    room: int | None
    spare: dict[str, Spare]

    @property
    def slack(self) -> int | None:
        """The least slots that any client of a layer is early; None where no layer fetches."""
        return min((spare.slots for spare in self.spare.values()), default=None)

    @property
    def missed(self) -> dict[str, int]:
        """Accesses of each client that come too late, on the line where it misses."""
        return {name: spare.missed for name, spare in self.spare.items() if spare.missed}


@dataclass(frozen=True)
class LinesBudget:
    """All kinds of lines.

    ``kinds`` of the picture, the fullest first, and ``below`` it the fullest. ``spare``: of each client of a layer the least of
    all lines; ``room``: of the sprites. ``complete``: every line was served (where cells are turned one by one that cannot be),
    ``served`` is how many were. ``bound``: slots that no line exceeds; ``most``: the same of each client. ``at_least``: where
    not every line was served, the slack of each client that is proved; ``room_at_least`` the sprites' slots. ``cpu``: the
    distinct sets of slots that the CPU has on lines of the picture, ``cpu_last`` on the last line below it, ``cpu_empty`` on
    the others below it.
    """

    slots: int
    blank: int
    kinds: tuple[LineBudget, ...]
    below: LineBudget
    spare: dict[str, Spare]
    room: SpriteRoom | None
    complete: bool
    served: int
    bound: int
    most: dict[str, int]
    at_least: dict[str, int]
    room_at_least: int | None
    cpu: tuple[tuple[int, ...], ...] = field(repr=False)
    cpu_last: tuple[tuple[int, ...], ...] = field(repr=False)
    cpu_empty: tuple[int, ...] = field(repr=False)

    @property
    def fullest(self) -> LineBudget:
        """The kind of line with most slots used; the first of such."""
        return max((*self.kinds, self.below), key=lambda line: line.used)

    @property
    def poorest(self) -> LineBudget:
        """The kind of line of the picture that leaves the CPU fewest slots; the first of such."""
        return min(self.kinds, key=lambda line: line.cpu)

    @property
    def late(self) -> tuple[Spare, ...]:
        """Where a client misses accesses, those that miss most first."""
        return tuple(sorted((one for one in self.spare.values() if one.missed), key=lambda one: -one.missed))

    def least(self, client: str) -> int:
        """The slack of a layer's client that is proved: what was found where every line was served, else the bound."""
        return self.at_least[client] if client in self.at_least else self.spare[client].slots


def lines_of(chip: Chip, server: Server, ways: Ways, worst: Worst, bound: SlackBound | None) -> LinesBudget:
    """What the lines in ``worst`` come to; ``bound`` where not every line is among them."""
    asked = most_accesses(chip)[0]
    lines = [_line_budget(chip, server, kind, found, asked=asked) for kind, found in worst.kinds.items()]
    picture = [line for line in lines if line.kind.picture]
    below = [line for line in lines if not line.kind.picture]
    spare = _least_spare([*picture, *below])
    most = {**dict(_most(chip, server, ways)), "refresh": len(server.fresh(picture=True)[1])}
    complete = len(worst.complete) == 2 and not ways.turns
    proved = None if complete else bound
    return LinesBudget(
        slots=server.line.slots,
        blank=server.line.blank,
        kinds=tuple(sorted(picture, key=lambda line: -line.used)),
        below=max(below, key=lambda line: line.used),
        spare={name: spare[name] for name in server.order if name in spare},
        room=_least_room(worst),
        complete=complete,
        served=worst.lines,
        bound=max(line.used for line in lines) if complete else min(server.line.slots, _at_most(server, most) + asked),
        most=most,
        at_least=proved.slack if proved else {},
        room_at_least=proved.room if proved and asked else None,
        cpu=tuple(worst.cpu[True]),
        cpu_last=tuple(worst.cpu[False]),
        cpu_empty=server.for_cpu(server.fresh(picture=False)[0], picture=False),
    )


def _least_spare(lines: Iterable[LineBudget]) -> dict[str, Spare]:
    """Of each client the least of all ``lines``; of equals the first."""
    found: dict[str, Spare] = {}
    for line in lines:
        for name, spare in line.spare.items():
            if name not in found or spare.nearness < found[name].nearness:
                found[name] = spare
    return found


def _least_room(worst: Worst) -> SpriteRoom | None:
    rooms = [found.room for found in worst.kinds.values() if found.room is not None]
    return min(rooms, key=lambda room: room.slots, default=None)


def _line_budget(chip: Chip, server: Server, kind: LineKind, found: KindFound, *, asked: int) -> LineBudget:
    """What lines of one kind come to; ``asked``: accesses that sprites want at most."""
    assert found.fullest is not None
    misses = any(spare.missed for spare in found.spare.values())
    return LineBudget(
        name=kind.name(chip),
        kind=kind,
        lines=found.lines,
        used=found.used,
        free=server.line.slots - found.used,
        by_client=(by_client if misses else asked_by_client)(chip, server, found.fullest),
        cpu=found.cpu,
        cpu_blank=found.cpu_blank,
        sprites=asked if found.room is not None else 0,
        room=found.room.slots if found.room is not None else None,
        spare={name: found.spare[name] for name in server.order if name in found.spare},
    )


def by_client(chip: Chip, server: Server, line: Line) -> dict[str, int]:
    """The slots of each client on a line, refresh among them, the CPU not."""
    served = server.serve(line.shape, line.sprites)
    counts = {name: count for name, count in zip(server.names, served.counts, strict=True) if name != "cpu"}
    return _with_sprites(chip, counts, len(served.sprites))


def asked_by_client(chip: Chip, server: Server, line: Line) -> dict[str, int]:
    """The same of a line on which nothing is missed: what each asks for, which takes no serving."""
    counts = dict.fromkeys(server.names[:-1], 0)
    counts["refresh"] = len(server.fresh(picture=line.kind.picture)[1])
    for name in server.order:
        place = server.places[name]
        stretch = line.layers[place.layer] if place.layer >= 0 else None
        if stretch is not None:
            counts[place.client] += sum(job.accesses for job in server.jobs(name, stretch))
    return _with_sprites(chip, counts, line.sprites)


def _with_sprites(chip: Chip, counts: dict[str, int], made: int) -> dict[str, int]:
    """``counts`` with the accesses that sprites made, divided among the table and patterns."""
    sprites = chip.sprites
    if sprites is None:
        return counts
    if sprites.table == "chip":
        return {**counts, "sprites.pattern": made}
    (_, scan, rest), costs = scan_of(chip), sprite_costs(chip)
    left, of_table = made, min(made, scan)
    left -= of_table
    for size, number in most_accesses(chip)[1]:
        pattern = costs[size] - rest
        for _ in range(number):
            got = min(left, rest)
            of_table += got
            left -= got + min(left - got, pattern)
    return {**counts, "sprites.table": of_table, "sprites.pattern": made - of_table}


def _at_most(server: Server, most: dict[str, int]) -> int:
    """The accesses of a line at most, ``most`` at each place: a layer's modes take turns, so that the places of one client do."""
    found: dict[str, int] = {}
    for name, count in most.items():
        client = server.places[name].client if name in server.places else name
        found[client] = max(found.get(client, 0), count)
    return sum(found.values())


def _most(chip: Chip, server: Server, ways: Ways) -> Iterator[tuple[str, int]]:
    """The most accesses that each client of a layer can ask for on a line, at each of its places."""
    found = {name: 0 for name, place in server.places.items() if place.layer >= 0}
    for number, layer in enumerate(chip.layers):
        for mode in ways.modes(number):
            if mode is None:
                continue
            costs = mode_costs(chip, layer.modes[mode])
            for stretch in filter(None, ways.of(number, mode, picture=True)):
                for what, count in costs.costs.items():
                    each = max(costs.turned, count) if what == "pattern" and stretch.turned else count
                    name = place_of(chip, layer, mode, what)
                    found[name] = max(found[name], each * (stretch.last - stretch.first + 1))
    yield from found.items()


def merged(kinds: Sequence[LineBudget]) -> list[tuple[LineBudget, int]]:
    """Kinds whose figures are alike, put together: the first of them, and how many they are."""
    found: dict[tuple[int | None, ...], list[LineBudget]] = {}
    for line in kinds:
        found.setdefault((line.used, line.cpu, line.sprites, line.room, line.slack), []).append(line)
    return [(lines[0], len(lines)) for lines in found.values()]
