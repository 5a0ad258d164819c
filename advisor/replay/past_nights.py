"""Nights gone by, argued with. What would we have said, and what would it have cost?

`night` gives the advice again that a moment's inputs give, with nothing that was recorded later.
`replay_costs` lets our answer and plain rules loose on the same nights and reckons what each cost in the
rain that then fell. The rules may use what ours uses: each is tried at the whole target depth and at the
depth that we would run. Costs are the owner's prices; the judge may take other ones than the decision took.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from datetime import datetime

import numpy as np

from advisor.advice import Action, Advice
from advisor.errors import CannotAdvise
from advisor.lawn import Records, Site
from advisor.science.rain import effective_rain
from advisor.soil_water import RootZone, hour_weights
from advisor.tonight import advise, decide_night, lawn_state, what_is_asked
from advisor.watering_in import Choice, ExpectedLoss, Rain
from advisor.weather import Array, Weather

OURS = "our answer"
NO_LOOK = "our answer without looks"
FORESIGHT = "perfect foresight"
ALWAYS, HALF, NEVER = "always run", "run below a chance of 50 %", "never run"
RUNS_BELOW: Mapping[str, float] = {ALWAYS: np.inf, HALF: 0.5, NEVER: 0.0}
"""The share of the raw members that bring enough in time below which a plain rule runs."""
WHOLE, OUR_DEPTH = "the whole depth", "our depth"
USUAL = "usual prices"
PRICES: Mapping[str, Mapping[str, float]] = {
    USUAL: {},
    **{
        f"{name} × {times:g}": {name: times}
        for name in ("shortfall", "loss", "water", "run", "look", "delay")
        for times in (0.5, 2.0)
    },
}
"""What the judge may take the owner's prices times, by name."""

RECORDED_AT = {
    "applications": "ended_at",
    "runs": "ended_at",
    "gauge": "read_at",
    "probes": "read_at",
    "audits": "measured_at",
    "archive": "starts_at",
    "pairs": "starts_at",
    "stock": "changed_at",
}


@dataclass(frozen=True, eq=False, slots=True)
class PastNight:
    """One night as it was known at `now`, and the rain `fell_mm` (h,) by hour from the hour of `now` on."""

    site: Site
    records: Records
    weather: Weather
    now: datetime
    fell_mm: Array


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one way of deciding came to on one night for one product: its cost in shares of a whole
    application, whether it ran, how deep, and whether the least depth came in time."""

    cost: float
    ran: bool
    depth_mm: float
    on_time: bool


@dataclass(frozen=True, slots=True)
class RuleCost:
    """One way of deciding over all nights and products.

    `cost` in shares of a whole application; `worse_by` how much more than our answer, and `give_or_take` the
    standard error of that over the `groups` that are independent of each other, the nights where none are named.
    `runs` and `on_time` are shares, `depth_mm` the mean depth run.
    """

    rule: str
    cost: float
    worse_by: float
    give_or_take: float
    runs: float
    depth_mm: float
    on_time: float
    groups: int


@dataclass(frozen=True, slots=True)
class ReplayCosts:
    """All rules over the same nights, ours first. `expected` is what our answer was expected to cost;
    `answers` how often each was given."""

    nights: int
    rules: tuple[RuleCost, ...]
    expected: float
    answers: Mapping[str, int]

    def of(self, rule: str) -> RuleCost:
        """The row of one rule."""
        return next(row for row in self.rules if row.rule == rule)

    @property
    def earned(self) -> dict[str, float]:
        """What the depth, the waiting and the looking each earned, in shares of a whole application."""
        return earned(self.rules)


def night(*, site: Site, records: Records, weather: Weather, now: datetime) -> Advice:
    """The advice of an earlier moment from records up to then and the weather as it was told then."""
    known = {
        f.name: tuple(r for r in getattr(records, f.name) if getattr(r, RECORDED_AT[f.name]) <= now)
        for f in fields(records)
    }
    return advise(site=site, records=Records(**known), weather=weather, now=now)


def rule_name(rule: str, depth: str) -> str:
    """A plain rule with the depth that it runs."""
    return f"{rule}, {depth}"


PLAIN_RULES = (*(rule_name(rule, depth) for rule in (ALWAYS, HALF) for depth in (WHOLE, OUR_DEPTH)), NEVER)


def choices_of(past: PastNight) -> tuple[RootZone, list[Choice]]:
    """The root zone of a night and the choices that `advise` makes on it for what is open.

    The runs are taken to fit into the night: no plan is made.
    """
    lawn = lawn_state(site=past.site, records=past.records, weather=past.weather, now=past.now)
    decided = decide_night(lawn, what_is_asked(lawn), plans=False)
    return lawn.root_zone, [choice for _, choice in decided.decided if choice is not None]


def outcomes(past: PastNight) -> dict[str, list[dict[str, Outcome]]]:
    """What every way of deciding came to for each open product on each zone of a night, at each of the judge's
    `PRICES`.

    A rule's run comes at the first allowed moment; our answer is followed as it was given, a look by its own
    rule and without asking again. The decision was taken at the usual prices.
    """
    ground, choices = choices_of(past)
    return {
        name: [_judged(past, ground, choice, times) for choice in choices] for name, times in PRICES.items()
    }


def replay_costs(nights: Sequence[PastNight]) -> ReplayCosts:
    """What our answer and the plain rules cost on these nights at the usual prices; every open product on every
    zone counts.

    See `outcomes`. Raises CannotAdvise where nothing is open.
    """
    judged: list[dict[str, Outcome]] = []
    expected: list[float] = []
    answers: Counter[str] = Counter()
    for past in nights:
        ground, choices = choices_of(past)
        for choice in choices:
            judged.append(_judged(past, ground, choice, {}))
            expected.append(choice.cost)
            answers[choice.action] += 1
    if not judged:
        raise CannotAdvise("none of these nights has a product that is still to be watered in")
    return ReplayCosts(len(judged), rows_of(judged), float(np.mean(expected)), dict(answers))


def earned(rows: Sequence[RuleCost]) -> dict[str, float]:
    """What the depth, the waiting and the looking each earned over these rows of all ways of deciding."""
    cost = {row.rule: row.cost for row in rows}
    always = cost[rule_name(ALWAYS, OUR_DEPTH)]
    return {
        "depth": cost[rule_name(ALWAYS, WHOLE)] - always,
        "waiting": always - cost[NO_LOOK],
        "looking": cost[NO_LOOK] - cost[OURS],
    }


def rows_of(
    judged: Sequence[Mapping[str, Outcome]], groups: Sequence[Hashable] | None = None
) -> tuple[RuleCost, ...]:
    """Every way of deciding over all that was judged, ours first.

    `groups`, one for each that was judged, are what is independent of each other: products of one evening or
    season share its rain, so the mean and its error are those over groups.
    """
    return tuple(_row(rule, judged, groups or range(len(judged))) for rule in judged[0])


def _judged(
    past: PastNight, ground: RootZone, choice: Choice, prices: Mapping[str, float]
) -> dict[str, Outcome]:
    """What each way of deciding would have come to for one open product in the rain that fell."""
    asked = choice.expected_loss
    costs = replace(asked.costs, **{name: getattr(asked.costs, name) * by for name, by in prices.items()})
    truth = asked.in_rain(_as_it_fell(past, ground, asked), costs)
    chance = raw_chance(past.weather, asked)
    depths = {WHOLE: float(truth.depths()[-1]), OUR_DEPTH: choice.top_up_mm}
    found = {OURS: _followed(choice, truth), NO_LOOK: _without_look(choice, truth)}
    for rule in (ALWAYS, HALF):
        for name, depth in depths.items():
            runs = chance < RUNS_BELOW[rule]
            found[rule_name(rule, name)] = _run(truth, depth) if runs else _left(truth)
    found[NEVER] = _left(truth)
    tried = [_run(truth, float(depth)) for depth in truth.depths()]
    found[FORESIGHT] = min([*tried, found[NEVER]], key=lambda outcome: outcome.cost)
    return found


def _row(rule: str, judged: Sequence[Mapping[str, Outcome]], groups: Sequence[Hashable]) -> RuleCost:
    """One rule over all nights, held against our answer."""
    mine = [each[rule] for each in judged]
    cost = _by_group([each.cost for each in mine], groups)
    more = cost - _by_group([each[OURS].cost for each in judged], groups)
    give_or_take = float(more.std(ddof=1) / np.sqrt(len(more))) if len(more) > 1 else 0.0
    return RuleCost(
        rule=rule,
        cost=float(cost.mean()),
        worse_by=float(more.mean()),
        give_or_take=give_or_take,
        runs=float(np.mean([each.ran for each in mine])),
        depth_mm=float(np.mean([each.depth_mm for each in mine])),
        on_time=float(np.mean([each.on_time for each in mine])),
        groups=len(more),
    )


def _by_group(values: Sequence[float], groups: Sequence[Hashable]) -> Array:
    """The mean of each group, (g,), in the order in which groups first come."""
    gathered: dict[Hashable, list[float]] = {}
    for value, group in zip(values, groups, strict=True):
        gathered.setdefault(group, []).append(value)
    return np.array([np.mean(each) for each in gathered.values()])


def _as_it_fell(past: PastNight, ground: RootZone, asked: ExpectedLoss) -> Rain:
    """What fell, as one member, and what of it entered this zone's soil."""
    figures = ground.figures[asked.obligation.zone_index]
    fell = np.asarray(past.fell_mm, dtype=np.float64)[None, :]
    net = effective_rain(
        rain_mm=fell,
        interception_mm=past.site.judgement.rain.interception_mm,
        intake_mm_h=figures.intake_mm_h,
        accumulation_mm=figures.accumulation_mm,
    ).net_mm
    return Rain(asked.rain.first, fell, net)


def _followed(choice: Choice, truth: ExpectedLoss) -> Outcome:
    """What following our answer came to in the rain that fell."""
    if choice.action == Action.WAIT and choice.look_at is not None and choice.under_mm is not None:
        runs = bool(truth.read([choice.look_at])[0, 0] < choice.under_mm)
        found = _run(truth, choice.look_top_up_mm, choice.look_at) if runs else _left(truth)
        return replace(found, cost=found.cost + truth.costs.look)
    return _run(truth, choice.top_up_mm) if choice.action == Action.RUN else _left(truth)


def _without_look(choice: Choice, truth: ExpectedLoss) -> Outcome:
    """What the better of a run and the rain came to, by what each was expected to cost."""
    best = min((w for w in choice.ways if w.action != Action.WAIT), key=lambda way: way.cost)
    return _run(truth, best.top_up_mm) if best.action == Action.RUN else _left(truth)


def _left(truth: ExpectedLoss) -> Outcome:
    """What leaving it to the rain came to."""
    on_time = bool(truth.by_due[0] >= truth.obligation.least_mm - 1e-9)
    return Outcome(float(truth.left()[0]), ran=False, depth_mm=0.0, on_time=on_time)


def _run(truth: ExpectedLoss, depth_mm: float, at: datetime | None = None) -> Outcome:
    """What a run so deep came to, at the first chance where no time is given; none where there is no chance."""
    at = at or truth.run_at
    if at is None:
        return _left(truth)
    one = truth.obligation
    rained = float(truth.by_due[0])
    had = max(rained, depth_mm) if one.product.kind.single_event else rained + depth_mm
    in_time = at + truth.run_time <= truth.due
    enough = had if in_time else rained
    return Outcome(
        cost=float(truth.run(np.array([depth_mm]), at)[0, 0]),
        ran=True,
        depth_mm=depth_mm,
        on_time=bool(enough >= one.least_mm - 1e-9),
    )


def raw_chance(weather: Weather, asked: ExpectedLoss) -> float:
    """The share of the raw members that bring at the gauge what is missing before a run has to be over."""
    inside = hour_weights(weather, asked.begin, asked.by)
    brings = np.nan_to_num(weather.members_mm) @ inside >= asked.obligation.missing_mm
    return float(brings.mean()) if len(brings) else 0.0
