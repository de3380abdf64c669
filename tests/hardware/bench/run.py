"""Compile the reference design for an exported folder, run its frames and compare.

    python3 run.py FOLDER [--capture FILE] [--fault NAME] [--frames N]

The exit status is 0 where every record matches.
"""

import argparse
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

HERE = Path(__file__).resolve().parent
DESIGN = HERE.parent / "design"


def main() -> int:
    """Run one folder."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("folder", type=Path, help="an exported folder")
    parser.add_argument("--capture", type=Path, help="print the design's records into this file")
    parser.add_argument("--fault", action="append", default=[], help="plant a fault: FAULT_NAME")
    parser.add_argument("--frames", type=int, help="only so many of the folder's frames")
    given = parser.parse_args()
    index = json.loads((given.folder / "index.json").read_text(encoding="utf-8"))
    with tempfile.TemporaryDirectory() as place:
        program = Path(place) / "bench.vvp"
        begin = time.monotonic()
        subprocess.run(
            ["iverilog", "-g2005", "-s", "bench", "-I", given.folder, "-I", DESIGN, "-I", HERE, "-o", program]
            + [f"-DFAULT_{name}" for name in given.fault]
            + sorted(DESIGN.glob("*.v"))
            + [HERE / "bench.v"],
            check=True,
        )
        built = time.monotonic()
        command = [
            "vvp",
            "-n",
            program,
            f"+folder={given.folder}",
            f"+first={index['frames'][0]['frame']}",
            f"+frames={given.frames or len(index['frames'])}",
            "+compare",
        ]
        if given.capture:
            command.append(f"+capture={given.capture}")
        out = subprocess.run(command, check=False, capture_output=True, text=True)
        done = time.monotonic()
    print(out.stdout, end="")
    print(out.stderr, end="", file=sys.stderr)
    print(f"{given.folder.name}: compiled in {built - begin:.1f} s, ran in {done - built:.1f} s")
    return 0 if out.stdout.rstrip().endswith("all match") else 1


if __name__ == "__main__":
    sys.exit(main())
