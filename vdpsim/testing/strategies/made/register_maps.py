"""Random register maps: fields packed into words, controls tied together, split over registers, bits that mean nothing.

Law: what is made is valid by the way it is made. It begins with registers in the short form, one for each control, and says the
same, and more, in the long form.
"""

from __future__ import annotations

from collections.abc import Mapping
from math import lcm
from random import Random
from typing import Any

from ....chip.controls import Control
from .chances import Json, chance, pick, shuffled

Part = tuple[str, list[int]]
"""A field's key, and which bits of its raw number a register has, from the lowest."""

EFFECTS = ("at once", "next line", "next frame")
"""When a register's value counts."""


def fitting_value(random: Random, name: str, top: int, step: int) -> int:
    """A value of 0 to ``top`` in steps: layers and sprites mostly on, else now and then one of the ends."""
    if name.endswith(".enable"):
        return 1 if top and chance(random, 92) else 0
    if chance(random, 15):
        return int(pick(random, 0, top // step) * step)
    return step * random.randint(0, top // step)


def register_list(random: Random, known: Mapping[str, Control]) -> tuple[Any, Json]:
    """Own registers for most controls, packed into words half the time, and constants for some of the others."""
    listed: Json = {}
    wired: Json = {}
    address = random.randint(0, 300) if chance(random, 30) else None
    for name, control in known.items():
        if chance(random, 15):
            if chance(random, 60):
                wired[name] = fitting_value(random, name, control.top, control.step)
            continue
        step = control.step * (pick(random, 1, 1, 1, 2, 3) if control.top >= 4 * control.step else 1)
        wanted = max(1, (control.top // step).bit_length())
        register: Json = {"bits": wanted if chance(random, 80) else random.randint(1, min(wanted + 1, 32))}
        register["effect"] = "next frame" if name == "picture_size" else pick(random, *EFFECTS)
        if step != control.step:
            register["step"] = step
        top = ((1 << register["bits"]) - 1) * step
        top = top if control.wraps else min(top, control.top)
        if control.rest > top or control.rest % step or chance(random, 40):
            register["reset"] = fitting_value(random, name, top, step)
        if address is not None:
            register["address"] = address
            address += (register["bits"] + 7) // 8 + random.randint(0, 1)
        listed[name] = register
    if chance(random, 30):
        listed = dict(shuffled(random, listed.items()))
    if listed and chance(random, 50):
        return with_others(random, in_words(random, listed, known)), wired
    return with_others(random, listed), wired


def in_words(random: Random, listed: Json, known: Mapping[str, Control], *, ties: int = 25) -> list[Json]:
    """The registers of ``listed`` in the long form; about ``ties`` of a hundred controls are tied to another."""
    fields = _tied(random, {name: dict(one) for name, one in listed.items()}, known, ties)
    words = _packed(random, [part for key, field in fields.items() for part in _parts(random, key, field["bits"])])
    split = {key for word in words for key, _ in word if sum(key == one for each in words for one, _ in each) > 1}
    counting = {key: random.choice([n for n, word in enumerate(words) if key in dict(word)]) for key in sorted(split)}
    said: set[str] = set()
    made = [_word(random, number, word, fields, split, counting, said) for number, word in enumerate(words)]
    if chance(random, 30):
        address = random.randrange(300)
        for one in made:
            one["address"] = address
            address += (one["bits"] + 7) // 8 + random.randrange(2)
    return made


def with_others(random: Random, registers: Json | list[Json]) -> Any:
    """The same with a word for the controls that it does not name, of which there may be none."""
    word = random.choice(("wired", "default"))
    if isinstance(registers, dict):
        return {**registers, "others": word}
    at = random.randrange(len(registers) + 1)
    return [*registers[:at], {"others": word}, *registers[at:]]


# Fields


def _tied(random: Random, listed: Json, known: Mapping[str, Control], ties: int) -> dict[str, Json]:
    """Fields: some of the registers set another's control too, mostly one of the same kind."""
    fields: dict[str, Json] = {}
    left = list(listed)
    while left:
        name = left.pop(0)
        others = [one for one in left if one.rpartition(".")[2] == name.rpartition(".")[2]]
        others = others if others and chance(random, 80) else left
        if not others or not chance(random, ties):
            fields[name] = listed[name]
            continue
        names = [name, *random.sample(others, min(len(others), random.choice((1, 1, 1, 2))))]
        left = [one for one in left if one not in names]
        fields[f"tie {len(fields)}"] = _one_for(random, names, listed, known)
    return fields


def _one_for(random: Random, names: list[str], listed: Json, known: Mapping[str, Control]) -> Json:
    """One field for several controls, with a step that suits all and a reset that all can have."""
    step = lcm(*(listed[name].get("step", known[name].step) for name in names))
    bits = min(listed[name]["bits"] for name in names)
    tops = [known[name].top // step * step for name in names if not known[name].wraps]
    top = min([((1 << bits) - 1) * step, *tops])
    rest = 1 if all(name.endswith(".enable") for name in names) and top else step * random.randint(0, top // step)
    field = {"sets": names, "bits": bits, "reset": rest, "effect": _effect(names, listed)}
    plain = lcm(*(known[name].step for name in names))
    return field if step == plain and chance(random, 50) else {**field, "step": step}


def _effect(names: list[str], listed: Json) -> str:
    """That of the first; but the picture's size is that of a whole frame."""
    return "next frame" if "picture_size" in names else str(listed[names[0]]["effect"])


def _parts(random: Random, key: str, bits: int) -> list[Part]:
    """The field whole or, one in four, its bits in two or three parts: high and low, or any."""
    if bits < 2 or not chance(random, 25):
        return [(key, list(range(bits)))]
    numbers = list(range(bits))
    if chance(random, 30):
        random.shuffle(numbers)
    cuts = sorted(random.sample(range(1, bits), min(bits - 1, random.choice((1, 1, 2)))))
    return [(key, sorted(numbers[low:high])) for low, high in zip([0, *cuts], [*cuts, bits], strict=True)]


# Words


def _packed(random: Random, parts: list[Part]) -> list[list[Part]]:
    """Parts in words of 8, 16 or up to 32 bits, no two of one field in one."""
    random.shuffle(parts)
    words: list[list[Part]] = []
    room: list[int] = []
    for key, bits in parts:
        fits = [n for n, word in enumerate(words) if room[n] >= len(bits) and key not in dict(word)]
        if fits and chance(random, 75):
            place = random.choice(fits)
        else:
            words.append([])
            room.append(max(len(bits), random.choice((8, 8, 8, 16, 24, 32))))
            place = len(words) - 1
        words[place].append((key, bits))
        room[place] -= len(bits)
    return words


def _word(
    random: Random,
    number: int,
    parts: list[Part],
    fields: dict[str, Json],
    split: set[str],
    counting: dict[str, int],
    said: set[str],
) -> Json:
    """A register with these parts of fields; ``said``: the fields of which all has been said by an earlier part."""
    used = sum(len(bits) for _, bits in parts)
    size = used if chance(random, 40) else min(32, used + random.randint(0, 9))
    word: Json = {"name": f"w {number}", "bits": size, "fields": {}}
    free = random.sample(range(size), size) if chance(random, 30) else list(range(size))
    start = random.randint(0, size - used)
    free = free[start:]
    if chance(random, 30):
        word["effect"] = random.choice(EFFECTS)
    if chance(random, 20):
        word["access"] = random.choice(("read-back", "write-only"))
    if any(key in split for key, _ in parts):
        must = any(counting.get(key) == number for key, _ in parts)
        word["half_write"] = "counts" if must or chance(random, 30) else "waits"
    elif size > 8 and chance(random, 60):
        word["half_write"] = random.choice(("counts", "waits"))
    for key, bits in parts:
        mine = free[: len(bits)]
        free = free[len(bits) :]
        field: Json = {"bits": _layout(mine)}
        if key in split or chance(random, 10):
            field["of"] = _layout(bits)
        if key not in said or chance(random, 20):
            field |= {name: it for name, it in fields[key].items() if name not in {"bits", "address"}}
        said.add(key)
        word["fields"][key] = field if len(field) > 1 else field["bits"]
    return word


def _layout(numbers: list[int]) -> str:
    """Bit numbers, from the one that counts least, in part-select notation."""
    parts: list[list[int]] = []
    for bit in reversed(numbers):
        if parts and parts[-1][-1] == bit + 1:
            parts[-1].append(bit)
        else:
            parts.append([bit])
    return ", ".join(str(one[0]) if len(one) == 1 else f"{one[0]}:{one[-1]}" for one in parts)
