"""What counts as one event of water."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from advisor.science.events import GAP_H, largest_event, running_event

HOURS = arrays(np.float64, st.integers(1, 40), elements=st.sampled_from([0.0, 0.05, 0.4, 3.0, np.nan]))


def series(**amounts: float) -> np.ndarray:
    """24 hours, dry but for h3=2.0 and the like."""
    hours = np.zeros(24)
    for name, mm in amounts.items():
        hours[int(name[1:])] = mm
    return hours


@pytest.mark.parametrize(
    ("hours", "largest"),
    [
        (series(), 0.0),
        (series(h2=4.0, h3=2.0), 6.0),
        (series(h2=4.0, h8=2.0), 6.0),
        (series(h2=4.0, h9=2.0), 4.0),
        (series(h2=4.0, h9=5.0, h10=1.0), 6.0),
        (series(h2=4.0, h3=np.nan), 4.0),
        (series(h2=0.05, h3=0.05, h4=0.05), 0.0),
    ],
    ids=[
        "no water",
        "hours in a row add up",
        "five dry hours do not end it",
        "six dry hours end it",
        "the larger of two",
        "an unknown hour proves nothing",
        "drizzle is dry",
    ],
)
def test_the_largest_event_is_what_fell_without_a_long_pause(hours: np.ndarray, largest: float) -> None:
    assert largest_event(hours) == pytest.approx(largest)
    assert running_event(hours).max(initial=0.0) == pytest.approx(largest)


def test_an_event_that_goes_on_is_taken_over_until_the_pause_is_long() -> None:
    ahead = series(h3=2.0)
    assert largest_event(ahead, so_far_mm=4.0, dry_h=2) == pytest.approx(6.0)
    assert largest_event(ahead, so_far_mm=4.0, dry_h=3) == pytest.approx(4.0)


def test_an_event_stands_in_every_hour_until_it_is_over() -> None:
    running = running_event(series(h2=4.0, h4=1.0))
    assert running[1] == 0.0
    assert running[3] == pytest.approx(4.0)
    assert running[4 + GAP_H - 1] == pytest.approx(5.0)
    assert running[4 + GAP_H] == 0.0


@settings(max_examples=60, deadline=None)
@given(HOURS)
def test_an_event_never_holds_more_than_fell(hours: np.ndarray) -> None:
    running = running_event(hours)
    assert largest_event(hours[None, :])[0] == pytest.approx(running.max(initial=0.0))
    assert running.max(initial=0.0) <= np.nansum(hours) + 1e-9
