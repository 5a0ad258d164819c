"""What became of runs that were advised before: made, still to be made, or not known.

Only what is recorded counts as made; the owner of a clock or of automatic valves may say in the site file
that an advised run counts as made so long after its start (`assume_made_after`), unless the records say
otherwise. A run whose start has passed and that is neither is planned again, and that is told. So nothing is
cancelled by the asking: the same question asked twice gives the same answer.

What is under way keeps the water that it draws; other zones run beside it, in its soaks and after it as far as
the supply carries them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from advisor.advice import Advice, PlannedRun
from advisor.lawn import Records, Rules, Run
from advisor.schedule import Running

NEAR = timedelta(hours=2)  # a recorded run so near an advised one is that one


@dataclass(frozen=True, slots=True)
class EarlierRuns:
    """Runs of earlier advices that are to be made in any case, whose start has passed.

    `recorded` are those of this night that are recorded and not over yet, `assumed` those that are taken as
    made; `unrecorded` are neither, and count as not made. `last_night` names the zones whose runs of the
    night before are not recorded.
    """

    recorded: tuple[PlannedRun, ...] = ()
    assumed: tuple[PlannedRun, ...] = ()
    unrecorded: tuple[PlannedRun, ...] = ()
    last_night: tuple[str, ...] = ()

    @property
    def under_way(self) -> tuple[PlannedRun, ...]:
        """The runs of this night that count as made."""
        return (*self.recorded, *self.assumed)


def earlier_runs(
    previous: Advice | None, night: date, records: Records, rules: Rules, now: datetime
) -> EarlierRuns:
    """What became of the runs of the advice before, which may be of this night or of an earlier one."""
    if previous is None or previous.night > night:
        return EarlierRuns()
    if previous.night < night:
        missed = (run.zone for run in _advised(previous, records) if _record_of(run, records) is None)
        return EarlierRuns(last_night=tuple(dict.fromkeys(missed)))
    begun = [run for run in _advised(previous, records) if run.cycles[0].starts_at <= now]
    recorded, assumed, unrecorded = [], [], []
    for run in begun:
        record = _record_of(run, records)
        if record is not None:
            if record.ended_at > now and record.minutes > 0:
                recorded.append(_as_recorded(run, record))
        elif _is_assumed(run, rules, now):
            assumed.append(run)
        else:
            unrecorded.append(run)
    return EarlierRuns(tuple(recorded), tuple(assumed), tuple(unrecorded))


def _advised(previous: Advice, records: Records) -> list[PlannedRun]:
    """The runs that were to be made in any case.

    Where a run was planned again because an earlier one is not recorded, the earlier one stands for both: it
    is the same water.
    """
    earlier = [run for run in (*previous.under_way, *previous.unrecorded) if run.condition is None]
    open_zones = {run.zone for run in previous.unrecorded if _record_of(run, records) is None}
    return earlier + [run for run in previous.runs if run.condition is None and run.zone not in open_zones]


def _record_of(run: PlannedRun, records: Records) -> Run | None:
    """The recorded run that an advised one is, the nearest to its start."""
    first, last = run.cycles[0].starts_at - NEAR, run.cycles[-1].ends_at + NEAR
    near = [r for r in records.runs if r.zone == run.zone and first <= r.started_at <= last]
    return min(near, key=lambda r: abs(r.started_at - run.cycles[0].starts_at), default=None)


def _as_recorded(run: PlannedRun, record: Run) -> PlannedRun:
    """The cycles of the run as far as the record has them begin and end."""
    cycles = (
        cycle.model_copy(update={"ends_at": min(cycle.ends_at, record.ended_at)})
        for cycle in run.cycles
        if cycle.starts_at < record.ended_at
    )
    kept = tuple(cycles)
    return run.model_copy(update={"cycles": kept}) if kept else run


def _is_assumed(run: PlannedRun, rules: Rules, now: datetime) -> bool:
    margin = rules.assume_made_after_min
    return (
        margin is not None and not run.by_hand and run.cycles[0].starts_at + timedelta(minutes=margin) <= now
    )


def with_runs(records: Records, assumed: Sequence[PlannedRun], now: datetime) -> Records:
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
        for run in assumed
    )
    return replace(records, runs=(*records.runs, *made)) if made else records


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
