"""How fast the CPU can put bytes into video memory, and how long it takes to refill each thing.

Law: bytes land by the same rule as in a drawn frame, each as soon as it is at hand and a slot is free, on lines each of which
leaves the CPU as far behind as any can (``landing.py``): a frame without writes in mid-line never does worse. Plain Python.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property

from ..chip.line.places import entry_bytes
from ..chip.line.rates import line_rate
from ..chip.model import BitmapMode, Chip, TilesMode
from .landing import Landing
from .line.lines import LinesBudget


@dataclass(frozen=True)
class Refill:
    """``bytes`` for ``name``, begun at the end of the picture.

    ``lines`` until the last has landed (None: it never does), and how long that is in ``seconds``.
    """

    name: str
    bytes: int
    lines: int | None
    seconds: Fraction | None


@dataclass(frozen=True)
class CpuBudget:
    """Bytes a frame that the slots let through, and that the CPU can deliver.

    ``active``: slots a frame while the picture shows; ``beside``: in the blanking of the picture's lines; ``below``: on the
    lines below it. ``bytes_per_frame``: what lands in a frame, slots and CPU together, ``bytes_in_blanking`` of it in blank
    slots. ``speed``: bytes a second of the CPU; None where no cpu table says. Where the picture has several sizes each figure is
    that of the size that is worst for it, as long as it stays.
    """

    active: int
    beside: int
    below: int
    bytes_per_frame: int
    bytes_in_blanking: int
    speed: Fraction | None
    landings: tuple[Landing, ...] = field(repr=False, compare=False)

    @cached_property
    def refills(self) -> tuple[Refill, ...]:
        """What takes how long to refill; worked out when it is first asked for, since many bytes take a while."""
        return tuple(_refills(self.landings, self.speed))


def cpu_budget(chip: Chip, lines: LinesBudget) -> CpuBudget:
    """The CPU's share of ``lines``."""
    frame, poorest = chip.frame, lines.poorest
    last = min(map(len, lines.cpu_last))
    landing = Landing(chip, lines.cpu, lines.cpu_last, lines.cpu_empty)
    landed, in_blanking = landing.in_a_frame()
    speed = Fraction(chip.cpu.clock, chip.cpu.cycles_per_byte) if chip.cpu else None
    under = frame.lines_per_frame - frame.height
    return CpuBudget(
        active=(poorest.cpu - poorest.cpu_blank) * frame.height,
        beside=poorest.cpu_blank * frame.height,
        below=last + len(lines.cpu_empty) * (under - 1) if under else 0,
        bytes_per_frame=landed,
        bytes_in_blanking=in_blanking,
        speed=speed,
        landings=(landing,),
    )


def worst_of(budgets: Sequence[CpuBudget]) -> CpuBudget:
    """The worst of the CPU's shares at several sizes of the picture, figure by figure."""
    fewest = min(budgets, key=lambda one: (one.bytes_per_frame, one.bytes_in_blanking))
    slots = {name: min(getattr(one, name) for one in budgets) for name in ("active", "beside", "below")}
    return replace(fewest, **slots, landings=tuple(each for one in budgets for each in one.landings))


def _refills(landings: Sequence[Landing], speed: Fraction | None) -> Iterator[Refill]:
    chip = landings[0].chip
    rate = line_rate(chip.frame)
    each = [landing.lines_for([count for _, count in _through_slots(chip)]) for landing in landings]
    for name, count in _through_slots(chip):
        found = [lines_for[count] for lines_for in each]
        lines = None if None in found else max(one for one in found if one is not None)
        yield Refill(name, count, lines, None if lines is None else lines / rate)
    direct = [("palette", chip.palette.entries * entry_bytes(chip))]
    if chip.sprites and chip.sprites.table == "chip":
        direct.append(("sprite table", chip.sprites.count * chip.sprites.record_bytes))
    if speed is None:  # then nothing says how fast the CPU writes what needs no slot
        return
    for name, count in direct:
        seconds = Fraction(count) / speed
        yield Refill(f"{name} (on the chip)", count, int(-(-seconds * rate // 1)), seconds)


def _through_slots(chip: Chip) -> Iterator[tuple[str, int]]:
    """What lies in memory and may be refilled as a whole: of each kind of thing the largest."""
    maps, patterns, bitmaps, colours = [], [], [], []
    for layer in chip.layers:
        for mode in layer.modes:
            name = f"{layer.name}.{mode.name}"
            if isinstance(mode, BitmapMode):
                bitmaps.append((mode.raster.bases * mode.map_bytes, f"{name} bitmap"))
                colours += [(mode.colour_bytes, f"{name} colours")] if mode.colours else []
            elif isinstance(mode, TilesMode):
                maps.append((mode.map_bytes, f"{name} map"))
                every = min((mode.cell.pattern.top + 1) * mode.raster.bases * mode.pattern_bytes, chip.memory.size)
                patterns.append((every, f"{name} patterns, all"))
    if chip.sprites and chip.sprites.table == "memory":
        yield "sprite table", chip.sprites.count * chip.sprites.record_bytes
    for found in (maps, patterns, bitmaps, colours):
        if found:
            count, name = max(found)
            yield name, count
