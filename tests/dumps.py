"""Value change dumps of the pond, written by hand: as a design would dump it that numbers what it does, and one that does not."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

from ponds import D, H, L, Rows, S, W

BEFORE = 4, 10
"""How many lines before a frame's end, and how many dots before a line's, the pulses come."""


class Pen:
    """Writes a dump by hand: signals by path, then their values from time to time."""

    def __init__(self, signals: Mapping[str, int], codes: Iterator[str] | None = None) -> None:
        ids = codes or (chr(33 + number % 94) * (1 + number // 94) for number in range(10_000))
        self.codes = {path: next(ids) for path in signals}
        self.bits = dict(signals)
        self.lines = ["$date today $end", "$version by hand $end", "$timescale 10 ns $end"]
        inside: list[str] = []
        for path, bits in signals.items():
            *scopes, name = path.split(".")
            while inside != scopes[: len(inside)]:
                inside.pop()
                self.lines.append("$upscope $end")
            for scope in scopes[len(inside) :]:
                inside.append(scope)
                self.lines.append(f"$scope module {scope} $end")
            reach = f" [{bits - 1}:0]" if bits > 1 else ""
            self.lines.append(f"$var wire {bits} {self.codes[path]} {name}{reach} $end")
        self.lines += ["$upscope $end"] * len(inside) + ["$enddefinitions $end", "#0", "$dumpvars"]
        self.lines += [f"bx {code}" if signals[path] > 1 else f"x{code}" for path, code in self.codes.items()] + [
            "$end"
        ]
        self.now: dict[str, int | None] = {}

    def at(self, time: int, **values: int | None) -> None:
        """From ``time`` on ``values``; None is unknown. Names may be the ends of paths."""
        self.lines.append(f"#{time}")
        for name, value in values.items():
            path = next(one for one in self.codes if one.rpartition(".")[2] == name)
            if self.now.get(path, "x") != value:
                self.now[path] = value
                text = "x" if value is None else f"{value:b}"
                self.lines.append(f"b{text} {self.codes[path]}" if self.bits[path] > 1 else f"{text}{self.codes[path]}")

    def file(self, place: Path) -> Path:
        """The dump as a file."""
        place.write_text("\n".join(self.lines) + "\n", "ascii")
        return place


def shown(every: Rows) -> dict[tuple[int, int, int], tuple[int, int]]:
    return {(int(r[1]), int(r[2]), int(r[3])): (int(r[4], 16), int(r[5], 16)) for r in every if r[0] == "dot"}


def used(every: Rows) -> dict[tuple[int, int, int], tuple[int, int, int]]:
    return {
        (int(r[1]), int(r[2]), int(r[3])): (int(r[4]), int(r[5], 16), int(r[6], 16)) for r in every if r[0] == "access"
    }


def numbered(every: Rows, frames: int = 2) -> Pen:
    """A design that numbers lines, dots and slots as the model does; two slots a dot, a line's slots begin with its blanking."""
    dots, slots = shown(every), used(every)
    pen = Pen({"top.frame": 8, "top.line": 7, "top.dot": 7, "top.valid": 1, "top.ppu.entry": 5, "top.ppu.colour": 24,
               "top.bus.slot": 8, "top.bus.busy": 1, "top.bus.client": 4, "top.bus.address": 13, "top.bus.data": 16})  # fmt: skip
    for tick in range(frames * L * S):
        frame, rest = divmod(tick, L * S)
        of_line, slot = divmod(rest, S)
        values: dict[str, int | None] = {"slot": slot, "busy": 0}
        if tick % 2 == 0:
            begun = of_line * D + slot // 2 - (D - W)  # dots since dot 0 of line 0
            line, dot = divmod(begun % (L * D), D)
            shows = dots.get((frame, line, dot), (None, None)) if begun >= 0 else (None, None)
            values |= {
                "frame": frame if begun >= 0 else max(frame - 1, 0),
                "line": line,
                "dot": dot,
                "valid": int(shows[0] is not None),
            }
            values |= {"entry": shows[0], "colour": shows[1]}
        if (frame, of_line, slot) in slots:
            client, address, data = slots[frame, of_line, slot]
            values |= {"busy": 1, "client": client, "address": address, "data": data}
        pen.at(1 + tick, **values)
    return pen


def clocked(every: Rows, *, late: int = 0, syncs: bool = False, channels: bool = False) -> Pen:
    """A design without numbers: a clock, blank or sync pulses, an entry or its channels; dots ``late``."""
    dots = shown(every)
    names = {"clk": 1, "de": 1} if not syncs else {"clk": 1, "hsync": 1, "vsync": 1}
    pen = Pen(
        {f"bench.{name}": bits for name, bits in names.items()}
        | ({"bench.r": 4, "bench.g": 4, "bench.b": 4} if channels else {"bench.index": 5})
    )
    for tick in range(2 * L * D):
        frame, rest = divmod(tick, L * D)
        line, dot = divmod(rest, D)
        at = divmod(rest - late, D)
        entry, colour = dots.get((frame, *at), (0, 0))
        values: dict[str, int | None] = {"clk": 1}
        pulses = {"vsync": int(line == L - BEFORE[0]), "hsync": int(dot == D - BEFORE[1])}
        values |= pulses if syncs else {"de": int(line < H and dot < W)}
        values |= {"r": colour >> 20, "g": colour >> 12 & 15, "b": colour >> 4 & 15} if channels else {"index": entry}
        pen.at(10 * tick + 5, **values)
        pen.at(10 * tick + 10, clk=0)
    pen.at(10 * 2 * L * D + 5, clk=1)
    return pen
