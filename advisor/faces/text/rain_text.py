"""Will the rain do it, in plain text. Computes nothing."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from advisor.advice import ApplicationAdvice, RainAnswer, alike
from advisor.faces.text.paragraphs import bullets, wrapped
from advisor.sentences import left_out_lines
from advisor.units import show
from advisor.wording import INVENTED, Say, heading_time, listed, long_day


def rain_text(answer: RainAnswer, *, width: int, demo: bool = False) -> str:
    """The answer for a terminal of `width` columns."""
    zone = ZoneInfo(answer.time_zone)
    local = answer.now.astimezone(zone)
    say = Say(answer.units, zone, local)
    title = f"{answer.site} — will the rain do it? {heading_time(local)}"
    lines = [title, "=" * len(title)]
    if demo:
        lines.append(INVENTED)
    if answer.what_if is not None:
        one = answer.what_if
        ratio = "" if one.dilution is None else f" at {show(one.dilution, 'dilution')}"
        at = one.at.astimezone(zone)
        lines += wrapped(
            f"What if: {one.product} on {listed(one.zones)}, by {one.method}{ratio}, done "
            f"{long_day(at)} {at:%H:%M}. Nothing is recorded.",
            width,
        )
        lines += wrapped(one.equipment_note, width)
    lines += ["", *wrapped(answer.headline, width)]
    if answer.left_out:
        lines += ["", "Left out of this answer", *bullets(left_out_lines(answer.left_out), width)]
    for group in alike(answer.verdicts):
        lines += ["", *_verdict(say, group, width)]
    if any(each.options for each in answer.verdicts):
        lines += ["", *wrapped("Depths of runs are what the drier part of the zone gets.", width)]
    if answer.rain:
        first = answer.rain[0]
        how = f"calibrated on {first.pairs} pairs" if first.calibrated else "cautious default calibration"
        lines += ["", *wrapped(f"Chances from {first.members} members, {how}.", width)]
    lines += bullets((c.text for c in answer.cautions), width, indent="")
    lines += bullets(answer.attribution, width, indent="")
    return "\n".join(lines) + "\n"


def _verdict(say: Say, group: list[ApplicationAdvice], width: int) -> list[str]:
    one, names = group[0], listed(dict.fromkeys(each.product for each in group))
    lines = [f"{names} on {one.zone}", *wrapped(one.words, width, "  ")]
    if one.options:
        lines.append("  What each way is expected to cost, of the worth of what was put down:")
    costs = [say.chance(way.cost) if way.cost < 1 else "more than all of it" for way in one.options]
    room = max((len(cost) for cost in costs), default=0)
    for way, cost in zip(one.options, costs, strict=True):
        mark = "→" if way.chosen else " "
        lines += wrapped(f"{mark} {cost:>{room}}  {way.words}", width, "  ", " " * (room + 6))
    notes = dict.fromkeys(note for each in group for note in each.notes)
    lines += [line for note in notes for line in wrapped(f"· {note}", width, "  ", "    ")]
    differ = dict.fromkeys(words for each in group for words in each.sources_differ)
    if differ:
        lines += ["  Where published sources differ, the stricter is taken:"]
        lines += bullets(differ, width, "    ")
    return lines
