"""Runs that an earlier advice of this night set going: taken as made until the records say otherwise."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

from advisor.advice.advice import Advice, PlannedRun, ZoneAdvice
from advisor.lawn.records import Records, Run
from advisor.schedule.request import Request
from advisor.wording import Say, listed

NEAR = timedelta(hours=2)  # a recorded run so near an advised one is that one


def runs_under_way(
    previous: Advice | None, night: date, records: Records, now: datetime
) -> tuple[PlannedRun, ...]:
    """The unconditional runs of an earlier advice for this night that have begun and are not recorded."""
    if previous is None or previous.night != night:
        return ()
    begun = (
        r for r in (*previous.under_way, *previous.runs) if not r.only_if and r.cycles[0].starts_at <= now
    )
    return tuple(r for r in begun if not _recorded(r, records.runs))


def not_recorded(previous: Advice | None, night: date, records: Records) -> tuple[str, ...]:
    """The zones whose runs of the last night's advice are neither recorded nor said to be skipped."""
    if previous is None or previous.night >= night:
        return ()
    runs = (r for r in (*previous.under_way, *previous.runs) if not r.only_if)
    return tuple(dict.fromkeys(r.zone for r in runs if not _recorded(r, records.runs)))


def _recorded(run: PlannedRun, runs: Iterable[Run]) -> bool:
    first, last = run.cycles[0].starts_at - NEAR, run.cycles[-1].ends_at + NEAR
    return any(r.zone == run.zone and first <= r.started_at <= last for r in runs)


def with_runs(records: Records, begun: Sequence[PlannedRun], now: datetime) -> Records:
    """The records with these runs as if they had been recorded: all their water counts from now on."""
    made = tuple(
        Run(
            zone=run.zone,
            started_at=run.cycles[0].starts_at,
            ended_at=min(run.cycles[-1].ends_at, now),
            minutes=run.minutes,
            depth_mm=run.depth_mm,
            source="as advised",
            note="taken as made",
        )
        for run in begun
    )
    return replace(records, runs=(*records.runs, *made)) if made else records


def after(requests: Sequence[Request], begun: Sequence[PlannedRun], now: datetime) -> tuple[Request, ...]:
    """The wants, none earlier than the end of what is still running."""
    ends = max((run.cycles[-1].ends_at for run in begun), default=now)
    if ends <= now:
        return tuple(requests)
    return tuple(replace(w, earliest=max(ends, w.earliest or ends)) for w in requests)


def told_under_way(
    say: Say, zones: Sequence[ZoneAdvice], begun: Sequence[PlannedRun]
) -> tuple[ZoneAdvice, ...]:
    """The zones, with a sentence on the run that each has under way or behind it."""
    words: dict[str, str] = {}
    for run in begun:
        first, last = say.clock(run.cycles[0].starts_at), say.clock(run.cycles[-1].ends_at)
        state = "is under way" if run.cycles[-1].ends_at > say.now else "is taken as made"
        words[run.zone] = f"Its run from {first} to {last} {state}, as advised."
    return tuple(
        z.model_copy(update={"reason": f"{words[z.zone]} {z.reason}"}) if z.zone in words else z
        for z in zones
    )


def doubts(begun: Sequence[PlannedRun], missed: Sequence[str]) -> tuple[str, ...]:
    """What the records do not say about runs that were advised."""
    told = []
    if begun:
        names = listed(dict.fromkeys(run.zone for run in begun))
        told.append(
            f"{names}: the run advised for tonight is taken as made. Record what ran "
            "(`advisor record run --as-advised`), or that it was skipped."
        )
    if missed:
        told.append(
            f"{listed(missed)}: the run advised for the night before is not recorded and counts as not made. "
            "If it ran: `advisor record run --as-advised`."
        )
    return tuple(told)
