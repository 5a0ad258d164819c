"""Will the rain do it? For one obligation on one zone: leave it to rain, run, or wait and look again.

The way with the least expected cost over the members; of ways that cost hardly more, the one that asks
least of the owner. Waiting is worth what the best rule of the form "look then: under so much in the gauge,
run so deep" is worth, over all looks that the rules leave time for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import lru_cache

import numpy as np

from advisor.advice import Action
from advisor.hours import Window
from advisor.lawn import Decision, Judgement, Kind
from advisor.science.chance import quantile, share_of
from advisor.watering_in.applications import ZoneApplication
from advisor.watering_in.expected_loss import Costs, ExpectedLoss, Rain
from advisor.weather import Array

INCH = 25.4
UNDER_MM: dict[str, tuple[float, ...]] = {  # what a gauge is read against, in whole marks
    "metric": (0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 13.0, 16.0, 20.0, 25.0),
    "us": tuple(INCH * x for x in (0.02, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.75, 1.0)),
}
LEAST_TROUBLE = (Action.RAIN, Action.RUN, Action.WAIT)  # which of nearly equal ways is taken
ALIKE = 1e-9  # costs that differ by less are alike: the first stands, in whatever order they were added
STEPS_MIN = (30, 60, 180)  # looks in the first, the second and any later opening


@dataclass(frozen=True, slots=True)
class Way:
    """One way to act and its expected cost; `under_mm` and `look_at` for waiting."""

    action: Action
    cost: float
    top_up_mm: float
    look_at: datetime | None = None
    under_mm: float | None = None


@dataclass(frozen=True, eq=False, slots=True)
class Choice:
    """The decision for one obligation on one zone, with what it rests on. Depths effective mm.

    `top_up_mm` is the run's depth if it had to be run at the first chance; `chance` that of rain alone
    reaching the least depth by `by`, when a run has to be over too; `mean_mm` with `low_mm` and
    `high_mm` (10–90 %) the rain from when it counts until then. `in_time` is False where no allowed
    hour is left before the due time.
    """

    action: Action
    ways: tuple[Way, ...]
    top_up_mm: float
    look_at: datetime | None
    under_mm: float | None
    look_top_up_mm: float
    chance: float
    chance_too_much: float
    mean_mm: float
    low_mm: float
    high_mm: float
    share_known: float
    by: datetime
    in_time: bool
    expected_loss: ExpectedLoss

    @property
    def cost(self) -> float:
        """The expected cost of the chosen way."""
        return next(w.cost for w in self.ways if w.action == self.action)

    def with_run(self, depth_mm: float) -> Choice:
        """The same with a run so deep as the answer."""
        run = Way(Action.RUN, self.expected(depth_mm), depth_mm)
        ways = tuple(run if w.action == Action.RUN else w for w in self.ways)
        return replace(
            self,
            action=Action.RUN,
            ways=ways,
            top_up_mm=depth_mm,
            look_at=None,
            under_mm=None,
            look_top_up_mm=0.0,
        )

    def with_rain(self) -> Choice:
        """The same, left to the rain."""
        return replace(self, action=Action.RAIN, look_at=None, under_mm=None, look_top_up_mm=0.0)

    def with_look(self, at: datetime, under_mm: float, depth_mm: float) -> Choice:
        """The same with another look, the one at which its zone is decided."""
        ways = tuple(
            replace(w, look_at=at, under_mm=under_mm, top_up_mm=depth_mm) if w.action == Action.WAIT else w
            for w in self.ways
        )
        return replace(self, ways=ways, look_at=at, under_mm=under_mm, look_top_up_mm=depth_mm)

    @property
    def can_run(self) -> bool:
        """Whether any coming night has hours for a run."""
        return any(w.action == Action.RUN for w in self.ways)

    def can_run_before(self, ends_at: datetime | None) -> bool:
        """Whether the first chance to run comes before tonight's hours are over."""
        at = self.expected_loss.run_at
        return at is not None and ends_at is not None and at < ends_at

    def expected(self, depth_mm: float) -> float:
        """The expected cost of a run so deep at the first chance."""
        at = self.expected_loss.run_at or self.by
        return float(self.expected_loss.run(np.array([depth_mm]), at).mean())


Decided = tuple[ZoneApplication, Choice | None]
"""An application on a zone with its decision, None where it asks nothing any more."""


def costs_of(decision: Decision, judgement: Judgement, kind: Kind, sharing: int = 1) -> Costs:
    """The costs for a kind of product under the owner's dial, with the owner's own figures over them.

    `sharing` products that ask the same share the water of one run and the trouble of one run or look.
    """
    dial, own, usual = decision.dial, decision.costs, judgement.costs
    return Costs(
        shortfall=own.get("shortfall", kind.shortfall_cost * usual.shortfall.of(dial)),
        loss=own.get("loss", kind.loss_cost * usual.loss.of(dial)),
        water=own.get("water", usual.water.of(dial)) / sharing,
        run=own.get("run", usual.run) / sharing,
        look=own.get("look", usual.look) / sharing,
        delay=usual.delay,
        aim=usual.aim,
        still_saves=usual.still_saves,
    )


@dataclass(frozen=True, eq=False, slots=True)
class Question:
    """What is to be decided for one open application on one zone, with all that it hangs on.

    `openings` are the stretches in which its zone may be watered for it; `run_time` how long the runs
    that may be due take with their soaks, and `takes` how long when they are so deep (else always
    `run_time`): a shallow run leaves time for a later look. `trouble` is what a look at a time costs
    beyond the usual, `before` the answer given earlier for the same night. No run is deeper than
    `deepest_mm`, which is at least what is missing; no look comes sooner than `no_look_before`, where the
    question was put before and is to be closed, and none at all where no rain is to be looked for.
    """

    application: ZoneApplication
    rain: Rain
    openings: tuple[Window, ...]
    costs: Costs
    judgement: Judgement
    run_time: timedelta
    now: datetime
    takes: Callable[[float], timedelta] | None = None
    units: str = "metric"
    trouble: Callable[[datetime], float] = lambda _: 0.0
    before: str | None = None
    deepest_mm: float = np.inf
    no_look_before: datetime | None = None

    def time_of(self, depth_mm: float) -> timedelta:
        """How long the runs take when they are so deep."""
        return self.run_time if self.takes is None else self.takes(depth_mm)


def decide(question: Question) -> Choice:
    """Choose between rain, a run and a later look for one open application."""
    rain = question.rain
    loss = ExpectedLoss(
        obligation=question.application,
        rain=Rain(rain.first, with_dry(rain.gross_mm), with_dry(rain.net_mm)),
        openings=question.openings,
        costs=question.costs,
        judgement=question.judgement,
        run_time=question.run_time,
        now=question.now,
    )
    depths = loss.depths()
    depths = depths[: max(1, int(np.searchsorted(depths, question.deepest_mm + 1e-9)))]
    ways, best = _ways(question, loss, depths)
    chosen = _chosen(question, ways, loss)
    enough, fallen = question.application.least_mm - 1e-9, loss.fallen[:-1]
    return Choice(
        action=chosen.action,
        ways=tuple(ways),
        top_up_mm=float(depths[best]),
        look_at=chosen.look_at,
        under_mm=chosen.under_mm,
        look_top_up_mm=chosen.top_up_mm if chosen.action == Action.WAIT else 0.0,
        chance=share_of(loss.by_then[:-1] >= enough),
        chance_too_much=share_of(loss.flood[:-1] > question.application.most_mm),
        mean_mm=float(fallen.mean()),
        low_mm=quantile(fallen, 0.1),
        high_mm=quantile(fallen, 0.9),
        share_known=loss.share_known,
        by=loss.by,
        in_time=loss.in_time,
        expected_loss=loss,
    )


def _ways(question: Question, loss: ExpectedLoss, depths: Array) -> tuple[list[Way], int]:
    """The ways that there are, and which of the depths is the best for a run at the first chance."""
    ways = [Way(Action.RAIN, float(loss.left().mean()), 0.0)]
    if loss.run_at is None:
        return ways, 0
    per_depth = loss.run(depths, loss.run_at).mean(axis=1)
    best = _first_of_the_best(per_depth)
    ways.append(Way(Action.RUN, float(per_depth[best]), float(depths[best])))
    if loss.may_rain:
        wait = best_wait(question, loss, depths)
        ways += [wait] if wait is not None else []
    return ways, best


def _chosen(question: Question, ways: Sequence[Way], loss: ExpectedLoss) -> Way:
    """The least trouble of the ways that cost hardly more than the best; an earlier answer stands so long."""
    if loss.run_at is None:
        return ways[0]
    kept = next((w for w in ways if w.action == question.before), None)
    if kept is not None and kept.cost <= min(w.cost for w in ways) + question.judgement.looks.keep_within:
        return kept
    nearly = question.judgement.looks.nearly
    return _least_trouble(ways, nearly) if loss.may_rain else min(ways, key=lambda w: w.cost)


def _least_trouble(ways: Sequence[Way], nearly: float) -> Way:
    """Of the ways that cost hardly more than the best the one that asks least of the owner."""
    best = min(w.cost for w in ways)
    return min((w for w in ways if w.cost <= best + nearly), key=lambda w: LEAST_TROUBLE.index(w.action))


def with_dry(members_mm: Array) -> Array:
    """The members (m, h) and a dry one after them."""
    all_mm = np.zeros((members_mm.shape[0] + 1, members_mm.shape[1]))
    all_mm[:-1] = members_mm
    return all_mm


def _first_of_the_best(cost: Array) -> int:
    return int(np.argmax(cost <= cost.min() + ALIKE))


def best_wait(question: Question, loss: ExpectedLoss, depths: Array) -> Way | None:
    """The best rule "look at L: under x mm in the gauge, run u" over all L, x and u; None without a look."""
    until = min(loss.horizon, loss.rain.until)
    soonest = loss.now + timedelta(minutes=question.judgement.looks.soonest_min)
    times = [question.time_of(float(depth)) for depth in depths]
    looks = sorted(
        {
            t
            for time in set(times)
            for t in look_times(loss.openings, time, soonest, until)
            if question.no_look_before is None or t >= question.no_look_before
        },
        reverse=True,  # of looks that are worth the same the latest is taken
    )
    if not looks:
        return None
    stamps = np.array([look.timestamp() for look in looks])
    closes = np.array([w.ends_at.timestamp() for w in loss.openings])
    ends = np.minimum(closes[np.searchsorted(closes, stamps, side="right")], until.timestamp())
    lengths = np.array([time.total_seconds() for time in times])
    fits = stamps[:, None] + lengths <= ends[:, None]
    under, costs, left = np.array(UNDER_MM[question.units]), loss.costs, loss.left()
    runs = (loss.read(looks).T[:, None, :] < under[None, :, None]).astype(np.float64)  # (l, x, m)
    in_time = stamps + loss.run_time.total_seconds() <= loss.due.timestamp()
    punctual, late = (
        loss.top_up_cost(depths, each) if (in_time == each).any() else 0.0 for each in (True, False)
    )
    extra = np.where(in_time[:, None, None], punctual, late)
    extra = extra + loss.late_costs(stamps)[:, None, :] + costs.run - left  # (l, u, m)
    cost = left.mean() + np.matmul(runs, extra.transpose(0, 2, 1)) / len(left) + costs.look
    cost = cost + np.array([question.trouble(look) for look in looks])[:, None, None]
    cost = np.where(fits[:, None, :], cost, np.inf)
    if not np.isfinite(cost).any():
        return None
    look_i, x, u = (int(i) for i in np.unravel_index(_first_of_the_best(cost), cost.shape))
    return Way(Action.WAIT, float(cost[look_i, x, u]), float(depths[u]), looks[look_i], float(under[x]))


@lru_cache(maxsize=256)
def look_times(
    openings: tuple[Window, ...], run_time: timedelta, soonest: datetime, until: datetime
) -> tuple[datetime, ...]:
    """When to look, not before `soonest`, so that a run may follow at once and be over by `until`.

    Every half hour of the first opening, every hour of the second, every third hour of the
    others, and the last quarter of each that leaves time for the run.
    """
    looks: list[datetime] = []
    for number, opening in enumerate(openings):
        step = 60 * STEPS_MIN[min(number, len(STEPS_MIN) - 1)]
        first = max(opening.starts_at, soonest).timestamp()
        last = (opening.ends_at - run_time).timestamp()
        stamps = {float(s * step) for s in range(-int(-first // step), int(last // step) + 1)}
        stamps |= {last // 900 * 900} if last // 900 * 900 >= first else set()
        latest = min(last, (until - run_time).timestamp())
        looks += [datetime.fromtimestamp(s, soonest.tzinfo) for s in sorted(stamps) if s <= latest]
    return tuple(looks)
