"""The hours in which the rules let water run: every minute judged by its own wall clock."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.hours.windows import (
    allowed_nights,
    closed_dates,
    local_hours,
    night_of,
    window_notes,
    windows_for,
)
from advisor.lawn.site_values import DateSpan, Rules
from advisor.sentences.schedule import closed_words, hours_note_words, hours_words
from advisor.wording import Say

CHICAGO = ZoneInfo("America/Chicago")
MIN, DAY = timedelta(minutes=1), timedelta(days=1)
EVER = datetime(2000, 1, 1, tzinfo=UTC)
SAY = Say("metric", CHICAGO, EVER)
NIGHT_HOURS = Rules(hours=((time(22), time(6)),), finish="window")


def windows_of(
    rules: Rules, night: date, zone: ZoneInfo = CHICAGO, sunrise: datetime | None = None, now: datetime = EVER
) -> list[tuple[str, str]]:
    """The windows as local clock times."""
    found = windows_for(rules=rules, night=night, local=zone, sunrise_at=sunrise, now=now)
    return [tuple(f"{t.astimezone(zone):%d %H:%M}" for t in (w.starts_at, w.ends_at)) for w in found]


def minutes_of(rules: Rules, night: date, zone: ZoneInfo) -> float:
    """How many minutes of water a night allows."""
    found = windows_for(rules=rules, night=night, local=zone, sunrise_at=None, now=EVER)
    return sum((w.ends_at - w.starts_at) / MIN for w in found)


@pytest.mark.parametrize(
    ("zone", "night", "minutes"),
    [
        pytest.param("America/Chicago", date(2026, 3, 7), 420, id="Chicago, an hour left out"),
        pytest.param("America/Chicago", date(2026, 7, 17), 480, id="Chicago, plain night"),
        pytest.param("America/Chicago", date(2026, 10, 31), 540, id="Chicago, an hour repeated"),
        pytest.param("Europe/Oslo", date(2026, 3, 28), 420, id="Oslo, an hour left out"),
        pytest.param("Europe/Oslo", date(2026, 10, 24), 540, id="Oslo, an hour repeated"),
        pytest.param("Australia/Lord_Howe", date(2026, 10, 3), 450, id="Lord Howe, half an hour left out"),
        pytest.param("Australia/Lord_Howe", date(2026, 4, 4), 510, id="Lord Howe, half an hour repeated"),
        pytest.param("America/Havana", date(2026, 3, 7), 420, id="Havana, the hour after midnight left out"),
        pytest.param("Pacific/Apia", date(2011, 12, 29), 120, id="Apia, before a date left out"),
        pytest.param("Pacific/Apia", date(2011, 12, 30), 360, id="Apia, the evening left out"),
        pytest.param("Asia/Kathmandu", date(2026, 3, 28), 480, id="Kathmandu, a quarter-hour offset"),
    ],
)
def test_nights_on_which_the_clock_changes_keep_their_true_length(
    zone: str, night: date, minutes: int
) -> None:
    assert minutes_of(NIGHT_HOURS, night, ZoneInfo(zone)) == minutes


@pytest.mark.parametrize(
    ("hours", "night", "expected"),
    [
        pytest.param(
            (time(2, 30), time(5)), date(2026, 3, 7), [("08 03:00", "08 05:00")], id="begins in the gap"
        ),
        pytest.param(
            (time(1), time(2, 30)), date(2026, 3, 7), [("08 01:00", "08 03:00")], id="ends in the gap"
        ),
        pytest.param((time(2, 10), time(2, 50)), date(2026, 3, 7), [], id="lies in the gap"),
        pytest.param(
            (time(1, 30), time(3)),
            date(2026, 10, 31),
            [("01 01:30", "01 01:00"), ("01 01:30", "01 03:00")],
            id="begins in the repeated hour",
        ),
        pytest.param(
            (time(0), time(1, 30)),
            date(2026, 10, 31),
            [("01 00:00", "01 01:30"), ("01 01:00", "01 01:30")],
            id="ends in the repeated hour",
        ),
    ],
)
def test_edges_in_the_changed_hour_are_read_off_the_wall_clock(
    hours: tuple[time, time], night: date, expected: list[tuple[str, str]]
) -> None:
    assert windows_of(Rules(hours=(hours,), finish="window"), night) == expected


@pytest.mark.parametrize(
    ("rules", "night", "expected"),
    [
        pytest.param({}, date(2026, 7, 17), [("17 22:00", "18 06:00")], id="no date rule"),
        pytest.param({"parity": "odd"}, date(2026, 7, 17), [("17 22:00", "18 00:00")], id="odd then even"),
        pytest.param({"parity": "even"}, date(2026, 7, 17), [("18 00:00", "18 06:00")], id="even after odd"),
        pytest.param(
            {"parity": "odd"}, date(2026, 7, 31), [("31 22:00", "01 06:00")], id="31st and 1st are odd"
        ),
        pytest.param(
            {"parity": "even"}, date(2028, 2, 28), [("28 22:00", "29 00:00")], id="29 February is odd"
        ),
        pytest.param(
            {"weekdays": frozenset({4})}, date(2026, 7, 17), [("17 22:00", "18 00:00")], id="Fridays only"
        ),
        pytest.param(
            {"blackouts": (DateSpan(date(2026, 7, 18), date(2026, 7, 20)),)},
            date(2026, 7, 17),
            [("17 22:00", "18 00:00")],
            id="the day before a blackout",
        ),
        pytest.param(
            {"blackouts": (DateSpan(date(2026, 7, 18), date(2026, 7, 20)),)},
            date(2026, 7, 18),
            [],
            id="within a blackout",
        ),
        pytest.param(
            {"blackouts": (DateSpan(date(2026, 7, 18), date(2026, 7, 20)),)},
            date(2026, 7, 20),
            [("21 00:00", "21 06:00")],
            id="the last day of a blackout",
        ),
    ],
)
def test_date_rules_are_judged_on_the_date_on_which_a_minute_falls(
    rules: dict[str, object], night: date, expected: list[tuple[str, str]]
) -> None:
    assert windows_of(Rules(hours=((time(22), time(6)),), **rules), night) == expected  # type: ignore[arg-type]


def local(day: int, hour: int, minute: int = 0, second: int = 0) -> datetime:
    """A clock time of July 2026 in Chicago as UTC."""
    return datetime(2026, 7, day, hour, minute, second, tzinfo=CHICAGO).astimezone(UTC)


@pytest.mark.parametrize(
    ("hours", "finish", "expected"),
    [
        pytest.param(
            [(22, 6)], "sunrise", [("17 22:00", "18 05:34")], id="cut at sunrise, to the whole minute"
        ),
        pytest.param([(22, 6)], "window", [("17 22:00", "18 06:00")], id="to the end of the window"),
        pytest.param(
            [(20, 22), (4, 9)],
            "sunrise",
            [("17 20:00", "17 22:00"), ("18 04:00", "18 05:34")],
            id="evening kept",
        ),
        pytest.param([(20, 22), (8, 10)], "sunrise", [("17 20:00", "17 22:00")], id="the morning goes"),
        pytest.param([(8, 16)], "sunrise", [("18 08:00", "18 16:00")], id="day-time only stays whole"),
        pytest.param([(13, 15)], "sunrise", [("18 13:00", "18 15:00")], id="early afternoon only"),
    ],
)
def test_a_night_ends_at_sunrise_unless_all_its_hours_come_after(
    hours: list[tuple[int, int]], finish: str, expected: list[tuple[str, str]]
) -> None:
    rules = Rules(hours=tuple((time(a), time(b)) for a, b in hours), finish=finish)
    assert windows_of(rules, date(2026, 7, 17), sunrise=local(18, 5, 34, 40)) == expected


def test_the_past_is_left_out_from_the_next_whole_minute_on() -> None:
    assert windows_of(NIGHT_HOURS, date(2026, 7, 17), now=local(17, 23, 10, 1)) == [("17 23:11", "18 06:00")]
    assert windows_of(NIGHT_HOURS, date(2026, 7, 17), now=local(18, 6)) == []


@pytest.mark.parametrize(
    ("hours", "now", "night"),
    [
        pytest.param([(22, 6)], local(17, 20, 15), 17, id="in the evening"),
        pytest.param([(22, 6)], local(18, 2), 17, id="while last night's window is open"),
        pytest.param([(3, 6)], local(18, 2), 17, id="before last night's window opens"),
        pytest.param([(22, 6)], local(18, 6), 18, id="once it has closed"),
        pytest.param([(22, 9)], local(18, 8), 18, id="after the sunrise that ends it"),
        pytest.param([(9, 15)], local(18, 10), 17, id="day-time hours are the evening before's"),
        pytest.param([(9, 15)], local(18, 15), 18, id="after day-time hours"),
        pytest.param([(0, 0)], local(18, 2), 17, id="all hours, before sunrise"),
        pytest.param([(0, 0)], local(18, 20), 18, id="all hours, in the evening"),
    ],
)
def test_the_night_is_named_by_its_evening(hours: list[tuple[int, int]], now: datetime, night: int) -> None:
    rules = Rules(hours=tuple((time(a), time(b)) for a, b in hours))
    sunrise = {date(2026, 7, 18): local(18, 5, 34)}
    assert night_of(now, rules, CHICAGO, sunrise.get) == date(2026, 7, night)


def test_without_a_sunrise_the_night_ends_with_its_hours() -> None:
    assert night_of(local(18, 8), Rules(hours=((time(22), time(9)),)), CHICAGO) == date(2026, 7, 17)


PAIRS = st.lists(
    st.tuples(*[st.builds(time, st.integers(0, 23), st.sampled_from([0, 15, 30]))] * 2),
    min_size=1,
    max_size=3,
)


@settings(max_examples=40, deadline=None)
@given(
    pairs=PAIRS,
    zone=st.sampled_from(["America/Chicago", "Europe/Oslo", "Australia/Lord_Howe", "America/Havana", "UTC"]),
    first=st.sampled_from([date(2026, 3, 5), date(2026, 3, 26), date(2026, 4, 2), date(2026, 10, 22)])
    | st.dates(date(2024, 1, 1), date(2028, 1, 1)),
    parity=st.sampled_from(["any", "odd", "even"]),
    weekdays=st.sets(st.integers(0, 6), min_size=4),
)
def test_the_nights_share_out_exactly_the_minutes_that_the_clock_and_the_date_allow(
    pairs: list[tuple[time, time]], zone: str, first: date, parity: str, weekdays: set[int]
) -> None:
    """Minute by minute over three days, with every night that could reach into them."""
    rules = Rules(hours=tuple(pairs), parity=parity, weekdays=frozenset(weekdays), finish="window")
    tz = ZoneInfo(zone)
    found: list[datetime] = []
    for i in range(-2, 5):
        for w in windows_for(rules=rules, night=first + i * DAY, local=tz, sunrise_at=None, now=EVER):
            found += [w.starts_at + k * MIN for k in range((w.ends_at - w.starts_at) // MIN)]
    assert found == sorted(set(found)), "in order, no minute twice"
    given_out = set(found)
    begin = datetime.combine(first, time(0), tz).astimezone(UTC)
    for k in range(3 * 1440):
        moment = begin + k * MIN
        there = moment.astimezone(tz)
        clock, day = there.time(), there.date()
        by_clock = any(a <= clock < b if a < b else clock >= a or clock < b for a, b in pairs)
        by_date = day.weekday() in weekdays and (parity == "any" or (day.day % 2 == 1) == (parity == "odd"))
        assert (moment in given_out) == (by_clock and by_date), there


def test_coming_nights_skip_those_the_rules_close() -> None:
    rules = Rules(
        hours=((time(0), time(6)),), parity="odd", blackouts=(DateSpan(date(2026, 7, 21), date(2026, 7, 24)),)
    )
    nights = allowed_nights(
        rules=rules,
        from_night=date(2026, 7, 17),
        local=CHICAGO,
        sunrise_of=lambda day: datetime.combine(day, time(5, 30), CHICAGO).astimezone(UTC),
        count=3,
    )
    assert [n.night for n in nights] == [date(2026, 7, 18), date(2026, 7, 24), date(2026, 7, 26)]
    assert nights[0].windows[0].ends_at == local(19, 5, 30)


def test_coming_nights_are_looked_for_only_so_far() -> None:
    rules = Rules(hours=((time(0), time(6)),), blackouts=(DateSpan(date(2026, 1, 1), date(2026, 12, 31)),))
    found = allowed_nights(
        rules=rules, from_night=date(2026, 7, 17), local=CHICAGO, sunrise_of=lambda day: None, count=3
    )
    assert found == ()


@pytest.mark.parametrize(
    ("rules", "night", "sunrise", "words"),
    [
        pytest.param(
            Rules(hours=((time(22), time(6)),)), date(2026, 7, 17), local(18, 5, 34), [], id="plain"
        ),
        pytest.param(
            Rules(hours=((time(22), time(6)),)),
            date(2026, 7, 17),
            None,
            ["There is no sunrise on Saturday 18 July; the end of the allowed hours is used instead."],
            id="polar day or night",
        ),
        pytest.param(
            Rules(hours=((time(8), time(16)),)),
            date(2026, 7, 17),
            local(18, 5, 34),
            [
                "All allowed hours come after sunrise (05:34); they are used as the rules give them, "
                "though more of the water is lost to sun and wind by day."
            ],
            id="day-time only",
        ),
        pytest.param(
            NIGHT_HOURS,
            date(2026, 3, 7),
            None,
            ["The clock changes: the allowed hours are 60 min shorter than the clock says."],
            id="spring",
        ),
        pytest.param(
            NIGHT_HOURS,
            date(2026, 10, 31),
            None,
            ["The clock changes: the allowed hours are 60 min longer than the clock says."],
            id="autumn",
        ),
    ],
)
def test_what_is_not_plain_about_a_night_is_said(
    rules: Rules, night: date, sunrise: datetime | None, words: list[str]
) -> None:
    notes = window_notes(rules=rules, night=night, local=CHICAGO, sunrise_at=sunrise)
    assert [hours_note_words(SAY, note) for note in notes] == words


@pytest.mark.parametrize(
    ("rules", "words"),
    [
        pytest.param({}, "", id="nothing closed"),
        pytest.param(
            {"parity": "odd"},
            "The rules allow no watering on Saturday 18 July: not an odd date.",
            id="parity",
        ),
        pytest.param(
            {"weekdays": frozenset({0})},
            "The rules allow no watering on Friday 17 July: not an allowed weekday; "
            "Saturday 18 July: not an allowed weekday.",
            id="weekday",
        ),
        pytest.param(
            {"blackouts": (DateSpan(date(2026, 7, 18), date(2026, 7, 18), "street fair"),)},
            "The rules allow no watering on Saturday 18 July: blackout (street fair).",
            id="blackout with a reason",
        ),
        pytest.param(
            {"blackouts": (DateSpan(date(2026, 7, 18), date(2026, 7, 18)),)},
            "The rules allow no watering on Saturday 18 July: blackout.",
            id="blackout",
        ),
    ],
)
def test_the_rule_that_closes_a_date_is_named(rules: dict[str, object], words: str) -> None:
    closed = closed_dates(Rules(hours=((time(22), time(6)),), **rules), date(2026, 7, 17))  # type: ignore[arg-type]
    assert closed_words(closed) == words


def test_waking_hours_are_local_and_may_cross_midnight() -> None:
    found = local_hours([(time(6), time(1))], date(2026, 7, 17), date(2026, 7, 18), CHICAGO)
    assert [(w.starts_at, w.ends_at) for w in found] == [
        (local(17, 6), local(18, 1)),
        (local(18, 6), local(19, 1)),
    ]


def test_no_hours_given_means_no_rule_about_hours() -> None:
    assert windows_of(Rules(hours=(), finish="window"), date(2026, 7, 17)) == [("17 12:00", "18 12:00")]


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        pytest.param(((time(4), time(5, 49)),), "Saturday 18 July, 04:00–05:49", id="on the morning after"),
        pytest.param(((time(22), time(6)),), "Friday 17 July, 22:00–06:00", id="over midnight"),
        pytest.param(
            ((time(19), time(21)), (time(4), time(6)), (time(7), time(8))),
            "Friday 17 July, 19:00–21:00, Saturday 18 July, 04:00–06:00 and 07:00–08:00",
            id="evening and morning",
        ),
    ],
)
def test_hours_are_told_with_the_date_on_which_they_begin(
    hours: tuple[tuple[time, time], ...], words: str
) -> None:
    rules = Rules(hours=hours, finish="window")
    night = windows_for(rules=rules, night=date(2026, 7, 17), local=CHICAGO, sunrise_at=None, now=EVER)
    assert hours_words(SAY, night) == words
