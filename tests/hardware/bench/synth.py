"""What the design takes on hardware, for an exported folder's chip: bits of memory and of flip-flops.

    python3 synth.py FOLDER

Yosys does the coarse part of its `synth`: the design is elaborated, checked and optimised, memories
and flip-flops are inferred. Mapping to the gates of some part is left to the tool for that part.
Video memory is outside of the chip and not counted.
"""

import json
import subprocess
import sys
import tempfile
from pathlib import Path

DESIGN = Path(__file__).resolve().parent.parent / "design"


def number(text: str) -> int:
    """A parameter as yosys writes it."""
    return int(text, 2)


def main() -> int:
    """Synthesise and count."""
    folder = Path(sys.argv[1])
    sources = sorted(str(path) for path in DESIGN.glob("*.v") if path.name != "video_memory.v")
    with tempfile.TemporaryDirectory() as place:
        result = Path(place) / "chip.json"
        steps = [
            f"verilog_defaults -add -I{folder} -I{DESIGN}",
            f"read_verilog {' '.join(sources)}",
            "synth -top chip -run begin:fine",
            "opt_clean",
            "check -assert",
            f"write_json {result}",
        ]
        out = subprocess.run(["yosys", "-p", "; ".join(steps)], check=False, capture_output=True, text=True)
        if out.returncode:
            print(out.stdout[-2000:], out.stderr[-2000:])
            return 1
        modules = json.loads(result.read_text())["modules"]
    memories: dict[str, int] = {}
    flip_flops: dict[str, int] = {}
    latches = 0
    waiting = [("chip", "chip")]
    while waiting:
        name, module = waiting.pop()
        for key, cell in modules[module]["cells"].items():
            kind, parameters = cell["type"], cell["parameters"]
            if kind in modules:
                waiting.append((f"{name}.{key}", kind))
            elif kind.startswith("$mem"):
                memories[f"{name}.{key}"] = number(parameters["SIZE"]) * number(parameters["WIDTH"])
            elif "dff" in kind:
                flip_flops[name] = flip_flops.get(name, 0) + number(parameters["WIDTH"])
            latches += "latch" in kind
    told = {"memories": memories, "flip_flops": flip_flops, "latches": latches}
    print(json.dumps(told, indent=1, sort_keys=True))
    return 0


if __name__ == "__main__":
    sys.exit(main())
