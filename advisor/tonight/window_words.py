"""When water may run tonight, in words."""

from __future__ import annotations

from datetime import timedelta

from advisor.hours import Night
from advisor.schedule import Plan
from advisor.sentences import (
    closed_words,
    hours_note_words,
    hours_words,
    plan_note_words,
    wind_words,
)
from advisor.wording import Say, listed


def window_words(say: Say, night: Night, plan: Plan) -> str:
    """When water may run tonight, and what is not plain about it."""
    if night.windows:
        spans = [say.stretch(w.starts_at, w.ends_at) for w in night.windows]
        told = f"Water may run {listed(spans)}"
        by_sun = timedelta() <= night.sun.at - night.windows[-1].ends_at < timedelta(minutes=1)
        if by_sun and night.sun.how == "sunrise":
            told += " (sunrise)"
        told += "."
    else:
        told = f"No water may run tonight. {closed_words(night.closed)}".strip()
        if night.later:
            told += f" The next allowed hours are {hours_words(say, night.later[0].windows)}."
    if night.sun.how != "sunrise":
        told += f" No sunrise tomorrow ({night.sun.how})."
    hours = (hours_note_words(say, note) for note in night.notes)
    notes = (plan_note_words(say, note) for note in plan.notes)
    return " ".join(part for part in (told, wind_words(say, plan.wind), *hours, *notes) if part)
