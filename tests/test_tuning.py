"""From recorded pairs to a calibration and an honest report of its skill."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from made import JUDGED, PRIOR

from advisor.advice.rain_skill import RainSkill
from advisor.lawn.records import RainPair
from advisor.soil_water.calibration import calibration_from, usable
from advisor.tuning import LEAST_PAIRS
from advisor.tuning import skill as skill_for
from advisor.wording import Say

FIRST = datetime(2024, 4, 1, tzinfo=UTC)
SAY = Say("metric", ZoneInfo("Etc/UTC"), FIRST)


def skill(pairs: Sequence[RainPair], say: Say = SAY) -> RainSkill:
    return skill_for(pairs, say, JUDGED.rain, site="Larkmoor Lane")


def overconfident_pairs(n: int, *, seed: int = 5) -> tuple[RainPair, ...]:
    """An invented site where the forecast is half as wet again as the gauge and three times too sure."""
    rng = np.random.default_rng(seed)
    rain = np.where(rng.random(n) < 0.45, rng.gamma(0.8, 7.0, n), 0.0)
    mean = np.maximum(0.0, 1.5 * rain + rng.normal(0.0, 3.0, n))
    return tuple(
        RainPair(
            starts_at=FIRST + timedelta(days=i),
            hours=24,
            lead_h=12.0,
            mean_mm=float(mean[i]),
            spread_mm=float(0.2 * mean[i]),
            observed_mm=float(rain[i]),
            members=31,
        )
        for i in range(n)
    )


PAIR = overconfident_pairs(1)[0]


def test_without_pairs_the_default_is_used_and_the_report_says_so() -> None:
    assert calibration_from((), JUDGED.rain) == PRIOR.curve
    report = skill(())
    assert report.pairs == 0
    assert report.thresholds == ()
    assert "No day of forecast and gauge" in report.sentences[0]


@pytest.mark.parametrize(
    "bad",
    [
        replace(PAIR, hours=12),
        replace(PAIR, observed_mm=float("nan")),
        replace(PAIR, spread_mm=float("inf")),
        replace(PAIR, mean_mm=-1.0),
    ],
    ids=["half a day", "gauge unknown", "spread without end", "rain below nothing"],
)
def test_a_pair_that_teaches_nothing_is_left_out_and_counted(bad: RainPair) -> None:
    assert usable((bad,)) == ()
    report = skill((*overconfident_pairs(3), bad))
    assert report.pairs == 3
    assert report.left_out == 1
    assert any("1 pair left out" in s for s in report.sentences)


def test_of_several_forecasts_of_one_day_the_youngest_counts() -> None:
    older, younger = replace(PAIR, lead_h=36.0), replace(PAIR, lead_h=6.0, mean_mm=2.0)
    assert usable((older, younger)) == (younger,)
    assert usable((younger, older)) == (younger,)


def test_the_order_in_which_pairs_are_handed_in_has_no_say() -> None:
    pairs = overconfident_pairs(40)
    assert skill(pairs[::-1]) == skill(pairs)


def test_below_thirty_days_no_skill_is_claimed() -> None:
    report = skill(overconfident_pairs(LEAST_PAIRS - 1))
    assert report.thresholds == ()
    assert 0.0 < report.calibration.weight < 0.5
    assert "told from 30 days on" in report.sentences[-1]


def test_on_an_overconfident_forecast_the_calibrated_chance_is_better_than_raw_and_climatology() -> None:
    report = skill(overconfident_pairs(400))
    assert [t.threshold_mm for t in report.thresholds] == [1.0, 5.0, 10.0]
    for t in report.thresholds:
        assert t.brier_calibrated < t.brier_raw
        assert t.brier_calibrated < t.brier_climatology
        assert t.reliability.average_miss < t.raw_miss
        assert sum(b.count for b in t.reliability.bins) == 400
    assert report.begins_at == FIRST
    assert report.ends_at == FIRST + timedelta(days=399)
    assert "400 days" in report.sentences[0]
    assert "93 %" in report.sentences[0]
    assert sum("better than the best rival" in s and "no better" not in s for s in report.sentences) == 3


def test_a_forecast_without_any_skill_is_told_as_no_better() -> None:
    rng = np.random.default_rng(2)
    pairs = overconfident_pairs(200)
    gauge = rng.permutation([p.observed_mm for p in pairs])
    report = skill(tuple(replace(p, observed_mm=float(v)) for p, v in zip(pairs, gauge, strict=True)))
    assert any("no better than the best rival, how often it rains here anyway" in s for s in report.sentences)


def test_the_score_of_a_day_does_not_come_from_a_curve_that_saw_it() -> None:
    """Thirty dry days, one of them a cloudburst: its own curve would have learned from it."""
    dry = [replace(p, mean_mm=0.0, spread_mm=0.0, observed_mm=0.0) for p in overconfident_pairs(30)]
    report = skill((*dry[:-1], replace(dry[-1], observed_mm=20.0)))
    ten = report.thresholds[2]
    assert ten.brier_climatology == pytest.approx((1.0 + 24 * (1 / 24) ** 2) / 30, abs=0.002)
    assert ten.brier_calibrated > 0.03


def test_an_all_dry_season_is_reported_without_a_fault() -> None:
    dry = [replace(p, mean_mm=0.0, spread_mm=0.0, observed_mm=0.0) for p in overconfident_pairs(90)]
    report = skill(dry)
    assert report.thresholds[0].rain_share == 0.0
    assert report.thresholds[0].brier_calibrated < 0.01


def test_a_depth_is_told_in_the_owners_units_and_the_days_by_their_clock() -> None:
    report = skill(overconfident_pairs(40), Say("us", ZoneInfo("America/Chicago"), FIRST))
    assert "from 2024-03-31 to 2024-05-09" in report.sentences[0]
    assert any("At least 0.39 in a day fell" in sentence for sentence in report.sentences)
    assert not any(" mm" in sentence for sentence in report.sentences)
