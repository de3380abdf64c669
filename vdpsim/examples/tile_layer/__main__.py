"""Runs the example: exports the chip, builds the design, and lets the test bench hold it against the model.

Law: one command, ``python -m vdpsim.examples.tile_layer FOLDER``. Exit status 0 the same, 1 not, 2 something is missing.
"""

from __future__ import annotations

import argparse
import shutil
import sys
from pathlib import Path

import vdpsim
from vdpsim.cli.say import tell

HERE = Path(__file__).parent
TOP = "tile_layer"


def main() -> int:
    """Do it."""
    words = argparse.ArgumentParser(prog="python -m vdpsim.examples.tile_layer", description=__doc__)
    words.add_argument("folder", type=Path, help="where the exported folder and the simulation go")
    words.add_argument("--design", type=Path, default=HERE / f"{TOP}.v", help="another design (default: the example's)")
    words.add_argument("--seed", type=int, default=1, help="which writes the CPU does (default 1)")
    asked = words.parse_args()
    try:
        from cocotb_tools.check_results import get_results  # noqa: PLC0415 - belongs to an extra
        from cocotb_tools.runner import get_runner  # noqa: PLC0415 - the same
    except ImportError:
        return _missing("cocotb, which is not installed: pip install 'vdpsim[handoff]'")
    if shutil.which("iverilog") is None:
        return _missing("iverilog, which is not installed (Debian: apt-get install iverilog)")
    folder = asked.folder.resolve()
    vdpsim.export(vdpsim.load_scene(HERE / "knot.scene.toml"), folder, only=["memory", "constants"])
    runner = get_runner("icarus")
    runner.build(
        sources=[asked.design.resolve()],
        includes=[folder],
        hdl_toplevel=TOP,
        build_dir=folder / "build",
        build_args=["-g2005", "-Wall"],
        always=True,
    )
    told = runner.test(
        test_module=f"{__package__}.bench",
        hdl_toplevel=TOP,
        build_dir=folder / "build",
        test_dir=folder,
        extra_env={"SEED": str(asked.seed)},
    )
    tests, failed = get_results(told)
    return int(not tests or failed > 0)


def _missing(what: str) -> int:
    tell(f"the example needs {what}")
    return 2


if __name__ == "__main__":
    sys.exit(main())
