"""Edges that the laws pass by: no negative evaporation, what is left as it is, traces and their shape."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from made import PRIOR

from advisor.science.chance import IDENTITY, TRACE_MM, Calibration, calibrate_members, fit
from advisor.science.events import largest_event, running_event
from advisor.science.radiation import extraterrestrial_radiation_hourly
from advisor.science.rain import effective_rain


def test_only_the_calibration_that_widens_nothing_leaves_members_as_they_are() -> None:
    assert IDENTITY.is_identity
    assert not PRIOR.curve.is_identity
    assert not replace(IDENTITY, c=1.0).is_identity
    assert not replace(IDENTITY, d=1.0).is_identity
    members = np.array([[0.0, 3.0], [1.0, np.nan]])
    assert np.array_equal(calibrated(members, IDENTITY), members, equal_nan=True)


def calibrated(members: np.ndarray, calibration: Calibration = PRIOR.curve) -> np.ndarray:
    return calibrate_members(members_mm=members, calibration=calibration)


def in_hours(totals_mm: list[float], hours: list[int]) -> np.ndarray:
    """Each member's rain of a day shared evenly over these hours."""
    members = np.zeros((len(totals_mm), 24))
    members[:, hours] = np.array(totals_mm)[:, None] / len(hours)
    return members


def test_how_rain_lies_in_the_hours_has_no_say_in_a_members_total() -> None:
    """Even of members that were dry and are given a little: they take the shape of all the others."""
    totals = [0.0, 0.0, 0.0, 6.0, 12.0]
    short = calibrated(in_hours(totals, [5]))
    long = calibrated(in_hours(totals, [5, 6, 7, 8]))
    assert long.sum(axis=1) == pytest.approx(short.sum(axis=1))
    given = np.flatnonzero((np.array(totals) == 0.0) & (short.sum(axis=1) > 0.0))
    assert len(given) > 0
    assert long[given[-1], 5:9] == pytest.approx(long[given[-1]].sum() / 4)


def test_a_member_with_just_a_trace_keeps_its_own_hours() -> None:
    members = np.zeros((5, 24))
    members[0, 2] = TRACE_MM
    members[1:, 10] = 8.0
    kept = calibrated(members)
    assert kept[0, 10] == 0.0
    below = members.copy()
    below[0, 2] = 0.9 * TRACE_MM
    moved = calibrated(below)
    assert (kept[0].sum(), moved[0].sum()) == pytest.approx((kept[0, 2], moved[0, 2] + moved[0, 10]))


def test_an_unknown_hour_is_a_dry_one_to_an_event() -> None:
    amounts = np.array([2.0, np.nan, 3.0, *[np.nan] * 6, 1.0])
    assert float(largest_event(amounts)) == 5.0
    assert running_event(amounts)[2] == 5.0
    assert running_event(amounts)[-1] == 1.0


def test_of_members_with_equal_totals_their_order_has_no_say() -> None:
    members = np.zeros((6, 24))
    for row, (mm, hour) in enumerate([(5.0, 3), (5.0, 9), (5.0, 15), (1.0, 3), (0.0, 0), (8.0, 20)]):
        members[row, hour] = mm
    found = calibrated(members)
    for order in ([5, 4, 3, 2, 1, 0], [2, 0, 1, 5, 3, 4]):
        assert calibrated(members[order]) == pytest.approx(found[order])


@pytest.mark.parametrize("west_deg", [-210.0, -170.0, -97.0, -10.0])
def test_a_meridian_has_one_sun_whichever_way_round_it_is_counted(west_deg: float) -> None:
    starts = np.datetime64("2026-06-17T00", "s") + np.arange(48) * np.timedelta64(3600, "s")
    west, east = (
        extraterrestrial_radiation_hourly(latitude_deg=40.5, longitude_deg=degrees, starts=starts)
        for degrees in (west_deg, west_deg + 360.0)
    )
    assert west == pytest.approx(east, abs=1e-9)
    assert west[:24].sum() == pytest.approx(41.8, abs=0.5)  # FAO-56, table 2.6: 41.8 at 40° N in mid June


def test_a_member_of_less_than_a_trace_gets_what_the_curve_gives_it_and_nothing_below_zero() -> None:
    members = np.zeros((5, 24))
    members[0, 2] = 0.9 * TRACE_MM
    members[1:, 10] = 8.0
    low = calibrated(members)
    assert (low >= 0.0).all()
    assert low[0].sum() > TRACE_MM
    assert low[0, 2] == pytest.approx(low[0].sum() * members[:, 2].sum() / members.sum())


def test_bare_ground_that_holds_nothing_is_ground_too() -> None:
    """Nothing on the leaves, nothing on the surface: what the soil does not take at once runs off."""
    parts = effective_rain(
        rain_mm=np.array([[5.0, 0.0, np.nan, 2.0]]),
        interception_mm=0.0,
        intake_mm_h=np.array([3.0]),
        accumulation_mm=0.0,
    )
    assert parts.net_mm[0] == pytest.approx([3.0, 0.0, np.nan, 2.0], nan_ok=True)
    assert parts.runoff_mm[0] == pytest.approx([2.0, 0.0, np.nan, 0.0], nan_ok=True)


def test_an_unknown_hour_neither_wets_the_leaves_nor_fills_the_surface() -> None:
    given = {"interception_mm": 1.0, "intake_mm_h": np.array([1.0]), "accumulation_mm": 2.0}
    after = effective_rain(rain_mm=np.array([[np.nan, 4.0]]), **given)
    alone = effective_rain(rain_mm=np.array([[0.0, 4.0]]), **given)
    for part in ("net_mm", "intercepted_mm", "runoff_mm"):
        assert getattr(after, part)[0, 1] == getattr(alone, part)[0, 1]
    assert alone.intercepted_mm[0, 1] == 1.0


def test_a_source_that_tells_far_too_little_rain_is_believed_to_do_so() -> None:
    """Of every root of a forecast 2.8 times as much came: with very many pairs the fit says so."""
    mean = np.tile(np.linspace(0.5, 12.0, 24), 100)
    noise = np.tile(np.linspace(-0.4, 0.4, 25), 96)
    observed = (2.8 * np.sqrt(mean) + noise) ** 2
    found = fit(mean_mm=mean, spread_mm=0.3 * mean, observed_mm=observed, prior=PRIOR)
    assert found.b == pytest.approx(2.8, abs=0.25)


@pytest.mark.parametrize("longitude_deg", [-360.0, 360.0])
def test_a_longitude_may_go_once_round_and_no_further(longitude_deg: float) -> None:
    starts = np.array(["2026-06-17T12"], dtype="datetime64[s]")
    given = {"latitude_deg": 40.0, "starts": starts}
    once = extraterrestrial_radiation_hourly(longitude_deg=longitude_deg, **given)
    assert once == pytest.approx(extraterrestrial_radiation_hourly(longitude_deg=0.0, **given))
    with pytest.raises(ValueError, match="longitude_deg must be"):
        extraterrestrial_radiation_hourly(longitude_deg=longitude_deg * 1.01, **given)


@pytest.mark.parametrize("seed", range(3))
def test_no_hour_has_less_than_no_light_anywhere_and_any_day_not_even_by_rounding(seed: int) -> None:
    rng = np.random.default_rng(seed)
    for _ in range(40):
        starts = np.datetime64("2026-01-01", "s") + rng.integers(0, 366 * 86400, 500) * np.timedelta64(1, "s")
        sun = extraterrestrial_radiation_hourly(
            latitude_deg=rng.uniform(-90, 90), longitude_deg=rng.uniform(-180, 180), starts=starts
        )
        assert (sun >= 0.0).all()
