"""Does ``vdpsim explain`` say of every key, client and word what it means, in the schema's words, and what it costs?"""

from __future__ import annotations

import re
import tomllib

import pytest

import vdpsim
from vdpsim.chip.controls import controls
from vdpsim.chip.line.clients import slot_clients, timed_clients
from vdpsim.cli import main
from vdpsim.explaining.asked import told
from vdpsim.explaining.costs import COSTS
from vdpsim.explaining.examples import example
from vdpsim.explaining.keys import KINDS, every, keys_at
from vdpsim.explaining.words import CLIENTS, client_named, words
from vdpsim.shipped.files import chips, scenes

ALL = [key for kind in KINDS for keys in every(kind).values() for key in keys]


def explained(capsys, *given):
    assert main(["explain", *given]) == 0
    return " ".join(capsys.readouterr().out.split())


def test_every_property_of_both_schemas_is_a_key_with_the_schemas_text():
    """Counted another way: every description that stands in a schema's tables is reached from the whole file."""
    for kind in KINDS:
        found = vdpsim.schema(kind)
        there = {
            (table["title"], name, told["description"])
            for table in (found, *found["$defs"].values())
            for name, told in table.get("properties", {}).items()
        }
        assert {(key.table, key.name, key.about) for key in ALL if key.kind == kind} == there


def test_costs_speak_of_keys_that_there_are():
    """Each chip's table has a sentence for its keys, and no sentence is left over from one that is gone."""
    own = {f"{key.table}.{key.name}" for key in ALL if key.kind == "chip"}
    tables = {f"{key.table}.*" for key in ALL if key.kind == "chip"}
    assert set(COSTS) <= own | tables
    assert {one for one in own if one not in COSTS and f"{one.partition('.')[0]}.*" not in COSTS} == set()


def test_every_key_has_an_example_that_is_toml_and_has_the_key():
    for key in ALL:
        shown = example(key)
        if shown.name:
            text = (chips() | scenes())[shown.name].path.read_text("utf-8").splitlines()[shown.line - 1]
            assert text.strip().startswith(shown.text.removesuffix(" ...")), key.place
            assert re.search(rf"\b{key.name}\b", text), key.place
        else:
            assert key.name in tomllib.loads(shown.text), key.place


@pytest.mark.parametrize(
    ("word", "place"),
    [
        ("sprites.per_line", "sprites.per_line"), ("per_line", "sprites.per_line"),
        ("layers.modes.tile", "layers.modes.tile"), ("layers.near.modes.tiles.tile", "layers.modes.tile"),
        ("layers.0.modes.1.tile", "layers.modes.tile"), ("layers[0].modes[1].cell.bank", "layers.modes.cell.bank"),
        ("layers.near.modes", "layers.modes"), ("layers.near", "layers"), ("registers.fields", "registers.fields"),
        ("registers.near.scroll_x.bits", "registers.bits"), ("time.clients.near.cells.lead", "time.clients.lead"),
        ('time.clients."near.cells".lead', "time.clients.lead"), ("maps.key", "maps.key"), ("motion.then", "motion.then"),
    ],
)  # fmt: skip
def test_a_place_is_found_however_it_is_written(word, place):
    assert place in {key.place for key in keys_at(word)}


def test_a_key_is_told_with_its_example_and_its_cost(capsys):
    out = explained(capsys, "layers.near.modes.tiles.tile")
    assert "layers.modes.tile (chip file; kind tiles)" in out
    assert vdpsim.schema("chip")["$defs"]["TilesMode"]["properties"]["tile"]["description"] in out
    assert "tile = 8" in out
    assert "(curlew, line " in out
    assert "ceil(width / tile) tiles" in out
    assert "kind tiles, bitmap" in explained(capsys, "layers.modes.scroll").replace("bitmap, tiles", "tiles, bitmap")
    assert "costs nothing" in explained(capsys, "memory.byte_order")


def test_all_clients_of_the_shipped_chips_are_told(capsys):
    for one in chips().values():
        chip = vdpsim.load_chip(one.path)
        for name in (*slot_clients(chip), *timed_clients(chip), *(chip.time.clients if chip.time else ())):
            assert client_named(name) in CLIENTS, name
    assert "LAYER.cells (client) fetches" in explained(capsys, "near.cells")


def test_words_are_told_in_the_sentence_that_gives_them_a_meaning(capsys):
    assert len(words()) > 50
    assert "slack: how many slots before the last" in explained(capsys, "Slack")
    assert all(told(word) for word in words())


def test_without_a_word_everything_that_can_be_asked_is_listed(capsys):
    out = explained(capsys)
    tops = {key.place for key in ALL if "." not in key.place}
    assert not [one for one in (*tops, *CLIENTS, *words()) if one not in out]


WRONG = {
    "sprites.perline": "did you mean sprites.per_line?", "layers.mods": "did you mean layers.modes?",
    "per_lin": "did you mean per_line?", "slak": "did you mean slack?", "zzz": "no key, client or word is called so; vdpsim",
    "a" * 5000: "no key, client or word", "x.\x1b[2J": "no key, client or word", ".": "no key, client or word",
}  # fmt: skip


def test_what_is_no_word_is_told_with_the_nearest_all_at_once(capsys):
    assert main(["explain", "tile", *WRONG]) == 2
    out, err = capsys.readouterr()
    assert not out
    assert len(err.splitlines()) == len(WRONG)
    assert not [words for words in WRONG.values() if words not in err]


def test_every_control_of_the_shipped_chips_is_told(capsys):
    for one in chips().values():
        for name, control in controls(vdpsim.load_chip(one.path)).items():
            told_of = " ".join(f"{part.title} {part.rows}" for part in told(name))
            assert control.about.split(":")[0] in told_of or keys_at(name), name
    out = explained(capsys, "near.scroll_x", "mine.scroll_y")
    assert "near.scroll_x (control, as curlew has it)" in out
    assert "takes 0 to 511" in out
    assert "near.scroll_y (control, as curlew has it)" in out
