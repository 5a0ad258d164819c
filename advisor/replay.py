"""Use case: nights gone by, argued with. What would we have said, and what would it have cost?

`night` gives the advice again that a moment's inputs give, with nothing that was recorded later.
`replay_costs` lets our answer and three plain rules loose on the same nights and reckons what each
cost in the rain that then fell, by the same figures. Pure: no files, no clock.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields
from datetime import datetime

import numpy as np

from advisor.advice import Advice
from advisor.errors import CannotAdvise
from advisor.lawn import Records, Site
from advisor.science.rain import effective_rain
from advisor.soil_water import RootZone, hour_weights
from advisor.tonight import advise, decide_night, lawn_state, what_is_asked
from advisor.watering_in import Choice, ExpectedLoss, Rain
from advisor.weather import Array, Weather

OURS = "our answer"
FORECAST_MM = 0.1  # a forecast of less is one of no rain

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
class RuleCost:
    """What one way of deciding cost a night and product, in shares of a whole application.

    `worse_by` is how much more than our answer, `give_or_take` its standard error over the nights.
    `runs` is the share of nights on which it ran.
    """

    rule: str
    cost: float
    worse_by: float
    give_or_take: float
    runs: float


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


def night(*, site: Site, records: Records, weather: Weather, now: datetime) -> Advice:
    """The advice of an earlier moment from records up to then and the weather as it was told then."""
    known = {
        f.name: tuple(r for r in getattr(records, f.name) if getattr(r, RECORDED_AT[f.name]) <= now)
        for f in fields(records)
    }
    return advise(site=site, records=Records(**known), weather=weather, now=now)


def unless_likely(missing_mm: float, raw_mm: Array) -> bool:
    """Run where fewer than half of the raw members (m,) bring what is missing in time."""
    return float((raw_mm >= missing_mm).mean()) < 0.5


PLAIN_RULES: Mapping[str, Callable[[float, Array], bool]] = {
    "always run": lambda _missing_mm, _raw_mm: True,
    "run when the raw chance is below 50 %": unless_likely,
    "never run when rain is forecast": lambda _missing_mm, raw_mm: float(raw_mm.mean()) < FORECAST_MM,
}


def choices_of(past: PastNight) -> tuple[RootZone, list[Choice]]:
    """The root zone of a night and the choices that `advise` makes on it for what is open.

    The runs are taken to fit into the night: no plan is made.
    """
    lawn = lawn_state(site=past.site, records=past.records, weather=past.weather, now=past.now)
    decided = decide_night(lawn, what_is_asked(lawn), plans=False)
    return lawn.root_zone, [choice for _, choice in decided.decided if choice is not None]


def replay_costs(nights: Sequence[PastNight]) -> ReplayCosts:
    """What our answer and the plain rules cost on these nights; every open product on every zone counts.

    A rule's run is the whole target depth at the first allowed moment; our answer is followed as it was
    given, a look by its own rule and without asking again. Raises CannotAdvise where nothing is open.
    """
    judged: list[dict[str, tuple[float, bool]]] = []
    expected: list[float] = []
    answers: Counter[str] = Counter()
    for past in nights:
        ground, choices = choices_of(past)
        for choice in choices:
            judged.append(_judged(past, ground, choice))
            expected.append(choice.cost)
            answers[choice.action] += 1
    if not judged:
        raise CannotAdvise("none of these nights has a product that is still to be watered in")
    rows = tuple(_row(rule, judged) for rule in (OURS, *PLAIN_RULES))
    return ReplayCosts(len(judged), rows, float(np.mean(expected)), dict(answers))


def _judged(past: PastNight, ground: RootZone, choice: Choice) -> dict[str, tuple[float, bool]]:
    """What each rule would have cost for one open product in the rain that fell, and whether it ran."""
    expected_loss = choice.expected_loss
    truth = expected_loss.in_rain(_as_it_fell(past, ground, expected_loss))
    raw_mm, missing_mm = _raw_totals(past, expected_loss), expected_loss.obligation.missing_mm
    found = {OURS: _followed(choice, truth)}
    for rule, says_run in PLAIN_RULES.items():
        run = says_run(missing_mm, raw_mm) and truth.run_at is not None
        found[rule] = (_whole_run(truth) if run else float(truth.left()[0]), run)
    return found


def _row(rule: str, judged: Sequence[Mapping[str, tuple[float, bool]]]) -> RuleCost:
    """One rule over all nights, held against our answer."""
    cost = np.array([each[rule][0] for each in judged])
    more = cost - np.array([each[OURS][0] for each in judged])
    give_or_take = float(more.std(ddof=1) / np.sqrt(len(more))) if len(more) > 1 else 0.0
    ran = float(np.mean([each[rule][1] for each in judged]))
    return RuleCost(rule, float(cost.mean()), float(more.mean()), give_or_take, ran)


def _as_it_fell(past: PastNight, ground: RootZone, expected_loss: ExpectedLoss) -> Rain:
    """What fell, as one member, and what of it entered this zone's soil."""
    figures = ground.figures[expected_loss.obligation.zone_index]
    fell = np.asarray(past.fell_mm, dtype=np.float64)[None, :]
    net = effective_rain(
        rain_mm=fell,
        interception_mm=past.site.judgement.rain.interception_mm,
        intake_mm_h=figures.intake_mm_h,
        accumulation_mm=figures.accumulation_mm,
    ).net_mm
    return Rain(expected_loss.rain.first, fell, net)


def _followed(choice: Choice, truth: ExpectedLoss) -> tuple[float, bool]:
    """What following our answer cost in the rain that fell, and whether it came to a run."""
    if choice.action == "wait" and choice.look_at is not None and choice.under_mm is not None:
        cost = truth.after_look(choice.look_at, choice.under_mm, choice.look_top_up_mm)
        return float(cost[0]), bool(truth.read([choice.look_at])[0, 0] < choice.under_mm)
    if choice.action == "run" and truth.run_at is not None:
        return float(truth.run(np.array([choice.top_up_mm]), truth.run_at)[0, 0]), True
    return float(truth.left()[0]), False


def _whole_run(truth: ExpectedLoss) -> float:
    at = truth.run_at
    return float(truth.run(truth.depths()[-1:], truth.by if at is None else at)[0, 0])


def _raw_totals(past: PastNight, expected_loss: ExpectedLoss) -> Array:
    """What the raw members bring at the gauge from when rain counts until a run has to be over, (m,)."""
    inside = hour_weights(past.weather, expected_loss.begin, expected_loss.by)
    return np.asarray(np.nan_to_num(past.weather.members_mm) @ inside)
