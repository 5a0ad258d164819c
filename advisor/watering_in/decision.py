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

from advisor.hours.window import Window
from advisor.lawn.products import Kind
from advisor.lawn.site_values import Decision
from advisor.science.chance import quantile
from advisor.watering_in.applications import ZoneApplication
from advisor.watering_in.expected_loss import Costs, ExpectedLoss, Rain
from advisor.weather.weather import Array

DIALS: dict[str, dict[str, float]] = {
    # multipliers; common practice, no source
    "thrifty": {"shortfall": 0.7, "loss": 1.0, "water": 2.0},
    "balanced": {"shortfall": 1.0, "loss": 1.0, "water": 1.0},
    "cautious": {"shortfall": 1.6, "loss": 1.0, "water": 0.4},
}
INCH = 25.4
UNDER_MM: dict[str, tuple[float, ...]] = {  # what a gauge is read against, in whole marks
    "metric": (0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 13.0, 16.0, 20.0, 25.0),
    "us": tuple(INCH * x for x in (0.02, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.75, 1.0)),
}
NEARLY = 0.01  # ways that cost no more than this above the best are as good
LEAST_TROUBLE = ("rain", "run", "wait")  # which of such ways is taken
KEEP_WITHIN = 0.02  # an earlier answer stands while it costs no more than this above the best
SOONEST_LOOK = timedelta(minutes=45)
STEPS_MIN = (30, 60, 180)  # looks in the first, the second and any later opening


@dataclass(frozen=True, slots=True)
class Way:
    """One way to act and its expected cost; `under_mm` and `look_at` for waiting."""

    action: str
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

    action: str
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
        run = Way("run", self.expected(depth_mm), depth_mm)
        ways = tuple(run if w.action == "run" else w for w in self.ways)
        return replace(
            self, action="run", ways=ways, top_up_mm=depth_mm, look_at=None, under_mm=None, look_top_up_mm=0.0
        )

    def with_rain(self) -> Choice:
        """The same, left to the rain."""
        return replace(self, action="rain", look_at=None, under_mm=None, look_top_up_mm=0.0)

    def with_look(self, at: datetime, under_mm: float, depth_mm: float) -> Choice:
        """The same with another look, the one at which its zone is decided."""
        ways = tuple(
            replace(w, look_at=at, under_mm=under_mm, top_up_mm=depth_mm) if w.action == "wait" else w
            for w in self.ways
        )
        return replace(self, ways=ways, look_at=at, under_mm=under_mm, look_top_up_mm=depth_mm)

    def expected(self, depth_mm: float) -> float:
        """The expected cost of a run so deep at the first chance."""
        at = self.expected_loss.run_at or self.by
        return float(self.expected_loss.run(np.array([depth_mm]), at).mean())


def costs_of(decision: Decision, kind: Kind, sharing: int = 1) -> Costs:
    """The costs for a kind of product under the owner's dial, with the owner's own figures over them.

    `sharing` products that ask the same share the water of one run and the trouble of one run or look.
    """
    dial, own, usual = DIALS[decision.dial], decision.costs, Costs(0.0, 0.0)
    return Costs(
        shortfall=own.get("shortfall", kind.shortfall_cost * dial["shortfall"]),
        loss=own.get("loss", kind.loss_cost * dial["loss"]),
        water=own.get("water", usual.water * dial["water"]) / sharing,
        run=own.get("run", usual.run) / sharing,
        look=own.get("look", usual.look) / sharing,
    )


def decide(
    *,
    obligation: ZoneApplication,
    rain: Rain,
    openings: Sequence[Window],
    costs: Costs,
    run_time: timedelta,
    now: datetime,
    takes: Callable[[float], timedelta] | None = None,
    units: str = "metric",
    trouble: Callable[[datetime], float] = lambda _: 0.0,
    before: str | None = None,
    deepest_mm: float = np.inf,
    no_look_before: datetime | None = None,
) -> Choice:
    """Choose between rain, a run and a later look for one open obligation.

    `openings` are the stretches in which its zone may be watered for it; `run_time` how long the runs
    that may be due take with their soaks, and `takes` how long when they are so deep (else always
    `run_time`): a shallow run leaves time for a later look. `trouble` is what a look at a time costs
    beyond the usual, `before` the answer given earlier for the same night. No run is deeper than
    `deepest_mm`, which is at least what is missing; no look comes sooner than `no_look_before`, where the
    question was put before and is to be closed, and none at all where no rain is to be looked for.
    """
    doubted = Rain(rain.first, with_dry(rain.gross_mm), with_dry(rain.net_mm))
    expected_loss = ExpectedLoss(
        obligation=obligation, rain=doubted, openings=openings, costs=costs, run_time=run_time, now=now
    )
    depths = expected_loss.depths()
    depths = depths[: max(1, int(np.searchsorted(depths, deepest_mm + 1e-9)))]
    best = 0
    ways = [Way("rain", float(expected_loss.left().mean()), 0.0)]
    if expected_loss.run_at is not None:
        per_depth = expected_loss.run(depths, expected_loss.run_at).mean(axis=1)
        best = int(np.argmin(per_depth))
        ways.append(Way("run", float(per_depth[best]), float(depths[best])))
        may_rain = expected_loss.may_rain()
        if may_rain:
            time_of = takes or (lambda _: run_time)
            wait = best_wait(expected_loss, depths, UNDER_MM[units], trouble, time_of, no_look_before)
            ways += [wait] if wait is not None else []
        chosen = _least_trouble(ways) if may_rain else min(ways, key=lambda w: w.cost)
        kept = next((w for w in ways if w.action == before), None)
        if kept is not None and kept.cost <= min(w.cost for w in ways) + KEEP_WITHIN:
            chosen = kept
    else:
        chosen = ways[0]
    enough, fallen = obligation.least_mm - 1e-9, expected_loss.fallen[:-1]
    return Choice(
        action=chosen.action,
        ways=tuple(ways),
        top_up_mm=float(depths[best]),
        look_at=chosen.look_at,
        under_mm=chosen.under_mm,
        look_top_up_mm=chosen.top_up_mm if chosen.action == "wait" else 0.0,
        chance=float((expected_loss.by_then[:-1] >= enough).mean()),
        chance_too_much=float((expected_loss.flood[:-1] > obligation.most_mm).mean()),
        mean_mm=float(fallen.mean()),
        low_mm=quantile(fallen, 0.1),
        high_mm=quantile(fallen, 0.9),
        share_known=expected_loss.share_known,
        by=expected_loss.by,
        in_time=expected_loss.in_time,
        expected_loss=expected_loss,
    )


def _least_trouble(ways: Sequence[Way]) -> Way:
    """Of the ways that cost hardly more than the best the one that asks least of the owner."""
    best = min(w.cost for w in ways)
    return min((w for w in ways if w.cost <= best + NEARLY), key=lambda w: LEAST_TROUBLE.index(w.action))


def with_dry(members_mm: Array) -> Array:
    """The members (m, h) and a dry one after them."""
    return np.vstack([members_mm, np.zeros((1, members_mm.shape[1]))])


def best_wait(
    expected_loss: ExpectedLoss,
    depths: Array,
    under_mm: Sequence[float],
    trouble: Callable[[datetime], float],
    takes: Callable[[float], timedelta],
    not_before: datetime | None = None,
) -> Way | None:
    """The best rule "look at L: under x mm in the gauge, run u" over all L, x and u; None without a look."""
    until = min(expected_loss.horizon, expected_loss.rain.until)
    times = [takes(float(depth)) for depth in depths]
    looks = sorted(
        {
            t
            for time in set(times)
            for t in look_times(expected_loss.openings, time, expected_loss.now, until)
            if not_before is None or t >= not_before
        },
        reverse=True,  # of looks that are worth the same the latest is taken
    )
    if not looks:
        return None
    stamps = np.array([look.timestamp() for look in looks])
    closes = np.array([w.ends_at.timestamp() for w in expected_loss.openings])
    ends = np.minimum(closes[np.searchsorted(closes, stamps, side="right")], until.timestamp())
    lengths = np.array([time.total_seconds() for time in times])
    fits = stamps[:, None] + lengths <= ends[:, None]
    under, costs, left = np.array(under_mm), expected_loss.costs, expected_loss.left()
    runs = (expected_loss.read(looks).T[:, None, :] < under[None, :, None]).astype(np.float64)  # (l, x, m)
    in_time = stamps + expected_loss.run_time.total_seconds() <= expected_loss.due.timestamp()
    extra = np.where(
        in_time[:, None, None],
        expected_loss.top_up_cost(depths, True),
        expected_loss.top_up_cost(depths, False),
    )
    extra = extra + expected_loss.late_costs(stamps)[:, None, :] + costs.run - left  # (l, u, m)
    cost = left.mean() + np.matmul(runs, extra.transpose(0, 2, 1)) / len(left) + costs.look
    cost = cost + np.array([trouble(look) for look in looks])[:, None, None]
    cost = np.where(fits[:, None, :], cost, np.inf)
    if not np.isfinite(cost).any():
        return None
    look_i, x, u = (int(i) for i in np.unravel_index(int(np.argmin(cost)), cost.shape))
    return Way("wait", float(cost[look_i, x, u]), float(depths[u]), looks[look_i], float(under[x]))


@lru_cache(maxsize=256)
def look_times(
    openings: tuple[Window, ...], run_time: timedelta, now: datetime, until: datetime
) -> tuple[datetime, ...]:
    """When to look so that a run may follow at once and be over by `until`.

    Every half hour of the first opening, every hour of the second, every third hour of the
    others, and the last quarter of each that leaves time for the run.
    """
    looks: list[datetime] = []
    for number, opening in enumerate(openings):
        step = 60 * STEPS_MIN[min(number, len(STEPS_MIN) - 1)]
        first = max(opening.starts_at, now + SOONEST_LOOK).timestamp()
        last = (opening.ends_at - run_time).timestamp()
        stamps = {float(s * step) for s in range(-int(-first // step), int(last // step) + 1)}
        stamps |= {last // 900 * 900} if last // 900 * 900 >= first else set()
        latest = min(last, (until - run_time).timestamp())
        looks += [datetime.fromtimestamp(s, now.tzinfo) for s in sorted(stamps) if s <= latest]
    return tuple(looks)
