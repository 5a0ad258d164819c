"""What the advice is worth: the whole table of whole seasons and single evenings, against rivals and the bound.

Run: python tests/benchmarks/bench_worth.py [--keep FILE] [--write] — prints the page and how long it took against the
ten minutes that it may take on two cores; --write puts the page into data/worth.md. With --keep what is done is kept,
and a second run works out only what is missing. The tests make a small fixed part of it again and compare.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, datetime
from multiprocessing import get_context
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from worth.open_data import open_years
from worth.plan import jobs_of, whole_table
from worth.standard_test import judged_rows, lived_by_rule
from worth.table import PAGE, made_page

from advisor.seasons.pool import THREADS, run_jobs

WANTED_S = 600.0


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("--keep", type=Path)
    asked.add_argument("--write", action="store_true")
    said = asked.parse_args()
    for threads in THREADS:
        os.environ.setdefault(
            threads, "1"
        )  # read where a worker loads numpy: there are as many workers as cores
    began = time.perf_counter()
    cases = whole_table()

    def told(done: int, of: int) -> None:
        print(f"\r{done} of {of} seasons", end="", file=sys.stderr)

    results = list(run_jobs(list(jobs_of(cases)), processes=os.cpu_count() or 1, kept=said.keep, told=told))
    periods, recipes = zip(*lived_by_rule(open_years("judging")), strict=True)
    with ProcessPoolExecutor(os.cpu_count(), mp_context=get_context("spawn")) as pool:
        standard = list(pool.map(judged_rows, periods, recipes))
    page = made_page(results, standard, made_at=datetime.now(UTC))
    took = time.perf_counter() - began
    print("\n", file=sys.stderr)
    print(page)
    if said.write:
        PAGE.write_text(page, encoding="utf-8")
    print(
        f"{took:.0f} s for {len(cases)} seasons: {took / WANTED_S:.2f} of what it may take (wanted: at most 1)"
    )


if __name__ == "__main__":
    main()
