"""A chip file from answers: commented, so that it can be read and changed.

Law: everything in it follows from the answers and the tables here; what it costs is asked of the budget by who made it. The
text is a whole chip file.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from math import ceil

from ..chip.line.presets import display_frame, frame_text
from ..files.toml.out import value
from .answers import SIZES, Answers

NAMES: dict[int, tuple[str, ...]] = {1: ("near",), 2: ("near", "far"), 3: ("near", "middle", "far")}
"""The layers' names by how many there are, the front first."""

TILE = 8
BANKS = 4
"""Dots of a tile's side, and the banks that a cell and a sprite can choose from, where the palette has so many."""

REMARKS = 32
"""The column in which remarks begin."""

CLEAR = "transparent = 0              # this value lets the layers behind through\n"


def chip_text(answers: Answers, name: str) -> str:
    """The chip file of a chip called ``name``. Raises InputError where the display does not take the size."""
    frame = frame_text(display_frame(answers.display, *size(answers)))
    return "\n".join([aligned(_head(name)), frame, *map(aligned, _parts(answers))])


def aligned(text: str) -> str:
    """``text`` with the remarks behind its lines in one column."""
    found = (re.fullmatch(r"([^#].*?) {2,}(# .*)", line) or line for line in text.split("\n"))
    return "\n".join(one if isinstance(one, str) else f"{one[1]:<{REMARKS - 1}} {one[2]}" for one in found)


def banks(answers: Answers) -> int:
    """How many banks a cell chooses from."""
    return min(BANKS, answers.colours >> answers.depth)


def page(answers: Answers) -> tuple[int, int]:
    """Cells of a layer's map, across and down: the least powers of two that the picture has room in."""
    width, height = size(answers)
    return 1 << (ceil(width / TILE) - 1).bit_length(), 1 << (ceil(height / TILE) - 1).bit_length()


def size(answers: Answers) -> tuple[int, int]:
    """Dots and lines of the picture."""
    return answers.size or SIZES[answers.display]


def _head(name: str) -> str:
    return f"""\
# A chip of your own. Change a number, then see what it does:  vdpsim render, vdpsim budget; what a key means:  vdpsim explain
name = {value(name)}
"""


def _parts(answers: Answers) -> Iterator[str]:
    yield f"""\
[memory]
size = {answers.memory * 1024:_}
bytes_per_access = {answers.bus}         # one fetch brings so many bytes
accesses_per_dot = {answers.speed}         # how fast it is: slots in the time of a dot
"""
    yield _palette(answers)
    yield from _layers(answers)
    if answers.sprites:
        yield _sprites(answers)
    yield _ladder(answers)
    yield _time(answers)


def _palette(answers: Answers) -> str:
    return f"""\
[palette]
entries = {answers.colours}
bank_size = {1 << answers.depth}               # a cell or a sprite chooses a bank of so many colours
red = "11:8"  # which bits of a colour's word
green = "7:4"
blue = "3:0"
"""


def _layers(answers: Answers) -> Iterator[str]:
    across, down = page(answers)
    for number, name in enumerate(NAMES[answers.layers]):
        priority = ', priority = "15"' if number == 0 and answers.layers > 1 else ""
        last = number == answers.layers - 1
        yield f"""\
[[layers]]
name = "{name}"
[[layers.modes]]
name = "tiles"
kind = "tiles"
tile = {TILE}                     # dots of a side
bits_per_dot = {answers.depth}
cell_bytes = 2
cell = {{ pattern = "9:0", flip_x = "10", flip_y = "11"{_bank(answers, 12)}{priority} }}
page = [{across}, {down}]             # cells of the map, across and down
{"" if last else CLEAR}"""


def _bank(answers: Answers, lowest: int) -> str:
    """The field that chooses a bank, from bit ``lowest`` on; nothing where there is one bank."""
    bits = (banks(answers) - 1).bit_length()
    return f', bank = "{lowest + bits - 1}:{lowest}"' if bits else ""


def _sprites(answers: Answers) -> str:
    fields = [
        'x = "9:0", y = "18:10", pattern = "25:19", flip_x = "26", flip_y = "27"',
        _bank(answers, 28),
        ', priority = "30", enable = "31"',
    ]
    return f"""\
[sprites]
count = {2 * answers.sprites}
table = "chip"               # the sprites' records lie on the chip, not in video memory
record_bytes = 4
fields = {{ {"".join(fields)} }}
sizes = [[16, 16]]           # more sizes: a size field chooses
bits_per_dot = {answers.depth}
transparent = 0
per_line = {answers.sprites}                 # those beyond are dropped
"""


def _ladder(answers: Answers) -> str:
    names = NAMES[answers.layers]
    rungs = [("sprites", "priority = 1")] * bool(answers.sprites)
    rungs += [(names[0], "priority = 1")] * (answers.layers > 1)
    rungs += [("sprites", "")] * bool(answers.sprites)
    rungs += [(name, "") for name in names]
    lines = ["# Who stands in front of whom, the front first. A condition asks a field of the cell or of the sprite."]
    for name, when in rungs:
        lines += ["[[ladder]]", f'source = "{name}"', *([f'when = "{when}"'] if when else [])]
    return "\n".join(lines) + "\n"


def _time(answers: Answers) -> str:
    wanted = [f"{name}.{what}" for name in NAMES[answers.layers] for what in ("cells", "pattern")]
    clients = [f'"{one}" = {{ when = "in time", lead = 16 }}' for one in wanted]
    clients += ['sprites = { when = "line before" }  # into a line buffer, in whatever slots are left'] * bool(
        answers.sprites
    )
    lines = "\n".join(clients)
    return f"""\
# Who may fetch when: a line has dots_per_line x accesses_per_dot slots. Whoever stands first is served first.
[time]
refresh = {{ slots = 4 }}
cpu = {{ active = "reserved", every = 8, at = [7] }}  # every eighth slot is the CPU's
[time.clients]
{lines}

[cpu]
clock = 4_000_000            # cycles a second
cycles_per_byte = 20         # of its fastest loop
"""
