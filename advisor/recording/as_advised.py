"""The runs of a kept advice as records: as they were planned, shortened, or skipped."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING

from advisor.advice import Advice, Advised, LeftOut, LeftOutWhy, PlannedRun, advised_before, open_advice
from advisor.errors import InputError, RecordsError
from advisor.lawn import Run, Site
from advisor.recording.entry import Understood
from advisor.recording.said import night_of, quantity, zone_of
from advisor.sentences import known_words, not_made_words, span_words, waited_words

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
    """The advised runs of a night by what can be said of them.

    `known` are recorded already, `over` can be recorded now, `later` are not over yet, `waited` were to be
    made only if the gauge showed little, and `not_made` were told to count as not made.
    """

    known: tuple[Advised, ...]
    over: tuple[PlannedRun, ...]
    later: tuple[PlannedRun, ...]
    waited: tuple[PlannedRun, ...]
    not_made: tuple[PlannedRun, ...]

    @property
    def left_out(self) -> tuple[LeftOut, ...]:
        """Those that are not recorded now."""
        return (
            *(
                LeftOut(zone=each.run.zone, why=LeftOutWhy.RECORDED_ALREADY, run_id=each.record.id)
                for each in self.known
                if each.record is not None
            ),
            *(
                LeftOut(zone=run.zone, why=LeftOutWhy.WAITED, condition=run.condition, only_if=run.only_if)
                for run in self.waited
            ),
            *(
                LeftOut(zone=run.zone, why=LeftOutWhy.NOT_MADE, starts_at=run.cycles[0].starts_at)
                for run in self.not_made
            ),
            *(LeftOut(zone=run.zone, why=LeftOutWhy.NOT_OVER, ends_at=_over_at(run)) for run in self.later),
        )


def advised_runs(entry: AsAdvisedEntry, site: Site, store: Store, now: datetime) -> Understood:
    """The advised runs that are over and not recorded yet, and those that are left out.

    They are those of the newest night that has any, where no night is named, as the newest advice of that
    night has them: those it planned and those that count as made; runs that it told to count as not made
    only where nothing else is recorded of that night, or where the zone or the night is named. What was
    skipped need not be over. RecordsError where no advice was kept, or where no run is left to record.
    """
    share = _share(entry)
    found = _sorted(entry, site, store, now)
    if not found.over:
        raise RecordsError(_nothing_over(found, site))
    return Understood(tuple(_run(run, share, now) for run in found.over), left_out=found.left_out)


def _sorted(entry: AsAdvisedEntry, site: Site, store: Store, now: datetime) -> _Sorted:
    """The runs that are meant. RecordsError where there are none."""
    zone = None if entry.zone is None else zone_of(entry.zone, site)
    night = None if entry.night is None else night_of(entry.night)
    advice = _advice_of(night, site, store)
    till = _starts_at if entry.skipped else _over_at
    every = [each for each in advised_before(advice, store.records(), now) if zone in (None, each.run.zone)]
    runs = _of_one_night(every, night or _newest(every, advice, till, now))
    if not runs:
        which = f" on {zone}" if zone else ""
        raise RecordsError(
            f"the advice for the night of {advice.night} planned no run{which}; nothing was written"
        )
    known = tuple(each for each in runs if each.record is not None)
    open_ = [each for each in runs if each.record is None]
    waited = [each for each in open_ if each.run.condition is not None and not entry.conditional]
    sure = [each for each in open_ if each not in waited]
    over = [each for each in sure if till(each.run) <= now]
    made = [each for each in over if not each.not_made or each.run.condition is not None]
    if not made and (zone or night or not known):  # what was told not to count is taken where it is meant
        made = over
    return _Sorted(
        known=known,
        over=tuple(each.run for each in made),
        later=tuple(each.run for each in sure if each not in over),
        waited=tuple(each.run for each in waited),
        not_made=tuple(each.run for each in over if each not in made),
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


def _newest(
    every: Sequence[Advised], advice: Advice, till: Callable[[PlannedRun], datetime], now: datetime
) -> date:
    """The newest night with a run that can be recorded, else with one that is recorded, else the advice's."""
    for known in (False, True):
        nights = [
            each.run.night
            for each in every
            if each.run.night is not None and till(each.run) <= now and (each.record is not None) == known
        ]
        if nights:
            return max(nights)
    return advice.night


def _of_one_night(every: Sequence[Advised], night: date) -> list[Advised]:
    """The advised runs of one night, in the order of their starts."""
    return sorted((each for each in every if each.run.night == night), key=lambda each: _starts_at(each.run))


def _nothing_over(found: _Sorted, site: Site) -> str:
    if found.later:
        first = span_words(min(_over_at(run) for run in found.later), None, site.place.zone)
        return f"no advised run is over before {first}; record it then"
    left = found.left_out
    told = []
    if found.known:
        told.append(
            f"recorded already: {known_words(e for e in left if e.why is LeftOutWhy.RECORDED_ALREADY)}"
        )
    if found.waited:
        told.append(waited_words(each for each in left if each.why is LeftOutWhy.WAITED))
    if found.not_made:
        told.append(not_made_words(each.zone for each in left if each.why is LeftOutWhy.NOT_MADE))
    way_out = (
        "add --conditional if that was done"
        if found.waited
        else "take it back with `advisor records undo` or `advisor records remove`"
    )
    return f"{'; '.join(told)}; nothing was written; {way_out}"


def _starts_at(run: PlannedRun) -> datetime:
    return run.cycles[0].starts_at


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


def _run(plan: PlannedRun, share: float, now: datetime) -> Run:
    begun, ended = min(plan.cycles[-1].starts_at, now), plan.cycles[-1].ends_at
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
