"""Do animations show each frame, for as long as the chip shows it? Read back by Pillow and by a second reader, chunk by chunk.

Delays: PNG Specification, Third Edition, fcTL; the fractions for 262 and 312 lines are the published tables' line times.
"""

from __future__ import annotations

import io
import os
import shutil
import struct
import subprocess
import zlib
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from refusal import refused
from scenery import CHIP

import vdpsim
from vdpsim.cli import main
from vdpsim.output.animation import png_delay

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def scene():
    return vdpsim.load_scene(ROOT / "scenes" / "dusk.scene.toml")


@pytest.fixture(scope="module")
def drawn(scene):
    return list(vdpsim.frames(scene, range(0, 8, 2)))


def chunks(data):
    """(type, data) of each chunk of a PNG, its CRC checked."""
    assert data[:8] == bytes.fromhex("89504e470d0a1a0a")
    at, found = 8, []
    while at < len(data):
        (length,) = struct.unpack_from(">I", data, at)
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        assert struct.unpack_from(">I", data, at + 8 + length)[0] == zlib.crc32(kind + body)
        found.append((kind, body))
        at += 12 + length
    return found


@pytest.mark.parametrize(
    ("seconds", "delay", "told"),
    [
        (Fraction(312, 15625), Fraction(312, 15625), "exactly"),
        (Fraction(1001, 60000), Fraction(1001, 60000), "exactly"),
        (Fraction(18733, 1125000), Fraction(753, 45221), "0.14 ns away"),
        (Fraction(65535), Fraction(65535), "exactly"),
        (Fraction(1, 65535), Fraction(1, 65535), "exactly"),
        (Fraction(1, 65536), Fraction(1, 65535), "away"),
        (Fraction(1, 900_000), Fraction(1, 65535), "away"),
        (Fraction(70001, 2), None, "must last longer than 0 and at most 65535 s, got "),
        (Fraction(70001, 3), Fraction(46667, 2), "away"),
    ],
)
def test_the_delay_is_exact_or_the_nearest(seconds, delay, told):
    """312 lines and an interlaced field fit exactly; a frame of 262 lines of 572/9 us does not (best fraction 753/45221)."""
    if delay is None:
        assert png_delay(seconds)[0] <= 65535
        return
    found, words = png_delay(seconds)
    assert found == delay
    assert told in words


def test_no_time_is_no_delay():
    for wrong in (Fraction(0), Fraction(-1), Fraction(65536)):
        with refused(ValueError, "must last longer than 0 and at most 65535 s, got "):
            png_delay(wrong)


@pytest.mark.parametrize("ending", [".png", ".gif", ".webp"])
def test_each_frame_is_there(scene, drawn, ending):
    """Every dot of every frame comes back through Pillow; the scene has fewer than 256 colours a frame."""
    made = vdpsim.animation(drawn, scene.chip, ending, step=2, scale=2, border=True)
    assert made.frames == len(drawn)
    with Image.open(io.BytesIO(made.data)) as image:
        assert image.n_frames == len(drawn)
        for number, frame in enumerate(drawn):
            image.seek(number)
            assert np.array_equal(np.asarray(image.convert("RGB")), np.asarray(frame.image(2, True).convert("RGB")))


def test_the_chunks_are_in_order(scene, drawn):
    """One sequence for fcTL and fdAT from 0 without gaps; delays of two frames' time, 624/15625 s; played without end."""
    found = chunks(vdpsim.animation(drawn, scene.chip, step=2).data)
    kinds = [kind for kind, _ in found]
    frames = len(drawn)
    assert kinds == [b"IHDR", b"acTL", b"sRGB", b"fcTL", b"IDAT", *[b"fcTL", b"fdAT"] * (frames - 1), b"IEND"]
    assert dict(found)[b"acTL"] == struct.pack(">II", frames, 0)
    numbers = [struct.unpack_from(">I", body)[0] for kind, body in found if kind in {b"fcTL", b"fdAT"}]
    assert numbers == list(range(2 * frames - 1))
    for kind, body in found:
        if kind == b"fcTL":
            _, width, height, left, top, up, down, dispose, blend = struct.unpack(">IIIIIHHBB", body)
            assert (up, down, dispose, blend) == (624, 15625, 0, 0)
            assert left + width <= 288 and top + height <= 216 and width and height


def test_a_second_reader_takes_it_apart(scene, drawn, tmp_path):
    """apngdis, a program of its own, finds the same frames."""
    if not shutil.which("apngdis"):
        assert not os.environ.get("CI"), "apngdis is missing"
        pytest.skip("apngdis is missing: apt-get install apngdis")
    (tmp_path / "moving.png").write_bytes(vdpsim.animation(drawn, scene.chip).data)
    subprocess.run(["apngdis", "moving.png"], cwd=tmp_path, check=True, capture_output=True)
    found = sorted(tmp_path.glob("apngframe*.png"))
    assert len(found) == len(drawn)
    for path, frame in zip(found, drawn, strict=True):
        with Image.open(path) as image:
            assert np.array_equal(np.asarray(image.convert("RGB")), frame.rgb)


def test_frames_that_are_alike_stay_frames(scene, drawn):
    made = vdpsim.animation([drawn[0]] * 3, scene.chip)
    with Image.open(io.BytesIO(made.data)) as image:
        assert image.n_frames == 3
        image.seek(2)
        assert np.array_equal(np.asarray(image.convert("RGB")), drawn[0].rgb)


@pytest.mark.unmeasured
def test_a_gif_says_what_it_cannot_hold(scene, drawn):
    made = vdpsim.animation(drawn[:2], scene.chip, ".gif")
    assert made.timing == (
        "each frame lasts 0.02 s, the nearest to 312/15625 s that .gif can hold: 50 frames a second for 50.0801"
    )
    for colours, told in (
        (256, "50.0801"),
        (257, "; 1 frames have more than 256 colours, which a GIF cannot hold: the nearest were taken"),
    ):
        rgb = np.zeros_like(drawn[0].rgb)
        rgb.reshape(-1, 3)[:colours, :2] = np.stack(np.divmod(np.arange(colours), 256), axis=1)
        colourful = vdpsim.Frame(**{**vars(drawn[0]), "rgb": rgb})
        assert vdpsim.animation([colourful, drawn[0]], scene.chip, ".gif").timing.endswith(told)


def test_what_no_animation_is(scene, drawn):
    with refused(ValueError, "needs a frame at least, got none"):
        vdpsim.animation([], scene.chip)
    with refused(ValueError, "ends in .png, .gif, .webp, got '.mp4'"):
        vdpsim.animation(drawn, scene.chip, ".mp4")
    with refused(ValueError, "step must be 1 to 100000, got 0"):
        vdpsim.animation(drawn, scene.chip, step=0)
    with refused(ValueError, "scale must be 1 to 16"):
        vdpsim.animation(drawn, scene.chip, scale=17)


def test_the_frames_of_a_webp_last_no_longer_in_all_than_its_encoder_counts(scene, drawn, monkeypatch):
    """Two frames of 312/15625 s are 20 ms each, as near as milliseconds come: 40 ms are enough, 39 are not."""
    monkeypatch.setattr("vdpsim.output.animation.MOST_MOMENTS", 40)
    assert vdpsim.animation(drawn[:2], scene.chip, ".webp").frames == 2
    monkeypatch.setattr("vdpsim.output.animation.MOST_MOMENTS", 39)
    with refused(vdpsim.InputError, r"its frames must last 0 s at most in all, got 2 of 0\.02 s"):
        vdpsim.animation(drawn[:2], scene.chip, ".webp")


def test_the_command_writes_it_and_says_what_it_found(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    scene = str(ROOT / "scenes" / "dusk.scene.toml")
    assert main(["render", scene, "--frames", "0:9:3", "-o", "dusk.png", "--trace", "traces/"]) == 0
    told = capsys.readouterr().out.splitlines()
    assert told[0] == "dusk.png: 3 frames, each frame lasts 936/15625 s exactly"
    assert told[1].startswith(
        "dusk.png: no more than 3 flashes within a second by the numbers of WCAG 2.3.1; that does not say"
    )
    with Image.open("dusk.png") as image:
        assert image.n_frames == 3
    assert sorted(path.name for path in Path("traces").iterdir()) == [f"dusk-000{n}.npz" for n in (0, 3, 6)]


def test_an_animation_that_flashes_is_written_with_a_caution(tmp_path, monkeypatch, capsys):
    """The backdrop goes black and white in turns: a caution says on which frames, and the file is there all the same."""
    monkeypatch.chdir(tmp_path)
    Path("blink.scene.toml").write_text(
        'name = "Blink"\nabout = "Flashes."\nchip = "blink.chip.toml"\nframes = 20\n[[palette]]\ncolours = ["#000"]\n'
        + "".join(f'[[writes]]\nframe = {n}\nline = 0\nentry = 0\ncolour = "#{"f0"[n % 2] * 3}"\n' for n in range(20)),
        encoding="utf-8",
    )
    Path("blink.chip.toml").write_text(CHIP, encoding="utf-8")
    assert main(["render", "blink.scene.toml", "--frames", "0:20", "-o", "blink.webp"]) == 0
    out, err = capsys.readouterr()
    assert (
        "CAUTION: flashing pictures can cause seizures: more than 3 general flashes within a second on frames 8, "
        in err
    )
    assert "WCAG 2.3.1" in err
    assert "safe" not in out
    assert Path("blink.webp").exists()
    assert main(["render", "blink.scene.toml", "--frames", "6:18", "-o", "later.webp"]) == 0
    told = (
        "on frames 8, 10 of the 12, counted from 0 (the scene's 14, 16), when it begins again on frames 0, 2, 4, 6 too"
    )
    assert f"{told} (the scene's 6, 8, 10, 12); first at dots" in capsys.readouterr().err


def test_like_frames_of_a_gif_last_no_longer_in_a_row_than_its_field_holds(scene, drawn):
    """A frame of the chip's is 312/15625 s: 30,000 of them are 59,904 hundredths, two of which are above 65,535."""
    assert vdpsim.animation([drawn[0]], scene.chip, ".gif", step=30_000).frames == 1
    with refused(vdpsim.InputError, "frames alike in a row must last at most 655.35 s, got several of 599.04 s"):
        vdpsim.animation([drawn[0], drawn[0]], scene.chip, ".gif", step=30_000)
