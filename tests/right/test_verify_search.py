"""A search for a change that is not seen: one record of a capture is changed by chance, and must be told, and no other."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from ponds import H, L, Rows, W, capture, pond, rows

import vdpsim
from vdpsim.handoff.records.kinds import KINDS
from vdpsim.handoff.records.parsing import parsed
from vdpsim.handoff.verifying.folder import Folder
from vdpsim.handoff.verifying.grid import COMPARED
from vdpsim.handoff.verifying.hunt import Laid, Sample
from vdpsim.handoff.verifying.shift import Shift, period

SEED = 7
PLACED = {"dot": 3, "access": 3, "sprites": 2, "drop": 2, "collision": 3, "flag": 3, "left": 1}
"""How many numbers of a record say where it lies: the first ones."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    return pond(tmp_path_factory.mktemp("pond"), frames=range(1, 3))


def changed(rng: np.random.Generator, told: Rows) -> tuple[Rows, int, str]:
    """A capture with one record changed, left out or doubled; which one it was, and how."""
    kinds = sorted({row[0] for row in told})
    kind = kinds[int(rng.integers(len(kinds)))]
    at = int(rng.choice([number for number, row in enumerate(told) if row[0] == kind]))
    row = told[at]
    way = ["value", "value", "value", "left out", "twice", "unknown"][int(rng.integers(6))]
    compared = COMPARED.get(kind, tuple(field.name for field in KINDS[kind][PLACED[kind] :]))
    columns = [(number, field) for number, field in enumerate(KINDS[kind], 1) if field.name in compared]
    number, field = columns[int(rng.integers(len(columns)))]
    if way == "left out":
        return [*told[:at], *told[at + 1 :]], at, way
    if way == "twice":
        return [*told[: at + 1], row, *told[at + 1 :]], at, way
    text = "x"
    if way == "value":
        bits = min(4 * field.wide, 64) if field.base == 16 else 3 * field.wide
        value = int(row[number], field.base) ^ 1 << int(rng.integers(bits))
        text = f"{value:x}" if field.base == 16 else str(value)
    return [*told[:at], [*row[:number], text, *row[number + 1 :]], *told[at + 1 :]], at, f"{way} of {field.name}"


def searched(tmp_path: Path, folder: Path, seeds: range) -> None:
    told = rows(folder)
    for seed in seeds:
        made, at, way = changed(np.random.default_rng(seed + 1_000_000 * SEED), told)
        row = told[at]
        found = vdpsim.verify(capture(tmp_path / "capture.txt", made), folder, whole=True)
        case = f"seed {seed}: {way} in {row}"
        assert not found.same and not found.shifts and found.renumbered == 0, case
        assert {kind for kind, one in found.outcomes.items() if one.wrong} == {row[0]}, case
        assert found.first is not None and found.outcomes[row[0]].wrong == 1, case
        kind, first = found.first
        assert (kind, first.frame) == (row[0], int(row[1])), case
        assert first.line == (int(row[2]) if kind != "left" else -1), case
        if kind in {"dot", "access", "flag", "collision"}:
            assert first.step == int(row[3]) or way == "twice of dot", case


def test_every_change_of_one_record_is_found(tmp_path, folder):
    searched(tmp_path, folder, range(50))


@pytest.mark.soak
def test_every_change_of_one_record_is_found_two_thousand_times(tmp_path, folder):
    searched(tmp_path, folder, range(2000))


@pytest.mark.parametrize("kind", COMPARED)
def test_how_much_a_shift_leaves_is_counted_as_if_each_record_was_moved(folder, kind):
    """Records anywhere in a frame and beside it, of a picture of any size; near the farthest shifts, and some by chance."""
    rng, index = np.random.default_rng(SEED), Folder(folder).index
    wide, step = period(index, kind), "dot" if kind == "dot" else "slot"
    for _ in range(3):
        size = int(rng.integers(1, H + 1)), int(rng.integers(1, W + 1))
        came = {"line": rng.integers(-2, L + 9, 400), step: rng.integers(-2, wide + 70, 400)}
        values = {name: rng.integers(0, 9, 400) for name in COMPARED[kind]}
        none = {name: column[:0] for name, column in {**came, **values}.items()}
        laid = Laid(index, kind, [Sample(none, {**came, **values}, size)], COMPARED[kind])
        left, (steps, lines) = laid.left(laid.known[0]), laid.most
        assert left.shape == (2 * lines + 1, 2 * steps + 1)
        some = zip(
            rng.integers(-lines, lines + 1, 40).tolist(), rng.integers(-steps, steps + 1, 40).tolist(), strict=True
        )
        for down, across in {(lines, steps), (-lines, -steps), (lines, -steps), (0, 0), *some}:
            assert left[down + lines, across + steps] == laid.exact(Shift(down, across)).compared


def printed(rng: np.random.Generator, kind: str, count: int) -> tuple[list[list[int]], str]:
    """Records of a kind, and text of them in one of many forms; half of the texts have all lines of one shape."""
    even, base = rng.integers(2), [field.base for field in KINDS[kind]]
    most = [min(field.base ** min(field.wide, 8 if field.base == 10 else 15), 1 << 30) for field in KINDS[kind]]
    numbers = [[int(rng.integers(limit)) >> int(rng.integers(0, 20)) for limit in most] for _ in range(count)]
    lines = []
    for row in numbers:
        words = [f"{number:x}" if sixteen == 16 else str(number) for number, sixteen in zip(row, base, strict=True)]
        if even:
            words = [
                word.rjust(16, "0" if sixteen == 16 else " ") if sixteen == 16 else word.rjust(9)
                for word, sixteen in zip(words, base, strict=True)
            ]
        else:
            words = [" " * int(rng.integers(3)) + ("0" * int(rng.integers(2))) + word for word in words]
        lines.append(f"{kind} {' '.join(words)}")
    return numbers, "\n".join(lines) + "\n"


@pytest.mark.parametrize("seed", range(40))
def test_text_is_read_as_python_reads_numbers_whatever_its_form(seed):
    """Cut into pieces anywhere, forms mixed: against int()."""
    rng = np.random.default_rng(seed)
    wanted: dict[str, list[list[int]]] = {}
    text = ""
    for _ in range(6):
        kind = list(KINDS)[int(rng.integers(len(KINDS)))]
        numbers, lines = printed(rng, kind, int(rng.integers(1, 50)))
        wanted.setdefault(kind, []).extend(numbers)
        text += lines
    data, wide = text.encode(), int(rng.integers(1, 400))
    found: dict[str, list[list[int]]] = {}
    for kind, columns in parsed(data[at : at + wide] for at in range(0, len(data), wide)):
        assert list(columns) == [field.name for field in KINDS[kind]]
        found.setdefault(kind, []).extend(np.stack(list(columns.values()), axis=1).tolist())
    assert found == wanted
