"""Does it fit? Proved, refuted by a scene that was drawn, or open.

Law: *fits* is said where it holds for every line that the registers allow, every scroll position and every number of sprites:
either each such line was served, or the bound holds for all of them. *Does not fit* is said where a drawn scene misses an
access or loses a promised sprite for want of slots. Whatever is neither is *open*. Register writes in mid-line are left out,
and ``cut`` names the registers that this concerns. What is left to be served where the bound does not settle it is served, as
far as that takes no longer than a few seconds; then comes the search.
"""

from __future__ import annotations

from collections.abc import Container, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from ..chip.line.clients import buffered
from ..chip.line.slots import Server
from ..chip.model import Chip
from ..chip.registers import at_sizes, fields
from .line.line import Line
from .line.lines import LinesBudget, lines_of
from .line.ways import Ways
from .line.worst import MOST_LINES, Worst
from .reach import most_accesses
from .witness.search import MissSearch

if TYPE_CHECKING:
    from .line.bound import SlackBound
    from .witness.witness import Witness

MOST_SERVED = 60_000
"""Lines that are served where the bound does not settle a chip, of a few hundred slots each; fewer where they have more."""

MOST_TRIED = 12
"""Lines that scenes are made for, to see whether they come about and really miss."""

COLOURS = {"bank", "foreground", "background"}
"""Registers of a layer that change no fetch."""

Verdict = Literal["fits", "does not fit", "open"]
How = Literal["memory", "served", "bound", "witness", "scene", "open"]


@dataclass(frozen=True)
class Proof:
    """A ``verdict`` and ``how`` it was found: every line served, by the bound, by a ``witness``, or not at all.

    ``cut``: registers whose writes in mid-line change what is fetched on the line; such writes are left out.
    """

    verdict: Verdict
    how: How
    lines: LinesBudget
    witness: Witness | None
    cut: tuple[str, ...]


def prove(chip: Chip, whole: Chip | None = None) -> Proof:
    """The verdict on a chip with a time table; ``whole``: the chip whose picture has this one's size among others."""
    return _Case(chip, whole).prove()


def promised(chip: Chip) -> bool:
    """Whether the chip file says how many sprites a line takes; without that, slots are the limit."""
    sprites = chip.sprites
    return sprites is not None and (sprites.per_line is not None or sprites.dots_per_line is not None)


def cut_registers(chip: Chip) -> tuple[str, ...]:
    """Fields of registers that count at once and say what a layer fetches: written in mid-line, they make it fetch more."""
    # a buffered layer goes by what is in force at dot 0
    fetching = {layer.name for layer in chip.layers if not buffered(chip, layer)}
    return tuple(
        name
        for name, field in fields(chip).items()
        if field.effect == "at once" and any(_says_what(control, fetching) for control in field.controls)
    )


def _says_what(control: str, layers: Container[str]) -> bool:
    """Whether the control says what one of ``layers`` fetches."""
    of, _, what = control.partition(".")
    return of in layers and what.rpartition(".")[2] not in COLOURS


class _Case:
    """One chip on its way to a verdict."""

    def __init__(self, chip: Chip, whole: Chip | None) -> None:
        self.chip, self.server, self.ways, self.whole = chip, Server(chip), Ways(chip), whole
        self.worst = Worst(chip, self.server, self.ways)
        self.bound: SlackBound | None = None
        asked, chosen, _ = most_accesses(chip)
        self.asked = asked if promised(chip) and chosen else 0  # a limit that no sprite is within promises none

    def prove(self) -> Proof:
        """From what costs least to what costs most."""
        self._serve(MOST_LINES)
        if self._served() and not self._misses():
            return self._proof("fits", "served")
        if not self._served():
            from .line.bound import bound  # noqa: PLC0415 - most chips are settled without it, and need no arrays

            for careful in (False, True):
                self.bound = bound(self.chip, self.server, self.ways, careful=careful)
                if self.bound.layers and self.bound.room >= self.asked:
                    self._look()  # the bound names no lines: those that figures are told of are still to be found
                    return self._proof("fits", "bound")
            self._serve(MOST_SERVED)
            if self._served() and not self._misses():
                return self._proof("fits", "served")
        self._look()
        witness = self._witness()
        return self._proof("does not fit" if witness else "open", "witness" if witness else "open", witness)

    def _serve(self, most: int) -> None:
        """Serve all lines of the picture, and all below it, where they are ``most`` or fewer."""
        heavy = max(1, self.server.line.slots // 1_000)
        for picture in (True, False):
            if picture not in self.worst.complete and self.worst.count(picture=picture) * heavy <= most:
                self.worst.serve_all(picture=picture)

    def _served(self) -> bool:
        """Whether every line has been served; cells that are turned one by one make more than can be."""
        return len(self.worst.complete) == 2 and not self.ways.turns

    def _look(self) -> None:
        """MissSearch, where not every line has been served."""
        for picture in (True, False):
            served = picture in self.worst.complete and not self.ways.turns
            if not served and self.worst.count(picture=picture) > 1:
                MissSearch(self.worst, picture=picture).run()

    def _misses(self) -> bool:
        return any(True for _ in self._against())

    def _against(self) -> Iterator[Line]:
        """Lines that were found to miss, or to leave promised sprites without slots; the worst of each kind."""
        late = [spare for found in self.worst.kinds.values() for spare in found.spare.values() if spare.missed]
        yield from (spare.line for spare in sorted(late, key=lambda spare: -spare.missed))
        rooms = [found.room for found in self.worst.kinds.values() if found.room and found.room.slots < self.asked]
        yield from (room.line for room in sorted(rooms, key=lambda room: room.slots))

    def _witness(self) -> Witness | None:
        """A scene that has been drawn and misses; None where none was found."""
        from .witness.witness import Seeker  # noqa: PLC0415 - loads the engine, for verdicts against a chip alone

        seeker = Seeker(self.chip, self.server, self.ways, self.whole)
        for line, _ in zip(self._against(), range(MOST_TRIED), strict=False):
            found = seeker.against(line, promised=bool(self.asked))
            if found is not None:
                return found
        return None

    def _proof(self, verdict: Verdict, how: How, witness: Witness | None = None) -> Proof:
        lines = lines_of(self.chip, self.server, self.ways, self.worst, self.bound)
        return Proof(verdict, how, lines, witness, cut_registers(self.chip))


def nearest(whole: Chip, lines: LinesBudget) -> Witness | None:
    """A scene that has been drawn and comes as near to missing an access as was found; None where none could be made."""
    from .witness.witness import Seeker  # noqa: PLC0415 - as above

    seekers: dict[int | None, Seeker] = {}
    for spare in sorted(lines.spare.values(), key=lambda spare: spare.slots):
        size = spare.line.size
        if size not in seekers:
            chip = at_sizes(whole)[0] if size is None else whole.at_size(size)
            seekers[size] = Seeker(chip, Server(chip), Ways(chip), whole)
        found = seekers[size].nearest(spare)
        if found is not None:
            return found
    return None
