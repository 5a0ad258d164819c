"""Worked examples of FAO-56 sent the whole way, each value to half a unit of the last printed digit.

Every number checked here is one that `advise` computed on its way, or handed out. The program makes days of
24 hours, so each example's day is written as hours that keep its extremes, its vapour pressure, its mean wind
and its sum of radiation. What the program does not do has no check: it takes no hours of sunshine
(examples 9 and 10), has no formula of temperature alone (eq. 52), and computes no hour by itself (example 19,
but for its sun).
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pyet.combination
import pytest
from published.whole_way import Example, Found, sun, through, two_halves

from advisor.errors import ManyProblems
from advisor.science import radiation
from advisor.soil_water import reference_et

SOURCE = (
    "FAO Irrigation and Drainage Paper 56 (Allen, Pereira, Raes and Smith, 1998); read at second hand, "
    "except where the id of a case says 'from memory'"
)


def agrees(value: float, printed: str) -> bool:
    """True when `value` rounds to what is printed: within half a unit of the last printed digit."""
    half = Decimal(printed).as_tuple().exponent
    return abs(value - float(printed)) <= 0.5 * 10.0 ** int(half) * (1 + 1e-9)


def dew_points(ea_kpa: float) -> np.ndarray:
    """Dew points of two halves of a day whose mean vapour pressure is this (eq. 14 turned round)."""
    x = np.log(np.array([0.97, 1.03]) * ea_kpa / 0.6108)
    return two_halves(*(237.3 * x / (17.27 - x)))


def on(day_of_year: int) -> date:
    return date(2025, 1, 1) + timedelta(days=day_of_year - 1)


BANGKOK = Example(
    latitude_deg=13.73,
    elevation_m=2.0,
    day=on(105),
    columns={
        "temp_c": two_halves(25.6, 34.8),
        "dew_c": dew_points(2.85),
        "wind2_m_s": 2.0,
        "rs_mj_m2_h": sun(22.65),
    },
    longitude_deg=100.5,
    zone="Asia/Bangkok",
)
"""Example 17, April. The example is of a month and has 0.14 MJ/m²/d go into the soil (eq. 44); see there."""
UCCLE = Example(
    latitude_deg=50.80,
    elevation_m=100.0,
    day=on(187),
    columns={
        "temp_c": two_halves(12.3, 21.5),
        "rh_pct": two_halves(84.0, 63.0),
        "wind10_km_h": 10.0,
        "rs_mj_m2_h": sun(22.07),
    },
    longitude_deg=4.36,
    zone="Europe/Brussels",
)
"""Example 18, 6 July, its humidity as measured: 84 % when it is coldest and 63 % when it is warmest."""
LYON = Example(
    latitude_deg=45.72,
    elevation_m=200.0,
    day=on(196),
    columns={"temp_c": two_halves(14.8, 26.6)},
    longitude_deg=5.08,
    zone="Europe/Paris",
)
"""Example 20, July, known by its temperatures alone."""
RIO = Example(
    latitude_deg=-22.90,
    elevation_m=0.0,
    day=on(135),
    columns={
        "temp_c": two_halves(19.1, 25.1),
        "dew_c": dew_points(2.1),
        "wind10_m_s": 2.0,
        "rs_mj_m2_h": sun(14.5),
    },
)
"""Examples 11 and 12, May; the wind is made up, it has no say in the radiation."""
HIGH_UP = Example(
    latitude_deg=-20.0,
    elevation_m=1800.0,
    day=on(246),
    columns={"temp_c": two_halves(15.0, 24.5), "wind10_m_s": 3.2},
)
"""Examples 2 (1800 m), 3 (Tmax 24.5 °C, Tmin 15 °C), 8 (20° S, 3 September) and 14 (3.2 m/s at 10 m) in one."""
MOIST = Example(
    latitude_deg=40.0,
    elevation_m=0.0,
    day=on(196),
    columns={"temp_c": two_halves(18.0, 25.0), "rh_pct": two_halves(82.0, 54.0)},
)
"""Example 5."""

PLACES = {
    "Bangkok": BANGKOK,
    "Uccle": UCCLE,
    "Lyon": LYON,
    "Rio": RIO,
    "made of 2, 3, 8, 14": HIGH_UP,
    "made of 5": MOIST,
}


@cache
def found(place: str) -> Found:
    return changed(PLACES[place])


def changed(example: Example, columns: Mapping[str, object] | None = None, **fields: object) -> Found:
    """The example the whole way, with other columns or another place; a column None is left out."""
    given = {k: v for k, v in {**example.columns, **(columns or {})}.items() if v is not None}
    with TemporaryDirectory() as folder:
        return through(Example(**{**vars(example), "columns": given, **fields}), Path(folder))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("place", "name", "printed"),
    [
        pytest.param("made of 2, 3, 8, 14", "P", "81.8", id="example 2, pressure at 1800 m"),
        pytest.param("made of 2, 3, 8, 14", "gamma", "0.054", id="example 2, psychrometric constant"),
        pytest.param("made of 2, 3, 8, 14", "es", "2.39", id="example 3, es"),
        pytest.param("made of 5", "ea", "1.70", id="example 5, from memory, ea from the humidities"),
        pytest.param("made of 5", "es", "2.62", id="example 6, from memory, es"),
        pytest.param("made of 2, 3, 8, 14", "dr", "0.985", id="example 8, inverse distance"),
        pytest.param("made of 2, 3, 8, 14", "declination", "0.120", id="example 8, declination"),
        pytest.param("made of 2, 3, 8, 14", "sunset angle", "1.527", id="example 8, sunset angle"),
        pytest.param("made of 2, 3, 8, 14", "Ra", "32.2", id="example 8, Ra at 20° S"),
        pytest.param("Rio", "Ra", "25.1", id="example 10, from memory, Ra at Rio"),
        pytest.param("Rio", "Rnl", "3.5", id="example 11, net long wave at Rio"),
        pytest.param("Rio", "Rn", "7.6", id="example 12, from memory, net radiation at Rio"),
        pytest.param("made of 2, 3, 8, 14", "u2", "2.4", id="example 14, wind from 10 m"),
        pytest.param("Lyon", "Ra", "40.6", id="example 15, Ra at Lyon"),
        pytest.param("Lyon", "Rs of the range", "22.3", id="example 15, Rs at Lyon"),
        pytest.param("Bangkok", "u2", "2.0", id="example 17, wind at Bangkok"),
        pytest.param("Bangkok", "Ra", "38.06", id="example 17, from memory, Ra at Bangkok"),
        pytest.param("Bangkok", "Rso", "28.54", id="example 17, from memory, clear sky at Bangkok"),
        pytest.param("Bangkok", "es", "4.42", id="example 17, from memory, es at Bangkok"),
        pytest.param("Bangkok", "ea", "2.85", id="example 17, ea at Bangkok"),
        pytest.param("Bangkok", "slope", "0.246", id="example 17, from memory, slope at Bangkok"),
        pytest.param("Bangkok", "P", "101.3", id="example 17, from memory, pressure at Bangkok"),
        pytest.param("Bangkok", "Rns", "17.44", id="example 17, from memory, net short wave at Bangkok"),
        pytest.param("Bangkok", "Rnl", "3.11", id="example 17, from memory, net long wave at Bangkok"),
        pytest.param("Bangkok", "Rn", "14.33", id="example 17, net radiation at Bangkok"),
        pytest.param("Uccle", "u2", "2.078", id="example 18, wind at Uccle"),
        pytest.param("Uccle", "P", "100.1", id="example 18, from memory, pressure at Uccle"),
        pytest.param("Uccle", "Ra", "41.09", id="example 18, Ra at Uccle"),
        pytest.param("Uccle", "Rso", "30.90", id="example 18, clear sky at Uccle"),
        pytest.param("Uccle", "es", "1.997", id="example 18, es at Uccle"),
        pytest.param("Uccle", "ea", "1.409", id="example 18, ea at Uccle"),
        pytest.param("Uccle", "slope", "0.122", id="example 18, from memory, slope at Uccle"),
        pytest.param("Uccle", "gamma", "0.0666", id="example 18, from memory, gamma at Uccle"),
        pytest.param("Uccle", "Rnl", "3.71", id="example 18, net long wave at Uccle"),
        pytest.param("Uccle", "Rn", "13.28", id="example 18, net radiation at Uccle"),
    ],
)
def test_an_intermediate_value_of_the_advice_is_as_printed(place: str, name: str, printed: str) -> None:
    value = found(place).values[name]
    assert agrees(value, printed), f"{value} against {printed}"


def without_soil_heat_taken(at: Found, g_mj_m2_d: float) -> float:
    """ETo less what this heat into the soil takes of it: 0.408 Δ G / (Δ + γ (1 + 0.34 u2)), eq. 6."""
    value = at.values
    below = value["slope"] + value["gamma"] * (1.0 + 0.34 * value["u2"])
    return at.eto_mm - 0.408 * value["slope"] * g_mj_m2_d / below


def test_bangkok_in_april_evaporates_as_printed() -> None:
    # The program works by days, over which the soil's heat is left out (eq. 42); the example is of a month.
    assert agrees(without_soil_heat_taken(found("Bangkok"), 0.14), "5.72")
    assert found("Bangkok").stand_ins == ()


def test_uccle_in_july_evaporates_as_printed() -> None:
    assert agrees(found("Uccle").eto_mm, "3.88")
    assert found("Uccle").stand_ins == ()


def test_lyon_known_by_its_temperatures_alone_evaporates_as_printed() -> None:
    assert found("Lyon").stand_ins == ("dew=Tmin", "u2=2", "Rs from temperature")
    assert agrees(found("Lyon").eto_mm, "4.56")


def test_the_afternoon_sun_over_ndiaye_is_as_printed_from_memory() -> None:
    # Example 19, 14 to 15 o'clock on a clock of UTC − 1 h: the sun by which two services' cloud becomes light.
    ra = radiation.extraterrestrial_radiation_hourly(
        latitude_deg=16.22, longitude_deg=-16.25, starts=np.array(["2025-10-01T15"], dtype="datetime64[h]")
    )
    assert agrees(float(ra[0]), "3.543")


# The tempting mistakes: a check that they would pass is no check.


@pytest.mark.parametrize(
    ("place", "name"),
    [("made of 2, 3, 8, 14", "Ra"), ("Bangkok", "Rnl")],
    ids=["example 8, the sun's own radiation", "example 17, net long wave by the clear sky"],
)
def test_degrees_taken_for_radians_would_be_seen(
    monkeypatch: pytest.MonkeyPatch, place: str, name: str
) -> None:
    right = found(place)
    monkeypatch.setattr(radiation, "radians_of_latitude", lambda degrees: np.asarray(degrees, dtype=float))
    wrong = changed(PLACES[place])
    assert abs(wrong.values[name] / right.values[name] - 1.0) > 0.02
    assert abs(wrong.eto_mm - right.eto_mm) > 0.02


def test_the_other_hemisphere_would_be_seen_in_the_sun() -> None:
    assert not agrees(changed(HIGH_UP, latitude_deg=20.0).values["Ra"], "32.2")


def test_saturation_at_the_mean_temperature_would_be_seen(monkeypatch: pytest.MonkeyPatch) -> None:
    at_mean = pyet.combination.calc_es

    def wrong(tmean: object, **_: object) -> object:
        return at_mean(tmean=tmean, tmax=tmean, tmin=tmean)

    monkeypatch.setattr(pyet.combination, "calc_es", wrong)
    assert not agrees(changed(HIGH_UP).values["es"], "2.39")
    assert not agrees(changed(UCCLE).eto_mm, "3.88")


def test_humidity_by_mean_humidity_would_be_seen_at_uccle() -> None:
    saturated = 0.6108 * np.exp(17.27 * 16.9 / (16.9 + 237.3))
    by_means = changed(UCCLE, {"rh_pct": None, "dew_c": dew_points(saturated * (0.84 + 0.63) / 2)})
    assert not agrees(by_means.values["ea"], "1.409")
    assert not agrees(by_means.eto_mm, "3.88")


def test_one_mean_temperature_would_be_seen_at_uccle() -> None:
    mean = (21.5 + 12.3) / 2
    dew = {"rh_pct": None, "dew_c": dew_points(1.409)}
    level = changed(UCCLE, {"temp_c": two_halves(mean - 0.01, mean + 0.01), **dew})
    assert not agrees(level.eto_mm, "3.88")
    assert level.eto_mm == pytest.approx(3.75, abs=0.03)


def test_wind_at_10_m_taken_as_2_m_would_be_seen_at_uccle(monkeypatch: pytest.MonkeyPatch) -> None:
    assert not agrees(changed(UCCLE, {"wind10_km_h": None, "wind2_km_h": 10.0}).eto_mm, "3.88")
    monkeypatch.setattr(reference_et, "wind_at_2m", lambda *, wind_m_s, height_m: wind_m_s)
    assert not agrees(changed(UCCLE).eto_mm, "3.88")


def test_radiation_in_w_m2_is_refused_at_uccle(tmp_path: Path) -> None:
    with pytest.raises(ManyProblems, match="name it rs_w_m2"):
        through(
            Example(**{**vars(UCCLE), "columns": {**UCCLE.columns, "rs_mj_m2_h": sun(22.07 / 0.0036)}}),
            tmp_path,
        )
