"""What stays when the system fails: each file whole, old or new, and the files of a run together; by faults that are real.

`tools/soak faults` tries every call that touches the folder of results; here are those that matter most.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from contextlib import contextmanager
from pathlib import Path

import pytest
from faults import FERRY, MARSH, Stage, contents, hidden
from refusal import refused
from soaked import quick

from vdpsim import files
from vdpsim.cli import main

pytestmark = pytest.mark.unmeasured

QUICK = [("picture and log", [("rename", 2, "KILL"), ("rename", 2, "EIO")])]
"""Strikes of every run: a death between the renames, and an error there; ``test_edits.py`` has a signal before them."""

STRUCK = {
    "picture and log": [
        ("rename", 1, "KILL"), ("unlink", -1, "KILL"), ("rename", 2, "HUP"), ("mkdir", 1, "INT"), ("write", -1, "ENOSPC"),
    ],
    "folder that is there": [("rename", 2, "EIO")],
    "new folder": [("rename", 1, "KILL"), ("rename", 1, "EIO"), ("mkdir", -1, "TERM")],
    "fit": [("rename", -1, "EIO")],
}  # fmt: skip
"""The how manieth call of a name, of those that touch the folder of results (-1: the last), and what strikes there."""


@pytest.mark.parametrize(("case", "strikes"), quick([*QUICK, *STRUCK.items()], QUICK.__contains__))
def test_a_fault_leaves_all_old_or_all_new(tmp_path, case, strikes):
    stage = Stage(tmp_path, case)
    calls = stage.calls()
    wrong = {}
    for name, number, fault in strikes:
        alike = [call for call in calls if call.name.removesuffix("at2").removesuffix("at") == name]
        if name == "unlink":
            alike = [call for call in alike if call.name != "rmdir"]
        found = stage.struck(alike[number - 1 if number > 0 else number], fault)
        if found:
            wrong[name, number, fault] = found
    assert not wrong


@contextmanager
def mounted(place: Path, size: str):
    """A file system of its own at ``place``; left out where this process may not mount one."""
    if os.name != "posix" or os.geteuid() != 0 or not shutil.which("mount"):
        pytest.skip("mounting takes root")
    place.mkdir()
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={size}", "tmpfs", str(place)], capture_output=True, text=True, check=False
    )
    if done.returncode:
        pytest.skip(f"mounting is not allowed here: {done.stderr.strip()}")
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)


def drawn(scene: str, place: Path, *more: str) -> int:
    """Draw a picture and a log into ``place``, and say how that ended."""
    return main(["render", scene, "-o", str(place / "a.png"), "--log", str(place / "a.csv"), *more])


@pytest.mark.parametrize("size", [24, 40])
def test_a_full_disk_keeps_the_old_and_names_the_file(tmp_path, capsys, size):
    """The old files take 24 KiB, in pages of 4, and the new ones 20."""
    with mounted(tmp_path / "small", f"{size}k") as small:
        assert drawn(MARSH, small) == 0
        before = contents(small)
        assert drawn(FERRY, small) == 2
        err = capsys.readouterr().err
        assert err.startswith(f"vdpsim: {small}/a.")
        assert err.endswith(": No space left on device\n")
        assert contents(small) == before
        assert hidden(small) == []
        subprocess.run(["mount", "-o", "remount,size=48k", str(small)], check=True)
        assert drawn(FERRY, small) == 0
        assert contents(small) != before


def test_a_read_only_folder_is_told_by_the_files_name(tmp_path, capsys):
    with mounted(tmp_path / "fixed", "1m") as fixed:
        assert drawn(MARSH, fixed) == 0
        before = contents(fixed)
        subprocess.run(["mount", "-o", "remount,ro", str(fixed)], check=True)
        assert drawn(FERRY, fixed) == 2
        assert capsys.readouterr().err == f"vdpsim: {fixed}/a.png: Read-only file system\n"
        for name in ("b.png", "new/b.png"):
            assert main(["render", MARSH, "-o", str(fixed / name)]) == 2
            assert capsys.readouterr().err == f"vdpsim: {fixed}/{name}: Read-only file system\n"
        assert contents(fixed) == before


@contextmanager
def unprivileged():
    """Without root's power to write anywhere, in a folder that anybody may enter."""
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        files.write(place / "mine", b"mine")  # loads what cannot be loaded as somebody else
        place.chmod(0o777)
        (place / "mine").chmod(0o444)
        root = os.geteuid() == 0
        if root:
            os.seteuid(65_534)
        try:
            yield place
        finally:
            if root:
                os.seteuid(0)
            place.chmod(0o777)


@pytest.mark.skipif(os.name != "posix", reason="permissions are a matter of Unix")
def test_a_folder_without_permission_and_a_file_that_is_write_protected_are_told_by_name():
    with unprivileged() as place:
        with refused(PermissionError, f"Permission denied: '{place}/mine'"):
            files.write(place / "mine", b"yours")
        files.write(place / "other", b"1")
        (place / "locked").mkdir(0o555)
        with refused(PermissionError, f"Permission denied: '{place}/locked/x'"):
            files.write(place / "locked/x", b"1")
        with refused(PermissionError, f"Permission denied: '{place}/locked/er/x'"):
            files.write(place / "locked/er/x", b"1")
        assert contents(place) == {"mine": b"mine", "other": b"1"}
        assert hidden(place) == []


@pytest.mark.parametrize("fixed", ["a.png", "a.csv"])
def test_a_file_that_cannot_be_replaced_keeps_the_others_old(tmp_path, capsys, fixed):
    """Whichever of the two is immutable, the other is put back."""
    if os.name != "posix" or os.geteuid() != 0:
        pytest.skip("chattr takes root")
    if not shutil.which("chattr"):
        assert "CI" not in os.environ, "chattr is missing: apt-get install e2fsprogs"
        pytest.skip("chattr is missing")
    assert drawn(MARSH, tmp_path) == 0
    before = contents(tmp_path)
    tried = subprocess.run(["chattr", "+i", str(tmp_path / fixed)], capture_output=True, text=True, check=False)
    if tried.returncode:
        pytest.skip(f"this file system knows no immutable files: {tried.stderr.strip()}")
    try:
        assert drawn(FERRY, tmp_path) == 2
    finally:
        subprocess.run(["chattr", "-i", str(tmp_path / fixed)], check=True)
    assert capsys.readouterr().err == f"vdpsim: {tmp_path}/{fixed}: Operation not permitted\n"
    assert contents(tmp_path) == before
    assert hidden(tmp_path) == []
    assert drawn(FERRY, tmp_path) == 0, "vdpsim's own files are still known as such"
