"""The sentences of the Advice: one reason per zone, one verdict per application, one headline.

Short sentences, each with its number, so that a zone is understood in half a minute.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta

from advisor.advice.advice import ApplicationAdvice, NextLook, NotPlanned, PlannedRun, ZoneAdvice
from advisor.hours.night import Night
from advisor.hours.windows import hours_words
from advisor.schedule.planner import Plan
from advisor.sentences.watering_in import need_words
from advisor.soil_water.requirement import Requirement
from advisor.tonight.alarms import LIKELY, alarm_sentences
from advisor.tonight.syringe import WHY as SYRINGE
from advisor.tonight.zone_request import ZoneRequest
from advisor.watering_in.applications import TRACE_MM, ZoneApplication
from advisor.watering_in.decision import Choice
from advisor.wording import Say, listed, minutes

NO_HOURS = "no allowed hours of the coming nights are long enough to run this zone"
EVENING_H = 16  # from this hour on "this evening" is now


def zone_reason(
    say: Say,
    verdict: str,
    need: Requirement,
    want: ZoneRequest,
    run: PlannedRun | None,
    products: Sequence[str],
    why_not: str,
) -> str:
    """Why a zone is run or not, with its numbers. `products` are those that wait or are left to rain."""
    if verdict == "run" and run is not None:
        if want.turf_mm > 0 and want.effective_mm <= want.turf_mm + 1e-6:
            return " ".join([*_left_alone(say, need), *_puts_back(say, want, run)])
        if want.serves:
            serves = f"The run waters in {listed(want.serves)} with {say.depth(run.effective_mm)}."
            return " ".join([serves, *_left_alone(say, need)])
        return f"{_upper(run.why)}."
    if verdict == "cannot":
        return " ".join([why_not, *_left_alone(say, need)])
    if verdict == "wait" and want.later_at is not None and not products:
        first = f"What was put down is watered in later: the first chance is {say.clock(want.later_at)}."
        return " ".join([first, *_can_wait(say, need)])
    if verdict == "wait":
        first = f"Rain may yet water in {listed(products)}: the look at the gauge decides."
        return " ".join([first, *_can_wait(say, need)])
    if verdict == "leave to rain" and need.left_to_rain:
        room = f"Rain is likely to fill the soil: a run would find room for only {say.depth(need.room_mm)}."
        return " ".join([*_left_alone(say, need), room])
    if verdict == "leave to rain":
        return " ".join(
            [
                f"{listed(products)} {'is' if len(products) == 1 else 'are'} left to the rain.",
                *_can_wait(say, need),
            ]
        )
    return " ".join(_can_wait(say, need))


def _state(say: Say, need: Requirement) -> str:
    return (
        f"The grass has used {say.depth(need.depletion_mm)}; {say.depth(need.allowed_mm)} is its allowance."
    )


def _left_alone(say: Say, need: Requirement) -> list[str]:
    """Where the grass stands, and where it would stand at the next chance without a run."""
    if need.next_at is None:
        return [_state(say, need)]
    past = f"past the allowance with a chance of {say.chance(need.chance_past)}"
    at = f"Left alone it would be at {say.depth(need.next_mm)} by {say.part_of_day(need.next_at)}"
    return [_state(say, need), f"{at}, {past if need.chance_past > 0 else 'still within it'}."]


def _can_wait(say: Say, need: Requirement) -> list[str]:
    """Where the grass stands that is not run for its own sake, and why that will do."""
    if need.depletion_mm <= need.allowed_mm or need.next_at is None:
        return _left_alone(say, need)
    by = say.part_of_day(need.next_at)
    if need.next_mm < need.depletion_mm:
        why = (
            f"That is past it, but rain is expected to bring it back to {say.depth(need.next_mm)} by {by} "
            f"(chance of staying past it {say.chance(need.chance_past)})."
        )
    else:
        why = f"That is past it, but too little to be worth a run before {by}."
    return [_state(say, need), why]


def _puts_back(say: Say, want: ZoneRequest, run: PlannedRun) -> list[str]:
    told = [f"The run puts back {say.depth(run.effective_mm)}."]
    if want.held and say.depth(run.effective_mm) != say.depth(want.turf_mm):
        on = f" for {want.rest_on:%A} {want.rest_on.day} {want.rest_on:%B}" if want.rest_on else ""
        told = [
            f"The run puts back {say.depth(run.effective_mm)} of the {say.depth(want.turf_mm)}; "
            f"no more fits tonight, the rest waits{on}."
        ]
    elif want.capped_by:
        told.append(f"More would carry off {want.capped_by}.")
    if want.serves:
        told.append(f"It waters in {listed(want.serves)} as well.")
    return told


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def application_words(
    say: Say,
    one: ZoneApplication,
    choice: Choice | None,
    run_min: float,
    planned: PlannedRun | None,
    refused: NotPlanned | None,
) -> str:
    """The verdict on one application on one zone; `refused`: its run does not fit tonight, and why."""
    if one.status == "washed":
        if one.in_dry_period_mm > 0:
            return (
                f"Probably washed off: {say.depth(one.in_dry_period_mm)} of water fell while it had to stay dry. "
                "Follow the label before you repeat it."
            )
        return "Probably washed away by heavy rain soon after it went down. Follow the label before you repeat it."
    dry = f"Keep dry until {say.clock(one.dry_until)}" if one.status == "keep dry" and one.dry_until else ""
    wetted = (
        f"{say.depth(one.in_dry_period_mm)} of water fell while it had to stay dry; it may work less. "
        if one.in_dry_period_mm > 0
        else ""
    )
    if choice is None:
        if dry:
            return f"{wetted}{dry}: no run is planned on this zone before then."
        if one.status == "watered in":
            return f"{wetted}{_watered_in(say, one)}"
        if one.product.kind.light_runs_per_day > 0:
            runs, days = one.product.kind.light_runs_per_day, one.product.kind.for_days
            return (
                f"Keep it moist with {runs} light runs a day for {days:g} days. There is nothing to water in."
            )
        return f"{wetted}Nothing to water in: {need_words(one.need_reason, say.units)}."
    late = "Overdue. " if one.status == "overdue" else ""
    lead = f"{dry}. " if dry else ""
    act = _act(say, one, choice, run_min, planned, refused)
    ask = f"{say.depth(one.least_mm)} by {say.clock(choice.by)}"
    rain = (
        f"Chance that rain alone brings {ask}: {say.chance(choice.chance)}; {say.depth(choice.mean_mm)} expected "
        f"({say.span(choice.low_mm, choice.high_mm)} in 8 of 10 cases)."
    )
    return f"{late}{wetted}{lead}{act} {_so_far(say, one)}{rain}"


def _watered_in(say: Say, one: ZoneApplication) -> str:
    had = f"Watered in: {say.depth(one.received_mm)} of at least {say.depth(one.least_mm)}."
    if one.lost_mm <= 0.5:
        return f"{had} Nothing more to do."
    return (
        f"{had} That is {say.depth(one.lost_mm)} more than it bears: some of it was probably carried away. "
        "Do not repeat it at once; the label says when."
    )


def _so_far(say: Say, one: ZoneApplication) -> str:
    if one.received_mm <= TRACE_MM:
        return ""
    had = say.depth(one.received_mm)
    if one.product.kind.single_event:
        return f"It has had {had} at most in one go, and needs {say.depth(one.least_mm)} in one go. "
    return f"It has had {had} so far, short by {say.depth(max(0.0, one.least_mm - one.received_mm))}. "


def no_run_fits(choice: Choice) -> bool:
    """Whether no coming night has hours for a run."""
    return all(w.action != "run" for w in choice.ways)


def waters_in(one: ZoneApplication, planned: PlannedRun | None) -> bool:
    """Whether tonight's run is made in any case and is deep enough for it."""
    return planned is not None and not planned.only_if and planned.effective_mm >= one.missing_mm - 1e-6


def _act(
    say: Say,
    one: ZoneApplication,
    choice: Choice,
    run_min: float,
    planned: PlannedRun | None,
    refused: NotPlanned | None,
) -> str:
    if planned is not None and waters_in(one, planned):
        at = say.clock(planned.cycles[0].starts_at)
        return f"Tonight's run at {at} waters it in ({minutes(planned.minutes)})."
    if choice.action == "wait" and choice.look_at is not None and choice.under_mm is not None:
        return (
            f"Wait, and look at the gauge at {say.clock(choice.look_at)}: under {say.depth(choice.under_mm)} since "
            f"{say.clock(say.now)}, run {one.zone} {minutes(planned.minutes if planned else run_min)}."
        )
    if planned is not None and not planned.only_if:
        part = (
            f"Tonight's run brings {say.depth(planned.effective_mm)} of the {say.depth(one.missing_mm)} "
            "it still needs"
        )
        return f"{part}; the rest is left to the rain." if choice.action == "rain" else f"{part}."
    if choice.action == "run":
        return _cannot_yet(say, choice, run_min, refused)
    if choice.chance_too_much >= LIKELY:
        return "Too much rain is expected: run nothing, and leave it."
    if no_run_fits(choice):
        return f"Rain is the only way: {NO_HOURS}."
    if not choice.expected_loss.may_rain():
        return "Leave it: a run would cost more than it saves."
    return "Leave it to the rain."


def _cannot_yet(say: Say, choice: Choice, run_min: float, refused: NotPlanned | None) -> str:
    needs = f"It needs {say.depth(choice.top_up_mm)} from the sprinklers ({minutes(run_min)})"
    if refused is not None:
        day = refused.waits_for
        waits = "" if day is None else f" It waits for {day:%A} {day.day} {day:%B}."
        return f"{needs}, and that does not fit tonight. {refused.why}{waits}"
    assert choice.expected_loss.run_at is not None
    return f"{needs}; the first chance is {say.clock(choice.expected_loss.run_at)}."


def steps(
    say: Say,
    runs: Sequence[PlannedRun],
    looks: Sequence[NextLook],
    zones: Sequence[ZoneAdvice],
    obligations: Sequence[ApplicationAdvice],
    under_way: Sequence[PlannedRun],
) -> tuple[str, ...]:
    """What is wrong, then what to do, a sentence or two each."""
    parts = list(alarm_sentences(say, obligations))
    sure = [r for r in runs if not r.only_if]
    going = {r.zone: r.cycles[-1].ends_at for r in under_way if r.cycles[-1].ends_at > say.now}
    if going:
        parts.append(f"{listed(f'{z} is under way until {say.clock(at)}' for z, at in going.items())}.")
    if sure:
        parts.append(f"Run {listed(run_words(say, r) for r in sure)}.")
    decisive = [look for look in looks if look.minutes][:2]
    parts += gauge_words(say, decisive, runs)
    dry = {o.zone: say.clock(o.dry_until) for o in obligations if o.status == "keep dry" and o.dry_until}
    cannot = [z.zone for z in zones if z.verdict == "cannot" and z.zone not in dry]
    if cannot:
        parts.append(f"{listed(cannot)} wanted water that does not fit tonight: see below.")
    rain = [z.zone for z in zones if z.verdict == "leave to rain"]
    if rain:
        parts.append(f"Leave {listed(rain)} to the rain.")
    idle = [z.zone for z in zones if z.verdict == "not needed" and z.zone not in dry and z.zone not in going]
    if idle and parts:
        parts.append(f"{listed(idle)} {'needs' if len(idle) == 1 else 'need'} nothing.")
    for until in dict.fromkeys(dry.values()):
        parts.append(f"Keep {listed(z for z, u in dry.items() if u == until)} dry until {until}.")
    return tuple(parts) if parts else ("Nothing to water tonight.",)


def run_words(say: Say, run: PlannedRun) -> str:
    """A run with its soaks: Lawn 24 min at 02:37, or Bank 2 × 36 min from 02:36 to 04:33."""
    first, last = say.clock(run.cycles[0].starts_at), say.clock(run.cycles[-1].ends_at)
    if len(run.cycles) == 1:
        return f"{run.zone} {length_words(run)} at {first}"
    return f"{run.zone} {length_words(run)} from {first} to {last}"


def length_words(run: PlannedRun) -> str:
    """24 min, 2 × 36 min, or 70 min in 2 cycles."""
    cycles = [round((c.ends_at - c.starts_at).total_seconds() / 60.0) for c in run.cycles]
    if len(cycles) == 1:
        return minutes(run.minutes)
    if len(set(cycles)) == 1:
        return f"{len(cycles)} × {minutes(cycles[0])}"
    return f"{minutes(run.minutes)} in {len(cycles)} cycles"


def depth_words(say: Say, run: PlannedRun) -> str:
    """What a run puts down on average, and what of it counts."""
    mean, counted = say.depth(run.depth_mm), say.depth(run.effective_mm)
    if run.why == SYRINGE or mean == counted:
        return mean
    return f"{mean} on average, {counted} counted for the drier part"


def gauge_words(say: Say, looks: Sequence[NextLook], runs: Sequence[PlannedRun]) -> list[str]:
    """The looks that decide runs, after the one thing that they rest on: an empty gauge."""
    if not looks:
        return []
    when = "this evening" if say.now.astimezone(say.zone).hour >= EVENING_H else "now"
    planned = {r.zone: r for r in runs if r.only_if}
    told = [f"Empty the gauge {when}."]
    for look in looks:
        act = listed(
            run_words(say, planned[zone]) if zone in planned else f"{zone} {minutes(took)}"
            for zone, took in look.minutes.items()
        )
        under = say.depth(look.under_mm or 0.0)
        told.append(f"Look at it at {say.clock(look.at)}: under {under}, run {act}.")
    return told


def look_words(say: Say, at: datetime, under_mm: float, runs: Mapping[str, float]) -> str:
    """The rule for one look."""
    told = listed(f"{zone} {minutes(m)}" for zone, m in runs.items())
    return f"Look at the gauge at {say.clock(at)}: under {say.depth(under_mm)} since {say.clock(say.now)}, run {told}."


def skip_words(say: Say, at: datetime, over_mm: float, zones: Sequence[str]) -> str:
    """The rule for a run that rain may make needless."""
    return f"If more than {say.depth(over_mm)} falls before {say.clock(at)}, skip {listed(zones)}."


def window_words(say: Say, night: Night, plan: Plan) -> str:
    """When water may run tonight, and what is not plain about it."""
    if night.windows:
        spans = [say.stretch(w.starts_at, w.ends_at) for w in night.windows]
        told = f"Water may run {listed(spans)}"
        by_sun = timedelta() <= night.sun.at - night.windows[-1].ends_at < timedelta(minutes=1)
        if by_sun and night.sun.how == "sunrise":
            told += " (sunrise)"
        told += "."
    else:
        told = f"No water may run tonight. {night.closed}".strip()
        if night.later:
            told += f" The next allowed hours are {hours_words(night.later[0][1], say.zone)}."
    if night.sun.how != "sunrise":
        told += f" No sunrise tomorrow ({night.sun.how})."
    return " ".join(part for part in (told, plan.wind_words, *night.notes, *plan.notes) if part)
