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

from advisor.advice import Advice, PlannedRun, advised_before, record_of
from advisor.lawn import Records, Rules, Run
from advisor.schedule import Running
from advisor.soil_water import PAST_DAYS

ONE_NIGHT = timedelta(days=1)
MINUTE = timedelta(minutes=1)


@dataclass(frozen=True, slots=True)
class EarlierRuns:
    """Runs of earlier advices that were to be made in any case, whose start has passed or cannot be changed.

    `recorded` are those that are recorded and not over yet; `going` those that go on, or begin in a moment,
    without the owner, and `made` such as are over; `unrecorded` are neither recorded nor made without the
    owner, of this night or the one before, and count as not made.
    """

    recorded: tuple[PlannedRun, ...] = ()
    going: tuple[PlannedRun, ...] = ()
    made: tuple[PlannedRun, ...] = ()
    unrecorded: tuple[PlannedRun, ...] = ()

    @property
    def under_way(self) -> tuple[PlannedRun, ...]:
        """The runs that are not over and are to be left alone."""
        return (*self.recorded, *self.going)

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
    """What became of the runs of the advice before, which may be of this night or of an earlier one."""
    if previous is None or previous.night > night:
        return EarlierRuns()
    recorded, going, made, unrecorded = [], [], [], []
    for run in advised_before(previous, records):
        record, age = record_of(run, records), night - (run.night or previous.night)
        if record is not None:
            if record.ended_at > now and record.minutes > 0:
                recorded.append(_as_recorded(run, record))
        elif rules.assume_made_after_min is not None and not run.by_hand:
            if _is_over(run, rules, now):
                made += [run] if age <= timedelta(days=PAST_DAYS) else []
            elif _stands(run, rules, now):
                going.append(run)
        elif run.cycles[0].starts_at <= now and age <= ONE_NIGHT:
            unrecorded.append(run)
    return EarlierRuns(tuple(recorded), tuple(going), tuple(made), tuple(unrecorded))


def _as_recorded(run: PlannedRun, record: Run) -> PlannedRun:
    """The cycles of the run as far as the record has them begin and end."""
    cycles = (
        cycle.model_copy(update={"ends_at": min(cycle.ends_at, record.ended_at)})
        for cycle in run.cycles
        if cycle.starts_at < record.ended_at
    )
    kept = tuple(cycles)
    return run.model_copy(update={"cycles": kept}) if kept else run


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
