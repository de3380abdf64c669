"""Are files read once, and written whole or not at all?"""

from __future__ import annotations

import os
import signal
import stat
import subprocess
import sys
import tempfile
import threading
from pathlib import Path

import pytest
from faults import contents, hidden
from refusal import refused

from vdpsim import files
from vdpsim.door.shown import LONGEST_PATH, shown_path
from vdpsim.files import hidden as hidden_room
from vdpsim.files import reading
from vdpsim.files.guard import Guard
from vdpsim.files.hidden import LOCK, Hidden


def put(folder, **data):
    with files.Outputs() as outputs:
        for name, one in data.items():
            outputs.add(folder / name, one)


def test_a_file_appears_with_its_folders_and_nothing_beside_it(tmp_path):
    files.write(tmp_path / "a" / "b" / "c.bin", b"123")
    assert contents(tmp_path) == {"a/b/c.bin": b"123"}
    assert hidden(tmp_path) == []


def test_nothing_shows_before_the_end(tmp_path):
    with files.Outputs() as outputs:
        outputs.add(tmp_path / "x", b"1")
        outputs.add(tmp_path / "new/y", b"2")
        assert [path.name for path in tmp_path.iterdir() if not path.name.startswith(".")] == []
    assert contents(tmp_path) == {"x": b"1", "new/y": b"2"}


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
    (tmp_path / "ahead").symlink_to("not yet")
    put(tmp_path, link=b"new", ahead=b"more")
    assert (tmp_path / "link").is_symlink() and (tmp_path / "ahead").is_symlink()
    assert (tmp_path / "real").read_bytes() == b"new"
    assert (tmp_path / "not yet").read_bytes() == b"more"


def test_two_results_are_not_written_to_one_file(tmp_path):
    (tmp_path / "link").symlink_to("real")
    with refused(FileExistsError, r"two results of one run would be written to it: '.*link'"):
        put(tmp_path, real=b"1", link=b"2")
    assert contents(tmp_path) == {}


def test_a_file_grows_piece_by_piece_and_is_there_at_the_end(tmp_path):
    with files.Outputs(Guard(replace=False, told=print)) as outputs:
        grown = [outputs.grow(tmp_path / name) for name in ("a", "b/c")]
        for number in range(1000):
            grown[number % 2].write(b"%d\n" % number)
        assert [one.name for one in tmp_path.iterdir() if not one.name.startswith(".")] == []
        with refused(OSError, "two results of one run"):
            outputs.grow(tmp_path / "a")
    assert (tmp_path / "a").read_bytes() == b"".join(b"%d\n" % number for number in range(0, 1000, 2))
    assert grown[1].digest == reading.digest((tmp_path / "b/c").read_bytes())


def test_a_file_that_grew_is_not_there_where_the_run_fails(tmp_path):
    (tmp_path / "a").write_bytes(b"old")
    with refused(RuntimeError, "stopped"), files.Outputs() as outputs:
        outputs.grow(tmp_path / "a").write(b"new")
        outputs.grow(tmp_path / "b/c").write(b"new")
        raise RuntimeError("stopped")
    assert [one.name for one in tmp_path.iterdir()] == ["a"]
    assert (tmp_path / "a").read_bytes() == b"old"


@pytest.mark.parametrize("count", [1, 1_000_000])
def test_a_file_that_grows_beyond_the_disk_is_named_and_nothing_written(tmp_path, count):
    """Few bytes fail as the file is closed, many before."""
    with refused(OSError, "No space left.*grown"), files.Outputs() as outputs:
        outputs.add(tmp_path / "whole", b"whole")
        file = outputs.grow(tmp_path / "grown")
        file._file.close()
        file._file = open("/dev/full", "wb")  # noqa: SIM115 - closed by the run
        file.write(bytes(count))
    assert not list(tmp_path.iterdir())


def test_new_files_are_as_readable_as_any_and_old_ones_keep_their_mode(tmp_path):
    (tmp_path / "old").write_bytes(b"")
    (tmp_path / "old").chmod(0o640)
    put(tmp_path, new=b"1", old=b"2")
    mask = os.umask(0)
    os.umask(mask)
    assert stat.S_IMODE((tmp_path / "new").stat().st_mode) == 0o666 & ~mask
    assert stat.S_IMODE((tmp_path / "old").stat().st_mode) == 0o640
    assert (tmp_path / "old").read_bytes() == b"2"


def test_a_folder_is_no_file(tmp_path):
    with refused(IsADirectoryError, "Is a directory"):
        files.write(tmp_path, b"")


@pytest.mark.parametrize(("length", "fits"), [(255, True), (256, False)])
def test_names_may_be_as_long_as_the_file_system_has_them(tmp_path, length, fits):
    """255 bytes on all common file systems of Linux (NAME_MAX, limits.h)."""
    for folder in ("", "new/"):
        name = folder + "n" * length
        if fits:
            files.write(tmp_path / name, b"1")
            assert (tmp_path / name).read_bytes() == b"1"
        else:
            with refused(OSError, "File name too long: '.*nnn'"):
                files.write(tmp_path / name, b"1")
            assert contents(tmp_path) == {}


def test_a_planted_link_is_not_followed(tmp_path):
    """Nobody can know the hidden folder's name; what looks like one and leads elsewhere is left alone."""
    victim = tmp_path / "victim"
    victim.mkdir()
    (victim / "mine").write_bytes(b"mine")
    results = tmp_path / "results"
    results.mkdir()
    (results / ".vdpsim-abcdefgh.tmp").symlink_to(victim)
    inner = results / ".vdpsim-ijklmnop.tmp"
    inner.mkdir()
    (inner / LOCK).symlink_to(victim / "mine")
    files.write(results / "x", b"1")
    assert contents(victim) == {"mine": b"mine"}
    assert (results / ".vdpsim-abcdefgh.tmp").is_symlink() and (inner / LOCK).is_symlink()


LIVE = """
from pathlib import Path
from vdpsim.files.hidden import Hidden
print(Hidden(Path()).path.name, flush=True)
input()
"""


def test_a_folder_of_a_run_that_lives_is_left_and_that_of_a_dead_one_removed(tmp_path):
    with subprocess.Popen(
        [sys.executable, "-c", LIVE], cwd=tmp_path, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as other:
        name = other.stdout.readline().strip()
        (tmp_path / name / "0").write_bytes(b"theirs")
        files.write(tmp_path / "x", b"1")
        assert hidden(tmp_path) == [name]
        other.kill()
    files.write(tmp_path / "new/x", b"1")
    assert hidden(tmp_path) == []
    assert sorted(contents(tmp_path)) == ["new/x", "x"]


def test_an_empty_folder_whose_run_was_ended_before_it_had_a_lock_is_removed(tmp_path):
    (tmp_path / ".vdpsim-abcdefgh.tmp").mkdir()
    Hidden(tmp_path).remove()
    assert list(tmp_path.iterdir()) == []


def test_a_folder_of_another_user_is_left(tmp_path, monkeypatch):
    mine = tmp_path / ".vdpsim-abcdefgh.tmp"
    mine.mkdir()
    user = os.geteuid()
    monkeypatch.setattr(os, "geteuid", lambda: user + 1)
    hidden_room.clean(tmp_path)
    assert list(tmp_path.iterdir()) == [mine]
    monkeypatch.undo()
    hidden_room.clean(tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_to_remove_a_hidden_folder_twice_is_to_remove_it_once(tmp_path):
    made = Hidden(tmp_path)
    made.remove()
    made.remove()
    assert list(tmp_path.iterdir()) == []


def test_a_hidden_folder_that_takes_no_lock_goes_again(tmp_path, monkeypatch):
    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "open", full)
    with refused(OSError, "No space left on device"):
        hidden_room._made(tmp_path)
    monkeypatch.undo()
    assert list(tmp_path.iterdir()) == []


def test_where_there_is_no_folder_there_is_nothing_to_clean(tmp_path):
    hidden_room.clean(tmp_path / "nowhere")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("way", ["lock", "removed", "another"])
def test_where_hidden_folders_are_taken_away_at_once_it_is_given_up(tmp_path, monkeypatch, way):
    """Another run has the lock, has removed the folder, or has another lock in its place: each time another is tried."""
    tries, made, system = [], tempfile.mkdtemp, hidden_room.locked

    def locked(lock, **more):
        tries.append(lock)
        return False if way == "lock" else system(lock, **more)

    def removed(*words):
        path = made(*words)
        tries.append(path)
        Path(path).rmdir()
        return path

    monkeypatch.setattr(hidden_room, "locked", locked)
    if way == "removed":
        monkeypatch.setattr(tempfile, "mkdtemp", removed)
    if way == "another":
        monkeypatch.setattr(os.path, "samestat", lambda *_: False)
    with refused(OSError, "hidden folders are removed as soon as they are made"):
        hidden_room._made(tmp_path)
    assert len(tries) == hidden_room._TRIES


def only_one_rename(monkeypatch):
    """The first rename is done, every later one fails."""
    rename, count = os.replace, []

    def failing(*names):
        count.append(names)
        if len(count) > 1:
            raise OSError(5, "Input/output error")
        rename(*names)

    monkeypatch.setattr(os, "replace", failing)


def test_a_new_file_that_cannot_be_taken_back_stays_and_is_named(tmp_path, monkeypatch):
    only_one_rename(monkeypatch)
    with refused(OSError, r"Input/output error; .*/x stays"):
        put(tmp_path, x=b"new x", y=b"new y")
    monkeypatch.undo()
    assert contents(tmp_path) == {"x": b"new x"}
    put(tmp_path, z=b"new z")
    assert hidden(tmp_path) == []


def test_what_cannot_be_put_back_is_kept_and_named(tmp_path, monkeypatch):
    """The second rename fails, and so does putting back the first: the old file is not lost, and stays through the next run."""
    put(tmp_path, x=b"old x", y=b"old y")
    only_one_rename(monkeypatch)
    with refused(OSError, r"what was there before is kept as .*/old-1") as caught:
        put(tmp_path, x=b"new x", y=b"new y")
    monkeypatch.undo()
    kept = caught.value.strerror.partition("kept as ")[2]
    put(tmp_path, x=b"newer x")
    with open(kept, "rb") as file:
        assert file.read() == b"old x"
    assert (tmp_path / "y").read_bytes() == b"old y"


def test_where_there_are_no_links_the_old_file_is_copied(tmp_path, monkeypatch):
    put(tmp_path, x=b"old", y=b"old")

    def nowhere(*_):
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr(os, "link", nowhere)
    put(tmp_path, x=b"new")
    rename, count = os.replace, []

    def failing(*names):
        count.append(names)
        if len(count) == 2:
            raise OSError(5, "Input/output error")
        rename(*names)

    monkeypatch.setattr(os, "replace", failing)
    with refused(OSError, "Input/output error: '.*/y'"):
        put(tmp_path, x=b"newer", y=b"newer")
    assert contents(tmp_path) == {"x": b"new", "y": b"old"}


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_a_signal_waits_for_the_renames(tmp_path, monkeypatch, number):
    """It comes between two of them, and takes effect when both are done; in Python's own handlers as in a program's."""
    put(tmp_path, x=b"old", y=b"old")
    rename = os.replace

    class Stop(KeyboardInterrupt):
        pass

    def stop(*_):
        raise Stop("now")

    def struck(*names):
        rename(*names)
        signal.raise_signal(number)

    before = signal.signal(number, stop)
    monkeypatch.setattr(os, "replace", struck)
    try:
        with refused(Stop, "now"):
            put(tmp_path, x=b"new", y=b"new")
        assert signal.getsignal(number) is stop
    finally:
        signal.signal(number, before)
    assert contents(tmp_path) == {"x": b"new", "y": b"new"}
    assert hidden(tmp_path) == []


def test_a_signal_waits_until_a_hidden_folder_is_known(tmp_path, monkeypatch):
    """It comes as soon as the folder is made, and nothing of that is left."""
    made = hidden_room._made

    class Stop(KeyboardInterrupt):
        pass

    def stop(*_):
        raise Stop("now")

    def struck(folder):
        found = made(folder)
        signal.raise_signal(signal.SIGINT)
        return found

    monkeypatch.setattr(hidden_room, "_made", struck)
    before = signal.signal(signal.SIGINT, stop)
    try:
        with refused(Stop, "now"):
            put(tmp_path, x=b"new")
    finally:
        signal.signal(signal.SIGINT, before)
    assert list(tmp_path.iterdir()) == []


def test_threads_write_too(tmp_path):
    """Handlers are the main thread's: elsewhere none is touched, and nothing is held back."""
    other = threading.Thread(target=lambda: files.write(tmp_path / "x", b"1"))
    other.start()
    other.join()
    assert contents(tmp_path) == {"x": b"1"}


def test_within_once_a_file_is_read_once_whatever_becomes_of_it(tmp_path, monkeypatch):
    path, opened = tmp_path / "x", []
    path.write_bytes(b"first")
    system = os.open

    def counting(name, *more):
        opened.append(name)
        return system(name, *more)

    monkeypatch.setattr(reading.os, "open", counting)
    with files.once() as reads:
        assert files.read(path, 5) == b"first"
        path.write_bytes(b"second")
        with files.once():
            assert files.read(str(path), 5) == b"first"
            with refused(files.TooLongError, "must be at most 4 bytes long"):
                files.read(path, 4)
            with files.once(anew=True):
                assert files.read(path, 6) == b"second"
        with refused(files.UnreadableError, "cannot be read: No such file"):
            files.read(tmp_path / "y", 5)
        (tmp_path / "y").write_bytes(b"late")
        with refused(files.UnreadableError, "cannot be read: No such file"):
            files.read(tmp_path / "y", 5)
        assert len(opened) == 3
        os.link(path, tmp_path / "other")
        assert reads.has(str(tmp_path / "other"), path.stat()), "the same file by another name"
        assert not reads.has(str(tmp_path / "y"), (tmp_path / "y").stat())
    assert files.read(path, 6) == b"second"
    with refused(files.TooLongError, "must be at most 5 bytes long"):
        files.read(path, 5)


def test_outside_of_once_nothing_is_noted(tmp_path):
    reading.asked_for(tmp_path / "x")
    assert reading.reads() is None
    with files.once():
        reading.asked_for(tmp_path / "y")
        assert list(reading.reads().asked) == [str(tmp_path / "y")]


def test_what_is_known_of_a_file_beforehand_is_what_it_says(tmp_path):
    path = tmp_path / "x"
    path.write_bytes(b"now")
    with files.once({str(path.resolve()): b"then", str(tmp_path / "y"): files.UnreadableError("is gone")}):
        assert files.read(path, 5) == b"then"
        with refused(files.UnreadableError, "is gone"):
            files.read(tmp_path / "y", 5)


def test_paths_in_messages_are_whole_up_to_a_length_and_cut_in_the_middle_beyond():
    whole = "/" + "p" * (LONGEST_PATH - 1)
    assert shown_path(whole) == whole
    longer = "/begin" + "p" * 5000 + "end.toml"
    assert len(shown_path(longer)) == LONGEST_PATH
    assert shown_path(longer).startswith("/beginp") and shown_path(longer).endswith("pend.toml")
    assert shown_path("a\nb\x1b") == "a\\nb\\u001b"
