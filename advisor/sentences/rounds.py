"""Sentences about a round: when it is due, what bars an hour, what a good one rests on, what may not meet."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from math import ceil, floor

from advisor.advice import (
    Asking,
    Bar,
    BarKind,
    Filling,
    Incompatibility,
    IncompatibilityKind,
    Mind,
    MixWarning,
    NotThen,
    NotThenReason,
    RoundNote,
    RoundNoteKind,
    RoundState,
    Slot,
    WarningKind,
    Watering,
)
from advisor.lawn import Seedbed
from advisor.sentences.cautions import seedbed_words
from advisor.sentences.watering_in import equipment_words
from advisor.units import convert, show, unit
from advisor.wording import Say, day_of_month, listed, short_day

ROUGH = 0.05  # of a tenth: published limits are rounded to a thousandth
WORTH_TELLING = 0.01  # a smaller chance of what may go wrong is not told

# --- next round ----------------------------------------------------------------------------------


def due_words(due: date | None, late: int) -> str:
    """When a round is due; `late` days overdue."""
    if due is None:
        return "Never recorded on these zones, so due now."
    if late > 0:
        return f"Overdue by {late} day{'s' if late > 1 else ''} (due {short_day(due)})."
    return f"Due {short_day(due)}."


def headline(
    say: Say, due: str, state: RoundState, until: datetime, ask_from: date | None, slots: Sequence[Slot]
) -> str:
    """When a round is due, in words before, and the best time for it, or that the forecast has none."""
    end = until.astimezone(say.zone).date()
    if state == RoundState.BEYOND and ask_from is not None:
        return f"{due} The forecast reaches to {short_day(end)} only: ask again from {short_day(ask_from)}."
    if state == RoundState.NO_DAY:
        return f"{due} None of the days to {short_day(end)} will do."
    starts, ends = (t.astimezone(say.zone) for t in (slots[0].starts_at, slots[0].ends_at))
    return f"{due} Best: {short_day(starts.date())}, {starts:%H:%M}–{ends:%H:%M}."


MINDS: Mapping[Mind, str] = {
    Mind.INVERSION: "So little wind that mist may hang and drift: look for an inversion.",
    Mind.DEW: "Dew is likely: wait until the leaves are dry.",
    Mind.WET_LEAVES_FIRST: "The leaves must be wet first.",
}


def slot_words(say: Say, slot: Slot) -> str:
    """What a slot rests on: wind, warmth, what waters it in, what could go wrong."""
    winds = _range(slot.wind_low_m_s, slot.wind_high_m_s, "wind", say.units, None)
    temps = _range(slot.temp_low_c, slot.temp_high_c, "temperature", say.units, 0)
    told = [f"Wind {winds} (limit {wind_limit(say, slot.wind_limit_m_s)}), {temps}."]
    if slot.chance_waters_in is not None:
        chance = say.chance(slot.chance_waters_in)
        if slot.watering == Watering.RAIN:
            expected = say.depth(slot.rain_expected_mm)
            told.append(f"Rain waters it in: chance {chance}, {expected} expected.")
        else:
            told.append(f"Then water it in with the sprinklers; chance that rain does it {chance}.")
    if slot.chance_too_much is not None and slot.chance_too_much >= WORTH_TELLING:
        told.append(f"Chance of rain that washes it away {say.chance(slot.chance_too_much)}.")
    if slot.chance_rain_while_dry is not None:
        told.append(f"Chance of rain while it must stay dry {say.chance(slot.chance_rain_while_dry)}.")
    return " ".join([*told, *(MINDS[mind] for mind in slot.mind)])


def not_then_words(say: Say, one: NotThen) -> str:
    """What stands in the way on a day, as a part of a sentence."""
    if one.reason == NotThenReason.NO_DAYLIGHT_LEFT:
        return "no whole hour of daylight is left"
    if one.reason == NotThenReason.NO_DAYLIGHT_KNOWN:
        return "the forecast holds no hour of daylight in which you are awake"
    why = "; ".join(bar_words(say, bar) for bar in one.bars)
    if one.closest_at is None:
        return why
    return f"{why} (at its best, {one.closest_at.astimezone(say.zone):%H:%M})"


def bar_words(say: Say, bar: Bar) -> str:
    """Why an hour will not do, with its numbers, as a part of a sentence."""
    return BARS[bar.kind](say, bar)


def _blackout(_: Say, bar: Bar) -> str:
    why = f" ({bar.why})" if bar.why else ""
    first, last = (day_of_month(day) if day is not None else "" for day in (bar.first, bar.day))
    return f"no round from {first} to {last}{why}"


def _wind(say: Say, bar: Bar) -> str:
    return f"wind {_over(say, bar.wind_m_s or 0.0)}, over {wind_limit(say, bar.wind_limit_m_s or 0.0)}"


def _frost(say: Say, bar: Bar) -> str:
    return f"the ground may be frozen ({_temp(say, bar.temp_c)} in the hours before)"


def _soaked(say: Say, bar: Bar) -> str:
    return f"the ground is full ({say.depth(bar.depth_mm or 0.0)} drained in the {bar.hours:g} h before)"


def _heavy_rain(say: Say, bar: Bar) -> str:
    depth = say.depth(bar.depth_mm or 0.0)
    return f"chance of {depth} or more, which would wash it away, {_chance(say, bar)}"


def _seedlings(_: Say, bar: Bar) -> str:
    return f"{listed(bar.products)} can stop or kill the seedlings on {bar.zone}, until {_day_of(bar)}"


def _kept_moist(_: Say, bar: Bar) -> str:
    return (
        f"the seed on {bar.zone} is kept moist until {_day_of(bar)}, and {listed(bar.products)} must stay dry"
    )


def _label(_: Say, bar: Bar) -> str:
    day = "" if bar.day is None else day_of_month(bar.day, year=True)
    return f"{listed(bar.products)} not before {day}, by its label"


BARS: Mapping[BarKind, Callable[[Say, Bar], str]] = {
    BarKind.BLACKOUT: _blackout,
    BarKind.NOT_DUE: lambda _, bar: f"not due before {_day_of(bar)}",
    BarKind.LABEL: _label,
    BarKind.DRY: lambda say, bar: f"{listed(bar.products)} must stay dry until {_clock(say, bar.until)}",
    BarKind.SEEDLINGS: _seedlings,
    BarKind.KEPT_MOIST: _kept_moist,
    BarKind.UNKNOWN: lambda _say, _bar: "wind or temperature is not known",
    BarKind.WIND: _wind,
    BarKind.HEAT: lambda say, bar: f"{_temp(say, bar.temp_c)}, over {_temp(say, bar.temp_limit_c)}",
    BarKind.COLD: lambda say, bar: f"{_temp(say, bar.temp_c)}, under {_temp(say, bar.temp_limit_c)}",
    BarKind.WET_LEAVES: lambda say, bar: f"rain wets the leaves (chance {_chance(say, bar)})",
    BarKind.FROST: _frost,
    BarKind.SOAKED: _soaked,
    BarKind.RAIN_AFTER: lambda say, bar: f"chance of rain in the {bar.hours:g} h after {_chance(say, bar)}",
    BarKind.HEAVY_RAIN: _heavy_rain,
    BarKind.BEYOND_DRY_TIME: lambda _say, _bar: "the forecast does not reach over the dry time after it",
    BarKind.BEYOND_DAY_AFTER: lambda _say, _bar: "the forecast does not reach over the day after it",
    BarKind.NO_WATER: lambda say, bar: (
        f"no allowed hour to water it in, and rain alone would only with {_chance(say, bar)}"
    ),
}
"""The words of every bar."""


def note_words(say: Say, note: RoundNote) -> str:
    """What else matters for a round, in a sentence."""
    if note.kind == RoundNoteKind.SEEDBED and note.until is not None:
        bed = Seedbed(note.zone, note.seed, note.sown_on, note.until, note.until)
        return (
            f"{note.zone} is a seedbed ({seedbed_words(bed)}): keep off it until it is up, unless you must; "
            "the labels decide."
        )
    if note.kind == RoundNoteKind.INCOMPATIBLE and note.clash is not None:
        return f"{incompatibility_words(note.clash, say.units)}: {way_out_words(note.clash)}."
    if note.kind == RoundNoteKind.EQUIPMENT and note.equipment is not None:
        return equipment_words(note.equipment, Asking.NEXT_ROUND)
    parts = [f"{note.mow_before_d:g} d before"] if note.mow_before_d > 0 else []
    parts += [f"{note.mow_after_d:g} d after"] if note.mow_after_d > 0 else []
    return f"Do not mow {listed(parts)}."


def wind_limit(say: Say, m_s: float) -> str:
    """A limit of wind that is never told higher than it is: 3.576 m/s as 3.5 m/s, or 8 mph."""
    return _tenths(floor(10 * convert(m_s, "wind", say.units) + ROUGH), say)


def _over(say: Say, m_s: float) -> str:
    """A wind over its limit, never told lower than it is."""
    return _tenths(ceil(10 * convert(m_s, "wind", say.units) - ROUGH), say)


def _tenths(tenths: int, say: Say) -> str:
    digits = ".1f" if say.units == "metric" else "g"
    return f"{tenths / 10:{digits}} {unit('wind', say.units)}"


def _temp(say: Say, deg_c: float | None) -> str:
    return "" if deg_c is None else show(deg_c, "temperature", say.units, digits=0)


def _chance(say: Say, bar: Bar) -> str:
    return say.chance(bar.chance or 0.0)


def _clock(say: Say, when: datetime | None) -> str:
    return "" if when is None else say.clock(when)


def _day_of(bar: Bar) -> str:
    return "" if bar.day is None else short_day(bar.day)


def _range(low: float, high: float, dimension: str, units: str, digits: int | None) -> str:
    first, last = (show(v, dimension, units, digits) for v in (low, high))
    return last if first == last else f"{first.rsplit(' ', 1)[0]}–{last}"


# --- mix -----------------------------------------------------------------------------------------


def incompatibility_words(one: Incompatibility, units: str) -> str:
    """Why two products do not go together, as a part of a sentence."""
    first, second = one.products
    match one.kind:
        case IncompatibilityKind.NOT_EVEN_DILUTED:
            return f"{first} and {second} may not share a tank, even diluted"
        case IncompatibilityKind.REACTS_UNDILUTED:
            return f"{first} and {second} may clog or react undiluted, so they may not share a hose-end cup"
        case IncompatibilityKind.DUE_BEFORE_DRY_ENDS:
            return (
                f"{first} is to be watered in within {one.within_h:g} h, "
                f"but {second} must stay dry for {one.dry_h:g} h"
            )
        case IncompatibilityKind.BEST_BEFORE_DRY_ENDS:
            when = "at once" if one.within_h == 0.0 else f"within {one.within_h:g} h"
            return f"{first} is best watered in {when}, but {second} must stay dry for {one.dry_h:g} h"
        case IncompatibilityKind.NO_ONE_DEPTH:
            least, most = (show(mm or 0.0, "depth", units) for mm in (one.least_mm, one.most_mm))
            return f"{first} asks for at least {least} of water, more than the {most} that {second} bears"


def way_out_words(one: Incompatibility) -> str:
    """What to do about it, as a part of a sentence."""
    first, second = one.products
    match one.kind:
        case IncompatibilityKind.NOT_EVEN_DILUTED:
            return "spray them in separate passes and rinse the sprayer between"
        case IncompatibilityKind.REACTS_UNDILUTED:
            if one.in_cup:
                return "one after the other, with a rinsed cup"
            return "let water come between them in the tank"
        case IncompatibilityKind.DUE_BEFORE_DRY_ENDS:
            return f"put {second} down first, {first} no sooner than {one.dry_h:g} h later"
        case IncompatibilityKind.BEST_BEFORE_DRY_ENDS:
            return f"together only if {first} can wait {one.dry_h:g} h for its water"
        case IncompatibilityKind.NO_ONE_DEPTH:
            return f"put {first} down and water it in first, {second} on another day"


def incompatibilities_told(found: Sequence[Incompatibility], units: str) -> tuple[Incompatibility, ...]:
    """The same with their words."""
    return tuple(
        one.model_copy(update={"words": incompatibility_words(one, units), "way_out": way_out_words(one)})
        for one in found
    )


def filling_words(filled: Filling, products: Sequence[str]) -> tuple[str, ...]:
    """How a pass is prepared, step by step; `products` in the order of filling."""
    order = ", then ".join(products)
    match filled:
        case Filling.SPREAD:
            return ("Half in one direction, half across it.",)
        case Filling.CUP:
            return (f"Into the cup, undiluted: {order}.", "Set the dial and rinse the cup after.")
        case Filling.TANK:
            several = len(products) > 1
            return (
                "Fill the tank half with water.",
                f"Then the concentrates: {order}, each stirred in before the next."
                if several
                else f"Then the concentrate: {order}, stirred in.",
                "Top up with water to the load's volume and keep it moving.",
            )


def warning_words(warning: MixWarning, units: str) -> str:
    """What to know before anything else, as a sentence without its full stop; seed brings its own."""
    match warning.kind:
        case WarningKind.SEED:
            return warning.text
        case WarningKind.STOCK_SHORT:
            stock, short = (amount_words(v, warning.unit, units) for v in (warning.amount, warning.short))
            return f"{warning.product}: the stock of {stock} is {short} short of this round"
        case WarningKind.TOO_EARLY:
            return f"{warning.product} is not to go down before {warning.day}"
        case WarningKind.BLACKOUT:
            why = f" ({warning.why})" if warning.why else ""
            return f"{warning.day} is in the blackout {warning.first} to {warning.last}{why}"
        case WarningKind.WET_LEAVES_FIRST:
            return f"{warning.product} wants wet leaves at spreading: water lightly just before"
        case WarningKind.DILUTION_UNKNOWN:
            return f"the dilution of {warning.product} is not known, so its water cannot be told"


def amount_words(amount: float | None, unit_of: str | None, units: str) -> str:
    """An amount of product in mL or g in the owner's units."""
    return show(amount or 0.0, "small volume" if unit_of == "mL" else "mass", units)
