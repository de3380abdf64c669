"""Does it refuse well? The first and the last value of every number and list of a file, one beyond each, and what is left out.

The ranges stand here once more, as a person would write them down from the manual: a limit that moves has to move in both
places. Each key is tried alone, in a table that has no other.
"""

from __future__ import annotations

import inspect
import json
from types import UnionType
from typing import Any, Union, get_args, get_origin

import pytest
from pydantic import create_model
from refusal import refused

from vdpsim.chip import model
from vdpsim.chip.tables import basics, bitmap, cells, modes, registers, sprites, time
from vdpsim.chip.tables.table import Table
from vdpsim.files.problems import InputError
from vdpsim.files.toml.tables import Source
from vdpsim.scene import model as scene_file
from vdpsim.scene.tables import blocks, contents, timed, values

ROOMS = {
    "chip": (basics, modes, cells, bitmap, sprites, time, registers, model),
    "scene": (values, contents, blocks, timed, scene_file),
}

BYTE, WORD, BIT, MANY = (0, 255), (0, 65535), (0, 7), 100_000

NUMBERS: dict[str, dict[str, tuple[int, int | None]]] = {
    "chip.Border": dict.fromkeys(("left", "right", "top", "bottom"), (0, 256)),
    "chip.FrameTable": {
        "width": (64, 1024), "height": (64, 768), "dot_clock": (1000, 1_000_000_000), "dots_per_line": (64, 8192),
        "lines_per_frame": (64, 8192), "backdrop": (0, None),
    },
    "chip.MemoryTable": {"size": (256, 16_777_216)},
    "chip.PaletteTable": {"entries": (2, 4096), "bank_size": (1, 4096)},
    "chip.Entries": dict.fromkeys(("base", "bank_step", "value_step"), (0, None)),
    "chip.SurfaceMode": {"outside": (0, None)},
    "chip.DotsMode": {"bits_per_dot": (1, 8)},
    "chip.BitmapMode": {"width": (8, 4096), "height": (1, 4096), "stride": (1, 8192)},
    "chip.TextMode": {"columns": (1, 256), "rows": (1, 256), "left": (0, 1023), "margin": (0, None)},
    "chip.SpriteTiles": {"stride": (1, 256)},
    "chip.SpritesTable": {
        "count": (1, 1024), "record_bytes": (1, 8), "bits_per_dot": (1, 8), "pattern_bytes": (1, 4096), "per_line": (1, 1024),
        "dots_per_line": (8, 65536), "x_bias": (0, 1024),
    },
    "chip.Cpu": {"clock": (1000, 1_000_000_000), "cycles_per_byte": (1, 10_000), "queue": (1, 4096)},
    "chip.Port": {"address": WORD, "data": WORD, "step": WORD, "advance": BYTE},
    "chip.Status": {
        "address": WORD, "line": BIT, "picture_end": BIT, "dropped": BIT, "collision": BIT, "groups": WORD,
    },
    "chip.SlotPattern": {"every": (1, 1024)},
    "chip.ClientTime": {"lead": (1, 8192)},
    "chip.Refresh": {"slots": (1, 8192)},
    "chip.RegisterTable": {"bits": (1, 32), "step": (1, None), "address": WORD},
    "chip.RegisterWordTable": {"bits": (1, 32), "address": WORD},
    "chip.RegisterFieldTable": {"step": (1, None)},
    "scene.CellTable": dict.fromkeys(("flip_x", "flip_y", "turn", "bank", "priority"), (0, None)),
    "scene.PaletteTable": {"at": (0, None), "first": BYTE, "count": (1, 256)},
    "scene.PatternsTable": {
        "at": (0, None), "subtract": BYTE, "count": (1, None), "offset": (0, None), "length": (1, None),
    },
    "scene.MapTable": {"subtract": BYTE, "offset": (0, None), "length": (1, None)},
    "scene.BitmapTable": {"subtract": BYTE, "offset": (0, None), "length": (1, None)},
    "scene.ColourCellTable": dict.fromkeys(("foreground", "background", "bank", "priority"), (0, None)),
    "scene.WrittenCellTable": dict.fromkeys(("foreground", "background"), (0, None)),
    "scene.ColoursTable": {"offset": (0, None), "length": (1, None)},
    "scene.TextTable": {"foreground": (0, None), "background": (0, None)},
    "scene.SpriteSet": dict.fromkeys(
        ("pattern_bank", "flip_x", "flip_y", "bank", "priority", "enable", "x_bias"), (0, None),
    ),
    "scene.SpriteTable": {"number": (0, None)},
    "scene.WriteTable": {
        **dict.fromkeys(("frame", "line", "dot", "entry", "memory", "offset"), (0, None)),
        "length": (1, None), "fill": BYTE, "count": (1, 16_777_216), "port": WORD, "step": BYTE,
    },
    "scene.MotionTable": {"step": (-65536, 65536), "every": (1, MANY)},
    "scene.SceneHead": {"frames": (1, MANY)},
}  # fmt: skip
"""The least and the most that a key can be; None: as much as one likes."""

A_MODE = {"name": "b", "kind": "bitmap", "bits_per_dot": 1, "width": 64, "height": 64}

LENGTHS: dict[str, dict[str, tuple[int, int | None, Any]]] = {
    "chip.Rung": {"source": (0, 40, "a")},
    "chip.Mode": {"name": (0, 40, "a")},
    "chip.Layer": {
        "name": (0, 40, "a"),
        "modes": (1, 8, [A_MODE]),
    },
    "chip.FrameTable": {"sizes": (1, 8, [[64, 64]])},
    "chip.SpritesTable": {"sizes": (1, 16, [[8, 8]])},
    "chip.Collisions": {"groups": (1, 8, ["a"])},
    "chip.RegisterWordTable": {"name": (1, 40, "N")},
    "chip.RegisterFieldTable": {"sets": (1, 64, ["backdrop"])},
    "chip.SlotPattern": {"at": (1, 1024, [0])},
    "chip.Chip": {
        "name": (1, 60, "N"), "about": (0, 2000, "a"),
        "layers": (1, 8, [{"name": "a", "modes": [A_MODE]}]),
        "ladder": (1, 64, [{"source": "a"}]), "ports": (0, 8, [{"target": "memory", "address": 0, "data": 1}]),
    },
    "scene.PaletteTable": {"colours": (1, None, ["#123"])},
    "scene.PatternsTable": {"name": (0, 40, "a"), "rows": (1, None, ["0"])},
    "scene.MapTable": {"rows": (1, None, [[0]])},
    "scene.BitmapTable": {"rows": (1, None, ["0"])},
    "scene.ColoursTable": {"rows": (1, None, [[{}]])},
    "scene.TextTable": {"text": (1, None, "a")},
    "scene.SpriteTable": {"name": (0, 40, "a")},
    "scene.WriteTable": {
        "values": (1, None, [0]), "colours": (1, None, ["#123"]), "bytes": (1, None, [0]), "rows": (1, None, ["0"]),
    },
    "scene.SceneHead": {"name": (1, 60, "N"), "about": (0, 2000, "a"), "chip": (1, None, "c")},
}  # fmt: skip
"""The least and the most elements or characters, and one of them."""

LEFT_OUT: dict[str, dict[str, Any]] = {
    "chip.Border": dict.fromkeys(("left", "right", "top", "bottom"), 0),
    "chip.FrameTable": {"border": {"left": 0, "right": 0, "top": 0, "bottom": 0}, "backdrop": 0, "sizes": []},
    "chip.MemoryTable": {"byte_order": "little"},
    "chip.Entries": {"base": 0, "value_step": 1},
    "chip.Mode": {
        "first_dot": "high", "origin": "picture", "double": [1, 1],
        "entries": {"base": 0, "bank_step": None, "value_step": 1},
    },
    "chip.SurfaceMode": {"scroll": "both", "wrap": True},
    "chip.TilesMode": {"pages": [1, 1], "page_order": "rows", "cell_order": "rows"},
    "chip.TextMode": {"bits_per_dot": 1, "left": 0},
    "chip.SpriteTiles": {"order": "rows"},
    "chip.SpritesTable": {
        "first_dot": "high", "entries": {"base": 0, "bank_step": None, "value_step": 1}, "front": "first",
        "dropped": "back", "resolve": "before the ladder", "x_bias": 0, "wrap_x": False, "wrap_y": False,
    },
    "chip.Collisions": {"hidden_dots": True},
    "chip.RegisterWordTable": {"effect": "at once", "access": "read-back", "fields": {}},
    "chip.Cpu": {"queue": 1},
    "chip.Port": {"advance": 1},
    "chip.ClientTime": {"keep": False},
    "chip.CpuTime": {"blanking": True},
    "chip.TimeTable": {"cpu": {"every": None, "at": None, "active": "none", "blanking": True}},
    "chip.Chip": {"about": "", "ports": []},
    "scene.PaletteTable": {"at": 0, "first": 0},
    "scene.PatternsTable": {"subtract": 0, "offset": 0},
    "scene.MapTable": {
        "at": [0, 0], "make": False, "banked": False, "subtract": 0, "offset": 0,
        "set": dict.fromkeys(("pattern", "flip_x", "flip_y", "turn", "bank", "priority")),
    },
    "scene.BitmapTable": {"at": [0, 0], "subtract": 0, "banked": False, "offset": 0},
    "scene.ColoursTable": {"at": [0, 0], "offset": 0},
    "scene.TextTable": {"at": [0, 0], "foreground": 1, "background": 0},
    "scene.WriteTable": {"dot": 0, "advance": 0, "offset": 0, "step": 1},
    "scene.MotionTable": {"step": 1, "every": 1, "then": "stop"},
    "scene.SceneHead": {"about": "", "frames": 1, "registers": {}},
}  # fmt: skip
"""What a key is where the file leaves it out and it is something all the same; lists of a scene's tables are empty."""


def tables() -> dict[str, type[Table]]:
    """Every table of both files."""
    return {
        f"{room}.{name}": kind
        for room, modules in ROOMS.items()
        for module in modules
        for name, kind in vars(module).items()
        if inspect.isclass(kind) and issubclass(kind, Table) and kind.__module__ == module.__name__
    }


def own_keys(kind: type[Table]) -> dict[str, Any]:
    """The keys that the table itself has, as the file writes them, each with its field."""
    return {field.alias or name: field for name, field in kind.model_fields.items() if name in kind.__annotations__}


def bounds(field: Any) -> set[str]:
    """Which ends the field's description names, its own or those of what may stand there beside nothing."""
    found = list(field.metadata)
    if get_origin(field.annotation) in {Union, UnionType}:
        found += [
            mark
            for part in get_args(field.annotation)
            for info in get_args(part)[1:]
            for mark in getattr(info, "metadata", [])
        ]
    return {name for name in ("ge", "le", "min_length", "max_length") if any(hasattr(mark, name) for mark in found)}


def alone(key: str, value: Any) -> object:
    """What ``value`` is read as where a table has only this key."""
    name, _, at = key.rpartition(".")
    kind = tables()[name]
    place, field = next((name, field) for name, field in kind.model_fields.items() if (field.alias or name) == at)
    source = Source("", "one")
    source.data = {at: value}
    fields: dict[str, Any] = {place: (field.annotation, field)}
    return getattr(source.validate(create_model("One", __base__=Table, **fields)), place)


def listed(table: dict[str, dict[str, Any]]) -> list[Any]:
    """Each row as its key and what stands there."""
    return [
        pytest.param(f"{name}.{key}", row, id=f"{name}.{key}")
        for name, rows in table.items()
        for key, row in rows.items()
    ]


@pytest.mark.parametrize(("key", "ends"), listed(NUMBERS))
def test_the_first_and_the_last_value_and_one_beyond_each(key, ends):
    least, most = ends
    told = f"at least {least}" if most is None else rf"{least}(\.0)? to {most}(\.0)?"
    assert alone(key, least) == least
    with refused(InputError, rf"must be {told}, got {least - 1}(.0)?$"):
        alone(key, least - 1)
    if most is None:
        assert alone(key, 1 << 40) == 1 << 40
    else:
        assert alone(key, most) == most
        with refused(InputError, rf"must be {told}, got {most + 1}(.0)?$"):
            alone(key, most + 1)


@pytest.mark.parametrize(("key", "ends"), listed(LENGTHS))
def test_the_shortest_and_the_longest_and_one_beyond_each(key, ends):
    least, most, one = ends
    if least:
        assert alone(key, one * least)
        with refused(InputError, rf"must have at least {least} (element|character)s?, got"):
            alone(key, one * (least - 1))
    if most is None:
        assert alone(key, one * 3000)
    else:
        assert alone(key, one * most)
        with refused(InputError, rf"must have at most {most} (element|character)s, got"):
            alone(key, one * (most + 1))


@pytest.mark.parametrize("name", tables())
def test_every_range_and_every_value_that_is_left_out_is_listed_here(name):
    keys = own_keys(tables()[name])
    limits = {key: bounds(field) for key, field in keys.items()}
    assert {key for key, found in limits.items() if {"ge", "le"} & found} == set(NUMBERS.get(name, {}))
    assert {key for key, found in limits.items() if {"min_length", "max_length"} & found} == set(LENGTHS.get(name, {}))
    plain = {
        key: json.loads(json.dumps(field.default, default=lambda made: json.loads(made.model_dump_json())))
        for key, field in keys.items()
        if not field.is_required() and field.default is not None and name != "scene.SceneFile"
    }
    assert plain == LEFT_OUT.get(name, {})
    if name == "scene.SceneFile":
        assert all(field.default == () for field in keys.values())


@pytest.mark.parametrize(
    ("key", "told"),
    [
        ("scene.CellTable.pattern", "must be a pattern's number, or a name such as"),
        ("scene.WriteTable.colour", "must be a colour such as"),
        ("scene.SpriteSet.size", "must be a size's number or its dots"),
        ("scene.SpriteSet.group", "must be a collision group's name or number"),
        ("chip.Mode.transparent", 'must be a value, 0 to 255, or "none"'),
        ("chip.SpritesTable.transparent", 'must be a value, 0 to 255, or "none"'),
        ("chip.RegisterTable.reset", "must be a whole number, at least 0, or a value's name"),
        ("scene.WriteTable.value", "must be a whole number, at least 0, or a value's name"),
    ],
)
def test_numbers_that_may_be_something_else_begin_at_0(key, told):
    assert alone(key, 0) == 0
    for wrong in (-1, True, 1.5):
        with refused(InputError, told):
            alone(key, wrong)


ALONE: dict[str, list[tuple[dict[str, Any], dict[str, tuple[Any, str]]]]] = {
    "PaletteTable": [({"colours": ["#123"]}, {"first": (1, "png"), "count": (1, "png")})],
    "PatternsTable": [
        ({"for": "a.t", "font": "builtin"},
         {"subtract": (1, "png"), "count": (1, "png"), "offset": (1, "raw"), "length": (1, "raw")}),
    ],
    "MapTable": [
        ({"for": "a.t", "rows": [[0]]},
         {"key": ({"a": 0}, "text"), "size": ([1, 1], "fill or raw"), "make": (True, "picture"), "banked": (True, "picture"),
          "subtract": (1, "picture"), "offset": (1, "raw"), "length": (1, "raw")}),
    ],
    "BitmapTable": [
        ({"for": "a.b", "rows": ["0"]}, {"subtract": (1, "png"), "banked": (True, "png"), "offset": (1, "raw"),
                                    "length": (1, "raw")}),
    ],
    "MotionTable": [({"register": "r", "from": 0}, {"field": ("x", "sprite"), "then": ("repeat", "to")})],
    "WriteTable": [
        ({"line": 1, "sprite": "s", "set": {"x": 1}},
         {"dot": (1, "register or entry or by or port"), "by": ("cpu", "memory or patterns or map"), "step": (1, "by"),
          "value": (1, "register or port"), "values": ([1], "register or port"), "from": (1, "register or entry"),
          "to": (1, "from"), "advance": (1, "values or colours"), "colour": (1, "entry"), "colours": ([1], "entry"),
          "bytes": ([1], "memory"), "raw": ("r", "memory"), "offset": (1, "raw"), "length": (1, "raw"), "fill": (1, "memory"),
          "count": (1, "fill"), "rows": (["0"], "patterns"), "for": ("a.t", "patterns"), "at": ([0, 0], "map"),
          "cell": (0, "map")}),
        ({"line": 1, "register": "r", "value": 1}, {"set": ({"x": 1}, "sprite")}),
    ],
}  # fmt: skip
"""A table that is right, and what it cannot have beside that, each with the keys that it goes with."""

NEEDS = [
    ({"register": "r"}, "register needs value or values or from"),
    ({"register": "r", "value": 1, "from": 1}, "register needs exactly one of value or values or from"),
    ({"register": "r", "values": [1]}, "values needs lines"),
    ({"register": "r", "from": 1, "lines": "1:3"}, "from needs to"),
    ({"register": "r", "from": 1, "to": 3}, "from needs lines"),
    ({"entry": 1}, "entry needs colour or colours or from"),
    ({"sprite": "s"}, "sprite needs set"),
    ({"memory": 0}, "memory needs bytes or raw or fill"),
    ({"memory": 0, "fill": 1}, "fill needs count"),
    ({"patterns": 0, "for": "a.t"}, "patterns needs rows"),
    ({"map": "a.t", "at": [0, 0]}, "map needs cell"),
    ({"map": "a.t", "cell": 0}, "map needs at"),
    ({"port": 1}, "port needs value or values"),
    ({"register": "r", "value": 1, "line": 1, "lines": "1:3"}, "line and lines cannot both be given"),
    ({"register": "r", "value": 1, "frame": 1, "frames": "1:3"}, "frame and frames cannot both be given"),
]


def read(name: str, data: dict[str, Any]) -> Table:
    """A scene's table of that kind."""
    source = Source("", "one")
    source.data = data
    table: Table = source.validate(tables()[f"scene.{name}"])
    return table


@pytest.mark.parametrize(
    ("name", "right", "key", "value", "told"),
    [
        pytest.param(name, right, key, value, told, id=f"{name}.{key}")
        for name, cases in ALONE.items()
        for right, wrong in cases
        for key, (value, told) in wrong.items()
    ],
)
def test_a_key_only_goes_with_its_own(name, right, key, value, told):
    read(name, right)
    with refused(InputError, rf"\b{key} only goes with {told}(;|$)"):
        read(name, {**right, key: value})


@pytest.mark.parametrize(("write", "told"), NEEDS, ids=[told for _, told in NEEDS])
def test_what_a_timed_write_needs(write, told):
    with refused(InputError, rf"{told}(;|$)"):
        read("WriteTable", {**({} if "lines" in write and "line" not in write else {"line": 1}), **write})


def test_a_timed_write_needs_its_line():
    with refused(InputError, "line or lines is missing"):
        read("WriteTable", {"register": "r", "value": 1})
