"""Notes in the owner's units and on the owner's clock."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import pytest

from advisor.weather.own_words import in_own_words

HOBART, CHICAGO = ZoneInfo("Australia/Hobart"), ZoneInfo("America/Chicago")


@pytest.mark.parametrize(
    ("text", "units", "zone", "told"),
    [
        pytest.param(
            "the gauge reading of 2026-01-12 20:00 UTC lies ahead",
            "metric",
            HOBART,
            "the gauge reading of Tue 13 Jan 2026 07:00 lies ahead",
            id="a time",
        ),
        pytest.param("one 3.0 mm, two 12.7 mm", "us", CHICAGO, "one 0.12 in, two 0.50 in", id="depths"),
        pytest.param("outside 0 to 150 mm", "us", CHICAGO, "outside 0.00 to 5.91 in", id="a range"),
        pytest.param("outside 0 to 150 mm", "metric", CHICAGO, "outside 0 to 150 mm", id="metric stays"),
        pytest.param(
            "a rate of 12 mm/h, 3 days", "us", CHICAGO, "a rate of 12 mm/h, 3 days", id="not a depth"
        ),
    ],
)
def test_times_and_depths_are_the_owners(text: str, units: str, zone: ZoneInfo, told: str) -> None:
    assert in_own_words(text, units, zone) == told
