"""A warm `advise` for 6 zones × 31 members × 10 days against its own pyet call plus its balance calls.

Both are timed where they stand, inside advise, so that neither side has warmer caches than the other.

Run: python tests/benchmarks/bench_advise.py — prints ratios, asserts nothing.
"""

from __future__ import annotations

import sys
import time
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from made import EVENING, made_site, made_weather, made_zone

from advisor.lawn.products import Product
from advisor.lawn.records import Application, ProbeReading, Records, Run
from advisor.lawn.tables import kind_table
from advisor.soil_water import reference_et as demand
from advisor.soil_water import root_zone as ground
from advisor.tonight.advise import advise

ROUNDS = 30


class Clocked:
    """Times every call of `module.name` while advise runs, with what is read off the result."""

    def __init__(self, module: Any, name: str, *outputs: str) -> None:
        self.real, self.module, self.name, self.outputs = getattr(module, name), module, name, outputs
        self.spent = 0.0

    def __call__(self, **arguments: Any) -> Any:
        start = time.perf_counter()
        result = self.real(**arguments)
        for output in self.outputs:
            getattr(result, output)
        self.spent += time.perf_counter() - start
        return result

    def __enter__(self) -> Clocked:
        setattr(self.module, self.name, self)
        return self

    def __exit__(self, *_: object) -> None:
        setattr(self.module, self.name, self.real)


def main() -> None:
    rng = np.random.default_rng(3)
    members = np.zeros((31, 240))
    for m in range(31):
        start = rng.integers(2, 60)
        members[m, start : start + 5] = rng.gamma(0.8, 2.0)
    names = [f"Zone {i}" for i in range(6)]
    kind = kind_table()["soil-liquid"]
    site = made_site(*(made_zone(n) for n in names), products={"Potash": Product("Potash", kind)})
    at = EVENING - timedelta(hours=4)
    records = Records(
        applications=(Application("Potash", tuple(names), at, at + timedelta(minutes=30), "backpack", id=1),),
        runs=tuple(
            Run(n, EVENING - timedelta(days=d), EVENING - timedelta(days=d) + timedelta(minutes=40), 40.0)
            for n in names
            for d in (3, 6, 9)
        ),
        probes=(ProbeReading(names[0], EVENING - timedelta(days=2), 9.0),),
    )
    weather = made_weather(members)

    def whole() -> object:
        return advise(site=site, records=records, weather=weather, now=EVENING)

    whole()
    rows = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        whole()
        took = time.perf_counter() - start
        with (
            Clocked(demand, "daily_eto") as eto,
            Clocked(
                ground, "root_zone_balance", "depletion_mm", "etc_actual_mm", "percolation_mm"
            ) as balance,
        ):
            whole()
        rows.append((1000 * took, 1000 * eto.spent, 1000 * balance.spent))
    took, eto_ms, balance_ms = (float(np.median([row[i] for row in rows])) for i in range(3))
    ratios = [row[0] / (row[1] + row[2]) for row in rows]
    print(f"advise {took:.1f} ms; within it pyet {eto_ms:.1f} ms and the balance {balance_ms:.1f} ms")
    print(f"ratio advise / (pyet + balance): {float(np.median(ratios)):.2f} (wanted: at most 2)")


if __name__ == "__main__":
    main()
