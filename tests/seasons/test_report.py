"""From results to a report: equal unmet, the doubt over seasons, the bad first; checked on made results."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest
from made import CHICAGO, made_site
from seasons.made_seasons import made_truth

from advisor.advice import ReplayFindingKind
from advisor.faces.text import replay_text
from advisor.lawn.site_values import Round
from advisor.replay.job import BEST, Part, Result
from advisor.replay.past_nights import (
    ALWAYS,
    FORESIGHT,
    HALF,
    NEVER,
    NO_LOOK,
    OURS,
    PLAIN_RULES,
    USUAL,
    Outcome,
)
from advisor.replay.rivals import Point
from advisor.replay.scores import DutyScores, GrassScores, Scores
from advisor.seasons import Lawn, jobs_of, nothing_lived, replay_report
from advisor.seasons.report import spread
from advisor.wording import Say

SITE = made_site(rounds=(Round("Soil round", ("Potash",), 28),))
LAWN = Lawn("Larkmoor Lane", SITE, made_truth(), date(2026, 6, 1), date(2026, 6, 4), "made")
SAY = Say("metric", ZoneInfo("America/Chicago"), datetime(2026, 6, 4, tzinfo=CHICAGO))
NONE = DutyScores(0, 0, 0, 0, 0, 0)
NIGHT_AND_DAY = (0, 0, 1, 0, 0, 0, 2, *(0,) * 17)
Kind = ReplayFindingKind


def grass(unmet_mm: float, days_past: float = 0.25) -> GrassScores:
    return GrassScores(100.0, unmet_mm, days_past, 1.0, 3.0, 0.0)


def came(water_mm: float, unmet_mm: float, duties: DutyScores = NONE, refused: int = 0) -> Scores:
    return Scores(4, water_mm, 10.0, 5.0, 3, NIGHT_AND_DAY, refused, grass(unmet_mm), duties)


def points(*each: tuple[float, float]) -> tuple[Point, ...]:
    return tuple(Point("a rule", water, 0.0, 1.0, grass(unmet)) for unmet, water in each)


def outcome(cost: float) -> Outcome:
    return Outcome(cost, True, 5.0, True)


NIGHT = {
    OURS: outcome(0.10),
    NO_LOOK: outcome(0.15),
    **{rule: outcome(0.40 if "whole" in rule else 0.25) for rule in PLAIN_RULES},
    FORESIGHT: outcome(0.0),
}


def results(*, late: int = 0, count: int = 4, ours: tuple[float, float] = (40.0, 44.0)) -> list[Result]:
    """Two seasons: at 2 mm unmet the rule needs 60 mm, foresight 45; ours took 50 and 54 with what is owed."""
    rule = points((0.0, 80.0), (4.0, 40.0))
    duties = DutyScores(count, count - late, 1, 2, late, 0) if count else NONE
    found = [Result("Larkmoor Lane, foresight", families={BEST: points((0.0, 60.0), (4.0, 30.0))})]
    for seed, water in enumerate(ours, 1):
        name = f"Larkmoor Lane, honest, season {seed}"
        thirsty = {"thirsty": points((3.0, 90.0))}
        found.append(
            Result(f"{name}, turf", came(water, 2.0), {"rule": rule, **thirsty}, answers={}, asked=4)
        )
        rules = {way: came(70.0, 3.0, replace(duties, on_time=count)) for way in (ALWAYS, HALF, NEVER)}
        nights = {USUAL: (NIGHT,) if count else ()}
        found.append(Result(f"{name}, rounds", came(50.0, 1.0, duties), {}, rules, nights))
    return found


def report(**made: object):  # type: ignore[no-untyped-def]
    told = replay_report([LAWN], ["honest"], seeds=2, results=results(**made))  # type: ignore[arg-type]
    (lawn,) = told.lawns
    (recipe,) = lawn.recipes
    return recipe


def test_jobs_and_report_mean_the_same_keys() -> None:
    keys = [job.key for job in jobs_of([LAWN], ["honest"], seeds=2, rounds=True)]
    assert sorted(keys) == sorted(result.key for result in results())
    assert len(jobs_of([LAWN], ["honest", "dry"], seeds=3, rounds=False)) == 1 + 2 * 3
    assert len(jobs_of([LAWN], ["perfect", "none"], seeds=3, rounds=False)) == 1 + 2


def test_rounds_are_put_down_only_where_they_are_judged() -> None:
    for job in jobs_of([LAWN], ["honest"], seeds=1, rounds=True):
        assert job.with_rounds is (Part.DUTY_RULES in job.parts)
        assert not (job.with_rounds and Part.RULES in job.parts)


def test_others_are_compared_where_they_leave_as_much_unmet() -> None:
    best, rule, thirsty = report().at_equal_unmet
    assert (best.family, best.foresight, best.water_mm.mean) == (BEST, True, 45.0)
    assert best.more_mm.mean == pytest.approx((45 - 50 + 45 - 54) / 2)
    assert (rule.water_mm.mean, rule.more_mm.mean, rule.seasons) == (60.0, 8.0, 2)
    assert rule.more_mm.give_or_take == pytest.approx(2.0)  # 10 and 6: √8 / √2
    assert (thirsty.water_mm, thirsty.more_mm, thirsty.seasons, thirsty.least_unmet_mm) == (
        None,
        None,
        0,
        3.0,
    )


def test_a_season_counts_as_lived_where_any_evening_was() -> None:
    silent = Result("a", came(0.0, 9.0, refused=4), asked=4, why_refused="no forecast")
    assert nothing_lived([silent]) == "no season could be lived: no forecast"
    assert nothing_lived([Result("b", families={BEST: points((0.0, 1.0))})], [("a", "it fell")]) == (
        "no season could be lived: it fell"
    )
    assert nothing_lived([silent, replace(silent, ours=came(0.0, 9.0, refused=3))]) == ""


def test_why_no_advice_could_be_given_is_told_once() -> None:
    some = [
        replace(each, ours=replace(each.ours, refused=1), why_refused=why) if each.ours else each
        for each, why in zip(results(), ("", "the first", "", "the second", ""), strict=True)
    ]
    told = replay_report([LAWN], ["honest"], seeds=2, results=some)
    finding = told.lawns[0].recipes[0].findings[0]
    assert (finding.kind, finding.bad) == (Kind.REFUSED, True)
    assert finding.text == "No advice at all could be given once a season; the first time: the first."


def test_looks_are_told_by_the_hours_of_waking() -> None:
    assert (report().turf.looks_at_night.mean, report().turf.looks_by_day.mean) == (1.0, 2.0)


def test_what_each_step_earned_is_by_the_ways_of_deciding() -> None:
    """Depth 0.40 − 0.25, waiting 0.25 − 0.15, looking 0.15 − 0.10."""
    earned = report().earned
    assert (earned.judged, earned.depth, earned.waiting, earned.looking) == (2, 0.15, 0.10, 0.05)
    assert report().costs[0].way == OURS


def test_products_stand_beside_the_plain_ways_ours_first() -> None:
    mine, *others = report(late=1).products
    assert (mine.way, mine.ours, mine.count, mine.on_time, mine.false_waits) == (OURS, True, 4, 3, 1)
    assert [(row.way, row.on_time, row.water_mm.mean) for row in others] == [
        (ALWAYS, 4, 80.0),
        (HALF, 4, 80.0),
        (NEVER, 4, 80.0),
    ]


def test_how_short_the_turf_goes_stands_beside_the_water_of_each_way_of_deciding() -> None:
    rows = report().products
    assert [(row.unmet_mm.mean, row.days_past.mean) for row in rows] == [(1.0, 0.25), *[(3.0, 0.25)] * 3]
    told = replay_report([LAWN], ["honest"], seeds=2, results=results())
    assert any("compared only where the grass goes equally short" in note for note in told.notes)
    text = replay_text({"Larkmoor Lane": SAY}, told, width=92)
    beside = text[text.index("The turf beside them") :].splitlines()
    assert beside[0].split("  ")[-1].strip() == "Too dry"
    assert beside[1].split() == [
        "our",
        "answer",
        "60.0",
        "mm",
        "±",
        "0.0",
        "mm",
        "1.0",
        "mm",
        "±",
        "0.0",
        "mm",
        "25",
        "%",
        "of",
        "days",
    ]


def test_without_a_product_due_one_line_says_so_and_no_table_stands() -> None:
    kinds = {each.kind for each in report(count=0).findings}
    assert Kind.NO_PRODUCT in kinds
    assert not kinds & {Kind.LATE, Kind.ON_TIME, Kind.NEEDLESS, Kind.PAST_MOST, Kind.EARNED}
    assert Kind.NO_PRODUCT not in {each.kind for each in report().findings}
    told = replay_report([LAWN], ["honest"], seeds=2, results=results(count=0))
    text = replay_text({"Larkmoor Lane": SAY}, told, width=92)
    assert text.count("No product had to be watered in.") == 1
    assert "Products a season" not in text
    assert "The turf beside them" not in text
    assert not any("ways of deciding on products" in note for note in told.notes)


def test_the_bad_is_told_first_and_only_where_it_is_so() -> None:
    kinds = [(each.kind, each.bad, each.good) for each in report(late=1, ours=(60.0, 64.0)).findings]
    assert kinds == [
        (Kind.LATE, True, False),
        (Kind.DAYS_PAST, True, False),
        (Kind.RULE_BETTER, True, False),
        (Kind.NEEDLESS, True, False),
        (Kind.NIGHT_LOOKS, True, False),
        (Kind.ON_TIME, False, True),
        (Kind.FORESIGHT, False, False),
        (Kind.EARNED, False, False),
    ]
    assert (Kind.RULE_WORSE, True) in {(each.kind, each.good) for each in report().findings}
    assert Kind.LATE not in {each.kind for each in report().findings}


def told_of_rule(ours: tuple[float, ...]) -> set[ReplayFindingKind]:
    """What is said of the best rule, which needs 60 mm, where ours took so much with 10 mm owed."""
    recipe = report(ours=ours) if len(ours) == 2 else None
    if recipe is None:
        some = [each for each in results(ours=(ours[0], 0.0)) if "season 2" not in each.key]
        recipe = replay_report([LAWN], ["honest"], seeds=1, results=some).lawns[0].recipes[0]
    rules = {Kind.RULE_BETTER, Kind.RULE_WORSE, Kind.RULE_ALIKE}
    return rules & {each.kind for each in recipe.findings}


@pytest.mark.parametrize(
    ("ours", "kind"),
    [
        ((50.4,), Kind.RULE_ALIKE),  # under half a millimetre
        ((49.6,), Kind.RULE_ALIKE),
        ((50.6,), Kind.RULE_BETTER),
        ((49.4,), Kind.RULE_WORSE),
        ((49.0, 52.8), Kind.RULE_ALIKE),  # 0.9 ± 1.9
        ((49.0, 45.2), Kind.RULE_WORSE),  # 2.9 ± 1.9
        ((49.8, 54.0), Kind.RULE_ALIKE),  # 1.9 ± 2.1
        ((50.2, 54.2), Kind.RULE_BETTER),  # 2.2 ± 2.0
    ],
)
def test_a_difference_too_small_to_be_told_is_neither_good_nor_bad(
    ours: tuple[float, ...], kind: ReplayFindingKind
) -> None:
    assert told_of_rule(ours) == {kind}


def test_the_best_rule_is_said_to_be_chosen_afterwards_among_so_many() -> None:
    """Two points of a rule and one of a thirsty one; foresight's own courses are no rules."""
    words = {each.kind: each.text for each in report(ours=(49.8, 50.2)).findings}
    assert (
        "the best of 3 plain rules, chosen afterwards, takes as much water as we do" in words[Kind.RULE_ALIKE]
    )
    words = {each.kind: each.text for each in report().findings}
    assert "the best of 3 plain rules, chosen afterwards, takes 8.0 mm" in words[Kind.RULE_WORSE]
    told = replay_report([LAWN], ["honest"], seeds=2, results=results())
    assert any("it says nothing of other years or places" in note for note in told.notes)


def test_foresight_that_spares_nothing_to_speak_of_is_told_as_as_much() -> None:
    words = {each.kind: each.text for each in report(ours=(35.2, 35.2)).findings}
    assert words[Kind.FORESIGHT] == "One who had known the weather would have used as much."


def test_grass_too_dry_is_told_with_the_bad_where_it_was_so() -> None:
    (found,) = (each for each in report().findings if each.kind is Kind.DAYS_PAST)
    assert found.text == (
        "On 25 % of days, as a mean of the zones, the soil was drier than allowed; over all days by 1.0 mm."
    )
    wet = [
        replace(each, ours=replace(each.ours, grass=grass(2.0, days_past=0.0))) if each.ours else each
        for each in results()
    ]
    told = replay_report([LAWN], ["honest"], seeds=2, results=wet)
    assert Kind.DAYS_PAST not in {each.kind for each in told.lawns[0].recipes[0].findings}


def test_looks_by_the_hour_and_moves_by_hand_are_told() -> None:
    turf = report().turf
    assert turf.looks_by_hour == NIGHT_AND_DAY
    assert (turf.hand_moves.mean, turf.hand_moves.give_or_take) == (3.0, 0.0)
    text = replay_text(
        {"Larkmoor Lane": SAY},
        replay_report([LAWN], ["honest"], seeds=2, results=results()),
        width=92,
    )
    assert "Nothing put down, looks by the hour: 02h 1, 06h 2." in text
    (row,) = (line.split() for line in text.splitlines() if re.match("Nothing put down +2 ", line))
    assert row[3:] == ["2", "1", "3", "0"]


def test_the_kind_of_forecasts_with_most_against_it_comes_first() -> None:
    dry = [
        replace(each, key=each.key.replace("honest", "dry"))
        for each in results(late=2)
        if "honest" in each.key
    ]
    told = replay_report([LAWN], ["honest", "dry"], seeds=2, results=[*results(), *dry])
    assert [recipe.forecasts for recipe in told.lawns[0].recipes] == ["dry", "honest"]


def test_what_failed_is_told_and_the_rest_shown() -> None:
    some = [each for each in results() if "season 2" not in each.key]
    told = replay_report([LAWN], ["honest"], seeds=2, results=some, failed=[("a key", "a reason")])
    assert told.lawns[0].recipes[0].seasons == 1
    assert told.lawns[0].recipes[0].turf.water_mm.give_or_take is None
    text = replay_text({"Larkmoor Lane": SAY}, told, width=92)
    assert "Not worked out\n  - a key: a reason" in text
    assert "1 season lived by" in text


def test_the_page_shows_what_went_badly_first() -> None:
    told = replay_report([LAWN], ["honest"], seeds=2, results=results(late=1))
    text = replay_text({"Larkmoor Lane": SAY}, told, width=92)
    flat = " ".join(text.split())
    assert text.index("What went badly") < text.index("What went well") < text.index("The grass")
    assert (
        "Of 4 products on zones a season, 1 had too little water by their time, 1 of them left to a rain"
        in flat
    )
    assert "chosen afterwards, takes 8.0 mm ± 2.0 mm more: watering rule" in flat
    assert "3 of 4" in text
    assert "leaves 3.0 mm unmet never as well" in flat
    assert max(map(len, text.splitlines())) <= 100


def test_the_doubt_is_the_standard_error() -> None:
    assert spread([1.0, 3.0, 5.0]).give_or_take == pytest.approx(2.0 / 3**0.5, abs=1e-4)
    assert spread([7.0]).give_or_take is None
