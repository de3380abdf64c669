"""Does a waveform say what was drawn, each thing at its moment? Read back by our own plain reading and by vcdvcd."""

from __future__ import annotations

import io
import json
import signal
import sys
import tracemalloc
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from paper import BITMAP, SPRITES, holding, small_chip, sprite
from real_parts import module
from refusal import refused
from sized import little_sized_frame
from strategies import randoms
from twin_cases import chip_from, little_chip
from waveform import UNKNOWN, Clock, Waveform

import vdpsim
from vdpsim.cli import main
from vdpsim.engine import Plan, Program, draw
from vdpsim.handoff.drawn import Drawn, in_time
from vdpsim.handoff.waves.dump import TIMESCALE, Dump
from vdpsim.handoff.waves.signals import TOP, Signal, signals
from vdpsim.handoff.waves.waves import Waves, chosen
from vdpsim.state.writes import Transfer
from vdpsim.testing.strategies.made.chips import make_chip
from vdpsim.testing.strategies.made.states import make_state
from vdpsim.testing.strategies.made.timed import make_writes

SCENES = Path(__file__).resolve().parents[2] / "scenes"
FEW = max(4, settings.default.max_examples // 20)
SHOWN = ("entry", "colour", "source", "rung", "sprite")

module("vcd", "pyvcd")


def drawn(chip, state, writes) -> Drawn:
    """A frame of a chip that stands before it with ``state``, which goes on."""
    plan, start = Plan(chip), state.copy()
    at_size = plan.of(start).chip
    result = draw(plan, state, Program(plan, writes), damage=True, trace=chip.time is not None)
    return Drawn(at_size, None, start, tuple(one for one in writes if in_time(one, at_size)), result, state)


def written(chip, frames, lines=None) -> str:
    """The waveform of frames that follow each other."""
    first = frames[0].result.frame
    waves = Waves(chip, range(first, first + len(frames)), lines)
    return b"".join(data for one in frames for _, data in waves.frame(one)).decode("ascii")


def some_frames(random, chip) -> list[Drawn]:
    """One frame or two, from frame 0 or a later one; of a chip of several sizes at any of them."""
    state = make_state(random, chip)
    state.frame = random.choice([0, 0, 1, 77])
    found = []
    for _ in range(random.randint(1, 2)):
        if len(chip.frame.every_size) > 1:
            state.controls[state.names.index("picture_size")] = random.randrange(len(chip.frame.every_size))
        found.append(drawn(chip, state, make_writes(random, chip)))
    return found


def some_lines(random, chip) -> range:
    """A few lines, or all: at a frame's beginning, its end, or where its picture ends."""
    end, height = chip.frame.lines_per_frame, chip.frame.height
    first = random.choice([0, end - 1, height - 1, random.randrange(end)])
    return range(end) if random.randint(0, 1) else range(first, min(end, first + random.randint(1, 3)))


def check_slots(wave, clock, one, lines) -> None:
    """Every slot of the lines begins at its moment, and has who the trace says, or nobody."""
    if one.result.trace is None:
        assert not any(name.startswith(("model.access.", "model.cpu.")) for name in wave.bits)
        return
    used = {(line, slot): more for line, slot, *more in one.result.trace.tolist()}
    number = one.result.frame
    for line in lines:
        for slot in range(int(clock.dots * clock.rate)):
            begin, end = clock.slot(number, line, slot), clock.slot(number, line, slot + 1) - 1
            wanted = used.get((line, slot), [UNKNOWN] * 3)
            lands = int(wanted[0] == len(one.result.log.clients) + 1)
            for time in (begin, end):
                assert [wave.at(f"model.access.{name}", time) for name in ("of_line", "slot")] == [line, slot]
                assert wave.at("model.access.busy", time) == int((line, slot) in used)
                assert [wave.at(f"model.access.{name}", time) for name in ("client", "address", "data")] == wanted
                assert wave.at("model.cpu.lands", time) == lands


def check_dots(wave, clock, one, lines) -> None:
    """Every dot of the lines begins at its moment and is what was drawn; beside and below the picture nothing shows."""
    result, (width, height) = one.result, one.result.size
    colours = (result.rgb.astype(int) * [1 << 16, 1 << 8, 1]).sum(-1)
    planes = (result.indices, colours, result.source, result.rung, result.sprite.astype(int) & 0xFFFF)
    raised = {(line, dot, flag) for line, dot, flag in result.raised.tolist()}
    for line in lines:
        blank = [clock.moment(result.frame, line), clock.dot(result.frame, line, 0, width) - 1]
        for time in blank if clock.dots > width else ():
            assert [wave.at(f"model.picture.{name}", time) for name in SHOWN] == [UNKNOWN] * 5
            assert [wave.at(f"model.sync.{name}", time) for name in SYNC] == [1, int(line >= height), 0, 0]
        for dot in range(width):
            begin, end = (clock.dot(result.frame, line, at, width) for at in (dot, dot + 1))
            wanted = [int(plane[line, dot]) for plane in planes] if line < height else [UNKNOWN] * 5
            place = [result.frame, line, dot]
            sync = [0, int(line >= height), int(dot == 0), int(dot == line == 0)]
            for time in (begin, end - 1):
                assert [wave.at(f"model.time.{name}", time) for name in ("frame", "line", "dot")] == place
                assert [wave.at(f"model.picture.{name}", time) for name in SHOWN] == wanted
                assert [wave.at(f"model.sync.{name}", time) for name in SYNC] == sync
                for flag in one.chip.status.bits if one.chip.status else ():
                    assert wave.at(f"model.flag.{flag}", time) == int((line, dot, flag) in raised)


SYNC = ("line_blank", "frame_blank", "line_start", "frame_start")


def check_blanking(chip, wave, clock, frames, lines) -> None:
    """The dots of the blanking before a line count on from the line before, of whatever width that was."""
    single = len(chip.frame.every_size) == 1
    widths = {one.result.frame: one.result.size[0] for one in frames}
    for one in frames:
        number, width = one.result.frame, one.result.size[0]
        for line in lines:
            before = (number, line - 1) if line else (number - 1, clock.lines - 1)
            known = width if single and number else widths.get(before[0])
            for dot in range(clock.dots - width):
                found = [
                    wave.at(f"model.time.{name}", clock.moment(number, line, dot)) for name in ("frame", "line", "dot")
                ]
                assert found == ([UNKNOWN] * 3 if known is None or before[0] < 0 else [*before, known + dot])


def check_ends(wave, clock, frames, lines) -> None:
    """Where the line that follows is not shown nothing is known, from then on to where the next lines begin."""
    whole = len(lines) == clock.lines
    for one in frames:
        end = clock.moment(one.result.frame, lines[-1] + 1)
        last = one is frames[-1]
        if last or not whole:
            until = end if last else clock.moment(one.result.frame + 1, lines[0]) - 1
            assert {wave.at(name, time) for name in wave.bits for time in (end, until)} == {UNKNOWN}
    assert wave.last == clock.moment(frames[-1].result.frame, lines[-1] + 1)
    assert min(changes[0][0] for changes in wave.changes.values()) == clock.moment(frames[0].result.frame, lines[0])


def check_all(chip, frames, lines) -> None:
    wave, clock = Waveform(written(chip, frames, lines)), Clock(chip)
    assert wave.timescale == "1 ps"
    assert set(wave.bits) == {f"model.{one.key}" for one in signals(chip)}
    for one in frames:
        check_slots(wave, clock, one, lines)
        check_dots(wave, clock, one, lines)
    check_blanking(chip, wave, clock, frames, lines)
    check_ends(wave, clock, frames, lines)


@pytest.mark.unmeasured
@settings(max_examples=2 * FEW, deadline=None)
@given(randoms())
def test_of_any_chip_every_slot_and_every_dot_stands_at_its_moment(random):
    chip = little_chip(random)
    lines = some_lines(random, chip)
    check_all(chip, some_frames(random, chip), lines[:6] if random.randint(0, 3) else lines)


@pytest.mark.unmeasured
@settings(max_examples=2 * FEW, deadline=None)
@given(randoms())
def test_so_it_does_where_the_width_changes_from_frame_to_frame(random):
    chip = make_chip(random, little_sized_frame, chip_from)
    end = chip.frame.lines_per_frame
    check_all(chip, some_frames(random, chip), random.choice([range(end), range(2), range(end - 1, end)]))


def test_a_library_that_is_read_beside_changes_no_signal():
    """vcdvcd lets a broken pipe end the process that imports it: a server tried in the same process would take it along."""
    sys.modules.pop("vcdvcd", None)
    sys.modules.pop("vcdvcd.vcdvcd", None)
    before = signal.signal(signal.SIGPIPE, signal.SIG_IGN)
    try:
        module("vcdvcd", "vcdvcd")
        assert signal.getsignal(signal.SIGPIPE) == signal.SIG_IGN
    finally:
        signal.signal(signal.SIGPIPE, before)


@pytest.mark.parametrize("name", ["saltmarsh", "flock", "slipway", "tidetable"])
def test_vcdvcd_reads_what_our_own_plain_reading_reads(tmp_path, name):
    vcdvcd = module("vcdvcd", "vcdvcd")
    vdpsim.export(
        vdpsim.load_scene(SCENES / f"{name}.scene.toml"), tmp_path / "out", frames=range(1, 3), only=["waves"]
    )
    text = (tmp_path / "out" / "waves.vcd").read_text("ascii")
    wave, other = Waveform(text), vcdvcd.VCDVCD(tmp_path / "out" / "waves.vcd")
    assert set(other.signals) == set(wave.bits)
    assert other.timescale["timescale"] == 10 ** vcdvcd.vcdvcd.Decimal(-12)
    for key in wave.bits:
        found = [(time, UNKNOWN if UNKNOWN in value else int(value, 2)) for time, value in other[key].tv]
        assert found == wave.changes[key]
        assert int(other[key].size) == wave.bits[key]


def test_each_signal_has_a_remark_and_each_number_a_name(tmp_path):
    chip = vdpsim.load_chip(SCENES / "chips" / "curlew.chip.toml")
    scene = vdpsim.load_scene(SCENES / "saltmarsh.scene.toml")
    vdpsim.export(scene, tmp_path / "out", only=["waves"])
    wave = Waveform((tmp_path / "out" / "waves.vcd").read_text("ascii"))
    for key in wave.bits:
        assert len([remark for remark in wave.remarks if remark.startswith(f"{key}, ")]) == 1
    listed = {remark.split(": ")[0]: remark.split(": ")[1].split(", ") for remark in wave.remarks[-3:]}
    assert listed["sources"] == [f"{number} {name}" for number, name in enumerate(chip.source_names)]
    frame = vdpsim.render(scene, trace=True)
    assert listed["clients"] == [f"{number} {name}" for number, name in enumerate(frame.slots.clients)]
    assert listed["rungs"] == [f"{number} {name}" for number, name in enumerate(frame.rungs)]
    readme = (tmp_path / "out" / "README.md").read_text()
    assert all(f"| `{key}` |" in readme for key in wave.bits)


def test_a_name_that_is_a_keyword_of_the_format_ends_no_remark():
    chip = small_chip(BITMAP).model_copy(update={"name": "a $end $var wire 1 ! x $end \u2603"})
    one = drawn(chip, holding(chip), [])
    wave = Waveform(written(chip, [one]))
    assert wave.remarks[0].startswith("Time on the line of a _end _var wire 1 ! x _end _, as")


def timed(cpu, share, rate="1"):
    """A chip on which nothing asks for slots but the CPU."""
    return small_chip(
        BITMAP,
        memory={"size": 1024, "bytes_per_access": 1, "accesses_per_dot": rate},
        time={"clients": {"a.bitmap": {"when": "blanking"}}, "cpu": share},
        constants={"a.enable": 0},
        registers={"a.scroll_x": {"bits": 6, "effect": "at once"}},
        **({"cpu": cpu} if cpu else {}),
    )


@pytest.mark.parametrize(
    ("queue", "steps"),
    [
        # byte 0 is at hand at its start, byte 1 a loop of 4 dots later, where there is a place for it; both land in the first
        # slots of the blanking before line 1, 80 dots after that before line 0; byte 2 is begun when byte 0 lands
        (2, [(0, 0), (16, 1), (20, 2), (80, 1), (81, 0)]),
        # one place: byte 1 is begun when byte 0 lands, is at hand in slot 4 and lands at once, as byte 2 does in slot 8
        (1, [(0, 0), (16, 1), (80, 0)]),
        (3, [(0, 0), (16, 1), (20, 2), (24, 3), (80, 2), (81, 1), (82, 0)]),
    ],
)
def test_the_queue_on_paper(queue, steps):
    chip = timed({"clock": 1_000_000, "cycles_per_byte": 4, "queue": queue}, {"active": "none", "blanking": True})
    one = drawn(chip, holding(chip), [Transfer(0, 5, b"abc", 0, 1)])
    wave = Waveform(written(chip, [one], range(2)))
    assert wave.changes["model.cpu.queue"] == [*((dots * 10**6, held) for dots, held in steps), (160 * 10**6, UNKNOWN)]


def naive_queue(chip, transfers, landed) -> list[tuple[Fraction, int]]:
    """When bytes come (+1) and go (-1), by the text of "The CPU's pace"; the landed ones in slots that are known."""
    frame, cpu = chip.frame, chip.cpu
    loop = Fraction(cpu.cycles_per_byte * frame.dot_clock, cpu.clock) if cpu else Fraction(0)
    hands, steps = [], []
    lands = [line * frame.dots_per_line + slot / chip.memory.accesses_per_dot for line, slot in landed]
    for one in transfers:
        start = Fraction(one.line * frame.dots_per_line + frame.dots_per_line - frame.width + one.dot)
        for number in range(len(one.data)):
            freed = len(hands) - cpu.queue if cpu else -1
            if freed >= len(lands):
                return steps
            known = hands[-1:] + ([lands[freed]] if freed >= 0 else [])
            if not cpu:
                hands.append(start)
            else:
                hands.append(max([start, *known]) if number == 0 else max(known) + loop)
            steps.append((hands[-1], 1))
            if len(hands) <= len(lands):
                steps.append((lands[len(hands) - 1], -1))
    return steps


@settings(max_examples=2 * FEW, deadline=None)
@given(st.data())
def test_the_queue_holds_what_has_come_and_not_landed(data):
    """At every slot of a frame, for any pace, queue and share of the slots."""
    pick = lambda *choices: data.draw(st.sampled_from(choices))  # noqa: E731
    cpu = {
        "clock": pick(1_000_000, 3_000_000, 7_000_000),
        "cycles_per_byte": pick(1, 4, 90),
        "queue": pick(1, 2, 7, 400),
    }
    share = pick({"active": "none"}, {"active": "free"}, {"active": "reserved", "every": 9, "at": [2, 7]})
    chip = timed(pick(cpu, cpu, None), share, pick("1", "1/3", "5/7", "3/2"))
    chip = chip.model_copy(update={"frame": chip.frame.model_copy(update={"height": 8, "lines_per_frame": 12})})
    starts = data.draw(st.lists(st.tuples(st.integers(0, 11), st.integers(0, 79)), max_size=4))
    transfers = [Transfer(line, 0, bytes(pick(1, 2, 30, 300)), dot, 1) for line, dot in sorted(starts)]
    one = drawn(chip, holding(chip), transfers)
    wave, clock = Waveform(written(chip, [one], range(12))), Clock(chip)
    number = len(one.result.log.clients) + 1
    landed = [(line, slot) for line, slot, client, *_ in one.result.trace.tolist() if client == number]
    steps = naive_queue(chip, transfers, landed)
    for line in range(12):
        for slot in range(int(80 * chip.memory.accesses_per_dot)):
            now = line * 80 + slot / chip.memory.accesses_per_dot
            held = sum(more for moment, more in steps if moment <= now)
            assert wave.at("model.cpu.queue", clock.slot(0, line, slot)) == held


def test_what_waits_from_the_frame_before_is_held_from_the_beginning():
    """Of a line of 80 dots the last slot begins at 75; bytes that are at hand at 77 and 78 land in slots 0 and 1 of the next."""
    chip = timed({"clock": 1_000_000, "cycles_per_byte": 1, "queue": 2}, {"active": "none"}, "1/3")
    state = holding(chip)
    frames = [drawn(chip, state, [Transfer(69, 5, b"ab", 77 - 16, 1)]), drawn(chip, state, [])]
    wave, clock = Waveform(written(chip, frames, range(70))), Clock(chip)
    moments = ((0, 69, 76), (0, 69, 77), (0, 69, 78), (1, 0, 0), (1, 0, 2), (1, 0, 3))
    assert [wave.at("model.cpu.queue", clock.moment(*at)) for at in moments] == [0, 1, 2, 1, 1, 0]


def test_left_alone_it_shows_the_fullest_line_and_its_neighbours(tmp_path):
    scene = vdpsim.load_scene(SCENES / "saltmarsh.scene.toml")
    used = vdpsim.render(scene, trace=True).slots.used.tolist()
    fullest = used.index(max(used))
    vdpsim.export(scene, tmp_path / "out", only=["waves"])
    wave = Waveform((tmp_path / "out" / "waves.vcd").read_text("ascii"))
    lines = [value for _, value in wave.changes["model.access.of_line"]]
    assert lines == [fullest - 1, fullest, fullest + 1, UNKNOWN]


def test_a_fullest_line_at_either_end_of_a_frame_has_one_neighbour():
    chip = timed(None, {"active": "free"})
    for line, lines in ((0, range(2)), (69, range(68, 70)), (35, range(34, 37))):
        state = holding(chip)
        one = drawn(chip, state, [Transfer(line, 0, bytes(9), 0, 1)])
        assert chosen(one.result, 70) == lines


def test_a_chip_without_a_time_table_shows_the_line_with_most_fetches():
    """All four sprites lie on lines 9 to 12, the first of which has most."""
    chip = small_chip(BITMAP, sprites=SPRITES)
    one = drawn(chip, holding(chip, table=[sprite(8 * n, 9) for n in range(4)], sprites__enable=1), [])
    assert chosen(one.result, 70) == range(8, 11)
    found = Waveform(written(chip, [one]))
    assert not any("access" in name or "cpu" in name for name in found.bits)
    assert [value for _, value in found.changes["model.time.line"]] == [7, 8, 9, 10, UNKNOWN]


def test_all_lines_are_there_and_no_more():
    chip = small_chip(BITMAP)
    for lines in (range(70), range(69, 70), range(1)):
        check_all(chip, [drawn(chip, holding(chip), [])], lines)
    for lines in (range(71), range(70, 71), range(-1, 2), range(3, 3), range(0, 4, 2)):
        with refused(
            ValueError, r"lines must be range\(A, B\), A below B, within lines 0 to 69 of a frame of Small, got range"
        ):
            Waves(chip, range(1), lines)
    with refused(TypeError, "lines must be a range or None, got 3"):
        Waves(chip, range(1), 3)


@pytest.mark.parametrize(("words", "told"), [
    (["--lines", "312:313"], "A below B, within lines 0 to 311 of a frame of Curlew, got range(312, 313)"),
    (["--lines", "5:5"], "--lines: must be A:B with A below B, got '5:5'"),
    (["--lines", "5"], "--lines: must be A:B with A below B, got '5'"),
    (["--lines", "0:8193"], "must be 0 to 8192, got '8193'"),
    (["--lines", "0:2:1"], "--lines: must be A:B with A below B"),
    (["--lines", "0:2", "--only", "vectors"], "lines are those of the waveform: only must name waves too, got vectors"),
])  # fmt: skip
def test_lines_that_are_not_there_are_refused_and_nothing_is_written(tmp_path, monkeypatch, capsys, words, told):
    monkeypatch.chdir(tmp_path)
    assert main(["export", str(SCENES / "saltmarsh.scene.toml"), "-o", "out", *words]) == 2
    assert told in capsys.readouterr().err.replace('"', "'") and not list(tmp_path.iterdir())


def test_the_last_line_is_written(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    words = ["export", str(SCENES / "saltmarsh.scene.toml"), "-o", "out", "--only", "waves", "--lines", "311:312"]
    assert main([*words, "--frames", "99:101"]) == 0
    wave = Waveform((tmp_path / "out" / "waves.vcd").read_text("ascii"))
    assert [value for _, value in wave.changes["model.access.of_line"]] == [311, UNKNOWN, 311, UNKNOWN]
    assert [value for _, value in wave.changes["model.time.frame"]] == [99, UNKNOWN, 100, UNKNOWN]


def test_without_pyvcd_it_says_what_to_install_and_writes_nothing(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setitem(sys.modules, "vcd", None)  # so an import of it fails
    marsh = str(SCENES / "saltmarsh.scene.toml")
    assert main(["export", marsh, "-o", "out", "--only", "memory,waves"]) == 2
    told = capsys.readouterr().err
    assert "pip install 'vdpsim[handoff]'" in told and "Traceback" not in told and not list(tmp_path.iterdir())
    assert main(["export", marsh, "-o", "out", "--only", "memory,vectors"]) == 0
    assert not capsys.readouterr().err
    with refused(vdpsim.InputError, "the waveform needs pyvcd, which is not installed"):
        vdpsim.export(vdpsim.load_scene(marsh), tmp_path / "two", only=["waves"])


def test_without_pyvcd_everything_else_is_written_and_the_waveform_is_told_of(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setitem(sys.modules, "vcd", None)
    marsh = str(SCENES / "saltmarsh.scene.toml")
    assert main(["export", marsh, "-o", "out"]) == 0
    told = "waves.vcd is left out: it needs pyvcd, which is not installed: pip install 'vdpsim[handoff]'"
    assert told in capsys.readouterr().err
    vdpsim.export(vdpsim.load_scene(marsh), "two")
    for folder in (tmp_path / "out", tmp_path / "two"):
        assert not (folder / "waves.vcd").exists()
        assert "waves" not in json.loads((folder / "index.json").read_text())["parts"]
        assert {"sheet.html", "registers.rdl", "constants.svh"} <= {one.name for one in folder.iterdir()}


def test_nothing_grows_with_the_number_of_frames():
    chip = timed({"clock": 1_000_000, "cycles_per_byte": 4}, {"active": "free"})
    one = drawn(chip, holding(chip), [Transfer(3, 5, bytes(200), 0, 1)])

    def peak(count: int) -> int:
        waves = Waves(chip, range(count), range(6))
        tracemalloc.start()
        for number in range(count):
            for _ in waves.frame(replace(one, result=replace(one.result, frame=number))):
                pass
        found = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return found

    few, many = peak(3), peak(12)
    assert many < 1.1 * few


@settings(max_examples=FEW)
@given(randoms())
def test_changes_are_written_as_pyvcd_writes_them(random):
    """Any signals and values, cut anywhere: the same bytes as one call of pyvcd after the other."""
    vcd, begin = module("vcd", "pyvcd"), random.randrange(5)
    made = [Signal("a", f"s{number}", random.choice([1, 4, 64]), "", "") for number in range(3)]
    dump, out = Dump(made, (), begin), io.StringIO()
    theirs = vcd.VCDWriter(out, TIMESCALE, date="", version="vdpsim", init_timestamp=begin)
    known = {one.key: theirs.register_var((TOP, one.scope), one.name, "wire", one.bits) for one in made}
    moment, text = begin, b""
    for _ in range(random.randrange(6)):
        changes = []
        for _ in range(random.randrange(8)):
            moment += random.choice([0, 0, 1, 7])
            one = random.choice(made)
            changes.append((moment, one.key, random.choice([0, 1, random.randrange(1 << one.bits), UNKNOWN])))
        dump.change(changes)
        text += dump.taken() if random.randrange(2) else b""
        for at, key, value in changes:
            theirs.change(known[key], at, value)
    theirs.flush()
    assert text + dump.taken() == out.getvalue().encode()


def test_time_does_not_run_back():
    dump = Dump([Signal("a", "s", 4, "", "")], (), 0)
    dump.change([(5, "a.s", 1), (5, "a.s", 2)])
    with refused(ValueError, "a change at 4 ps comes after one at 5 ps"):
        dump.change([(4, "a.s", 3)])
