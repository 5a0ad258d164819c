"""Open-Meteo bodies become Weather: labels, units, holes and errors, from stored and from bent replies."""

from __future__ import annotations

import copy
import json
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import responses
from hypothesis import given, settings
from hypothesis import strategies as st
from made import note_texts

from advisor.errors import SourceError
from advisor.lawn.site_values import Place, WeatherSettings
from advisor.weather.client import Client
from advisor.weather.ensemble import with_members
from advisor.weather.sources import open_meteo as om
from advisor.weather.weather import SERIES, Weather

REPLIES = Path(__file__).parents[1] / "replies" / "open_meteo"
FETCHED = datetime(2026, 7, 15, 18, 17, 24, tzinfo=UTC)
ZONE = ZoneInfo("America/Chicago")
PLACE = Place("Larkmoor Lane", 38.97, -95.24, 268.0, ZONE, "us", "US", "owner@example.org")


def reply(name):
    return json.loads((REPLIES / name).read_text("utf-8"))


@pytest.fixture
def forecast():
    return reply("forecast.json")


def read(payload):
    return om.read_forecast(payload, fetched_at=FETCHED)


def rain_of(weather, first, last):
    """The sum of rain between two local times, NaN if any hour is unknown."""
    a, b = (weather.index_at(datetime.fromisoformat(t).replace(tzinfo=ZONE)) for t in (first, last))
    return float(weather.rain_mm[a:b].sum())


def texts(weather, level=""):
    return " | ".join(note_texts(weather.notes, level))


def small(labels=None, offset=0, **values):
    """A body of one day, every hour alike."""
    labels = labels or [f"2026-06-17T{h:02d}:00" for h in range(24)]
    usual = {
        "temperature_2m": (25.0, "°C"),
        "dew_point_2m": (15.0, "°C"),
        "wind_speed_10m": (2.0, "m/s"),
        "shortwave_radiation": (300.0, "W/m²"),
        "precipitation": (0.5, "mm"),
        "snowfall": (0.0, "cm"),
        "cloud_cover": (40, "%"),
        "precipitation_probability": (30, "%"),
        "et0_fao_evapotranspiration": (0.2, "mm"),
    }
    if "relative_humidity_2m" in values:
        usual["relative_humidity_2m"] = (50, "%")
    return {
        "latitude": 40.52,
        "longitude": -96.74,
        "utc_offset_seconds": offset,
        "timezone": "GMT",
        "elevation": 381.0,
        "hourly_units": {"time": "iso8601", **{k: u for k, (_, u) in usual.items()}},
        "hourly": {
            "time": labels,
            **{k: [values.get(k, v)] * len(labels) for k, (v, _) in usual.items()},
        },
    }


# labels and time


@pytest.mark.parametrize(
    ("day", "following", "by_the_service", "true"),
    [("2026-07-14", "2026-07-15", 0.0, 0.9), ("2026-07-17", "2026-07-18", 17.7, 19.1)],
)
def test_rain_stamped_at_midnight_belongs_to_the_day_that_ends(
    forecast, day, following, by_the_service, true
):
    daily = dict(zip(forecast["daily"]["time"], forecast["daily"]["precipitation_sum"], strict=True))
    assert daily[day] == by_the_service
    assert rain_of(read(forecast), f"{day}T00:00", f"{following}T00:00") == pytest.approx(true)


def test_every_hour_carries_what_the_service_stamped_at_its_end(forecast):
    weather, hourly = read(forecast), forecast["hourly"]
    assert weather.hours == len(hourly["time"]) - 1
    assert weather.starts_at(0) == datetime(2026, 7, 8, 5, tzinfo=UTC)  # local midnight at −5 h
    assert weather.rain_mm == pytest.approx(np.array(hourly["precipitation"][1:]))
    assert weather.rs_mj_m2_h == pytest.approx(np.array(hourly["shortwave_radiation"][1:]) * 0.0036)
    assert weather.eto_source_mm == pytest.approx(np.array(hourly["et0_fao_evapotranspiration"][1:]))
    assert weather.chance == pytest.approx(np.array(hourly["precipitation_probability"][1:]) / 100)


def test_instants_are_the_mean_of_the_two_ends_of_the_hour(forecast):
    weather, hourly = read(forecast), forecast["hourly"]
    for field, name, factor in (
        ("temp_c", "temperature_2m", 1),
        ("dew_c", "dew_point_2m", 1),
        ("wind10_m_s", "wind_speed_10m", 1 / 3.6),
        ("cloud", "cloud_cover", 0.01),
    ):
        ends = np.array(hourly[name]) * factor
        assert getattr(weather, field) == pytest.approx((ends[1:] + ends[:-1]) / 2)


def test_local_stamps_stand_at_one_fixed_offset_even_across_a_change_of_summer_time():
    """A body over the autumn change: 24 labels a day, none twice, and UTC runs on without a step."""
    first = datetime(2026, 10, 31)  # noqa: DTZ001 (the service's labels carry no zone)
    labels = [(first + timedelta(hours=k)).strftime("%Y-%m-%dT%H:%M") for k in range(72)]
    weather = read(small(labels, offset=-18000))
    assert weather.starts_at(0) == datetime(2026, 10, 31, 5, tzinfo=UTC)
    assert weather.starts_at(weather.hours) == datetime(2026, 11, 3, 4, tzinfo=UTC)
    assert set(np.diff(weather.starts).astype(int)) == {3600}


def test_unix_seconds_and_local_labels_make_the_same_weather(forecast):
    bent = copy.deepcopy(forecast)
    offset = timedelta(seconds=bent["utc_offset_seconds"])
    bent["hourly"]["time"] = [
        int((datetime.fromisoformat(t) - offset).replace(tzinfo=UTC).timestamp())
        for t in bent["hourly"]["time"]
    ]
    bent["hourly_units"]["time"] = "unixtime"
    one, two = read(forecast), read(bent)
    assert (one.starts == two.starts).all()
    assert np.array_equal(one.rain_mm, two.rain_mm, equal_nan=True)


def test_labels_at_half_hours_are_set_back_to_the_hour_of_their_values():
    labels = [f"2026-06-17T{h:02d}:00" for h in range(24)]
    weather = read(small(labels, offset=19800))
    assert weather.starts_at(0) == datetime(2026, 6, 16, 18, tzinfo=UTC)
    assert "30 min past the UTC hour" in texts(weather, "told")


# units


@pytest.mark.parametrize(
    ("name", "unit", "value", "field", "expected"),
    [
        ("wind_speed_10m", "km/h", 36.0, "wind10_m_s", 10.0),
        ("wind_speed_10m", "mp/h", 10.0, "wind10_m_s", 4.4704),
        ("wind_speed_10m", "kn", 10.0, "wind10_m_s", 5.14444),
        ("wind_speed_10m", "m/s", 3.0, "wind10_m_s", 3.0),
        ("temperature_2m", "°F", 86.0, "temp_c", 30.0),
        ("dew_point_2m", "°F", 50.0, "dew_c", 10.0),
        ("precipitation", "inch", 0.5, "rain_mm", 12.7),
        ("shortwave_radiation", "W/m²", 500.0, "rs_mj_m2_h", 1.8),
    ],
)
def test_units_are_read_from_the_body_and_converted(name, unit, value, field, expected):
    body = small(**{name: value})
    body["hourly_units"][name] = unit
    assert getattr(read(body), field)[0] == pytest.approx(expected, rel=1e-4)


def test_seven_centimetres_of_snow_are_ten_millimetres_of_the_total():
    weather = read(small(precipitation=12.0, snowfall=7.0))
    assert weather.snow_mm[0] == pytest.approx(10.0)
    assert weather.rain_mm[0] == pytest.approx(12.0)
    assert read(small(precipitation=5.0, snowfall=7.0)).snow_mm[0] == pytest.approx(5.0)


@pytest.mark.parametrize("unit", ["undefined", "furlongs", None, 3], ids=str)
def test_an_unknown_unit_drops_the_variable_and_says_so(unit):
    body = small()
    body["hourly_units"]["wind_speed_10m"] = unit
    weather = read(body)
    assert np.isnan(weather.wind10_m_s).all()
    assert "left out wind" in texts(weather, "dropped")


def test_dew_point_is_made_from_humidity_only_where_it_is_missing():
    body = small(temperature_2m=25.0, relative_humidity_2m=50)
    del body["hourly"]["dew_point_2m"]
    weather = read(body)
    assert weather.dew_c[0] == pytest.approx(13.86, abs=0.02)  # FAO-56 equations 10, 11 and 14
    assert "made from humidity" in texts(weather, "repaired")
    assert "made from humidity" not in texts(read(small(relative_humidity_2m=50)))


# holes


def test_a_null_tail_is_unknown_and_never_dry():
    payload = reply("forecast_nulltail.json")
    weather = read(payload)
    known = [k for k, v in enumerate(payload["hourly"]["precipitation"]) if v is not None]
    assert 0 < known[-1] < len(payload["hourly"]["time"]) - 1
    assert np.isfinite(weather.rain_mm[: known[-1]]).all()
    assert np.isnan(weather.rain_mm[known[-1] :]).all()
    assert weather.sources[0].reaches_until == weather.starts_at(known[-1])
    assert set(weather.rain_basis[known[-1] :]) == {""}


def test_the_archives_last_days_are_unknown_and_the_credit_names_copernicus():
    weather = om.read_archive(reply("archive_era5_nulltail.json"), fetched_at=FETCHED)
    assert np.isnan(weather.rain_mm).any()
    assert np.isfinite(weather.rain_mm).any()
    assert np.isnan(weather.temp_c).all()
    assert "Copernicus Climate Change Service information 2026" in weather.sources[0].attribution


def test_hours_missing_in_the_middle_are_unknown_and_told():
    labels = [f"2026-06-17T{h:02d}:00" for h in range(24) if h not in (10, 11)]
    weather = read(small(labels))
    assert weather.hours == 23
    assert np.flatnonzero(np.isnan(weather.rain_mm)).tolist() == [9, 10]
    assert np.flatnonzero(np.isnan(weather.temp_c)).tolist() == [9, 10, 11]
    assert "2 hours are missing" in texts(weather, "warning")


def test_values_that_cannot_be_are_left_out_and_counted():
    body = small()
    body["hourly"]["precipitation"][3:6] = [-1.0, 400.0, "wet"]
    body["hourly"]["temperature_2m"][4] = 70.0
    weather = read(body)
    assert np.flatnonzero(np.isnan(weather.rain_mm)).tolist() == [2, 3, 4]
    assert np.flatnonzero(np.isnan(weather.temp_c)).tolist() == [3, 4]
    dropped = texts(weather, "dropped")
    assert "2 values of rain outside 0 to 150 mm" in dropped
    assert "1 value of rain, no numbers" in dropped
    assert "1 value of temperature outside -60 to 60 °C" in dropped


def test_a_column_of_another_length_is_left_out():
    body = small()
    body["hourly"]["precipitation"].pop()
    weather = read(body)
    assert np.isnan(weather.rain_mm).all()
    assert "23 values for 24 hours" in texts(weather, "dropped")
    assert "there is no rain" in texts(weather, "warning")


# errors


def bent(**change):
    body = small()
    for where, value in change.items():
        if where in ("time", *om.FULL):
            body["hourly"][where] = value
        else:
            body[where] = value
    return body


HOURS = [f"2026-06-17T{h:02d}:00" for h in range(24)]


@pytest.mark.parametrize(
    ("body", "words"),
    [
        pytest.param(
            {"error": True, "reason": "The service is overloaded"}, "overloaded", id="error under 200"
        ),
        pytest.param({"reason": "x", "error": True}, "reported an error: x", id="error, other key order"),
        pytest.param(None, "another shape", id="null"),
        pytest.param([], "another shape", id="empty list"),
        pytest.param([1, 2], "another shape", id="list of numbers"),
        pytest.param({}, "which place", id="empty object"),
        pytest.param(bent(latitude=None), "which place", id="no latitude"),
        pytest.param(bent(latitude=522.5), "which place", id="latitude out of range"),
        pytest.param(bent(hourly=None), "no hourly values", id="no hourly"),
        pytest.param(bent(hourly_units=[]), "no hourly values with their units", id="no units"),
        pytest.param(bent(time=[]), "fewer than two", id="no hours"),
        pytest.param(bent(time=[*HOURS[:22], HOURS[0], HOURS[23]]), "twice or out of order", id="order"),
        pytest.param(
            bent(time=[*HOURS[:5], HOURS[4], *HOURS[6:]]), "twice or out of order, at 2026", id="twice"
        ),
        pytest.param(bent(time=[*HOURS[:23], "soon"]), "cannot be read: 'soon'", id="a word for a time"),
        pytest.param(bent(time=[*HOURS[:23], 1781654400]), "neither all", id="mixed stamps"),
        pytest.param(bent(utc_offset_seconds=None), "offset from UTC", id="no offset"),
        pytest.param(bent(time=[3 * 3600 * k + 1781654400 for k in range(24)]), "180 min", id="3-hourly"),
        pytest.param(bent(time=[900 * k + 1781654400 for k in range(24)]), "15 min", id="quarter hours"),
        pytest.param(bent(time=[-3600 * k for k in range(10**6, 10**6 - 24, -1)]), "1940", id="1855"),
        pytest.param(
            bent(time=[1781654400 + 3600 * (k if k < 20 else k + 900) for k in range(24)]),
            "only 24 of",
            id="a hole of weeks",
        ),
        pytest.param(
            bent(precipitation=[None] * 24, temperature_2m=[None] * 24), "neither temperature", id="all null"
        ),
        pytest.param(reply("forecast_multilocation.json"), "sent 2 places", id="two places"),
    ],
)
def test_a_body_that_cannot_be_used_is_one_sentence(body, words):
    with pytest.raises(SourceError) as caught:
        read(body)
    assert words in str(caught.value)
    assert str(caught.value).startswith("Open-Meteo forecast: ")
    assert "\n" not in str(caught.value)


def test_several_places_come_as_a_list_in_order():
    found = om.read_forecasts(reply("forecast_multilocation.json"), fetched_at=FETCHED)
    assert len(found) == 2
    assert found[0].latitude_deg != found[1].latitude_deg


def test_the_credit_that_the_licence_asks_for_goes_with_the_weather(forecast):
    use = read(forecast).sources[0]
    assert "Weather data by Open-Meteo.com (https://open-meteo.com/)" in use.attribution
    assert "CC BY 4.0" in use.attribution
    assert "modified" in use.attribution
    assert use.fetched_at == FETCHED


# ensemble


def read_members(payload, **more):
    return om.read_ensemble(payload, fetched_at=FETCHED, **more)


def test_the_plain_column_is_the_control_and_31_members_result():
    payload = reply("ensemble.json")
    members = read_members(payload, asked=("gfs_seamless",))
    assert members.members_mm.shape == (31, 240)
    assert set(members.models) == {"gfs_seamless"}
    assert members.members_mm[0] == pytest.approx(np.array(payload["hourly"]["precipitation"]))
    first = datetime.fromisoformat(payload["hourly"]["time"][0]).replace(tzinfo=UTC)
    offset = timedelta(seconds=payload["utc_offset_seconds"])
    assert members.starts[0] == np.datetime64((first - offset - timedelta(hours=1)).replace(tzinfo=None))


def test_the_chance_of_a_nights_rain_exceeds_the_greatest_hourly_chance():
    """The night's chance is a share of members, not the greatest hourly chance."""
    members = read_members(reply("ensemble.json"))
    event = members.members_mm[:, 60:96]
    of_the_event = float((event.sum(axis=1) >= 0.1).mean())
    assert of_the_event > float((event >= 0.1).mean(axis=0).max())


def model_body(columns, hours=24):
    return {
        "latitude": 40.5,
        "longitude": -96.75,
        "hourly_units": {"time": "unixtime", **dict.fromkeys(columns, "mm")},
        "hourly": {"time": [1781740800 + 3600 * k for k in range(hours)], **columns},
    }


def test_several_models_are_pooled_by_their_suffix_and_siblings_are_no_members():
    members = read_members(
        model_body(
            {
                "precipitation_ncep_gefs_seamless": [0.1] * 24,
                "precipitation_member07_ncep_gefs_seamless": [0.2] * 24,
                "precipitation_icon_seamless_eps": [0.3] * 24,
                "precipitation_probability": [90] * 24,
                "precipitation_probability_icon_seamless_eps": [90] * 24,
                "precipitation_hours": [1] * 24,
                "precipitation_sum": [1] * 24,
                "precipitation_type": [1] * 24,
                "precipitation_previous_day1": [1] * 24,
                "precipitation_spread": [1] * 24,
                "precipitation_sum_member01": [1] * 24,
            }
        )
    )
    assert sorted(members.models) == ["icon_seamless_eps", "ncep_gefs_seamless", "ncep_gefs_seamless"]
    assert sorted(members.members_mm[:, 0]) == pytest.approx([0.1, 0.2, 0.3])


def test_a_body_without_suffixes_may_be_any_one_of_two_models_asked_for():
    """The suffix stands only when two models remain after those that do not cover the place."""
    body = model_body({"precipitation": [0.1] * 24, "precipitation_member01": [0.2] * 24})
    assert read_members(body, asked=("gfs_seamless", "icon_seamless")).models == ("one model",) * 2
    assert read_members(body, asked=("gfs_seamless",)).models == ("gfs_seamless",) * 2


def test_neither_current_nor_daily_values_are_read(forecast):
    """`current` is a sum of 15 minutes, `daily` runs from 23:00 to 23:00 and says 0 where it knows nothing."""
    bare = {
        k: v for k, v in forecast.items() if k not in ("current", "current_units", "daily", "daily_units")
    }
    assert np.array_equal(read(bare).rain_mm, read(forecast).rain_mm, equal_nan=True)


def test_dead_members_and_members_full_of_gaps_are_dropped_and_told():
    columns = {f"precipitation_member{k:02d}": [0.5] * 24 for k in range(1, 11)}
    columns["precipitation"] = [None] * 24
    columns["precipitation_member01"] = [0.5] * 18 + [None] * 6
    columns["precipitation_member02"] = [0.5] * 20 + [None] * 4
    members = read_members(model_body(columns))
    assert len(members.members_mm) == 9
    assert "2 of 11 members of one model are dead or full of gaps" in note_texts(members.notes)[-2]
    assert members.notes[-2].level == "dropped"


def test_a_model_of_shorter_horizon_is_not_taken_for_gaps():
    members = read_members(
        model_body(
            {
                **{f"precipitation_member{k:02d}_long": [0.5] * 24 for k in range(1, 6)},
                **{f"precipitation_member{k:02d}_short": [0.5] * 12 + [None] * 12 for k in range(1, 6)},
            }
        )
    )
    assert len(members.members_mm) == 10


def test_an_ensemble_with_most_members_dead_is_a_warning():
    columns = {f"precipitation_member{k:02d}": [None] * 24 for k in range(1, 11)}
    columns["precipitation"] = [0.5] * 24
    members = read_members(model_body(columns))
    assert len(members.members_mm) == 1
    assert "10 of 11 members" in " ".join(note_texts(members.notes, "warning"))


@pytest.mark.parametrize(
    "columns",
    [
        pytest.param({"precipitation": [None] * 24, "precipitation_member01": [None] * 24}, id="all dead"),
        pytest.param({"temperature_2m": [20] * 24}, id="no rain at all"),
        pytest.param({"precipitation": [0.1] * 23}, id="another length"),
    ],
)
def test_an_ensemble_without_a_living_member_is_an_error(columns):
    with pytest.raises(SourceError, match="no rain member that is alive"):
        read_members(model_body(columns))


def test_members_lie_on_the_weathers_own_hours_and_are_unknown_elsewhere(forecast):
    weather = with_members(read(forecast), read_members(reply("ensemble.json"), asked=("gfs_seamless",)))
    assert weather.members_mm.shape == (31, weather.hours)
    begin = weather.index_at(datetime(2026, 7, 15, 4, tzinfo=UTC))
    assert np.isnan(weather.members_mm[:, :begin]).all()
    assert np.isfinite(weather.members_mm[:, begin : begin + 240]).all()
    use = weather.sources[-1]
    assert (use.name, use.members) == ("Open-Meteo ensemble (gfs_seamless)", 31)
    mean = np.nanmean(weather.members_mm[:, begin : begin + 120].sum(axis=1))
    assert mean == pytest.approx(float(np.nansum(weather.rain_mm[begin : begin + 120])), rel=0.6)


# fetching, over real HTTP on loopback


@pytest.fixture
def client(tmp_path):
    return Client(
        user_agent_contact="owner@example.org",
        cache_dir=tmp_path,
        timeout=(0.5, 0.3),
        total_s=1.0,
        pause=lambda s: None,
    )


@pytest.fixture
def at_loopback(bad_server):
    return WeatherSettings(
        base_urls={
            "open_meteo": bad_server.serve("/v1/forecast", reply("forecast.json")),
            "open_meteo_ensemble": bad_server.serve("/v1/ensemble", reply("ensemble.json")),
            "open_meteo_archive": bad_server.serve("/v1/archive", reply("archive_era5_nulltail.json")),
        }
    )


def query(asked):
    from urllib.parse import parse_qs, urlsplit

    return {k: v[0] for k, v in parse_qs(urlsplit(asked[0]).query).items()}


def test_the_forecast_is_asked_for_in_utc_and_metres_a_second(client, bad_server, at_loopback):
    weather = om.get_forecast(client, PLACE, at_loopback, FETCHED)
    assert rain_of(weather, "2026-07-17T00:00", "2026-07-18T00:00") == pytest.approx(19.1)
    asked = query(bad_server.asked[0])
    assert asked["timezone"] == "GMT"
    assert asked["timeformat"] == "unixtime"
    assert asked["wind_speed_unit"] == "ms"
    assert (asked["latitude"], asked["longitude"], asked["elevation"]) == ("38.9700", "-95.2400", "268")
    assert (asked["past_days"], asked["forecast_days"]) == ("31", "11")
    assert "et0_fao_evapotranspiration" in asked["hourly"]


def test_the_ensemble_and_the_archive_are_asked_for_at_their_own_addresses(client, bad_server, at_loopback):
    settings_ = replace(at_loopback, ensemble_models=("gfs_seamless", "ecmwf_ifs025"))
    assert len(om.get_ensemble(client, PLACE, settings_, FETCHED).members_mm) == 31
    archive = om.get_archive(
        client, PLACE, settings_, FETCHED, first=date(2026, 7, 8), last=date(2026, 7, 14)
    )
    assert archive.sources[0].name == "Open-Meteo archive"
    ensemble, past = map(query, bad_server.asked)
    assert (ensemble["models"], ensemble["hourly"]) == ("gfs_seamless,ecmwf_ifs025", "precipitation")
    assert (past["start_date"], past["end_date"], past["models"]) == (
        "2026-07-08",
        "2026-07-14",
        "era5_seamless",
    )


def test_several_sites_are_one_request(client, bad_server, at_loopback):
    bad_server.serve("/v1/forecast", reply("forecast_multilocation.json"))
    other = replace(PLACE, name="Second", latitude_deg=39.11, longitude_deg=-94.63)
    found = om.get_forecasts(client, [PLACE, other], at_loopback, FETCHED)
    assert len(found) == 2
    assert query(bad_server.asked[0])["latitude"] == "38.9700,39.1100"
    assert len(bad_server.asked) == 1


def test_one_refused_variable_costs_a_second_request_for_the_core_and_is_told(
    client, bad_server, at_loopback
):
    bad_server.behave("400", "well", path="/v1/forecast")
    weather = om.get_forecast(client, PLACE, at_loopback, FETCHED)
    assert "only temperature_2m, dew_point_2m" in texts(weather, "warning")
    assert query(bad_server.asked[1])["hourly"] == ",".join(om.CORE)


def test_a_request_that_stays_refused_is_asked_twice_and_no_more(client, bad_server, at_loopback):
    bad_server.behave("400")
    with pytest.raises(SourceError, match="400: Data corrupted"):
        om.get_forecast(client, PLACE, at_loopback, FETCHED)
    assert len(bad_server.asked) == 2


def test_a_refused_model_costs_a_second_request_for_the_usual_one(client, bad_server, at_loopback):
    bad_server.behave("400", "well", path="/v1/ensemble")
    members = om.get_ensemble(
        client, PLACE, replace(at_loopback, ensemble_models=("no_such_model",)), FETCHED
    )
    assert "only the model gfs_seamless" in note_texts(members.notes)[0]
    assert query(bad_server.asked[1])["models"] == "gfs_seamless"


def test_an_answer_for_a_far_place_is_refused(client, at_loopback):
    far = replace(PLACE, latitude_deg=51.5, longitude_deg=-0.1)
    with pytest.raises(SourceError, match="km from Larkmoor Lane"):
        om.get_forecast(client, far, at_loopback, FETCHED)


def test_the_date_line_is_no_distance(client, bad_server, at_loopback):
    bad_server.serve("/v1/forecast", {**reply("forecast.json"), "latitude": -16.5, "longitude": -179.99})
    island = replace(PLACE, latitude_deg=-16.5, longitude_deg=179.99)
    assert om.get_forecast(client, island, at_loopback, FETCHED).longitude_deg == pytest.approx(-179.99)


def test_an_old_answer_is_told_with_its_age_and_the_reason(client, bad_server, at_loopback):
    om.get_forecast(client, PLACE, at_loopback, FETCHED)
    om.get_ensemble(client, PLACE, at_loopback, FETCHED)
    bad_server.behave("503")
    weather = om.get_forecast(client, PLACE, at_loopback, FETCHED + timedelta(hours=9))
    members = om.get_ensemble(client, PLACE, at_loopback, FETCHED + timedelta(hours=9))
    assert weather.sources[0].fetched_at == members.fetched_at == FETCHED
    assert "overloaded" in texts(weather, "warning")
    assert "overloaded" in note_texts(members.notes)[0]


@pytest.mark.parametrize("behaviour", ["wrong shape", "error under 200", "a list of numbers", "cut short"])
def test_nonsense_under_200_does_not_replace_the_good_answer(client, bad_server, at_loopback, behaviour):
    om.get_forecast(client, PLACE, at_loopback, FETCHED)
    bad_server.behave(behaviour)
    for hours in (2, 4):
        weather = om.get_forecast(client, PLACE, at_loopback, FETCHED + timedelta(hours=hours))
        assert weather.sources[0].fetched_at == FETCHED
        assert "is used" in texts(weather, "warning")


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("error_429_minutely.json", "ask again in about a minute and a half"),
        ("error_429_hourly.json", "ask again after 19:02 UTC"),
        ("error_429_daily.json", "ask again after 2026-07-16 00:02 UTC"),
        ("error_429_concurrent.json", "ask again in a few seconds"),
    ],
)
@responses.activate
def test_a_used_up_allowance_says_when_to_ask_again(name, words):
    responses.get(om.BASE_URLS["open_meteo"], status=429, json=reply(name))
    client = Client(user_agent_contact="", cache_dir=None, pause=lambda s: None)
    with pytest.raises(SourceError) as caught:
        om.get_forecast(client, PLACE, WeatherSettings(), FETCHED)
    assert words in str(caught.value)
    assert len(responses.calls) == 1


@pytest.mark.parametrize(
    ("status", "name", "words"),
    [
        (400, "error_400_range.json", "400: Latitude must be in range"),
        (400, "error_400_variable.json", "400: Data corrupted"),
        (503, "error_503_overloaded.json", "503: The service is overloaded"),
        (200, "200_invalid_nan.txt", "broken JSON"),
    ],
)
@responses.activate
def test_a_stored_error_body_is_one_sentence(status, name, words):
    body = (REPLIES / name).read_text("utf-8")
    responses.get(om.BASE_URLS["open_meteo"], status=status, body=body, content_type="application/json")
    client = Client(user_agent_contact="", cache_dir=None, pause=lambda s: None)
    with pytest.raises(SourceError, match=words):
        om.get_forecast(client, PLACE, WeatherSettings(), FETCHED)


@responses.activate
def test_a_stream_that_ends_in_an_error_message_is_broken_json():
    body = (REPLIES / "forecast.json").read_text("utf-8")[:2000] + "Unexpected error while streaming data: x"
    responses.get(om.BASE_URLS["open_meteo"], body=body, content_type="application/json")
    client = Client(user_agent_contact="", cache_dir=None)
    with pytest.raises(SourceError, match=r"near '.*Unexpected error"):
        om.get_forecast(client, PLACE, WeatherSettings(), FETCHED)


# any payload at all

JUNK = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(10**30), 10**30),
    st.floats(allow_nan=True, allow_infinity=True),
    st.text(max_size=5),
    st.lists(st.one_of(st.none(), st.integers(-5, 5), st.text(max_size=2)), max_size=30),
    st.dictionaries(st.text(max_size=3), st.integers(), max_size=2),
)


def or_one_sentence(act):
    """What `act` gives, or None when it is a SourceError of one line; anything else is raised."""
    try:
        return act()
    except SourceError as error:
        if "\n" in str(error):
            pytest.fail("an error of several lines")
        return None


def check_never_a_silent_zero(weather, body):
    assert isinstance(weather, Weather)
    for name in SERIES:
        assert getattr(weather, name).shape == (weather.hours,)
    given_rain = body["hourly"].get("precipitation")
    known = np.flatnonzero(np.isfinite(weather.rain_mm))
    if not isinstance(given_rain, list):
        assert len(known) == 0
        return
    stamped = {}
    for t, mm in zip(body["hourly"]["time"], given_rain, strict=False):
        when = datetime.fromisoformat(t) if isinstance(t, str) else datetime.fromtimestamp(t, UTC)
        offset = timedelta(seconds=body["utc_offset_seconds"]) if isinstance(t, str) else timedelta(0)
        stamped[(when.replace(tzinfo=UTC) - offset).timestamp() // 3600 * 3600] = mm
    for k in known:
        assert type(stamped[weather.starts_at(int(k) + 1).timestamp()]) in (int, float)


@settings(max_examples=120, deadline=None)
@given(st.data())
def test_a_bent_forecast_is_weather_or_one_sentence_and_never_a_silent_zero(data):
    body = small()
    for _ in range(data.draw(st.integers(1, 4))):
        target = data.draw(st.sampled_from([body, body.get("hourly"), body.get("hourly_units")]))
        if not isinstance(target, dict) or not target:
            continue
        key = data.draw(st.sampled_from(sorted(target)))
        act = data.draw(st.sampled_from(["drop", "junk", "one value", "swap", "shorten", "nulls"]))
        column = target[key]
        if act == "drop":
            del target[key]
        elif act == "junk":
            target[key] = data.draw(JUNK)
        elif isinstance(column, list) and column:
            if act == "one value":
                target[key] = [*column]
                target[key][data.draw(st.integers(0, len(column) - 1))] = data.draw(JUNK)
            elif act == "swap":
                target[key] = column[::-1]
            elif act == "shorten":
                target[key] = column[: data.draw(st.integers(0, len(column)))]
            else:
                target[key] = [None] * len(column)
    weather = or_one_sentence(lambda: read(body))
    if weather is not None:
        check_never_a_silent_zero(weather, body)


@settings(max_examples=60, deadline=None)
@given(
    st.dictionaries(
        st.sampled_from(
            ["precipitation", *[f"precipitation_member{k:02d}" for k in range(1, 6)], "precipitation_sum"]
        ),
        st.one_of(JUNK, st.lists(st.one_of(st.none(), st.floats(0, 5)), min_size=24, max_size=24)),
        max_size=6,
    )
)
def test_a_bent_ensemble_is_members_or_one_sentence(columns):
    body = model_body(columns)
    members = or_one_sentence(lambda: read_members(body))
    if members is not None:
        for row in members.members_mm:
            assert np.isfinite(row).any()
        assert len(members.members_mm) <= sum(isinstance(c, list) for c in columns.values())


@settings(max_examples=60, deadline=None)
@given(JUNK)
def test_any_json_at_all_is_one_sentence(body):
    with pytest.raises(SourceError):
        read(body)
    with pytest.raises(SourceError):
        read_members(body)
