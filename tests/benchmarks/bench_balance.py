"""How fast the balance and the effective rain run, against plain Python loops of the same arithmetic.

    python tests/benchmarks/bench_balance.py

Prints ratios measured in this one run; seconds differ between machines, ratios less so. The floor is
a straightforward loop over zones, members and hours, once on arrays as one would first write it and
once on plain lists of floats, which is the fastest that plain Python does. Not collected by pytest.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np

from advisor.science.balance import Balance, root_zone_balance
from advisor.science.rain import effective_rain

CASES = (
    ("a night, 6 zones x 31 members x 240 h", 6, 31, 240),
    ("a past month, 6 zones x 1 member x 744 h", 6, 1, 744),
    ("30 sites, 180 zones x 31 members x 240 h", 180, 31, 240),
    ("a study, 6 zones x 10,000 members x 240 h", 6, 10_000, 240),
)


def invented(z: int, m: int, h: int) -> dict[str, np.ndarray]:
    rng = np.random.default_rng(84)
    taw = rng.uniform(15.0, 50.0, z)
    return {
        "depletion_start_mm": rng.uniform(0.0, 0.5, (z, m)) * taw[:, np.newaxis],
        "etc_mm": rng.uniform(0.0, 0.4, (z, 1, h)),
        "water_mm": np.where(rng.random((z, m, h)) < 0.05, rng.gamma(1.0, 3.0, (z, m, h)), 0.0),
        "taw_mm": taw,
        "p": np.full(z, 0.45),
    }


def loop_on_arrays(case: dict[str, np.ndarray]) -> np.ndarray:
    start, etc, water, taw, p = case.values()
    depletion = np.empty(water.shape)
    for zone in range(water.shape[0]):
        for member in range(water.shape[1]):
            d = start[zone, member]
            for hour in range(water.shape[2]):
                ks = min(1.0, (taw[zone] - d) / ((1.0 - p[zone]) * taw[zone]))
                taken = min(ks * etc[zone, 0, hour], taw[zone] - d)
                d = max(0.0, d + taken - water[zone, member, hour])
                depletion[zone, member, hour] = d
    return depletion


def loop_on_floats(case: dict[str, np.ndarray]) -> list[list[list[float]]]:
    start, etc, water, taw, p = (values.tolist() for values in case.values())
    depletion = []
    for start_z, etc_z, water_z, full, share in zip(start, etc, water, taw, p, strict=True):
        slope, zone = 1.0 / ((1.0 - share) * full), []
        for d, members in zip(start_z, water_z, strict=True):
            course = []
            for demand, comes in zip(etc_z[0], members, strict=True):
                ks = (full - d) * slope
                d += (demand if ks >= 1.0 else ks * demand) - comes
                if d < 0.0:
                    d = 0.0
                course.append(d)
            zone.append(course)
        depletion.append(zone)
    return depletion


def best(call: Callable[[], object], times: int) -> float:
    """Seconds of the quickest of several calls."""
    found = []
    for _ in range(times):
        began = time.perf_counter()
        call()
        found.append(time.perf_counter() - began)
    return min(found)


def everything(case: dict[str, np.ndarray]) -> Balance:
    """The balance with drainage and stress read off as well."""
    found = root_zone_balance(**case)
    _ = found.percolation_mm, found.etc_actual_mm
    return found


def hours_first(water: np.ndarray) -> np.ndarray:
    """The same water in the memory order in which `effective_rain` hands it on."""
    return np.moveaxis(np.ascontiguousarray(np.moveaxis(water, -1, 0)), 0, -1)


def main() -> None:
    for name, z, m, h in CASES:
        case, cells = invented(z, m, h), z * m * h
        few = min(m, max(1, 150_000 // (z * h)))  # the loops run on some members and are scaled
        part = case | {
            "water_mm": case["water_mm"][:, :few],
            "depletion_start_mm": case["depletion_start_mm"][:, :few],
        }
        agree = np.abs(loop_on_arrays(part) - root_zone_balance(**part).depletion_mm).max()
        assert agree < 1e-9, agree
        by_hour = case | {"water_mm": hours_first(case["water_mm"])}
        rate = cells / best(lambda case=case: root_zone_balance(**case), 9)
        fed = cells / best(lambda case=by_hour: root_zone_balance(**case), 9)
        full = cells / best(lambda case=case: everything(case), 3)
        arrays = part["water_mm"].size / best(lambda part=part: loop_on_arrays(part), 2)
        floats = part["water_mm"].size / best(lambda part=part: loop_on_floats(part), 3)
        print(
            f"{name}: {rate / 1e6:.1f} million zone-member-hours/s, "
            f"{rate / arrays:.0f} x a loop on arrays, {rate / floats:.1f} x a loop on floats; "
            f"fed by effective_rain {fed / 1e6:.1f} million/s, {fed / arrays:.0f} x, {fed / floats:.1f} x; "
            f"with drainage and stress read off {full / 1e6:.1f} million/s"
        )
    rain = invented(6, 31, 240)["water_mm"]
    ground = np.array([[8.0], [8.9], [10.2], [12.7], [3.8], [5.1]])
    seconds = best(
        lambda: effective_rain(
            rain_mm=rain, interception_mm=1.0, intake_mm_h=ground, accumulation_mm=ground / 2
        ),
        7,
    )
    print(f"effective rain, 6 zones x 31 members x 240 h: {rain.size / seconds / 1e6:.1f} million cells/s")


if __name__ == "__main__":
    main()
