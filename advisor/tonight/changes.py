"""What changed since the advice given earlier for the same night, and the answers that should stand."""

from __future__ import annotations

from datetime import date, datetime
from typing import NamedTuple

from advisor.advice.advice import Advice
from advisor.wording import Say, minutes

TELL_MIN = 3.0  # a run that is longer or shorter by less is no change worth telling


class Earlier(NamedTuple):
    """An answer given earlier for the same night: what to do, and when to look where it was to wait."""

    action: str
    look_at: datetime | None


def earlier_answers(previous: Advice | None, night: date) -> dict[tuple[int, str], Earlier]:
    """The answers given earlier for the same night, by application and zone."""
    if previous is None or previous.night != night:
        return {}
    return {
        (o.application_id, o.zone): Earlier(
            o.action, next((w.look_at for w in o.options if w.action == o.action), None)
        )
        for o in previous.obligations
    }


def changes_since(say: Say, previous: Advice, advice: Advice) -> tuple[str, ...]:
    """One sentence for each zone or application whose answer is not what it was."""
    told: list[str] = []
    was = {z.zone: z for z in previous.zones}
    at = say.clock(previous.now)
    going = {run.zone for run in advice.under_way}
    for zone in advice.zones:
        before = was.get(zone.zone)
        if before is None or zone.zone in going:
            continue
        if before.verdict != zone.verdict:
            told.append(
                f"{zone.zone}: now \u201c{zone.verdict}\u201d, at {at} it was \u201c{before.verdict}\u201d."
            )
        elif abs(before.minutes - zone.minutes) >= TELL_MIN:
            told.append(
                f"{zone.zone}: now {minutes(zone.minutes)}, at {at} it was {minutes(before.minutes)}."
            )
    acts = earlier_answers(previous, advice.night)
    for one in advice.obligations:
        earlier = acts.get((one.application_id, one.zone))
        before_action = None if earlier is None else earlier.action
        if before_action is not None and before_action != one.action:
            told.append(
                f"{one.product} on {one.zone}: now \u201c{one.action}\u201d, at {at} it was \u201c{before_action}\u201d."
            )
    if told and previous.rain and advice.rain:
        old, new = previous.rain[0], advice.rain[0]
        now_mm, before_mm = say.depth(new.mean_mm), say.depth(old.mean_mm)
        if now_mm != before_mm:
            told.append(f"Rain expected tonight: now {now_mm}, at {at} it was {before_mm}.")
    return tuple(dict.fromkeys(told))
