"""What is or may go wrong with what was put down."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.advice import Alarm, ApplicationAdvice, Reason, ReasonKind, Status
from advisor.lawn import AlarmsJudged
from advisor.watering_in import Choice, ZoneApplication

KINDS = {
    Alarm.HARMS_SEED: ReasonKind.ALARM_HARMS_SEED,
    Alarm.MAY_NOT_GROW: ReasonKind.ALARM_MAY_NOT_GROW,
    Alarm.WASHED: ReasonKind.ALARM_WASHED,
    Alarm.WETTED: ReasonKind.ALARM_WETTED,
    Alarm.TOO_MUCH_WATER: ReasonKind.ALARM_TOO_MUCH_WATER,
    Alarm.TOO_MUCH_RAIN: ReasonKind.ALARM_TOO_MUCH_RAIN,
    Alarm.RAIN_ON_IT: ReasonKind.ALARM_RAIN_ON_IT,
}
"""In the order in which they are told."""


def alarms_of(
    one: ZoneApplication,
    choice: Choice | None,
    chance_wet: float | None,
    meets_seed: bool,
    judged: AlarmsJudged,
) -> tuple[Alarm, ...]:
    """The alarms that hold for one application on one zone."""
    found = []
    if meets_seed:
        found.append(Alarm.MAY_NOT_GROW if one.product.kind.form == "seed" else Alarm.HARMS_SEED)
    washed = one.status == Status.WASHED
    if washed:
        found.append(Alarm.WASHED)
    elif one.in_dry_period_mm >= judged.wetted_mm:
        found.append(Alarm.WETTED)
    if one.lost_mm > judged.lost_share * one.most_mm > 0 and not washed:
        found.append(Alarm.TOO_MUCH_WATER)
    elif choice is not None and choice.chance_too_much >= judged.likely:
        found.append(Alarm.TOO_MUCH_RAIN)
    if chance_wet is not None and chance_wet >= judged.likely and not washed:
        found.append(Alarm.RAIN_ON_IT)
    return tuple(found)


def alarm_reasons(applications: Sequence[ApplicationAdvice]) -> tuple[Reason, ...]:
    """One reason an alarm, for all products and zones that it holds for, side by side."""
    told = []
    for alarm, kind in KINDS.items():
        those = [one for one in applications if alarm in one.alarms]
        if not those:
            continue
        chances = [o.chance_wet if alarm == Alarm.RAIN_ON_IT else o.chance_too_much for o in those]
        told.append(
            Reason(
                kind=kind,
                products=tuple(one.product for one in those),
                zones=tuple(one.zone for one in those),
                chance=max((c for c in chances if c is not None), default=None),
            )
        )
    return tuple(told)
