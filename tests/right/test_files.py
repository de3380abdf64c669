"""Are files written whole or not at all?"""

from __future__ import annotations

import os
import stat

from refusal import refused

from vdpsim import files


def test_a_file_appears_with_its_folders_and_nothing_beside_it(tmp_path):
    files.write(tmp_path / "a" / "b" / "c.bin", b"123")
    assert (tmp_path / "a/b/c.bin").read_bytes() == b"123"
    assert [path.name for path in (tmp_path / "a/b").iterdir()] == ["c.bin"]


def test_nothing_shows_before_the_end(tmp_path):
    with files.Outputs() as outputs:
        outputs.add(tmp_path / "x", b"1")
        outputs.add(tmp_path / "y", b"2")
        assert not (tmp_path / "x").exists()
    assert ((tmp_path / "x").read_bytes(), (tmp_path / "y").read_bytes()) == (b"1", b"2")


def test_a_failure_leaves_the_old_files_and_no_new_folder(tmp_path):
    (tmp_path / "x").write_bytes(b"old")
    with refused(RuntimeError, "later"), files.Outputs() as outputs:
        outputs.add(tmp_path / "x", b"new")
        outputs.add(tmp_path / "deep/er/y", b"new")
        raise RuntimeError("later")
    assert [path.name for path in tmp_path.iterdir()] == ["x"]
    assert (tmp_path / "x").read_bytes() == b"old"


def test_a_folder_that_someone_else_makes_meanwhile_is_shared(tmp_path):
    with files.Outputs() as outputs:
        outputs.add(tmp_path / "deep/er/y", b"new")
        outputs.add(tmp_path / "deep/x", b"new")
        (tmp_path / "deep/er").mkdir(parents=True)
        (tmp_path / "deep/er/theirs").write_bytes(b"")
    assert contents(tmp_path) == {"deep/er/theirs": b"", "deep/er/y": b"new", "deep/x": b"new"}
    with refused(RuntimeError, "later"), files.Outputs() as outputs:
        outputs.add(tmp_path / "deep/z", b"new")
        raise RuntimeError("later")
    assert sorted(contents(tmp_path)) == ["deep/er/theirs", "deep/er/y", "deep/x"]


def test_a_link_keeps_pointing_where_it_points(tmp_path):
    (tmp_path / "real").write_bytes(b"old")
    (tmp_path / "link").symlink_to("real")
    files.write(tmp_path / "link", b"new")
    assert (tmp_path / "link").is_symlink()
    assert (tmp_path / "real").read_bytes() == b"new"


def test_files_are_as_readable_as_any_that_the_user_makes(tmp_path):
    files.write(tmp_path / "x", b"")
    mask = os.umask(0)
    os.umask(mask)
    assert stat.S_IMODE((tmp_path / "x").stat().st_mode) == 0o666 & ~mask


def test_a_folder_is_no_file(tmp_path):
    with refused(IsADirectoryError, "Is a directory"):
        files.write(tmp_path, b"")
