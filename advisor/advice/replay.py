"""Seasons lived again, as they are handed out: what they came to beside what others would have made of them."""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import Literal

from advisor.advice.frozen import Frozen


class Spread(Frozen):
    """A mean over seasons that differ in their forecasts alone."""

    mean: float
    """The mean."""
    give_or_take: float | None
    """Its standard error; none of one season."""


class SeasonCame(Frozen):
    """What our seasons came to on the true lawn: means over zones, a season."""

    nights: int
    """How many evenings were lived."""
    water_mm: Spread
    """Water put on, gross, mm."""
    owed_mm: Spread
    """What it would have taken at the end to fill the soil again, gross, mm; whoever compares adds it."""
    demand_mm: Spread
    """What the turf would have used had it never been short, mm."""
    unmet_mm: Spread
    """The part of it that the turf went short of, mm."""
    days_past: Spread
    """The share of days on which the soil was drier than allowed, 0–1."""
    past_mm: Spread
    """How much drier on the mean day, mm."""
    drained_mm: Spread
    """Water that went below the roots, mm."""
    runs: Spread
    """Runs of a zone."""
    looks_by_day: Spread
    """Looks asked for in waking hours."""
    looks_at_night: Spread
    """Looks asked for in hours of sleep."""
    refused: Spread
    """Times at which no advice could be given."""
    why_refused: str
    """Why the first time; empty where it always could."""
    hand_moves: Spread
    """What a person did by hand: every start, move and turning off of a sprinkler without a valve."""
    looks_by_hour: tuple[float, ...]
    """Looks a season by the local hour of the day, 0–23."""


class FamilyAtEqualUnmet(Frozen):
    """What the best of a family of rules, or foresight, uses where it leaves the turf as short as we did."""

    family: str
    """The family."""
    foresight: bool
    """Whether it knows the weather to come, as no one can."""
    water_mm: Spread | None
    """Its water with what is owed at the end, mm; none where even its most generous rule leaves more unmet."""
    more_mm: Spread | None
    """How much more that is than ours, mm; below 0 where it is less."""
    seasons: int
    """In how many of the seasons it can be compared."""
    alike: bool
    """Whether the difference is too small to be told: half a millimetre over a season, or its standard error."""
    rules: int
    """How many rules the family has; the best, or two taken in turn, is chosen after the season."""
    least_unmet_mm: float
    """What its most generous rule leaves unmet, mm."""


class ProductsCame(Frozen):
    """What became of what had to be watered in by one way of deciding, counted by product and zone, a season."""

    way: str
    """The way of deciding."""
    ours: bool
    """Whether it is our advice."""
    count: float
    """How many had to be watered in."""
    on_time: float
    """How many had their least depth by the due time."""
    by_rain: float
    """How many of those by rain alone."""
    needless: float
    """For how many it was run though rain alone would have done it."""
    false_waits: float
    """How many were left to a rain that did not come in time."""
    past_most: float
    """How many had more water than they bear."""
    water_mm: Spread
    """The water of the whole season, products and turf, with what is owed at the end, mm; to be compared only where
    the turf goes equally short."""
    unmet_mm: Spread
    """What the turf goes short of beside it, mm."""
    days_past: Spread
    """The share of days on which the soil is drier than allowed, 0–1."""


class WayCost(Frozen):
    """One way of deciding on all first evenings of a product, in shares of a whole application."""

    way: str
    """The way of deciding."""
    cost: float
    """What it cost a product and zone on average."""
    worse_by: float
    """How much more than our answer."""
    give_or_take: float
    """The standard error of that."""
    runs: float
    """The share of them for which it ran, 0–1."""
    depth_mm: float
    """The mean depth run, mm."""
    on_time: float
    """The share of them that had their least depth in time, 0–1."""


class Earned(Frozen):
    """What each part of our answer spared, in shares of a whole application for each product and zone."""

    judged: int
    """How many products on zones it was reckoned on."""
    depth: float
    """Running our depth in place of the whole one."""
    waiting: float
    """Leaving it to the rain where that is likely enough."""
    looking: float
    """Looking at the gauge before deciding."""


class ReplayFindingKind(StrEnum):
    """What there is to say of seasons lived again: the bad, the good, and what is neither."""

    REFUSED = "refused"
    LATE = "late"
    DAYS_PAST = "drier than allowed"
    PAST_MOST = "past the most"
    RULE_BETTER = "a rule is better"
    NEEDLESS = "needless"
    NIGHT_LOOKS = "looks at night"
    RULE_WORSE = "our water is less"
    ON_TIME = "on time"
    RULE_ALIKE = "a rule is as good"
    NO_PRODUCT = "no product due"
    FORESIGHT = "foresight"
    EARNED = "earned"


class ReplayFinding(Frozen):
    """One thing to say."""

    kind: ReplayFindingKind
    """What it is."""
    bad: bool
    """Whether it speaks against our advice."""
    good: bool
    """Whether it speaks for our advice; many a thing does neither."""
    text: str
    """The same in a sentence."""


class RecipeReplayed(Frozen):
    """All seasons of one lawn by one kind of forecasts."""

    forecasts: str
    """The kind of forecasts: a recipe by name, or "as archived"."""
    seasons: int
    """How many seasons were lived, each by other forecasts of the kind."""
    turf: SeasonCame
    """Ours, with nothing put down."""
    at_equal_unmet: tuple[FamilyAtEqualUnmet, ...]
    """The others where they leave the turf as short: those that need least water first."""
    with_rounds: SeasonCame | None
    """Ours with the rounds of the site file; none without rounds."""
    products: tuple[ProductsCame, ...] = ()
    """What became of the products, ours first; none without rounds."""
    costs: tuple[WayCost, ...] = ()
    """Ways of deciding on the same first evenings of the products, ours first."""
    earned: Earned | None = None
    """What the depth, the waiting and the looking each earned; none where no product was judged."""
    findings: tuple[ReplayFinding, ...] = ()
    """What there is to say, the bad first."""


class LawnReplayed(Frozen):
    """One lawn."""

    site: str
    """The site's name."""
    first: date
    """The local date of the first evening."""
    last: date
    """The local date of the last evening."""
    weather: str
    """Where the true weather is from."""
    recipes: tuple[RecipeReplayed, ...]
    """By kind of forecasts, the one with most against it first."""


class NotReplayed(Frozen):
    """A part that could not be worked out."""

    key: str
    """Which: lawn, forecasts, season, part."""
    why: str
    """Why."""


class Replayed(Frozen):
    """Seasons lived again evening by evening by our advice, beside what others would have made of them."""

    schema_version: Literal["advisor.replay/1"] = "advisor.replay/1"
    """The version of this form."""
    lawns: tuple[LawnReplayed, ...]
    """By lawn."""
    failed: tuple[NotReplayed, ...] = ()
    """What could not be worked out."""
    notes: tuple[str, ...] = ()
    """How to read it."""


class OwnWayKind(StrEnum):
    """The ways in which the owner's own season could have gone."""

    FOLLOWED = "as it was"
    ALWAYS = "always running"
    CLOCK = "the clock"
    FORESIGHT = "perfect foresight"


class WaterBeside(StrEnum):
    """How the water of a way, with what the soil is owed at the end, stands to that of the season as it was."""

    AS_MUCH = "as much"
    MORE = "more"
    LESS = "less"
    NOT_COMPARABLE = "cannot be compared"


class OwnWay(Frozen):
    """One way through the owner's own season; depths are means over the area."""

    way: OwnWayKind
    """The way."""
    litres: float
    """Water put on, L."""
    water_mm: float
    """The same, mm."""
    owed_litres: float
    """What it would have taken at the end to fill the soil again, L; whoever compares adds it."""
    owed_mm: float
    """The same, mm."""
    unmet_mm: float
    """What the turf went short of, mm."""
    runs: float
    """Runs of a zone."""
    cost: float | None
    """What the water put on costs, in the owner's money; none where its price is not declared."""
    cost_with_owed: float | None
    """What it costs with the water that the soil is owed at the end: what is to be compared."""
    beside: WaterBeside = WaterBeside.AS_MUCH
    """How its water, with what is owed, stands to that of the season as it was; foresight cannot be compared where it
    leaves a zone shorter."""
    shorter_zones: tuple[str, ...] = ()
    """The zones whose turf goes shorter than it did."""
    products: int | None = None
    """How many products on zones had to be watered in; none where the way waters the turf alone."""
    on_time: int | None = None
    """How many of them had their least depth in time."""


class OwnSeason(Frozen):
    """What the owner's own season cost, beside what it would have cost otherwise; from the records alone."""

    schema_version: Literal["advisor.replay-mine/1"] = "advisor.replay-mine/1"
    """The version of this form."""
    site: str
    """The site's name."""
    first: date
    """The local date of the first evening."""
    last: date
    """The local date of the last evening."""
    nights: int
    """How many evenings."""
    known: float
    """The share of its hours of which rain and temperature are known, 0–1."""
    by_gauge: float
    """The share of its hours whose rain rests on the gauge, 0–1."""
    runs_recorded: int
    """How many runs were recorded."""
    demand_mm: float
    """What the turf would have used had it never been short, mm."""
    rain_mm: float
    """What fell, mm."""
    ways: tuple[OwnWay, ...]
    """As it was, then the others."""
    sentences: tuple[str, ...] = ()
    """The same for a reader."""
