"""The runs of a kept advice as records: as they were planned, shortened, or skipped."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from advisor.advice import Advice, LeftOut, LeftOutWhy, PlannedRun, advised_before, open_advice, record_of
from advisor.errors import InputError, RecordsError
from advisor.lawn import Records, Run, Site
from advisor.recording.entry import Understood
from advisor.recording.said import night_of, quantity, zone_of
from advisor.sentences import known_words, span_words, waited_words

if TYPE_CHECKING:
    from advisor.store import Store

SOURCE = "as advised"


@dataclass(frozen=True, slots=True)
class AsAdvisedEntry:
    """The runs of the newest advice (of `night`), on `zone` or on all.

    `skipped`: they did not run. `shortened`: they ran for this share of it. `conditional`: those that were
    to wait for a look at the gauge ran too.
    """

    zone: str | None = None
    night: str | None = None
    skipped: bool = False
    shortened: str | None = None
    conditional: bool = False


@dataclass(frozen=True, slots=True)
class _Sorted:
    """The advised runs by what can be said of them: over by now, not yet, and waiting for a look."""

    over: tuple[PlannedRun, ...]
    later: tuple[PlannedRun, ...]
    waited: tuple[PlannedRun, ...]

    @property
    def left_out(self) -> tuple[LeftOut, ...]:
        """Those that are not recorded now."""
        return (
            *(
                LeftOut(zone=run.zone, why=LeftOutWhy.WAITED, condition=run.condition, only_if=run.only_if)
                for run in self.waited
            ),
            *(LeftOut(zone=run.zone, why=LeftOutWhy.NOT_OVER, ends_at=_over_at(run)) for run in self.later),
        )


def advised_runs(entry: AsAdvisedEntry, site: Site, store: Store, now: datetime) -> Understood:
    """The advised runs that are over and not recorded yet, and those that are left out.

    They are those of the newest night that has any that are over, where no night is named: also runs that
    the newest advice no longer plans, because their start had passed when it was given. RecordsError where
    no advice was kept, or where no run is left to record.
    """
    share, records = _share(entry), store.records()
    found = _sorted(entry, site, store, records, now)
    if not found.over:
        raise RecordsError(_nothing_over(found, site))
    known = [
        LeftOut(zone=run.zone, why=LeftOutWhy.RECORDED_ALREADY, run_id=same.id)
        for run in found.over
        if (same := record_of(run, records)) is not None
    ]
    if len(known) == len(found.over):
        raise RecordsError(
            f"recorded already: {known_words(known)}; nothing was written; take it back with "
            "`advisor records undo` or `advisor records remove`"
        )
    return Understood(
        tuple(_run(run, share) for run in found.over if record_of(run, records) is None),
        left_out=(*known, *found.left_out),
    )


def _sorted(entry: AsAdvisedEntry, site: Site, store: Store, records: Records, now: datetime) -> _Sorted:
    """The runs that are meant. RecordsError where there are none."""
    zone = None if entry.zone is None else zone_of(entry.zone, site)
    night = None if entry.night is None else night_of(entry.night)
    advice = _advice_of(night, site, store)
    runs = _of_one_night(advice, night, zone, records, now)
    if not runs:
        which = f" on {zone}" if zone else ""
        raise RecordsError(
            f"the advice for the night of {advice.night} planned no run{which}; nothing was written"
        )
    waited = tuple(run for run in runs if run.condition is not None and not entry.conditional)
    sure = [run for run in runs if run not in waited]
    return _Sorted(
        over=tuple(run for run in sure if _over_at(run) <= now),
        later=tuple(run for run in sure if _over_at(run) > now),
        waited=waited,
    )


def _advice_of(night: date | None, site: Site, store: Store) -> Advice:
    """The newest advice, of this night where one is named. RecordsError where there is none to be read."""
    kept = store.last_advice(site.place.name, night=night)
    if kept is None:
        of = f" for the night of {night}" if night else ""
        raise RecordsError(f"no advice was kept{of}; `advisor tonight` gives and keeps one")
    advice = open_advice(kept.advice_json)
    if advice is None:
        raise RecordsError(
            "the advice kept last is of a form that is not understood; record the runs by hand"
        )
    return advice


def _of_one_night(
    advice: Advice, night: date | None, zone: str | None, records: Records, now: datetime
) -> list[PlannedRun]:
    """The advised runs of one night in order: of the one named, else of the newest that has any over."""
    waiting = (
        run.model_copy(update={"night": advice.night}) for run in advice.runs if run.condition is not None
    )
    runs = [
        run for run in (*advised_before(advice, records), *waiting) if run.cycles and zone in (None, run.zone)
    ]
    over = (run.night for run in runs if run.night is not None and _over_at(run) <= now)
    meant = night or max(over, default=advice.night)
    return sorted((run for run in runs if run.night == meant), key=lambda run: run.cycles[0].starts_at)


def _nothing_over(found: _Sorted, site: Site) -> str:
    if not found.later:
        waited = waited_words(found.left_out)
        return f"{waited}; nothing was written; add --conditional if that was done"
    last = max(_over_at(run) for run in found.later)
    return f"the advised runs are not over before {span_words(last, None, site.place.zone)}; record them then"


def _over_at(run: PlannedRun) -> datetime:
    return run.cycles[-1].ends_at


def _share(entry: AsAdvisedEntry) -> float:
    """The share of the advised minutes that ran: 0 where they were skipped, all where nothing is said."""
    if entry.shortened is None:
        return 0.0 if entry.skipped else 1.0
    if entry.skipped:
        raise InputError("the runs were skipped or shortened, not both", field="shortened")
    share = quantity(entry.shortened, "share", field="shortened")
    if not 0 < share < 1:
        raise InputError(
            "a shortened run is less than the whole",
            field="shortened",
            found=repr(entry.shortened),
            allowed="50 %",
        )
    return share


def _run(plan: PlannedRun, share: float) -> Run:
    begun, ended = plan.cycles[-1].starts_at, plan.cycles[-1].ends_at
    word = "skipped" if share == 0 else f"shortened to {share:.0%}".replace("%", " %") if share < 1 else ""
    return Run(
        zone=plan.zone,
        started_at=plan.cycles[0].starts_at,
        ended_at=begun + share * (ended - begun),
        minutes=share * plan.minutes,
        depth_mm=share * plan.depth_mm,
        source=SOURCE,
        note=word,
    )
