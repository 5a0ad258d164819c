"""Will the rain do it? The decision alone, taken out of an Advice and told way by way."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from math import ceil
from typing import Literal
from zoneinfo import ZoneInfo

from advisor.advice.advice import Advice, ApplicationAdvice, Option, PlannedRun, RainChance, ZoneAdvice
from advisor.advice.cautions import Caution, concerns
from advisor.advice.frozen import Frozen
from advisor.advice.water_need import Equipment
from advisor.rounds.spray_window import MAY_RAIN, MAY_WASH
from advisor.tonight.alarms import alarm_sentences
from advisor.tonight.sentences import length_words
from advisor.tonight.syringe import WHY as SYRINGE
from advisor.wording import Say, listed, minutes


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
    sources_differ: tuple[str, ...]
    source: str


class WhatIf(Frozen):
    """An application that was only asked about."""

    product: str
    zones: tuple[str, ...]
    at: datetime
    method: str
    dilution: float | None
    equipment: Equipment | None = None
    """With what it is taken as put down, and how that is known."""
    equipment_note: str = ""
    """What is taken for granted about that, in a sentence; empty where nothing is."""


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
    asked = [o for o in advice.obligations if application_id is None or o.application_id == application_id]
    alike: dict[tuple[str, str], list[ApplicationAdvice]] = {}
    for one in asked:
        alike.setdefault((one.zone, one.words), []).append(one)
    zones = {z.zone: z for z in advice.zones}
    runs = {r.zone: r for r in advice.runs if not r.only_if}
    verdicts = tuple(
        _verdict(say, group, zones[group[0].zone], runs.get(group[0].zone)) for group in alike.values()
    )
    names = {o.product for o in asked}
    return RainAnswer(
        site=advice.site,
        time_zone=advice.time_zone,
        units=advice.units,
        now=advice.now,
        what_if=what_if,
        headline=_headline(say, asked, runs, what_if),
        verdicts=verdicts,
        rain=advice.rain,
        cautions=tuple(c for c in advice.cautions if concerns(c, names)),
        attribution=tuple(dict.fromkeys(s.attribution for s in advice.sources if s.attribution)),
        inputs_digest=advice.inputs_digest,
    )


def _verdict(
    say: Say, group: Sequence[ApplicationAdvice], zone: ZoneAdvice, run: PlannedRun | None
) -> RainVerdict:
    one = group[0]
    way = next((o for o in one.options if o.action == "run"), None)
    top_up = way.top_up_mm if way is not None else one.top_up_mm
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
        ways=tuple(
            _way(say, o, zone, o.action == one.action, run if one.action == "run" else None)
            for o in one.options
        ),
        notes=tuple(dict.fromkeys(n for o in group for n in o.notes)),
        sources_differ=tuple(dict.fromkeys(n for o in group for n in o.sources_differ)),
        source=one.source,
    )


def _minutes(effective_mm: float, zone: ZoneAdvice) -> float:
    """Whole minutes of run time for an effective depth."""
    return float(ceil(round(60.0 * effective_mm * zone.multiplier / zone.rate_mm_h, 6)))


def _way(say: Say, option: Option, zone: ZoneAdvice, chosen: bool, planned: PlannedRun | None) -> WayOut:
    """`planned` is the run that tonight's plan makes in any case, where it waters this in."""
    took = _minutes(option.top_up_mm, zone)
    run = f"run {zone.zone} {minutes(took)} for {say.depth(option.top_up_mm)}"
    if option.action == "rain":
        told = "leave it to the rain"
    elif option.look_at is not None and option.under_mm is not None:
        told = (
            f"look at {say.clock(option.look_at)}: under {say.depth(option.under_mm)} since "
            f"{say.clock(say.now)}, {run}"
        )
    elif planned is not None:
        took = planned.minutes
        told = (
            f"run {zone.zone} {length_words(planned)} for {say.depth(option.top_up_mm)} at "
            f"{say.clock(planned.cycles[0].starts_at)}, as planned tonight"
        )
    else:
        first = "" if option.starts_at is None else f", {say.clock(option.starts_at)}"
        told = f"{run} at the first chance{first}"
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


def _headline(
    say: Say,
    asked: Sequence[ApplicationAdvice],
    runs: Mapping[str, PlannedRun],
    what_if: WhatIf | None,
) -> str:
    """What is or may go wrong, then one act a zone; for what is only asked about, whether to do it at all."""
    if not asked:
        return "Nothing that was put down asks anything of water now."
    if what_if is not None:
        against = _against(say, asked)
        if against:
            lead = "Do not put it down now" if what_if.at >= say.now else "It should not have gone down then"
            return f"{lead}: {'; '.join(against)}."
    by_zone: dict[str, list[ApplicationAdvice]] = {}
    for one in asked:
        by_zone.setdefault(one.zone, []).append(one)
    told: dict[str, list[str]] = {}
    for zone, those in by_zone.items():
        told.setdefault(_act(say, those, runs.get(zone)), []).append(zone)
    acts = "; ".join(f"{listed(zones)}: {act}" for act, zones in told.items())
    return " ".join([*alarm_sentences(say, asked), f"{acts}."])


def _against(say: Say, asked: Sequence[ApplicationAdvice]) -> list[str]:
    """Why something only asked about had better not go down."""
    told = []
    if any("harms seed" in o.alarms for o in asked):
        told.append("it can stop or kill grass that comes up from seed there")
    if any("may not grow" in o.alarms for o in asked):
        told.append("what lies there may keep it from growing")
    wet = max((o.chance_wet for o in asked if o.chance_wet is not None), default=0.0)
    if wet > MAY_RAIN:
        told.append(f"the chance of rain while it must stay dry is {say.chance(wet)}")
    much = max((o.chance_too_much for o in asked if o.chance_too_much is not None), default=0.0)
    if much > MAY_WASH:
        told.append(f"the chance of more rain than it bears is {say.chance(much)}")
    return told


def _act(say: Say, those: Sequence[ApplicationAdvice], run: PlannedRun | None) -> str:
    """The one thing to do on a zone for all that lies on it."""
    actions = {o.action for o in those}
    dry = max((o.dry_until for o in those if o.action == "keep dry" and o.dry_until), default=None)
    asks = [o for o in those if o.options]
    acts = []
    if dry is not None:
        acts.append(f"keep it dry until {say.clock(dry)}")
    if "run" in actions or (dry is not None and any(o.action == "keep dry" for o in asks)):
        acts += _runs(say, asks, run)
    elif "wait" in actions:
        at = min((w.look_at for o in asks for w in o.options if w.look_at is not None), default=None)
        acts.append("wait and look again" + ("" if at is None else f" at {say.clock(at)}"))
    elif "rain" in actions:
        if all(w.action != "run" for o in asks for w in o.options):
            acts.append("only rain can water it in, no allowed hours are long enough")
        elif run is not None and run.why != SYRINGE:
            acts.append("leave the rest to the rain after tonight's run")
        else:
            acts.append("leave it to the rain")
    elif "keep moist" in actions:
        acts.append("keep it moist with light runs")
    return ", then ".join(acts) if acts else "nothing to do"


def _runs(say: Say, asks: Sequence[ApplicationAdvice], run: PlannedRun | None) -> list[str]:
    if run is not None:
        return [f"run it at {say.clock(run.cycles[0].starts_at)}"]
    at = min((w.starts_at for o in asks for w in o.options if w.starts_at is not None), default=None)
    return ["run it at the first chance" + ("" if at is None else f", {say.clock(at)}")]
