"""Does the bench say what it measured, and of what it did not measure that it was not measured?"""

from __future__ import annotations

import json
import os
import shutil
import sys
from functools import partial
from pathlib import Path

import pytest

TOOLS = Path(__file__).parents[2] / "tools"


@pytest.fixture
def bench(monkeypatch):
    monkeypatch.syspath_prepend(str(TOOLS))
    import bench_rows  # noqa: PLC0415 - found once the path is there

    return bench_rows


def rows(bench, monkeypatch, **values):
    """A bench of rows with these values and the target 1; None is not measured."""
    from bench_measure import NotMeasured, Row  # noqa: PLC0415

    def measure(value):
        if value is None:
            raise NotMeasured("nothing is there")
        return value

    monkeypatch.setattr(bench, "ROWS", [Row(name, 1, "x", partial(measure, value)) for name, value in values.items()])


@pytest.mark.parametrize(
    ("values", "status"),
    [
        ({"a": 1}, 0),
        ({"a": 1.001}, 1),
        ({"a": None}, 3),
        ({"a": 0, "b": None}, 3),
        ({"a": None, "b": 2}, 1),
    ],
)
def test_only_what_was_measured_holds(bench, monkeypatch, capsys, values, status):
    rows(bench, monkeypatch, **values)
    assert bench.main([]) == status
    lines = capsys.readouterr().out.splitlines()
    for (name, value), line in zip(values.items(), lines, strict=True):
        told = "NOT MEASURED: nothing is there" if value is None else "holds" if value <= 1 else "DOES NOT HOLD"
        assert line.startswith(name)
        assert line.endswith(told)
    assert bench.main(["--json"]) == status
    found = json.loads(capsys.readouterr().out)
    assert [each["value"] for each in found] == list(values.values())
    assert [each["holds"] for each in found] == [None if one is None else one <= 1 for one in values.values()]


def test_a_row_that_is_none_is_refused(bench, capsys):
    with pytest.raises(SystemExit, match=r"^2$"):
        bench.main(["--only", "nothing"])
    assert "no row has 'nothing' in its name" in capsys.readouterr().err


def one_row(bench, word):
    (found,) = [each for each in bench.ROWS if word in each.name]
    return found


def test_rows_without_what_they_need_are_not_measured(bench, monkeypatch, tmp_path):
    """No instances, no browser, no second core, no photographs: none of them is a value."""
    import bench_art  # noqa: PLC0415
    import bench_measure  # noqa: PLC0415
    import bench_packing  # noqa: PLC0415

    monkeypatch.setattr(bench_packing, "DATA", tmp_path / "none")
    bench_packing.measured.cache_clear()
    packing = [each for each in bench.ROWS if each.name.startswith("packing:")]
    assert len(packing) == 5
    assert all(bench_measure.tell(each).value is None for each in packing)
    monkeypatch.setattr(shutil, "which", lambda _: None)
    assert bench_measure.tell(one_row(bench, "until it is open")).holds is None
    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    assert bench_measure.tell(one_row(bench, "two processes")).holds is None
    monkeypatch.setitem(sys.modules, "sklearn.datasets", None)
    bench_art.photograph.cache_clear()
    assert "scikit-learn" in bench_measure.tell(one_row(bench, "fit china.jpg: dB")).why


def test_a_machine_too_busy_to_measure_is_no_value(bench, monkeypatch):
    import bench_measure  # noqa: PLC0415

    monkeypatch.setattr(bench_measure.time, "process_time", lambda: 0.0)
    with pytest.raises(bench_measure.NotMeasured, match="every round was interrupted"):
        bench_measure.ratio(lambda _: sum(range(1000)), lambda _: sum(range(1000)), 1)


def test_the_published_instances_are_measured(bench, monkeypatch):
    """The first of them; their number is the whole of what was published."""
    import bench_packing  # noqa: PLC0415

    whole = json.loads(bench_packing.gzip.decompress(bench_packing.DATA.read_bytes()))
    assert len(whole) == 390
    assert sum(one["proved_optimal"] is not None for one in whole) == 31
    monkeypatch.setattr(bench_packing.json, "loads", lambda _: whole[:1])
    bench_packing.measured.cache_clear()
    found = bench_packing.measured()
    bench_packing.measured.cache_clear()
    assert [best for _, best, _, _ in found] == [one["best_published"] for one in whole[:1]]
    assert all(spent > 0 for *_, spent in found)
