"""Several products on one zone: what one run can do for all, which wins where it cannot, and why.

A dry period always wins over water: what is washed off is gone, what waits for water still keeps most of
its worth. Where one needs more water than another bears, the depth that costs least in all is taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from advisor.advice import Reason, ReasonKind, Status
from advisor.watering_in.applications import ZoneApplication
from advisor.watering_in.decision import Choice, Decided


def bears_mm(one: ZoneApplication) -> float:
    """How much more water a product on the lawn bears before some of it is lost, mm."""
    return max(0.0, one.most_mm - one.total_received_mm)


def agreed_depth(wanted_mm: float, on_zone: Sequence[Decided]) -> float:
    """The depth of one run for all open products of a zone, at most `wanted_mm`.

    Less only where another product bears less and what is saved of it is worth more than what the
    deeper run would bring.
    """
    choices = [(o, c) for o, c in on_zone if c is not None and o.most_mm > 0]
    if all(bears_mm(o) >= wanted_mm for o, _ in choices):
        return wanted_mm
    kinks = {d for o, _ in choices for d in (o.missing_mm, bears_mm(o)) if 0.0 < d < wanted_mm}
    depths = [wanted_mm, *sorted(kinks, reverse=True)]
    return min(depths, key=lambda depth: sum(c.expected(depth) for _, c in choices))


def conflict_reasons(
    decided: Sequence[Decided], number: int, now: datetime, watered_at: datetime | None = None
) -> tuple[Reason, ...]:
    """What stands between application `number` of `decided` and the others on its zone.

    `watered_at` is when tonight's run has watered it in, None when none does.
    """
    one, choice = decided[number]
    others = [d for i, d in enumerate(decided) if i != number and d[0].zone_index == one.zone_index]
    found = [*_waits_for_dry(one, choice, others, now), *_no_hour_in_time(one, choice, watered_at)]
    if _must_be_dry(one, now):
        waiting = tuple(
            dict.fromkeys(o.product.name for o, c in others if c is not None and o.counts_from < _end(one))
        )
        if waiting:
            found.append(Reason(kind=ReasonKind.OTHERS_WAIT, products=waiting, zones=(one.zone,)))
    return (*found, *_depths(one, choice, others))


def _waits_for_dry(
    one: ZoneApplication, choice: Choice | None, others: Sequence[Decided], now: datetime
) -> list[Reason]:
    """That another product on the zone must stay dry for longer."""
    longest = max((o for o, _ in others if _must_be_dry(o, now)), key=_end, default=None)
    if choice is None or longest is None or _end(longest) <= max(now, one.counts_from):
        return []
    return [
        Reason(
            kind=ReasonKind.OTHER_STAYS_DRY,
            products=(one.product.name,),
            other=longest.product.name,
            zones=(one.zone,),
            until=_end(longest),
        )
    ]


def _no_hour_in_time(
    one: ZoneApplication, choice: Choice | None, watered_at: datetime | None
) -> list[Reason]:
    """That no allowed hour was, or is, left before it is due."""
    if choice is None or one.status == Status.OVERDUE or one.due_at is None:
        return []
    if watered_at is not None:
        late = watered_at > one.due_at
        return [Reason(kind=ReasonKind.WAS_DUE, at=one.due_at)] if late else []
    if choice.in_time or not choice.can_run:  # where nothing can run, the verdict says so itself
        return []
    return [Reason(kind=ReasonKind.NO_HOUR_BEFORE_DUE, until=one.due_at, at=choice.expected_loss.run_at)]


def _depths(one: ZoneApplication, choice: Choice | None, others: Sequence[Decided]) -> list[Reason]:
    """Where the least that one product still needs is more than another bears."""
    if choice is None:
        return []
    found: list[Reason] = []
    for other, its in others:
        if its is None or other.product.name == one.product.name:
            continue
        more, less = (one, other) if one.least_mm > other.least_mm else (other, one)
        needs, bears = more.least_mm - more.received_mm, bears_mm(less)
        if less.most_mm <= 0 or needs <= bears + 1e-9:
            continue
        pair = [(one, choice), (other, its)]
        top_up = max(c.top_up_mm for o, c in pair if o is more)
        deeper = agreed_depth(top_up, pair) > bears + 1e-9
        found.append(
            Reason(
                kind=ReasonKind.DEEPER_WINS if deeper else ReasonKind.SHALLOWER_WINS,
                products=(more.product.name, less.product.name),
                zones=(one.zone,),
                depth_mm=needs,
                of_mm=bears,
            )
        )
    return list(dict.fromkeys(found))


def _must_be_dry(one: ZoneApplication, now: datetime) -> bool:
    return one.dry_until is not None and one.dry_until > now


def _end(one: ZoneApplication) -> datetime:
    return one.dry_until or one.counts_from
