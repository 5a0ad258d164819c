"""What a night of 40 zones costs beside one of 6, through `advise`: where all fit, and where they do not.

Sites, soils and flows are drawn at random: cycles and soaks everywhere, some zones moved by hand, some of
unknown flow. Time of the processor is told, the best of some rounds, so that both nights are as warm.

Run: python tests/benchmarks/bench_zones.py — prints times and ratios, asserts nothing.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from datetime import time as clock
from datetime import timedelta
from pathlib import Path
from random import Random

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from made import EVENING, made_site, made_weather, made_zone

from advisor.lawn.records import ProbeReading, Records
from advisor.lawn.site_values import Rate, Rules, Site, Supply
from advisor.lawn.tables import soil_table
from advisor.tonight.advise import advise
from advisor.weather.weather import Weather

SEEDS, ROUNDS, FEW, MANY = range(6), 3, 6, 40
SOILS = ("loam", "clay loam", "sandy loam")
ROOMY, NARROW = ((clock(16), clock(10)),), ((clock(21), clock(8)),)


def made_night(seed: int, count: int, *, fits: bool) -> tuple[Site, Records, Weather]:
    """A dry evening with `count` zones that all ask for water; `fits`: the hours hold it all."""
    rng = Random(seed)
    soils, zones = soil_table(), []
    for i in range(count):
        rate = rng.uniform(25.0, 45.0) if fits else rng.uniform(12.0, 30.0)
        zones.append(
            made_zone(
                f"Zone {i}",
                area_m2=rng.uniform(40.0, 200.0),
                soil=soils[rng.choice(SOILS)],
                slope_pct=rng.choice((2.0, 5.0, 9.0)),
                rate=Rate(rate, "measured", rate, rate),
                flow_l_min=None if rng.random() < 0.2 else rng.choice((8.0, 12.0, 16.0)),
                by_hand=i % 10 == 3,
            )
        )
    rules = Rules(hours=ROOMY if fits else NARROW, finish="window")
    supply = Supply(48.0 if fits else 24.0)
    depth = (6.0, 9.0) if fits else (14.0, 26.0)
    probes = tuple(ProbeReading(z.name, EVENING - timedelta(hours=2), rng.uniform(*depth)) for z in zones)
    now = EVENING.replace(hour=15, minute=30)
    probes = tuple(replace(p, read_at=now - timedelta(hours=2)) for p in probes)
    return (
        made_site(*zones, rules=rules, supply=supply),
        Records(probes=probes),
        made_weather(np.zeros((15, 240)), now=now),
    )


def took(seed: int, count: int, *, fits: bool) -> tuple[float, int, int]:
    """The best time of an advice [ms], its runs and what does not fit."""
    site, records, weather = made_night(seed, count, fits=fits)
    now, best = EVENING.replace(hour=15, minute=30), float("inf")
    for _ in range(ROUNDS):
        start = time.process_time()
        advice = advise(site=site, records=records, weather=weather, now=now)
        best = min(best, 1000.0 * (time.process_time() - start))
    return best, len(advice.runs), len(advice.not_planned)


def main() -> None:
    for fits, most in ((True, 10), (False, 20)):
        rows = []
        for seed in SEEDS:
            few, runs, left = took(seed, FEW, fits=True)
            many, many_runs, many_left = took(seed, MANY, fits=fits)
            rows.append(many / few)
            print(
                f"seed {seed}: {FEW} zones {few:.0f} ms ({runs} run, {left} left); {MANY} zones {many:.0f} ms "
                f"({many_runs} run, {many_left} left): ratio {many / few:.1f}"
            )
        word = "that fit" if fits else "that do not fit"
        print(
            f"{MANY} zones {word} / {FEW} zones that fit: median {float(np.median(rows)):.1f}, "
            f"worst {max(rows):.1f} (wanted: at most {most})"
        )


if __name__ == "__main__":
    main()
