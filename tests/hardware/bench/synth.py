"""What the design takes on hardware, for an exported folder's chip: memories, flip-flops and, if asked, gates.

    python3 synth.py FOLDER [--gates]

Yosys elaborates, checks and optimises the design, and infers memories and flip-flops. With --gates memories are mapped onto
the blocks and tables of ``rams.txt`` and everything else onto gates of two inputs, multiplexers and flip-flops; a memory that
finds no place there becomes flip-flops and is named. Video memory is outside of the chip and not counted.

Yosys has 4 GB of memory and ten minutes of a processor; where it takes more, it is ended and the exit status is 1.
"""

import argparse
import json
import resource
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
DESIGN = HERE.parent / "design"
MEMORY = 4_000_000_000
SECONDS = 600
BLOCK_BITS, TABLE_BITS = 1 << 14, 64


def number(text: str) -> int:
    """A parameter as yosys writes it."""
    return int(text, 2)


def steps(folder: Path, place: Path, *, gates: bool) -> Iterator[str]:
    """Yosys' commands; what is found is put into files of ``place``."""
    sources = sorted(str(path) for path in DESIGN.glob("*.v") if path.name != "video_memory.v")
    yield f"verilog_defaults -add -I{folder} -I{DESIGN}"
    yield f"read_verilog {' '.join(sources)}"
    yield "synth -top chip -run begin:fine"
    yield "opt_clean"
    yield "check -assert"
    yield f"write_json {place / 'inferred.json'}"
    if gates:
        yield f"memory_libmap -lib {HERE / 'rams.txt'}"
        yield f"write_json {place / 'placed.json'}"
        yield "synth -run fine:check"
        yield f"write_json {place / 'gates.json'}"  # the statistics of yosys 0.23 are no JSON where modules are many


def cells(modules: dict[str, Any]) -> Iterator[tuple[str, str, str, dict[str, str]]]:
    """Each cell below the chip: where it stands, its own name, its type, its parameters."""
    waiting = [("chip", "chip")]
    while waiting:
        name, module = waiting.pop()
        for key, cell in modules[module]["cells"].items():
            if cell["type"] in modules:
                waiting.append((f"{name}.{key}", cell["type"]))
            else:
                yield name, f"{name}.{key}", cell["type"], cell["parameters"]


def memory_bits(parameters: dict[str, str]) -> int:
    """Bits of an inferred memory."""
    return number(parameters["SIZE"]) * number(parameters["WIDTH"])


def inferred(modules: dict[str, Any]) -> dict[str, Any]:
    """Bits of memories by name and of flip-flops by module, and how many latches there are."""
    memories: dict[str, int] = {}
    flip_flops: dict[str, int] = {}
    latches = 0
    for place, name, kind, parameters in cells(modules):
        if kind.startswith("$mem"):
            memories[name] = memory_bits(parameters)
        elif "dff" in kind:
            flip_flops[place] = flip_flops.get(place, 0) + number(parameters["WIDTH"])
        latches += "latch" in kind
    return {"memories": memories, "flip_flops": flip_flops, "latches": latches}


def placed(before: dict[str, Any], after: dict[str, Any]) -> dict[str, Any]:
    """Blocks and tables of memory, what of memory became flip-flops, and gates: of modules ``before`` gates and ``after``."""
    by_type = Counter(kind for _, _, kind, _ in cells(after))
    blocks, tables = by_type.pop("$__BLOCK_16K_", 0), by_type.pop("$__TABLE_64_", 0)
    flip_flops = sum(count for kind, count in by_type.items() if "DFF" in kind)
    return {
        "block_bits": BLOCK_BITS * blocks,
        "table_bits": TABLE_BITS * tables,
        "as_flip_flops": {name: memory_bits(held) for _, name, kind, held in cells(before) if kind.startswith("$mem")},
        "flip_flops": flip_flops,
        "gates": by_type.total() - flip_flops,
        "latches": sum(count for kind, count in by_type.items() if "DLATCH" in kind),
    }


def bounded() -> None:
    """So much memory and time of a processor and no more, for the process that begins."""
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))


def main() -> int:
    """Synthesise and count."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("folder", type=Path, help="an exported folder")
    parser.add_argument("--gates", action="store_true", help="on to gates")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        place = Path(name)
        out = subprocess.run(
            ["yosys", "-p", "; ".join(steps(given.folder, place, gates=given.gates))],
            check=False,
            capture_output=True,
            text=True,
            preexec_fn=bounded,
        )
        if out.returncode:
            print(out.stdout[-2000:], out.stderr[-2000:], f"exit status {out.returncode}")
            return 1
        told = inferred(json.loads((place / "inferred.json").read_text())["modules"])
        if given.gates:
            stages = (json.loads((place / f"{stage}.json").read_text())["modules"] for stage in ("placed", "gates"))
            told["placed"] = placed(*stages)
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    told["seconds"], told["peak_megabytes"] = round(used.ru_utime, 1), used.ru_maxrss // 1000
    print(json.dumps(told, indent=1, sort_keys=True))
    return 0


if __name__ == "__main__":
    sys.exit(main())
