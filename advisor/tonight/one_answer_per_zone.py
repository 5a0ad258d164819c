"""One answer for a zone: its runs, its looks and every product on it say the same.

A run that is made tonight in any case, for the turf or for another product, is no longer in question for
what also lies there: nothing waits for a look beside it. And where several products wait for a look, the
zone has one look and one rule.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from advisor.soil_water.requirement import Requirement
from advisor.tonight.zone_request import ZoneRequest
from advisor.watering_in.applications import ZoneApplication
from advisor.watering_in.conflicts import bears_mm
from advisor.watering_in.decision import Choice

Decided = tuple[ZoneApplication, Choice | None]


def beside_runs(
    decided: Sequence[Decided], needs: Sequence[Requirement], tonight_ends_at: datetime | None
) -> list[Decided]:
    """The decisions, where nothing waits on a zone that is run tonight anyway.

    What waited there is served by a deeper run, or is left to the rain after that run, whichever is
    expected to cost less.
    """
    return [(o, _beside(o, c, decided, needs[o.zone_index], tonight_ends_at)) for o, c in decided]


def _beside(
    one: ZoneApplication,
    choice: Choice | None,
    decided: Sequence[Decided],
    need: Requirement,
    ends_at: datetime | None,
) -> Choice | None:
    if choice is None or choice.action != "wait" or not _tonight(choice, ends_at):
        return choice
    on_zone = [(o, c) for o, c in decided if o.zone_index == one.zone_index and c is not None]
    due_mm = max((c.top_up_mm for _, c in on_zone if c.action == "run" and _tonight(c, ends_at)), default=0.0)
    bears = min(bears_mm(o) for o, _ in on_zone if o.most_mm > 0)
    sure_mm = max(due_mm, min(need.wanted_mm, bears))
    if sure_mm <= 0:
        return choice
    depths = [sure_mm, *(float(d) for d in choice.expected_loss.depths() if d > sure_mm)]
    best = min(depths, key=choice.expected)
    return choice.with_run(best) if best >= one.missing_mm - 1e-6 else choice.with_rain()


def _tonight(choice: Choice, ends_at: datetime | None) -> bool:
    at = choice.expected_loss.run_at
    return at is not None and ends_at is not None and at < ends_at


def one_answer_per_zone(decided: Sequence[Decided], wanted: Sequence[ZoneRequest]) -> list[Decided]:
    """The decisions with the zone's one look and one rule in the place of each product's own."""
    rules = {w.zone: w for w in wanted if w.look_at is not None and w.under_mm is not None}
    told: list[Decided] = []
    for one, choice in decided:
        rule = rules.get(one.zone_index)
        if choice is not None and choice.action == "wait" and rule is not None:
            assert rule.look_at is not None
            assert rule.under_mm is not None
            choice = choice.with_look(rule.look_at, rule.under_mm, rule.effective_mm)
        told.append((one, choice))
    return told
