"""Are value change dumps read as others read them, and compared as the text of the same design is?

The form: IEEE 1364-2005, clause 18. Read beside: vcdvcd; written by: pyvcd, and by hand.
"""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from dumps import BEFORE, Pen, clocked, numbered, shown
from ponds import PICTURE, H, Rows, W, capture, little, pond, rows
from real_parts import module
from refusal import refused

import vdpsim
from vdpsim.cli import main
from vdpsim.handoff.verifying.wave.dump import Dump, UnreadableDumpError


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    return pond(tmp_path_factory.mktemp("pond"), frames=range(2))


@pytest.fixture(scope="module")
def every(folder) -> Rows:
    return rows(folder)


@pytest.fixture(scope="module")
def wave(every, tmp_path_factory) -> Path:
    return numbered(every).file(tmp_path_factory.mktemp("wave") / "wave.vcd")


def test_a_dump_of_the_model_is_the_same_dot_for_dot_and_access_for_access(wave, folder, every):
    found = vdpsim.verify(wave, folder)
    assert found.same, found.text()
    assert found.shifts == {} and found.unplaced == 0
    assert found.outcomes["dot"].seen == 2 * H * W
    assert found.outcomes["access"].seen == sum(row[0] == "access" for row in every)


def test_a_change_in_a_dump_is_told_where_it_is(tmp_path, folder, every):
    told = [list(row) for row in every]
    for row in told:
        if row[:4] == ["dot", "1", "7", "20"]:
            row[4:6] = ["001", "000001"]
        if row[:3] == ["access", "1", "30"]:
            row[5] = "000ffe"
    found = vdpsim.verify(numbered(told).file(tmp_path / "w.vcd"), folder)
    assert found.outcomes["dot"].first[:3] == (1, 7, 20) and found.outcomes["dot"].wrong == 1
    slots = [row[3] for row in told if row[:3] == ["access", "1", "30"]]
    assert found.outcomes["access"].wrong == len(slots) and found.outcomes["access"].first[:3] == (1, 30, int(slots[0]))


def test_dots_are_counted_by_clock_and_valid(tmp_path, folder, every):
    found = vdpsim.verify(clocked(every).file(tmp_path / "w.vcd"), folder)
    assert found.same, found.text()
    assert found.outcomes["dot"].seen == 2 * H * W and found.shifts == {}


def test_a_late_design_is_told_as_late_from_a_dump_too(tmp_path, folder, every):
    found = vdpsim.verify(clocked(every, late=2).file(tmp_path / "w.vcd"), folder)
    assert found.same and found.shifts["dot"][:2] == (0, 2)


def test_dots_are_counted_by_sync_pulses_and_their_place_is_found(tmp_path, folder, every):
    """The pulses come before frame and line end: so lines and dots have a constant offset, and the second frame alone."""
    found = vdpsim.verify(clocked(every, syncs=True).file(tmp_path / "w.vcd"), folder)
    assert found.same, found.text()
    assert found.outcomes["dot"].seen == H * W and found.shifts["dot"] == (BEFORE[0] - 1, BEFORE[1], 0)
    assert found.renumbered == 1 and found.unplaced > H * W  # until the first pulse nobody knows which line it is


def test_channels_are_as_good_as_a_colour(tmp_path, folder, every):
    """Four bits a channel show as the chip's text says, floor(v x 255 / 15 + 0.5): v x 17."""
    found = vdpsim.verify(clocked(every, channels=True).file(tmp_path / "w.vcd"), folder)
    assert found.same and found.outcomes["dot"].seen == 2 * H * W


def test_the_waveform_that_is_exported_is_the_same(tmp_path):
    """What export itself writes as waves.vcd, where it does."""
    from vdpsim.handoff.parts import PARTS  # noqa: PLC0415

    if "waves" not in PARTS:
        pytest.skip("export writes no waveform")
    module("vcd", "pyvcd")
    folder = pond(tmp_path)
    vdpsim.export(little(tmp_path, PICTURE), tmp_path / "all", frames=range(2))
    found = vdpsim.verify(tmp_path / "all/waves.vcd", folder)
    assert found.same and found.shifts == {}, found.text()
    assert found.outcomes["dot"].seen == 2 * H * W or found.outcomes["access"].seen > 0


def chosen(place: Path, folder: Path, **signals: str) -> vdpsim.Verified:
    return vdpsim.verify(place, folder, signals=signals)


def test_signals_are_chosen_by_their_paths_bits_and_sense(tmp_path, folder, every):
    dots = shown(every)
    pen = Pen({"a.n.blankn": 1, "a.n.v": 14, "a.n.h": 7, "a.m.pixel": 10, "b.m.pixel": 10})
    for line, dot in np.ndindex(H, W):
        entry = dots[0, line, dot][0]
        pen.at(line * W + dot + 1, blankn=1, v=line << 3 | 5, h=dot, pixel=entry << 4 | 9)
    place = pen.file(tmp_path / "w.vcd")
    given = {"blank": "!blankn", "line": "n.v[9:3]", "dot": "a.n.h", "entry": "a.m.pixel[8:4]"}
    found = chosen(place, folder, **given)
    assert found.same and found.outcomes["dot"].seen == H * W
    words = [word for role, path in given.items() for word in ("--signal", f"{role}={path}")]
    assert main(["verify", str(place), "--against", str(folder), *words]) == 0
    for change, told in (
        ({"entry": "pixel[8:4]"}, r"signal entry: could be any of a\.m\.pixel, b\.m\.pixel: say which"),
        (
            {"entry": "a.m.pixels"},
            r"signal entry: no signal of the dump is called a\.m\.pixels; there are a\.n\.blankn, a\.n\.v",
        ),
        ({"entry": "a.m.pixel[10:4]"}, r"a\.m\.pixel has 10 bits, of which at most 64 are looked at, got \[10:4\]"),
        ({"entry": "a.m.pixel[]"}, r"must be a path, with ! before it"),
        ({"blank": "a.n.v"}, r"signal blank: must have one bit; a\.n\.v has 14"),
        ({"entries": "a.m.pixel"}, r"signal entries: is none; there are clock, frame, frame_start"),
    ):
        with refused(vdpsim.InputError, told):
            chosen(place, folder, **{**given, **change})


def test_ambiguous_names_are_told_with_all_who_have_them_and_only_where_it_matters(tmp_path, folder, every):
    pen = Pen(
        {
            "t.line": 7,
            "t.dot": 7,
            "t.entry": 5,
            "t.a.address": 16,
            "t.b.address": 16,
            "t.c.dot": 9,
            "t.d.frame_start": 1,
        }
    )
    dots = shown(every)
    for dot in range(W):
        pen.at(dot + 1, line=0, dot=dot, entry=dots[0, 0, dot][0])
    place = pen.file(tmp_path / "w.vcd")
    with refused(
        vdpsim.InputError, r"signal dot: could be any of t\.dot, t\.c\.dot: say which, or the scope that counts$"
    ):
        vdpsim.verify(place, folder)
    assert chosen(place, folder, dot="t.dot").outcomes["dot"].seen == W
    assert chosen(place, folder, scope="t").outcomes["dot"].seen == W
    with refused(vdpsim.InputError, r"signal scope: no signal stands in a scope called t\.x"):
        chosen(place, folder, scope="t.x")


def test_two_names_of_one_id_code_are_one_signal(tmp_path, folder, every):
    pen = Pen({"t.line": 7, "t.dot": 7, "t.entry": 5, "t.u.line": 7, "t.u.dot": 7}, iter(["a", "b", "c", "a", "b"]))
    dots = shown(every)
    for dot in range(W):
        pen.at(dot + 1, line=0, dot=dot, entry=dots[0, 0, dot][0])
    assert vdpsim.verify(pen.file(tmp_path / "w.vcd"), folder).outcomes["dot"].seen == W


@pytest.mark.parametrize(
    ("signals", "told"),
    [
        ({"t.foo": 3}, "there must be entry, colour, or red, green and blue for dots"),
        ({"t.entry": 5}, "dots need dot, or clock with valid, blank or line_start"),
        ({"t.slot": 8, "t.client": 4, "t.address": 13}, "accesses need line"),
    ],
)
def test_signals_that_are_wanting_are_told(tmp_path, folder, signals, told):
    with refused(vdpsim.InputError, told):
        vdpsim.verify(Pen(signals).file(tmp_path / "w.vcd"), folder)


def test_signals_are_for_dumps_alone(tmp_path, folder, every):
    with refused(vdpsim.InputError, "this is a text of records"):
        chosen(capture(tmp_path / "t.txt", every), folder, dot="top.dot")


ODD = """
$comment a $var that is none $end $date $end
$timescale
  1ps
$end
$scope begin one $end $var reg 4 !a n [3:0] $end
$var real 64 r temperature $end $var integer 8 %% m $end $var string 1 s words $end
$scope task two $end $var parameter 1 & p $end $upscope $end $upscope $end
$enddefinitions $end
$comment between $end
#0 $dumpvars b0 !a bx %% 0& r1.5 r sHello s $end
#5
b1010 !a r-2.25e3 r
$dumpoff bx !a x& $end #7 $dumpon b11 !a 1& $end
#7 B0z1 %%
#9 $dumpall b11 !a bZ %% 1& $end b1 %%
"""


def test_every_form_of_the_standard_is_read():
    dump = Dump([ODD.encode()])
    assert [(one.code, one.path, one.bits) for one in dump.signals] == [
        (b"!a", "one.n", 4), (b"%%", "one.m", 8), (b"&", "one.two.p", 1),
    ]  # fmt: skip
    changes = list(dump.changes({b"!a": 0, b"%%": 1, b"&": 2}))
    assert changes == [
        [(0, 0), (1, -1), (2, 0)],
        [(0, 10), (0, -1), (2, -1)],
        [(0, 3), (2, 1)],
        [(1, -1)],
        [(0, 3), (1, -1), (2, 1), (1, 1)],
    ]


def test_pieces_may_be_cut_anywhere():
    whole = list(Dump([ODD.encode()]).changes({b"!a": 0, b"%%": 1}))
    for wide in (1, 2, 7):
        pieces = [ODD.encode()[at : at + wide] for at in range(0, len(ODD), wide)]
        assert list(Dump(pieces).changes({b"!a": 0, b"%%": 1})) == whole


@pytest.mark.parametrize("seed", range(20))
def test_a_dump_by_pyvcd_is_read_as_vcdvcd_reads_it(tmp_path, seed):
    vcd, vcdvcd = module("vcd", "pyvcd"), module("vcdvcd", "vcdvcd")
    rng = np.random.default_rng(seed)
    out = io.StringIO()
    with vcd.VCDWriter(out, timescale="1 ns") as writer:
        known = [
            writer.register_var(
                ".".join(["top", *"ab"[: int(rng.integers(3))]]), f"s{number}", "wire", int(rng.integers(1, 65))
            )
            for number in range(int(rng.integers(1, 120)))
        ]
        for time in np.cumsum(rng.integers(0, 4, 400)).tolist():
            one = known[int(rng.integers(len(known)))]
            bits = "".join(rng.choice(list("01xz" if rng.integers(4) == 0 else "01"), one.size))
            writer.change(one, time, bits)
    (tmp_path / "w.vcd").write_text(out.getvalue())
    theirs = vcdvcd.VCDVCD(str(tmp_path / "w.vcd"))
    dump = Dump([out.getvalue().encode()])
    assert {one.path for one in dump.signals} == {name.partition("[")[0] for name in theirs.signals}
    codes = {one.code: number for number, one in enumerate(dump.signals)}
    ours: dict[int, list[int]] = {number: [] for number in codes.values()}
    for changes in dump.changes(codes):
        for number, value in changes:
            ours[number].append(value)
    for number, one in enumerate(dump.signals):
        name = next(name for name in theirs.signals if name.partition("[")[0] == one.path)
        wanted = [int(value, 2) if set(value.lower()) <= set("01") else -1 for _, value in theirs[name].tv]
        assert without_repeats(ours[number]) == without_repeats(wanted)


def without_repeats(values: list[int]) -> list[int]:
    return [value for at, value in enumerate(values) if at == 0 or value != values[at - 1]]


@pytest.mark.parametrize(
    ("text", "line", "told"),
    [
        ("$date $end\n0!\n", 2, "a dump begins with its commands, got 0!"),
        ("$date\n", 2, "ends within a command"),
        ("$date $end\n", 2, "ends within its header"),
        ("$var wire x ! n $end", 1, "must have a kind, a number of bits"),
        ("$scope module $end", 1, "must have a kind and a name"),
        ("$upscope $end", 1, "ends no scope"),
        ("$scope module a $end\n" * 257, 257, "at most 256 within each other"),
        ("$enddefinitions $end\n#1\n#0\n", 3, "times must grow, got #0 after #1"),
        ("$enddefinitions $end\n#1x\n", 2, "a time must be # and a whole number"),
        ("$enddefinitions $end\n#" + "9" * 41, 2, "a time must be # and a whole number"),
        ("$var wire 2 ! n $end $enddefinitions $end\nb12 !\n", 2, "a vector must have the bits 0, 1, x and z, got 12"),
        ("$var wire 2 ! n $end $enddefinitions $end\nb1_0 !\n", 2, r"a vector must have the bits 0, 1, x and z, got 1_0"),
        ("$var wire 2 ! n $end $enddefinitions $end\nb+1 !\n", 2, r"a vector must have the bits 0, 1, x and z, got \+1"),
        ("$var wire 2 ! n $end $enddefinitions $end\nb0b1 !\n", 2, r"a vector must have the bits 0, 1, x and z, got 0b1"),
        ("$enddefinitions $end\npH 6 0 !\n", 2, "extended dumps"),
        ("$enddefinitions $end\ndot 0 0\n", 2, "must be a change, a time or a command, got dot"),
        ("$date $end\n" + "x" * 65_537, 2, "a line must be at most 65536 bytes long"),
        ("$date $end\n" + "x" * 65_537 + "\n$date\n", 2, "a line must be at most 65536 bytes long"),
    ],
)  # fmt: skip
def test_what_is_no_dump_is_refused_with_its_line(text, line, told):
    with refused(UnreadableDumpError, told) as error:
        list(Dump([text.encode()]).changes({b"!": 0}))
    assert error.value.line == line


def test_both_sides_of_the_largest_header_and_of_the_most_signals(monkeypatch):
    text = "$var wire 1 ! a $end\n$var wire 1 % b $end\n$enddefinitions $end\n#0\n1!\n"
    header = text.index("#0")
    for name, enough, told in (
        ("MOST_HEADER", header, f"the header must be at most {header - 1} bytes long"),
        ("MOST_SIGNALS", 2, "a dump must have at most 1 signals: dump the scope that is to be compared alone"),
    ):
        with monkeypatch.context() as patch:
            patch.setattr(f"vdpsim.handoff.verifying.wave.dump.{name}", enough)
            assert list(Dump([text.encode()]).changes({b"!": 0})) == [[(0, 1)]]
            patch.setattr(f"vdpsim.handoff.verifying.wave.dump.{name}", enough - 1)
            with refused(UnreadableDumpError, told):
                Dump([text.encode()])


def test_a_vector_without_bits_is_0_and_a_command_that_is_cut_off_ends_the_dump():
    text = "$var wire 8 ! a $end $enddefinitions $end\n#0\nb11 !\n#1\nb !\n#2\n$comment b1 !"
    assert list(Dump([text.encode()]).changes({b"!": 0})) == [[(0, 3)], [(0, 0)]]


def test_a_colour_of_which_a_channel_is_not_known_is_not_known(tmp_path, folder, every):
    pen = clocked(every, channels=True)
    number = next(at for at, line in enumerate(pen.lines) if at > 2000 and line.endswith(f" {pen.codes['bench.g']}"))
    pen.lines[number] = f"bx {pen.codes['bench.g']}"
    found = vdpsim.verify(pen.file(tmp_path / "w.vcd"), folder)
    assert not found.same and "colour not known (x)" in found.text()


def test_a_dump_of_accesses_alone_has_no_dots(tmp_path, folder, every):
    pen = numbered(every, frames=1)
    lines = "\n".join(pen.lines)
    for name in ("dot", "ppu.entry", "ppu.colour"):
        code = pen.codes[f"top.{name}"]
        lines = lines.replace(f" {code} {name.rpartition('.')[2]}", f" {code} unknown")
    (tmp_path / "w.vcd").write_text(lines + "\n")
    found = vdpsim.verify(tmp_path / "w.vcd", folder)
    assert found.same and "dot" in found.absent
    assert found.outcomes["access"].seen == sum(row[:2] == ["access", "0"] for row in every)


def test_an_access_has_what_stands_when_its_slot_ends(tmp_path, folder, every):
    """Data that come within the slot, a time after its number."""
    there = {
        int(row[3]): [int(row[4]), int(row[5], 16), int(row[6], 16)] for row in every if row[:3] == ["access", "0", "5"]
    }
    pen = Pen({"t.frame": 2, "t.line": 7, "t.slot": 8, "t.busy": 1, "t.client": 4, "t.address": 13, "t.data": 16})
    pen.at(0, frame=0, line=5)
    for slot in range(max(there) + 2):
        client, address, data = there.get(slot, (0, 0, 0))
        pen.at(2 * slot + 1, slot=slot, busy=int(slot in there), client=client, address=address, data=None)
        pen.at(2 * slot + 2, data=data)
    found = vdpsim.verify(pen.file(tmp_path / "w.vcd"), folder)
    assert found.same and found.outcomes["access"].seen == len(there)
