"""Several products on one zone: what one run can do for all, which wins where it cannot, and why.

A dry period always wins over water: what is washed off is gone, what waits for water still keeps most of
its worth. Where one needs more water than another bears, the depth that costs least in all is taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from advisor.watering_in.applications import ZoneApplication
from advisor.watering_in.decision import Choice
from advisor.wording import Say, listed

Decided = tuple[ZoneApplication, Choice | None]


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


def conflict_notes(
    say: Say, decided: Sequence[Decided], number: int, watered_at: datetime | None = None
) -> tuple[str, ...]:
    """What stands between obligation `number` of `decided` and the others on its zone: sentences.

    `watered_at` is when tonight's run has watered it in, None when none does.
    """
    one, choice = decided[number]
    others = [d for i, d in enumerate(decided) if i != number and d[0].zone_index == one.zone_index]
    return (*_dry_against_wet(say, one, choice, others, watered_at), *_depths(say, one, choice, others))


def _dry_against_wet(
    say: Say,
    one: ZoneApplication,
    choice: Choice | None,
    others: Sequence[Decided],
    watered_at: datetime | None,
) -> list[str]:
    notes: list[str] = []
    longest = max((o for o, _ in others if _dry_end(o, say.now)), key=lambda o: _end(o), default=None)
    if choice is not None and longest is not None and _end(longest) > max(say.now, one.counts_from):
        until = say.clock(_end(longest))
        notes.append(
            f"{longest.product.name} must stay dry on {one.zone} until {until}, and that wins: it would be "
            f"washed off for good, while {one.product.name} keeps most of its worth when its water comes later."
        )
    if choice is not None and one.status != "overdue" and one.due_at is not None:
        at = choice.expected_loss.run_at
        if watered_at is not None and watered_at > one.due_at:
            notes.append(f"It was due at {say.clock(one.due_at)}; no allowed hour was left before then.")
        elif watered_at is None and not choice.in_time:
            first = "" if at is None else f"; the first chance to run is {say.clock(at)}"
            notes.append(
                f"No allowed hour is left to run it before it is due at {say.clock(one.due_at)}{first}."
            )
    if _dry_end(one, say.now):
        waiting = dict.fromkeys(
            o.product.name for o, c in others if c is not None and o.counts_from < _end(one)
        )
        if waiting:
            wait = "waits" if len(waiting) == 1 else "wait"
            notes.append(f"{listed(waiting)} on {one.zone} {wait} for water until then: staying dry wins.")
    return notes


def _depths(say: Say, one: ZoneApplication, choice: Choice | None, others: Sequence[Decided]) -> list[str]:
    """Where the least that one product still needs is more than another bears."""
    if choice is None:
        return []
    notes: list[str] = []
    for other, its in others:
        if its is None or other.product.name == one.product.name:
            continue
        more, less = (one, other) if one.least_mm > other.least_mm else (other, one)
        needs, bears = more.least_mm - more.received_mm, bears_mm(less)
        if less.most_mm <= 0 or needs <= bears + 1e-9:
            continue
        pair = [(one, choice), (other, its)]
        top_up = max(c.top_up_mm for o, c in pair if o is more)
        told = (
            f"{more.product.name} still needs {say.depth(needs)}, more than the {say.depth(bears)} that "
            f"{less.product.name} bears"
        )
        if agreed_depth(top_up, pair) > bears + 1e-9:
            notes.append(f"{told}: {more.product.name} wins, as leaving it short would cost more.")
        else:
            notes.append(
                f"{told}: {less.product.name} wins, as losing it would cost more; "
                f"{more.product.name} gets what that leaves room for."
            )
    return list(dict.fromkeys(notes))


def runoff_notes(say: Say, one: ZoneApplication, least_mm: float) -> tuple[str, ...]:
    """A warning where a hard shower ran off before the product was watered in."""
    if one.runoff_mm < least_mm or one.status == "washed":
        return ()
    return (
        f"{say.depth(one.runoff_mm)} of a hard shower ran off and counts for nothing; "
        "some of the product may have gone with it.",
    )


def _dry_end(one: ZoneApplication, now: datetime) -> bool:
    return one.dry_until is not None and one.dry_until > now


def _end(one: ZoneApplication) -> datetime:
    return one.dry_until or one.counts_from
