"""Does it refuse well? Files that no TOML text can describe: links, pipes, sizes, numbers and depths beyond reason."""

from __future__ import annotations

import os
import random
import re
import shutil
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from refusal import refused

import vdpsim
from vdpsim.files.toml import tables as toml_file
from vdpsim.files.toml.places import places
from vdpsim.scene.contents import assets
from vdpsim.scene.load import scene_from

CORPUS = Path(__file__).parent / "corpus"
GOOD = (CORPUS / "good.scene.toml").read_text("utf-8")


@pytest.fixture
def tree(tmp_path):
    """A copy of the good scene with its chip and art, in a folder of its own."""
    shutil.copytree(CORPUS / "chips", tmp_path / "tree" / "chips")
    shutil.copytree(CORPUS / "art", tmp_path / "tree" / "art")
    (tmp_path / "tree" / "a.scene.toml").write_text(GOOD, "utf-8")
    return tmp_path / "tree"


def problems(path: Path) -> list[str]:
    with refused(vdpsim.InputError, re.escape(path.name)) as caught:
        vdpsim.load_scene(path)
    return [str(problem).removeprefix(str(path.parent)) for problem in caught.value.problems]


def test_a_link_inside_the_tree_is_followed(tree):
    (tree / "art" / "other.png").symlink_to("two.png")
    (tree / "a.scene.toml").write_text(GOOD.replace("art/two.png", "art/other.png"), "utf-8")
    assert vdpsim.load_scene(tree / "a.scene.toml").name == "Good"


def test_a_link_out_of_the_tree_is_refused(tree, tmp_path):
    shutil.move(tree / "art" / "two.png", tmp_path / "two.png")
    (tree / "art" / "two.png").symlink_to(tmp_path / "two.png")
    found = problems(tree / "a.scene.toml")
    assert len(found) == 2
    assert all("must be a path inside the scene's folder" in one and "'art/two.png'" in one for one in found)


def test_a_chip_behind_a_link_out_of_the_tree_is_refused(tree, tmp_path):
    shutil.move(tree / "chips", tmp_path / "chips")
    (tree / "chips").symlink_to(tmp_path / "chips")
    assert "chip: must be a path inside the scene's folder" in problems(tree / "a.scene.toml")[0]


def test_a_link_to_itself_is_refused(tree):
    (tree / "art" / "two.png").unlink()
    (tree / "art" / "two.png").symlink_to("two.png")
    assert "'art/two.png' cannot be read" in problems(tree / "a.scene.toml")[0]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes are a matter of Unix")
@pytest.mark.parametrize(
    ("name", "words"), [("art/two.png", "is no regular file"), ("chips/small.chip.toml", "is no regular")]
)
def test_a_pipe_is_not_waited_for(tree, name, words):
    (tree / name).unlink()
    os.mkfifo(tree / name)
    assert words in problems(tree / "a.scene.toml")[0]


def test_a_folder_and_a_missing_file_are_no_scene(tree):
    assert "cannot be read: it is no regular file" in problems(tree)[0]
    assert "cannot be read: No such file" in problems(tree / "none.scene.toml")[0]


def test_an_asset_is_read_to_its_limit_and_not_beyond(tree, monkeypatch):
    size = (tree / "art" / "two.png").stat().st_size
    monkeypatch.setattr(assets, "LARGEST", size)
    assert vdpsim.load_scene(tree / "a.scene.toml").name == "Good"
    monkeypatch.setattr(assets, "LARGEST", size - 1)
    assert f"art/two.png must be at most {size - 1} bytes long" in problems(tree / "a.scene.toml")[0]


def test_a_scene_file_is_read_to_its_limit_and_not_beyond(tree, monkeypatch):
    size = len(GOOD.encode())
    chip = vdpsim.load_chip(tree / "chips" / "small.chip.toml")
    monkeypatch.setattr(toml_file, "LARGEST", size)
    assert vdpsim.load_scene(tree / "a.scene.toml", chip).name == "Good"
    monkeypatch.setattr(toml_file, "LARGEST", size - 1)
    assert f"must be at most {size - 1} bytes long" in problems(tree / "a.scene.toml")[0]


def test_pictures_of_the_largest_side_are_taken_and_larger_ones_are_not(tree, monkeypatch):
    monkeypatch.setattr(assets, "LARGEST_SIDE", 16)
    assert vdpsim.load_scene(tree / "a.scene.toml").name == "Good"
    monkeypatch.setattr(assets, "LARGEST_SIDE", 15)
    assert "art/two.png must be 1x1 to 15x15 dots, is 16x8" in problems(tree / "a.scene.toml")[0]


def test_a_huge_picture_is_refused_before_anything_is_unpacked(tree, monkeypatch):
    def never(*_args: object, **_kwargs: object) -> None:
        raise AssertionError

    monkeypatch.setattr("PIL.Image.open", never)
    shutil.copy(tree / "art" / "huge.png", tree / "art" / "two.png")
    assert "must be 1x1 to 4096x4096 dots, is 40000x40000" in problems(tree / "a.scene.toml")[0]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"\xff\xfe", "is not UTF-8 text: byte 0 cannot be read"),
        (b"name = '" + b"\x00" + b"'", "is not TOML"),
        (b"a" + b".a" * 20_000 + b" = 1", "is nested too deeply"),
        (b"a = " + b"[" * 20_000 + b"]" * 20_000, "is nested too deeply"),
        (b"frames = " + b"9" * 5000, "is not TOML"),
        (b"frames = 0x" + b"F" * 5000, "holds a number of too many digits"),
        (b"frames = " + b"9" * 400, "frames: must be"),
        (b'"a\\nb\\u001b[31m" = 1', "a\\nb\\u001b[31m: is not a known key"),
        (b'"' + b"k" * 500 + b'" = 1', "is not a known key"),
        (b"name = '" + b"n" * 500 + b"'", "name: must have at most 60 characters, got 'nnn"),
        (b"", "name: is missing"),
    ],
)
def test_texts_beyond_reason(tmp_path, text, words):
    path = tmp_path / "a.scene.toml"
    path.write_bytes(text)
    found = problems(path)
    assert words in "\n".join(found)
    assert all(one.isprintable() and len(one) < 1000 for one in found)


@given(st.randoms(use_true_random=False), st.integers(1, 4))
def test_a_scene_with_its_lines_and_words_shuffled_is_read_or_refused(chance: random.Random, count):
    lines = GOOD.splitlines()
    words = re.findall(r"[\w.#]+|\".*?\"|[^\w\s]", GOOD)
    words += ["-1", "70000", "1e9", "nan", "[]", "{}", '""', "true", "[[0]]"]
    for _ in range(count):
        at = chance.randrange(len(lines))
        kind = chance.randrange(4)
        if kind == 0:
            del lines[at]
        elif kind == 1:
            lines.insert(at, chance.choice(lines))
        elif lines[at]:
            parts = re.findall(r"[\w.#]+|\".*?\"|[^\w\s]|\s+", lines[at])
            parts[chance.randrange(len(parts))] = chance.choice(words)
            lines[at] = "".join(parts)
    path = CORPUS / "shuffled.scene.toml"
    scene, problems = outcome("\n".join(lines), path)
    if scene is None:
        assert problems
        assert {problem.file for problem in problems} == {str(path)}
    else:
        assert len(scene.writes(2)) == len(scene.writes(3))


def outcome(text: str, path: Path) -> tuple[vdpsim.Scene | None, tuple[vdpsim.Problem, ...]]:
    try:
        return scene_from(toml_file.Source(text, str(path)), path), ()
    except vdpsim.InputError as error:
        return None, error.problems


KEYS = st.text("ab-_ .\"'\\#=[]{},\n\u00e9", min_size=1, max_size=4)
VALUES = st.recursive(
    st.integers(-3, 3) | st.booleans() | st.text("ab\"'\\#=[]{},\n", max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(KEYS, inner, max_size=3),
    max_leaves=12,
)


def quoted(text: str) -> str:
    return '"' + "".join(f"\\u{ord(one):04x}" if one in '"\\\n' else one for one in text) + '"'


def written(value: object, gap: str) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int):
        return str(value)
    if isinstance(value, str):
        return quoted(value)
    if isinstance(value, list):
        return "[" + "".join(f"{gap}{written(one, gap)}," for one in value) + gap + "]"
    assert isinstance(value, dict)
    return "{ " + ", ".join(f"{quoted(key)} = {written(one, gap)}" for key, one in value.items()) + " }"


def every_place(value: object, at: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [place for key, one in inside for place in ((*at, key), *every_place(one, (*at, key)))]


@given(st.dictionaries(KEYS, VALUES, max_size=4), st.sampled_from(["", "\n", " # ] } \n\t"]))
def test_each_key_and_element_of_a_file_has_its_line(data, gap):
    text = "\n".join(f"{quoted(key)} = {written(value, gap)}" for key, value in data.items())
    assert tomllib.loads(text) == data
    found = places(text)
    assert set(found) == set(every_place(data))
    starts = [found[(key,)] for key in data]
    assert starts == sorted(starts)


def test_lines_of_headers_long_texts_and_dotted_keys():
    text = '''# first
[one]
a.b = """
x = 1
""" # after
c = [ 1,
  { d = 2, e = [
    3 ] } ]
[[two]]
[[two.three]]
f = 1979-05-27 07:32:00 # a date

[[two]]
[[two.three]]
[[two.three]]
"g.h" = 'i = 5'
\'\'\'k\'\'\' = 1
'''.replace("'''k'''", "k")
    found = places(text)
    wanted = {
        ("one",): 2,
        ("one", "a", "b"): 3,
        ("one", "c"): 6,
        ("one", "c", 0): 6,
        ("one", "c", 1): 7,
        ("one", "c", 1, "e"): 7,
        ("one", "c", 1, "e", 0): 8,
        ("two", 0): 9,
        ("two", 0, "three", 0): 10,
        ("two", 0, "three", 0, "f"): 11,
        ("two", 1): 13,
        ("two", 1, "three", 1): 15,
        ("two", 1, "three", 1, "g.h"): 16,
        ("two", 1, "three", 1, "k"): 17,
    }
    assert {place: found[place] for place in wanted} == wanted
    assert places(text.replace("\n", "\r\n")) == found
