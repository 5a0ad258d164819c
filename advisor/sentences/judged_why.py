"""The sentences of what an answer hangs on: one judged number with another value, named in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from advisor.advice import Action, ApplicationHangsOn, OtherNumber, ZoneHangsOn, ZoneTurn, ZoneVerdict
from advisor.wording import Say, listed

NOTHING = "No single number, halved or doubled, changes the verdict of"
TIMES = {0.5: "half", 1.0: "just", 2.0: "twice"}
WORTH = "of the worth of what was put down"
CLAUSES: Mapping[str, str] = {
    "turf.stress": "water that the grass goes short of counted {} as much as water that is run",
    "turf.run_mm": "the trouble of a run counted as {} of water",
    "turf.room_share": "a run might leave too little room for rain in {} of the forecasts",
    "turf.room_h": "room for rain were kept for {} after a run",
    "turf.least_run_mm": "the shallowest run worth making for the turf were {}",
    "rain.interception_mm": "the leaves kept {} of a rain",
    "rain.doubt": "the doubt about rain, where all forecasts agree, were {}",
    "rain.doubt_of_spread": "the forecasts' own spread counted {} in the doubt about rain",
    "rain.half_weight_pairs": "gauge readings had half the say about the chance of rain after {}",
    "rain.made_up_pairs": "the usual doubt about rain counted for as much as {} in the fit to gauge readings",
    "costs.shortfall": "nothing watered in were {} as bad as its kind says",
    "costs.loss": "too much water were {} as bad as its kind says",
    "costs.water": f"the water of a full run counted as {{}} {WORTH}",
    "costs.run": f"the trouble of a run counted as {{}} {WORTH}",
    "costs.look": f"the trouble of a look counted as {{}} {WORTH}",
    "costs.delay": f"water as late as can be, where sooner is better, counted as {{}} {WORTH}",
    "costs.aim": "to have the least depth but not the depth aimed at were {} of a whole shortfall",
    "costs.still_saves": "late water still saved {} of what a product loses without any",
    "costs.flood_h": "too much rain could wash it down for {}",
    "looks.nearly": f"ways that cost {{}} {WORTH} more than the best were as good",
    "looks.keep_within": f"an earlier answer stood while it costs {{}} {WORTH} more than the best",
    "looks.soonest_min": "the first look could come {} from now",
    "looks.due_min": "a look were due {} before its time",
    "looks.asleep": f"getting up for a look counted as {{}} {WORTH}",
    "looks.asleep_per_h": f"each hour between a look and waking time counted as {{}} {WORTH}",
    "looks.odd_time": f"a look off the full hour counted as {{}} {WORTH}",
    "looks.useful_mm": "rain were of use for watering in from {} on",
    "looks.useful_share": "rain were of use for watering in from {} of what is missing on",
    "looks.useful_chance": "a look were worth it from a chance of useful rain of {} on",
    "applications.given_up_d": "what is overdue were planned for through {}",
    "applications.ran_off_mm": "runoff took the product along from {} on",
    "applications.leached": "rain took the product along from {} what it bears on",
    "applications.caught_short_mm": "water in its dry time washed the product off from {} on",
    "need.enough_dilution": "a hose-end sprayer watered in by itself from a dilution of {} on",
    "need.hose_end_low_min": "watering in after a hose-end sprayer took at least {}",
    "need.hose_end_high_min": "watering in after a hose-end sprayer took at most {}",
    "need.tank_low_min": "watering in after a tank or a backpack took at least {}",
    "need.tank_high_min": "watering in after a tank or a backpack took at most {}",
    "light.spare_share": "{} of the time between two light runs on seed were left to other zones",
    "light.cool_mm": "a cooling run at midday were {} deep",
    "light.hot_c": "turf were cooled at midday from {} on",
}
"""After "if": each number whose change can change an answer, with room for its two values."""


def zone_hangs_words(*zones: ZoneHangsOn) -> str:
    """The verdict of zones that share it and what would turn it; and where it hangs on no number, that."""
    names = listed(zone.zone for zone in zones)
    told = f"{names}: {_verdict(zones[0].verdict)}."
    turns = [turn for zone in zones for turn in zone.turns]
    if not turns:
        return f"{told} {NOTHING} {names}."
    only_depth = all(turn.verdict == zones[0].verdict for turn in turns)
    return f"{told} {NOTHING} {names}, but the depth of a run:" if only_depth else told


def application_hangs_words(those: Sequence[ApplicationHangsOn]) -> str:
    """The answer for what was put down, where it is one answer; and where it hangs on no number, that."""
    names, zones = (
        listed(dict.fromkeys(getattr(one, what) for one in those)) for what in ("product", "zone")
    )
    told = f"{names} on {zones}: {_act(those[0].action)}."
    return told if those[0].turns else f"{told} {NOTHING} {names}."


def zone_turn_words(say: Say, zone: ZoneHangsOn, turn: ZoneTurn) -> str:
    """What a number would make of a zone's verdict, or of the depth of its run."""
    if turn.verdict == zone.verdict:
        depths = f"{say.depth(turn.depth_mm)} deep instead of {say.depth(zone.depth_mm)}"
        return f"The run of {zone.zone} would be {depths} if {_number(say, turn.number)}."
    return f"It would {_becomes(turn.verdict)} if {_number(say, turn.number)}."


def application_turn_words(say: Say, action: Action, number: OtherNumber) -> str:
    """What a number would make of the answer for what was put down."""
    return f"The answer would be to {_act(action)} if {_number(say, number)}."


def _act(action: Action) -> str:
    """What to do about what was put down, after "to"."""
    match action:
        case Action.RUN:
            return "water in with a run"
        case Action.RAIN:
            return "leave it to rain"
        case Action.WAIT:
            return "wait for a look at the gauge"
        case Action.KEEP_DRY:
            return "keep it dry"
        case Action.KEEP_MOIST:
            return "keep it moist"
        case Action.NONE:
            return "do nothing"


def _verdict(verdict: ZoneVerdict) -> str:
    """A verdict after the name of its zone."""
    match verdict:
        case ZoneVerdict.RUN:
            return "run"
        case ZoneVerdict.WAIT:
            return "wait for a look at the gauge"
        case ZoneVerdict.CANNOT:
            return "should be run, but cannot tonight"
        case ZoneVerdict.LEAVE_TO_RAIN:
            return "leave to rain"
        case ZoneVerdict.NOT_NEEDED:
            return "nothing needed"


def _becomes(verdict: ZoneVerdict) -> str:
    """A verdict after "it would"."""
    match verdict:
        case ZoneVerdict.RUN:
            return "be run"
        case ZoneVerdict.WAIT:
            return "wait for a look at the gauge"
        case ZoneVerdict.CANNOT:
            return "need a run that cannot be made tonight"
        case ZoneVerdict.LEAVE_TO_RAIN:
            return "be left to rain"
        case ZoneVerdict.NOT_NEEDED:
            return "need nothing"


def _number(say: Say, number: OtherNumber) -> str:
    """The number in words, with both values and on whose word it is."""
    if number.unit == "√mm":  # a width that no owner has a feeling for
        wide = f"{_value(say, number.other / number.value, 'times')} as great as it is taken"
        return f"{CLAUSES[number.key].format(wide)} ({number.source})"
    other, value = (_value(say, each, number.unit) for each in (number.other, number.value))
    bare, _, unit = other.rpartition(" ")
    other = bare if unit and value.endswith(f" {unit}") else other
    return f"{CLAUSES[number.key].format(f'{other} instead of {value}')} ({number.source})"


def _value(say: Say, value: float, unit: str) -> str:
    """A value in its unit, as the owner reads it."""
    match unit:
        case "mm":
            return say.depth(value)
        case "°C":
            return say.temperature(value)
        case "share" | "cost":
            return f"{100.0 * value:.2g} %"
        case "times":
            return TIMES.get(value, f"{value:g} times")
        case "to one":
            return f"{value:g}:1"
        case _:
            return f"{value:g} {unit}"
