"""The sentences of the Advice: one reason per zone, one verdict per application, one headline."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from advisor.advice.advice import NextLook, PlannedRun
from advisor.advice.cover import Choice
from advisor.advice.need import TurfNeed
from advisor.advice.nights import Night
from advisor.advice.obligations import TRACE_MM, Obligation
from advisor.advice.plan import Plan
from advisor.advice.say import Say, listed, minutes
from advisor.advice.wanted import ZoneWant


def zone_reason(
    say: Say,
    verdict: str,
    need: TurfNeed,
    want: ZoneWant,
    run: PlannedRun | None,
    waits: Sequence[str],
    why_not: str,
) -> str:
    """Why a zone is run or not, with its numbers."""
    state = f"used {say.depth(need.depletion_mm)}, allowed {say.depth(need.allowed_mm)}"
    ahead = (
        ""
        if need.next_at is None
        else (
            f"; by {say.clock(need.next_at)} {say.depth(need.next_mm)} would be used "
            f"(chance of passing the allowance {say.chance(need.chance_past)})"
        )
    )
    if verdict == "run" and run is not None:
        if want.turf_mm > 0 and want.effective_mm <= want.turf_mm + 1e-6:
            also = f"; it waters in {listed(want.serves)} as well" if want.serves else ""
            capped = f"; no deeper, because {want.capped_by} would be lost to more" if want.capped_by else ""
            held = "; no deeper, because one night's hours hold no more for it" if want.held else ""
            return f"{_upper(state)}{ahead}. The run puts back {say.depth(want.effective_mm)}{also}{capped}{held}."
        if want.serves:
            return f"Waters in {listed(want.serves)} with {say.depth(want.effective_mm)}. For the grass alone: {state}{ahead}."
        return f"{_upper(run.why)}; {state}."
    if verdict == "cannot":
        return f"{why_not} {_upper(state)}{ahead}."
    if verdict == "wait" and want.later_at is not None and not waits:
        return (
            f"What was put down is watered in later: the first chance is {say.clock(want.later_at)}. "
            f"For the grass: {state}{ahead}."
        )
    if verdict == "wait":
        return f"Rain may yet water in {listed(waits)}: decide at the next look. The grass itself can wait: {state}{ahead}."
    if verdict == "leave to rain":
        if need.left_to_rain:
            return (
                f"{_upper(state)}{ahead}; rain is likely to fill the soil, only {say.depth(need.room_mm)} "
                "of room would remain for a run."
            )
        return f"Rain is expected to water in {listed(waits)}; {state}."
    return f"{_upper(state)}{ahead}."


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def obligation_words(
    say: Say,
    one: Obligation,
    choice: Choice | None,
    run_min: float,
    planned: PlannedRun | None,
    refused: bool,
) -> str:
    """The verdict on one application on one zone; `refused`: its run does not fit tonight."""
    had = say.depth(one.received_mm)
    if one.status == "washed":
        if one.in_dry_period_mm > 0:
            return (
                f"Probably washed off: {say.depth(one.in_dry_period_mm)} of water fell while it had to stay dry. "
                "Follow the label before you repeat it."
            )
        return "Probably washed away by heavy rain soon after it went down. Follow the label before you repeat it."
    dry = f"Keep dry until {say.clock(one.dry_until)}" if one.status == "keep dry" and one.dry_until else ""
    if choice is None:
        if dry:
            return f"{dry}: no run is planned on this zone before then."
        if one.status == "watered in":
            lost = f"; {say.depth(one.lost_mm)} more than it bears" if one.lost_mm > 0.5 else ""
            return f"Watered in: {had} of at least {say.depth(one.least_mm)}{lost}. Nothing more to do."
        return f"Nothing to water in: {one.need_words}."
    ask = f"{say.depth(one.least_mm)} by {say.clock(choice.by)}"
    rain = (
        f"Chance that rain alone brings {ask}: {say.chance(choice.chance)}; {say.depth(choice.mean_mm)} expected "
        f"({say.span(choice.low_mm, choice.high_mm)} in 8 of 10 cases)."
    )
    late = "Overdue. " if one.status == "overdue" else ""
    short = say.depth(max(0.0, one.least_mm - one.received_mm))
    so_far = f"It has had {had} so far, short by {short}. " if one.received_mm > TRACE_MM else ""
    lead = f"{dry}. Then: " if dry else ""
    return f"{late}{lead}{_act(say, one, choice, run_min, planned, refused)} {so_far}{rain}"


def _act(
    say: Say, one: Obligation, choice: Choice, run_min: float, planned: PlannedRun | None, refused: bool
) -> str:
    if (
        planned is not None
        and not planned.only_if
        and choice.action in ("run", "wait", "rain")
        and planned.effective_mm >= one.missing_mm - 1e-6
    ):
        at = say.clock(planned.cycles[0].starts_at)
        return f"Tonight's run at {at} waters it in ({minutes(planned.minutes)})."
    if choice.action == "wait" and choice.look_at is not None and choice.under_mm is not None:
        return (
            f"Wait, and look at the gauge at {say.clock(choice.look_at)}: under {say.depth(choice.under_mm)} since "
            f"{say.clock(say.now)}, run {one.zone} {minutes(planned.minutes if planned else run_min)}."
        )
    if choice.action == "run" and planned is not None and not planned.only_if:
        return (
            f"Tonight's run brings {say.depth(planned.effective_mm)} of the {say.depth(one.missing_mm)} "
            "it still needs."
        )
    if choice.action == "run" and not refused and choice.prospect.run_at is not None:
        at = say.clock(choice.prospect.run_at)
        return (
            f"It needs {say.depth(choice.top_up_mm)} from the sprinklers ({minutes(run_min)}); "
            f"the first chance is {at}."
        )
    if choice.action == "run":
        return f"It needs {say.depth(choice.top_up_mm)} from the sprinklers, but no run fits tonight."
    return "Leave it to the rain."


def headline(
    say: Say,
    runs: Sequence[PlannedRun],
    looks: Sequence[NextLook],
    zones: Sequence[tuple[str, str]],
    dry: Sequence[str],
) -> str:
    """What to do, in one breath. `zones` are (name, verdict) pairs, `dry` the zones to keep dry."""
    parts = []
    sure = [r for r in runs if not r.only_if]
    if sure:
        told = [f"{r.zone} {minutes(r.minutes)} at {say.clock(r.cycles[0].starts_at)}" for r in sure]
        parts.append(f"Run {listed(told)}.")
    decisive = [look for look in looks if look.minutes]
    parts += [look.words for look in decisive[:2]]
    cannot = [name for name, verdict in zones if verdict == "cannot" and name not in dry]
    if cannot:
        parts.append(f"{listed(cannot)} wanted water that does not fit tonight: see below.")
    rain = [name for name, verdict in zones if verdict == "leave to rain"]
    if rain:
        parts.append(f"Leave {listed(rain)} to the rain.")
    idle = [name for name, verdict in zones if verdict == "not needed"]
    if idle and (sure or decisive or cannot or rain):
        parts.append(f"{listed(idle)} {'needs' if len(idle) == 1 else 'need'} nothing.")
    if dry:
        parts.append(f"Keep {listed(dry)} dry.")
    return " ".join(parts) if parts else "Nothing to water tonight."


def look_words(say: Say, at: datetime, under_mm: float, runs: dict[str, float]) -> str:
    """The rule for one look."""
    told = listed(f"{zone} {minutes(m)}" for zone, m in runs.items())
    return f"Look at the gauge at {say.clock(at)}: under {say.depth(under_mm)} since {say.clock(say.now)}, run {told}."


def skip_words(say: Say, at: datetime, over_mm: float, zones: Sequence[str]) -> str:
    """The rule for a run that rain may make needless."""
    return f"If more than {say.depth(over_mm)} falls before {say.clock(at)}, skip {listed(zones)}."


def window_words(say: Say, night: Night, plan: Plan) -> str:
    """When water may run tonight, and what is not plain about it."""
    if night.windows:
        spans = [f"{say.clock(w.starts_at)}–{say.clock(w.ends_at)}" for w in night.windows]
        told = f"Water may run {listed(spans)}"
        by_sun = timedelta() <= night.sun.at - night.windows[-1].ends_at < timedelta(minutes=1)
        if by_sun and night.sun.how == "sunrise":
            told += " (sunrise)"
        told += "."
    else:
        told = f"No water may run tonight. {night.closed}".strip()
        if night.later:
            told += f" The next night that allows it is {night.later[0][0]:%A %d %B}."
    if night.sun.how != "sunrise":
        told += f" No sunrise tomorrow ({night.sun.how})."
    return " ".join([told, plan.wind_words, *night.notes, *plan.notes]).strip()
