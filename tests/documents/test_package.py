"""Is what gets installed whole, quick to load, and what its metadata says?"""

from __future__ import annotations

import importlib.metadata
import os
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from refusal import refused

import vdpsim
from vdpsim import art

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))


@pytest.mark.skipif("VDPSIM_INSTALLED" not in os.environ, reason="tools/test asks this of the built wheel")
def test_the_suite_runs_on_the_installed_package_and_not_on_the_checkout():
    assert not Path(vdpsim.__file__).is_relative_to(ROOT / "vdpsim")
    assert "site-packages" in Path(vdpsim.__file__).parts


def test_the_package_brings_its_licence_and_says_that_it_is_typed():
    folder = Path(vdpsim.__file__).parent
    assert (folder / "LICENSE").read_text(encoding="utf-8").startswith("MIT License\n")
    assert (folder / "py.typed").exists()
    metadata = importlib.metadata.metadata("vdpsim")
    assert metadata["License-Expression"] == "MIT"
    assert metadata["Version"] == vdpsim.__version__
    assert metadata["Requires-Python"] == ">=3.11"


def test_every_public_name_can_be_had_and_is_listed():
    for name in vdpsim.__all__:
        assert getattr(vdpsim, name) is not None
    assert len(vdpsim.__all__) == len(set(vdpsim.__all__))
    with refused(AttributeError, "has no attribute 'Name'"):
        vdpsim.Name  # noqa: B018 - asking is the test


@pytest.mark.parametrize("package", [vdpsim, art])
def test_a_package_lists_what_is_public_and_nothing_of_how_it_is_made(package):
    """As completion in a shell shows it: no Any, no import_module."""
    assert dir(package) == sorted(package.__all__)


def loaded(code):
    """The modules that a fresh Python has loaded after ``code``."""
    code = f"{code}\nimport sys; print(*sys.modules)"
    return subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout.split()


@pytest.mark.parametrize("code", ["import vdpsim", "from vdpsim.cli import main\nmain(['--version'])"])
def test_the_door_loads_nothing_heavy(code):
    assert not {"numpy", "PIL", "pydantic", "rich"} & set(loaded(code))


def test_drawing_loads_no_more_than_it_needs():
    """rich is for progress on a terminal; the TOML, picture and array libraries are needed."""
    scene = ROOT / "scenes/saltmarsh.scene.toml"
    found = loaded(
        f"from vdpsim.cli import main\nassert main(['render', {str(scene)!r}, '-o', '{os.devnull}/x.png']) == 2"
    )
    assert {"numpy", "PIL", "pydantic"} <= set(found)
    assert not {"rich", "PIL.ImageDraw"} & set(found)


def test_a_command_reads_no_metadata_of_packages_and_leaves_them_to_be_read():
    """What is needed to read them is a lot, and only plug-ins of pydantic's would need them."""
    code = f"import sys\nsys.argv = ['vdpsim', 'check', {str(ROOT / 'scenes/saltmarsh.scene.toml')!r}]"
    ran = f"{code}\nfrom vdpsim.cli import main\nassert main() == 0"
    there = set(loaded(ran))
    assert "pydantic.plugin._loader" in there
    assert not {"zipfile", "email.message"} & there
    got = "assert metadata.version('pydantic') and metadata.entry_points(group='console_scripts')"
    asks = [f"{ask}\n{got}" for ask in ("import importlib.metadata as metadata", "from importlib import metadata")]
    asks.append("from importlib.metadata import entry_points, version\nassert entry_points(group='console_scripts')")
    for ask in asks:
        loaded(f"import sys, vdpsim.cli.running\nvdpsim.cli.running.hasten()\nimport pydantic\n{ask}")


def test_fitting_loads_no_engine(tmp_path):
    """Though it writes a scene with its pictures, and what tells of their loss could be had."""
    chip, picture = ROOT / "scenes/chips/curlew.chip.toml", ROOT / "scenes/art/birds.png"
    words = ["fit", str(picture), "--chip", str(chip), "--layer", "near", "-o", f"{tmp_path}/out/"]
    found = loaded(
        f"from vdpsim.cli import main\nimport contextlib, io\nwith contextlib.redirect_stdout(io.StringIO()): main({words!r})\n"
        "from vdpsim import art; art.fit; art.save; art.compared"
    )
    assert len([*(tmp_path / "out").iterdir()]) > 5
    assert "vdpsim.art.scenes.scene_out" in found
    others = ("engine", "machine", "output", "budgets", "report")
    assert not [name for name in found if name.startswith(tuple(f"vdpsim.{room}" for room in others))]


def test_reasons_stand_beside_every_lint_that_is_ignored():
    text = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
    lint = PROJECT["tool"]["ruff"]["lint"]
    codes = [*lint["ignore"], *(code for some in lint["per-file-ignores"].values() for code in some)]
    for code in codes:
        lines = [line for line in text.splitlines() if f'"{code}",' in line and "#" in line]
        assert lines, f"{code} is ignored without a reason"


def test_the_coverage_threshold_is_configured():
    coverage = PROJECT["tool"]["coverage"]
    assert coverage["report"]["fail_under"] >= 95
    assert coverage["run"]["branch"] is True
