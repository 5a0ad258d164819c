"""Sentences about minutes and depths: what a rate rests on, what a guess could hide, what an audit saves."""

from __future__ import annotations

from collections.abc import Mapping

from advisor.advice import RunLine, Worth, ZoneRuntime
from advisor.lawn import RateBasis
from advisor.units import show
from advisor.wording import MONTHS, Say

KNOWN: Mapping[RateBasis, str] = {
    RateBasis.AUDIT: "measured, in the records",
    RateBasis.MEASURED: "measured, in the site file",
    RateBasis.FLOW: "from the declared flow and area",
    RateBasis.GUESS: "a guess from the head type",
}
TOLD_UNDER_MIN = 180  # a longest stretch that no usual run comes near is not worth a line
DEPTHS = "Depths are what the drier part gets; a run puts down a little more on average."


def zone_words(say: Say, each: ZoneRuntime) -> str:
    """The figures of a zone and what they rest on."""
    on = f" on {each.measured_on.isoformat()}" if each.measured_on else ""
    rate = f"{say.rate(each.rate_mm_h)}, {KNOWN[each.rate_basis]}{on}"
    if each.rate_low_mm_h < each.rate_high_mm_h:
        rate += f" (it may be {say.rate(each.rate_low_mm_h)} to {say.rate(each.rate_high_mm_h)})"
    known = "measured" if each.uniformity_known else "guessed"
    return f"{rate}; evenness {show(each.uniformity, 'share')} {known}; multiplier {each.multiplier:.2f}"


def unbroken_words(each: ZoneRuntime) -> str:
    """How long the zone may run without a pause; "" where no run asked about, or usual, comes near that."""
    longest = max((run.minutes for run in each.runs), default=0)
    if each.longest_cycle_min is None or each.longest_cycle_min >= max(longest, TOLD_UNDER_MIN):
        return ""
    return (
        f"No stretch longer than {each.longest_cycle_min:.0f} min without a pause; "
        f"then a soak of {each.soak_min:.0f} min."
    )


def hidden_words(say: Say, each: ZoneRuntime) -> tuple[str, ...]:
    """What each run could really come to where the rate is not known for sure."""
    return tuple(_hidden(say, run) for run in each.runs) if each.rate_low_mm_h < each.rate_high_mm_h else ()


def _hidden(say: Say, run: RunLine) -> str:
    return (
        f"{run.minutes} min could really put down {say.depth(run.depth_low_mm)} to "
        f"{say.depth(run.depth_high_mm)}; the same depth could need {run.minutes_low:.0f} to "
        f"{run.minutes_high:.0f} min."
    )


def worth_words(say: Say, worth: Worth) -> str:
    """What not knowing the rate costs."""
    per = "inch" if say.units == "us" else f"{worth.need_mm:.0f} mm"
    when = f"in {MONTHS[worth.month - 1]}" if worth.month else f"for every {per}"
    money = f", {worth.cost:.2f} of your currency for water" if worth.cost > 0.0 else ""
    return (
        f"Not knowing the rate costs, {when}: on average {say.depth(worth.excess_mean_mm)} too much "
        f"({show(worth.litres, 'volume', say.units, 0)}{money}) or {say.depth(worth.shortfall_mean_mm)} too "
        f"little, at worst {say.depth(worth.excess_most_mm)} or {say.depth(worth.shortfall_most_mm)}. "
        "An evening with cans saves that: advisor audit."
    )
