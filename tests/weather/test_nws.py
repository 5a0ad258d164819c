"""The US service's layers become Weather: intervals, units, office horizons, observations, errors."""

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
from advisor.weather.reading import duration
from advisor.weather.sources import nws, nws_observed
from advisor.weather.weather import SERIES, Weather

REPLIES = Path(__file__).parents[1] / "replies" / "nws"
FETCHED = datetime(2026, 7, 15, 18, 17, 24, tzinfo=UTC)
PLACE = Place("Larkmoor Lane", 38.97, -95.24, 268.0, ZoneInfo("America/Chicago"), "us", "US", "a@example.org")


def reply(name: str) -> Any:
    return json.loads((REPLIES / f"{name}.json").read_text("utf-8"))


def read(payload: Any, fetched_at: datetime = FETCHED) -> Weather:
    return nws.read_forecast(
        payload, latitude_deg=38.97, longitude_deg=-95.24, elevation_m=268.0, fetched_at=fetched_at
    )


def layer(uom: str, *values: tuple[str, Any]) -> dict[str, Any]:
    return {"uom": uom, "values": [{"validTime": t, "value": v} for t, v in values]}


def made(**layers: Any) -> dict[str, Any]:
    """Two days from 18:00 on: 20 °C, 60 %, 5 m/s, half cloud, 6 mm then nothing."""
    whole = "2026-07-15T18:00:00+00:00/P2D"
    properties = {
        "updateTime": "2026-07-15T17:52:13+00:00",
        "temperature": layer("wmoUnit:degC", (whole, 20.0)),
        "dewpoint": layer("wmoUnit:degC", (whole, 12.0)),
        "relativeHumidity": layer("wmoUnit:percent", (whole, 60)),
        "windSpeed": layer("wmoUnit:km_h-1", (whole, 18.0)),
        "skyCover": layer("wmoUnit:percent", (whole, 50)),
        "quantitativePrecipitation": layer(
            "wmoUnit:mm",
            ("2026-07-15T18:00:00+00:00/PT6H", 6.0),
            ("2026-07-16T00:00:00+00:00/PT6H", 0),
        ),
        "probabilityOfPrecipitation": layer(
            "wmoUnit:percent",
            ("2026-07-15T18:00:00+00:00/PT6H", 70),
            ("2026-07-16T00:00:00+00:00/PT6H", 20),
        ),
        "snowfallAmount": {"values": []},
    }
    return {"properties": properties | layers}


@pytest.mark.parametrize(
    ("text", "hours"),
    [("PT6H", 6.0), ("P1DT6H", 30.0), ("P7DT13H", 181.0), ("P4D", 96.0), ("PT90M", 1.5), ("P1W", 168.0)],
)
def test_iso_durations_of_every_kind_are_understood(text: str, hours: float) -> None:
    assert duration(text) == timedelta(hours=hours)


@pytest.mark.parametrize("text", ["", "P", "PT", "6H", "PT6", "P1Y", "PT-6H", "NOW"])
def test_what_is_no_duration_is_none(text: str) -> None:
    assert duration(text) is None


def test_amounts_are_prorated_over_their_interval_and_states_repeated() -> None:
    weather = read(made())
    assert weather.rain_mm[:12] == pytest.approx(np.r_[np.full(6, 1.0), np.zeros(6)])
    assert weather.temp_c == pytest.approx(np.full(48, 20.0))
    assert weather.wind10_m_s == pytest.approx(np.full(48, 5.0))
    assert weather.cloud == pytest.approx(np.full(48, 0.5))


def test_a_stored_forecast_adds_up_to_its_own_bins() -> None:
    payload = reply("gridpoint")
    bins = payload["properties"]["quantitativePrecipitation"]["values"]
    want = sum(row["value"] for row in bins[1:])  # the first bin is past
    assert np.nansum(read(payload).rain_mm) == pytest.approx(want)


def test_the_part_of_an_interval_that_is_past_is_cut_off() -> None:
    rain = layer("wmoUnit:mm", ("2026-07-15T12:00:00+00:00/PT12H", 12.0))
    weather = read(made(quantitativePrecipitation=rain))
    assert weather.starts_at(0) == datetime(2026, 7, 15, 18, tzinfo=UTC)
    assert np.nansum(weather.rain_mm) == pytest.approx(6.0)


def test_a_bin_across_local_midnight_is_shared_between_the_days() -> None:
    rain = layer("wmoUnit:mm", ("2026-07-16T00:00:00+00:00/PT6H", 6.0))  # 19:00 to 01:00 in Kansas
    weather = read(made(quantitativePrecipitation=rain))
    midnight = weather.index_at(datetime(2026, 7, 16, tzinfo=ZoneInfo("America/Chicago")))
    assert np.nansum(weather.rain_mm[:midnight]) == pytest.approx(5.0)
    assert np.nansum(weather.rain_mm[midnight:]) == pytest.approx(1.0)


@pytest.mark.parametrize("hours", [84, 96, 109], ids=["84 h", "96 h", "109 h"])
def test_beyond_the_offices_horizon_rain_is_unknown_and_not_dry(hours: int) -> None:
    payload = reply("gridpoint")
    first = datetime(2026, 7, 15, 12, tzinfo=UTC)
    bins = payload["properties"]["quantitativePrecipitation"]["values"]
    kept = [r for r in bins if nws.interval(r["validTime"])[1] <= first + timedelta(hours=hours)]
    payload["properties"]["quantitativePrecipitation"]["values"] = kept
    end = nws.interval(kept[-1]["validTime"])[1]
    weather = read(payload)
    at = weather.index_at(end)
    assert np.isfinite(weather.rain_mm[:at]).all()
    assert np.isnan(weather.rain_mm[at:]).all()
    assert np.isnan(weather.members_mm[:, at:]).all()
    assert np.isfinite(weather.temp_c[at:]).any()
    assert weather.sources[0].reaches_until == end


def test_a_null_is_unknown_and_not_zero() -> None:
    rain = layer(
        "wmoUnit:mm", ("2026-07-15T18:00:00+00:00/PT6H", None), ("2026-07-16T00:00:00+00:00/PT6H", 3.0)
    )
    weather = read(made(quantitativePrecipitation=rain))
    assert np.isnan(weather.rain_mm[:6]).all()
    assert weather.rain_mm[6:12].sum() == pytest.approx(3.0)


def test_an_empty_layer_without_a_unit_is_unknown_and_no_error() -> None:
    weather = read(made(windSpeed={"values": []}, skyCover={"values": []}))
    assert np.isnan(weather.wind10_m_s).all()
    assert np.isnan(weather.rs_mj_m2_h).all()


@pytest.mark.parametrize(
    ("name", "uom", "value", "series", "want"),
    [
        ("temperature", "unit:degF", 68.0, "temp_c", 20.0),
        ("temperature", "wmoUnit:K", 293.15, "temp_c", 20.0),
        ("windSpeed", "wmoUnit:m_s-1", 5.0, "wind10_m_s", 5.0),
        ("windSpeed", "wmoUnit:kt", 10.0, "wind10_m_s", 5.144),
    ],
    ids=["°F by the older prefix", "kelvin", "m/s", "knots"],
)
def test_units_are_converted_by_what_the_layer_says(
    name: str, uom: str, value: float, series: str, want: float
) -> None:
    weather = read(made(**{name: layer(uom, ("2026-07-15T18:00:00+00:00/P2D", value))}))
    assert getattr(weather, series)[0] == pytest.approx(want, abs=1e-3)


def test_rain_in_metres_or_inches_is_still_millimetres() -> None:
    for uom, value in (("wmoUnit:m", 0.006), ("unit:inch", 6.0 / 25.4)):
        rain = layer(uom, ("2026-07-15T18:00:00+00:00/PT6H", value))
        assert np.nansum(read(made(quantitativePrecipitation=rain)).rain_mm) == pytest.approx(6.0)


def test_a_unit_of_another_quantity_is_refused() -> None:
    odd = layer("wmoUnit:percent", ("2026-07-15T18:00:00+00:00/P2D", 20.0))
    with pytest.raises(SourceError, match=r"gives temperature in 'wmoUnit:percent'"):
        read(made(temperature=odd))


def test_the_share_of_wet_members_and_their_mean_are_the_services_own() -> None:
    weather = read(made())
    totals = weather.members_mm[:, :6].sum(axis=1)
    assert (totals > 0).mean() == pytest.approx(0.7, abs=1 / 62)
    assert totals.mean() == pytest.approx(6.0, rel=0.01)


def test_a_merged_chance_belongs_to_each_of_its_periods_and_not_to_their_sum() -> None:
    t = "2026-07-1{}T{:02d}:00:00+00:00/PT6H"
    times = [t.format(5, 18), t.format(6, 0), t.format(6, 6), t.format(6, 12), t.format(6, 18)]
    rain = layer("wmoUnit:mm", *[(time, 2.0) for time in times])
    chance = layer(
        "wmoUnit:percent",
        ("2026-07-15T18:00:00+00:00/PT6H", 60),
        ("2026-07-16T00:00:00+00:00/PT6H", 50),
        ("2026-07-16T06:00:00+00:00/P1D", 40),
    )
    weather = read(made(quantitativePrecipitation=rain, probabilityOfPrecipitation=chance))
    for first, share in ((0, 0.6), (6, 0.5), (12, 0.4), (18, 0.4), (24, 0.4)):
        wet = weather.members_mm[:, first : first + 6].sum(axis=1) > 0
        assert wet.mean() == pytest.approx(share, abs=1 / 62)


def test_a_twelve_hour_chance_is_not_taken_for_each_of_its_six_hour_bins() -> None:
    first = datetime(2026, 7, 15, 18, tzinfo=UTC)
    bins = [f"{first + timedelta(hours=6 * k):%Y-%m-%dT%H:%M:%S}+00:00/PT6H" for k in range(8)]
    halves = [f"{first + timedelta(hours=12 * k):%Y-%m-%dT%H:%M:%S}+00:00/PT12H" for k in range(4)]
    weather = read(
        made(
            quantitativePrecipitation=layer("wmoUnit:mm", *[(t, 1.0) for t in bins]),
            probabilityOfPrecipitation=layer("wmoUnit:percent", *zip(halves, (30, 60, 40, 50), strict=True)),
        )
    )
    wet = weather.members_mm[:, 12:24].sum(axis=1) > 0
    assert wet.mean() == pytest.approx(0.6, abs=1 / 62)


def test_hourly_chances_are_kept_as_hourly() -> None:
    first = datetime(2026, 7, 15, 18, tzinfo=UTC)
    hours = [f"{first + timedelta(hours=k):%Y-%m-%dT%H:%M:%S}+00:00/PT1H" for k in range(6)]
    chance = layer("wmoUnit:percent", *zip(hours, (10, 20, 30, 40, 50, 60), strict=True))
    weather = read(made(probabilityOfPrecipitation=chance))
    assert weather.chance[:6] == pytest.approx([0.1, 0.2, 0.3, 0.4, 0.5, 0.6])


def test_radiation_comes_from_sky_cover_and_it_is_said() -> None:
    weather = read(reply("gridpoint"))
    day = weather.rs_mj_m2_h[weather.index_at(datetime(2026, 7, 16, 5, tzinfo=UTC)) :][:24]
    # 27.4 MJ/m² by the radiation that the same made weather has elsewhere; the method's own error is 2.5.
    assert day.sum() == pytest.approx(27.4, abs=2.5)
    assert any(
        "gives no radiation, so it is made from cloud cover" in text for text in note_texts(weather.notes)
    )


def test_snowfall_is_a_depth_of_snow_and_not_added_as_water() -> None:
    cold = layer("wmoUnit:degC", ("2026-07-15T18:00:00+00:00/P2D", -2.0))
    deep = layer("wmoUnit:mm", ("2026-07-15T18:00:00+00:00/PT6H", 60.0))
    weather = read(made(temperature=cold, snowfallAmount=deep))
    assert np.nansum(weather.rain_mm) == pytest.approx(6.0)
    assert np.nansum(weather.snow_mm) == pytest.approx(6.0)


@pytest.mark.parametrize("x", [77, "77"], ids=["number", "text"])
def test_the_grid_square_comes_as_numbers_or_as_text(x: Any) -> None:
    payload = reply("points")
    payload["properties"]["gridX"] = x
    assert nws.grid_in(payload) == "TOP/77,66"


@pytest.mark.parametrize("x", [None, "../7", 7.5, "x"])
def test_a_grid_square_that_is_none_is_refused(x: Any) -> None:
    payload = reply("points")
    payload["properties"]["gridX"] = x
    with pytest.raises(SourceError, match="grid square"):
        nws.grid_in(payload)


@pytest.mark.parametrize(
    "payload",
    [None, [], "x", {"properties": {}}, {"properties": {"temperature": {"values": []}}}],
    ids=["null", "list", "text", "no layers", "empty layers"],
)
def test_what_is_not_a_forecast_is_one_sentence(payload: Any) -> None:
    with pytest.raises(SourceError, match=r"^US National Weather Service: sent [^\n]+$"):
        read(payload)


def test_a_problem_body_says_what_the_service_said() -> None:
    with pytest.raises(SourceError, match="has expired"):
        read(reply("error_503_gridexpired"))


def test_a_forecast_that_is_over_is_refused() -> None:
    with pytest.raises(SourceError, match="before it was fetched"):
        read(made(), fetched_at=datetime(2026, 8, 20, tzinfo=UTC))


def client() -> Client:
    return Client(user_agent_contact="owner@example.org", cache_dir=None, pause=lambda s: None)


def settings_for(server: Any) -> WeatherSettings:
    return WeatherSettings(base_urls={"nws": server.url})


def serve_all(server: Any) -> None:
    server.serve("/points/38.9700,-95.2400", reply("points"))
    server.serve("/gridpoints/TOP/77,66", reply("gridpoint"))
    server.serve("/gridpoints/TOP/77,66/stations", reply("gridpoint_stations"))
    server.serve("/stations/KXXX/observations", reply("observations"))


def test_the_point_leads_to_the_grid_and_the_addresses_stay_on_the_configured_server(bad_server: Any) -> None:
    serve_all(bad_server)
    weather = nws.get_forecast(client(), PLACE, settings_for(bad_server), FETCHED)
    assert np.nansum(weather.rain_mm) == pytest.approx(20.32)
    paths = [path for path, _ in bad_server.asked]
    assert paths == ["/points/38.9700,-95.2400", "/gridpoints/TOP/77,66"]
    assert "owner@example.org" in bad_server.asked[0][1]["user-agent"]
    assert bad_server.asked[0][1]["accept"] == "application/geo+json"


def test_the_grid_square_is_kept_and_not_asked_for_again(bad_server: Any, tmp_path: Path) -> None:
    serve_all(bad_server)
    keeping = Client(user_agent_contact="a@example.org", cache_dir=tmp_path)
    nws.get_forecast(keeping, PLACE, settings_for(bad_server), FETCHED)
    nws.get_forecast(keeping, PLACE, settings_for(bad_server), FETCHED + timedelta(days=3))
    assert [p for p, _ in bad_server.asked].count("/points/38.9700,-95.2400") == 1


def test_a_grid_square_that_is_gone_is_looked_up_anew(bad_server: Any, tmp_path: Path) -> None:
    serve_all(bad_server)
    old = reply("points")
    old["properties"]["gridX"] = 12
    bad_server.serve("/points/38.9700,-95.2400", old)
    bad_server.behave("404", path="/gridpoints/TOP/12,66")
    keeping = Client(user_agent_contact="a@example.org", cache_dir=tmp_path, pause=lambda s: None)
    with pytest.raises(SourceError, match="404"):
        nws.get_forecast(keeping, PLACE, settings_for(bad_server), FETCHED)
    bad_server.serve("/points/38.9700,-95.2400", reply("points"))
    weather = nws.get_forecast(keeping, PLACE, settings_for(bad_server), FETCHED + timedelta(hours=1))
    assert np.nansum(weather.rain_mm) == pytest.approx(20.32)


@pytest.mark.parametrize("behaviour", ["500", "503", "wrong shape", "html", "cut off", "a list of numbers"])
def test_a_service_that_misbehaves_is_one_sentence(bad_server: Any, behaviour: str) -> None:
    serve_all(bad_server)
    bad_server.behave(behaviour)
    with pytest.raises(SourceError, match=r"^US National Weather Service: [^\n]+$"):
        nws.get_forecast(client(), PLACE, settings_for(bad_server), FETCHED)


def test_observed_hours_come_from_the_nearest_station(bad_server: Any) -> None:
    serve_all(bad_server)
    hours = nws_observed.get_observations(client(), PLACE, settings_for(bad_server), FETCHED)
    assert sum(hour.rain_mm or 0.0 for hour in hours) == pytest.approx(1.778)
    assert "start=2026-07-08T18" in bad_server.asked[-1][0]


def test_a_special_report_repeats_its_hour_and_is_not_added() -> None:
    hours = {h.starts_at: h for h in nws_observed.read_observations(reply("observations"))}
    # 0.508 mm in a special report at 05:20, 0.762 mm in the routine one at 05:52: the hour had 0.762 mm.
    assert hours[datetime(2026, 7, 15, 5, tzinfo=UTC)].rain_mm == pytest.approx(0.762)
    assert hours[datetime(2026, 7, 15, 4, tzinfo=UTC)].rain_mm == pytest.approx(1.016)


def test_an_amount_that_was_not_reported_is_unknown_and_not_dry() -> None:
    hours = {h.starts_at: h for h in nws_observed.read_observations(reply("observations"))}
    quiet = hours[datetime(2026, 7, 15, 12, tzinfo=UTC)]
    assert quiet.rain_mm is None
    assert quiet.temp_c is not None


def report(at: str, value: Any, unit: str = "wmoUnit:mm", quality: str = "V", raw: str = "KXXX METAR") -> Any:
    amount = {"unitCode": unit, "value": value, "qualityControl": quality}
    return {"properties": {"timestamp": at, "rawMessage": raw, "precipitationLastHour": amount}}


@pytest.mark.parametrize(
    ("rows", "rain"),
    [
        ([report("2026-07-15T05:52:00+00:00", 0.002, "wmoUnit:m")], 2.0),
        ([report("2026-07-15T05:52:00+00:00", 2.0, quality="X")], None),
        ([report("2026-07-15T05:52:00+00:00", -1.0)], None),
        ([report("2026-07-15T05:20:00+00:00", 2.0)], None),
        ([report("2026-07-15T05:52:00+00:00", 2.0), report("2026-07-15T05:40:00+00:00", 9.0, raw="")], 2.0),
    ],
    ids=["metres", "rejected", "negative", "only a special report", "no raw text"],
)
def test_only_a_sound_routine_report_counts(rows: list[Any], rain: float | None) -> None:
    (hour,) = nws_observed.read_observations({"features": rows})
    assert hour.starts_at == datetime(2026, 7, 15, 5, tzinfo=UTC)
    assert hour.rain_mm == (pytest.approx(rain) if rain is not None else None)


def test_no_station_near_is_one_sentence(bad_server: Any) -> None:
    serve_all(bad_server)
    far = reply("gridpoint_stations")
    far["features"][0]["geometry"]["coordinates"] = [-97.0, 40.0]
    bad_server.serve("/gridpoints/TOP/77,66/stations", far)
    with pytest.raises(SourceError, match="no station within 25 km"):
        nws_observed.get_observations(client(), PLACE, settings_for(bad_server), FETCHED)


def test_a_place_outside_the_country_is_told_so(bad_server: Any) -> None:
    import responses

    with responses.RequestsMock() as mock:
        mock.get(
            "https://api.weather.gov/points/38.9700,-95.2400",
            json=reply("error_404_invalidpoint"),
            status=404,
            content_type="application/problem+json",
        )
        with pytest.raises(SourceError, match="serves the United States only"):
            nws.get_forecast(client(), PLACE, WeatherSettings(), FETCHED)


JUNK = st.one_of(
    st.none(), st.booleans(), st.integers(-(10**12), 10**12), st.floats(), st.text(max_size=8),
    st.just([]), st.just({}), st.just("2026-07-15T18:00:00+00:00/P99W"), st.just("9999-12-31T23:00:00Z/P9D"),
)  # fmt: skip


def bent(payload: Any, data: st.DataObject) -> Any:
    """`payload` with a few of its values, anywhere, exchanged for junk or taken out."""
    payload = copy.deepcopy(payload)
    for _ in range(data.draw(st.integers(1, 4))):
        node, parent, key = payload, None, None
        while isinstance(node, dict | list) and node and data.draw(st.integers(0, 6)) > 0:
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
def test_a_bent_forecast_is_weather_or_one_sentence_and_never_a_silent_zero(data: st.DataObject) -> None:
    rain = layer(
        "wmoUnit:mm", ("2026-07-15T18:00:00+00:00/PT6H", 6.0), ("2026-07-16T00:00:00+00:00/PT6H", 3.0)
    )
    payload = bent(made(quantitativePrecipitation=rain), data)
    told, weather = "", None
    try:
        weather = read(payload)
    except SourceError as error:
        told = str(error)
    if weather is None:
        assert told.startswith("US National Weather Service: ")
        assert "\n" not in told
        return
    assert all(getattr(weather, name).shape == (weather.hours,) for name in SERIES)
    assert weather.members_mm.shape == (31, weather.hours)
    bins = payload["properties"]["quantitativePrecipitation"]["values"]
    given_zero = any(isinstance(row, dict) and row.get("value") == 0 for row in bins)
    assert given_zero or not (weather.rain_mm == 0.0).any()


@settings(max_examples=40, deadline=None)
@given(st.data())
def test_bent_observations_are_hours_or_one_sentence(data: st.DataObject) -> None:
    rows = [report(f"2026-07-15T{h:02d}:52:00+00:00", 1.0) for h in range(4)]
    told = ""
    hours: tuple[Any, ...] = ()
    try:
        hours = nws_observed.read_observations(bent({"features": rows}, data))
    except SourceError as error:
        told = str(error)
    assert hours or told.startswith("US National Weather Service: ")
    assert "\n" not in told
