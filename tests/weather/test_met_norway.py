"""MET Norway's steps become Weather: forward periods, overlaps, the six-hourly tail, holes and errors."""

from __future__ import annotations

import copy
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made import note_texts

from advisor.errors import SourceError
from advisor.lawn.site_values import Place, WeatherSettings
from advisor.weather.client import Client
from advisor.weather.sources import met_norway as met
from advisor.weather.weather import SERIES, Weather

REPLIES = Path(__file__).parents[1] / "replies" / "met_norway"
FETCHED = datetime(2026, 7, 15, 18, 17, 24, tzinfo=UTC)
PLACE = Place("Larkmoor Lane", 38.97, -95.24, 268.0, ZoneInfo("America/Chicago"), "us", "US", "a@example.org")
COMPACT = json.loads((REPLIES / "compact.json").read_text("utf-8"))
NORDIC = json.loads((REPLIES / "complete_nordic.json").read_text("utf-8"))


def read(payload: Any, elevation_m: float = 268.0) -> Weather:
    return met.read_forecast(
        payload, latitude_deg=38.97, longitude_deg=-95.24, elevation_m=elevation_m, fetched_at=FETCHED
    )


def step(
    at: datetime, *, temp: float = 15.0, one: dict[str, Any] | None = None, six: dict[str, Any] | None = None
) -> dict[str, Any]:
    instant = {
        "air_temperature": temp,
        "relative_humidity": 60.0,
        "wind_speed": 3.0,
        "cloud_area_fraction": 50.0,
    }
    data: dict[str, Any] = {"instant": {"details": instant}}
    if one is not None:
        data["next_1_hours"] = {"summary": {}, "details": one}
    if six is not None:
        data["next_6_hours"] = {"summary": {}, "details": six}
    return {"time": f"{at:%Y-%m-%dT%H:%M:%SZ}", "data": data}


START = datetime(2026, 6, 17, tzinfo=UTC)


def forecast(*steps: dict[str, Any], units: dict[str, str] | None = None) -> dict[str, Any]:
    meta = {"updated_at": "2026-07-15T17:34:51Z", "units": units or {}}
    return {"properties": {"meta": meta, "timeseries": list(steps)}}


def made(hourly: int = 12, tail: int = 4, **shape: Any) -> dict[str, Any]:
    """Hourly steps of 0.5 mm that also carry a six-hour amount, then six-hourly ones of 6 mm."""
    steps = [
        step(START + timedelta(hours=h), one={"precipitation_amount": 0.5}, six={"precipitation_amount": 3.0})
        for h in range(hourly)
    ]
    steps += [
        step(START + timedelta(hours=hourly + 6 * k), six={"precipitation_amount": 6.0}) for k in range(tail)
    ]
    return forecast(*steps, step(START + timedelta(hours=hourly + 6 * tail)), **shape)


def test_hours_that_carry_both_periods_are_counted_once() -> None:
    weather = read(made())
    assert np.nansum(weather.rain_mm) == pytest.approx(12 * 0.5 + 4 * 6.0)
    assert weather.rain_mm[:12] == pytest.approx(np.full(12, 0.5))
    assert weather.rain_mm[12:36] == pytest.approx(np.full(24, 1.0))


def test_a_stored_forecast_adds_up_to_its_own_periods() -> None:
    rows = COMPACT["properties"]["timeseries"]
    want = 0.0
    for row in rows:
        period = row["data"].get("next_1_hours") or row["data"].get("next_6_hours")
        want += period["details"]["precipitation_amount"] if period else 0.0
    assert np.nansum(read(COMPACT).rain_mm) == pytest.approx(want)


def test_periods_run_forward_from_their_stamp() -> None:
    steps = [
        step(START + timedelta(hours=h), one={"precipitation_amount": 2.0 if h == 3 else 0.0})
        for h in range(6)
    ]
    weather = read(forecast(*steps))
    assert int(np.nanargmax(weather.rain_mm)) == 3
    assert weather.starts_at(3) == START + timedelta(hours=3)


@pytest.mark.parametrize("hourly", [55, 64, 90], ids=["55 hours", "64 hours", "90 hours"])
def test_the_tail_begins_wherever_the_service_says(hourly: int) -> None:
    weather = read(made(hourly=hourly))
    assert np.isfinite(weather.rain_mm[: hourly + 24]).all()
    assert np.isfinite(weather.temp_c[: hourly + 24]).all()


def test_an_hour_without_its_own_amount_takes_only_what_its_six_hours_leave() -> None:
    payload = made(hourly=6, tail=0)
    del payload["properties"]["timeseries"][0]["data"]["next_1_hours"]
    assert read(payload).rain_mm[:6] == pytest.approx(np.full(6, 0.5))


def test_the_end_of_the_horizon_is_unknown_and_not_dry() -> None:
    weather = read(made())
    assert np.isnan(weather.rain_mm[36:]).all()
    assert np.isnan(weather.members_mm[:, 36:]).all()
    assert weather.sources[0].reaches_until == START + timedelta(hours=36)
    assert (weather.rain_basis[36:] == "").all()


def test_missing_details_are_unknown_and_not_zero() -> None:
    payload = made()
    payload["properties"]["timeseries"][4]["data"]["next_1_hours"]["details"] = {}
    payload["properties"]["timeseries"][4]["data"]["next_6_hours"]["details"] = {}
    payload["properties"]["timeseries"][7]["data"]["instant"]["details"] = {}
    weather = read(payload)
    assert np.isnan(weather.rain_mm[4])
    assert weather.temp_c[7] == pytest.approx(15.0)  # a straight line over two hours
    assert np.isnan(weather.members_mm[:, 4]).all()


def test_states_in_the_tail_run_in_a_straight_line_through_the_steps() -> None:
    steps = [step(START + timedelta(hours=6 * k), temp=10.0 + 6.0 * k, six={"precipitation_amount": 0.0})
             for k in range(3)]  # fmt: skip
    assert read(forecast(*steps)).temp_c[:12] == pytest.approx(np.arange(12) + 10.5)


def test_the_periods_own_maximum_and_minimum_are_reached_in_the_tail() -> None:
    extremes = {"precipitation_amount": 0.0, "air_temperature_max": 26.0, "air_temperature_min": 8.0}
    first = step(START, temp=12.0, six=extremes)
    weather = read(forecast(first, step(START + timedelta(hours=6), temp=20.0)))
    assert weather.temp_c[:6].max() > 24.0
    assert weather.temp_c[:6].min() < 10.0
    assert int(weather.temp_c[:6].argmin()) < int(weather.temp_c[:6].argmax())


def test_without_the_extremes_the_tail_misses_them() -> None:
    first = step(START, temp=12.0, six={"precipitation_amount": 0.0})
    weather = read(forecast(first, step(START + timedelta(hours=6), temp=20.0)))
    assert weather.temp_c[:6].max() < 20.0


def test_there_is_no_past_and_the_first_hour_is_the_first_step() -> None:
    weather = read(COMPACT)
    assert weather.starts_at(0) == datetime(2026, 7, 15, 18, tzinfo=UTC)


def test_the_radiation_comes_from_the_clouds_and_it_is_said() -> None:
    weather = read(COMPACT)
    day = slice(weather.index_at(datetime(2026, 7, 16, 5, tzinfo=UTC)), None)
    total = weather.rs_mj_m2_h[day][:24].sum()
    # 27.4 MJ/m² by the radiation that the same made weather has elsewhere; the method's own error is 2.5.
    assert total == pytest.approx(27.4, abs=2.5)
    assert weather.rs_mj_m2_h.min() == 0.0 or np.nanmin(weather.rs_mj_m2_h) == 0.0
    assert any("Kasten and Czeplak" in text for text in note_texts(weather.notes))


def test_high_thin_cloud_shades_less_than_low_cloud() -> None:
    def noon(layer: str) -> float:
        payload = forecast(*[
            step(datetime(2026, 6, 17, 17, tzinfo=UTC) + timedelta(hours=h), one={"precipitation_amount": 0.0})
            for h in range(3)
        ])  # fmt: skip
        for row in payload["properties"]["timeseries"]:
            details = row["data"]["instant"]["details"]
            details["cloud_area_fraction"] = 90.0
            for name in ("low", "medium", "high"):
                details[f"cloud_area_fraction_{name}"] = 90.0 if name == layer else 0.0
        return float(read(payload).rs_mj_m2_h[0])

    assert noon("high") > 1.5 * noon("low")


def test_the_dew_point_comes_from_humidity_where_it_is_not_given() -> None:
    weather = read(made())
    # FAO-56 eq. 11: e°(15) = 1.705 kPa, 60 % of it saturates at 7.3 °C.
    assert weather.dew_c[0] == pytest.approx(7.3, abs=0.05)
    assert read(NORDIC).dew_c[0] == pytest.approx((20.8 + read_details(1)["dew_point_temperature"]) / 2)


def read_details(k: int) -> dict[str, float]:
    return NORDIC["properties"]["timeseries"][k]["data"]["instant"]["details"]


def test_members_agree_with_the_chance_the_range_and_the_amount_where_these_are_given() -> None:
    payload = copy.deepcopy(NORDIC)
    for k, row in enumerate(payload["properties"]["timeseries"]):
        row["data"].pop("next_6_hours")
        if "next_1_hours" in row["data"]:
            row["data"]["next_1_hours"]["details"] |= {
                "precipitation_amount": 1.0 + 0.1 * k,
                "precipitation_amount_min": 0.0,
                "precipitation_amount_max": 3.0,
                "probability_of_precipitation": 62.0,
            }
    weather = read(payload)
    known = np.isfinite(weather.rain_mm)
    share = (weather.members_mm[:, known] > 0).mean(axis=0)
    assert np.abs(share - 0.62).max() <= 1 / 62
    assert weather.members_mm[:, known].mean(axis=0) == pytest.approx(weather.rain_mm[known], rel=0.01)
    assert weather.chance[0] == pytest.approx(0.62)


def test_members_without_a_chance_keep_the_amount_and_say_what_is_assumed() -> None:
    weather = read(COMPACT)
    assert len(weather.members_mm) == 31
    assert np.nansum(weather.members_mm) / 31 == pytest.approx(np.nansum(weather.rain_mm), rel=0.01)
    assert any("the spread assumed" in text for text in note_texts(weather.notes))
    assert np.isnan(weather.chance).all()


def test_rain_below_freezing_is_snow() -> None:
    steps = [step(START + timedelta(hours=h), temp=-3.0, one={"precipitation_amount": 1.0}) for h in range(4)]
    weather = read(forecast(*steps))
    assert weather.snow_mm[:3] == pytest.approx([1.0, 1.0, 1.0])


@pytest.mark.parametrize(
    ("unit", "value", "celsius"),
    [("celsius", 15.0, 15.0), ("fahrenheit", 59.0, 15.0), ("K", 288.15, 15.0)],
)
def test_units_are_read_from_the_answer(unit: str, value: float, celsius: float) -> None:
    payload = made(units={"air_temperature": unit})
    for row in payload["properties"]["timeseries"]:
        row["data"]["instant"]["details"]["air_temperature"] = value
    assert read(payload).temp_c[0] == pytest.approx(celsius)


def test_a_unit_that_is_not_known_is_refused_and_never_guessed() -> None:
    with pytest.raises(SourceError, match=r"^MET Norway: gives wind_speed in 'furlongs'"):
        read(made(units={"wind_speed": "furlongs"}))


@pytest.mark.parametrize(
    "payload",
    [
        None,
        [],
        "sunny",
        {"weather": "fine"},
        {"properties": {"timeseries": []}},
        {"properties": {"timeseries": [1, None, "x"]}},
        {"properties": {"timeseries": [{"time": "yesterday"}]}},
        {"properties": {"timeseries": [{"time": "2026-06-17T00:00:00Z"}]}},
        {"properties": {"timeseries": [{"time": "2026-06-17T00:00:00", "data": {}}]}},
    ],
    ids=["null", "list", "text", "other", "no steps", "no objects", "no time", "no data", "no offset"],
)
def test_what_is_not_a_forecast_is_one_sentence(payload: Any) -> None:
    with pytest.raises(SourceError, match=r"^MET Norway: sent [^\n]+$"):
        read(payload)


def test_an_old_forecast_under_a_fresh_answer_counts_by_its_own_age() -> None:
    payload = made()
    payload["properties"]["meta"]["updated_at"] = "2026-07-13T18:00:00Z"
    weather = read(payload)
    assert weather.sources[0].fetched_at == datetime(2026, 7, 13, 18, tzinfo=UTC)
    assert any("48 h old" in text for text in note_texts(weather.notes, "warning"))


def test_steps_out_of_order_or_twice_or_absurdly_far_do_no_harm() -> None:
    payload = made()
    rows = payload["properties"]["timeseries"]
    rows.insert(0, copy.deepcopy(rows[5]))
    rows.append(step(datetime(2031, 1, 1, tzinfo=UTC), one={"precipitation_amount": 9.0}))
    weather = read(payload)
    assert weather.hours < 60
    assert np.nansum(weather.rain_mm) == pytest.approx(30.0)


def test_the_service_is_credited() -> None:
    assert "MET Norway" in read(COMPACT).sources[0].attribution


def test_it_is_asked_with_four_decimals_a_whole_altitude_and_who_asks(bad_server: Any) -> None:
    url = bad_server.serve("/complete", COMPACT)
    client = Client(user_agent_contact="owner@example.org", cache_dir=None)
    weather = met.get_forecast(client, PLACE, WeatherSettings(base_urls={"met_norway": url}), FETCHED)
    assert np.nansum(weather.rain_mm) == pytest.approx(19.5)
    path, headers = bad_server.asked[0]
    assert path == "/complete?lat=38.9700&lon=-95.2400&altitude=268"
    assert "owner@example.org" in headers["user-agent"]


@pytest.mark.parametrize("behaviour", ["403", "wrong shape", "html", "cut off", "a list of numbers", "empty"])
def test_a_service_that_misbehaves_is_one_sentence(bad_server: Any, behaviour: str) -> None:
    url = bad_server.serve("/complete", COMPACT)
    bad_server.behave(behaviour)
    client = Client(user_agent_contact="a@example.org", cache_dir=None, pause=lambda s: None)
    with pytest.raises(SourceError, match=r"^MET Norway: [^\n]+$"):
        met.get_forecast(client, PLACE, WeatherSettings(base_urls={"met_norway": url}), FETCHED)


def test_an_answer_for_another_place_is_refused(bad_server: Any) -> None:
    payload = copy.deepcopy(COMPACT)
    payload["geometry"]["coordinates"] = [10.75, 59.91, 20]
    url = bad_server.serve("/complete", payload)
    client = Client(user_agent_contact="a@example.org", cache_dir=None)
    with pytest.raises(SourceError, match="answered for a place"):
        met.get_forecast(client, PLACE, WeatherSettings(base_urls={"met_norway": url}), FETCHED)


JUNK = st.one_of(
    st.none(), st.booleans(), st.integers(-(10**12), 10**12), st.floats(), st.text(max_size=8),
    st.just([]), st.just({}), st.just("2026-13-40T99:00:00Z"), st.just("9999-12-31T23:00:00Z"),
)  # fmt: skip


def bent(payload: Any, data: st.DataObject) -> Any:
    """`payload` with a few of its values, anywhere, exchanged for junk or taken out."""
    for _ in range(data.draw(st.integers(1, 4))):
        node, parent, key = payload, None, None
        while isinstance(node, dict | list) and node and data.draw(st.integers(0, 5)) > 0:
            parent = node
            key = data.draw(st.sampled_from(sorted(node) if isinstance(node, dict) else range(len(node))))
            node = node[key]
        if parent is not None and data.draw(st.booleans()):
            del parent[key]
        elif parent is not None:
            parent[key] = data.draw(JUNK)
    return payload


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_bent_answer_is_weather_or_one_sentence_and_never_a_silent_zero(data: st.DataObject) -> None:
    payload = bent(made(hourly=4, tail=2), data)
    told, weather = "", None
    try:
        weather = read(payload)
    except SourceError as error:
        told = str(error)
    if weather is None:
        assert told.startswith("MET Norway: ")
        assert "\n" not in told
        return
    assert all(getattr(weather, name).shape == (weather.hours,) for name in SERIES)
    assert weather.members_mm.shape == (31, weather.hours)
    junk_zero = any(row == 0 for row in amounts_in(payload))
    assert junk_zero or not (weather.rain_mm == 0.0).any()


def amounts_in(payload: Any) -> list[Any]:
    """Every amount that stands anywhere in the payload."""
    if isinstance(payload, dict):
        own = [v for k, v in payload.items() if k == "precipitation_amount"]
        return own + [a for v in payload.values() for a in amounts_in(v)]
    return [a for v in payload for a in amounts_in(v)] if isinstance(payload, list) else []
