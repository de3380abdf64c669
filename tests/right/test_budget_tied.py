"""Controls that one field ties together, in a budget: no line is told that registers cannot bring about, and none is lost.

Two layers of a heavy and a light mode: bitmaps of 64 dots take 32 accesses with 4 bits a dot and 8 with one. A line has 40 slots.
"""

from __future__ import annotations

from itertools import product
from random import Random
from time import process_time
from typing import Any

import pytest
from paper import BITMAP, small_chip
from soaked import every

from vdpsim.budgets.budget import budget
from vdpsim.budgets.line.kinds import ModesAsked, fetched, kinds, line_after
from vdpsim.budgets.line.tied import asking, groups
from vdpsim.budgets.reach import reachable
from vdpsim.chip.controls import controls
from vdpsim.chip.line.clients import buffered
from vdpsim.chip.model import Chip
from vdpsim.chip.registers import fields
from vdpsim.testing.strategies.made.register_maps import in_words

Json = dict[str, Any]
MEMORY = {"size": 4096, "bytes_per_access": 1, "accesses_per_dot": "1/2"}
HEAVY = {**BITMAP, "name": "heavy", "bits_per_dot": 4, "width": 64, "height": 64, "scroll": False}
LIGHT = {**BITMAP, "name": "light", "bits_per_dot": 1, "width": 64, "height": 64, "scroll": False}
BEFORE = {"when": "line before"}


def two(a: list[Json], b: list[Json], tied: dict[str, list[str]], when: Json = BEFORE, **more: Any) -> Chip:
    """Two layers with these modes; of the controls those of a list are tied, all others have registers of their own."""
    layers = [{"name": "a", "modes": a}, {"name": "b", "modes": b}]
    words = [
        {
            "name": f"word {name}",
            "bits": 8,
            "fields": {name: {"bits": "6:0", "sets": sets, **({"reset": 1} if name == "on" else {})}},
        }
        for name, sets in tied.items()
    ]
    registers: Any = [*words, {"others": "default"}]
    clients = {"a.bitmap": when, "b.bitmap": when}
    frame = {"width": 64, "height": 64, "dot_clock": 1_000_000, "dots_per_line": 80, "lines_per_frame": 70}
    return small_chip(
        BITMAP,
        BITMAP,
        frame=frame,
        layers=layers,
        memory=MEMORY,
        time={"clients": clients},
        registers=registers,
        **more,
    )


MODES = {"modes": ["a.mode", "b.mode"], "belows": ["a.below", "b.below"], "splits": ["a.split", "b.split"]}


def test_modes_that_one_field_sets_are_never_apart():
    """One is heavy where the other is light: 40 accesses in 40 slots. Apart, both heavy: 64."""
    tied = budget(two([HEAVY, LIGHT], [LIGHT, HEAVY], MODES))
    apart = budget(two([HEAVY, LIGHT], [LIGHT, HEAVY], {}))
    assert (tied.verdict, apart.verdict) == ("fits", "does not fit")


def test_a_witness_sets_a_tied_field_once():
    """Both are heavy at once: the scene that shows it sets the field, and not its controls one by one."""
    found = budget(two([HEAVY, LIGHT], [HEAVY, LIGHT], MODES))
    assert found.verdict == "does not fit"
    assert found.witness is not None
    assert sum(found.witness.missed.values()) > 0
    given = dict(found.witness.tables)["[registers]"]
    assert "a.mode" not in given and "b.mode" not in given


def test_one_bit_that_enables_both():
    """Light modes alone, and on only together: 16 accesses. Each layer's own kinds are gone, both and none are left."""
    chip = two([LIGHT], [LIGHT], {"on": ["a.enable", "b.enable"]})
    found = kinds(chip)
    assert found is not None
    assert {kind.modes for kind in found if kind.picture} == {(0, 0), (None, None)}
    assert groups(chip) == [(0, 1)]
    assert groups(two([LIGHT], [LIGHT], {})) == [(0,), (1,)]


def by_hand(chip: Chip) -> set[tuple[Any, ...]]:
    """Every kind of line, by trying all values of all fields now and before, line by line: slow, and no other way to think."""
    can, held = reachable(chip), [buffered(chip, layer) for layer in chip.layers]
    names = [name for number in range(len(chip.layers)) for name in asking(chip, number)]
    of_field = {name: field.name for field in fields(chip).values() for name in field.controls}
    values = {of_field.get(name, name): can[name] for name in names}
    settings = [
        {name: chosen[list(values).index(of_field.get(name, name))] for name in names}
        for chosen in product(*values.values())
    ]

    def mode(setting: Json, name: str, line: int) -> int | None:
        if not setting[f"{name}.enable"]:
            return None
        if f"{name}.mode" not in setting:
            return 0
        return int(setting[f"{name}.{'mode' if line < setting[f'{name}.split'] else 'below'}"])

    found = set()
    for line in range(chip.frame.height):
        after = line_after(chip, line)
        now = {
            tuple((mode(s, one.name, line), None if after is None else mode(s, one.name, after)) for one in chip.layers)
            for s in settings
        }
        before = {tuple(here for here, _ in each) for each in now}
        for each, old in product(now, before):
            asked = [
                ModesAsked(was if is_held else here, ahead)
                for (here, ahead), was, is_held in zip(each, old, held, strict=True)
            ]
            found.add(fetched(chip, held, asked))
    return found


@pytest.mark.parametrize("seed", every(5, range(60)))
def test_the_kinds_of_line_are_those_that_registers_bring_about(seed):
    """Few values of each register, any ties among them; exclusive modes, and layers in a line buffer or not."""
    random = Random(seed)
    modes = [
        {**random.choice((HEAVY, LIGHT)), "name": f"m{n}", **({"exclusive": [other]} if random.random() < 0.3 else {})}
        for other in "ba"
        for n in range(2)
    ]
    layers = [
        {"name": "a", "modes": modes[: random.choice((1, 2))]},
        {"name": "b", "modes": modes[2 : 2 + random.choice((1, 2))]},
    ]
    when = [random.choice((BEFORE, {"when": "in time", "lead": 8})) for _ in range(2)]
    tables: Json = {"layers": layers, "memory": MEMORY, "time": {"clients": {"a.bitmap": when[0], "b.bitmap": when[1]}}}
    known = controls(small_chip(BITMAP, BITMAP, **tables))
    listed: Json = {}
    for name, one in known.items():
        split = name.endswith(".split")
        if random.random() < 0.85:
            listed[name] = {
                "bits": 2 if split else 1,
                "effect": "at once",
                "reset": 0,
                **({"step": random.choice((1, 16, 32))} if split else {}),
            }
        del one
    words = in_words(random, listed, known, ties=60)
    chip = small_chip(BITMAP, BITMAP, **tables, registers=[*words, {"others": "wired"}])
    found = kinds(chip)
    assert found is not None
    ours = {kind.modes for kind in found if kind.picture}
    theirs = by_hand(chip)
    assert theirs <= ours
    mixed = any(
        len(
            {
                name.rpartition(".")[2] == "split"
                for name in field.controls
                if name.rpartition(".")[2] in {"enable", "mode", "below", "split"}
            }
        )
        > 1
        for field in fields(chip).values()
    )
    assert mixed or ours == theirs


def many(layers: int, modes: int, belows: list[int]) -> Chip:
    """Layers of light modes in line buffers, always on, that change at line 32; one field sets ``below`` of some of them."""
    names = [f"l{number}" for number in range(layers)]
    each = [{**LIGHT, "name": f"m{number}"} for number in range(modes)]
    own = [{"name": name, "bits": 3, "fields": {f"{name}.mode": "2:0"}} for name in names]
    tied = {
        "name": "belows",
        "bits": 3,
        "fields": {"belows": {"bits": "2:0", "sets": [f"{names[n]}.below" for n in belows]}},
    }
    return small_chip(
        BITMAP,
        layers=[{"name": name, "modes": each} for name in names],
        ladder=[{"source": name} for name in names],
        memory=MEMORY,
        time={"clients": {f"{name}.bitmap": BEFORE for name in names}},
        registers=[tied, *own, {"others": "wired"}],
        constants={f"{name}.{what}": value for name in names for what, value in (("enable", 1), ("split", 32))},
    )


def test_what_a_buffer_had_before_is_no_kind_of_its_own():
    """Five layers of four modes, none of which switches another off: 1,024 kinds, and that of the last line, which fetches none.

    Settings are 4,096, and were any of 1,024 before: what these said is nothing to a line in whose slots the next one is fetched.
    """
    begun = process_time()
    found = kinds(many(5, 4, [0, 1, 2, 3, 4]))
    assert process_time() - begun < 10
    assert found is not None
    assert {kind.modes for kind in found if kind.picture} == {(None,) * 5, *product(range(4), repeat=5)}


def test_layers_of_which_too_much_hangs_together_are_counted_one_by_one():
    """Eight layers of eight modes, tied: 8 ** 9 settings. The list of them is not made, and the bound speaks for all."""
    chip = many(8, 8, list(range(8)))
    assert [len(group) for group in groups(chip)] == [8]
    begun = process_time()
    assert kinds(chip) is None
    found = budget(chip)
    assert process_time() - begun < 20
    assert (found.verdict, found.how) in {("fits", "bound"), ("does not fit", "witness")}
