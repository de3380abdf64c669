"""Rows about packing colour sets, on the published instances that the project carries.

Law: processor time of this one process; what is compared is the number of pages, with the best that was published. Source: A.
Grange, I. Kacem, S. Martin, arXiv:1605.00558.
"""

from __future__ import annotations

import gzip
import json
import time
from functools import cache
from pathlib import Path
from statistics import median

from bench_measure import NotMeasured, row

from vdpsim.art.packing.pack import pack

DATA = Path(__file__).resolve().parents[1] / "tests" / "published" / "packing.json.gz"


@cache
def measured() -> list[tuple[int, int, int | None, float]]:
    """Pages, best published, proved optimum and seconds of each instance. Raises NotMeasured where there are none."""
    if not DATA.exists():
        raise NotMeasured(f"the published instances are not at {DATA}")
    found = []
    for one in json.loads(gzip.decompress(DATA.read_bytes())):
        begin = time.process_time()
        pages = pack(one["tiles"], one["capacity"]).pages
        spent = time.process_time() - begin
        for page in pages:
            assert len({symbol for number in page for symbol in one["tiles"][number]}) <= one["capacity"], one["name"]
        found.append((len(pages), one["best_published"], one["proved_optimal"], spent))
    return found


def _share(told: list[bool]) -> float:
    return sum(told) / len(told)


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
    return median(spent for *_, spent in measured())


@row("packing: longest instance", 5.0, "s")
def _longest() -> float:
    return max(spent for *_, spent in measured())
