from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.science import evapotranspiration as et
from advisor.science import radiation

NAN = float("nan")
SUMMER = {
    "latitude_deg": 39.0,
    "elevation_m": 268.0,
    "tmax_c": 31.0,
    "tmin_c": 19.0,
    "ea_kpa": 1.9,
    "u2_m_s": 2.2,
    "rs_mj_m2_d": 24.0,
}


def week() -> np.ndarray:
    return np.arange("2026-07-10", "2026-07-17", dtype="datetime64[D]")


def eto(**changed: object) -> np.ndarray:
    return et.eto_penman_monteith(**{"days": week(), **SUMMER, **changed})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"tmax_c": 18.0}, "2026-07-10: Tmax 18 °C is below Tmin"),
        ({"tmax_c": 88.0, "tmin_c": 66.0}, "2026-07-10: Tmax 88 .* °C"),
        ({"tmax_c": 304.0, "tmin_c": 292.0}, "2026-07-10: Tmax 304 .* °C"),
        ({"u2_m_s": -0.1}, "2026-07-10: wind -0.1 m/s is negative"),
        ({"u2_m_s": [2, 2, 2, 31, 2, 2, 2]}, "2026-07-13: wind 31 .*km/h"),
        ({"rs_mj_m2_d": 278.0}, "2026-07-10: radiation 278 .*W/m²"),
        ({"rs_mj_m2_d": [24, 24, 24, 24, 24, 24, 44.0]}, "2026-07-16: radiation 44 .*W/m²"),
        ({"rs_mj_m2_d": -1.0}, "2026-07-10: radiation -1 MJ/m²/d is negative"),
        ({"ea_kpa": 19.0}, "2026-07-10: vapour pressure 19 .*hPa"),
        ({"ea_kpa": -0.1}, "2026-07-10: vapour pressure -0.1 kPa is negative"),
        ({"ea_kpa": None}, "ea is missing altogether"),
        ({"latitude_deg": 91.0}, "latitude_deg must lie in -90 to 90 degrees, found 91"),
        ({"latitude_deg": NAN}, "latitude_deg must lie in -90 to 90 degrees"),
        ({"days": np.array(["2026-07-10"] * 7, dtype="datetime64[D]")}, "2026-07-10 comes 7 times"),
        ({"days": np.array(["NaT"] * 7, dtype="datetime64[D]")}, "must all be dates"),
    ],
    ids=[
        "Tmax below Tmin",
        "Fahrenheit",
        "kelvin",
        "negative wind",
        "wind in km/h on the fourth day",
        "radiation in W/m²",
        "one day brighter than the sun",
        "negative radiation",
        "vapour pressure in hPa",
        "negative vapour pressure",
        "no humidity at all",
        "latitude off the Earth",
        "latitude unknown",
        "a day given twice",
        "a day unknown",
    ],
)
def test_what_cannot_be_is_refused_and_the_day_named(changed: dict[str, object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        eto(**changed)


@pytest.mark.parametrize("name", ["tmax_c", "tmin_c", "ea_kpa", "u2_m_s", "rs_mj_m2_d"])
def test_an_unknown_input_makes_its_own_day_unknown_and_no_other(name: str) -> None:
    values = np.full(7, SUMMER[name])
    values[2] = NAN
    found = eto(**{name: values})
    assert np.isnan(found).tolist() == [False, False, True, False, False, False, False]
    assert np.delete(found, 2) == pytest.approx(np.delete(eto(), 2), abs=1e-12)


def test_days_all_unknown_are_all_unknown() -> None:
    assert np.isnan(eto(rs_mj_m2_d=NAN)).all()


def test_no_days_give_no_values() -> None:
    assert eto(days=np.array([], dtype="datetime64[D]")).shape == (0,)


def test_days_out_of_order_keep_their_own_values() -> None:
    order = np.array([3, 0, 6, 1, 5, 2, 4])
    rs = np.array([20.0, 21, 22, 23, 24, 25, 26])
    assert eto(days=week()[order], rs_mj_m2_d=rs[order]) == pytest.approx(eto(rs_mj_m2_d=rs)[order])


def test_light_air_counts_as_half_a_metre_a_second() -> None:
    assert eto(u2_m_s=0.0) == pytest.approx(eto(u2_m_s=0.5), abs=1e-12)


def test_radiation_a_little_above_the_clear_sky_counts_as_the_clear_sky() -> None:
    ra = radiation.extraterrestrial_radiation(latitude_deg=39.0, day_of_year=np.arange(191, 198))
    rso = radiation.clear_sky_radiation(ra=ra, elevation_m=268.0)
    assert eto(rs_mj_m2_d=rso * 1.04) == pytest.approx(eto(rs_mj_m2_d=rso), abs=1e-12)


def test_a_warm_wet_day_that_ends_cold_counts_as_saturated() -> None:
    # Twenty-two hours at 18 °C in fog and a cold front at the end: the mean ea exceeds es, honestly.
    front = {"tmax_c": 18.0, "tmin_c": 4.0, "rs_mj_m2_d": 4.0}
    es = float(et.saturation_vapour_pressure([18.0, 4.0]).mean())
    assert eto(**front, ea_kpa=1.9) == pytest.approx(eto(**front, ea_kpa=es), abs=1e-12)


def test_dusk_at_the_pole_evaporates_next_to_nothing() -> None:
    found = eto(latitude_deg=-90.0, tmax_c=-30.0, tmin_c=-40.0, ea_kpa=0.01, rs_mj_m2_d=0.0)
    assert np.all((found >= 0.0) & (found < 0.5))


@pytest.mark.parametrize(
    ("given", "told", "like"),
    [
        ({}, (), {}),
        ({"ea_kpa": NAN}, ("dew=Tmin",), {"ea_kpa": float(et.actual_vapour_pressure(19.0))}),
        ({"u2_m_s": NAN}, ("u2=2",), {"u2_m_s": 2.0}),
        ({"rs_mj_m2_d": NAN, "rs_by_cloud_mj_m2_d": 15.0}, ("Rs from cloud",), {"rs_mj_m2_d": 15.0}),
        ({"rs_mj_m2_d": NAN, "rs_by_cloud_mj_m2_d": NAN}, ("Rs from temperature",), None),
        ({"rs_mj_m2_d": NAN}, ("Rs from temperature",), None),
        ({"ea_kpa": NAN, "u2_m_s": NAN}, ("dew=Tmin", "u2=2"), None),
        ({"tmin_c": NAN}, (), None),
    ],
    ids=lambda value: ", ".join(value) or "all or none" if isinstance(value, tuple) else None,
)
def test_what_is_missing_is_estimated_and_told(
    given: dict[str, float], told: tuple[str, ...], like: dict[str, float] | None
) -> None:
    found = et.daily_eto(**{"days": week(), **SUMMER, **given})  # type: ignore[arg-type]
    assert set(found.stand_ins) == {told}
    assert np.isnan(found.eto_mm).all() == ("tmin_c" in given)
    if like is not None:
        assert found.eto_mm == pytest.approx(eto(**like), abs=1e-12)


def test_only_the_day_that_lacks_something_is_estimated() -> None:
    wind = np.array([2.2, NAN, 2.2, 2.2, 2.2, 2.2, 2.2])
    found = et.daily_eto(**{"days": week(), **SUMMER, "u2_m_s": wind})  # type: ignore[arg-type]
    assert found.stand_ins == ((), ("u2=2",), (), (), (), (), ())
    assert np.delete(found.eto_mm, 1) == pytest.approx(np.delete(eto(), 1), abs=1e-12)


def test_cloud_in_percent_is_refused() -> None:
    with pytest.raises(ValueError, match="fraction from 0 to 1"):
        radiation.radiation_from_cloud(cloud=50.0, rso=30.0)


@pytest.mark.parametrize(("cloud", "share"), [(0.0, 1.0), (1.0, 0.25), (0.5, 1 - 0.75 * 0.5**3.4)])
def test_cloud_dims_the_clear_sky(cloud: float, share: float) -> None:
    assert float(radiation.radiation_from_cloud(cloud=cloud, rso=30.0)) == pytest.approx(30.0 * share)


def test_a_great_temperature_range_never_outshines_the_clear_sky() -> None:
    assert float(
        radiation.radiation_from_temperature(tmax_c=40, tmin_c=0, ra=40.0, elevation_m=0.0)
    ) == pytest.approx(30.0)


def test_the_wind_sensor_must_stand_above_the_ground() -> None:
    assert float(et.wind_at_2m(wind_m_s=3.0, height_m=2.0)) == pytest.approx(3.0, abs=0.01)
    with pytest.raises(ValueError, match="height_m"):
        et.wind_at_2m(wind_m_s=3.0, height_m=0.0)


@pytest.mark.parametrize("latitude_deg", [-90.0, -66.0, -33.9, 0.0, 16.2, 45.7, 60.0, 71.0])
@pytest.mark.parametrize("longitude_deg", [-180.0, -16.25, 0.0, 100.5, 179.9])
def test_the_hours_of_a_day_add_up_to_the_sun_of_the_day(latitude_deg: float, longitude_deg: float) -> None:
    starts = np.arange("2024-01-01T00", "2025-01-01T00", dtype="datetime64[h]")
    hourly = radiation.extraterrestrial_radiation_hourly(
        latitude_deg=latitude_deg, longitude_deg=longitude_deg, starts=starts
    )
    daily = radiation.extraterrestrial_radiation(latitude_deg=latitude_deg, day_of_year=np.arange(1, 367))
    assert np.all(hourly >= 0.0)
    assert hourly.reshape(-1, 24).sum(axis=1) == pytest.approx(daily, abs=0.06)


def test_the_sun_is_highest_at_noon_where_one_stands() -> None:
    starts = np.arange("2026-06-21T00", "2026-06-22T00", dtype="datetime64[h]")
    for longitude, noon_hour in ((0.0, 12), (90.0, 6), (-90.0, 18)):
        ra = radiation.extraterrestrial_radiation_hourly(
            latitude_deg=40.0, longitude_deg=longitude, starts=starts
        )
        assert int(np.argmax(ra)) in (noon_hour - 1, noon_hour)


def test_the_sun_of_the_polar_day_does_not_set_and_that_of_the_polar_night_does_not_rise() -> None:
    assert float(radiation.sunset_angle(latitude_deg=75, day_of_year=172)) == pytest.approx(np.pi)
    assert float(radiation.sunset_angle(latitude_deg=-75, day_of_year=172)) == pytest.approx(0.0)
    assert float(radiation.extraterrestrial_radiation(latitude_deg=-75, day_of_year=172)) == pytest.approx(
        0.0
    )


@pytest.mark.parametrize(
    ("weight", "expected"),
    [
        ([0, 1, 3, 0, 0, 2], [0, 1, 3, 0, 0, 6]),
        ([0, 0, 0, 0, 0, 2], [4 / 3, 4 / 3, 4 / 3, 0, 0, 6]),
        ([NAN, 1, 3, NAN, NAN, NAN], [0, 1, 3, 2, 2, 2]),
    ],
    ids=["by weight", "a day without weight is spread evenly", "unknown weight counts as none"],
)
def test_a_day_is_spread_over_its_hours(weight: list[float], expected: list[float]) -> None:
    index = np.array([0, 0, 0, 1, 1, 1])
    assert et.spread_over_hours(eto_mm=[4.0, 6.0], day_index=index, weight=weight) == pytest.approx(expected)


def test_an_unknown_day_has_unknown_hours_and_an_hour_of_no_day_too() -> None:
    found = et.spread_over_hours(eto_mm=[NAN, 6.0], day_index=np.array([0, 1, -1]), weight=[1.0, 1.0, 1.0])
    assert np.isnan(found).tolist() == [True, False, True]


@pytest.mark.parametrize(
    ("index", "weight", "message"),
    [([0, 2], [1, 1], "day_index"), ([0, -2], [1, 1], "day_index"), ([0, 1], [1, -1], "negative")],
    ids=["a day that is not there", "a day before the first", "a negative weight"],
)
def test_hours_that_cannot_be_spread_are_refused(index: list[int], weight: list[float], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        et.spread_over_hours(eto_mm=[1.0, 2.0], day_index=np.array(index), weight=weight)


@settings(max_examples=40, deadline=None)
@given(
    daily=st.lists(st.floats(0, 12), min_size=1, max_size=5),
    lengths=st.lists(st.sampled_from([23, 24, 25]), min_size=5, max_size=5),
    seed=st.integers(0, 9999),
)
def test_the_hours_add_up_to_the_day_on_days_of_23_24_and_25_hours(
    daily: list[float], lengths: list[int], seed: int
) -> None:
    index = np.repeat(np.arange(len(daily)), lengths[: len(daily)])
    weight = np.maximum(np.random.default_rng(seed).normal(size=index.size), 0.0)
    hourly = et.spread_over_hours(eto_mm=daily, day_index=index, weight=weight)
    assert np.bincount(index, weights=hourly) == pytest.approx(daily, abs=1e-12)


@pytest.mark.parametrize("longitude_deg", [361.0, NAN], ids=["off the Earth", "unknown"])
def test_a_longitude_that_cannot_be_is_refused(longitude_deg: float) -> None:
    with pytest.raises(ValueError, match="longitude_deg"):
        radiation.extraterrestrial_radiation_hourly(
            latitude_deg=40.0, longitude_deg=longitude_deg, starts=week().astype("datetime64[h]")
        )
