"""What is or may go wrong with what was put down: said first, in one sentence each.

The chances from which on a thing is worth an alarm are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

from advisor.advice.advice import ApplicationAdvice
from advisor.watering_in.applications import ZoneApplication
from advisor.watering_in.decision import Choice
from advisor.wording import Say, listed

LIKELY = 0.5
WETTED_MM = 1.0
LOST_SHARE = 0.25  # more than what it bears by so much of it

WORDS = {
    "harms seed": "{} can stop or kill grass that comes up from seed there: read the label now.",
    "may not grow": "{} may not grow: what lies there stops seed.",
    "washed": "{} {was} probably washed off.",
    "wetted": "{} got wet while {it} had to stay dry, and may fail.",
    "too much water": "{} got more water than {it} {bears}: some is probably carried away.",
    "too much rain": "Too much rain is expected for {} (chance {chance}): some may be carried away.",
    "rain on it": "Rain will probably fall on {} while {it} must stay dry (chance {chance}).",
}
"""By topic, in the order in which they are told."""


def alarms_of(
    one: ZoneApplication, choice: Choice | None, chance_wet: float | None, meets_seed: bool
) -> tuple[str, ...]:
    """The topics that hold for one application on one zone."""
    found = []
    if meets_seed:
        found.append("may not grow" if one.product.kind.form == "seed" else "harms seed")
    if one.status == "washed":
        found.append("washed")
    elif one.in_dry_period_mm >= WETTED_MM:
        found.append("wetted")
    if one.lost_mm > LOST_SHARE * one.most_mm > 0 and one.status != "washed":
        found.append("too much water")
    elif choice is not None and choice.chance_too_much >= LIKELY:
        found.append("too much rain")
    if chance_wet is not None and chance_wet >= LIKELY and one.status != "washed":
        found.append("rain on it")
    return tuple(found)


def alarm_sentences(say: Say, obligations: Sequence[ApplicationAdvice]) -> tuple[str, ...]:
    """One sentence a topic, for all products and zones that it holds for."""
    told = []
    for topic, words in WORDS.items():
        those = [o for o in obligations if topic in o.alarms]
        if not those:
            continue
        many = len({o.product for o in those}) > 1
        chances = [o.chance_wet if topic == "rain on it" else o.chance_too_much for o in those]
        told.append(
            words.format(
                products_on_zones(those),
                was="were" if many else "was",
                it="they" if many else "it",
                bears="bear" if many else "bears",
                chance=say.chance(max((c for c in chances if c is not None), default=0.0)),
            )
        )
    return tuple(told)


def products_on_zones(those: Sequence[ApplicationAdvice]) -> str:
    """A and B on Front and Back, and C on Side."""
    by_zone: dict[str, list[str]] = {}
    for one in those:
        by_zone.setdefault(one.zone, []).append(one.product)
    zones: dict[tuple[str, ...], list[str]] = {}
    for zone, names in by_zone.items():
        zones.setdefault(tuple(dict.fromkeys(names)), []).append(zone)
    return listed(f"{listed(names)} on {listed(where)}" for names, where in zones.items())
