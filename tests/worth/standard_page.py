"""The standard test of scheduling as a part of the page: zone by zone, and period by zone."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from worth.page import Claim, plain, table
from worth.standard_judge import LEAST_ADEQUACY, MOST_EXCESS, MOST_MEAN_EXCESS
from worth.standard_test import Row, passed

WANTED_ADEQUACY = 0.95
RECIPES_TRIED = ("honest", "perfect", "none")


def standard_claims(tests: Sequence[Sequence[Row]]) -> list[Claim]:
    """That every zone is as adequate as is wanted, and that every period passes."""
    mine = [test for test in tests if test[0].recipe == "honest"]
    rows = [row for test in mine for row in test]
    worst = min(row.judged.adequacy for row in rows)
    enough = sum(row.judged.adequacy >= WANTED_ADEQUACY for row in rows)
    count = sum(passed(test) for test in mine)
    return [
        Claim(
            f"in the standard test every zone of every period is adequate by {WANTED_ADEQUACY}",
            worst >= WANTED_ADEQUACY,
            f"{enough} of {len(rows)}, worst {worst:.2f}",
        ),
        Claim("in the standard test every period passes", count == len(mine), f"{count} of {len(mine)}"),
    ]


def standard_page(tests: Sequence[Sequence[Row]]) -> list[str]:
    """The part of the page about the standard test."""
    parts = [
        "\n## The standard test of weather-based scheduling\n",
        "Six reference zones and their judge, from memory (`tests/worth/standard_test.py`), lived by our advice for 30 "
        "days at a time on every judging season; adequacy is 1 − deficit / demand, excess what ran off or went below "
        f"the roots by what was put on. Passing is adequacy from {LEAST_ADEQUACY:g} and excess up to {MOST_EXCESS:g} in "
        f"every zone, {MOST_MEAN_EXCESS:g} on average. Zones of periods from which water ran off: "
        f"{sum(_ran_off(row) for test in tests for row in test)}.\n",
        table(
            (
                "forecasts",
                "periods",
                "pass",
                "zone",
                "worst adequacy",
                "median",
                "worst excess",
                "median excess",
            ),
            [row for recipe in RECIPES_TRIED for row in _zones(tests, recipe)],
        ),
        "\nPeriod by zone, honest forecasts, adequacy / excess, the worst first (* made rain):\n",
        table(("period", "passes", *(f"zone {n}" for n in range(1, 7))), _periods(tests)),
    ]
    return parts


def _ran_off(row: Row) -> bool:
    return row.judged.direct + row.judged.soak > 0.05


def _zones(tests: Sequence[Sequence[Row]], recipe: str) -> list[Sequence[object]]:
    """Each zone over all periods of a recipe, the least adequate first."""
    mine = [test for test in tests if test[0].recipe == recipe]
    count = sum(passed(test) for test in mine)
    rows: list[tuple[float, Sequence[object]]] = []
    for number, first in enumerate(mine[0]):
        adequacy = np.array([test[number].judged.adequacy for test in mine])
        excess = np.array([test[number].judged.excess for test in mine])
        cells = [
            plain(float(value), 2)
            for value in (adequacy.min(), np.median(adequacy), excess.max(), np.median(excess))
        ]
        rows.append((float(adequacy.min()), (recipe, len(mine), count, first.zone, *cells)))
    return [row for _, row in sorted(rows, key=lambda each: each[0])]


def _periods(tests: Sequence[Sequence[Row]]) -> list[Sequence[object]]:
    mine = [test for test in tests if test[0].recipe == "honest"]
    mine.sort(key=lambda test: (passed(test), min(row.judged.adequacy for row in test)))
    return [
        (
            test[0].period.name + (" *" if test[0].period.year.made_rain else ""),
            "yes" if passed(test) else "**no**",
            *(f"{row.judged.adequacy:.2f} / {row.judged.excess:.2f}" for row in test),
        )
        for test in mine
    ]
