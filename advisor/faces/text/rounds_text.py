"""The next rounds in plain text. Computes nothing."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

from advisor.advice import NextRound, NextRounds, NotThen
from advisor.faces.text.paragraphs import bullets, wrapped
from advisor.wording import INVENTED, heading_time, listed, short_day


def rounds_text(found: NextRounds, *, width: int, demo: bool = False) -> str:
    """The next rounds for a terminal of `width` columns."""
    zone = ZoneInfo(found.time_zone)
    local = found.now.astimezone(zone)
    title = f"{found.site} — next round, {heading_time(local)}"
    lines = [title, "=" * len(title)]
    if demo:
        lines.append(INVENTED)
    for each in found.rounds:
        lines += ["", *_round(each, zone, width)]
    how = "calibrated" if found.calibrated else "cautious default calibration"
    until = found.forecast_until.astimezone(zone)
    reach = f"The forecast is known to {short_day(until)} {until:%H:%M}"
    lines += ["", *wrapped(f"{reach}; chances from {found.members} members, {how}.", width)]
    lines += bullets((c.text for c in found.cautions), width, indent="")
    lines += bullets(found.attribution, width, indent="")
    return "\n".join(lines) + "\n"


def _round(each: NextRound, zone: ZoneInfo, width: int) -> list[str]:
    lines = wrapped(f"{each.round} on {listed(each.zones)}", width)
    lines += wrapped(each.headline, width, "  ")
    lines += wrapped(f"({listed(p.product for p in each.products)})", width, "  ")
    for slot in each.slots:
        starts, ends = (t.astimezone(zone) for t in (slot.starts_at, slot.ends_at))
        when = f"{slot.rank}. {short_day(starts)} {starts:%H:%M}–{ends:%H:%M}"
        lines += wrapped(f"{when}  {slot.words}", width, "  ", "     ")
    if each.also_possible:
        days = listed(short_day(day) for day in each.also_possible)
        lines += wrapped(f"Possible too, but not better: {days}.", width, "  ", "     ")
    if each.not_then:
        lines += ["  Not then:", *bullets(_days(each.not_then), width, "  ")]
    if each.notes:
        lines += ["  Mind:", *bullets(each.notes, width, "  ")]
    return lines


def _days(not_then: tuple[NotThen, ...]) -> list[str]:
    """The days, those in a row that share a reason together."""
    runs: list[list[NotThen]] = []
    for each in not_then:
        if runs and runs[-1][-1].why == each.why and (each.day - runs[-1][-1].day).days == 1:
            runs[-1].append(each)
        else:
            runs.append([each])
    return [f"{_span(run[0].day, run[-1].day)}: {run[0].why}." for run in runs]


def _span(first: date, last: date) -> str:
    end = short_day(last)
    return end if first == last else f"{short_day(first)} – {end}"
