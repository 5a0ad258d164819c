"""What an application asks of a zone and what it has had, by hand-reckoned nights."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made import CHICAGO, EVENING, made_site, made_weather, made_zone

from advisor.lawn.products import Product
from advisor.lawn.records import Application, Records, Run
from advisor.lawn.tables import kind_table
from advisor.sentences.tonight import sentence
from advisor.soil_water.root_zone import survey
from advisor.soil_water.water_received import fallen_weights
from advisor.tonight.advise import advise
from advisor.watering_in import applications as obligations
from advisor.watering_in.applications import ZoneApplication, zone_applications
from advisor.weather.weather import Array, Weather
from advisor.wording import Say

# An even zone at 12 mm/h: a run of n minutes counts as n / 5 mm. 1 mm of rain stays on the leaves.
ZONE = made_zone(uniformity=1.0)


def clock(text: str, day: int = 17) -> datetime:
    return datetime(2026, 6, day, int(text[:2]), int(text[3:]), tzinfo=CHICAGO)


def product(kind: str, **over: object) -> Product:
    return Product("Invented", replace(kind_table()[kind], **over))  # type: ignore[arg-type]


def rained(**mm_from: float) -> Weather:
    """Dry but for h16=4.0: 4 mm in the hour that begins at 16:00 on the 17th (d16_… for the 16th)."""
    weather = made_weather()
    rain = weather.rain_mm.copy()
    for name, mm in mm_from.items():
        day, _, hour = name.rpartition("h")
        at = clock("00:00", int(day[1:]) if day else 17) + timedelta(hours=int(hour))
        rain[weather.index_at(at)] = mm
    return replace(weather, rain_mm=rain)


def put_down(ended: datetime, method: str = "spreader", dilution: float | None = None) -> Application:
    return Application(
        "Invented", ("Front",), ended - timedelta(minutes=20), ended, method=method, dilution=dilution, id=1
    )


def ran(start: datetime, minutes: float) -> Run:
    return Run("Front", start, start + timedelta(minutes=minutes), minutes)


def obligation(
    kind: str | Product,
    ended: datetime,
    *,
    weather: Weather | None = None,
    runs: tuple[Run, ...] = (),
    now: datetime = EVENING,
    method: str = "spreader",
    dilution: float | None = None,
) -> ZoneApplication:
    it = product(kind) if isinstance(kind, str) else kind
    site = made_site(ZONE, products={"Invented": it})
    records = Records(applications=(put_down(ended, method, dilution),), runs=runs)
    weather = weather or made_weather()
    ground = survey(site=site, records=records, weather=weather, now=now)
    found, _ = zone_applications(site=site, records=records, weather=weather, water=ground.water, now=now)
    (one,) = found
    return one


def test_a_run_after_the_application_counts_to_the_minute() -> None:
    one = obligation("granular-slow", clock("18:00"), runs=(ran(clock("18:05"), 30),), now=clock("18:36"))
    assert one.received_mm == pytest.approx(6.0)
    assert one.status == "watered in"


def test_a_run_before_the_application_counts_nothing_even_in_the_same_hour() -> None:
    one = obligation("granular-slow", clock("17:50"), runs=(ran(clock("17:00"), 20),))
    assert one.received_mm == 0.0
    assert one.status == "waiting"


def test_a_run_across_the_end_of_the_application_counts_its_later_part() -> None:
    one = obligation("granular-slow", clock("18:00"), runs=(ran(clock("17:30"), 60),))
    assert one.received_mm == pytest.approx(6.0)


def test_a_run_counts_as_the_drier_part_got_it() -> None:
    site = made_site(made_zone(uniformity=0.7), products={"Invented": product("granular-slow")})
    records = Records(applications=(put_down(clock("18:00")),), runs=(ran(clock("18:00"), 61),))
    weather = made_weather()
    ground = survey(site=site, records=records, weather=weather, now=EVENING)
    (one,) = zone_applications(site=site, records=records, weather=weather, water=ground.water, now=EVENING)[
        0
    ]
    assert one.received_mm == pytest.approx(12.2 * (0.4 + 0.6 * 0.7))


def test_rain_in_the_hour_of_the_application_counts_for_the_rest_of_the_hour() -> None:
    one = obligation("granular-slow", clock("17:30"), weather=rained(h17=4.0))
    assert one.received_mm == pytest.approx((4.0 - 1.0) / 2)
    assert one.status == "short"


def test_water_in_the_dry_period_does_not_water_in() -> None:
    kind = product("foliar-liquid")
    weather = rained(h17=1.4)
    one = obligation(kind, clock("08:00"), weather=weather, method="backpack", now=clock("20:30"))
    assert one.dry_until == clock("20:00")
    assert one.in_dry_period_mm == pytest.approx(1.4)
    assert one.received_mm == 0.0
    after = obligation(
        kind, clock("08:00"), method="backpack", runs=(ran(clock("20:10"), 20),), now=clock("21:00")
    )
    assert after.received_mm == pytest.approx(4.0)
    assert after.status == "watered in"
    assert after.due_at == clock("20:00", 18)


def test_light_showers_do_not_add_up_where_one_event_is_asked() -> None:
    apart = obligation("granular-quick", clock("06:00"), weather=rained(h7=5.0, h17=5.0))
    assert apart.received_mm == pytest.approx(5.0 - 9 / 24)  # nine dry hours emptied 9/24 of the leaves' 1 mm
    assert apart.total_received_mm == pytest.approx(4.0 + 5.0 - 9 / 24)
    assert (apart.status, apart.missing_mm) == ("short", 6.0)
    together = obligation("granular-quick", clock("06:00"), weather=rained(h16=4.0, h17=5.0))
    assert together.received_mm == pytest.approx(8.0)
    assert together.status == "watered in"


@pytest.mark.parametrize(
    ("hour", "dry_h"), [(None, 6), (20, 6), (19, 0), (18, 1), (17, 2), (15, 4), (14, 5), (13, 6), (12, 6)]
)
def test_the_dry_hours_since_the_last_wet_one_are_counted_up_to_those_that_end_an_event(
    hour: int | None, dry_h: int
) -> None:
    """Asked at 20:15: the rain of that hour is still to come; of 5 mm the leaves keep one."""
    weather = made_weather() if hour is None else rained(**{f"h{hour}": 5.0})
    one = obligation("granular-quick", clock("06:00"), weather=weather)
    assert one.event_dry_h == dry_h
    came = 0.0 if hour in (None, 20) else 4.0
    assert one.event_mm == pytest.approx(came if dry_h < 6 else 0.0)
    assert one.received_mm == pytest.approx(came)
    run = (ran(clock("20:00"), 10),)  # it makes the hour of now a wet one
    assert obligation("granular-quick", clock("06:00"), weather=weather, runs=run).event_dry_h == 0


@pytest.mark.parametrize(("wet_mm", "dry_h"), [(0.09, 4), (0.1, 1), (0.11, 1)])
def test_an_hour_is_wet_from_a_tenth_of_a_millimetre_on(wet_mm: float, dry_h: int) -> None:
    assert obligations._dry_since(np.array([0.0, 2.0, 0.0, 0.0, wet_mm, 0.0])) == dry_h


@pytest.mark.parametrize(
    ("rain_mm", "hour", "dry"),
    [
        ([3.0, 0.0, 0.0], 0, 1),
        ([3.0, 2.0, 0.1, 0.09, 4.0], 0, 3),
        ([3.0, 2.0, np.nan, 4.0], 0, 2),
        ([3.0, 2.0, 2.0], 0, 3),
        ([0.0, 0.0, 3.0], 2, 3),
        ([0.0, 3.0, 2.0, 0.0], 1, 3),
    ],
    ids=["at once", "when it is below what is wet", "unknown is dry", "never", "at the end", "later"],
)
def test_a_rain_goes_on_until_its_first_dry_hour(rain_mm: list[float], hour: int, dry: int) -> None:
    assert obligations._dry_again(np.array(rain_mm), hour) == dry


def test_the_same_showers_add_up_where_no_event_is_asked() -> None:
    one = obligation("pre-emergent", clock("06:00"), weather=rained(h7=5.0, h17=5.0))
    assert one.received_mm == one.total_received_mm > 8.0
    assert one.status == "watered in"


def test_a_hard_shower_counts_only_what_entered_and_washes_away() -> None:
    one = obligation("soil-liquid", clock("16:00"), weather=rained(h17=60.0), method="tank")
    assert one.runoff_mm > 10.0
    assert one.total_received_mm == pytest.approx(60.0 - 1.0 - one.runoff_mm)
    assert one.status == "washed"


def test_slow_rain_that_all_enters_waters_in_and_washes_nothing_away() -> None:
    slow = {f"h{hour}": 1.1 for hour in range(8, 20)}
    one = obligation("soil-liquid", clock("08:00"), weather=rained(**slow), method="spreader")
    assert sum(slow.values()) > 12.0
    assert (one.status, one.runoff_mm) == ("watered in", 0.0)
    assert one.lost_mm == pytest.approx(13.2 - 1.0 - 12.0)


def test_a_storm_after_the_watering_in_takes_some_but_is_no_wash_off() -> None:
    one = obligation(
        "granular-slow", clock("12:00"), runs=(ran(clock("12:30"), 30),), weather=rained(h17=40.0)
    )
    assert one.status == "watered in"
    assert one.settled_at == clock("13:00")
    assert one.lost_mm > 0.0


def test_a_sprinkler_in_the_dry_period_washes_off() -> None:
    one = obligation(
        "post-emergent-liquid", clock("09:00"), runs=(ran(clock("12:00"), 20),), method="backpack"
    )
    assert (one.status, one.in_dry_period_mm) == ("washed", pytest.approx(4.0))


def test_wetting_the_leaves_before_spreading_does_not_count_as_wet_in_the_dry_period() -> None:
    one = obligation("post-emergent-granular", clock("12:50"), runs=(ran(clock("12:00"), 15),))
    assert (one.status, one.in_dry_period_mm) == ("keep dry", 0.0)


def test_the_label_sets_how_much_rain_washes_off() -> None:
    hardy = product("post-emergent-liquid", washoff_mm=8.0)
    one = obligation(hardy, clock("09:00"), weather=rained(h14=5.0), method="backpack")
    assert one.status == "keep dry"
    assert one.in_dry_period_mm == pytest.approx(5.0)


@pytest.mark.parametrize(
    ("kind", "ended", "more", "status"),
    [
        ("soil-liquid", clock("17:10"), {"method": "tank"}, "waiting"),
        ("soil-liquid", clock("17:10", 16), {"method": "tank"}, "overdue"),
        ("soil-liquid", clock("17:10"), {"method": "hose-end", "dilution": 25.0}, "nothing asked"),
        ("soil-liquid", clock("17:10"), {"method": "hose-end", "dilution": 12.0}, "waiting"),
        ("foliar-fungicide", clock("09:00"), {"method": "backpack"}, "keep dry"),
        ("foliar-fungicide", clock("09:00", 16), {"method": "backpack"}, "nothing asked"),
        ("seed", clock("09:00"), {}, "nothing asked"),
    ],
    ids=["waiting", "overdue", "diluted enough", "not diluted enough", "keep dry", "dry over", "seed"],
)
def test_a_status_follows_from_the_clock(
    kind: str, ended: datetime, more: dict[str, object], status: str
) -> None:
    assert obligation(kind, ended, **more).status == status  # type: ignore[arg-type]


def test_a_settled_application_is_shown_for_two_days_after_it_was_settled() -> None:
    put, water = clock("12:00", 12), (ran(clock("12:00", 16), 65),)
    assert obligation("pre-emergent", put, runs=water).status == "watered in"
    site = made_site(ZONE, products={"Invented": product("pre-emergent")})
    records, weather = Records(applications=(put_down(put),), runs=water), made_weather()
    later = clock("14:00", 18)
    ground = survey(site=site, records=records, weather=weather, now=later)
    found, _ = zone_applications(site=site, records=records, weather=weather, water=ground.water, now=later)
    assert found == ()


def test_seed_is_kept_in_sight_while_it_is_kept_moist() -> None:
    assert obligation("seed", clock("09:00", 1)).status == "nothing asked"


def found_at(now: datetime, kind: str, ended: datetime) -> tuple[ZoneApplication, ...]:
    """What is found at `now` of one application, in weather that stays dry."""
    site = made_site(ZONE, products={"Invented": product(kind)})
    records, weather = Records(applications=(put_down(ended),)), made_weather()
    ground = survey(site=site, records=records, weather=weather, now=now)
    found, _ = zone_applications(site=site, records=records, weather=weather, water=ground.water, now=now)
    return found


@pytest.mark.parametrize("kind", sorted(kind_table()))
def test_an_application_is_in_sight_as_long_as_its_kind_asks_and_no_longer(kind: str) -> None:
    row = kind_table()[kind]
    within = timedelta(hours=24 if row.within_h is None else row.within_h)
    dry = timedelta(hours=row.dry_h)
    due = obligation(kind, EVENING).due_at
    unmet = [dry + within + timedelta(days=10)] if due is not None else []
    until = max([timedelta(days=2), timedelta(days=row.for_days), dry, *unmet])
    assert len(found_at(EVENING, kind, EVENING - until)) == 1
    assert found_at(EVENING, kind, EVENING - until - timedelta(minutes=1)) == ()


@pytest.mark.parametrize("kind", sorted(kind_table()))
def test_nothing_is_reckoned_for_an_application_that_cannot_matter_any_more(
    kind: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    reckoned: list[str] = []

    def noted(weather: Weather, start: datetime, end: datetime, now: datetime) -> Array:
        reckoned.append(kind)
        return fallen_weights(weather, start, end, now)

    monkeypatch.setattr(obligations, "fallen_weights", noted)
    assert found_at(EVENING, kind, EVENING - timedelta(days=60)) == ()
    assert reckoned == []
    found_at(EVENING, kind, EVENING - timedelta(hours=1))
    assert reckoned != []


def test_what_the_site_does_not_know_is_told() -> None:
    site, weather = made_site(ZONE, products={"Invented": product("seed")}), made_weather()
    lost = (
        replace(put_down(clock("12:00")), zones=("Gone",)),
        replace(put_down(clock("12:00")), product="Old"),
    )
    ground = survey(site=site, records=Records(), weather=weather, now=EVENING)
    found, told = zone_applications(
        site=site, records=Records(applications=lost), weather=weather, water=ground.water, now=EVENING
    )
    assert found == ()
    say = Say("metric", CHICAGO, EVENING)
    assert "Invented is recorded on Gone" in sentence(say, told[0])
    assert "Old is recorded but the site file has no such product" in sentence(say, told[1])


def named(*applications: Application) -> tuple[list[tuple[int, str]], list[tuple[str, ...]]]:
    """Number and zone of what is found on two zones, and what is named as not understood."""
    site = made_site(ZONE, made_zone("Back"), products={"Invented": product("granular-slow")})
    records, weather = Records(applications=applications), made_weather()
    ground = survey(site=site, records=records, weather=weather, now=EVENING)
    found, told = zone_applications(
        site=site, records=records, weather=weather, water=ground.water, now=EVENING
    )
    return [(o.application.id, o.zone) for o in found], [(*t.products, *t.zones) for t in told]


def test_what_does_not_count_or_is_not_understood_hides_nothing_that_comes_after_it() -> None:
    """Put down tomorrow, of an unknown product, on an unknown zone, long ago: each before one that counts."""
    good = replace(put_down(clock("18:00")), zones=("Front", "Back"), id=9)
    ahead = replace(put_down(clock("18:00", 18)), id=2)
    unknown = replace(put_down(clock("18:00")), product="Old", id=3)
    astray = replace(put_down(clock("18:00")), zones=("Gone", "Back", "Lost", "Front"), id=4)
    old = replace(put_down(EVENING - timedelta(days=60)), id=5)
    both = [(9, "Front"), (9, "Back")]
    assert named(good) == (both, [])
    assert named(ahead, good) == (both, [])
    assert named(old, good) == (both, [])
    assert named(unknown, good) == (both, [("Old",)])
    assert named(astray, good) == (
        [(4, "Back"), (4, "Front"), *both],
        [("Invented", "Gone"), ("Invented", "Lost")],
    )
    assert named(unknown, unknown, good) == (both, [("Old",)])  # told once


@pytest.mark.parametrize(("minutes", "told"), [(-1, True), (0, False), (1, False)])
def test_what_is_not_understood_is_told_for_ten_days(minutes: int, told: bool) -> None:
    ended = EVENING - timedelta(days=10, minutes=minutes)
    _, words = named(replace(put_down(ended), product="Old"))
    assert words == [("Old",)] * told
    _, words = named(replace(put_down(ended), zones=("Gone",)))
    assert words == [("Invented", "Gone")] * told


@pytest.mark.parametrize(("minutes", "counts"), [(0, True), (1, False)])
def test_an_application_counts_from_its_start_on(minutes: int, counts: bool) -> None:
    begun = EVENING + timedelta(minutes=minutes)
    going = replace(put_down(EVENING), started_at=begun, ended_at=begun + timedelta(minutes=20))
    assert named(going) == ([(1, "Front")] * counts, [])


@settings(max_examples=25, deadline=None)
@given(
    kind=st.sampled_from(["soil-liquid", "granular-quick", "pre-emergent"]),
    rain=st.lists(st.floats(0, 15), min_size=12, max_size=12),
    more=st.lists(st.floats(0, 5), min_size=12, max_size=12),
    minutes=st.floats(0, 60),
)
def test_no_more_is_received_than_came_and_more_rain_is_never_less(
    kind: str, rain: list[float], more: list[float], minutes: float
) -> None:
    runs = (ran(clock("18:00"), minutes),)
    less_rain = rained(**{f"h{8 + i}": mm for i, mm in enumerate(rain)})
    more_rain = rained(
        **{f"h{8 + i}": mm + extra for i, (mm, extra) in enumerate(zip(rain, more, strict=True))}
    )
    one = obligation(kind, clock("07:30"), weather=less_rain, runs=runs)
    other = obligation(kind, clock("07:30"), weather=more_rain, runs=runs)
    assert one.received_mm <= one.total_received_mm + 1e-9 <= sum(rain) + minutes / 5 + 2e-9
    assert other.total_received_mm >= one.total_received_mm - 1e-9


SAID = {
    "keep dry": ("post-emergent-liquid", clock("09:00"), {}, "Keep dry until Thu 09:00"),
    "waiting": ("granular-quick", clock("17:10"), {}, "Chance that rain alone brings"),
    "short": ("granular-slow", clock("16:00"), {"h17": 2.5}, "short by 1.5 mm"),
    "watered in": ("granular-slow", clock("16:00"), {"h17": 8.0}, "Watered in: 7.0 mm of at least 3.0 mm"),
    "overdue": ("granular-slow", clock("09:00", 16), {}, "Overdue."),
    "washed": ("post-emergent-liquid", clock("09:00"), {"h12": 9.0}, "Probably washed off: 9.0 mm"),
    "nothing asked": ("seed", clock("09:00"), {}, "Keep it moist with 2 light runs a day for 21 days."),
}


@pytest.mark.parametrize("status", SAID, ids=list(SAID))
def test_every_status_has_its_plain_sentence(status: str) -> None:
    kind, ended, rain, words = SAID[status]
    site = made_site(ZONE, products={"Invented": product(kind)})
    records = Records(applications=(put_down(ended),))
    advice = advise(site=site, records=records, weather=rained(**rain), now=EVENING)
    (one,) = advice.obligations
    assert one.status == status
    assert words in one.words
    assert np.isfinite(one.received_mm)
