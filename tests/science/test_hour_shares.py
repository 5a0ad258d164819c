"""How much of each hour lies within a span of time."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from advisor.science.hour_shares import hour_shares, hour_shares_to, hours_after

FIRST = datetime(2026, 6, 18, 20, tzinfo=UTC)


def after(hours: float) -> datetime:
    return FIRST + timedelta(hours=hours)


@pytest.mark.parametrize(
    ("begin", "end", "shares"),
    [
        (0.0, 3.0, [1.0, 1.0, 1.0]),
        (0.75, 2.5, [0.25, 1.0, 0.5]),
        (1.25, 1.5, [0.0, 0.25, 0.0]),
        (-5.0, 0.5, [0.5, 0.0, 0.0]),
        (2.5, 99.0, [0.0, 0.0, 0.5]),
        (2.0, 1.0, [0.0, 0.0, 0.0]),
        (4.0, 9.0, [0.0, 0.0, 0.0]),
    ],
    ids=["all", "two cut hours", "within one", "from before", "past the end", "backwards", "beyond"],
)
def test_each_hour_counts_by_its_part_in_the_span(begin: float, end: float, shares: list[float]) -> None:
    assert hour_shares(FIRST, 3, after(begin), after(end)) == pytest.approx(shares)


def test_several_ends_are_so_many_columns() -> None:
    ends = [after(0.5), after(2.0)]
    found = hour_shares_to(FIRST, 3, after(0.25), ends)
    assert found.shape == (3, 2)
    for column, end in enumerate(ends):
        assert found[:, column] == pytest.approx(hour_shares(FIRST, 3, after(0.25), end))
    assert hour_shares_to(FIRST, 0, FIRST, ends).shape == (0, 2)


def test_the_night_of_the_clock_change_has_its_true_hours() -> None:
    chicago = ZoneInfo("America/Chicago")
    evening = datetime(2026, 10, 31, 20, tzinfo=chicago)  # the clock goes back at 2:00
    morning = datetime(2026, 11, 1, 8, tzinfo=chicago)
    assert hours_after(evening, morning) == 13.0
    assert hour_shares(evening, 24, evening, morning).sum() == pytest.approx(13.0)


@given(st.floats(-5, 30), st.floats(-5, 30), st.floats(-5, 30))
def test_spans_end_to_end_add_up_to_the_whole(a: float, b: float, c: float) -> None:
    a, b, c = sorted((a, b, c))
    whole = hour_shares(FIRST, 24, after(a), after(c))
    parts = hour_shares(FIRST, 24, after(a), after(b)) + hour_shares(FIRST, 24, after(b), after(c))
    assert parts == pytest.approx(whole, abs=1e-6)
    assert whole.sum() == pytest.approx(max(0.0, min(c, 24.0) - max(a, 0.0)), abs=1e-6)
