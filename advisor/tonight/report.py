"""From the state of the lawn, the decisions and the plan to the Advice; the sentences are put in last."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import numpy as np

from advisor.advice import (
    Advice,
    ApplicationAdvice,
    LookKind,
    NextLook,
    Note,
    NoteLevel,
    PlannedRun,
    Reason,
    ReasonKind,
    SourceUsed,
    ZoneAdvice,
    ZoneVerdict,
    unusable_told,
)
from advisor.sentences import (
    EVENING_H,
    all_told,
    look_step,
    look_words,
    note_sentences,
    run_step,
    unusable_sentence,
)
from advisor.soil_water import chance_of
from advisor.tonight.alarms import alarm_reasons
from advisor.tonight.application_report import application_advice, keep_dry_until
from advisor.tonight.cautions import cautions, meeting_seed
from advisor.tonight.changes import changes_since
from advisor.tonight.decide_night import NightDecision
from advisor.tonight.fingerprint import inputs_digest
from advisor.tonight.lawn_state import Asked, LawnState
from advisor.tonight.plan_night import NightPlan
from advisor.tonight.under_way import ONE_NIGHT
from advisor.tonight.unknowns import unknowns
from advisor.tonight.window_words import window_words
from advisor.tonight.zone_report import turf_runs, zone_advice

Kind = ReasonKind
EVENING = 20  # the local hour of the evening's ask
MOST_LOOKS_TOLD = 2


def report(lawn: LawnState, asked: Asked, decided: NightDecision, plan: NightPlan) -> Advice:
    """The Advice, with what changed where one was given before for the same night."""
    place, night = lawn.site.place, lawn.night
    zones = zone_advice(lawn, asked, decided, plan)
    meet_seed = meeting_seed(lawn.site, lawn.records, lawn.applications)
    applications = application_advice(lawn, decided, plan, meet_seed)
    looks = next_looks(lawn, asked, decided, plan)
    steps = _steps(lawn, plan, looks, zones, applications)
    doubts = all_told(lawn.say, _doubts(lawn, asked))
    advice = Advice(
        site=place.name,
        time_zone=place.zone.key,
        units=place.units,
        now=lawn.now.astimezone(UTC),
        night=night.night,
        window_starts_at=night.windows[0].starts_at if night.windows else None,
        window_ends_at=night.ends_at,
        window_words=window_words(lawn.say, night, plan.plan),
        headline=" ".join(step.text for step in steps),
        steps=tuple(step.text for step in steps),
        step_reasons=steps,
        zones=zones,
        obligations=applications,
        runs=plan.plan.runs,
        under_way=lawn.earlier.under_way,
        taken_as_made=lawn.earlier.made,
        recorded=lawn.earlier.recorded,
        unrecorded=lawn.earlier.unrecorded,
        not_planned=plan.plan.not_planned,
        next_looks=looks,
        rain=asked.rain,
        unknowns=tuple(doubt.text for doubt in doubts),
        unknown_reasons=doubts,
        changes=(),
        cautions=cautions(lawn.root_zone, lawn.applications, plan.plan.runs, meet_seed),
        sources=sources_used(lawn),
        provenance=_provenance(lawn),
        notes=_notes(lawn),
        checks=plan.checks,
        inputs_digest=inputs_digest(lawn.site, lawn.records, lawn.weather, lawn.now),
        left_out=tuple(unusable_told(each, unusable_sentence(each)) for each in lawn.records.unusable),
        asked_since=lawn.asked_since.astimezone(UTC),
    )
    if lawn.previous is None or lawn.previous.night != advice.night:
        return advice
    changes = all_told(lawn.say, changes_since(lawn.previous, advice))
    return advice.model_copy(
        update={"changes": tuple(each.text for each in changes), "change_reasons": changes}
    )


def sources_used(lawn: LawnState) -> tuple[SourceUsed, ...]:
    """The weather sources behind the advice."""
    return tuple(
        SourceUsed(
            name=use.name,
            serves=use.serves,
            fetched_at=use.fetched_at,
            reaches_until=use.reaches_until,
            members=use.members,
            attribution=use.attribution,
        )
        for use in lawn.weather.sources
    )


def _provenance(lawn: LawnState) -> tuple[str, ...]:
    return note_sentences(lawn.say, (note for note in _notes(lawn) if note.level != NoteLevel.WARNING))


def _notes(lawn: LawnState) -> tuple[Note, ...]:
    """How the weather and what follows from it were made, each said once."""
    return tuple(dict.fromkeys((*lawn.weather.notes, *lawn.root_zone.notes)))


def _doubts(lawn: LawnState, asked: Asked) -> tuple[Reason, ...]:
    """What is not known or only guessed: records, runs, weather, then the lawn."""
    found = list(lawn.not_understood)
    found += _of_runs(Kind.RUN_NOT_RECORDED, _lately_assumed(lawn))
    found += _not_recorded(lawn)
    firm = [run for run in lawn.earlier.unrecorded if run.condition is None]
    found += _of_runs(Kind.LAST_NIGHT_NOT_RECORDED, [r for r in firm if r.night != lawn.night.night])
    found += _of_runs(Kind.WAITED_NOT_RECORDED, [r for r in lawn.earlier.unrecorded if r not in firm])
    warnings = note_sentences(lawn.say, (note for note in _notes(lawn) if note.level == NoteLevel.WARNING))
    found += [Reason(kind=Kind.WEATHER_LACKS, text=words) for words in warnings]
    return (*found, *unknowns(lawn.root_zone, asked.requirements))


def _not_recorded(lawn: LawnState) -> list[Reason]:
    """The runs advised for tonight whose start has passed, of which nothing is recorded."""
    tonight = [
        run for run in lawn.earlier.unrecorded if run.night == lawn.night.night and run.condition is None
    ]
    return _of_runs(Kind.RUN_COUNTS_AS_NOT_MADE, tonight)


def _lately_assumed(lawn: LawnState) -> list[PlannedRun]:
    """The runs that began without the owner, tonight or the night before, of which nothing is recorded."""
    begun = [run for run in lawn.earlier.assumed if run.cycles[0].starts_at <= lawn.now]
    return [run for run in begun if run.night is not None and lawn.night.night - run.night <= ONE_NIGHT]


def _of_runs(kind: ReasonKind, runs: Sequence[PlannedRun]) -> list[Reason]:
    """One reason about runs, with the start of the first; none without runs."""
    if not runs:
        return []
    zones = tuple(dict.fromkeys(run.zone for run in runs))
    at, night = min(run.cycles[0].starts_at for run in runs), max(run.night for run in runs if run.night)
    return [Reason(kind=kind, zones=zones, at=at, day=night)]


def next_looks(
    lawn: LawnState, asked: Asked, decided: NightDecision, plan: NightPlan
) -> tuple[NextLook, ...]:
    """The looks that the answers rest on, earliest first, and at last the next evening."""
    looks = [
        *_gauge_looks(lawn, decided, plan),
        *_skip_looks(lawn, asked, decided, plan),
        _evening_look(lawn),
    ]
    told = (look.model_copy(update={"words": look_words(lawn.say, look)}) for look in looks)
    return tuple(sorted(told, key=lambda look: look.at))


def _gauge_looks(lawn: LawnState, decided: NightDecision, plan: NightPlan) -> list[NextLook]:
    """The looks at the gauge that decide runs; zones with one rule share a look."""
    planned = {run.zone: run for run in plan.plan.runs}
    grouped: dict[tuple[datetime, float], dict[str, float]] = {}
    for each in decided.zone_requests:
        if each.look_at is None or each.under_mm is None:
            continue
        name = lawn.site.zones[each.zone].name
        run = planned.get(name)
        rule = grouped.setdefault((each.look_at, each.under_mm), {})
        rule[name] = run.minutes if run is not None else float(np.ceil(each.requests[0].minutes))
    return [
        NextLook(
            kind=LookKind.GAUGE,
            at=at,
            zones=tuple(rule),
            under_mm=under,
            over_mm=None,
            minutes=rule,
            words="",
        )
        for (at, under), rule in grouped.items()
    ]


def _skip_looks(lawn: LawnState, asked: Asked, decided: NightDecision, plan: NightPlan) -> list[NextLook]:
    """The look before the turf's own runs, where rain may well make them needless."""
    names = [zone.name for zone in lawn.site.zones]
    runs = turf_runs(plan, decided.zone_requests, names)
    if not runs:
        return []
    spare = {names[each.zone]: each.spare_mm for each in asked.requirements}
    start, over = min(run.cycles[0].starts_at for run in runs), max(spare[run.zone] for run in runs)
    judged = lawn.site.judgement.looks
    takes, before = (timedelta(minutes=each) for each in (judged.takes_min, judged.seen_before_min))
    at = start - max(before, lawn.site.rules.act_within + takes)
    if at <= lawn.now or chance_of(lawn.root_zone, lawn.now, start, over) < judged.skip_chance:
        return []
    return [
        NextLook(
            kind=LookKind.SKIP,
            at=at,
            zones=tuple(run.zone for run in runs),
            under_mm=None,
            over_mm=over,
            minutes={},
            words="",
        )
    ]


def _evening_look(lawn: LawnState) -> NextLook:
    """The next evening: this one's, where it is not evening yet."""
    local = lawn.now.astimezone(lawn.site.place.zone).replace(fold=0)
    at = local.replace(hour=EVENING, minute=0) if local.hour < EVENING_H else local + timedelta(days=1)
    return NextLook(
        kind=LookKind.EVENING,
        at=at.astimezone(UTC),
        zones=(),
        under_mm=None,
        over_mm=None,
        minutes={},
        words="",
    )


def _steps(
    lawn: LawnState,
    plan: NightPlan,
    looks: Sequence[NextLook],
    zones: Sequence[ZoneAdvice],
    applications: Sequence[ApplicationAdvice],
) -> tuple[Reason, ...]:
    """What is wrong, then what to do, a sentence or two each."""
    say = lawn.say
    found = [*alarm_reasons(applications), *_not_recorded(lawn)]
    begun = [run for run in lawn.earlier.under_way if run.cycles[0].starts_at <= lawn.now]
    going = {run.zone: run.cycles[-1].ends_at for run in lawn.earlier.under_way}
    found += [Reason(kind=Kind.UNDER_WAY, zones=(run.zone,), until=going[run.zone]) for run in begun]
    found += [
        Reason(kind=Kind.STANDS, zones=(run.zone,), at=run.cycles[0].starts_at)
        for run in lawn.earlier.under_way
        if run not in begun
    ]
    firm = [run for run in plan.plan.runs if run.condition is None]
    if firm:
        names = tuple(run.zone for run in firm)
        found.append(Reason(kind=Kind.RUN_TONIGHT, zones=names, text=run_step(say, firm)))
    found += _look_steps(lawn, plan, looks)
    dry = keep_dry_until(applications)
    cannot = _named(zones, ZoneVerdict.CANNOT, dry)
    found += [Reason(kind=Kind.DOES_NOT_FIT, zones=cannot)] if cannot else []
    rain = _named(zones, ZoneVerdict.LEAVE_TO_RAIN)
    found += [Reason(kind=Kind.LEAVE_TO_RAIN, zones=rain)] if rain else []
    idle = _named(zones, ZoneVerdict.NOT_NEEDED, {**dry, **going})
    found += [Reason(kind=Kind.NEEDS_NOTHING, zones=idle)] if idle and found else []
    for until in dict.fromkeys(dry.values()):
        kept = tuple(zone for zone, each in dry.items() if each == until)
        found.append(Reason(kind=Kind.KEEP_DRY, zones=kept, until=until))
    return all_told(say, found or [Reason(kind=Kind.NOTHING_TONIGHT)])


def _named(
    zones: Sequence[ZoneAdvice], verdict: ZoneVerdict, without: dict[str, datetime] | None = None
) -> tuple[str, ...]:
    """The zones of one verdict, without those named."""
    return tuple(z.zone for z in zones if z.verdict == verdict and z.zone not in (without or {}))


def _look_steps(lawn: LawnState, plan: NightPlan, looks: Sequence[NextLook]) -> list[Reason]:
    """The looks that decide runs, after the one thing that they rest on: an empty gauge."""
    decisive = [look for look in looks if look.kind == LookKind.GAUGE][:MOST_LOOKS_TOLD]
    if not decisive:
        return []
    waiting = {run.zone: run for run in plan.plan.runs if run.condition is not None}
    return [
        Reason(kind=Kind.EMPTY_THE_GAUGE),
        *(
            Reason(
                kind=Kind.LOOK_AT_THE_GAUGE,
                at=look.at,
                depth_mm=look.under_mm,
                zones=look.zones,
                text=look_step(lawn.say, look, waiting),
            )
            for look in decisive
        ),
    ]
