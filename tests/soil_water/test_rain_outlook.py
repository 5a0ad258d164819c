"""The rain that may come over a period: hand-reckoned sums of hours, and how much of the period is known."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache

import numpy as np
import pytest
from made import EVENING, made_site, made_weather

from advisor.advice import Period, RainChance
from advisor.lawn import Records
from advisor.soil_water import RootZone, survey
from advisor.soil_water.calibration import calibration_from
from advisor.soil_water.rain_outlook import chance_of, coming_periods, rain_outlook

FIRST = EVENING.replace(minute=0)
HOURS = 72


@cache
def dry() -> RootZone:
    return survey(site=made_site(), records=Records(), weather=made_weather(), now=EVENING)


def outlook(members_mm: np.ndarray, begin: datetime, end: datetime) -> RainChance:
    """What is told of [begin, end) where these members, from 20:00 on, are believed as they are."""
    (told,) = rain_outlook(replace(dry(), rain_ahead_mm=members_mm), [(Period.TONIGHT, begin, end)])
    return told


def at(hours: float) -> datetime:
    return FIRST + timedelta(hours=hours)


@pytest.mark.parametrize(
    ("begin_h", "end_h", "mean_mm"),
    [
        (0.25, 1.0, 4.0),  # of the hour of now all is still to come
        (0.25, 0.5, 2.0),  # half of it until half past
        (0.99, 1.5, 4.0 + 1.0),
        (1.0, 1.5, 1.0),
        (1.5, 2.0, 1.0),
        (1.5, 3.0, 1.0 + 6.0),
        (0.25, 72.0, 12.0),
        (3.0, 72.0, 0.0),
        (2.0, 2.0, 0.0),
        (2.5, 2.0, 0.0),
    ],
)
def test_rain_of_a_period_is_the_sum_of_its_hours_by_their_shares(
    begin_h: float, end_h: float, mean_mm: float
) -> None:
    """4, 2 and 6 mm in the first three hours of every member."""
    members = np.zeros((5, HOURS))
    members[:, :3] = [4.0, 2.0, 6.0]
    told = outlook(members, at(begin_h), at(end_h))
    assert (told.mean_mm, told.low_mm, told.high_mm) == pytest.approx((mean_mm,) * 3)
    assert (told.starts_at, told.ends_at, told.members) == (at(begin_h), at(end_h), 5)
    assert [told.chance_1mm, told.chance_5mm, told.chance_10mm] == [
        float(mean_mm >= mm) for mm in (1.0, 5.0, 10.0)
    ]


@pytest.mark.parametrize(
    ("begin_h", "end_h", "share"),
    [
        (0.25, 0.5, 1.0),
        (0.25, 72.0, 1.0),
        (0.25, 144.0, 0.5),
        (71.75, 72.0, 1.0),
        (71.75, 72.25, 0.5),
        (72.0, 72.5, 0.0),
        (90.0, 91.0, 0.0),
        (2.0, 2.0, 0.0),
    ],
)
def test_the_share_of_a_period_that_is_known_ends_with_the_forecast(
    begin_h: float, end_h: float, share: float
) -> None:
    """The forecast reaches 72 hours ahead; a period of a quarter of an hour is one too."""
    assert outlook(np.zeros((3, HOURS)), at(begin_h), at(end_h)).share_known == pytest.approx(share)


def test_of_eleven_members_the_second_and_the_tenth_are_one_case_in_ten_each() -> None:
    members = np.zeros((11, HOURS))
    members[:, 5] = [4.0, 10.0, 0.0, 9.0, 1.0, 8.0, 2.0, 7.0, 3.0, 6.0, 5.0]
    told = outlook(members, at(0.25), at(24))
    assert (told.mean_mm, told.low_mm, told.high_mm) == (5.0, 1.0, 9.0)
    chances = [told.chance_1mm, told.chance_5mm, told.chance_10mm]
    assert chances == pytest.approx([10 / 11, 6 / 11, 1 / 11])
    ground = replace(dry(), rain_ahead_mm=members)
    for mm in range(1, 11):
        assert chance_of(ground, at(0.25), at(24), float(mm)) == pytest.approx((11 - mm) / 11)
    assert chance_of(ground, at(6), at(24), 1.0) == 0.0


@pytest.mark.parametrize("pairs", [0, 1, 7])
def test_chances_are_said_to_be_calibrated_from_the_first_pair_on(pairs: int) -> None:
    ground = dry()
    ground = replace(
        ground, calibration=replace(calibration_from([], ground.site.judgement.rain), pairs=pairs)
    )
    (told,) = rain_outlook(ground, [(Period.DAY, EVENING, at(24))])
    assert (told.calibrated, told.pairs) == (pairs > 0, pairs)


@pytest.mark.parametrize(("window_h", "until_h"), [(9.0, 9.0), (0.5, 0.5), (None, 12.25)])
def test_tonight_ends_with_its_hours_or_after_twelve(window_h: float | None, until_h: float) -> None:
    tonight, day, days = coming_periods(EVENING, None if window_h is None else at(window_h))
    assert tonight == (Period.TONIGHT, EVENING, at(until_h))
    assert day == (Period.DAY, EVENING, EVENING + timedelta(days=1))
    assert days == (Period.THREE_DAYS, EVENING, EVENING + timedelta(days=3))
