"""The whole of advise(): pure, order-free, sound, and honest about what it rests on."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from made import EVENING, made_site, made_weather, made_zone

from advisor.advice.advice import Advice
from advisor.errors import CannotAdvise
from advisor.lawn.records import ProbeReading, Records
from advisor.tonight.advise import advise


def dry_records(depletion_mm: float = 25.0) -> Records:
    return Records(probes=(ProbeReading("Front", EVENING - timedelta(hours=2), depletion_mm),))


def test_the_same_inputs_give_the_same_advice() -> None:
    site, records, weather = made_site(), dry_records(), made_weather()
    first = advise(site=site, records=records, weather=weather, now=EVENING)
    again = advise(site=site, records=records, weather=weather, now=EVENING)
    assert first == again


def test_an_input_that_differs_changes_the_digest() -> None:
    site, weather = made_site(), made_weather()
    a = advise(site=site, records=dry_records(), weather=weather, now=EVENING)
    b = advise(site=site, records=dry_records(24.9), weather=weather, now=EVENING)
    assert a.inputs_digest != b.inputs_digest


def test_the_order_of_members_has_no_say() -> None:
    rng = np.random.default_rng(5)
    members = np.zeros((21, 240))
    members[:, 6:12] = rng.gamma(0.6, 1.5, size=(21, 6))
    site, records = made_site(), dry_records(18.0)
    a = advise(site=site, records=records, weather=made_weather(members), now=EVENING)
    b = advise(site=site, records=records, weather=made_weather(members[rng.permutation(21)]), now=EVENING)
    assert a.headline == b.headline
    assert [z.minutes_firm for z in a.zones] == [z.minutes_firm for z in b.zones]
    assert [r.chance_5mm for r in a.rain] == pytest.approx([r.chance_5mm for r in b.rain])


def test_advice_survives_its_own_json() -> None:
    advice = advise(site=made_site(), records=dry_records(), weather=made_weather(), now=EVENING)
    assert Advice.model_validate_json(advice.model_dump_json()) == advice


def test_a_dry_zone_is_run_before_sunrise_and_every_check_passes() -> None:
    advice = advise(site=made_site(), records=dry_records(), weather=made_weather(), now=EVENING)
    assert advice.zones[0].verdict == "run"
    assert advice.window_ends_at is not None
    assert all(c.ends_at <= advice.window_ends_at for r in advice.runs for c in r.cycles)
    assert [c for c in advice.checks if not c.passed] == []
    delivered = advice.runs[0].minutes / 60.0 * 12.0
    assert delivered == pytest.approx(advice.runs[0].depth_mm)


def test_weather_that_does_not_reach_tonight_is_refused_in_a_sentence() -> None:
    weather = made_weather(now=EVENING - timedelta(days=30))
    with pytest.raises(CannotAdvise, match="does not cover"):
        advise(site=made_site(), records=Records(), weather=weather, now=EVENING)


def test_an_ensemble_without_members_is_told() -> None:
    weather = made_weather()
    weather = replace(weather, members_mm=np.zeros((0, weather.hours)))
    advice = advise(site=made_site(), records=Records(), weather=weather, now=EVENING)
    assert any("No ensemble" in line for line in advice.unknowns)


def test_past_the_horizon_is_unknown_and_not_dry() -> None:
    members = np.zeros((11, 30))
    advice = advise(site=made_site(), records=dry_records(10.0), weather=made_weather(members), now=EVENING)
    three_days = advice.rain[-1]
    assert three_days.share_known < 0.5
    assert any("later is unknown" in text for text in advice.unknowns)


def test_a_change_is_told_and_a_trifle_is_not() -> None:
    site, records = made_site(), dry_records(18.0)
    first = advise(site=site, records=records, weather=made_weather(), now=EVENING)
    wet = np.zeros((11, 240))
    wet[:, 14:22] = 6.0
    later = EVENING + timedelta(minutes=30)
    changed = advise(site=site, records=records, weather=made_weather(wet), now=later, previous=first)
    same = advise(site=site, records=records, weather=made_weather(), now=later, previous=first)
    assert first.zones[0].verdict == "run"
    assert any("Front" in text for text in changed.changes)
    assert same.changes == ()


def test_seed_is_kept_moist_by_light_runs() -> None:
    seeded = made_zone(mode="seed", mode_until=EVENING.date() + timedelta(days=14))
    advice = advise(site=made_site(seeded), records=Records(), weather=made_weather(), now=EVENING)
    assert advice.runs[0].why == "seed kept moist"
    assert len(advice.runs[0].cycles) == 2
    after = replace(seeded, mode_until=EVENING.date() - timedelta(days=1))
    moist = Records(probes=(ProbeReading("Front", EVENING - timedelta(hours=2), 2.0),))
    assert advise(site=made_site(after), records=moist, weather=made_weather(), now=EVENING).runs == ()


def test_no_run_is_planned_when_it_freezes() -> None:
    weather = made_weather()
    cold = replace(weather, temp_c=weather.temp_c - 26.0, dew_c=weather.dew_c - 26.0)
    advice = advise(site=made_site(), records=dry_records(30.0), weather=cold, now=EVENING)
    assert advice.runs == ()


def test_snow_waters_nothing_in_until_it_melts() -> None:
    members = np.zeros((5, 240))
    members[:, 3:9] = 3.0
    weather = made_weather(members)
    from advisor.soil_water.root_zone import survey

    cold = replace(weather, temp_c=weather.temp_c - 45.0, dew_c=weather.dew_c - 45.0)
    ground = survey(site=made_site(), records=Records(), weather=cold, now=EVENING)
    warm = survey(site=made_site(), records=Records(), weather=weather, now=EVENING)
    assert ground.rain_ahead_mm[:, :48].sum() == 0.0
    assert warm.rain_ahead_mm[:, :48].sum() > 0.0
