"""Will the rain do it? The decision alone, taken out of an Advice and told way by way."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from math import ceil
from typing import Literal
from zoneinfo import ZoneInfo

from advisor.advice.advice import Advice, Caution, Frozen, ObligationAdvice, Option, RainChance, ZoneAdvice
from advisor.advice.say import Say, listed, minutes


class WayOut(Frozen):
    """One way to act: `cost` in shares of the application's worth, `minutes` of run time if it is run."""

    action: str
    cost: float
    chosen: bool
    top_up_mm: float
    minutes: float
    look_at: datetime | None
    under_mm: float | None
    words: str


class RainVerdict(Frozen):
    """The products of one application on one zone that share an answer.

    `top_up_mm` and `top_up_minutes` are what it takes if it must be run at the first chance.
    """

    products: tuple[str, ...]
    zone: str
    status: str
    action: str
    words: str
    least_mm: float
    received_mm: float
    due_at: datetime | None
    dry_until: datetime | None
    chance: float | None
    chance_too_much: float | None
    rain_mean_mm: float
    rain_low_mm: float
    rain_high_mm: float
    members: int
    calibrated: bool
    top_up_mm: float
    top_up_minutes: float
    ways: tuple[WayOut, ...]
    notes: tuple[str, ...]
    source: str


class WhatIf(Frozen):
    """An application that was only asked about."""

    product: str
    zones: tuple[str, ...]
    at: datetime
    method: str
    dilution: float | None


class RainAnswer(Frozen):
    """The answer for all that is open, or for one application that is only asked about."""

    schema_version: Literal["advisor.rain/1"] = "advisor.rain/1"
    site: str
    time_zone: str
    units: str
    now: datetime
    what_if: WhatIf | None
    headline: str
    verdicts: tuple[RainVerdict, ...]
    rain: tuple[RainChance, ...]
    cautions: tuple[Caution, ...]
    attribution: tuple[str, ...]
    inputs_digest: str


def rain_answer(
    advice: Advice, what_if: WhatIf | None = None, application_id: int | None = None
) -> RainAnswer:
    """The decision for what `advice` holds; with `application_id` for that application alone."""
    say = Say(advice.units, ZoneInfo(advice.time_zone), advice.now.astimezone(ZoneInfo(advice.time_zone)))
    alike: dict[tuple[str, str], list[ObligationAdvice]] = {}
    for one in advice.obligations:
        if application_id is None or one.application_id == application_id:
            alike.setdefault((one.zone, one.words), []).append(one)
    zones = {z.zone: z for z in advice.zones}
    verdicts = tuple(_verdict(say, group, zones[group[0].zone]) for group in alike.values())
    return RainAnswer(
        site=advice.site,
        time_zone=advice.time_zone,
        units=advice.units,
        now=advice.now,
        what_if=what_if,
        headline=_headline(verdicts),
        verdicts=verdicts,
        rain=advice.rain,
        cautions=tuple(c for c in advice.cautions if c.topic in ("label", "re-entry", "runoff")),
        attribution=tuple(dict.fromkeys(s.attribution for s in advice.sources if s.attribution)),
        inputs_digest=advice.inputs_digest,
    )


def _verdict(say: Say, group: Sequence[ObligationAdvice], zone: ZoneAdvice) -> RainVerdict:
    one = group[0]
    run = next((o for o in one.options if o.action == "run"), None)
    top_up = run.top_up_mm if run is not None else one.top_up_mm
    return RainVerdict(
        products=tuple(dict.fromkeys(o.product for o in group)),
        zone=one.zone,
        status=one.status,
        action=one.action,
        words=one.words,
        least_mm=one.least_mm,
        received_mm=one.received_mm,
        due_at=one.due_at,
        dry_until=one.dry_until,
        chance=one.chance,
        chance_too_much=one.chance_too_much,
        rain_mean_mm=one.rain_mean_mm,
        rain_low_mm=one.rain_low_mm,
        rain_high_mm=one.rain_high_mm,
        members=one.members,
        calibrated=one.calibrated,
        top_up_mm=top_up,
        top_up_minutes=_minutes(top_up, zone),
        ways=tuple(_way(say, o, zone, o.action == one.action) for o in one.options),
        notes=tuple(dict.fromkeys(n for o in group for n in o.notes)),
        source=one.source,
    )


def _minutes(effective_mm: float, zone: ZoneAdvice) -> float:
    """Whole minutes of run time for an effective depth."""
    return float(ceil(round(60.0 * effective_mm * zone.multiplier / zone.rate_mm_h, 6)))


def _way(say: Say, option: Option, zone: ZoneAdvice, chosen: bool) -> WayOut:
    took = _minutes(option.top_up_mm, zone)
    run = f"run {zone.zone} {minutes(took)} for {say.depth(option.top_up_mm)}"
    if option.action == "rain":
        told = "leave it to the rain"
    elif option.look_at is not None and option.under_mm is not None:
        told = (
            f"look at {say.clock(option.look_at)}: under {say.depth(option.under_mm)} since "
            f"{say.clock(say.now)}, {run}"
        )
    else:
        told = f"{run} at the first chance"
    return WayOut(
        action=option.action,
        cost=option.cost,
        chosen=chosen,
        top_up_mm=option.top_up_mm,
        minutes=took,
        look_at=option.look_at,
        under_mm=option.under_mm,
        words=told,
    )


ACTS = {
    "rain": "leave it to the rain",
    "run": "run it",
    "wait": "wait and look again",
    "keep dry": "keep it dry",
    "none": "nothing to do",
}


def _headline(verdicts: Sequence[RainVerdict]) -> str:
    if not verdicts:
        return "Nothing that was put down asks anything of water now."
    told: dict[str, list[str]] = {}
    for each in verdicts:
        told.setdefault(ACTS[each.action], []).append(each.zone)
    return f"{'; '.join(f'{listed(dict.fromkeys(zones))}: {act}' for act, zones in told.items())}."
