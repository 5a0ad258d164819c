"""A warm `advise` for 6 zones × 31 members × 10 days against its own pyet call plus its balance calls.

Run: python tests/benchmarks/bench_advise.py — prints ratios, asserts nothing.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from made import EVENING, made_site, made_weather, made_zone

from advisor.advice import demand, ground
from advisor.advice.advise import advise
from advisor.lawn.products import Product
from advisor.lawn.records import Application, ProbeReading, Records, Run
from advisor.lawn.tables import kind_table

ROUNDS = 30


def median_ms(act: Callable[[], object]) -> float:
    times = []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        act()
        times.append(time.perf_counter() - start)
    return 1000.0 * float(np.median(times))


def listening(module: Any, name: str, calls: list[dict[str, Any]]) -> Callable[[], None]:
    """Note the arguments of every call of `module.name`; returns the way back."""
    real = getattr(module, name)

    def noted(**arguments: Any) -> Any:
        calls.append(arguments)
        return real(**arguments)

    setattr(module, name, noted)
    return lambda: setattr(module, name, real)


def main() -> None:
    rng = np.random.default_rng(3)
    members = np.zeros((31, 240))
    for m in range(31):
        start = rng.integers(2, 60)
        members[m, start : start + 5] = rng.gamma(0.8, 2.0)
    names = [f"Zone {i}" for i in range(6)]
    kind = kind_table()["soil-liquid"]
    site = made_site(*(made_zone(n) for n in names), products={"Humic": Product("Humic", kind)})
    at = EVENING - timedelta(hours=4)
    records = Records(
        applications=(Application("Humic", tuple(names), at, at + timedelta(minutes=30), "backpack", id=1),),
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
    eto_calls: list[dict[str, Any]] = []
    balance_calls: list[dict[str, Any]] = []
    back = [listening(demand, "daily_eto", eto_calls), listening(ground, "root_zone_balance", balance_calls)]
    whole()
    for undo in back:
        undo()
    eto = median_ms(lambda: [demand.daily_eto(**c) for c in eto_calls])
    balance = median_ms(lambda: [ground.root_zone_balance(**c) for c in balance_calls])
    all_of_it = median_ms(whole)
    print(f"advise {all_of_it:.1f} ms, its pyet call {eto:.1f} ms, its balance calls {balance:.1f} ms")
    print(f"ratio advise / (pyet + balance): {all_of_it / (eto + balance):.2f} (wanted: at most 2)")


if __name__ == "__main__":
    main()
