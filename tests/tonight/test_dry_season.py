"""Dry evenings one after another: whatever an owner records, no lawn is left without advised water for weeks.

The lawn is invented: half in shade, so that on one evening at its allowance it goes hardly short by the next.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from itertools import pairwise

import pytest
from made import EVENING, made_site, made_weather, made_zone

from advisor.advice import Advice, ReasonKind
from advisor.lawn.records import ProbeReading, Records, Run
from advisor.lawn.site_values import Site
from advisor.night import RECORDS_DAYS
from advisor.soil_water.root_zone import PAST_DAYS
from advisor.tonight.advise import advise

SITE = made_site(made_zone(exposure=0.5))
DAY = timedelta(days=1)
SPRING = tuple(
    Run("Front", EVENING - day * DAY - timedelta(hours=2), EVENING - day * DAY - timedelta(hours=1), 60.0)
    for day in (28, 24, 20)
)


@dataclass
class Season:
    """What was advised on each evening, in minutes, and how dry the soil truly was, in mm."""

    minutes: list[float] = field(default_factory=list)
    told_mm: list[float] = field(default_factory=list)
    true_mm: list[float] = field(default_factory=list)
    previous: Advice | None = None

    def longest_without(self) -> int:
        """The most evenings in a row without a run."""
        longest = now = 0
        for minutes in self.minutes:
            now = 0 if minutes > 0 else now + 1
            longest = max(longest, now)
        return longest


def season(
    evenings: int,
    *,
    runs_it: bool,
    records_it: bool,
    before: Sequence[Run] = (),
    probe: ProbeReading | None = None,
    asks_every: int = 1,
    site: Site = SITE,
) -> Season:
    """An owner who asks evening after evening; `before` is recorded already. Records come as from the store:
    those of the last weeks, and the last run before them. The truth begins at 12 mm."""
    kept, found = list(before), Season()
    true_mm = 12.0
    for number in range(0, evenings, asks_every):
        now = EVENING + number * DAY
        since = now - RECORDS_DAYS * DAY
        older = [run for run in kept if run.ended_at < since][-1:]
        probes = (probe,) if probe is not None and probe.read_at >= since else ()
        records = Records(runs=(*older, *(run for run in kept if run.ended_at >= since)), probes=probes)
        weather = made_weather(now=now)
        advice = advise(site=site, records=records, weather=weather, now=now, previous=found.previous)
        zone = advice.zones[0]
        found.minutes.append(zone.minutes_firm)
        found.told_mm.append(zone.depletion_mm)
        found.true_mm.append(true_mm)
        asks = zone.terms[-3].kc * zone.terms[-3].eto_mm
        given = 0.0
        for run in advice.runs if runs_it else ():
            given += run.effective_mm
            if records_it:
                cycles = run.cycles
                kept.append(Run("Front", cycles[0].starts_at, cycles[-1].ends_at, run.minutes))
        full_mm = zone.total_available_mm
        for _ in range(asks_every):  # FAO-56 eq. 84 and 85 by days
            true_mm += asks * min(1.0, (full_mm - true_mm) / (full_mm - zone.allowed_mm))
        true_mm = max(0.0, true_mm - given)
        found.previous = advice
    return found


def test_an_owner_who_records_nothing_and_does_nothing_is_told_to_run_evening_after_evening() -> None:
    """The first evening is a guess at the allowance; since then nobody is taken to have watered."""
    found = season(62, runs_it=False, records_it=False)
    assert found.told_mm[0] == pytest.approx(15.2, abs=0.1)
    assert found.longest_without() <= 2
    assert all(minutes > 0 for minutes in found.minutes[2:])
    truth, told = found.true_mm[PAST_DAYS:], found.told_mm[PAST_DAYS:]
    assert told == pytest.approx(truth, abs=0.5)
    assert found.true_mm[-1] > 30.0


def test_an_owner_who_follows_without_a_word_is_never_dry_and_is_asked_for_the_records() -> None:
    found = season(36, runs_it=True, records_it=False)
    assert max(found.true_mm[3:]) < 1.0
    assert found.previous is not None
    kinds = {reason.kind for reason in found.previous.unknown_reasons}
    assert {ReasonKind.NOTHING_RECORDED, ReasonKind.LAST_NIGHT_NOT_RECORDED} <= kinds


def test_the_evening_on_which_the_last_recorded_run_ages_out_changes_nothing() -> None:
    """The last run is 31 days back on the 12th evening and 45 on the 26th."""
    found = season(62, runs_it=False, records_it=False, before=SPRING)
    assert all(minutes > 0 for minutes in found.minutes)
    steps = [abs(after - before) for before, after in pairwise(found.told_mm)]
    assert max(steps) < 1.0


@pytest.mark.parametrize("before", [(), SPRING])
def test_an_owner_who_records_all_waters_about_weekly_and_the_grass_is_not_dry(before: Sequence[Run]) -> None:
    found = season(62, runs_it=True, records_it=True, before=before)
    assert found.longest_without() <= 8
    assert 8 <= sum(minutes > 0 for minutes in found.minutes) <= 14
    assert max(found.true_mm) < 16.0


def test_an_owner_whose_valves_run_by_themselves_needs_no_records() -> None:
    by_itself = replace(SITE, rules=replace(SITE.rules, assume_made_after_min=0.0))
    found = season(50, runs_it=True, records_it=False, site=by_itself)
    assert found.longest_without() <= 8
    assert max(found.true_mm) < 16.0


def test_a_probe_that_ages_out_leaves_no_lawn_without_water() -> None:
    probe = ProbeReading("Front", EVENING - 25 * DAY, 10.0)
    found = season(26, runs_it=False, records_it=False, probe=probe)
    assert all(minutes > 0 for minutes in found.minutes)


def test_who_asks_once_a_week_is_told_to_run_from_the_second_time_on() -> None:
    found = season(50, runs_it=False, records_it=False, asks_every=7)
    assert [minutes > 0 for minutes in found.minutes] == [False, *[True] * 7]


def test_after_a_long_pause_it_is_as_on_a_first_evening() -> None:
    first = season(1, runs_it=False, records_it=False)
    again = season(34, runs_it=False, records_it=False, asks_every=33)
    assert again.told_mm[1] == pytest.approx(first.told_mm[0], abs=0.2)
    assert again.previous is not None
    assert again.previous.asked_since == again.previous.now


def test_a_run_recorded_as_skipped_and_one_of_another_zone_are_records_too() -> None:
    skipped = Run("Front", EVENING - 3 * DAY, EVENING - 3 * DAY + timedelta(minutes=1), 0.0)
    long_ago = Run("Back", EVENING - 90 * DAY, EVENING - 90 * DAY + timedelta(hours=1), 60.0)
    for run in (skipped, long_ago):
        found = season(1, runs_it=False, records_it=False, before=(run,))
        assert found.told_mm[0] > 30.0
        assert found.minutes[0] > 0
