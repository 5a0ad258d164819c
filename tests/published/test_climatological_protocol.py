"""Longest run before runoff over the printed intake and accumulation tables."""

from __future__ import annotations

import math

import pytest

from advisor.science import soil, sprinkler

SOURCE = (
    "Irrigation Association, climatological test protocol: intake and "
    "accumulation tables read second-hand, the six reference zones from memory"
)

# Basic intake (in/h), then allowable accumulation (in) for slopes 0–3, 4–6, 7–12, 13 % and more.
TABLE = {
    "clay": "0.10 .20 .15 .10 .10",
    "silty clay": "0.15 .23 .19 .16 .13",
    "clay loam": "0.20 .26 .22 .18 .15",
    "loam": "0.35 .30 .25 .21 .17",
    "sandy loam": "0.40 .33 .29 .24 .20",
    "loamy sand": "0.50 .36 .30 .26 .22",
    "sand": "0.60 .40 .35 .30 .25",
}


def longest(texture: str, slope_pct: float, rate_in_h: float) -> float:
    """In inches throughout; a ratio of depths and rates has no unit but time."""
    intake, *accumulation = (float(word) for word in TABLE[texture].split())
    return sprinkler.longest_cycle_min(
        rate_mm_h=25.4 * rate_in_h,
        intake_mm_h=25.4 * intake,
        accumulation_mm=25.4 * soil.accumulation_at_slope(accumulation, slope_pct),
    )


@pytest.mark.parametrize(
    ("texture", "slope_pct", "rate_in_h", "minutes"),
    [
        ("loam", 6, 1.6, "12.0"),
        ("silty clay", 10, 1.6, "6.6"),
        ("loamy sand", 8, 1.4, "17.3"),
        ("sandy loam", 12, 1.4, "14.4"),
        ("clay loam", 2, 0.2, "inf"),
        ("clay", 20, 0.35, "24.0"),
    ],
    ids=[f"reference zone {number}, worked by hand" for number in range(1, 7)],
)
def test_the_reference_zones_run_off_after(
    texture: str, slope_pct: float, rate_in_h: float, minutes: str
) -> None:
    found = longest(texture, slope_pct, rate_in_h)
    assert f"{found:.1f}" == minutes or (math.isinf(found) and minutes == "inf")


@pytest.mark.parametrize("texture", TABLE)
def test_a_steeper_slope_never_runs_longer(texture: str) -> None:
    runs = [longest(texture, slope, 1.7) for slope in (2, 5, 10, 15)]
    assert runs == sorted(runs, reverse=True)


def test_a_coarser_soil_runs_longer_on_every_slope() -> None:
    for slope in (2, 5, 10, 15):
        runs = [longest(texture, slope, 1.7) for texture in TABLE]
        assert runs == sorted(runs)
