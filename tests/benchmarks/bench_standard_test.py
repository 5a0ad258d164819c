"""The standard test of scheduling on every judging season: six reference zones, all periods that qualify, by our advice.

Which periods and forecasts are lived is a rule (`lived_by_rule`), never a choice by result. What the test is, what of
it is from memory and what is our reading stands in tests/worth/standard_test.py and standard_judge.py.

Run: python tests/benchmarks/bench_standard_test.py — prints the table, worst rows first, asserts nothing.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from worth.open_data import open_years
from worth.standard_judge import LEAST_ADEQUACY, MOST_EXCESS, MOST_MEAN_EXCESS
from worth.standard_test import Row, judged_rows, lived_by_rule, passed, table


def summary(tests: Sequence[Sequence[Row]], recipe: str) -> list[str]:
    """How the periods that were lived by this recipe came out, and each zone over them."""
    mine = [test for test in tests if test[0].recipe == recipe]
    lines = [f"{recipe}: {sum(passed(test) for test in mine)} of {len(mine)} periods pass"]
    for number, row in enumerate(mine[0]):
        adequacy, excess = (
            np.array([getattr(test[number].judged, name) for test in mine]) for name in ("adequacy", "excess")
        )
        lines.append(
            f"  zone {row.zone}: adequacy median {np.median(adequacy):.3f} worst {adequacy.min():.3f}, "
            f"excess median {np.median(excess):.3f} worst {excess.max():.3f}"
        )
    return lines


def main() -> None:
    start = time.process_time()
    tests = [judged_rows(period, recipe) for period, recipe in lived_by_rule(open_years("judging"))]
    took = time.process_time() - start
    print(*table(row for test in tests for row in test), sep="\n")
    print("* made rain; depths in mm; rain as the judge lets it enter")
    for recipe in ("honest", "perfect", "none"):
        print(*summary(tests, recipe), sep="\n")
    print(
        f"passing is, from memory: adequacy of every zone {LEAST_ADEQUACY:.2f} or more, excess of every zone "
        f"{MOST_EXCESS:.2f} and on average {MOST_MEAN_EXCESS:.2f} or less"
    )
    print(f"{len(tests)} periods took {took:.0f} s of the processor")


if __name__ == "__main__":
    main()
