"""Which night, and how deep: whole invented seasons played forward, our rule beside three plainer ones.

A season is 100 evenings of invented weather whose members know the truth less well the further ahead
they look. Every evening the rule decides, its run is recorded, and a root zone that shares no code with
the advice takes the weather as it came.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields, replace
from datetime import UTC, datetime, time, timedelta
from functools import cache

import numpy as np
import pytest
from made import CHICAGO, JUDGED, made_site, made_weather, made_zone

from advisor.hours.night import Night, chances_to_run, look_at_night
from advisor.lawn.records import ProbeReading, Records, Run
from advisor.lawn.site_values import Rules, Site
from advisor.science.balance import root_zone_balance
from advisor.soil_water.reference_et import daily_reference_et
from advisor.soil_water.root_zone import RootZone, survey
from advisor.tonight.advise import advise
from advisor.weather.weather import Array, Weather

BEGIN = datetime(2026, 5, 10, 20, 0, tzinfo=CHICAGO)
DAYS, BEFORE, AHEAD = 100, 32, 10
START_MM = 10.0
HOURS = ((time(0), time(8)),)
PATTERNS = {
    "every night": Rules(hours=HOURS),
    "odd dates": Rules(hours=HOURS, parity="odd"),
    "Monday and Thursday": Rules(hours=HOURS, weekdays=frozenset({0, 3})),
}


@cache
def season(seed: int) -> tuple[Weather, tuple[Array, ...]]:
    """The weather as it came, and each evening's members (m, h) from that evening's hour on."""
    rng = np.random.default_rng(seed)
    count = BEFORE + DAYS + AHEAD + 1

    def day_of_rain(wet: bool) -> Array:
        rain = np.zeros(24)
        if wet:
            long = int(rng.integers(2, 9))
            begin = int(rng.integers(0, 25 - long))
            rain[begin : begin + long] = rng.gamma(0.8, 9.0) / long
        return rain

    days, wet = [], False
    for _ in range(count):
        wet = bool(rng.random() < (0.42 if wet else 0.18))
        days.append(day_of_rain(wet))
    w = made_weather(now=BEGIN + timedelta(days=DAYS), past_days=DAYS + BEFORE, ahead_days=AHEAD + 1)
    dull = np.repeat([d.sum() > 1.0 for d in days], 24)[: w.hours]
    warmth = np.repeat(rng.normal(0.0, 3.0, count), 24)[: w.hours]
    came = replace(
        w,
        rain_mm=np.concatenate(days)[: w.hours],
        temp_c=w.temp_c + warmth - 2.0 * dull,
        rs_mj_m2_h=w.rs_mj_m2_h * np.where(dull, 0.5, 1.0),
    )
    evenings = []
    for k in range(DAYS):
        members = np.zeros((15, AHEAD, 24))
        for m in range(15):
            for lead in range(AHEAD):
                if rng.random() < 0.93 * 0.86**lead:
                    size = rng.lognormal(0.0, 0.25 + 0.05 * lead)
                    members[m, lead] = np.roll(days[BEFORE + k + lead], int(rng.integers(-2, 3))) * size
                else:
                    members[m, lead] = day_of_rain(bool(rng.random() < 0.24))
        evenings.append(members.reshape(15, -1))
    return came, tuple(evenings)


def as_seen(came: Weather, members: Array, k: int) -> Weather:
    """What is known on evening `k`: 31 past days, the temperatures ahead, and the members' rain."""
    now = (BEFORE + k) * 24
    cut = slice(now - 31 * 24, now + AHEAD * 24)
    seen = np.full((len(members), 31 * 24), np.nan)
    series = {
        f.name: getattr(came, f.name)[cut]
        for f in fields(came)
        if f.name != "members_mm" and isinstance(getattr(came, f.name), np.ndarray)
    }
    return replace(came, **series, members_mm=np.concatenate([seen, members], axis=1))


@dataclass
class Account:
    """What a season came to, mm; `cost` in the coin of the rule: water, runs and unmet demand."""

    water: float = 0.0
    runs: int = 0
    unmet: float = 0.0
    drained: float = 0.0

    @property
    def cost(self) -> float:
        return self.water + JUDGED.turf.run_mm * self.runs + JUDGED.turf.stress.balanced * self.unmet


@dataclass
class Evening:
    """What a rule may see: the site, the weather as seen, the records so far and the true depletion."""

    site: Site
    weather: Weather
    records: Records
    now: datetime
    night: Night
    depletion_mm: float


Rule = Callable[[Evening], tuple[Run | None, float]]


def play(rules: Rules, seed: int, rule: Rule) -> Account:
    """One season under one rule. The root zone is FAO-56 eq. 85 written out by hand."""
    came, evenings = season(seed)
    site = made_site(made_zone(), rules=rules)
    zone = site.zones[0]
    taw = zone.soil.available_mm_m * zone.root_depth_m
    demand = daily_reference_et(came, CHICAGO)
    month = [int(str(day)[5:7]) - 1 for day in demand.days]
    account, dr, canopy, dry_h = Account(), START_MM, 0.0, 0
    probe = ProbeReading("Front", BEGIN - timedelta(hours=2), START_MM)
    runs: list[Run] = []
    for k in range(DAYS):
        now = BEGIN + timedelta(days=k)
        night = look_at_night(site, now)
        weather = as_seen(came, evenings[k], k)
        run, depth = None, 0.0
        if night.windows:
            records = Records(runs=tuple(runs[-20:]), probes=(probe,))
            run, depth = rule(Evening(site, weather, records, now, night, dr))
        run_h = -1
        if run is not None:
            runs.append(run)
            account.runs += 1
            account.water += depth
            run_h = int((run.started_at - now).total_seconds() // 3600)
        for h in range(24):
            i = (BEFORE + k) * 24 + h
            day = int(demand.day_index[i])
            kc = _kc(zone.turf.kc_month, demand.days[day], month[day])
            p = min(0.8, max(0.1, zone.turf.p + 0.04 * (5.0 - kc * demand.eto_day_mm[day])))
            etc = kc * demand.eto_mm[i]
            taken = min(1.0, (taw - dr) / ((1.0 - p) * taw)) * etc
            rain = float(came.rain_mm[i])
            dry_h = 0 if rain > 0 else dry_h + 1
            canopy = 0.0 if dry_h > 6 else canopy
            kept = min(1.0 - canopy, rain)
            canopy += kept
            dr += taken - (rain - kept) - (depth if h == run_h else 0.0)
            account.unmet += etc - taken
            account.drained += max(0.0, -dr)
            dr = max(0.0, dr)
    return account


def _kc(by_month: tuple[float, ...], day: np.datetime64, month: int) -> float:
    """Between the middles of months, as near as this needs."""
    part = (int(str(day)[8:10]) - 15) / 30.0
    other = (month + (1 if part > 0 else -1)) % 12
    return by_month[month] * (1 - abs(part)) + by_month[other] * abs(part)


def as_advised(evening: Evening) -> tuple[Run | None, float]:
    """(a) What the advice plans."""
    advice = advise(site=evening.site, records=evening.records, weather=evening.weather, now=evening.now)
    if not advice.runs:
        return None, 0.0
    one = advice.runs[0]
    run = Run("Front", one.cycles[0].starts_at, one.cycles[-1].ends_at, one.minutes, one.depth_mm)
    return run, one.effective_mm


def _refill(evening: Evening) -> tuple[Run, float]:
    begin = evening.night.windows[-1].ends_at - timedelta(hours=1)
    return Run("Front", begin.astimezone(UTC), begin + timedelta(minutes=50), 50.0), evening.depletion_mm


def every_allowed_night(evening: Evening) -> tuple[Run | None, float]:
    """(b) To field capacity whenever it is allowed."""
    return _refill(evening) if evening.depletion_mm > 0.5 else (None, 0.0)


def at_the_allowance(evening: Evening) -> tuple[Run | None, float]:
    """(c) A full refill once the table's share is used up, whatever the forecast."""
    zone = evening.site.zones[0]
    allowed = zone.turf.p * zone.soil.available_mm_m * zone.root_depth_m
    return _refill(evening) if evening.depletion_mm >= allowed else (None, 0.0)


def try_every_depth(evening: Evening) -> tuple[Run | None, float]:
    """(d) Roll every member forward to the next allowed night for every depth; the least cost wins."""
    root_zone = survey(site=evening.site, records=evening.records, weather=evening.weather, now=evening.now)
    depth = _least_cost(root_zone, evening)
    if depth == 0.0:
        return None, 0.0
    run, _ = _refill(evening)
    return replace(run, depth_mm=depth * root_zone.figures[0].multiplier), depth


def _least_cost(root_zone: RootZone, evening: Evening) -> float:
    run_at, next_at = chances_to_run(evening.night, evening.now)
    assert next_at is not None
    r, n = (evening.weather.index_at(t) - root_zone.first for t in (run_at, next_at))
    until = min(max(n, r + 48) + 1, root_zone.hours_ahead)
    depths = np.array([0.0, *range(4, 34, 2)])
    start = root_zone.ahead_depletion_mm[0, :, r]
    etc = root_zone.etc_mm[0, root_zone.first + r + 1 : root_zone.first + until]
    rolled = root_zone_balance(
        depletion_start_mm=np.maximum(start - depths[:, None], 0.0),
        etc_mm=etc[None, None, :],
        water_mm=root_zone.net_ahead_mm[:, :, r + 1 : until],
        taw_mm=root_zone.taw_mm[0],
        p=root_zone.p[0, root_zone.reference_et.day_index[root_zone.first + r + 1 : root_zone.first + until]][
            None, None, :
        ],
    )
    unmet = (etc[: n - r] - rolled.etc_actual_mm[:, :, : n - r]).sum(axis=2).mean(axis=1)
    lost = rolled.percolation_mm.sum(axis=2) + np.maximum(depths[:, None] - start, 0.0)
    cost = JUDGED.turf.stress.balanced * unmet + (lost - lost[0]).mean(axis=1)
    if cost[0] - cost[1:].min() <= JUDGED.turf.run_mm:
        return 0.0
    spaced = cost - JUDGED.turf.run_mm * depths / 15.0  # a deeper run puts off the next one
    return float(depths[1 + int(np.argmin(spaced[1:]))])


@pytest.mark.parametrize("pattern", PATTERNS)
def test_the_rule_saves_water_and_runs_without_more_thirst(pattern: str) -> None:
    rules = PATTERNS[pattern]
    ours = play(rules, 1, as_advised)
    nightly, fixed = play(rules, 1, every_allowed_night), play(rules, 1, at_the_allowance)
    assert ours.water < 0.95 * nightly.water
    assert ours.runs < nightly.runs
    assert ours.drained < 0.8 * min(nightly.drained, fixed.drained)
    assert ours.unmet <= fixed.unmet + 1.0
    assert ours.cost < min(nightly.cost, fixed.cost)
    assert ours.water / ours.runs > nightly.water / nightly.runs


def test_trying_every_depth_over_every_member_is_hardly_better() -> None:
    rules = PATTERNS["odd dates"]
    ours, look_outcome = play(rules, 2, as_advised), play(rules, 2, try_every_depth)
    assert ours.cost < 1.05 * look_outcome.cost


def test_the_night_before_a_long_gap_is_used_where_the_one_before_it_is_not() -> None:
    """Allowed on Monday and Tuesday only: on Monday the grass can wait a day, on Tuesday not six."""
    rules = Rules(hours=HOURS, weekdays=frozenset({0, 1}))
    site = made_site(made_zone(), rules=rules)
    verdicts = []
    for evening in (datetime(2026, 6, 14, 20, tzinfo=CHICAGO), datetime(2026, 6, 15, 20, tzinfo=CHICAGO)):
        probe = ProbeReading("Front", evening - timedelta(hours=1), 6.0)
        advice = advise(
            site=site,
            records=Records(probes=(probe,)),
            weather=made_weather(np.zeros((5, 240)), now=evening),
            now=evening,
        )
        verdicts.append(advice.zones[0].verdict)
    assert verdicts == ["not needed", "run"]
