"""The C header that PeakRDL makes of ``registers.rdl``, and the chip's ``constants.h``: the same addresses and bits.

What is compared is what gcc makes of both headers: a difference is a failed ``_Static_assert`` (C11, 6.7.10).
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from rdl import bits_of, elaborated, registers_of, told
from real_parts import module, program, run
from strategies import chips

from vdpsim.chip.load import load_chip
from vdpsim.chip.registers import registers
from vdpsim.handoff.constants.files import constants_files
from vdpsim.handoff.names import escaped

CHIPS = Path(__file__).parents[2] / "scenes" / "chips"
SHIPPED = ("curlew", "dunlin", "sanderling")
TRIED = max(1, settings.default.max_examples // 8)


def put(folder, chip):
    """Both headers, and the address map that one of them is made of."""
    told(chip, folder)
    top = elaborated(folder / "registers.rdl")
    exporter = module("peakrdl_cheader.exporter", "peakrdl-cheader").CHeaderExporter()
    exporter.export(top, str(folder / "rdl.h"))
    (folder / "constants.h").write_bytes(dict(constants_files(chip))["constants.h"])
    return top


def claims(chip, top):
    """What of the two headers must be equal, in C."""
    type_name = f"{top.inst_name}_t"
    for register in registers(chip).values():
        name, ours = escaped([register.name], "systemrdl"), escaped(["register", register.name], "c", upper=True)
        yield f"offsetof({type_name}, {name}) == {ours}_ADDRESS"
        yield f"sizeof((({type_name} *)0)->{name}) == {ours}_BYTES"
        if register.size == 3:
            continue
        for field, part in register.holds:
            if len(part.bits.parts) == 1 and len(part.of.parts) == 1 and not field.split and part.of.parts[0][1] == 0:
                theirs = "__".join([top.inst_name, name, escaped([field.name], "systemrdl")]).upper()
                mine = escaped(["register", register.name, field.name], "c", upper=True)
                yield from (f"{theirs}_{one} == {mine}_{other}" for one, other in BITS)
    for port in chip.ports:
        for what in ("address", "data", *(["step"] if port.step is not None else [])):
            word = f"port_{port.target}_{what}"
            yield f"offsetof({type_name}, {word}) == {word.upper()}"
    if chip.status:
        yield f"offsetof({type_name}, status_flags) == STATUS_ADDRESS"
        for flag in chip.status.bits:
            yield f"{top.inst_name}__status_flags__{flag}".upper() + f"_bp == STATUS_{flag.upper()}"
        if chip.status.groups is not None:
            yield f"offsetof({type_name}, status_groups) == STATUS_GROUPS"


BITS = (("bm", "MASK"), ("bp", "LOWEST"), ("bw", "BITS"))


def compiled_with(folder, chip, top):
    """What gcc says of a program that claims all this."""
    lines = ["#include <stddef.h>", '#include "rdl.h"', '#include "constants.h"']
    lines += [f'_Static_assert({claim}, "{place}");' for place, claim in enumerate(claims(chip, top))]
    (folder / "top.c").write_text("\n".join([*lines, "int main(void) { return 0; }", ""]))
    return run(folder, program("gcc"), "-std=gnu11", "-Wall", "-Wextra", "-Werror", "-fsyntax-only", "top.c"), len(
        lines
    )


@pytest.mark.parametrize("name", SHIPPED)
def test_the_shipped_chips(tmp_path, name):
    chip = load_chip(CHIPS / f"{name}.chip.toml")
    done, count = compiled_with(tmp_path, chip, put(tmp_path, chip))
    assert (done.returncode, done.stderr) == (0, "")
    assert count > 2 * len(registers(chip)) + 5


@pytest.mark.ci
@pytest.mark.unmeasured
@settings(max_examples=TRIED)
@given(chip=chips())
def test_any_chip(chip):
    with tempfile.TemporaryDirectory() as folder:
        done, _ = compiled_with(Path(folder), chip, put(Path(folder), chip))
        assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize(
    ("old", "new"),
    [("REGISTER_NEAR_SPLIT_ADDRESS 7", "REGISTER_NEAR_SPLIT_ADDRESS 8"), ("__NEAR_MODE_bp 0", "__NEAR_MODE_bp 1")],
)
def test_a_difference_would_be_seen(tmp_path, old, new):
    chip = load_chip(CHIPS / "curlew.chip.toml")
    top = put(tmp_path, chip)
    for file in ("rdl.h", "constants.h"):
        text = (tmp_path / file).read_text()
        (tmp_path / file).write_text(text.replace(old, new))
    done, _ = compiled_with(tmp_path, chip, top)
    assert done.returncode and "static assertion failed" in done.stderr


@pytest.mark.parametrize("name", SHIPPED)
def test_resets_are_those_of_the_constants(tmp_path, name):
    """Read from the address map bit by bit, and from the constants as Python has them: the registers' words at reset."""
    chip = load_chip(CHIPS / f"{name}.chip.toml")
    told(chip, tmp_path)
    top = elaborated(tmp_path / "registers.rdl")
    found = bits_of(top)
    ours: dict[str, int] = {}
    exec(dict(constants_files(chip))["constants.py"].decode(), ours)  # noqa: S102 - what this project wrote itself
    at = {node.inst_name: address for address, node, _ in registers_of(top)}
    for register in registers(chip).values():
        address = at[escaped([register.name], "systemrdl")]
        reset = sum((found[8 * address + bit].reset or 0) << bit for bit in range(register.bits))
        assert reset == ours[escaped(["register", register.name, "reset"], "python", upper=True)]
