"""Rows about packing colour sets, on the published instances where they lie beside the project.

Law: processor time of this one process; what is compared is the number of pages, with the best that was published. Source: A.
Grange, I. Kacem, S. Martin, arXiv:1605.00558.
"""

from __future__ import annotations

import json
import os
import time
from functools import cache
from pathlib import Path
from statistics import median

from bench_measure import row

from vdpsim.art.pack import pack

DATA = Path(os.environ.get("VDPSIM_PACKING", Path(__file__).resolve().parents[2] / "shared" / "data" / "packing.json"))


@cache
def measured() -> list[tuple[int, int, int | None, float]]:
    """Pages, best published, proved optimum and seconds of each instance; none where the instances are not there."""
    found = []
    for one in json.loads(DATA.read_text(encoding="utf-8")) if DATA.exists() else ():
        begin = time.process_time()
        pages = pack(one["tiles"], one["capacity"]).pages
        spent = time.process_time() - begin
        for page in pages:
            assert len({symbol for number in page for symbol in one["tiles"][number]}) <= one["capacity"], one["name"]
        found.append((len(pages), one["best_published"], one["proved_optimal"], spent))
    return found


def _share(told: list[bool]) -> float:
    return sum(told) / len(told) if told else 0.0


@row("packing: instances with more pages than the best published, of 390", 0.05, "share")
def _worse() -> float:
    return _share([pages > best for pages, best, _, _ in measured()])


@row("packing: instances not strictly better than the best published", 0.999, "share")
def _not_better() -> float:
    return _share([pages >= best for pages, best, _, _ in measured()])


@row("packing: proved optima that are not reached, of 31", 0.0, "share")
def _optima() -> float:
    return _share([pages > proved for pages, _, proved, _ in measured() if proved is not None])


@row("packing: median of an instance", 0.5, "s")
def _median() -> float:
    return median([spent for *_, spent in measured()] or [0.0])


@row("packing: longest instance", 5.0, "s")
def _longest() -> float:
    return max([spent for *_, spent in measured()] or [0.0])
