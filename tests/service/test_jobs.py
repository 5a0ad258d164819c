"""What is due: once a night whatever the clock does, caught up once, told as late, accounted for."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made import CHICAGO, made_site, made_weather

from advisor.advice.advice import Advice, LookKind, NextLook
from advisor.lawn.records import Records
from advisor.lawn.service_settings import ServiceSettings
from advisor.lawn.site_values import Rules, Site
from advisor.service.jobs import Due, coming, due, slot_of
from advisor.service.keys import advice_key, look_key, missed_key
from advisor.tonight.advise import advise

MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)


def set_to(advice_at: time | None = time(20, 15), before: timedelta | None = None) -> ServiceSettings:
    return ServiceSettings(
        advice_at=advice_at if before is None else None,
        before_first_hour=before,
        backup_at=time(3, 40),
        backups_kept=3,
        backup_folder=Path("backups"),
        health_port=None,
        log=None,
        log_bytes=1000,
        logs_kept=1,
    )


def local(text: str, zone: ZoneInfo = CHICAGO) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=zone).astimezone(UTC)


BEGUN = local("2026-06-17T09:00")


def asked(now: datetime, *jobs: str, done: set[str] | None = None, **changes: object) -> list[Due]:
    """What is due of these jobs."""
    site: Site = changes.pop("site", made_site())  # type: ignore[assignment]
    wanted: ServiceSettings = changes.pop("wanted", set_to())  # type: ignore[assignment]
    more = {"last": None, "since": BEGUN, **changes}
    return [one for one in due(wanted, site, done=done or set(), now=now, **more) if one.job in jobs]


ALL_BEFORE = {advice_key(made_site(), date(2026, 6, 16))}


@pytest.mark.parametrize(
    ("now", "is_due", "late"),
    [
        ("2026-06-17T20:14:59", False, False),
        ("2026-06-17T20:15:00", True, False),
        ("2026-06-17T20:30:00", True, False),
        ("2026-06-17T20:31:00", True, True),
        ("2026-06-18T05:30:00", True, True),
        ("2026-06-18T07:00:00", False, False),
    ],
    ids=["a second before", "on the second", "a quarter after", "late", "before sunrise", "hours over"],
)
def test_the_nightly_advice_is_due_from_its_time_until_the_nights_hours_are_over(
    now: str, is_due: bool, late: bool
) -> None:
    found = asked(local(now), "advice", done=set(ALL_BEFORE))
    assert [(one.slot, one.late) for one in found] == ([(date(2026, 6, 17), late)] if is_due else [])


def test_an_advice_that_is_done_is_not_due_again() -> None:
    now = local("2026-06-17T21:00")
    done = {advice_key(made_site(), date(2026, 6, 17))}
    assert asked(now, "advice", "missed", done=done) == []


@pytest.mark.parametrize(
    ("hours", "at"),
    [
        (((time(21), time(8)),), "2026-06-17T19:30"),
        (((time(3), time(8)),), "2026-06-18T01:30"),
        (((time(21), time(23)), (time(4), time(6))), "2026-06-17T19:30"),
        (((time(0), time(6)),), "2026-06-17T22:30"),
    ],
    ids=["evening", "small hours", "two spans", "midnight"],
)
def test_ninety_minutes_before_the_first_allowed_hour_follows_the_rules(
    hours: tuple[tuple[time, time], ...], at: str
) -> None:
    site = made_site(rules=Rules(hours=hours))
    slot = slot_of(set_to(before=timedelta(minutes=90)), site, date(2026, 6, 17))
    assert slot.at == local(at)


def test_a_night_without_allowed_dates_has_its_advice_too() -> None:
    site = made_site(rules=Rules(hours=((time(21), time(8)),), weekdays=frozenset({0})))
    slot = slot_of(set_to(before=timedelta(minutes=90)), site, date(2026, 6, 17))
    assert slot.at == local("2026-06-17T19:30")


CLOCK_CHANGES = [
    ("America/Chicago", date(2026, 3, 8), time(2, 30)),
    ("America/Chicago", date(2026, 11, 1), time(1, 30)),
    ("America/Chicago", date(2026, 11, 1), time(20, 15)),
    ("Australia/Lord_Howe", date(2026, 10, 4), time(2, 15)),
    ("Australia/Lord_Howe", date(2026, 4, 5), time(1, 45)),
    ("Europe/Lisbon", date(2026, 3, 29), time(1, 0)),
    ("Africa/Cairo", date(2026, 4, 24), time(0, 15)),
]


@pytest.mark.parametrize(
    ("name", "day", "advice_at"), CLOCK_CHANGES, ids=[f"{n} {d} {t:%H:%M}" for n, d, t in CLOCK_CHANGES]
)
@pytest.mark.parametrize("before", [False, True], ids=["at", "before the first hour"])
def test_a_night_on_which_the_clock_changes_has_its_jobs_once(
    name: str, day: date, advice_at: time, before: bool
) -> None:
    zone = ZoneInfo(name)
    site = made_site()
    site = replace(site, place=replace(site.place, zone=zone), rules=Rules(hours=((time(1), time(4)),)))
    wanted = replace(set_to(advice_at, 90 * MINUTE if before else None), backup_at=advice_at)
    now = datetime.combine(day - 2 * DAY, time(12), zone).astimezone(UTC)
    end = now + 4 * DAY
    done: set[str] = set()
    counts: Counter[str] = Counter()
    hours = set()
    since = now
    for one in due(wanted, site, done=done, last=None, since=since, now=now):
        done.add(one.key)
    while (now := now + 15 * MINUTE) < end:
        for one in due(wanted, site, done=done, last=None, since=since, now=now):
            done.add(one.key)
            counts[one.job] += 1
            if one.job == "archive":
                hours.add(one.key)
            if one.job == "advice":
                assert not one.late
    assert (counts["advice"], counts["backup"], counts["missed"]) == (4, 4, 0)
    assert len(hours) == counts["archive"] == 4 * 24


def test_off_for_days_the_open_night_is_caught_up_as_late_and_the_others_are_told_as_missed() -> None:
    now = local("2026-06-20T22:00")
    found = asked(now, "advice", "missed", done=set(ALL_BEFORE))
    assert [(one.job, one.slot.day, one.late) for one in found] == [
        ("advice", 20, True),
        ("missed", 19, False),
        ("missed", 18, False),
        ("missed", 17, False),
    ]


def test_on_the_first_start_only_the_night_at_hand_is_due() -> None:
    now = local("2026-06-17T22:00")
    assert [(one.job, one.slot.day) for one in asked(now, "advice", "missed", since=now)] == [("advice", 17)]
    morning = local("2026-06-17T10:00")
    assert asked(morning, "advice", "missed", since=morning) == []


def test_a_clock_set_back_a_day_doubles_nothing_and_the_next_night_comes() -> None:
    site = made_site()
    done = set(ALL_BEFORE) | {advice_key(site, date(2026, 6, 17)), advice_key(site, date(2026, 6, 18))}
    for now in (local("2026-06-17T20:15"), local("2026-06-18T20:15")):
        assert asked(now, "advice", "missed", done=done) == []
    assert [one.slot.day for one in asked(local("2026-06-19T20:15"), "advice", done=done)] == [19]


def test_a_clock_that_was_a_month_ahead_costs_only_the_one_night_it_took() -> None:
    site = made_site()
    done = set(ALL_BEFORE) | {advice_key(site, date(2026, 6, 17))}
    ahead = local("2026-07-17T21:00")
    done |= {one.key for one in asked(ahead, "advice", "missed", done=done)}
    assert missed_key(site, date(2026, 7, 1)) in done
    for day in range(18, 31):
        now = local(f"2026-06-{day}T20:15")
        assert [one.slot.day for one in asked(now, "advice", done=done)] == [day]
        done.add(advice_key(site, date(2026, 6, day)))


def advice_with(*looks: NextLook) -> Advice:
    now = local("2026-06-17T20:15")
    made = advise(site=made_site(), records=Records(), weather=made_weather(now=now), now=now)
    return made.model_copy(update={"next_looks": looks})


def look(at: str, zone: str = "Front", under_mm: float | None = 3.0) -> NextLook:
    zones = (zone,) if zone else ()
    minutes = {zone: 20.0} if zone and under_mm is not None else {}
    kind = LookKind.GAUGE if minutes else LookKind.SKIP if zones else LookKind.EVENING
    rule = {"under_mm": under_mm, "over_mm": None, "minutes": minutes, "words": f"Look at {at}."}
    return NextLook(kind=kind, at=local(at), zones=zones, **rule)  # type: ignore[arg-type]


DONE_17 = {advice_key(made_site(), date(2026, 6, 17))}


@pytest.mark.parametrize(
    ("now", "found"),
    [
        ("2026-06-18T05:29", []),
        ("2026-06-18T05:30", [False]),
        ("2026-06-18T06:00", [True]),
        ("2026-06-18T17:00", [True]),
        ("2026-06-18T17:30", []),
        ("2026-06-18T20:15", []),
    ],
    ids=["before", "on time", "late", "still of use", "of no more use", "the next advice is due"],
)
def test_a_look_is_due_at_its_hour_and_of_use_for_half_a_day(now: str, found: list[bool]) -> None:
    last = advice_with(look("2026-06-18T05:30"), look("2026-06-18T20:15", zone=""))
    assert [one.late for one in asked(local(now), "look", last=last, done=set(DONE_17))] == found


def test_looks_that_are_due_at_once_are_one_look_for_all_their_zones() -> None:
    last = advice_with(look("2026-06-18T05:20"), look("2026-06-18T05:30", zone="Back"))
    (one,) = asked(local("2026-06-18T05:30"), "look", last=last, done=set(DONE_17))
    assert one.look is not None
    assert (set(one.look.zones), one.look.minutes) == ({"Front", "Back"}, {"Front": 20.0, "Back": 20.0})
    assert one.key == look_key(made_site(), date(2026, 6, 17), local("2026-06-18T05:30"))


def test_looks_end_however_many_an_advice_asks_for() -> None:
    last = advice_with(look("2026-06-18T05:30"))
    before = {look_key(made_site(), last.night, local(f"2026-06-18T0{n}:00")) for n in range(5)}
    now = local("2026-06-18T05:30")
    assert len(asked(now, "look", last=last, done=DONE_17 | before)) == 1
    before.add(look_key(made_site(), last.night, local("2026-06-18T05:10")))
    assert asked(now, "look", last=last, done=DONE_17 | before) == []


def test_what_comes_next_is_told_in_order() -> None:
    last = advice_with(look("2026-06-18T05:30"))
    found = coming(set_to(), made_site(), done=set(DONE_17), last=last, now=local("2026-06-17T21:10"))
    assert [(one.job, one.at) for one in found] == [
        ("archive", local("2026-06-17T22:05")),
        ("backup", local("2026-06-18T03:40")),
        ("look", local("2026-06-18T05:30")),
        ("advice", local("2026-06-18T20:15")),
    ]


@settings(max_examples=40, deadline=None)
@given(
    jumps=st.lists(st.tuples(st.floats(-30, 80), st.sampled_from([0, 1, 2, 9])), min_size=1, max_size=12),
    before=st.booleans(),
)
def test_whatever_the_clock_and_the_power_do_each_night_is_given_once_or_told_as_missed(
    jumps: list[tuple[float, int]], before: bool
) -> None:
    """The clock jumps by hours, also back; at each stop so many jobs are done before the power goes."""
    site, wanted = made_site(), set_to(before=90 * MINUTE if before else None)
    since = now = local("2026-10-29T12:00")
    done: set[str] = set()
    given_keys: Counter[str] = Counter()
    farthest = now
    for hours, jobs in [*jumps, (1.0, 9)]:
        now += hours * HOUR
        farthest = max(farthest, now)
        for one in due(wanted, site, done=done, last=None, since=since, now=now)[:jobs]:
            given_keys[one.key] += 1
            done.add(one.key)
    assert not given_keys or max(given_keys.values()) == 1
    now = max(farthest, now)
    done |= {one.key for one in due(wanted, site, done=done, last=None, since=since, now=now)}
    day = since.astimezone(CHICAGO).date()
    while (slot := slot_of(wanted, site, day)).until <= now:
        assert slot.until <= since or {advice_key(site, day), missed_key(site, day)} & done, day
        day += DAY
