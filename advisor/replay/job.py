"""One season to be worked out: all that it takes, and all that it gives, so that it can be done anywhere.

A `Job` can be handed to another process or machine; its `Result` is plain numbers that can be kept as
JSON. Nothing is drawn but from the job's own seed, so the same job always gives the same result.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from pydantic import TypeAdapter

from advisor.errors import CannotAdvise
from advisor.lawn import Site
from advisor.replay.duty_rivals import live_by_rules
from advisor.replay.foresight import foresight
from advisor.replay.made_forecast import MadeForecasts, Recipe
from advisor.replay.past_nights import ALWAYS, HALF, NEVER, PRICES, Outcome, outcomes
from advisor.replay.rivals import Clock, Deficit, Family, Point, frontier
from advisor.replay.scores import Scores, scores
from advisor.replay.season import Season, Sky, applications_of, live
from advisor.replay.true_lawn import TrueLawn, true_lawn
from advisor.soil_water import Climate
from advisor.weather import Weather

DEFICIT, DEFICIT_MEDIAN, DEFICIT_HALF = (
    "deficit rule",
    "deficit rule less the median rain",
    "deficit rule, 50 %",
)
CLOCK, CLOCK_RAIN_STOP, BEST = "clock by the usual year", "clock with a rain stop", "perfect foresight"
BESIDE_DUTIES = Deficit("median", (1.3,), (0.6,))
"""The rule of the turf beside rules for products: of all the cheapest at the usual prices on the years for tuning of
data/worth.toml; data/worth.md tells both, so that it is seen where they part."""


class Part(StrEnum):
    """What can be asked of a season."""

    OURS = "ours"
    RULES = "rules of the turf"
    BOUND = "perfect foresight"
    DUTY_RULES = "rules for products"
    DUTY_NIGHTS = "nights of products"


@dataclass(frozen=True, eq=False)
class Job:
    """A season by its `key`: the site as its file has it and `lawn` as it truly is (None: the same), the true
    weather, the local dates of its evenings, how forecasts are made, and which parts are wanted.

    Rounds of the site become applications where `with_rounds`. `sky` takes the place of made forecasts.
    """

    key: str
    site: Site
    truth: Weather
    first: date
    last: date
    recipe: Recipe
    seed: int
    parts: tuple[Part, ...] = (Part.OURS,)
    with_rounds: bool = False
    climate: Climate | None = None
    lawn: Site | None = None
    sky: Sky | None = None


@dataclass(frozen=True)
class Result:
    """What a season came to: ours, every rule of each family, rules for products, and the evenings of products
    by the judge's prices and the way of deciding; empty where not asked for. `asked` counts how often advice was
    asked for, `why_refused` is why it could not be given the first time that it could not."""

    key: str
    ours: Scores | None = None
    families: Mapping[str, tuple[Point, ...]] = field(default_factory=dict)
    duty_rules: Mapping[str, Scores] = field(default_factory=dict)
    nights: Mapping[str, tuple[Mapping[str, Outcome], ...]] = field(default_factory=dict)
    answers: Mapping[str, int] = field(default_factory=dict)
    asked: int = 0
    why_refused: str = ""


RESULT: TypeAdapter[Result] = TypeAdapter(Result)


def work(job: Job) -> Result:
    """Live the season of a job and reckon up what was asked of it.

    Raises CannotAdvise where the true weather does not carry the season.
    """
    lawn = true_lawn(job.lawn or job.site, job.truth)
    applications = applications_of(job.site, lawn, job.first, job.last) if job.with_rounds else ()
    season = Season(job.site, lawn, job.first, job.last, applications)
    if lawn.hour(season.ends_at) >= job.truth.hours:
        raise CannotAdvise(f"the weather ends before the evening after {job.last:%Y-%m-%d}")
    sky = job.sky or MadeForecasts(job.truth, recipe=job.recipe, seed=job.seed, local=job.site.place.zone)
    ours, answers, asked, why = None, {}, 0, ""
    nights: dict[str, tuple[Mapping[str, Outcome], ...]] = {}
    if {Part.OURS, Part.DUTY_NIGHTS} & set(job.parts):
        lived = live(season, sky)
        ours, answers, asked = scores(season, lived), dict(lived.first_answers), lived.asked
        why = lived.why_refused
        if Part.DUTY_NIGHTS in job.parts:
            found = [outcomes(past) for past in lived.duty_nights]
            nights = {name: tuple(one for past in found for one in past[name]) for name in PRICES}
    families: dict[str, tuple[Point, ...]] = {}
    if Part.RULES in job.parts:
        families |= {name: frontier(season, one, sky) for name, one in _families(lawn, job.climate).items()}
    if Part.BOUND in job.parts:
        families[BEST] = foresight(season)
    rules: dict[str, Scores] = {}
    if Part.DUTY_RULES in job.parts:
        for duty in (ALWAYS, HALF, NEVER):
            rules[duty] = scores(season, live_by_rules(season, sky, turf=BESIDE_DUTIES, duty=duty))
    return Result(job.key, ours, families, rules, nights, answers, asked, why)


def _families(lawn: TrueLawn, climate: Climate | None) -> dict[str, Family]:
    """The rules of the turf by name; a clock only where there is a usual year."""
    found: dict[str, Family] = {
        DEFICIT: Deficit(),
        DEFICIT_MEDIAN: Deficit("median"),
        DEFICIT_HALF: Deficit("half"),
    }
    if climate is not None:
        found[CLOCK] = Clock(lawn, climate, rain_stop=False)
        found[CLOCK_RAIN_STOP] = Clock(lawn, climate, rain_stop=True)
    return found
