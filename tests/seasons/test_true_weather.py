"""The weather that a season needs is there, whole, or one sentence says what is missing."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np
import pytest
from made import CHICAGO, made_site
from seasons.made_seasons import made_truth

from advisor.errors import InputError
from advisor.lawn.records import ArchivedHour, GaugeReading, Records
from advisor.seasons import (
    Span,
    recorded_hours,
    span_of,
    true_weather,
    weather_of_archive,
    weather_of_records,
)
from advisor.weather import Weather, new_hours

SITE = made_site()
NOW = datetime(2026, 7, 1, 12, tzinfo=CHICAGO)


def hole(name: str, begin: int, hours: int) -> Weather:
    """The truth without some hours of one series; day 0 is 12 May."""
    truth = made_truth()
    series = getattr(truth, name).copy()
    series[begin : begin + hours] = np.nan
    return replace(truth, **{name: series})


def refused(weather: Weather, span: Span | None = None) -> str:
    with pytest.raises(InputError) as error:
        span_of(weather, SITE, span or Span())
    return str(error.value)


def test_without_dates_all_that_the_weather_allows_is_lived() -> None:
    """It reaches from 12 May 00:00 to 9 June 00:00: 14 days before, an evening after."""
    weather, first, last = span_of(made_truth(), SITE, Span())
    assert (first, last) == (date(2026, 5, 26), date(2026, 6, 7))
    assert weather.hours == made_truth().hours
    assert weather.index_at(datetime(2026, 6, 8, 20, 15, tzinfo=CHICAGO)) < weather.hours


def test_a_season_is_cut_out_with_the_days_round_it() -> None:
    long = made_truth(past_days=80, ahead_days=40)
    weather, first, last = span_of(long, SITE, Span(date(2026, 6, 1), date(2026, 6, 3)))
    assert (first, last) == (date(2026, 6, 1), date(2026, 6, 3))
    assert weather.starts_at(0).astimezone(CHICAGO) == datetime(2026, 5, 1, tzinfo=CHICAGO)
    assert weather.starts_at(weather.hours).astimezone(CHICAGO) == datetime(2026, 6, 14, tzinfo=CHICAGO)


@pytest.mark.parametrize(
    ("span", "words"),
    [
        (Span(date(2026, 6, 5), date(2026, 6, 1)), "--to: the season ends before it begins"),
        (Span(date(2026, 5, 20)), "--from: the weather reaches from 2026-05-12 to 2026-06-09, and 14 days"),
        (Span(date(2026, 8, 1)), "--from: the weather reaches"),
        (Span(None, date(2026, 6, 8)), "--to: .*must hold the evening after the last too; found 2026-06-08"),
        (Span(None, date(2026, 5, 1)), "--to: .*allowed: 2026-05-26 to 2026-06-07"),
    ],
)
def test_dates_that_cannot_be_are_told_with_those_that_can(span: Span, words: str) -> None:
    with pytest.raises(InputError, match=words):
        span_of(made_truth(), SITE, span)


def test_too_short_a_weather_is_told() -> None:
    assert "too short to live a season in" in refused(made_truth(past_days=5, ahead_days=4))


def test_a_gap_is_told_with_its_first_hour() -> None:
    """Rain is never filled in; of the temperature three hours are, as for tonight."""
    assert "the rain of 1 hour is not known, first of 2026-05-12 10:00 local time" in refused(
        hole("rain_mm", 10, 1)
    )
    assert "the temperature of 5 hours is not known" in refused(hole("temp_c", 24, 5))
    span_of(hole("temp_c", 24, 3), SITE, Span())


def test_the_records_give_what_was_kept_with_the_rain_of_the_gauge() -> None:
    archive = new_hours(made_truth(), (), NOW)
    at = archive[50].starts_at
    gauge = GaugeReading(at + timedelta(hours=10), 7.0, since=at)
    weather = weather_of_records(SITE, Records(archive=archive, gauge=(gauge,)))
    assert weather.starts_at(0) == archive[0].starts_at
    assert weather.hours == len(archive)
    assert weather.rain_mm[50:60].sum() == pytest.approx(7.0)
    assert weather.temp_c.tolist() == pytest.approx([hour.temp_c for hour in archive])


def test_no_kept_weather_is_told_with_the_ways_out() -> None:
    assert recorded_hours(SITE, Records(archive=(ArchivedHour(NOW, None),))) is None
    with pytest.raises(InputError, match=r"no past weather is kept .*--weather FILE\.csv.*--archive"):
        weather_of_records(SITE, Records())


def test_an_archive_is_asked_for_certain_days_only() -> None:
    with pytest.raises(InputError, match="--archive: an archive must be asked for certain days"):
        weather_of_archive(SITE, Span(date(2026, 6, 1)), NOW)
    with pytest.raises(InputError, match="ends before it begins"):
        weather_of_archive(SITE, Span(date(2026, 6, 1), date(2026, 5, 1)), NOW)


def test_an_archive_is_asked_for_the_season_and_the_days_round_it(monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[tuple[date, date]] = []

    def archived(*_: object, first: date, last: date) -> Weather:
        asked.append((first, last))
        return made_truth()

    monkeypatch.setattr(true_weather, "archived_weather", archived)
    for span in (Span(date(2026, 6, 1), date(2026, 6, 5)), Span(date(2026, 6, 1), date(2026, 6, 28))):
        assert weather_of_archive(SITE, span, NOW).hours == made_truth().hours
    assert asked == [(date(2026, 5, 1), date(2026, 6, 16)), (date(2026, 5, 1), date(2026, 6, 30))]
