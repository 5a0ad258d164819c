"""Worked examples of FAO-56, each to half a unit of the last printed digit, through our own rooms."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from types import ModuleType

import numpy as np
import pytest

from advisor.science import evapotranspiration as et
from advisor.science import radiation

SOURCE = (
    "FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes and Smith, 1998); read at second hand, "
    "except where the id of a case says 'from memory'"
)


def agrees(value: object, printed: str) -> bool:
    """True when `value` rounds to what is printed: within half a unit of the last printed digit."""
    half = Decimal(printed).as_tuple().exponent
    return abs(float(np.squeeze(value)) - float(printed)) <= 0.5 * 10.0 ** int(half) * (1 + 1e-9)


def on(day_of_year: int, year: int = 2025) -> np.ndarray:
    """The date of a day of the year, as the (1,) array that the daily functions take."""
    return np.array([np.datetime64(f"{year}-01-01") + (day_of_year - 1)])


def es(tmax: float, tmin: float) -> float:
    return float(et.saturation_vapour_pressure([tmax, tmin]).mean())


LYON_TEMPERATURES = {"tmax_c": 26.6, "tmin_c": 14.8}
UCCLE_EA = float(np.mean([es(12.3, 12.3) * 0.84, es(21.5, 21.5) * 0.63]))
UCCLE = {"latitude_deg": 50.80, "elevation_m": 100.0, "tmax_c": 21.5, "tmin_c": 12.3}


def ra(latitude_deg: float, day: int) -> float:
    return float(et.extraterrestrial_radiation(latitude_deg=latitude_deg, day_of_year=day))


def daylight(latitude_deg: float, day: int) -> float:
    return float(et.daylight_hours(latitude_deg=latitude_deg, day_of_year=day))


RIO_RA, RIO_N = ra(-22.90, 135), daylight(-22.90, 135)
RIO_RS = float(et.radiation_from_sunshine(sunshine_h=220 / 31, daylight_h=RIO_N, ra=RIO_RA))
RIO = {
    "tmax_c": 25.1,
    "tmin_c": 19.1,
    "ea_kpa": 2.1,
    "rs": RIO_RS,
    "rso": et.clear_sky_radiation(ra=RIO_RA, elevation_m=0),
}
BANGKOK_RA = ra(13.73, 105)
BANGKOK_RS = float(et.radiation_from_sunshine(sunshine_h=8.5, daylight_h=daylight(13.73, 105), ra=BANGKOK_RA))
BANGKOK_SKY = {"rs": BANGKOK_RS, "rso": et.clear_sky_radiation(ra=BANGKOK_RA, elevation_m=2)}
BANGKOK_RN = et.net_radiation(tmax_c=34.8, tmin_c=25.6, ea_kpa=2.85, **BANGKOK_SKY)
BANGKOK_G = 0.14 * (30.2 - 29.2)  # eq. 44
UCCLE_RA = ra(50.80, 187)
UCCLE_RS = float(et.radiation_from_sunshine(sunshine_h=9.25, daylight_h=daylight(50.80, 187), ra=UCCLE_RA))
UCCLE_RSO = float(et.clear_sky_radiation(ra=UCCLE_RA, elevation_m=100))
UCCLE_SKY = {"tmax_c": 21.5, "tmin_c": 12.3, "ea_kpa": UCCLE_EA, "rs": UCCLE_RS, "rso": UCCLE_RSO}
LYON_RA = ra(45.72, 196)

INTERMEDIATES = {
    "example 2, pressure at 1800 m": (et.atmospheric_pressure(1800), "81.8"),
    "example 2, psychrometric constant": (et.psychrometric_constant(1800), "0.054"),
    "example 3, e° of Tmax": (et.saturation_vapour_pressure(24.5), "3.075"),
    "example 3, e° of Tmin": (et.saturation_vapour_pressure(15.0), "1.705"),
    "example 3, es": (es(24.5, 15.0), "2.39"),
    "example 5, from memory, ea from the humidities": (
        (es(18, 18) * 0.82 + es(25, 25) * 0.54) / 2,
        "1.70",
    ),
    "example 6, from memory, es": (es(25, 18), "2.62"),
    "example 8, inverse distance": (et.inverse_distance(day_of_year=246), "0.985"),
    "example 8, declination": (et.declination(day_of_year=246), "0.120"),
    "example 8, sunset angle": (et.sunset_angle(latitude_deg=-20, day_of_year=246), "1.527"),
    "example 8, Ra at 20° S": (ra(-20, 246), "32.2"),
    "example 9, daylight": (daylight(-20, 246), "11.7"),
    "example 10, from memory, Ra at Rio": (RIO_RA, "25.1"),
    "example 10, from memory, daylight at Rio": (RIO_N, "10.9"),
    "example 10, from memory, Rs at Rio": (RIO_RS, "14.5"),
    "example 11, net long wave at Rio": (et.net_longwave(**RIO), "3.5"),
    "example 12, from memory, net radiation at Rio": (et.net_radiation(**RIO), "7.6"),
    "example 14, wind from 10 m": (et.wind_at_2m(wind_m_s=3.2, height_m=10), "2.4"),
    "example 15, Ra at Lyon": (LYON_RA, "40.6"),
    "example 15, Rs at Lyon": (et.radiation_from_temperature(ra=LYON_RA, **LYON_TEMPERATURES), "22.3"),
    "example 17, Rs at Bangkok": (BANGKOK_RS, "22.65"),
    "example 17, net radiation at Bangkok": (BANGKOK_RN, "14.33"),
    "example 17, soil heat at Bangkok": (BANGKOK_G, "0.14"),
    "example 18, wind at Uccle": (et.wind_at_2m(wind_m_s=10 / 3.6, height_m=10), "2.078"),
    "example 18, Ra at Uccle": (UCCLE_RA, "41.09"),
    "example 18, Rs at Uccle": (UCCLE_RS, "22.07"),
    "example 18, clear sky at Uccle": (UCCLE_RSO, "30.90"),
    "example 18, es at Uccle": (es(21.5, 12.3), "1.997"),
    "example 18, ea at Uccle": (UCCLE_EA, "1.409"),
    "example 18, net long wave at Uccle": (et.net_longwave(**UCCLE_SKY), "3.71"),
    "example 18, net radiation at Uccle": (et.net_radiation(**UCCLE_SKY), "13.28"),
}


@pytest.mark.parametrize(("value", "printed"), INTERMEDIATES.values(), ids=INTERMEDIATES.keys())
def test_an_intermediate_value_is_as_printed(value: object, printed: str) -> None:
    assert agrees(value, printed), f"{float(np.squeeze(value))} against {printed}"


def bangkok(**changed: float) -> float:
    """Example 17 through the wrapper: April at 13.73° N, 2 m above the sea."""
    inputs = {"latitude_deg": 13.73, "elevation_m": 2.0, "tmax_c": 34.8, "tmin_c": 25.6, "ea_kpa": 2.85}
    inputs |= {"u2_m_s": 2.0, "rs_mj_m2_d": BANGKOK_RS, "g_mj_m2_d": BANGKOK_G} | changed
    return float(et.eto_penman_monteith(days=on(105), **inputs)[0])


def uccle(**changed: float) -> float:
    """Example 18 through the wrapper: 6 July at 50.80° N, 100 m."""
    u2 = float(et.wind_at_2m(wind_m_s=10 / 3.6, height_m=10))
    inputs = UCCLE | {"ea_kpa": UCCLE_EA, "u2_m_s": u2, "rs_mj_m2_d": UCCLE_RS} | changed
    return float(et.eto_penman_monteith(days=on(187), **inputs)[0])


def test_bangkok_in_april_evaporates_as_printed() -> None:
    assert agrees(bangkok(), "5.72")


def test_uccle_in_july_evaporates_as_printed() -> None:
    assert agrees(uccle(), "3.88")


def test_lyon_known_by_its_temperatures_alone_evaporates_as_printed() -> None:
    unknown = float("nan")
    lyon = et.daily_eto(
        days=on(196),
        latitude_deg=45.72,
        elevation_m=200.0,
        **LYON_TEMPERATURES,
        ea_kpa=unknown,
        u2_m_s=unknown,
        rs_mj_m2_d=unknown,
    )
    assert lyon.stand_ins == (("dew=Tmin", "u2=2", "Rs from temperature"),)
    assert agrees(lyon.eto_mm, "4.56")


def test_lyon_by_hargreaves_is_as_printed() -> None:
    assert agrees(et.eto_hargreaves(days=on(196), latitude_deg=45.72, **LYON_TEMPERATURES), "5.03")


NDIAYE_HOURS = np.array(["2025-10-01T15", "2025-10-01T03"], dtype="datetime64[h]")  # clock is UTC − 1 h


def ndiaye_ra() -> np.ndarray:
    return et.extraterrestrial_radiation_hourly(latitude_deg=16.22, longitude_deg=-16.25, starts=NDIAYE_HOURS)


def dew_point(temp_c: float, humidity: float) -> float:
    """The dew point that gives this share of saturation (eq. 14 turned round)."""
    x = np.log(float(et.saturation_vapour_pressure(temp_c)) * humidity / 0.6108)
    return float(237.3 * x / (17.27 - x))


def test_the_afternoon_sun_over_ndiaye_is_as_printed_from_memory() -> None:
    assert agrees(ndiaye_ra()[0], "3.543")


@pytest.mark.parametrize(
    ("hour", "temp_c", "humidity", "u2", "rs", "clear_share", "printed"),
    [(0, 38.0, 0.52, 3.3, 2.450, None, "0.63"), (1, 28.0, 0.90, 1.9, 0.0, 0.8, "0.00")],
    ids=["example 19, 14 to 15 h", "example 19, 02 to 03 h"],
)
def test_an_hour_at_ndiaye_evaporates_as_printed(
    hour: int, temp_c: float, humidity: float, u2: float, rs: float, clear_share: float | None, printed: str
) -> None:
    eto = et.hourly_eto(
        temp_c=temp_c,
        dew_c=dew_point(temp_c, humidity),
        u2_m_s=u2,
        rs_mj_m2_h=rs,
        ra_mj_m2_h=ndiaye_ra()[hour],
        elevation_m=8.0,
        clear_share=clear_share,
    )
    assert agrees(eto, printed)


# The tempting mistakes: a check that they would pass is no check.


@pytest.mark.parametrize(
    ("room", "value", "right", "wrong"),
    [
        (radiation, lambda: ra(-20, 246), "32.2", "9.2"),
        (et, lambda: bangkok(), "5.72", "5.38"),
    ],
    ids=["example 8, in our formula", "example 17, in the call of pyet"],
)
def test_degrees_taken_for_radians_would_be_seen(
    monkeypatch: pytest.MonkeyPatch, room: ModuleType, value: Callable[[], float], right: str, wrong: str
) -> None:
    assert agrees(value(), right)
    monkeypatch.setattr(room, "radians_of_latitude", lambda degrees: np.asarray(degrees, dtype=float))
    assert agrees(value(), wrong)


def test_the_other_hemisphere_would_be_seen_in_the_sun() -> None:
    assert not agrees(ra(20, 246), "32.2")
    assert not agrees(daylight(20, 246), "11.7")


def test_saturation_at_the_mean_temperature_would_be_seen() -> None:
    assert not agrees(et.saturation_vapour_pressure((24.5 + 15.0) / 2), "2.39")


def test_humidity_by_mean_humidity_would_be_seen_at_uccle() -> None:
    by_means = float(et.saturation_vapour_pressure((21.5 + 12.3) / 2)) * (0.84 + 0.63) / 2
    assert not agrees(by_means, "1.409")
    assert not agrees(uccle(ea_kpa=by_means), "3.88")


def test_one_mean_temperature_would_be_seen_at_uccle() -> None:
    mean = (21.5 + 12.3) / 2
    assert not agrees(uccle(tmax_c=mean, tmin_c=mean), "3.88")
    assert uccle(tmax_c=mean, tmin_c=mean) == pytest.approx(3.75, abs=0.03)


def test_wind_at_10_m_taken_as_2_m_would_be_seen_at_uccle() -> None:
    assert not agrees(uccle(u2_m_s=10 / 3.6), "3.88")


def test_radiation_in_w_m2_is_refused_at_uccle() -> None:
    with pytest.raises(ValueError, match=r"2025-07-06: radiation 255\..* W/m²"):
        uccle(rs_mj_m2_d=UCCLE_RS / 0.0864)


def test_vapour_pressure_in_hpa_is_refused_at_uccle() -> None:
    with pytest.raises(ValueError, match=r"2025-07-06: vapour pressure 14\..*hPa"):
        uccle(ea_kpa=UCCLE_EA * 10)
