"""Members that came too long ago are left out and told; younger ones are used, however old the limit allows."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from made import EVENING, made_weather

from advisor.advice.notes import NoteKind, NoteLevel
from advisor.errors import SourceError
from advisor.weather.ensemble import Ensemble, with_ensemble
from advisor.weather.weather import Weather, hours_between

LIMIT_H = 36.0


def ensemble(age: timedelta, models: tuple[str, ...] = ("one",) * 4) -> Ensemble:
    """Members of 1, 2, 3 … mm in the first two of the coming hours."""
    starts = hours_between(EVENING.replace(minute=0), EVENING.replace(minute=0) + timedelta(hours=2))
    amounts = np.tile(np.arange(1.0, len(models) + 1.0)[:, None], (1, len(starts)))
    return Ensemble("Made", "", starts, amounts, models, (), EVENING - age)


def joined(age: timedelta) -> Weather:
    return with_ensemble(made_weather(), ensemble(age), EVENING, refuse_after_h=LIMIT_H)


@pytest.mark.parametrize("hours", [0.0, 1.0, 35.9, 36.0], ids="{:g} h".format)
def test_members_within_the_limit_are_used(hours: float) -> None:
    weather, base = joined(timedelta(hours=hours)), made_weather()
    first = weather.index_at(EVENING)
    assert weather.members_mm[:, first : first + 2].tolist() == [[n, n] for n in (1.0, 2.0, 3.0, 4.0)]
    assert not np.isfinite(weather.members_mm[:, first + 2 :]).any()
    assert weather.notes == base.notes
    used = weather.sources[-1]
    assert (used.name, used.fetched_at, used.members) == ("Made (one)", EVENING - timedelta(hours=hours), 4)
    assert used.reaches_until == EVENING.replace(minute=0) + timedelta(hours=2)


@pytest.mark.parametrize("hours", [36.1, 48.0, 240.0], ids="{:g} h".format)
def test_older_members_are_left_out_and_their_age_is_told_in_hours(hours: float) -> None:
    weather, base = joined(timedelta(hours=hours)), made_weather()
    assert weather.members_mm.tolist() == base.members_mm.tolist()
    assert weather.sources == base.sources
    (note,) = weather.notes
    assert (note.level, note.kind) == (NoteLevel.WARNING, NoteKind.MEMBERS_OLD)
    assert note.age_h == pytest.approx(hours)


def test_members_that_could_not_be_had_cost_a_note_only() -> None:
    failure = SourceError("Made", "no answer within 30 s")
    weather = with_ensemble(made_weather(), failure, EVENING, refuse_after_h=LIMIT_H)
    (note,) = weather.notes
    assert (note.source, note.reason) == ("Made", "no answer within 30 s")
    assert weather.members_mm.tolist() == made_weather().members_mm.tolist()


def test_two_models_count_alike_whatever_their_size() -> None:
    found = ensemble(timedelta(0), ("one",) * 4 + ("other",) * 2)
    weather = with_ensemble(made_weather(), found, EVENING, refuse_after_h=LIMIT_H)
    first = weather.index_at(EVENING)
    amounts = weather.members_mm[:, first].tolist()
    assert sum(mm <= 4.0 for mm in amounts) == sum(mm > 4.0 for mm in amounts) > 0
