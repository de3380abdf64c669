"""Plant each fault in turn; the comparison has to name its first place.

    python3 faults.py FOLDERS

FOLDERS has the exported folders by scene. The exit status is 0 where every fault is found."""

import subprocess
import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
FAULTS = {
    "SCROLL_LATE": "dusk",
    "PRIORITY": "ferry",
    "SPRITE_LIMIT": "flock",
    "SLOT_LATE": "tidetable",
    "ATTRIBUTE": "tideline",
    "WRONG_BANK": "regatta",
    "COLLISION": "regatta",
    "FLAG_LATE": "tidetable",
    "PACE": "slipway",
    "REFRESH": "reserve",
    "ZONE": "moonlit",
}


def main() -> int:
    """Run all faults."""
    missed = 0
    for fault, scene in FAULTS.items():
        command = [sys.executable, HERE / "run.py", Path(sys.argv[1]) / scene, "--fault", fault, "--frames", "1"]
        out = subprocess.run(command, check=False, capture_output=True, text=True)
        lines = [line for line in out.stdout.splitlines() if line.startswith(("first", "  ", "missing"))]
        missed += out.returncode == 0
        print(f"{fault} in {scene}: {'NOT FOUND' if out.returncode == 0 else 'found'}")
        print("\n".join(f"    {line}" for line in lines[:6]), flush=True)
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
