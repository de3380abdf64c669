"""The largest chips that a chip file may describe, each in its own direction: what a budget must get through.

Law: each is legal, and at the limits of ``vdpsim/chip/`` in what it is named for. Nothing here is random.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from vdpsim.chip.checks import check
from vdpsim.chip.line.clients import clients as clients_of
from vdpsim.chip.model import Chip

Json = dict[str, Any]


def tiles(name: str, number: int = 0) -> Json:
    """A mode of tiles; another for each ``number``."""
    return {
        "name": f"{name}{number}", "kind": "tiles", "tile": (8, 16)[number % 2], "bits_per_dot": (8, 4, 2)[number % 3],
        "cell_bytes": 2, "cell": {"pattern": "9:0"}, "page": [64, 32],
    }  # fmt: skip


def bitmap(name: str) -> Json:
    return {"name": name, "kind": "bitmap", "bits_per_dot": 8, "width": 1024, "height": 256}


def text(name: str) -> Json:
    return {
        "name": name,
        "kind": "text",
        "glyph": [8, 8],
        "cell_bytes": 2,
        "cell": {"character": "7:0"},
        "columns": 128,
        "rows": 32,
    }


def chip(
    *,
    width: int = 1024,
    height: int = 768,
    dots: int = 8192,
    lines: int = 8192,
    rate: int = 64,
    layers: int = 8,
    modes: int = 3,
    sprites: Json | None = None,
    when: str = "in time",
    every: int | None = None,
    more: Json | None = None,
    time: Json | None = None,
) -> Chip:
    """A chip of so many of everything; each client may fetch ``when``, in the slots of ``every`` and ``at`` 0 where given."""
    names = [f"layer{number}" for number in range(layers)]
    of_layer = ([tiles("t"), bitmap("b"), text("c")] + [tiles("t", number) for number in range(1, 6)])[:modes]
    frame = {"width": width, "height": height, "dot_clock": 1_000_000, "dots_per_line": dots, "lines_per_frame": lines}
    plan: Json = {
        "name": "Largest",
        "frame": frame,
        "memory": {"size": 1 << 24, "bytes_per_access": 1, "accesses_per_dot": rate},
        "palette": {"entries": 256, "bank_size": 256, "red": "11:8", "green": "7:4", "blue": "3:0"},
        "layers": [{"name": name, "modes": of_layer} for name in names],
        "ladder": [{"source": name} for name in names],
        **(more or {}),
    }
    if sprites:
        plan["sprites"] = SPRITES | sprites
        plan["ladder"].append({"source": "sprites"})
    asked: Json = {"when": when, **({"lead": 8192} if when == "in time" else {})}
    if every:
        asked |= {"every": every, "at": [0]}
    plan["time"] = {"clients": dict.fromkeys(_clients(plan), asked), **(time or {})}
    if sprites:
        plan["time"]["clients"]["sprites"] = {"when": "line before"}
    return _made(plan)


SPRITES: Json = {
    "transparent": 0,
    "count": 1024,
    "table": "memory",
    "record_bytes": 8,
    "bits_per_dot": 8,
    "sizes": [[64, 64]],
    "fields": {"x": "63:53", "y": "52:42", "pattern": "41:32", "enable": "31"},
}


WIDTHS: Json = {
    "sizes": [[across, 64] for across in range(4, 65, 4)],
    "fields": SPRITES["fields"] | {"size": "30:27"},
    "dots_per_line": 60_000,
}
"""Sprites of every width, of which a line has fewer dots than they could have together."""


def _clients(plan: Json) -> list[str]:
    """The names of the layers' clients."""
    without = {key: each for key, each in plan.items() if key not in {"cpu", "ports"}}
    return [
        name for name in clients_of(Chip.model_validate_json(json.dumps(without))) if not name.startswith("sprites")
    ]


def _made(plan: Json) -> Chip:
    found = Chip.model_validate_json(json.dumps(plan))
    wrong = list(check(found))
    assert not wrong, wrong
    return found


CPU = {"cpu": {"clock": 1_000_000_000, "cycles_per_byte": 1, "queue": 4096}}
PORTS = [
    {"target": "memory", "address": 0x8000, "data": 0x8008},
    {"target": "palette", "address": 0x8010, "data": 0x8018},
]

LARGEST: dict[str, Callable[[], Chip]] = {
    "modes": lambda: chip(modes=8),
    "modes of few slots": lambda: chip(modes=8, rate=1),
    "three modes": chip,
    "fetched before": lambda: chip(when="line before"),
    "in blanking": lambda: chip(when="blanking"),
    "long patterns": lambda: chip(every=1024),
    "sprites": lambda: chip(layers=1, sprites={"per_line": 1024}),
    "sprites and layers": lambda: chip(sprites={"per_line": 1024, "dots_per_line": 65536}),
    "small sprites": lambda: chip(layers=2, sprites={"sizes": [[8, 8]]}, rate=8),
    "sprites of all widths": lambda: chip(layers=1, sprites=WIDTHS),
    "a queue": lambda: chip(more=CPU | {"ports": PORTS}, time={"cpu": {"active": "free"}}),
    "a slow queue": lambda: chip(
        more={"cpu": {"clock": 1_000, "cycles_per_byte": 10_000, "queue": 4096}},
        time={"cpu": {"active": "free"}},
        rate=1,
    ),
    "refresh": lambda: chip(rate=1, dots=8192, time={"refresh": {"slots": 4000}}),
    "few dots": lambda: chip(width=64, dots=64, height=768, lines=8192),
}
"""Chips by what they have most of."""
