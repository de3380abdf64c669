"""The adversary of budgets: a search for lines on which a chip misses what its budget promised.

Law: knows nothing of how a budget is worked out; what happens is what the engine draws. A frame is a row of *windows*, a few
lines each, in which registers and sprites change from line to line; what came of every line is scored, client by client, by
how near its fetches came to being late, and the nearest windows are bred further in the next frames, with small changes, at
other lines, crossed with each other. So one frame tries some twenty ways at once. A restart takes other memory and other
registers that only change from frame to frame. Deterministic by seed.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from random import Random

from attack_moves import Moves, Want, Window
from attack_script import Miss, Script, Slots, frames, misses_of, promises, replay

from vdpsim.chip.line.serving import Shape
from vdpsim.chip.line.slots import Served, Server
from vdpsim.chip.model import Chip
from vdpsim.engine import Plan

KEPT = 6
"""Windows that are bred further, for each client."""
FRESH = 35
"""Of a hundred windows, those that are made anew."""
GENERATIONS = 5
"""Scripts between two restarts."""
RESETS = 3
"""After each script, states that are tried for what is prepared from them before their first line."""


@dataclass
class Found:
    """What an attack found.

    ``slack`` by client: the fewest slots that any of its bursts had to spare, and ``closest`` the script that did it (of
    ``sprites``: slots left for them beyond what they asked for). ``misses`` of the first script that missed anything, which
    is ``script``. ``scripts`` drawn, ``lines`` looked at.
    """

    slack: dict[str, int] = field(default_factory=dict)
    closest: dict[str, Script] = field(default_factory=dict)
    misses: list[Miss] = field(default_factory=list)
    script: Script | None = None
    scripts: int = 0
    lines: int = 0


@dataclass(frozen=True)
class Scored:
    """A window and how near its client came to a miss there: the higher the nearer."""

    score: float
    window: Window


def attack(chip: Chip, seed: int = 0, scripts: int = 40) -> Found:
    """Try up to ``scripts`` scripts on ``chip``; ends with the first that misses anything."""
    return Attack(chip, seed).run(scripts)


class Attack:
    """An attack on one chip."""

    def __init__(self, chip: Chip, seed: int) -> None:
        self.chip, self.plan, self.random = chip, Plan(chip), Random(seed)
        assert isinstance(self.plan.server, Server)
        self.server = self.plan.server
        self.ahead = bool(self.server.layers_ahead) or self.server.sprites_ahead
        self.moves = Moves(chip, self.random)
        self.found = Found()
        self.elite: dict[str, list[Scored]] = {}
        self.known: dict[Served, tuple[dict[str, int], dict[str, float]]] = {}

    def run(self, scripts: int) -> Found:
        """Breed until something is missed or ``scripts`` have been drawn."""
        for number in range(scripts):
            if number % GENERATIONS == 0:
                keep = number > 0 and self.random.randrange(3) == 0
                self.moves.restart(number // GENERATIONS, keep=keep)
                self.elite = self.elite if keep else {}
            self._try([self._windows() for _ in range(self._frames())])
            for _ in range(RESETS if self.ahead else 0):
                if not self.found.misses:
                    self._try([[self._window(0)]], last=2)
            if self.found.misses:
                break
        return self.found

    def _frames(self) -> int:
        """One frame or two; two oftener where much changes with frames alone."""
        return 1 + (self.random.randrange(100) < (50 if self.moves.by_frame else 20))

    def _windows(self) -> list[Window]:
        """A frame's windows, from line 0 on."""
        line, found = 0, []
        while line < self.chip.frame.lines_per_frame:
            window = self._window(line)
            found.append(window)
            line += len(window.wants)
        return found

    def _window(self, line: int) -> Window:
        pool = [one for scored in self.elite.values() for one in scored]
        if not pool or self.random.randrange(100) < FRESH:
            return self.moves.fresh(line)
        clients = list(self.elite)
        weights = [self._weight(client) for client in clients]
        client = self.random.choices(clients, weights)[0]
        one = self.random.choice(self.elite[client]).window
        if self.random.randrange(5) == 0:
            one = self.moves.crossed(one, self.random.choice(pool).window)
        return self.moves.changed(one, one.line if self.random.randrange(2) else line, line)

    def _weight(self, client: str) -> float:
        """How often a client's windows are bred: the nearer the best of them, the oftener."""
        return 1 / (2 + max(0.0, -self.elite[client][0].score))

    def _try(self, rows: list[list[Window]], last: int | None = None) -> None:
        script = self.moves.script(rows, last)
        self.found.scripts += last is None
        owing = False
        for number, frame in enumerate(frames(self.plan, script)):
            self._score(frame.slots, rows[number], script)
            self.found.misses += misses_of(self.chip, number, frame.result)
            owing = frame.owing
        if owing and not self.found.misses:  # made in the slots of the last line, and missed on the next
            script = (
                replace(script, frames=(*script.frames, ()), last=None) if last is None else replace(script, last=None)
            )
            self.found.misses += replay(self.chip, script)
        if self.found.misses:
            self.found.script = script

    def _score(self, slots: list[Slots], windows: list[Window], script: Script) -> None:
        wants = [want for window in windows for want in window.wants]
        for line, shape, made, served, plan in slots:
            self.found.lines += 1
            assert plan.server is not None
            slack, scores = self._nearness(plan.server, shape, made, served)
            window = None
            for client, score in scores.items():
                if client in slack and slack[client] < self.found.slack.get(client, 1 << 20):
                    self.found.slack[client], self.found.closest[client] = slack[client], script
                best = self.elite.setdefault(client, [])
                if len(best) == KEPT and score <= best[-1].score:
                    continue
                window = window or self._around(wants, max(0, line))
                best.append(Scored(score, window))
                best.sort(key=lambda one: -one.score)
                del best[KEPT:]

    def _around(self, wants: list[Want], line: int) -> Window:
        """The window that ends with ``line``, or begins with the first."""
        begin = max(0, min(line + 1, len(wants)) - self.moves.length)
        return Window(begin, tuple(wants[begin : begin + self.moves.length]))

    def _nearness(
        self, server: Server, shape: Shape, made: int, served: Served
    ) -> tuple[dict[str, int], dict[str, float]]:
        """Each client's slack on a line, and its score: misses before all, then slack, then how late it is as a whole."""
        if served in self.known:
            return self.known[served]
        slack: dict[str, int] = {}
        sums: dict[str, list[int]] = {}
        for layer, index, client, bursts in served.bursts:
            stretch = shape.layers[layer][index]
            assert stretch is not None
            name = server.place(client, stretch)
            spare = [server.end(client, stretch, group) - 1 - slots[-1] for group, slots in bursts]
            slack[name] = min(spare)
            sums[name] = spare
        scores = {name: -slack[name] - sum(spare) / len(spare) / 1000 for name, spare in sums.items()}
        for name, missed in zip(server.names, served.missed, strict=True):
            if missed:
                scores[name] = 1000.0 * missed
        if promises(self.chip):
            slack["sprites"] = len(served.room) - made
            scores["sprites"] = -slack["sprites"] + made / 1000 if made else -len(served.room) - 0.5
            if not made:
                del slack["sprites"]
        self.known[served] = slack, scores
        return slack, scores
