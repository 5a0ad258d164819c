"""The usual year comes from whichever source holds past years; where none does, that is said."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from typing import Any

import pytest
from made import CHICAGO, made_site, made_weather

from advisor import usual_year
from advisor.errors import SourceError
from advisor.weather import gather
from advisor.weather.registry import Source
from advisor.weather.weather import SourceUse, Weather

NOW = datetime(2026, 6, 17, 20, 15, tzinfo=CHICAGO)


def forecast(*_: Any) -> Weather:
    raise AssertionError("no forecast is asked for a usual year")


def refusing(*_: Any, **__: Any) -> Weather:
    raise SourceError("Invented archive", "is closed today")


def answering(*_: Any, first: date, last: date) -> Weather:
    assert (first, last) == (date(2021, 6, 1), date(2026, 5, 31))
    end = datetime(2026, 6, 1, tzinfo=CHICAGO)
    used = SourceUse("Second archive", "past weather", end, end, "Invented credit.")
    return replace(made_weather(now=end, past_days=366, ahead_days=1), sources=(used,))


def only(monkeypatch: pytest.MonkeyPatch, *archives: Any) -> None:
    sources = {
        f"source{i}": Source(name=f"source{i}", rank=i, forecast=forecast, archive=archive)
        for i, archive in enumerate(archives)
    }
    monkeypatch.setattr(gather, "registered", lambda: sources)


def test_the_next_archive_serves_where_one_refuses_and_is_credited(monkeypatch: pytest.MonkeyPatch) -> None:
    only(monkeypatch, None, refusing, answering)
    found = usual_year.usual_year(made_site(), NOW)
    assert found.source == "Second archive. Invented credit."
    assert [month.month for month in found.months] == list(range(1, 13))


def test_what_the_last_archive_said_is_told_where_none_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    only(monkeypatch, refusing)
    with pytest.raises(SourceError, match="is closed today"):
        usual_year.usual_year(made_site(), NOW)
    only(monkeypatch, None)
    with pytest.raises(SourceError, match="no source has an archive"):
        usual_year.usual_year(made_site(), NOW)
