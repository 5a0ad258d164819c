"""The runs of a kept advice as records: as they were planned, shortened, or skipped."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any

from advisor.errors import InputError, RecordsError
from advisor.faces.cli.asked import quantity
from advisor.faces.cli.options import DEMO_NOW, moment
from advisor.lawn.records import Run
from advisor.recording.entry import when
from advisor.wording import listed

if TYPE_CHECKING:
    from advisor.faces.cli.options import Opened
    from advisor.store import Store


def night_of(text: str | None) -> date | None:
    """The local date of a night, or None for the last advice's."""
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise InputError(
            "a night is a date", where="--night", found=repr(text), allowed="2026-06-17"
        ) from None


def share_of(text: str | None) -> float:
    """The share of the advised minutes that ran; all of them when nothing is said."""
    if text is None:
        return 1.0
    share = quantity(text, "share", where="--shortened")
    if not 0 < share < 1:
        raise InputError(
            "a shortened run is less than the whole", where="--shortened", found=repr(text), allowed="50 %"
        )
    return share


def keep_demo_advice(store: Store, opened: Opened) -> None:
    """Give a throwaway store the advice of the demo's evening, as if it had been given then."""
    from advisor.night import gather_demo

    given_at = moment(DEMO_NOW, opened.site.place.zone)
    advice = gather_demo(opened.site, given_at).advise()
    store.keep_advice(
        advice.model_dump_json(),
        site=opened.site.place.name,
        night=advice.night,
        given_at=given_at,
        digest=advice.inputs_digest,
    )


def advised_runs(
    store: Store,
    opened: Opened,
    *,
    zone: str | None,
    night: date | None,
    share: float,
    conditional: bool = False,
) -> tuple[tuple[Run, ...], tuple[str, ...]]:
    """The runs of the newest advice (of `night`), each for `share` of its minutes (0 is skipped), and
    a line for each that is left out.

    A run that was to wait for a look at the gauge counts only where `conditional` says that it ran.
    Left out are runs that are not over yet and runs recorded as advised already; RecordsError where
    that leaves none.
    """
    kept = store.last_advice(opened.site.place.name, night=night)
    if kept is None:
        of = f" for the night of {night}" if night else ""
        raise RecordsError(f"no advice was kept{of}; `advisor tonight` gives and keeps one")
    planned = [plan for plan in _runs(kept.advice_json) if zone is None or plan["zone"] == zone]
    if not planned:
        which = f" on {zone}" if zone else ""
        raise RecordsError(
            f"the advice for the night of {kept.night} planned no run{which}; nothing was written"
        )
    waited = [] if conditional else [plan for plan in planned if plan.get("only_if")]
    sure = [plan for plan in planned if plan not in waited]
    if not sure:
        raise RecordsError(f"{_waited(waited)}; nothing was written; add --conditional if that was done")
    over = [plan for plan in sure if _ends_at(plan) <= opened.now]
    if not over:
        last = max(_ends_at(plan) for plan in sure)
        raise RecordsError(
            f"the advised runs are not over before {when(last, None, opened.site)}; record them then"
        )
    runs = tuple(_run(plan, share) for plan in over)
    there = {(r.zone, r.started_at): r for r in store.records().runs if r.source == "as advised"}
    known = [there[run.zone, run.started_at] for run in runs if (run.zone, run.started_at) in there]
    names = listed(f"{run.zone} (run {run.id})" for run in known) if known else ""
    if len(known) == len(runs):
        raise RecordsError(
            f"recorded already as advised: {names}; nothing was written; take it back with `advisor records undo` "
            "or `advisor records remove`"
        )
    told = [f"Recorded already: {names}."] if known else []
    if waited:
        told.append(f"Not recorded: {_waited(waited)}. Add --conditional if that was done.")
    told += [
        f"Not over yet: {plan['zone']}, {when(_ends_at(plan), None, opened.site)}; record it then in the same way."
        for plan in sure
        if plan not in over
    ]
    return tuple(run for run in runs if (run.zone, run.started_at) not in there), tuple(told)


def _ends_at(plan: Mapping[str, Any]) -> datetime:
    return datetime.fromisoformat(plan["cycles"][-1]["ends_at"])


def _waited(plans: Sequence[Mapping[str, Any]]) -> str:
    """Which zones were to wait, and for what."""
    by_rule: dict[str, list[str]] = {}
    for plan in plans:
        by_rule.setdefault(plan["only_if"], []).append(plan["zone"])
    return "; ".join(
        f"{listed(zones)} {'was' if len(zones) == 1 else 'were'} to run only if {rule}"
        for rule, zones in by_rule.items()
    )


def _runs(advice_json: str) -> Sequence[Mapping[str, Any]]:
    advice = json.loads(advice_json)
    if not str(advice.get("schema_version", "")).startswith("advisor.advice/"):
        raise RecordsError(
            "the advice kept last is of a form that is not understood; record the runs by hand"
        )
    runs: Sequence[Mapping[str, Any]] = advice["runs"]
    return [plan for plan in runs if plan["cycles"]]


def _run(plan: Mapping[str, Any], share: float) -> Run:
    cycles = [
        (
            datetime.fromisoformat(c["starts_at"]).astimezone(UTC),
            datetime.fromisoformat(c["ends_at"]).astimezone(UTC),
        )
        for c in plan["cycles"]
    ]
    begun, ended = cycles[-1]
    word = "skipped" if share == 0 else f"shortened to {share:.0%}".replace("%", " %") if share < 1 else ""
    return Run(
        zone=plan["zone"],
        started_at=cycles[0][0],
        ended_at=begun + share * (ended - begun),
        minutes=share * float(plan["minutes"]),
        depth_mm=share * float(plan["depth_mm"]),
        source="as advised",
        note=word,
    )
