"""The runs of a kept advice as records: as they were planned, shortened, or skipped."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from advisor.advice import LeftOut, LeftOutWhy
from advisor.errors import InputError, RecordsError
from advisor.lawn import Run, Site
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
class _Planned:
    """A run that was advised: begin and end of each stretch of water in UTC, and the condition it waited for."""

    zone: str
    cycles: tuple[tuple[datetime, datetime], ...]
    minutes: float
    depth_mm: float
    only_if: str

    @property
    def ends_at(self) -> datetime:
        return self.cycles[-1][1]


def advised_runs(entry: AsAdvisedEntry, site: Site, store: Store, now: datetime) -> Understood:
    """The advised runs that are over and not recorded yet, and those that are left out.

    RecordsError where no advice was kept, or where no run is left to record.
    """
    zone = None if entry.zone is None else zone_of(entry.zone, site)
    night = None if entry.night is None else night_of(entry.night)
    share = _share(entry)
    kept = store.last_advice(site.place.name, night=night)
    if kept is None:
        of = f" for the night of {night}" if night else ""
        raise RecordsError(f"no advice was kept{of}; `advisor tonight` gives and keeps one")
    planned = [plan for plan in _planned(kept.advice_json) if zone is None or plan.zone == zone]
    if not planned:
        which = f" on {zone}" if zone else ""
        raise RecordsError(
            f"the advice for the night of {kept.night} planned no run{which}; nothing was written"
        )
    waited = [plan for plan in planned if plan.only_if and not entry.conditional]
    sure = [plan for plan in planned if plan not in waited]
    over = [plan for plan in sure if plan.ends_at <= now]
    left = [LeftOut(zone=plan.zone, why=LeftOutWhy.WAITED, only_if=plan.only_if) for plan in waited]
    if not sure:
        raise RecordsError(f"{waited_words(left)}; nothing was written; add --conditional if that was done")
    if not over:
        last = max(plan.ends_at for plan in sure)
        raise RecordsError(
            f"the advised runs are not over before {span_words(last, None, site.place.zone)}; record them then"
        )
    there = {(r.zone, r.started_at): r for r in store.records().runs if r.source == SOURCE}
    runs = [_run(plan, share) for plan in over]
    known = [
        LeftOut(zone=same.zone, why=LeftOutWhy.RECORDED_ALREADY, run_id=same.id)
        for run in runs
        if (same := there.get((run.zone, run.started_at))) is not None
    ]
    if len(known) == len(runs):
        raise RecordsError(
            f"recorded already as advised: {known_words(known)}; nothing was written; take it back with "
            "`advisor records undo` or `advisor records remove`"
        )
    later = [
        LeftOut(zone=plan.zone, why=LeftOutWhy.NOT_OVER, ends_at=plan.ends_at)
        for plan in sure
        if plan not in over
    ]
    return Understood(
        tuple(run for run in runs if (run.zone, run.started_at) not in there),
        left_out=(*known, *left, *later),
    )


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


def _planned(advice_json: str) -> Sequence[_Planned]:
    advice = json.loads(advice_json)
    if not str(advice.get("schema_version", "")).startswith("advisor.advice/"):
        raise RecordsError(
            "the advice kept last is of a form that is not understood; record the runs by hand"
        )
    plans: Sequence[Mapping[str, Any]] = advice["runs"]
    return [
        _Planned(
            plan["zone"],
            tuple((_utc(cycle["starts_at"]), _utc(cycle["ends_at"])) for cycle in plan["cycles"]),
            float(plan["minutes"]),
            float(plan["depth_mm"]),
            plan.get("only_if", ""),
        )
        for plan in plans
        if plan["cycles"]
    ]


def _utc(text: str) -> datetime:
    return datetime.fromisoformat(text).astimezone(UTC)


def _run(plan: _Planned, share: float) -> Run:
    begun, ended = plan.cycles[-1]
    word = "skipped" if share == 0 else f"shortened to {share:.0%}".replace("%", " %") if share < 1 else ""
    return Run(
        zone=plan.zone,
        started_at=plan.cycles[0][0],
        ended_at=begun + share * (ended - begun),
        minutes=share * plan.minutes,
        depth_mm=share * plan.depth_mm,
        source=SOURCE,
        note=word,
    )
