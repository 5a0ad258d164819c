from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made import note_texts

from advisor.weather.members import (
    assumed_chance,
    blocks,
    build_members,
    pool,
    pool_members,
    with_built_members,
)
from advisor.weather.weather import SourceUse, Weather, blank, hours_between

N = 31


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(0.2, 40.0), st.floats(0.03, 1.0)), min_size=1, max_size=12))
def test_the_wet_share_and_the_mean_are_what_the_source_said(spans: list[tuple[float, float]]) -> None:
    amount = np.array([a for a, _ in spans])
    chance = np.array([c for _, c in spans])
    members = build_members(amount_mm=amount, chance=chance, n=N)
    share = (members > 0).mean(axis=0)
    assert np.abs(share - chance).max() <= 1 / (2 * N) + 1e-12
    assert members.mean(axis=0) == pytest.approx(amount, rel=0.01)
    assert (members >= 0).all()


def test_wet_members_are_wet_enough_to_count_as_rain() -> None:
    members = build_members(amount_mm=np.array([2.0]), chance=np.array([0.6]), n=N)
    assert members[members > 0].min() >= 0.1


def test_a_chance_belongs_to_its_whole_period_and_not_to_each_hour() -> None:
    amount = np.r_[np.zeros(2), np.full(4, 1.5), np.zeros(6)]
    spans = np.array([[0, 6], [6, 12]])
    members = build_members(amount_mm=amount, chance=np.array([0.7, 0.2]), spans=spans, n=N)
    assert (members[:, :6].sum(axis=1) > 0).mean() == pytest.approx(0.7, abs=1 / (2 * N))
    assert members[:, :6].sum(axis=1).mean() == pytest.approx(6.0)
    assert (members[:, :2] == 0).all()
    assert (members[:, 6:].sum(axis=1) > 0).mean() == pytest.approx(0.2, abs=1 / (2 * N))


def test_no_amount_but_a_chance_gives_traces_and_not_nothing() -> None:
    members = build_members(amount_mm=np.zeros(6), chance=np.array([0.29]), spans=blocks(6, 6), n=N)
    total = members.sum(axis=1)
    assert (total > 0).mean() == pytest.approx(0.29, abs=1 / (2 * N))
    assert total.mean() < 0.05  # rounds to the 0.0 mm that the source said


def test_an_amount_without_a_chance_worth_a_member_is_not_lost() -> None:
    members = build_members(amount_mm=np.array([3.1]), chance=np.array([0.0]), n=N)
    assert members.mean() == pytest.approx(3.1)


def test_a_wide_range_makes_a_wider_spread_with_the_same_mean() -> None:
    def spread(low: float, high: float) -> float:
        members = build_members(
            amount_mm=np.array([6.0]),
            chance=np.array([1.0]),
            low_mm=np.array([low]),
            high_mm=np.array([high]),
            n=N,
        )
        assert members.mean() == pytest.approx(6.0)
        return float(np.quantile(members, 0.9) - np.quantile(members, 0.1))

    assert spread(4.5, 7.6) == pytest.approx(3.1, abs=0.7)
    assert spread(0.5, 14.0) > 2.5 * spread(4.5, 7.6)


def test_a_wet_member_tends_to_stay_wet_so_that_a_night_is_neither_sure_nor_averaged_away() -> None:
    amount, chance = np.full(8, 1.0), np.full(8, 0.5)
    total = build_members(amount_mm=amount, chance=chance, n=N).sum(axis=1)
    one = build_members(amount_mm=amount[:1], chance=chance[:1], n=N)
    alone = one.std() * np.sqrt(8)
    alike = one.std() * 8
    assert 1.3 * alone < total.std() < 0.98 * alike
    assert 0.0 < (total == 0).mean() < 0.5


def test_the_chance_of_a_night_is_more_than_the_chance_of_its_wettest_hour() -> None:
    chance = np.r_[0.2, 0.45, 0.3, 0.4, np.full(8, 0.35)]
    members = build_members(amount_mm=np.full(12, 0.8), chance=chance, n=N)
    night = (members.sum(axis=1) > 0).mean()
    assert 0.45 < night < 0.95


def test_the_same_forecast_makes_the_same_members() -> None:
    amount, chance = np.linspace(0, 3, 40), np.linspace(0.1, 0.9, 40)
    first = build_members(amount_mm=amount, chance=chance, n=N)
    assert np.array_equal(first, build_members(amount_mm=amount, chance=chance, n=N))


def test_unknown_rain_makes_unknown_members_and_never_dry_ones() -> None:
    amount = np.r_[np.full(6, 0.5), np.full(6, np.nan), 0.2, np.nan, np.zeros(4)]
    members = build_members(amount_mm=amount, n=N)
    assert np.isfinite(members[:, :6]).all()
    assert np.isnan(members[:, 6:]).all()


def test_without_a_chance_one_is_assumed_from_amount_and_lead() -> None:
    chance = assumed_chance(np.array([0.0, 0.1, 10.0, 10.0, np.nan]), np.array([0.0, 0.0, 0.0, 120.0, 0.0]))
    assert chance[:4] == pytest.approx([0.0, 0.5, 0.95, 0.76])
    assert np.isnan(chance[4])
    members = build_members(amount_mm=np.full(6, 10 / 6), lead_h=np.zeros(6), n=N)
    assert members.sum(axis=1).mean() == pytest.approx(10.0)
    assert (members.sum(axis=1) == 0).any()


def _weather(name: str, members: np.ndarray, start_hour: int = 0) -> Weather:
    first = datetime(2026, 6, 17, start_hour, tzinfo=UTC)
    starts = hours_between(first, datetime(2026, 6, 20, tzinfo=UTC))
    weather = blank(47.0, 8.0, 400.0, starts, len(members))
    weather.members_mm[:, : members.shape[1]] = members
    use = SourceUse(name, "forecast", first, first)
    return Weather(**{f: getattr(weather, f) for f in weather.__dataclass_fields__} | {"sources": (use,)})


def test_pooled_models_count_the_same_whatever_their_size() -> None:
    wet, dry = np.full((51, 48), 0.5), np.zeros((31, 48))
    members = pool_members([wet, dry])
    assert (members.sum(axis=1) > 0).mean() == 0.5


def test_pooling_keeps_each_models_spread_of_totals() -> None:
    rng = np.random.default_rng(7)
    big, small = rng.gamma(1.0, 2.0, (51, 24)), rng.gamma(1.0, 0.5, (8, 24))
    members = pool_members([big, small])
    assert len(members) == 40
    assert members[:20].sum(axis=1).mean() == pytest.approx(big.sum(axis=1).mean(), rel=0.03)
    assert members[20:].sum(axis=1).mean() == pytest.approx(small.sum(axis=1).mean(), rel=0.03)


def test_a_model_that_ends_early_leaves_no_unknown_hours_in_the_pool() -> None:
    short, long = np.full((20, 48), np.nan), np.full((20, 48), 0.3)
    short[:, :12] = 0.0
    members = pool_members([short, long])
    assert np.isfinite(members).all()
    assert members[:, :12].mean() == pytest.approx(0.15)
    assert members[:, 12:].mean() == pytest.approx(0.3)


def test_pooled_weathers_are_aligned_in_time_and_all_credited() -> None:
    late = _weather("second", np.full((20, 10), 2.0), start_hour=5)
    early = _weather("first", np.zeros((20, 30)))
    both = pool([early, late])
    assert both.members_mm.shape == (40, early.hours)
    assert (both.members_mm[20:, 5:15] == 2.0).all()
    assert (both.members_mm[20:, :5] == 0.0).all()
    assert [use.name for use in both.sources] == ["first", "second"]
    assert "pooled with equal weight" in note_texts(both.notes)[-1]


def test_weather_without_members_gets_them_from_now_on_and_says_from_what() -> None:
    now = datetime(2026, 6, 18, 6, 30, tzinfo=UTC)
    weather = _weather("first", np.full((0, 72), np.nan))
    weather.rain_mm[:] = 0.4
    weather.chance[:] = 0.5
    made = with_built_members(weather, now)
    assert np.isnan(made.members_mm[:, :30]).all()
    assert made.members_mm[:, 30:].mean() == pytest.approx(0.4)
    assert "first: 31 rain members are built from its amount and chance" in note_texts(made.notes)[-1]
    weather.chance[:] = np.nan
    assert "the spread assumed" in note_texts(with_built_members(weather, now).notes)[-1]


def test_weather_that_has_members_keeps_them() -> None:
    weather = _weather("first", np.ones((5, 72)))
    assert with_built_members(weather, datetime(2026, 6, 18, tzinfo=UTC)) is weather
