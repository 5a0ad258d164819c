from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from advisor.science.snow import melt, snow_share, split


@pytest.mark.parametrize(
    ("temp", "share"),
    [(-8.0, 1.0), (0.0, 1.0), (1.0, 0.5), (2.0, 0.0), (25.0, 0.0)],
    ids=["hard frost", "freezing", "between", "two degrees", "summer"],
)
def test_snow_is_what_falls_near_and_below_freezing(temp: float, share: float) -> None:
    assert snow_share(np.array([temp]))[0] == share


def test_snow_waters_nothing_while_it_freezes_and_comes_as_it_melts() -> None:
    snow = np.zeros(72)
    snow[:4] = 1.5
    temp = np.r_[np.full(24, -3.0), np.full(48, 2.0)]
    liquid = melt(rain_mm=np.zeros(72), snow_mm=snow, temp_c=temp)
    assert liquid[:24].sum() == 0.0
    # 3 mm/(°C d) at 2 °C is 0.25 mm an hour: 6 mm are gone in a day.
    assert liquid[24:48] == pytest.approx(np.full(24, 0.25))
    assert liquid[48:].sum() == pytest.approx(0.0, abs=1e-12)


def test_the_melt_follows_the_hour_by_hour_rule() -> None:
    rng = np.random.default_rng(3)
    snow = np.where(rng.random(300) < 0.2, rng.random(300) * 2, 0.0)
    temp = 4.0 * np.sin(np.arange(300) / 9.0) - 0.5
    pack, want = 1.0, []
    for fell, degrees in zip(snow, temp, strict=True):
        before = pack + fell
        pack = max(0.0, before - 3.0 / 24.0 * max(degrees, 0.0))
        want.append(before - pack)
    got = melt(rain_mm=np.zeros(300), snow_mm=snow, temp_c=temp, pack_mm=1.0)
    assert got == pytest.approx(np.array(want), abs=1e-9)


@settings(max_examples=40, deadline=None)
@given(
    arrays(float, (3, 48), elements=st.floats(0.0, 20.0)),
    arrays(float, 48, elements=st.floats(-20.0, 20.0)),
    st.floats(0.0, 50.0),
)
def test_no_water_is_made_or_lost(precipitation: np.ndarray, temp: np.ndarray, pack: float) -> None:
    rain, snow = split(precipitation, temp)
    liquid = melt(rain_mm=rain, snow_mm=snow, temp_c=temp, pack_mm=pack)
    assert (liquid >= -1e-12).all()
    fallen, reached = precipitation.cumsum(axis=1), liquid.cumsum(axis=1)
    assert (reached <= fallen + pack + 1e-9).all()
    warm = melt(
        rain_mm=np.c_[rain, np.zeros((3, 600))],
        snow_mm=np.c_[snow, np.zeros((3, 600))],
        temp_c=np.r_[temp, np.full(600, 20.0)],
        pack_mm=pack,
    )
    assert warm.sum(axis=1) == pytest.approx(precipitation.sum(axis=1) + pack, abs=1e-6)


def test_unknown_precipitation_stays_unknown_and_does_not_spoil_later_hours() -> None:
    snow = np.array([2.0, np.nan, 0.0, 0.0])
    liquid = melt(rain_mm=np.zeros(4), snow_mm=snow, temp_c=np.array([-1.0, -1.0, 8.0, 8.0]))
    assert np.isnan(liquid[1])
    assert liquid[[0, 2, 3]] == pytest.approx([0.0, 1.0, 1.0])
