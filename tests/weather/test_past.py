from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made import note_texts

from advisor.lawn.records import ArchivedHour, GaugeReading
from advisor.weather.past import settle_past
from advisor.weather.weather import Weather, blank, hours_between

START = datetime(2026, 6, 14, tzinfo=UTC)
NOW = START + timedelta(hours=72, minutes=15)


def _at(hours: float) -> datetime:
    return START + timedelta(hours=hours)


def _weather(rain: dict[int, float] | None = None, temp: float = 15.0) -> Weather:
    base = blank(47.0, 8.0, 400.0, hours_between(START, _at(120)), 2)
    series = np.zeros(120)
    for hour, amount in (rain or {}).items():
        series[hour] = amount
    return replace(
        base,
        rain_mm=series,
        temp_c=np.full(120, temp),
        snow_mm=np.zeros(120),
        rain_basis=np.full(120, "model", dtype="<U8"),
    )


def _settle(weather: Weather, *gauge: GaugeReading, archive: tuple[ArchivedHour, ...] = ()) -> Weather:
    return settle_past(weather, gauge=gauge, archive=archive, now=NOW)


def test_without_records_the_sources_own_past_stands() -> None:
    weather = _weather({10: 3.0})
    assert _settle(weather) is weather


def test_a_gauge_total_is_spread_over_its_hours_by_the_modelled_shape() -> None:
    settled = _settle(_weather({50: 1.0, 51: 3.0}), GaugeReading(_at(60), 8.0, since=_at(40)))
    assert settled.rain_mm[50] == pytest.approx(2.0)
    assert settled.rain_mm[51] == pytest.approx(6.0)
    assert settled.rain_mm.sum() == pytest.approx(8.0)
    assert (settled.rain_basis[40:60] == "gauge").all()
    assert set(settled.rain_basis[:40]) | set(settled.rain_basis[60:]) == {"model"}


def test_a_gauge_total_where_the_model_was_dry_is_spread_evenly_and_said() -> None:
    settled = _settle(_weather(), GaugeReading(_at(60), 5.0, since=_at(50)))
    assert settled.rain_mm[50:60] == pytest.approx(np.full(10, 0.5))
    assert any("spread evenly" in text for text in note_texts(settled.notes))


def test_an_empty_gauge_takes_away_the_models_rain() -> None:
    settled = _settle(_weather({50: 12.0}), GaugeReading(_at(60), 0.0, since=_at(40)))
    assert settled.rain_mm.sum() == 0.0
    assert settled.rain_basis[50] == "gauge"


def test_a_reading_covers_the_time_since_the_last_one() -> None:
    settled = _settle(
        _weather({20: 1.0, 45: 1.0}),
        GaugeReading(_at(30), 0.0, since=_at(24)),
        GaugeReading(_at(48), 7.0),
    )
    assert settled.rain_mm[20] == 1.0  # before the first reading: the model's
    assert settled.rain_mm[45] == pytest.approx(7.0)
    assert (settled.rain_basis[24:48] == "gauge").all()


def test_the_first_reading_without_a_beginning_covers_24_hours_and_it_is_said() -> None:
    settled = _settle(_weather({10: 2.0, 40: 2.0}), GaugeReading(_at(48), 6.0))
    assert settled.rain_mm[10] == 2.0
    assert settled.rain_mm[40] == pytest.approx(6.0)
    assert "The first gauge reading is taken to cover 24 hours." in note_texts(settled.notes)


@pytest.mark.parametrize(
    ("readings", "words"),
    [(1, "Past rain is from 1 gauge reading, spread"), (2, "Past rain is from 2 gauge readings, spread")],
)
def test_the_note_on_past_rain_is_right_in_any_units(readings: int, words: str) -> None:
    given = [GaugeReading(_at(48 + 2 * n), 6.0) for n in range(readings)]
    texts = note_texts(_settle(_weather({40: 2.0, 49: 1.0}), *given).notes)
    assert any(text.startswith(words) for text in texts)
    assert not any(" mm" in text for text in texts)


def test_a_later_reading_changes_the_past() -> None:
    weather = _weather({50: 4.0})
    assert _settle(weather).rain_mm[50] == 4.0
    assert _settle(weather, GaugeReading(_at(70), 9.0)).rain_mm[50] == pytest.approx(9.0)


def test_an_hour_cut_by_a_reading_keeps_the_models_rain_for_the_rest_of_it() -> None:
    settled = _settle(_weather({50: 4.0}), GaugeReading(_at(50.25), 3.0, since=_at(48)))
    assert settled.rain_mm[50] == pytest.approx(3.0 + 0.75 * 4.0)
    assert settled.rain_basis[50] == "model"


def test_two_readings_within_one_hour_keep_both_sums() -> None:
    settled = _settle(
        _weather({50: 4.0}), GaugeReading(_at(50.5), 3.0, since=_at(50)), GaugeReading(_at(51), 1.0)
    )
    assert settled.rain_mm[50] == pytest.approx(4.0)
    assert settled.rain_basis[50] == "gauge"


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        (GaugeReading(NOW + timedelta(hours=1), 5.0), "lies ahead"),
        (GaugeReading(_at(50), -2.0), "cannot be"),
        (GaugeReading(_at(50), float("nan")), "cannot be"),
        (GaugeReading(_at(50), 5.0, since=_at(51)), "covers no time"),
    ],
    ids=["ahead of now", "negative", "not a number", "ends before it begins"],
)
def test_a_reading_that_cannot_be_is_left_out_and_told(reading: GaugeReading, words: str) -> None:
    weather = _weather({48: 1.0})
    settled = _settle(weather, reading)
    assert np.array_equal(settled.rain_mm, weather.rain_mm)
    assert any(words in text for text in note_texts(settled.notes, "warning"))


def test_of_two_overlapping_readings_the_later_counts_from_the_earlier_on() -> None:
    settled = _settle(
        _weather({30: 1.0, 45: 1.0}),
        GaugeReading(_at(40), 2.0, since=_at(24)),
        GaugeReading(_at(48), 3.0, since=_at(30)),
    )
    assert settled.rain_mm[30] == pytest.approx(2.0)
    assert settled.rain_mm[45] == pytest.approx(3.0)
    assert any("overlaps" in text for text in note_texts(settled.notes))


def test_a_reading_entered_twice_counts_once_and_the_last_entry_wins() -> None:
    settled = _settle(_weather({45: 1.0}), GaugeReading(_at(48), 2.0, id=1), GaugeReading(_at(48), 5.0, id=2))
    assert settled.rain_mm.sum() == pytest.approx(5.0)
    assert any("entered twice" in text for text in note_texts(settled.notes))


def test_the_archive_replaces_the_sources_past_and_the_gauge_the_archive() -> None:
    archive = tuple(ArchivedHour(_at(h), 1.0 if h == 30 else 0.0, temp_c=11.0) for h in range(24, 48))
    weather = _weather({26: 9.0, 60: 2.0})
    settled = _settle(weather, archive=archive)
    assert settled.rain_mm[[26, 30, 60]].tolist() == [0.0, 1.0, 2.0]
    assert settled.temp_c[30] == 11.0
    assert settled.rain_basis[[23, 30, 60]].tolist() == ["model", "archive", "model"]
    gauged = _settle(weather, GaugeReading(_at(36), 4.0, since=_at(24)), archive=archive)
    assert gauged.rain_mm[30] == pytest.approx(4.0)
    assert gauged.rain_basis[[30, 40]].tolist() == ["gauge", "archive"]


def test_an_archive_further_back_makes_the_past_longer() -> None:
    archive = tuple(ArchivedHour(_at(h), 0.5) for h in range(-200, 0))
    settled = _settle(_weather({5: 1.0}), archive=archive)
    assert settled.starts_at(0) == _at(-200)
    assert settled.rain_mm[:200].sum() == pytest.approx(100.0)
    assert settled.rain_mm[205] == 1.0
    assert settled.members_mm.shape == (2, 320)


def test_archived_hours_that_are_not_over_or_not_known_change_nothing() -> None:
    weather = _weather({71: 2.0, 72: 3.0})
    settled = _settle(weather, archive=(ArchivedHour(_at(72), 8.0), ArchivedHour(_at(71), None)))
    assert settled.rain_mm[[71, 72]].tolist() == [2.0, 3.0]
    assert settled.rain_basis[71] == "model"


def test_rain_in_the_gauge_on_a_source_without_a_past_is_kept_to_the_millimetre() -> None:
    later = blank(47.0, 8.0, 400.0, hours_between(NOW, _at(120)), 0)
    settled = _settle(later, GaugeReading(_at(60.4), 6.0, since=_at(36.7)))
    assert np.nansum(settled.rain_mm) == pytest.approx(6.0)
    assert np.isnan(settled.rain_mm[settled.index_at(_at(62)) :]).all()


def test_a_forecast_that_ended_before_the_reading_still_takes_it() -> None:
    old = blank(47.0, 8.0, 400.0, hours_between(START, _at(20)), 0)
    settled = _settle(old, GaugeReading(_at(60), 6.0, since=_at(36)))
    assert np.nansum(settled.rain_mm) == pytest.approx(6.0)


def test_what_fell_at_frost_is_snow_also_when_the_gauge_says_how_much() -> None:
    settled = _settle(_weather(temp=-4.0), GaugeReading(_at(60), 5.0, since=_at(50)))
    assert settled.snow_mm[50:60].sum() == pytest.approx(5.0)
    warm = _settle(_weather(temp=9.0), GaugeReading(_at(60), 5.0, since=_at(50)))
    assert warm.snow_mm.sum() == 0.0


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(0.1, 72.0), st.floats(0.0, 60.0)), min_size=1, max_size=10),
    st.lists(st.floats(0.0, 5.0), min_size=120, max_size=120),
)
def test_every_gauge_total_is_kept_exactly(readings: list[tuple[float, float]], rain: list[float]) -> None:
    modelled = np.array(rain)
    modelled[modelled < 3.0] = 0.0
    weather = replace(_weather(), rain_mm=modelled)
    read = {round(at, 2): depth for at, depth in readings}
    gauge = [GaugeReading(_at(at), depth) for at, depth in read.items()]
    settled = _settle(weather, *gauge)
    first, last = min(read) - 24.0, max(read)
    clock = settled.index_at(START) * -1.0 + np.arange(settled.hours)
    outside = 1.0 - np.clip(np.minimum(clock + 1, last) - np.maximum(clock, first), 0.0, 1.0)
    model = np.zeros(settled.hours)
    model[settled.index_at(START) :] = modelled
    assert np.nansum(settled.rain_mm) == pytest.approx(sum(read.values()) + (outside * model).sum(), abs=1e-9)
    assert np.nanmin(settled.rain_mm) >= 0.0


@pytest.mark.parametrize("minutes", [1, 30, 59])
def test_what_a_reading_shows_in_this_hour_has_fallen_and_is_told_from_what_is_foretold(minutes: int) -> None:
    now = NOW.replace(minute=0) + timedelta(minutes=minutes)
    hour = _weather().index_at(now)

    def had(hours: float) -> float:
        reading = GaugeReading(now, 6.0, now - timedelta(hours=hours))
        settled = settle_past(_weather({hour: 2.0}), gauge=(reading,), archive=(), now=now)
        assert settled.gauge_share[hour] == pytest.approx(minutes / 60)
        rest = settled.rain_mm[hour] - settled.gauge_mm[hour]
        assert rest == pytest.approx(2.0 * (1.0 - minutes / 60))
        return float(settled.rain_mm[:hour].sum() + settled.gauge_mm[hour])

    assert had(2.25) == pytest.approx(6.0)
    assert had(24.0) == pytest.approx(6.0)
