"""What changed since the advice given earlier for the same night, and the answers that should stand."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from typing import NamedTuple

from advisor.advice import Action, Advice, Reason, ReasonKind

TELL_MIN = 3.0  # a run that is longer or shorter by less is no change worth telling
TELL_MM = 0.05  # rain that differs by less is the same


class Earlier(NamedTuple):
    """An answer given earlier for the same night: what to do, and when to look where it was to wait."""

    action: Action
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


def changes_since(previous: Advice, advice: Advice) -> tuple[Reason, ...]:
    """Each zone or application whose answer is not what it was, and the rain where any is not."""
    found = [*_zones(previous, advice), *_applications(previous, advice)]
    if found and previous.rain and advice.rain:
        old, new = previous.rain[0], advice.rain[0]
        if abs(new.mean_mm - old.mean_mm) >= TELL_MM:
            found.append(
                Reason(
                    kind=ReasonKind.EXPECTED_RAIN_CHANGED,
                    depth_mm=new.mean_mm,
                    of_mm=old.mean_mm,
                    at=previous.now,
                )
            )
    return tuple(dict.fromkeys(found))


def _zones(previous: Advice, advice: Advice) -> Iterator[Reason]:
    was = {z.zone: z for z in previous.zones}
    made = (run for run in advice.taken_as_made if run.night == advice.night)
    going = {run.zone for run in (*advice.under_way, *made)}
    for zone in advice.zones:
        before = was.get(zone.zone)
        if before is None or zone.zone in going:
            continue
        minutes = zone.minutes_firm + zone.minutes_conditional
        before_minutes = before.minutes_firm + before.minutes_conditional
        if before.verdict != zone.verdict:
            yield Reason(
                kind=ReasonKind.VERDICT_CHANGED,
                zones=(zone.zone,),
                now_word=zone.verdict,
                before_word=before.verdict,
                at=previous.now,
            )
        elif abs(before_minutes - minutes) >= TELL_MIN:
            yield Reason(
                kind=ReasonKind.MINUTES_CHANGED,
                zones=(zone.zone,),
                minutes=minutes,
                before_minutes=before_minutes,
                at=previous.now,
            )


def _applications(previous: Advice, advice: Advice) -> Iterator[Reason]:
    acts = earlier_answers(previous, advice.night)
    for one in advice.obligations:
        earlier = acts.get((one.application_id, one.zone))
        if earlier is not None and earlier.action != one.action:
            yield Reason(
                kind=ReasonKind.ACTION_CHANGED,
                products=(one.product,),
                zones=(one.zone,),
                now_word=one.action,
                before_word=earlier.action,
                at=previous.now,
            )
