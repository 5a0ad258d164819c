"""The sentences about a round: when it is due, and what a slot rests on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from advisor.lawn.products import Product
from advisor.rounds.spray_window import Job, Judged, wind_limit
from advisor.units import show
from advisor.wording import Say, listed, short_day

ASK_BEFORE = timedelta(days=3)
WORTH_TELLING = 0.01


def headline(
    say: Say, due: date | None, late: int, slots: Sequence[tuple[datetime, datetime]], until: datetime
) -> str:
    """When the round is due and the best time for it, or that there is none. `late` days overdue."""
    end = until.astimezone(say.zone)
    if due is None:
        when = "Never recorded on these zones, so due now."
    elif late > 0:
        when = f"Overdue by {late} day{'s' if late > 1 else ''} (due {short_day(due)})."
    else:
        when = f"Due {short_day(due)}."
    if due is not None and due > end.date():
        ask = max(due - ASK_BEFORE, say.now.astimezone(say.zone).date())
        return (
            f"{when} The forecast reaches to {short_day(end.date())} only: ask again from {short_day(ask)}."
        )
    if not slots:
        return f"{when} None of the days to {short_day(end.date())} will do."
    starts, ends = (t.astimezone(say.zone) for t in slots[0])
    return f"{when} Best: {short_day(starts.date())}, {starts:%H:%M}–{ends:%H:%M}."


def slot_words(
    say: Say, job: Job, top: Judged, winds_m_s: tuple[float, float], temps_c: tuple[float, float]
) -> str:
    """What a slot rests on: wind, warmth, what waters it in, what could go wrong."""
    limit = wind_limit(say, min(p.kind.wind_most_m_s for p in job.products))
    told = [
        f"Wind {_range(*winds_m_s, 'wind', say.units, None)} (limit {limit}), "
        f"{_range(*temps_c, 'temperature', say.units, 0)}."
    ]
    if top.watering == "rain" and top.waters_in is not None:
        told.append(
            f"Rain waters it in: chance {say.chance(top.waters_in)}, {say.depth(top.expected_mm)} expected."
        )
    elif top.waters_in is not None:
        told.append(
            f"Then water it in with the sprinklers; chance that rain does it {say.chance(top.waters_in)}."
        )
    if top.too_much is not None and top.too_much >= WORTH_TELLING:
        told.append(f"Chance of rain that washes it away {say.chance(top.too_much)}.")
    if top.rain_after is not None:
        told.append(f"Chance of rain while it must stay dry {say.chance(top.rain_after)}.")
    return " ".join([*told, *(f"{m[0].upper()}{m[1:]}." for m in top.mind)])


def mowing_words(products: Sequence[Product]) -> list[str]:
    """When not to mow."""
    before = max(p.kind.mow_before_d for p in products)
    after = max(p.kind.mow_after_d for p in products)
    parts = [f"{before:g} d before"] if before > 0 else []
    parts += [f"{after:g} d after"] if after > 0 else []
    return [f"Do not mow {listed(parts)}."] if parts else []


def seedbed_words(job: Job) -> list[str]:
    """That grass is coming up from seed on the zones of a round."""
    return [
        f"{bed.zone} is a seedbed ({bed.why}): keep off it until it is up, unless you must; the labels decide."
        for bed in job.beds
    ]


def _range(low: float, high: float, dimension: str, units: str, digits: int | None) -> str:
    first, last = (show(v, dimension, units, digits) for v in (low, high))
    return last if first == last else f"{first.rsplit(' ', 1)[0]}–{last}"
