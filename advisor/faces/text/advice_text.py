"""The terminal face: the Advice in plain text, what to do first and why after it. Computes nothing."""

from __future__ import annotations

from collections.abc import Iterable
from zoneinfo import ZoneInfo

from advisor.advice import Advice, ApplicationAdvice, ZoneAdvice, ZoneVerdict, alike, hand_moves
from advisor.faces.text.paragraphs import MOST_WIDE, bullets, not_kept_lines, wrapped
from advisor.lawn import RateBasis
from advisor.sentences import depth_words, hand_move_words, left_out_lines, length_words
from advisor.units import show_number
from advisor.wording import INVENTED, Say, day_in_table, heading_time, listed, long_day, minutes


def advice_text(advice: Advice, *, width: int = MOST_WIDE, demo: bool = False) -> str:
    """The whole advice for a terminal of `width` columns."""
    zone = ZoneInfo(advice.time_zone)
    say = Say(advice.units, zone, advice.now.astimezone(zone))
    local = advice.now.astimezone(zone)
    title = f"{advice.site} — {heading_time(local)}"
    lines = [title, "=" * len(title)]
    if demo:
        lines.append(INVENTED)
    lines += not_kept_lines(advice.not_kept, width)
    lines += ["", *(line for step in advice.steps for line in wrapped(step, width, "> ", "  "))]
    if advice.left_out:
        lines += ["", "Left out of this advice", *bullets(left_out_lines(advice.left_out), width)]
    if advice.changes:
        lines += ["", "Changed since the last advice", *bullets(advice.changes, width)]
    lines += ["", "Tonight, zone by zone", *wrapped(advice.window_words, width, "  ")]
    for each in advice.zones:
        lines += ["", *_zone(say, advice, each, width)]
    moves = hand_move_words(hand_moves(advice.runs), zone)
    if moves:
        lines += ["", "By hand", *bullets(moves, width)]
    if advice.not_planned:
        lines += ["", "Does not fit tonight"]
        for left in advice.not_planned:
            day = left.waits_for
            waits = f" Waits for {long_day(day)}." if day else ""
            could = f" You could: {'; '.join(left.could_change)}." if left.could_change else ""
            lines += bullets([f"{left.zone}, {minutes(left.minutes)}: {left.why}{waits}{could}"], width)
    if advice.obligations:
        lines += ["", "What you put down", *_obligations(say, advice.obligations, width)]
    lines += ["", "Rain ahead"]
    for period in advice.rain:
        lines += bullets(
            [
                f"{period.label}: {say.depth(period.mean_mm)} expected "
                f"({say.span(period.low_mm, period.high_mm)} in 8 of 10 cases); chance of "
                f"{say.depth(1)} {say.chance(period.chance_1mm)}, {say.depth(5)} {say.chance(period.chance_5mm)}, "
                f"{say.depth(10)} {say.chance(period.chance_10mm)}"
            ],
            width,
        )
    if advice.rain:
        first = advice.rain[0]
        how = f"calibrated on {first.pairs} pairs" if first.calibrated else "cautious default calibration"
        lines += wrapped(f"From {first.members} members, {how}.", width, "  ")
    lines += ["", "Look again", *bullets((look.words for look in advice.next_looks), width)]
    if advice.unknowns:
        lines += ["", "Not known, or guessed", *bullets(advice.unknowns, width)]
    if advice.cautions:
        lines += ["", "Take care", *bullets((c.text for c in advice.cautions), width)]
    failed = [c for c in advice.checks if not c.passed]
    if failed:
        lines += [
            "",
            "This plan failed its own checks",
            *bullets((f"{'midday: ' if c.for_midday else ''}{c.name}: {c.why}" for c in failed), width),
        ]
    lines += ["", "Rests on"]
    for source in advice.sources:
        fetched = source.fetched_at.astimezone(zone)
        told = f"{source.name} ({source.serves}), fetched {fetched:%a %H:%M}"
        lines += bullets([f"{told}. {source.attribution}".strip()], width)
    lines += bullets(advice.provenance, width)
    return "\n".join(lines) + "\n"


def _zone(say: Say, advice: Advice, each: ZoneAdvice, width: int) -> list[str]:
    runs = [r for r in advice.runs if r.zone == each.zone]
    lines = [] if runs and each.verdict != ZoneVerdict.CANNOT else [f"  {each.zone}: {each.verdict}"]
    for run in runs:
        spans = [say.stretch(c.starts_at, c.ends_at) for c in run.cycles]
        hand = ", by hand" if run.by_hand else ""
        word = "wait; run only if " + run.only_if + ":" if run.condition else "run"
        lines += wrapped(
            f"{each.zone}: {word} {length_words(run)}{hand}, {depth_words(say, run)} ({listed(spans)})",
            width,
            "  ",
            "    ",
        )
        if each.rate_basis == RateBasis.GUESS and run.cycles[0].starts_at == each.starts_at:
            lines.append(
                f"    rate is a guess: {minutes(each.minutes_low)} to {minutes(each.minutes_high)} might be right"
            )
    return [*lines, *wrapped(each.reason, width, "    ")]


def _obligations(say: Say, obligations: Iterable[ApplicationAdvice], width: int) -> list[str]:
    lines: list[str] = []
    for group in alike(obligations):
        names = listed(dict.fromkeys(one.product for one in group))
        lines += wrapped(f"{names} on {group[0].zone}, {say.clock(group[0].applied_at)}", width, "  ")
        lines += wrapped(group[0].words, width, "    ")
        for note in dict.fromkeys(n for one in group for n in one.notes):
            lines += wrapped(f"· {note}", width, "    ", "      ")
    return lines


def explain_text(advice: Advice, zone_name: str, *, width: int = MOST_WIDE) -> str:
    """The balance that led to one zone's answer, term by term."""
    zone = ZoneInfo(advice.time_zone)
    say = Say(advice.units, zone, advice.now.astimezone(zone))
    each = next(z for z in advice.zones if z.zone == zone_name)

    def depth(mm: float) -> str:
        return show_number(mm, "depth", advice.units)

    sure = depth(each.depletion_low_mm) == depth(each.depletion_high_mm)
    doubt = say.span(each.depletion_low_mm, each.depletion_high_mm)
    figures = (
        ("TAW", say.depth(each.total_available_mm), "all the water that its root zone holds for the grass"),
        ("RAW", say.depth(each.allowed_mm), "the part of it that may be used before it is watered"),
        (
            "Dr",
            say.depth(each.depletion_mm),
            "used of it now" if sure else f"used of it now; it may be {doubt}",
        ),
        ("PR", say.rate(each.rate_mm_h), f"precipitation rate of its heads ({each.rate_basis})"),
        (
            "SM",
            f"{each.multiplier:.2f}",
            "a run is so many times longer, so that the drier part gets its depth",
        ),
    )
    lines = [
        *not_kept_lines(advice.not_kept, width)[1:],
        *([""] if advice.not_kept else []),
        f"{each.zone}: the root-zone balance (FAO-56 eq. 85), depths in {'inches' if advice.units == 'us' else 'mm'}",
    ]
    for symbol, value, meaning in figures:
        lines += wrapped(f"{symbol:<5}{value:>11}  {meaning}", width, "  ", " " * 20)
    lines += [
        "",
        f"{'day':<12}{'ETo':>6}{'Kc':>6}{'Ks':>6}{'ETc':>6}{'P':>7}{'Pe':>7}{'I':>7}{'DP':>7}{'Dr':>7}",
    ]
    for t in each.terms:
        mark = " ahead" if t.forecast else ""
        lines.append(
            f"{day_in_table(t.day)}  {depth(t.eto_mm):>6}{t.kc:>6.2f}{t.ks:>6.2f}{depth(t.etc_mm):>6}{depth(t.rain_mm):>7}"
            f"{depth(t.effective_rain_mm):>7}{depth(t.irrigation_mm):>7}{depth(t.deep_percolation_mm):>7}"
            f"{depth(t.depletion_mm):>7}{mark}"
        )
    lines += [
        "",
        *wrapped(
            "ETo: what a well-watered reference grass uses in the weather of the day. Kc: what this grass in this "
            "light uses of that. Ks: 1 while it has water enough, less when it is dry. ETc: what it used, "
            "Ks · Kc · ETo. P: rain. Pe: rain that entered the soil. I: irrigation, counted for the drier part. DP: what "
            "drained below the roots. Dr at the end of a day = Dr of the day before − Pe − I + ETc + DP. Days ahead "
            "are the mean of the rain members, without further irrigation.",
            width,
        ),
        "",
        *wrapped(each.reason, width),
    ]
    if advice.left_out:
        lines += ["", "Left out of this advice", *bullets(left_out_lines(advice.left_out), width)]
    return "\n".join(lines) + "\n"
