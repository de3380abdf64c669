"""``vdpsim verify``: what a design printed, held against an exported folder."""

from __future__ import annotations

import argparse
from pathlib import Path

import vdpsim

from ..files import outputs, replace_argument, say_first
from ..parsing import number_within
from ..say import as_json, say, tell

ABOUT = """\
Compares what a hardware design printed with a folder that vdpsim export made: dots, memory accesses, sprites, drops, collisions,
flags. A capture is a text of records in the form of the folder's own files, or a waveform (VCD) of a simulator. It may have a
part of the frames, lines and kinds of record; what it does not have is counted and is no difference.

Finds by itself where everything comes later or earlier by a constant number of dots, slots or lines, where entries or addresses
are off by a constant, and where frames are numbered otherwise, and says so. A fault that moves everything alike looks like that:
so what it says of constants has to be what you built. Says of the first difference what was expected, who
drew it and why, and what came."""
EXAMPLES = """\
examples:
  vdpsim verify capture.txt --against out/marsh/
  vdpsim verify capture.txt --against out/marsh/ --whole -o diff.png
  vdpsim verify bench.vcd --against out/marsh/ --signal entry=bench.video.index --signal clock=bench.clk
  vdpsim verify capture.txt --against out/marsh/ --json

a record of a text is a line: the word of its kind, then its numbers in the order of the folder's files, with any white space
between them. Other lines, and what stands behind a #, are passed over; x and z are digits that are not known; a - says
nothing of its column. A dot needs no more than its entry, an access no more than its address

signals of a waveform have roles, and are found by these names or chosen by --signal ROLE=PATH; a PATH may be the end of the
signal's whole path, with [HIGH:LOW] behind it for some bits, and ! before it where it is inverted. --signal scope=PATH looks at
the signals of one scope alone. Where names are not enough, a signal is taken by its bits and what it does, if it alone fits: a
clock changes at equal times, valid is 1 for the picture's width, frame, line, dot and slot count as far as they do, entry,
colour, client, address and data have the numbers that the folder has. Which was taken, and why, is told:
{roles}

exit status: 0 all that was compared is the same, but for a constant shift that is told; 1 something differs; 2 a file or an
option is wrong, or they have no record in common
"""


def _roles() -> str:
    from vdpsim.handoff.verifying.wave.roles import ROLES  # noqa: PLC0415

    return "\n".join(f"  {role:<12} {one.about}; also {', '.join(one.words)}" for role, one in ROLES.items())


EXAMPLES = EXAMPLES.format(roles=_roles())


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("capture", metavar="CAPTURE", help="a text of records, or a value change dump (VCD)")
    parser.add_argument("--against", metavar="FOLDER", required=True, help="a folder that vdpsim export made")
    parser.add_argument(
        "--signal",
        metavar="ROLE=PATH",
        action="append",
        default=[],
        help="which signal of a dump is what; several times",
    )
    parser.add_argument(
        "--whole", action="store_true", help="all that the folder has must be in the capture: what is not there differs"
    )
    parser.add_argument("-o", "--output", metavar="FILE.png", help="draw the first frame with dots that differ")
    parser.add_argument(
        "--scale", metavar="N", type=_scale, default=1, help="each dot becomes N x N, 1 to 8 (default 1)"
    )
    replace_argument(parser)
    parser.add_argument("--json", action="store_true", help="print everything as JSON instead of words")


def run(options: argparse.Namespace) -> int:
    """Do it."""
    signals = _signals(options)
    found = vdpsim.verify(options.capture, options.against, signals=signals, whole=options.whole)
    text = as_json(found.data()) if options.json else found.text()
    if options.output and found.differing is not None:
        with outputs(options, options.output) as written:
            say_first(written, lambda: say(text, end=""))
            written.add(Path(options.output), vdpsim.png_bytes(found.picture(options.scale)))
    else:
        say(text, end="")
        if options.output:
            tell("vdpsim: no dots differ: no picture is drawn")
    return 0 if found.same else 1


def _signals(options: argparse.Namespace) -> dict[str, str]:
    """The signals that were chosen. Raises InputError with all that is wrong with the command line."""
    wrong, found = [], {}
    for text in options.signal:
        role, equals, path = text.partition("=")
        if not equals or not role or not path:
            wrong.append(("--signal", f"must be ROLE=PATH, got {text}"))
        elif role in found:
            wrong.append(("--signal", f"{role} is chosen twice"))
        found[role] = path
    if options.output and Path(options.output).suffix.lower() != ".png":
        wrong.append(("-o", f"must end in .png, got {options.output}"))
    if wrong:
        raise vdpsim.InputError([vdpsim.Problem("vdpsim verify", 0, place, message) for place, message in wrong])
    return found


def _scale(text: str) -> int:
    return number_within(text, 1, 8)
