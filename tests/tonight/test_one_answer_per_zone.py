"""One answer for a zone, settled once: nothing waits beside a run, one look a zone, a look asks once."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, time, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made import CHICAGO, EVENING, made_site, made_weather, made_zone

from advisor.advice.advice import Advice
from advisor.lawn.products import Product
from advisor.lawn.records import Application, ProbeReading, Records
from advisor.lawn.site_values import Rules, Site
from advisor.lawn.tables import kind_table
from advisor.tonight.advise import advise
from advisor.tonight.rain_answer import rain_answer

EARLY = Rules(hours=((time(21), time(8)),), awake=(time(4), time(22, 30)))
KINDS = {"Potash": "soil-liquid", "Feed": "granular-slow", "Pre": "pre-emergent", "Grubs": "soil-insecticide"}
PRODUCTS = {name: Product(name, kind_table()[kind]) for name, kind in KINDS.items()}


def clock(hour: int, minute: int = 0, day: int = 17) -> datetime:
    return datetime(2026, 6, day, hour, minute, tzinfo=CHICAGO)


def doubtful(mm: float = 8.0, members: int = 15, first_h: int = 3) -> np.ndarray:
    """So much rain in three hours of the evening in the first `members` of 31."""
    rain = np.zeros((31, 240))
    rain[:members, first_h : first_h + 3] = mm / 3.0
    return rain


def site_of(*zones: str, rules: Rules = EARLY, **changes: object) -> Site:
    made = (made_zone(name, uniformity=1.0, **changes) for name in zones or ("Front",))
    return made_site(*made, products=PRODUCTS, rules=rules)


def advised(
    names: tuple[str, ...] = ("Potash",),
    *,
    rain: np.ndarray | None = None,
    used_mm: float = 0.0,
    site: Site | None = None,
    now: datetime = EVENING,
    previous: Advice | None = None,
) -> Advice:
    site = site or site_of()
    zones = tuple(z.name for z in site.zones)
    at = clock(16)
    applications = tuple(Application(n, zones, at, at, "spreader", id=i) for i, n in enumerate(names, 1))
    probes = tuple(ProbeReading(z, EVENING - timedelta(hours=1), used_mm) for z in zones)
    return advise(
        site=site,
        records=Records(applications=applications, probes=probes),
        weather=made_weather(doubtful() if rain is None else rain, now=EVENING),
        now=now,
        previous=previous,
    )


def says_one_thing(advice: Advice) -> None:
    """Headline, applications, looks and `rain` name the same run, or the same look with the same minutes."""
    sure = {r.zone: r for r in advice.runs if not r.only_if}
    looks = {zone: (look.at, took) for look in advice.next_looks for zone, took in look.minutes.items()}
    for verdict in rain_answer(advice).verdicts:
        zone = verdict.zone
        assert not (zone in sure and verdict.action == "wait")
        chosen = next((w for w in verdict.options if w.chosen), None)
        if verdict.action == "wait":
            assert chosen is not None
            at, took = looks[zone]
            assert (chosen.look_at, chosen.minutes) == (at, pytest.approx(took, abs=1))
            assert f"run {zone} {took:.0f} min" in verdict.words
        if verdict.action == "run" and zone in sure:
            assert chosen is not None
            assert chosen.minutes == pytest.approx(sure[zone].minutes, abs=1)


def test_beside_a_run_for_the_turf_nothing_waits() -> None:
    waiting = advised()
    assert waiting.obligations[0].action == "wait"
    dry = advised(used_mm=13.0)
    (run,) = dry.runs
    assert run.only_if == ""
    assert dry.obligations[0].action in ("run", "rain")
    assert all(not look.minutes for look in dry.next_looks)
    says_one_thing(waiting)
    says_one_thing(dry)


def test_products_that_wait_on_a_zone_have_one_look_and_one_rule() -> None:
    advice = advised(("Potash", "Pre"), rain=doubtful(14.0))
    waits = [w for o in advice.obligations if o.action == "wait" for w in o.options if w.action == "wait"]
    assert waits
    assert len({(w.look_at, w.under_mm, w.top_up_mm) for w in waits}) == 1
    says_one_thing(advice)


@settings(max_examples=25, deadline=None)
@given(
    names=st.lists(st.sampled_from(sorted(KINDS)), min_size=1, max_size=3, unique=True),
    mm=st.floats(0.0, 25.0),
    members=st.integers(0, 31),
    used_mm=st.floats(0.0, 25.0),
)
def test_whatever_lies_there_one_thing_is_said(
    names: list[str], mm: float, members: int, used_mm: float
) -> None:
    says_one_thing(advised(tuple(names), rain=doubtful(mm, members), used_mm=used_mm))


def test_a_look_that_came_due_closes_the_question() -> None:
    evening = advised()
    look_at = min(look.at for look in evening.next_looks if look.minutes)
    for minutes in (-10, 0, 20):
        again = advised(now=look_at + timedelta(minutes=minutes), previous=evening)
        assert again.obligations[0].action in ("run", "rain")
        assert all(not look.minutes for look in again.next_looks)
    before = advised(now=look_at - timedelta(hours=3), previous=evening)
    assert before.obligations[0].action == "wait"


def test_no_one_waits_for_rain_that_will_not_come() -> None:
    advice = advised(("Potash", "Grubs"), rain=np.zeros((31, 240)))
    assert {o.action for o in advice.obligations} == {"run"}
    assert all(w.action != "wait" for o in advice.obligations for w in o.options)


@pytest.mark.parametrize("now", [EVENING, clock(21), clock(21, 20)], ids=["evening", "21:00", "21:20"])
def test_a_zone_moved_by_hand_is_judged_by_its_own_time(now: datetime) -> None:
    """Five zones by hand could not all run before 22:30; each alone can, the last in 70 min a shallower run."""
    rules = replace(EARLY, awake=(time(6), time(22, 30)))
    alone = site_of("A", rules=rules, by_hand=True)
    several = site_of("A", "B", "C", "D", "E", rules=rules, by_hand=True)
    dry = np.zeros((31, 240))
    (run,) = advised(rain=dry, site=alone, now=now).runs
    assert run.cycles[-1].ends_at <= clock(22, 30)
    for one in advised(rain=dry, site=several, now=now).obligations:
        assert all("No allowed hour" not in note for note in one.notes)


def test_where_the_whole_does_not_fit_what_is_missing_does() -> None:
    """A window of 35 min, and 9 mm would take 45: the 6 mm that are missing take 30."""
    rules = Rules(hours=((time(21), time(21, 35)),), finish="window")
    kind = replace(kind_table()["soil-liquid"], least_mm=6.0, target_mm=9.0)
    site = replace(site_of(rules=rules), products={"Potash": Product("Potash", kind)})
    advice = advised(rain=np.zeros((31, 240)), site=site)
    (run,) = advice.runs
    assert 6.0 <= run.effective_mm <= 7.0
    assert advice.obligations[0].action == "run"


def test_hours_too_short_for_the_run_are_no_chance() -> None:
    rules = Rules(hours=((time(21), time(21, 1)),), finish="window")
    advice = advised(rain=np.zeros((31, 240)), site=site_of(rules=rules))
    (one,) = advice.obligations
    assert [w.action for w in one.options] == ["rain"]
    assert one.words.startswith("Rain is the only way: no allowed hours of the coming nights are long enough")
    assert advice.zones[0].verdict == "cannot"
    assert "only rain can water it in" in rain_answer(advice).headline


def test_what_is_due_runs_alone_where_the_turf_would_make_it_too_long() -> None:
    """The turf asks 20 mm and more, 100 min; the window holds 40, and the potash needs 15 to 30."""
    rules = Rules(hours=((time(21), time(21, 40)),), finish="window")
    advice = advised(rain=np.zeros((31, 240)), site=site_of(rules=rules), used_mm=25.0)
    assert [r.zone for r in advice.runs] == ["Front"]
    assert advice.obligations[0].action == "run"
    assert advice.obligations[0].words.startswith("Tonight's run at 21:")
