"""What the owner reads: what goes wrong first, then what to do, in sentences that agree with one another."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta

import numpy as np
import pytest
from made import CHICAGO, EVENING, made_site, made_weather, made_zone

from advisor.advice.advice import Advice, ApplicationAdvice, Cycle, PlannedRun
from advisor.advice.rain_answer import RainAnswer, WhatIf
from advisor.advice.reasons import Reason, ReasonKind
from advisor.advice.water_need import NeedBasis, NeedReason
from advisor.faces.text.advice_text import advice_text
from advisor.faces.text.rain_text import rain_text
from advisor.lawn.products import Product
from advisor.lawn.records import Application, ProbeReading, Records, Run
from advisor.lawn.site_values import Rate, Rules, Site
from advisor.lawn.tables import kind_table
from advisor.sentences.runs import depth_words, length_words, run_words
from advisor.sentences.tonight import told
from advisor.tonight.advise import advise
from advisor.tonight.rain_answer import rain_answer
from advisor.wording import Say

KINDS = {
    "Potash": "soil-liquid",
    "Feed": "granular-quick",
    "Spray": "post-emergent-liquid",
    "Grubs": "soil-insecticide",
    "Iron": "foliar-liquid",
    "Rye seed": "seed",
}
PRODUCTS = {name: Product(name, kind_table()[kind]) for name, kind in KINDS.items()}
DRY = np.zeros((31, 240))
SAY = Say("metric", CHICAGO, EVENING)
ALREADY_SAID = (  # these are told by the run, the look, the weather's note or the older form that they stand for
    ReasonKind.RUN_TONIGHT,
    ReasonKind.LOOK_AT_THE_GAUGE,
    ReasonKind.WEATHER_LACKS,
    ReasonKind.KEPT_BEFORE,
)


def clock(hour: int, minute: int = 0, day: int = 17) -> datetime:
    return datetime(2026, 6, day, hour, minute, tzinfo=CHICAGO)


def falls(mm: float, *, members: int = 31, first_h: int = 6, hours: int = 6) -> np.ndarray:
    """So much rain from 02:00 on in the first `members` of 31."""
    rain = np.zeros((31, 240))
    rain[:members, first_h : first_h + hours] = mm / hours
    return rain


def the_site(**zone: object) -> Site:
    return made_site(made_zone(uniformity=1.0, **zone), products=PRODUCTS)


def given(
    *put_down: tuple[str, datetime],
    rain: np.ndarray = DRY,
    used_mm: float = 0.0,
    runs: tuple[Run, ...] = (),
    site: Site | None = None,
    now: datetime = EVENING,
) -> Advice:
    applications = tuple(
        Application(name, ("Front",), at - timedelta(minutes=10), at, "spreader", id=number)
        for number, (name, at) in enumerate(put_down, 1)
    )
    probes = (ProbeReading("Front", EVENING - timedelta(hours=1), used_mm),)
    records = Records(applications=applications, probes=probes, runs=runs)
    return advise(site=site or the_site(), records=records, weather=made_weather(rain, now=EVENING), now=now)


def of(advice: Advice, product: str) -> ApplicationAdvice:
    return next(o for o in advice.obligations if o.product == product)


def asked(name: str, **more: object) -> RainAnswer:
    """`advisor rain` for something only asked about, put down now."""
    advice = given((name, EVENING), **more)  # type: ignore[arg-type]
    return rain_answer(
        advice, WhatIf(product=name, zones=("Front",), at=EVENING, method="", dilution=None), 1
    )


def a_run(*cycles: tuple[datetime, datetime], depth_mm: float = 9.0) -> PlannedRun:
    took = sum((b - a).total_seconds() / 60.0 for a, b in cycles)
    return PlannedRun(
        zone="Bank",
        depth_mm=depth_mm,
        effective_mm=7.5,
        minutes=took,
        cycles=tuple(Cycle(starts_at=a, ends_at=b) for a, b in cycles),
        litres=1.0,
        by_hand=False,
        why="turf",
    )


@pytest.mark.parametrize(
    ("run", "told"),
    [
        (a_run((clock(2, 36), clock(3, 12))), "Bank 36 min at 02:36"),
        (
            a_run((clock(2, 36), clock(3, 12)), (clock(3, 57), clock(4, 33))),
            "Bank 2 × 36 min from 02:36 to 04:33",
        ),
        (
            a_run((clock(2, 36), clock(3, 12)), (clock(3, 57), clock(4, 31))),
            "Bank 70 min in 2 cycles from 02:36 to 04:31",
        ),
    ],
    ids=["one stretch", "even cycles", "uneven cycles"],
)
def test_a_run_is_told_with_its_soaks(run: PlannedRun, told: str) -> None:
    say = Say("metric", CHICAGO, clock(1))
    assert run_words(say, run) == told
    assert length_words(run) in told


def test_the_mean_over_the_zone_and_what_counts_are_told_apart() -> None:
    run = a_run((clock(2), clock(3)))
    assert depth_words(SAY, run) == "9.0 mm on average, 7.5 mm counted for the drier part"
    even = run.model_copy(update={"effective_mm": 9.0})
    assert depth_words(SAY, even) == "9.0 mm"


@pytest.mark.parametrize(
    ("when", "told", "part"),
    [
        (clock(5, day=18), "05:00", "Thursday morning"),
        (clock(17, day=18), "Thu 17:00", "Thursday afternoon"),
        (clock(20, day=23), "Tue 20:00", "Tuesday evening"),
        (clock(5, day=24), "Wed 24 Jun 05:00", "Wednesday 24 June"),
        (clock(5, day=10), "Wed 10 Jun 05:00", "Wednesday 10 June"),
    ],
    ids=["tonight", "tomorrow", "in six days", "in seven", "a week ago"],
)
def test_a_weekday_that_could_mean_two_days_has_its_date(when: datetime, told: str, part: str) -> None:
    assert (SAY.clock(when), SAY.part_of_day(when)) == (told, part)


def test_a_zone_is_told_in_three_short_sentences() -> None:
    (zone,) = given(used_mm=25.0).zones
    first, second, third = zone.reason.split(". ")
    assert (
        first
        == f"The grass has used {SAY.depth(zone.depletion_mm)}; {SAY.depth(zone.allowed_mm)} is its allowance"
    )
    assert second.startswith("Left alone it would be at ")
    assert second.endswith("by Friday morning, past the allowance with a chance of 100 %")
    assert third.startswith("The run puts back ")
    assert "(" not in zone.reason


@pytest.mark.parametrize(
    ("depth_mm", "low_mm", "high_mm", "words"),
    [
        (
            10.0,
            10.0,
            26.0,
            "about 10.0 mm, but it may be 10.0–26.0 mm; 16.0 mm is its allowance, which may be used up already.",
        ),
        (
            18.0,
            9.0,
            26.0,
            "about 18.0 mm, but it may be 9.0–26.0 mm; 16.0 mm is its allowance, which may not be used up yet.",
        ),
        (4.0, 2.0, 9.0, "about 4.0 mm, but it may be 2.0–9.0 mm; 16.0 mm is its allowance."),
    ],
    ids=["past it at the dry end", "within it at the wet end", "the same at both ends"],
)
def test_what_is_not_sure_is_told_as_a_range(
    depth_mm: float, low_mm: float, high_mm: float, words: str
) -> None:
    used = Reason(kind=ReasonKind.USED, depth_mm=depth_mm, of_mm=16.0, low_mm=low_mm, high_mm=high_mm)
    assert told(SAY, used).text == f"The grass has probably used {words}"


def test_a_soil_that_is_not_known_is_told_with_its_range_and_one_that_is_without() -> None:
    """The same evening with and without a probe reading: the range of the soil and that of the sentence are one."""
    site = made_site(made_zone())
    unsure = advise(site=site, records=Records(), weather=made_weather(DRY), now=EVENING).zones[0]
    known = given(used_mm=10.0).zones[0]
    used = next(r for r in unsure.reasons if r.kind == ReasonKind.USED)
    assert (used.low_mm, used.high_mm) == (unsure.depletion_low_mm, unsure.depletion_high_mm)
    assert SAY.span(unsure.depletion_low_mm, unsure.depletion_high_mm) in unsure.reason
    assert next(r for r in known.reasons if r.kind == ReasonKind.USED).low_mm is None
    assert "probably" not in known.reason


def test_grass_past_its_allowance_that_waits_is_told_why() -> None:
    advice = given(used_mm=12.0, rain=falls(14.0))
    (zone,) = advice.zones
    assert zone.depletion_mm > zone.allowed_mm
    assert zone.verdict != "run"
    assert "That is past it, but rain is expected to bring it back to" in zone.reason


@pytest.mark.parametrize(
    ("put_down", "rain", "runs", "alarm"),
    [
        (
            ("Spray", clock(9)),
            falls(9.0),
            (),
            "Rain will probably fall on Spray on Front while it must stay dry",
        ),
        (
            ("Potash", clock(17)),
            falls(40.0),
            (),
            "Too much rain is expected for Potash on Front (chance 100 %)",
        ),
        (
            ("Spray", clock(9)),
            DRY,
            (Run("Front", clock(18), clock(18, 10), 10.0),),
            "Spray on Front got wet while it had to stay dry, and may fail.",
        ),
        (
            ("Spray", clock(9)),
            DRY,
            (Run("Front", clock(18), clock(19), 60.0),),
            "Spray on Front was probably washed off.",
        ),
        (
            ("Potash", clock(9)),
            DRY,
            (Run("Front", clock(10), clock(12), 120.0),),
            "Potash on Front got more water than it bears: some is probably carried away.",
        ),
    ],
    ids=["rain in the dry time", "storm", "a short run", "a long run", "drowned"],
)
def test_what_goes_wrong_is_the_first_thing_said(
    put_down: tuple[str, datetime], rain: np.ndarray, runs: tuple[Run, ...], alarm: str
) -> None:
    advice = given(put_down, rain=rain, runs=runs)
    assert advice.headline.startswith(alarm)
    assert rain_answer(advice).headline.startswith(alarm)


def test_a_weed_killer_on_seed_is_loud_everywhere() -> None:
    seeded = the_site(mode="seed", mode_until=date(2026, 7, 1))
    advice = given(("Spray", clock(9)), site=seeded)
    loud = "Spray on Front can stop or kill grass that comes up from seed"
    assert advice.headline.startswith(loud)
    assert advice.cautions[0].topic == "seed"
    assert advice.cautions[0].text.startswith(loud)
    answer = rain_answer(advice)
    assert answer.headline.startswith(loud)
    assert answer.cautions[0].text.startswith(loud)
    assert asked("Spray", site=seeded).headline.startswith(
        "Do not put it down now: it can stop or kill grass"
    )
    after_it = given(("Spray", clock(9)), ("Rye seed", clock(18)))
    assert "Rye seed on Front may not grow: what lies there stops seed." in after_it.headline


@pytest.mark.parametrize(
    ("name", "rain", "told"),
    [
        ("Feed", falls(46.0), "Do not put it down now: the chance of more rain than it bears is 100 %."),
        ("Spray", falls(9.0), "Do not put it down now: the chance of rain while it must stay dry is 100 %."),
        ("Potash", DRY, "Front: run it"),
        ("Rye seed", DRY, "Front: keep it moist with light runs."),
    ],
    ids=["storm", "rain in the dry time", "dry night", "seed"],
)
def test_what_is_only_asked_about_is_first_told_whether_to_do_it(
    name: str, rain: np.ndarray, told: str
) -> None:
    answer = asked(name, rain=rain)
    assert answer.headline.startswith(told)
    heavy = [c.text for c in answer.cautions if c.topic == "heavy rain"]
    assert bool(heavy) == (name == "Feed")


def test_two_products_on_a_zone_have_one_line() -> None:
    advice = given(("Grubs", clock(10)), ("Spray", clock(16)))
    headline = rain_answer(advice).headline
    assert headline == "Front: keep it dry until Thu 16:00, then run it at the first chance, Thu 21:00."
    assert "Keep Front dry until Thu 16:00." in advice.headline
    assert "no run fits" not in advice_text(advice)


def test_one_event_is_not_told_as_a_sum() -> None:
    feed = of(given(("Feed", clock(9)), runs=(Run("Front", clock(10), clock(10, 20), 20.0),)), "Feed")
    assert feed.status == "short"
    assert "at most in one go, and needs 6.0 mm in one go." in feed.words
    assert "short by" not in feed.words


def test_a_run_that_waters_in_is_not_beside_a_missing_hour() -> None:
    """Due at 22:00, while the allowed hours begin at 21:00 and the run is put later."""
    grubs = of(given(("Grubs", clock(10))), "Grubs")
    assert grubs.words.startswith("Tonight's run at")
    assert all("No allowed hour is left to run it" not in note for note in grubs.notes)


def test_after_its_dry_time_the_next_sentence_begins_anew() -> None:
    iron = of(given(("Iron", clock(14))), "Iron")
    assert iron.words.startswith("Keep dry until 02:00. Tonight's run at")


def test_a_cost_above_all_of_it_is_told_so() -> None:
    answer = asked(
        "Grubs", site=replace(the_site(), rules=Rules(hours=((time(21), time(8)),))), rain=falls(90.0)
    )
    text = rain_text(answer, width=92)
    assert any(w.cost > 1 for w in answer.verdicts[0].options)
    assert "more than all of it" in text
    assert "Depths of runs are what the drier part of the zone gets." in text


def test_the_gauge_is_to_be_emptied_once_for_all_looks() -> None:
    early = replace(the_site(), rules=Rules(hours=((time(21), time(8)),), awake=(time(4), time(22, 30))))
    advice = given(("Potash", clock(17)), rain=falls(8.0, members=15, first_h=3, hours=3), site=early)
    assert next(look.minutes for look in advice.next_looks)
    assert advice.headline.count("Empty the gauge this evening. Look at it at ") == 1
    text = advice_text(advice)
    assert text.count("Empty the gauge") == 1


@pytest.mark.parametrize(
    ("begin", "end", "words"),
    [
        ((17, 21, 0), (18, 5, 56), "21:00–05:56"),
        ((18, 2, 30), (18, 4, 0), "02:30–04:00"),
        ((18, 5, 0), (18, 9, 0), "Thu 05:00–09:00"),
        ((18, 11, 0), (18, 15, 0), "Thu 11:00–15:00"),
        ((19, 21, 0), (20, 5, 0), "Fri 21:00–Sat 05:00"),
    ],
    ids=lambda value: str(value),
)
def test_a_stretch_names_its_day_once(
    begin: tuple[int, int, int], end: tuple[int, int, int], words: str
) -> None:
    say = Say("metric", CHICAGO, EVENING)
    at = [EVENING.replace(day=d, hour=h, minute=m) for d, h, m in (begin, end)]
    assert say.stretch(*at) == words


@pytest.mark.parametrize("rain_mm", [0.0, 8.0])
@pytest.mark.parametrize("minutes_ago", [1, 15, 29, 31])
def test_what_a_run_brings_back_is_counted_at_once_and_not_put_down_to_the_rain(
    rain_mm: float, minutes_ago: int
) -> None:
    """The run of this hour counts as that of the hour before does."""
    late = EVENING.replace(hour=20, minute=30)
    ended = late - timedelta(minutes=minutes_ago)
    run = Run("Front", ended - timedelta(minutes=25), ended, 25.0, depth_mm=9.0)
    probed = given(used_mm=13.0, rain=falls(rain_mm), now=late).zones[0]
    (zone,) = given(used_mm=13.0, runs=(run,), rain=falls(rain_mm), now=late).zones
    assert zone.verdict == "not needed"
    assert zone.depletion_mm == pytest.approx(probed.depletion_mm - 9.0, abs=0.3)
    assert ReasonKind.RAIN_BRINGS_BACK not in [reason.kind for reason in zone.reasons]
    assert "rain" not in zone.reason


@pytest.mark.parametrize("kind", list(ReasonKind), ids=lambda kind: kind.name)
def test_every_kind_of_reason_has_its_sentence(kind: ReasonKind) -> None:
    whole = Reason(
        kind=kind,
        text="It is said." if kind in ALREADY_SAID else "",
        zones=("Front", "Bank"),
        products=("One", "Two"),
        other="Something else",
        need=NeedReason(basis=NeedBasis.LABEL),
        depth_mm=4.0,
        of_mm=6.0,
        low_mm=1.0,
        high_mm=9.0,
        ranges_mm=((1.0, 2.0), (3.0, 4.0)),
        rate_mm_h=12.0,
        rate_low_mm_h=9.0,
        rate_high_mm_h=15.0,
        flow_l_min=40.0,
        of_l_min=30.0,
        chance=0.4,
        minutes=24.0,
        before_minutes=30.0,
        count=2,
        days=14.0,
        at=clock(21),
        until=clock(5, day=18),
        day=date(2026, 6, 19),
        now_word="run",
        before_word="wait",
    )
    words = told(SAY, whole).text
    assert words[:1] == words[:1].upper()
    assert words.strip() == words != ""
    assert "None" not in words


def test_a_zone_that_will_pass_its_allowance_and_is_not_run_says_how_little_it_goes_short_of() -> None:
    seen = 0
    for used_mm in np.arange(4.0, 20.0, 0.5):
        advice = given(used_mm=float(used_mm))
        zone = advice.zones[0]
        kinds = {reason.kind: reason for reason in zone.reasons}
        alone = kinds.get(ReasonKind.LEFT_ALONE)
        if zone.verdict == "not needed" and alone is not None and (alone.chance or 0.0) > 0.5:
            seen += 1
            short = kinds[ReasonKind.TOO_LITTLE_FOR_A_RUN]
            assert 0.0 < (short.depth_mm or 0.0) < 5.0
            assert "is too little to be worth a run." in zone.reason
        else:
            assert ReasonKind.TOO_LITTLE_FOR_A_RUN not in kinds or zone.verdict != "run"
    assert seen >= 2


def test_a_run_that_does_not_fit_tonight_is_given_no_start_in_the_answer_about_rain() -> None:
    """Two zones with the same due, in hours that hold one of them."""
    rules = Rules(hours=((time(3), time(3, 40)),), finish="window")
    fast = Rate(36.0, "measured", 36.0, 36.0)
    zones = tuple(
        made_zone(name, uniformity=1.0, rate=fast, first_puddle_min=60.0) for name in ("Front", "Back")
    )
    site = made_site(*zones, products=PRODUCTS, rules=rules)
    laid = Application("Grubs", ("Front", "Back"), clock(17), clock(17, 10), "spreader", id=1)
    records = Records(applications=(laid,), probes=tuple(ProbeReading(z.name, clock(19), 0.0) for z in zones))
    weather = made_weather(DRY, now=EVENING)
    advice = advise(site=site, records=records, weather=weather, now=EVENING)
    (run,), (left,) = advice.runs, advice.not_planned
    starts = {o.zone: [way.starts_at for way in o.options if way.action == "run"] for o in advice.obligations}
    assert starts == {run.zone: [run.cycles[0].starts_at], left.zone: [None]}
    answer = rain_answer(advice)
    words = {o.zone: [way.words for way in o.options if way.action == "run"] for o in answer.verdicts}
    assert [text.endswith("; it does not fit tonight") for text in words[left.zone]] == [True]
