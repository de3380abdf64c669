"""Random layouts of packed words, rules from values to entries, and rows of dots.

Law: what is made is valid by the way it is made: each number is drawn from what the numbers before it leave room for.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from .chances import Json, bulk, chance, pick

DEPTHS = (1, 2, 4, 8)
"""Bits of a packed dot."""


def layouts(random: Random, widths: dict[str, int], bits: int) -> dict[str, str]:
    """Fields of these widths somewhere in a word of ``bits`` bits: any order, gaps, some in several parts."""
    random = bulk(random)
    parts: list[tuple[str, int]] = []
    for name, width in widths.items():
        rest = width
        while rest:
            size = random.randint(1, rest) if random.random() < 0.25 else rest
            parts.append((name, size))
            rest -= size
    random.shuffle(parts)
    slack = bits - sum(widths.values())
    gaps = [0] * (len(parts) + 1)
    for _ in range(slack):
        gaps[random.randrange(len(gaps)) if random.random() < 0.5 else -1] += 1
    found: dict[str, list[str]] = {name: [] for name in widths}
    low = 0
    for (name, size), gap in zip(parts, gaps, strict=False):
        low += gap
        found[name].append(str(low) if size == 1 else f"{low + size - 1}:{low}")
        low += size
    return {name: ", ".join(pieces) for name, pieces in found.items()}


def optional_widths(random: Random, room: int, most: dict[str, int]) -> dict[str, int]:
    """Some of the fields in ``most`` with 1 to that many bits each, ``room`` bits together at the very most."""
    widths = {}
    for name, top in most.items():
        if room > 0 and chance(random, 55):
            widths[name] = random.randint(1, min(top, room))
            room -= widths[name]
    return widths


def rule(random: Random, palette: Json, value: int, bank: int) -> Json:
    """A way from value and bank to an entry, within the palette for values up to ``value`` and banks up to ``bank``."""
    room = palette["entries"] - 1
    entries: Json = {}
    step = 1
    if value > room:
        step = 0
    elif chance(random, 25):
        most = room // value
        step = (
            palette["bank_size"]
            if palette["bank_size"] <= most and chance(random, 60)
            else random.randint(0, min(most, 40))
        )
    if step != 1 or chance(random, 10):
        entries["value_step"] = step
    room -= value * step
    bank_step = palette["bank_size"]
    if bank * bank_step > room or chance(random, 20):
        bank_step = random.randint(0, min(room // bank if bank else room, 300))
        entries["bank_step"] = bank_step
    room -= bank * bank_step
    if chance(random, 40):
        entries["base"] = random.randint(0, min(room, pick(random, 1, 16, 4096)))
    return entries


def depth(random: Random, palette: Json, depths: Sequence[int] = DEPTHS) -> int:
    """Bits a dot, of ``depths``, mostly so that values fit the palette."""
    fitting = [bits for bits in depths if 1 << bits <= palette["entries"]]
    return int(pick(random, *(fitting if fitting and chance(random, 92) else depths)))


def dots(random: Random, chip: Json, across: int) -> Json:
    """Bits a dot, packed or in planes, of rows of ``across`` dots that are whole accesses or an even part of one."""
    access = chip["memory"]["bytes_per_access"]
    kinds = ["by row", *(["by pattern", "apart"] if even(across // 8, access) else [])]
    planes = pick(random, *[None] * 3, *kinds) if across % 8 == 0 else None
    packed = [bits for bits in DEPTHS if whole_row(across, bits, access)]
    if planes is None:
        return {"bits_per_dot": depth(random, chip["palette"], packed)}
    depths = [bits for bits in range(1, 9) if planes != "by row" or even(across // 8 * bits, access)]
    fitting = [bits for bits in depths if 1 << bits <= chip["palette"]["entries"]]
    return {"bits_per_dot": pick(random, *(fitting if fitting and chance(random, 92) else depths)), "planes": planes}


def even(row: int, access: int) -> bool:
    """Whether ``row`` bytes are whole accesses, or an even part of one."""
    return row % access == 0 or access % row == 0


def transparency(random: Random, table: Json, top: int) -> None:
    """Most modes give up a value, most of these value 0."""
    if chance(random, 85):
        table["transparent"] = 0 if chance(random, 75) else random.randint(0, min(top, 255))


def whole_row(dots: int, bits: int, access: int) -> bool:
    """Whether a row of so many packed dots lies in whole bytes that accesses bring evenly."""
    return dots * bits % 8 == 0 and even(dots * bits // 8, access)
