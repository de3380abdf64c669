"""Writes DEVELOPERS.md's list of modules, by folder, from the first line of each; with --check says whether it is up to date.

Law: the docstring is the one place where a module says what it is. Exit status 0 done or up to date, 1 it is not.
"""

from __future__ import annotations

import argparse
import re
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
LIST = re.compile(r"(^```rooms\n)(.*?)(^```$)", re.MULTILINE | re.DOTALL)
ORDER = re.compile(r"^\| `(\w+)/?` \|", re.MULTILINE)


def listed(home: Path, order: list[str]) -> str:
    """A line a module under ``home``, folder by folder, rooms in ``order``; ``__init__`` and ``__main__`` are left out."""
    paths = [path for path in home.rglob("*.py") if path.name not in {"__init__.py", "__main__.py"}]

    def place(path: Path) -> tuple[int, Path, str]:
        inside = path.relative_to(home)
        return order.index(inside.parts[0].removesuffix(".py")), inside.parent, inside.name

    return "".join(f"{path.relative_to(home.parent)!s:<40} {first_line(path)}\n" for path in sorted(paths, key=place))


def first_line(path: Path) -> str:
    """What the module says of itself in one line, without the full stop; its docstring is the first that there is."""
    return path.read_text("utf-8").partition('"""')[2].partition("\n")[0].removesuffix('"""').removesuffix(".")


def main() -> int:
    """Write the list, or check it."""
    words = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    words.add_argument("--check", action="store_true", help="write nothing")
    asked = words.parse_args()
    guide = ROOT / "DEVELOPERS.md"
    text = guide.read_text("utf-8")
    new = LIST.sub(lambda found: found[1] + listed(ROOT / "vdpsim", ORDER.findall(text)) + found[3], text)
    if new == text:
        return 0
    if asked.check:
        print("DEVELOPERS.md does not list the modules as they are: run tools/rooms", file=sys.stderr)
        return 1
    guide.write_text(new, "utf-8")
    print("DEVELOPERS.md lists the modules as they are.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
