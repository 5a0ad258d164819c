"""Civil days from UTC hours."""

from __future__ import annotations

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from advisor.weather.civil import as_date, civil_days, local_offsets_s
from advisor.weather.weather import hours_between


@pytest.mark.parametrize(
    ("zone", "day", "length"),
    [
        ("America/Chicago", date(2026, 3, 8), 23),
        ("America/Chicago", date(2026, 11, 1), 25),
        ("America/Chicago", date(2026, 6, 17), 24),
        ("Europe/Oslo", date(2026, 3, 29), 23),
        ("Europe/Oslo", date(2026, 10, 25), 25),
        ("Pacific/Auckland", date(2026, 9, 27), 23),
        ("Pacific/Kiritimati", date(2026, 1, 1), 24),
        ("America/Phoenix", date(2026, 3, 8), 24),
    ],
    ids=str,
)
def test_a_civil_day_has_as_many_hours_as_the_clock_gives_it(zone: str, day: date, length: int) -> None:
    middle = datetime(day.year, day.month, day.day, 12, tzinfo=ZoneInfo(zone))
    from datetime import timedelta

    starts = hours_between(middle - timedelta(days=3), middle + timedelta(days=3))
    days, index = civil_days(starts, ZoneInfo(zone))
    which = next(i for i, d in enumerate(days) if as_date(d) == day)
    assert int((index == which).sum()) == length


@pytest.mark.parametrize(
    "zone", ["America/Chicago", "Europe/London", "Australia/Lord_Howe", "Asia/Kathmandu"]
)
def test_offsets_are_those_of_every_single_hour(zone: str) -> None:
    starts = hours_between(datetime(2026, 1, 1, tzinfo=UTC), datetime(2027, 1, 1, tzinfo=UTC))
    got = local_offsets_s(starts, ZoneInfo(zone))
    for i in range(0, len(starts), 7):
        when = datetime.fromtimestamp(int(starts[i].astype("datetime64[s]").astype(int)), UTC)
        offset = when.astimezone(ZoneInfo(zone)).utcoffset()
        assert offset is not None
        assert got[i] == offset.total_seconds()


def test_no_hours_are_no_days() -> None:
    days, index = civil_days(np.array([], dtype="datetime64[s]"), UTC)
    assert len(days) == 0
    assert len(index) == 0
