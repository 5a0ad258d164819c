"""Minutes and depths in plain text, zone by zone. Computes nothing."""

from __future__ import annotations

from advisor.advice import RunLine, Runtime, ZoneRuntime
from advisor.faces.text.paragraphs import bullets, columns, wrapped
from advisor.sentences import DEPTHS, hidden_words, unbroken_words, worth_words, zone_words
from advisor.units import show
from advisor.wording import INVENTED, MONTHS, Say

HEADS = ("Depth", "Minutes", "Cycles", "Start to end", "On average", "Driest quarter", "Water")


def runtime_text(say: Say, worked: Runtime, *, width: int, demo: bool = False) -> str:
    """All zones asked for, for a terminal of `width` columns."""
    lines = [INVENTED, ""] if demo else []
    for each in worked.zones:
        lines += [*_zone(say, each, width), ""]
    lines += wrapped(" ".join((DEPTHS, *(caution.text for caution in worked.cautions))), width)
    return "\n".join(lines) + "\n"


def _zone(say: Say, each: ZoneRuntime, width: int) -> list[str]:
    lines = [each.zone, *wrapped(zone_words(say, each), width, "  ")]
    runs = [_run(run, say.units) for run in each.runs]
    if each.mean_day is not None:
        runs.append([f"{MONTHS[each.mean_of - 1]}'s mean day", *_run(each.mean_day, say.units)[1:]])
    lines += columns([HEADS, *runs])
    lines += wrapped(unbroken_words(each), width, "  ")
    lines += bullets(hidden_words(say, each), width)
    if each.worth is not None:
        lines += bullets([worth_words(say, each.worth)], width)
    if each.months:
        lines += ["  By month, before rain", *columns(_months(each, say.units), "    ")]
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


def _months(each: ZoneRuntime, units: str) -> list[list[str]]:
    rows = [["", "Use", "Minutes", "A week", "Could be"]]
    rows += [
        [
            MONTHS[m.month - 1][:3],
            show(m.need_mm, "depth", units),
            f"{m.minutes}",
            f"{m.minutes_a_week:.0f}",
            f"{m.minutes_low:.0f}–{m.minutes_high:.0f}" if m.minutes_low < m.minutes_high else "",
        ]
        for m in each.months
    ]
    return rows
