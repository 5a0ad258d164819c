"""What became of runs that were advised before: made, still to be made, or not known.

Only what is recorded counts as made. The owner of a clock or of automatic valves may say in the site file
that an advised run counts as made so long after its start (`assume_made_after`), unless the records say
otherwise: it counts as long as the balance looks back, and one that begins sooner than the owner can act
stands as it was advised. Elsewhere a run whose start has passed and that is not recorded is planned again,
and that is told until the evening after. So nothing is cancelled by the asking: the same question asked twice
gives the same answer.

What is under way keeps the water that it draws; other zones run beside it, in its soaks and after it as far as
the supply carries them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from advisor.advice import AT_THE_LOOK, Advice, Cycle, PlannedRun, advised_before
from advisor.lawn import Records, Rules, Run
from advisor.schedule import Running
from advisor.soil_water import PAST_DAYS

ONE_NIGHT = timedelta(days=1)
MINUTE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class EarlierRuns:
    """Runs of earlier advices whose start has passed or can no longer be changed.

    `recorded` are those with a record, as they were advised, and `under_record` those of them that go on, as
    they are recorded; `going` those that go on, or begin in a moment, without the owner, and `made` such as
    are over; `unrecorded` are neither recorded nor made without the owner, of this night or the one before,
    and count as not made.
    """

    recorded: tuple[PlannedRun, ...] = ()
    under_record: tuple[PlannedRun, ...] = ()
    going: tuple[PlannedRun, ...] = ()
    made: tuple[PlannedRun, ...] = ()
    unrecorded: tuple[PlannedRun, ...] = ()

    @property
    def under_way(self) -> tuple[PlannedRun, ...]:
        """The runs that are not over and are to be left alone."""
        return (*self.under_record, *self.going)

    @property
    def assumed(self) -> tuple[PlannedRun, ...]:
        """The runs that count as made though nothing is recorded of them."""
        return (*self.going, *self.made)

    def made_in(self, night: date) -> tuple[PlannedRun, ...]:
        """The runs of one night that are over and count as made."""
        return tuple(run for run in self.made if run.night == night)


def earlier_runs(
    previous: Advice | None, night: date, records: Records, rules: Rules, now: datetime
) -> EarlierRuns:
    """What became of the runs of the advices before, which may be of this night or of earlier ones."""
    if previous is None or previous.night > night:
        return EarlierRuns()
    recorded, under_record, going, made, unrecorded = [], [], [], [], []
    by_itself = rules.assume_made_after_min is not None
    kept_for = timedelta(days=PAST_DAYS) if by_itself else ONE_NIGHT
    for run, record, _ in advised_before(previous, records, now):
        age = night - (run.night or previous.night)
        if record is not None:
            recorded += [run] if age <= kept_for else []
            if record.ended_at > now and record.minutes > 0:
                under_record.append(_as_recorded(run, record))
        elif by_itself and not run.by_hand and run.condition is None:
            if _is_over(run, rules, now):
                made += [run] if age <= kept_for else []
            elif _stands(run, rules, now):
                going.append(run)
        elif run.cycles[0].starts_at < now and age <= ONE_NIGHT and _may_have_run(run, records):
            unrecorded.append(run)
    return EarlierRuns(*(tuple(each) for each in (recorded, under_record, going, made, unrecorded)))


def soonest_start(previous: Advice | None, now: datetime, rules: Rules) -> datetime:
    """The first minute for which the owner can still act, on this advice or on the one before.

    What was advised a while ago may begin as it was: asking shortly before does not move it.
    """
    can_act = now + rules.act_within
    told = () if previous is None else previous.runs
    return min(
        (at for run in told for at in [run.cycles[0].starts_at] if now <= at < can_act), default=can_act
    )


def _may_have_run(run: PlannedRun, records: Records) -> bool:
    """Not where it was to wait for the gauge, and a reading at the look shows enough."""
    if run.condition is None:
        return True
    look_at, under_mm = run.condition.look_at, run.condition.under_mm
    read = (each for each in records.gauge if abs(each.read_at - look_at) <= AT_THE_LOOK)
    return not any(each.depth_mm >= under_mm for each in read)


def _as_recorded(run: PlannedRun, record: Run) -> PlannedRun:
    """The run as its record has it: with its cycles where it has its time, else in one stretch."""
    begins, ends = run.cycles[0].starts_at, run.cycles[-1].ends_at
    if max(abs(record.started_at - begins), abs(record.ended_at - ends)) <= MINUTE:
        return run
    share = record.minutes / run.minutes if run.minutes > 0 else 1.0
    return run.model_copy(
        update={
            "cycles": (Cycle(starts_at=record.started_at, ends_at=record.ended_at),),
            "minutes": record.minutes,
            "depth_mm": run.depth_mm * share,
            "effective_mm": run.effective_mm * share,
            "litres": run.litres * share,
        }
    )


def _is_over(run: PlannedRun, rules: Rules, now: datetime) -> bool:
    margin = timedelta(minutes=rules.assume_made_after_min or 0.0)
    return max(run.cycles[0].starts_at + margin, run.cycles[-1].ends_at) <= now


def _stands(run: PlannedRun, rules: Rules, now: datetime) -> bool:
    """Whether it has begun, or begins before the owner could change it."""
    return run.cycles[0].starts_at < now + timedelta(minutes=rules.act_within_min)


def with_runs(records: Records, assumed: Sequence[PlannedRun], now: datetime) -> Records:
    """The records with these runs as if they had been recorded.

    Of a run that goes on, recorded or not, all the water counts from now on: nothing asks for it again.
    """
    made = tuple(
        Run(
            zone=run.zone,
            started_at=run.cycles[0].starts_at,
            ended_at=run.cycles[-1].ends_at,
            minutes=run.minutes,
            depth_mm=run.depth_mm,
            source="as advised",
            note="taken as made",
        )
        for run in assumed
    )
    going = _going_on(records.runs, now)
    if not made and not going:
        return records
    recorded = (_had_by(now, run) if run in going else run for run in records.runs)
    return replace(records, runs=(*recorded, *(_had_by(now, run) for run in made)))


def _had_by(now: datetime, run: Run) -> Run:
    if run.ended_at <= now:
        return run
    return replace(run, started_at=min(run.started_at, now - MINUTE), ended_at=now)


def running(
    earlier: EarlierRuns, records: Records, flows: Mapping[str, float | None], now: datetime
) -> tuple[Running, ...]:
    """What draws water from now on whatever is planned: runs under way, and recorded ones that go on.

    `flows` by zone [L/min], None where unknown.
    """
    found = [
        Running(run.zone, cycle.starts_at, cycle.ends_at, flows.get(run.zone), run.by_hand)
        for run in earlier.under_way
        for cycle in run.cycles
        if cycle.ends_at > now
    ]
    known = {run.zone for run in earlier.under_way}
    found += [
        Running(run.zone, run.started_at, run.ended_at, flows.get(run.zone))
        for run in _going_on(records.runs, now)
        if run.zone not in known
    ]
    return tuple(found)


def _going_on(runs: Iterable[Run], now: datetime) -> list[Run]:
    return [run for run in runs if run.started_at <= now < run.ended_at and run.minutes > 0]
