"""Minutes and depths in plain text, zone by zone. Computes nothing."""

from __future__ import annotations

from calendar import month_abbr, month_name

from advisor.audit.run_time import RunLine, Runtime, Worth, ZoneRuntime
from advisor.faces.text.paragraphs import bullets, columns, wrapped
from advisor.units import show

KNOWN = {
    "audit": "measured, in the records",
    "measured": "measured, in the site file",
    "flow": "from the declared flow and area",
    "guess": "a guess from the head type",
}
TOLD_UNDER_MIN = 180  # a longest stretch that no usual run comes near is not worth a line


def runtime_text(worked: Runtime, units: str, *, width: int, demo: bool = False) -> str:
    """All zones asked for, for a terminal of `width` columns."""
    lines = ["Invented demo: no such lawn exists.", ""] if demo else []
    for each in worked.zones:
        lines += [*_zone(each, units, width), ""]
    lines += wrapped(
        "Depths are what the drier part gets; a run puts down a little more on average. "
        "Puddles or runoff override every minute here: stop, let it soak, and shorten the cycle.",
        width,
    )
    return "\n".join(lines) + "\n"


def _zone(each: ZoneRuntime, units: str, width: int) -> list[str]:
    on = f" on {each.measured_on.isoformat()}" if each.measured_on else ""
    rate = f"{show(each.rate_mm_h, 'rate', units)}, {KNOWN[each.rate_basis]}{on}"
    if each.rate_low_mm_h < each.rate_high_mm_h:
        low, high = show(each.rate_low_mm_h, "rate", units), show(each.rate_high_mm_h, "rate", units)
        rate += f" (it may be {low} to {high})"
    even = f"{show(each.uniformity, 'share')} {'measured' if each.uniformity_known else 'guessed'}"
    lines = [each.zone, *wrapped(f"{rate}; evenness {even}; multiplier {each.multiplier:.2f}", width, "  ")]
    heads = ["Depth", "Minutes", "Cycles", "Start to end", "On average", "Driest quarter", "Water"]
    runs = [_run(run, units) for run in each.runs]
    if each.mean_day is not None:
        runs.append([f"{month_name[each.mean_of]}'s mean day", *_run(each.mean_day, units)[1:]])
    lines += columns([heads, *runs])
    longest = max((run.minutes for run in each.runs), default=0)
    if each.longest_cycle_min is not None and each.longest_cycle_min < max(longest, TOLD_UNDER_MIN):
        lines += wrapped(
            f"No stretch longer than {each.longest_cycle_min:.0f} min without a pause; "
            f"then a soak of {each.soak_min:.0f} min.",
            width,
            "  ",
        )
    if each.rate_low_mm_h < each.rate_high_mm_h:
        lines += bullets((_hidden(run, units) for run in each.runs), width)
    if each.worth is not None:
        lines += bullets([_worth(each.worth, units)], width)
    if each.months:
        lines += ["  By month, before rain", *columns(_months(each, units), "    ")]
    return lines


def _run(run: RunLine, units: str) -> list[str]:
    each = run.cycle_minutes
    cycles = (
        "1"
        if len(each) == 1
        else f"{len(each)} × {each[0]} min"
        if len(set(each)) == 1
        else f"{len(each)} × {min(each)}–{max(each)} min"
    )
    return [
        show(run.effective_mm, "depth", units),
        f"{run.minutes}",
        cycles,
        f"{run.elapsed_min} min",
        show(run.depth_mm, "depth", units),
        show(run.driest_mm, "depth", units),
        show(run.litres, "volume", units, 0),
    ]


def _hidden(run: RunLine, units: str) -> str:
    low, high = show(run.depth_low_mm, "depth", units), show(run.depth_high_mm, "depth", units)
    return (
        f"{run.minutes} min could really put down {low} to {high}; "
        f"the same depth could need {run.minutes_low:.0f} to {run.minutes_high:.0f} min."
    )


def _worth(worth: Worth, units: str) -> str:
    per = "inch" if units == "us" else f"{worth.need_mm:.0f} mm"
    when = f"in {month_name[worth.month]}" if worth.month else f"for every {per}"
    money = f", {worth.cost:.2f} of your currency for water" if worth.cost > 0.0 else ""
    means, mosts = (
        [show(mm, "depth", units) for mm in pair]
        for pair in (
            (worth.excess_mean_mm, worth.shortfall_mean_mm),
            (worth.excess_most_mm, worth.shortfall_most_mm),
        )
    )
    return (
        f"Not knowing the rate costs, {when}: on average {means[0]} too much "
        f"({show(worth.litres, 'volume', units, 0)}{money}) or {means[1]} too little, at worst "
        f"{mosts[0]} or {mosts[1]}. An evening with cans saves that: advisor audit."
    )


def _months(each: ZoneRuntime, units: str) -> list[list[str]]:
    rows = [["", "Use", "Minutes", "A week", "Could be"]]
    rows += [
        [
            month_abbr[m.month],
            show(m.need_mm, "depth", units),
            f"{m.minutes}",
            f"{m.minutes_a_week:.0f}",
            f"{m.minutes_low:.0f}–{m.minutes_high:.0f}" if m.minutes_low < m.minutes_high else "",
        ]
        for m in each.months
    ]
    return rows
