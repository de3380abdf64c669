"""Who may know whom: DEVELOPERS.md says it room by room, and every import keeps to it."""

from __future__ import annotations

import ast
import re
import sys
from collections import Counter
from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from functools import cache
from graphlib import CycleError, TopologicalSorter
from importlib import import_module
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
HOME = ROOT / "vdpsim"
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
ROWS = re.findall(r"^\| `(\w+)/?` \| [^|]+ \| ([^|]+) \|$", DEVELOPERS, re.MULTILINE)
MAY = {room: set(re.findall(r"`(\w+)`", others)) for room, others in ROWS if others.strip() != "any"}
MOST = 12
"""Modules of a folder, its door apart."""

NOT_FROM_OUTSIDE = {"chip": {"numpy", "PIL"}, "engine": {"PIL", "pydantic", "pathlib", "io", "json"}, "state": {"PIL"}}
MODULES = {
    ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__"): path
    for path in HOME.rglob("*.py")
}


def imported(text: str, here: list[str], modules: set[str]) -> set[str]:
    """All that ``text``, which stands in the package ``here``, imports: modules where it names one, for types too."""
    found = set()
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.Import):
            found |= {name.name for name in node.names}
        elif isinstance(node, ast.ImportFrom):
            base = [*here[: len(here) + 1 - node.level]] if node.level else []
            home = ".".join([*base, *([node.module] if node.module else [])])
            for name in node.names:
                whole = f"{home}.{name.name}"
                found.add(whole if whole in modules else home)
    return found


@cache
def known(name: str) -> frozenset[str]:
    """What the module ``name`` imports."""
    path = MODULES[name]
    return frozenset(imported(path.read_text("utf-8"), list(path.relative_to(ROOT).parent.parts), set(MODULES)))


def room_of(name: str) -> str:
    """The room of a module of this package; an outside package's name."""
    parts = name.split(".")
    return parts[0] if parts[0] != "vdpsim" else "".join(parts[1:2])


def strangers(name: str, found: AbstractSet[str]) -> set[str]:
    """What of ``found`` a module of the room of ``name`` must not know."""
    room = room_of(name)
    if room not in MAY:
        return set()
    inside = {one for one in found if one.split(".")[0] == "vdpsim"}
    wrong = {one for one in inside if room_of(one) not in {*MAY[room], room}}
    return wrong | {one for one in found - inside if one.split(".")[0] in NOT_FROM_OUTSIDE.get(room, set())}


def circle(known: Mapping[str, AbstractSet[str]]) -> list[str]:
    """Modules that know each other in a circle, the first again at the end; empty where there is none."""
    try:
        TopologicalSorter(known).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


def test_every_room_has_a_row():
    rooms = {path.name for path in HOME.iterdir() if path.is_dir() and path.name != "__pycache__"}
    loose = {path.stem for path in HOME.glob("*.py")} - {"__init__", "__main__"}
    assert {room for room, _ in ROWS} == rooms | loose


def test_rows_name_only_rooms_above_them():
    """So that no two rooms can know each other."""
    order = [room for room, _ in ROWS]
    for room, others in MAY.items():
        assert all(order.index(other) < order.index(room) or other == "version" for other in others), room


def test_modules_know_only_what_their_rooms_may():
    assert {name: wrong for name in sorted(MODULES) if (wrong := strangers(name, known(name)))} == {}


def test_the_test_kit_is_known_to_nobody():
    """It may know everybody, so whoever knew it would load everything."""
    assert not [
        name for name in MODULES if room_of(name) != "testing" and any(room_of(one) == "testing" for one in known(name))
    ]


def test_no_modules_know_each_other_in_a_circle():
    found = circle({name: known(name) - {name} for name in MODULES})
    assert not found, " -> ".join(found)


def test_a_row_names_no_room_that_is_not_used():
    used = {
        room: {room_of(other) for name in MODULES if room_of(name) == room for other in known(name)} for room in MAY
    }
    assert {room: others - used[room] for room, others in MAY.items() if others - used[room]} == {}


def test_a_folder_has_few_modules():
    count = Counter(path.parent for path in MODULES.values() if path.name != "__init__.py")
    assert {str(folder): many for folder, many in count.items() if many > MOST} == {}


def roads(text: str) -> list[list[str]]:
    """The modules that stand on each road, in order; a folder with ``*`` stands for all that are in it."""
    blocks = re.findall(r"^```road\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)
    return [re.findall(r"[\w/]+/(?:\w+\.py|\*)", block) for block in blocks]


def test_roads_lead_through_modules_that_there_are_and_through_none_twice():
    found = roads(DEVELOPERS)
    assert len(found) == 4
    for road in found:
        assert len(road) == len(set(road))
        for place in road:
            assert list(HOME.glob(place)), place


def test_no_stop_of_a_road_is_asked_by_a_room_below_its_own():
    """The further in a stop stands, the lower its room: its own row may be named by the row of whoever asks."""
    for block in re.findall(r"^```road\n(.*?)^```$", DEVELOPERS, re.MULTILINE | re.DOTALL):
        trail: list[tuple[int, str]] = []
        for line in block.splitlines():
            room = re.search(r"(\w+)/", line)[1]
            depth = len(line) - len(line.lstrip())
            trail = [(far, one) for far, one in trail if far < depth]
            asks = trail[-1][1] if trail else "cli"
            assert asks in (room, "cli") or room in MAY[asks], line
            trail.append((depth, room))


def test_planted_faults_are_seen():
    assert roads("```road\na/b.py  x; c/d.py y\n  -> e/*  z\n```\n") == [["a/b.py", "c/d.py", "e/*"]]
    here = ["vdpsim", "engine"]
    assert imported("from ..machine.machine import Machine\nimport PIL.Image", here, set(MODULES)) == {
        "vdpsim.machine.machine",
        "PIL.Image",
    }
    assert imported("from ..scene import load", here, set(MODULES)) == {"vdpsim.scene.load"}
    assert imported("from . import draw", here, set(MODULES)) == {"vdpsim.engine.draw"}
    assert strangers("vdpsim.engine.draw", {"vdpsim.scene.load", "PIL.Image", "numpy"}) == {
        "vdpsim.scene.load",
        "PIL.Image",
    }
    assert strangers("vdpsim.chip.model", {"vdpsim"}) == {"vdpsim"}, "the package's own door is above all rooms"
    assert circle({"a": {"b"}, "b": {"c"}, "c": {"b", "numpy"}, "d": set()}) in (["b", "c", "b"], ["c", "b", "c"])
    assert not circle({"a": {"b", "c"}, "b": {"c"}, "c": set()})


def test_the_list_of_modules_is_up_to_date(monkeypatch):
    monkeypatch.syspath_prepend(ROOT / "tools")
    monkeypatch.setattr(sys, "argv", ["rooms", "--check"])
    assert import_module("rooms").main() == 0
