"""From what was asked to jobs, and from results to a report: by lawn and kind of forecasts, the bad first.

Each season is lived twice: once with nothing put down, so that the water for the turf alone stands beside the
rules and foresight, which know no products; and once with the rounds of the site file.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time

import numpy as np

from advisor.advice import (
    Earned,
    FamilyAtEqualUnmet,
    LawnReplayed,
    NotReplayed,
    ProductsCame,
    RecipeReplayed,
    Replayed,
    ReplayFinding,
    ReplayFindingKind,
    SeasonCame,
    Spread,
    WayCost,
)
from advisor.lawn import Site
from advisor.replay import (
    ALIKE_MM,
    BEST,
    OURS,
    RECIPES,
    USUAL,
    Job,
    Part,
    Point,
    Recipe,
    Result,
    Scores,
    Sky,
    earned,
    least_unmet,
    rows_of,
    water_at,
)
from advisor.sentences import NO_CLOCK, READ, READ_PRODUCTS, replay_finding_words
from advisor.soil_water import Climate
from advisor.weather import Weather
from advisor.wording import Say

AS_ARCHIVED = Recipe("as archived")
ALWAYS_THE_SAME = ("perfect", "none", AS_ARCHIVED.name)
"""Kinds of forecasts in which nothing is drawn: one season tells all."""
TURF, ROUNDS, BOUND = "turf", "rounds", "foresight"
Kind = ReplayFindingKind


@dataclass(frozen=True, eq=False)
class Lawn:
    """A lawn to be lived on: its `name` among the others, its true weather and the evenings, the usual year for
    a clock if there is one, and the forecasts as archived if there are any."""

    name: str
    site: Site
    truth: Weather
    first: date
    last: date
    source: str
    climate: Climate | None = None
    sky: Sky | None = None

    def recipes(self, asked: Sequence[str]) -> tuple[Recipe, ...]:
        """The kinds of forecasts to live by."""
        return (AS_ARCHIVED,) if self.sky is not None else tuple(RECIPES[name] for name in asked)

    def seeds(self, recipe: Recipe, asked: int) -> range:
        """The seasons of one kind."""
        return range(1 if recipe.name in ALWAYS_THE_SAME else asked)

    def key(self, part: str, recipe: Recipe | None = None, seed: int = 0) -> str:
        """The key of a job."""
        if recipe is None:
            return f"{self.name}, {part}"
        return f"{self.name}, {recipe.name}, season {seed + 1}, {part}"


def jobs_of(lawns: Iterable[Lawn], recipes: Sequence[str], *, seeds: int, rounds: bool) -> list[Job]:
    """Everything that has to be worked for these lawns and kinds of forecasts."""
    found: list[Job] = []
    for lawn in lawns:
        bound = RECIPES["honest"]  # foresight hears no forecast
        found.append(_job(lawn, lawn.key(BOUND), bound, 0, (Part.BOUND,)))
        for recipe in lawn.recipes(recipes):
            for seed in lawn.seeds(recipe, seeds):
                found.append(_job(lawn, lawn.key(TURF, recipe, seed), recipe, seed, (Part.OURS, Part.RULES)))
                if rounds and lawn.site.rounds:
                    parts = (Part.OURS, Part.DUTY_RULES, Part.DUTY_NIGHTS)
                    found.append(_job(lawn, lawn.key(ROUNDS, recipe, seed), recipe, seed, parts))
    return found


def _job(lawn: Lawn, key: str, recipe: Recipe, seed: int, parts: tuple[Part, ...]) -> Job:
    return Job(
        key=key,
        site=lawn.site,
        truth=lawn.truth,
        first=lawn.first,
        last=lawn.last,
        recipe=recipe,
        seed=seed,
        parts=parts,
        with_rounds=Part.DUTY_RULES in parts,
        climate=lawn.climate if Part.RULES in parts else None,
        sky=lawn.sky if Part.BOUND not in parts else None,
    )


def replay_report(
    lawns: Iterable[Lawn],
    recipes: Sequence[str],
    *,
    seeds: int,
    results: Iterable[Result],
    failed: Iterable[tuple[str, str]] = (),
) -> Replayed:
    """What the seasons came to. A kind of forecasts of which no season is there is left out."""
    by_key = {result.key: result for result in results}
    told: list[LawnReplayed] = []
    notes: tuple[str, ...] = READ
    for lawn in lawns:
        notes = (*READ, NO_CLOCK) if lawn.climate is None else notes
        kinds = [
            found
            for recipe in lawn.recipes(recipes)
            if (found := _recipe(lawn, recipe, lawn.seeds(recipe, seeds), by_key)) is not None
        ]
        told.append(
            LawnReplayed(
                site=lawn.name,
                first=lawn.first,
                last=lawn.last,
                weather=lawn.source,
                recipes=tuple(sorted(kinds, key=_against)),
            )
        )
    if any(row.count for lawn in told for kind in lawn.recipes for row in kind.products):
        notes = (*notes, READ_PRODUCTS)
    return Replayed(
        lawns=tuple(told),
        failed=tuple(NotReplayed(key=key, why=why) for key, why in failed),
        notes=notes,
    )


def nothing_lived(results: Iterable[Result], failed: Sequence[tuple[str, str]] = ()) -> str:
    """Why no season at all could be lived; "" where one was, if only for some of its evenings."""
    ours = [result for result in results if result.ours is not None]
    if any(result.ours.refused < result.asked for result in ours if result.ours is not None):
        return ""
    why = [why for _, why in failed] + [result.why_refused for result in ours]
    return f"no season could be lived: {why[0]}" if why else ""


def _against(kind: RecipeReplayed) -> tuple[float, float]:
    """By how much speaks against it: products late, then water beside the best rule."""
    late = sum(row.count - row.on_time for row in kind.products if row.ours)
    rule = _best_rule(kind.at_equal_unmet)
    return -late, rule.more_mm.mean if rule is not None and rule.more_mm is not None else np.inf


def _recipe(
    lawn: Lawn, recipe: Recipe, seeds: Iterable[int], by_key: Mapping[str, Result]
) -> RecipeReplayed | None:
    """All seasons of one kind of forecasts, as far as they are there."""
    seeds = tuple(seeds)
    turf = [by_key[key] for seed in seeds if (key := lawn.key(TURF, recipe, seed)) in by_key]
    rounds = [by_key[key] for seed in seeds if (key := lawn.key(ROUNDS, recipe, seed)) in by_key]
    if not turf:
        return None
    known = by_key.get(lawn.key(BOUND))
    bound = known.families if known is not None else {}
    judged = [outcome for result in rounds for outcome in result.nights.get(USUAL, ())]
    rows = rows_of(judged) if judged else ()
    came = None
    if judged:
        came = Earned(judged=len(judged), **{name: round(by, 5) for name, by in earned(rows).items()})
    plain = RecipeReplayed(
        forecasts=recipe.name,
        seasons=len(turf),
        turf=_came(lawn.site, turf),
        at_equal_unmet=_families(turf, bound),
        with_rounds=_came(lawn.site, rounds) if rounds else None,
        products=_products(rounds),
        costs=tuple(
            WayCost(
                way=row.rule,
                **{
                    name: round(getattr(row, name), 5)
                    for name in ("cost", "worse_by", "give_or_take", "runs", "depth_mm", "on_time")
                },
            )
            for row in rows
        ),
        earned=came,
    )
    say = Say(lawn.site.place.units, lawn.site.place.zone, datetime.combine(lawn.last, time(0), UTC))
    findings = tuple(
        ReplayFinding(kind=kind, bad=bad, good=good, text=replay_finding_words(say, kind, plain))
        for kind, bad, good in _kinds(plain)
    )
    return plain.model_copy(update={"findings": findings})


def _ours(result: Result) -> Scores:
    assert result.ours is not None
    return result.ours


def spread(values: Sequence[float]) -> Spread:
    """Their mean, and the standard error of it."""
    doubt = float(np.std(values, ddof=1) / np.sqrt(len(values))) if len(values) > 1 else None
    return Spread(
        mean=round(float(np.mean(values)), 4), give_or_take=None if doubt is None else round(doubt, 4)
    )


def _came(site: Site, results: Sequence[Result]) -> SeasonCame:
    each = [_ours(result) for result in results]
    up, down = site.rules.awake
    by_day = range(up.hour, down.hour + 1)
    return SeasonCame(
        nights=each[0].nights,
        water_mm=spread([s.water_mm for s in each]),
        owed_mm=spread([s.owed_mm for s in each]),
        demand_mm=spread([s.grass.demand_mm for s in each]),
        unmet_mm=spread([s.grass.unmet_mm for s in each]),
        days_past=spread([s.grass.days_past for s in each]),
        past_mm=spread([s.grass.past_mm for s in each]),
        drained_mm=spread([s.grass.drained_mm for s in each]),
        runs=spread([s.runs for s in each]),
        looks_by_day=spread([sum(s.looks[h] for h in range(24) if h in by_day) for s in each]),
        looks_at_night=spread([sum(s.looks[h] for h in range(24) if h not in by_day) for s in each]),
        refused=spread([s.refused for s in each]),
        why_refused=next((result.why_refused for result in results if result.why_refused), ""),
        hand_moves=spread([s.hand_moves for s in each]),
        looks_by_hour=tuple(round(float(np.mean([s.looks[h] for s in each])), 4) for h in range(24)),
    )


def _families(
    turf: Sequence[Result], bound: Mapping[str, tuple[Point, ...]]
) -> tuple[FamilyAtEqualUnmet, ...]:
    """Every family, and foresight, where it leaves as much unmet as ours did, season by season."""
    found = []
    for name in [*turf[0].families, *bound]:
        water, more, least, rules = [], [], [], 0
        for result in turf:
            points, ours = result.families.get(name) or bound[name], _ours(result)
            rules = len(points)
            least.append(least_unmet(points))
            at = water_at(points, ours.grass.unmet_mm)
            if at is not None:
                water.append(at)
                more.append(at - ours.spent_mm)
        by = spread(more) if more else None
        found.append(
            FamilyAtEqualUnmet(
                family=name,
                foresight=name == BEST,
                water_mm=spread(water) if water else None,
                more_mm=by,
                seasons=len(water),
                alike=by is not None and _alike(by),
                rules=rules,
                least_unmet_mm=round(float(np.mean(least)), 4),
            )
        )
    return tuple(sorted(found, key=lambda one: one.more_mm.mean if one.more_mm is not None else np.inf))


def _alike(more_mm: Spread) -> bool:
    """Whether a difference of water is too small to be told."""
    return abs(more_mm.mean) < max(ALIKE_MM, more_mm.give_or_take or 0.0)


def _products(rounds: Sequence[Result]) -> tuple[ProductsCame, ...]:
    if not rounds or not rounds[0].duty_rules:
        return ()
    ways: dict[str, list[Scores]] = {OURS: [_ours(result) for result in rounds]}
    for name in rounds[0].duty_rules:
        ways[name] = [result.duty_rules[name] for result in rounds]
    return tuple(
        ProductsCame(
            way=name,
            ours=name == OURS,
            **{
                what: round(float(np.mean([getattr(s.duties, what) for s in each])), 4)
                for what in ("count", "on_time", "by_rain", "needless", "false_waits", "past_most")
            },
            water_mm=spread([s.spent_mm for s in each]),
            unmet_mm=spread([s.grass.unmet_mm for s in each]),
            days_past=spread([s.grass.days_past for s in each]),
        )
        for name, each in ways.items()
    )


def _best_rule(families: Iterable[FamilyAtEqualUnmet]) -> FamilyAtEqualUnmet | None:
    return next((one for one in families if not one.foresight and one.more_mm is not None), None)


def _kinds(plain: RecipeReplayed) -> Iterator[tuple[ReplayFindingKind, bool, bool]]:
    """What there is to say, whether it is bad and whether it is good: the bad first, then the good."""
    mine = next((row for row in plain.products if row.ours and row.count > 0), None)
    rule = _best_rule(plain.at_equal_unmet)
    apart = rule.more_mm.mean if rule is not None and rule.more_mm is not None and not rule.alike else 0.0
    bad = (
        (Kind.REFUSED, plain.turf.refused.mean > 0),
        (Kind.LATE, mine is not None and mine.on_time < mine.count),
        (Kind.DAYS_PAST, plain.turf.days_past.mean > 0),
        (Kind.PAST_MOST, mine is not None and mine.past_most > 0),
        (Kind.RULE_BETTER, apart < 0),
        (Kind.NEEDLESS, mine is not None and mine.needless > 0),
        (Kind.NIGHT_LOOKS, plain.turf.looks_at_night.mean > 0),
    )
    good = (
        (Kind.RULE_WORSE, apart > 0),
        (Kind.ON_TIME, mine is not None and mine.on_time > 0),
    )
    neither = (
        (Kind.RULE_ALIKE, rule is not None and rule.alike),
        (Kind.NO_PRODUCT, bool(plain.products) and mine is None),
        (Kind.FORESIGHT, any(one.foresight for one in plain.at_equal_unmet)),
        (Kind.EARNED, plain.earned is not None),
    )
    for kinds, is_bad, is_good in ((bad, True, False), (good, False, True), (neither, False, False)):
        yield from ((kind, is_bad, is_good) for kind, is_so in kinds if is_so)
