"""Seasons lived again, in sentences."""

from __future__ import annotations

from collections.abc import Iterator
from typing import assert_never

from advisor.advice import (
    FamilyAtEqualUnmet,
    OwnSeason,
    OwnWay,
    OwnWayKind,
    ProductsCame,
    RecipeReplayed,
    ReplayFindingKind,
    Spread,
    WaterBeside,
)
from advisor.units import show
from advisor.wording import Say, count_words, listed, long_day

FORECASTS = {
    "honest": "forecasts as good as services reach, and as sure as they are right",
    "too sharp": "forecasts too sure of themselves",
    "too wide": "forecasts too unsure of themselves",
    "wet": "forecasts of twice the rain",
    "dry": "forecasts of half the rain",
    "late": "forecasts whose rain comes six hours late",
    "no skill": "forecasts that know only the time of year",
    "perfect": "forecasts that tell the weather that came",
    "none": "no service at all, past days standing in",
    "as archived": "forecasts as they were told at the time",
}
"""What each kind of forecasts is, after a colon."""
FAMILIES = {
    "deficit rule": "when the soil asks, whatever is foretold",
    "deficit rule less the median rain": "when the soil asks, less the rain to come",
    "deficit rule, 50 %": "when the soil asks, not if rain is likely",
    "clock by the usual year": "by the clock of the usual year",
    "clock with a rain stop": "by that clock with a rain stop",
    "perfect foresight": "knowing the weather, as nobody can",
}
"""What each family of rules is; "less the rain to come" is the members' middle, "likely" half of them."""
NO_CLOCK = "No clock stands beside this: its usual year comes from --climate FILE or with --archive."
READ = (
    "The lawn is the one of the site file in the weather given. Every way of watering begins with the soil full on "
    "the first evening, as after a soaking, and its owner knows it.",
    "Every evening the gauge is read and the advice is followed; at a look the gauge is read and the advice asked "
    "for again, so the rule that is printed with a look is never followed by its letter here.",
    "Ways are compared by the water put on and the water that the soil is still owed at the end, where they "
    "leave the grass equally short; the plain rules know the true state of the soil, which no owner does. Of each "
    "family the best rule, or two in turn, is chosen after each season, which no owner can do either; it flatters them. "
    "± is the standard error over the seasons lived, which differ in their forecasts alone: it says nothing of other "
    "years or places. Less than half a millimetre over a season, or than that error, is told as no difference.",
)
READ_PRODUCTS = (
    "The ways of deciding on products water the turf beside them by different rules, so their water can be compared "
    "only where the grass goes equally short: who leaves it shorter has spared water by that."
)


def forecasts_words(replayed: RecipeReplayed) -> str:
    """What the seasons of one kind of forecasts are.

    A kind that is not in the table is its own name.
    """
    what = FORECASTS.get(replayed.forecasts, replayed.forecasts)
    return f"{count_words(replayed.seasons, 'season')} lived by {what} ({replayed.forecasts})"


def family_words(name: str) -> str:
    """A family of rules, as the head of a row; one that is not in the table is its own name."""
    return FAMILIES.get(name, name)


def way_words(way: OwnWayKind) -> str:
    """A way through the owner's season, as the head of a row."""
    match way:
        case OwnWayKind.FOLLOWED:
            return "As it was"
        case OwnWayKind.ALWAYS:
            return "Always running"
        case OwnWayKind.CLOCK:
            return "A clock by the usual year"
        case OwnWayKind.FORESIGHT:
            return "Had one known the weather"
        case _:
            assert_never(way)


def give_or_take(say: Say, value: Spread) -> str:
    """A depth with its doubt: 120.3 mm ± 0.8 mm; without, where it has none."""
    told = say.depth(value.mean)
    return told if value.give_or_take is None else f"{told} ± {say.depth(value.give_or_take)}"


def replay_finding_words(say: Say, kind: ReplayFindingKind, of: RecipeReplayed) -> str:
    """One finding about the seasons of one kind of forecasts."""
    mine = of.products[0] if of.products else None
    match kind:
        case ReplayFindingKind.REFUSED:
            times = _a_season(of.turf.refused.mean)
            return f"No advice at all could be given {times}; the first time: {of.turf.why_refused}."
        case ReplayFindingKind.RULE_BETTER | ReplayFindingKind.RULE_WORSE | ReplayFindingKind.RULE_ALIKE:
            return _rule(say, of, kind)
        case ReplayFindingKind.DAYS_PAST:
            return (
                f"On {_percent_of_days(of.turf.days_past.mean)} of days, as a mean of the zones, the soil was drier "
                f"than allowed; over all days by {say.depth(of.turf.past_mm.mean)}."
            )
        case ReplayFindingKind.NO_PRODUCT:
            return "No product had to be watered in."
        case ReplayFindingKind.FORESIGHT:
            return _foresight(say, next(each for each in of.at_equal_unmet if each.foresight))
        case ReplayFindingKind.NIGHT_LOOKS:
            return f"A look was asked for in hours of sleep {_a_season(of.turf.looks_at_night.mean)}."
        case ReplayFindingKind.EARNED:
            return _earned(of)
        case (
            ReplayFindingKind.LATE
            | ReplayFindingKind.PAST_MOST
            | ReplayFindingKind.NEEDLESS
            | ReplayFindingKind.ON_TIME
        ):
            assert mine is not None
            return _products(kind, mine)
        case _:
            assert_never(kind)


def _best_rule(of: RecipeReplayed) -> FamilyAtEqualUnmet:
    return next(each for each in of.at_equal_unmet if not each.foresight and each.more_mm is not None)


def _a_season(mean: float) -> str:
    return f"{_times(mean)} a season"


def _times(mean: float) -> str:
    return "once" if round(mean, 1) == 1.0 else f"{_number(mean)} times"


def _number(mean: float) -> str:
    """A mean count: 3, or 3.3."""
    if 0.0 < mean < 0.05:
        return "less than 0.1"
    return f"{mean:.1f}".removesuffix(".0")


def _rule(say: Say, of: RecipeReplayed, kind: ReplayFindingKind) -> str:
    family, rules = _best_rule(of), sum(each.rules for each in of.at_equal_unmet if not each.foresight)
    assert family.more_mm is not None
    by = Spread(mean=abs(family.more_mm.mean), give_or_take=family.more_mm.give_or_take)
    amount = give_or_take(say, by)
    best = f"the best of {rules} plain rules, chosen afterwards"
    who = f"watering {family_words(family.family)}"
    if kind is ReplayFindingKind.RULE_BETTER:
        return (
            f"The grass could have been kept as well with {amount} less by {best}: {who}; that takes knowing the soil "
            "exactly."
        )
    if kind is ReplayFindingKind.RULE_ALIKE:
        return f"To keep the grass as well {best}, takes as much water as we do: {who}."
    return f"To keep the grass as well {best}, takes {amount} more: {who}."


def _foresight(say: Say, family: FamilyAtEqualUnmet) -> str:
    if family.more_mm is None:
        return "Beside one who had known the weather it cannot be put: we left less unmet than any course reckoned."
    by = Spread(mean=abs(family.more_mm.mean), give_or_take=family.more_mm.give_or_take)
    if family.alike or family.more_mm.mean > 0:
        return "One who had known the weather would have used as much."
    return f"One who had known the weather would have used {give_or_take(say, by)} less, which no one can do."


def _products(kind: ReplayFindingKind, mine: ProductsCame) -> str:
    of = f"Of {_number(mine.count)} products on zones a season"
    if kind is ReplayFindingKind.LATE:
        waits = f", {_number(mine.false_waits)} of them left to a rain that did not come" * (
            mine.false_waits > 0
        )
        return f"{of}, {_number(mine.count - mine.on_time)} had too little water by their time{waits}."
    if kind is ReplayFindingKind.PAST_MOST:
        return f"{of}, {_number(mine.past_most)} had more water than they bear, by rain or by runs."
    if kind is ReplayFindingKind.NEEDLESS:
        return f"{of}, {_number(mine.needless)} were watered though rain alone would have done it."
    return f"{of}, {_number(mine.on_time)} had their water in time, {_number(mine.by_rain)} by rain alone."


def _earned(of: RecipeReplayed) -> str:
    assert of.earned is not None
    parts = (
        ("running no deeper than needed", of.earned.depth),
        ("leaving it to likely rain", of.earned.waiting),
        ("looking at the gauge first", of.earned.looking),
    )
    told = ", ".join(f"{what} {_share(by)}" for what, by in parts)
    return f"What each step changed for a product, in shares of a whole application: {told} (plus is spared)."


def _percent_of_days(share: float) -> str:
    return "less than 1 %" if share < 0.005 else _percent(share)


def _share(by: float) -> str:
    shown = f"{100.0 * by:+.0f} %"
    return "nothing" if shown in ("+0 %", "-0 %") else shown.replace("-", "\N{MINUS SIGN}")


def own_season_words(say: Say, own: OwnSeason) -> Iterator[str]:
    """The owner's own season, the owner's water first."""
    mine, *others = own.ways
    yield (
        f"From {long_day(own.first)} to {long_day(own.last, year=True)}, {own.nights} evenings, you put on "
        f"{_put_on(say, mine)}; the grass went short of {say.depth(mine.unmet_mm)} of the {say.depth(own.demand_mm)} "
        "that it could have used."
    )
    if not own.runs_recorded:
        yield "No run is recorded in that time; if some were made, record them and ask again."
    for other in others:
        yield _beside(say, mine, other)
    yield (
        "Water and money are compared with what it takes to fill the soil again at the end, for every way alike."
        if mine.cost is not None
        else "Water is compared with what it takes to fill the soil again at the end, for every way alike."
    )
    if all(other.way is not OwnWayKind.CLOCK for other in others):
        yield NO_CLOCK
    if mine.products is not None and mine.on_time is not None:
        yield (
            f"Of {count_words(mine.products, 'product')} on zones, {mine.on_time} had their water in time; a clock "
            "and foresight are reckoned for the turf alone."
        )
    yield (
        f"The records know {_percent(own.known)} of that time's weather, {_percent(own.by_gauge)} of it rain from "
        f"your gauge; {say.depth(own.rain_mm)} fell. Every way begins with the soil full on the first "
        "evening, and rain of unknown hours counts as none."
    )


def _beside(say: Say, mine: OwnWay, other: OwnWay) -> str:
    more = other.litres + other.owed_litres - mine.litres - mine.owed_litres
    match other.beside:
        case WaterBeside.NOT_COMPARABLE:
            return (
                f"One who had known the weather cannot be put beside yours: on {listed(other.shorter_zones)} even the "
                "course that leaves the grass least short, one run a night inside your rules, leaves it shorter than "
                "you did."
            )
        case WaterBeside.AS_MUCH:
            beside = "as much as yours"
        case WaterBeside.MORE | WaterBeside.LESS:
            beside = f"{_volume(say, abs(more))} {other.beside} than yours"
        case _:
            assert_never(other.beside)
    if other.way is OwnWayKind.FORESIGHT:
        return f"One who had known the weather could have kept the grass as well with {_put_on(say, other)}: {beside}."
    who = (
        "Always running at our depth when the soil asks, whatever rain is told,"
        if other.way is OwnWayKind.ALWAYS
        else "A clock set by the usual year"
    )
    return f"{who} would have put on {_put_on(say, other)}, and left {say.depth(other.unmet_mm)} unmet: {beside}."


def _put_on(say: Say, way: OwnWay) -> str:
    """The water put on, and what it is with what is owed: 900 L (3.0 mm), with what is owed 1,200 L, 2.40 of ..."""
    whole = _volume(say, way.litres + way.owed_litres)
    return f"{_volume(say, way.litres)} ({say.depth(way.water_mm)}), with what the soil is owed {whole}{_money(way)}"


def _volume(say: Say, litres: float) -> str:
    return show(litres, "volume", say.units, 0)


def _money(way: OwnWay) -> str:
    return "" if way.cost_with_owed is None else f", {way.cost_with_owed:.2f} of your currency"


def _percent(share: float) -> str:
    return f"{100.0 * share:.0f} %"
