"""Will the rain do it? For one obligation on one zone: leave it to rain, run, or wait and look again.

Least expected cost over the members. Costs are relative to losing the whole application (1.0):
what a shortfall costs by kind of product, water, losing product to too much, and the trouble of a
run or a look. Every cost is convex in the depth received, so more rain never asks for a longer run.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from advisor.advice.obligations import Obligation
from advisor.advice.wants import Window
from advisor.lawn.products import Kind
from advisor.lawn.site import Decision
from advisor.science.events import largest_event
from advisor.weather.weather import Array

DIALS: dict[str, dict[str, float]] = {
    # multipliers; common practice, no source
    "thrifty": {"shortfall": 0.7, "loss": 1.0, "water": 2.0},
    "balanced": {"shortfall": 1.0, "loss": 1.0, "water": 1.0},
    "cautious": {"shortfall": 1.6, "loss": 1.0, "water": 0.4},
}
WATER, RUN, LOOK, DELAY, AIM = 0.06, 0.01, 0.015, 0.05, 0.15
UNDER_MM = (0.5, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 13.0, 16.0, 20.0, 25.0)
KEEP_WITHIN = 0.02  # an earlier answer stands while it costs no more than this above the best


@dataclass(frozen=True, slots=True)
class Costs:
    """What being wrong costs, relative to the whole application.

    `shortfall` nothing watered in; `aim` the part of it between the least and the target depth;
    `loss` per most-depth of water beyond the most; `water` the target depth of irrigation; `run` and
    `look` the trouble; `delay` nothing received until the due time where sooner is better.
    """

    shortfall: float
    loss: float
    water: float = WATER
    run: float = RUN
    look: float = LOOK
    delay: float = DELAY
    aim: float = AIM


def costs_of(decision: Decision, kind: Kind) -> Costs:
    """The costs for a kind of product under the owner's dial, with the owner's own figures over them."""
    dial = DIALS[decision.dial]
    own = decision.costs
    return Costs(
        shortfall=own.get("shortfall", kind.shortfall_cost * dial["shortfall"]),
        loss=own.get("loss", kind.loss_cost * dial["loss"]),
        water=own.get("water", WATER * dial["water"]),
        run=own.get("run", RUN),
        look=own.get("look", LOOK),
    )


@dataclass(frozen=True, eq=False, slots=True)
class Rain:
    """The members' rain from the hour of `now` on. `gross_mm` (m, h) at the gauge, `net_mm` (m, h)
    into this zone's soil, both NaN where unknown; hour i starts at `first + i h`."""

    first: datetime
    gross_mm: Array
    net_mm: Array

    @property
    def until(self) -> datetime:
        """Where the known part ends."""
        return self.first + timedelta(hours=self.gross_mm.shape[1])

    def weights(self, begin: datetime, end: datetime) -> Array:
        """The fraction of each hour inside [begin, end); shape (h,)."""
        zero = self.first.timestamp()
        a, b = (begin.timestamp() - zero) / 3600.0, (end.timestamp() - zero) / 3600.0
        hours = np.arange(self.gross_mm.shape[1], dtype=np.float64)
        return np.asarray(np.clip(np.minimum(hours + 1.0, b) - np.maximum(hours, a), 0.0, 1.0))


@dataclass(frozen=True, slots=True)
class Way:
    """One way to act and its expected cost; `under_mm` and `look_at` for waiting."""

    action: str
    cost: float
    top_up_mm: float
    look_at: datetime | None = None
    under_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Choice:
    """The decision for one obligation on one zone, with what it rests on. Depths effective mm."""

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

    @property
    def cost(self) -> float:
        """The expected cost of the chosen way."""
        return next(w.cost for w in self.ways if w.action == self.action)


def decide(
    *,
    obligation: Obligation,
    rain: Rain,
    past_mm: Array,
    windows: Sequence[Window],
    costs: Costs,
    run_time: timedelta,
    now: datetime,
    before: str | None = None,
) -> Choice:
    """Choose between rain, a run and a later look for one open obligation.

    `past_mm` (h,) is effective water by hour since the obligation began to count, up to `now`;
    `windows` the allowed stretches after `now` and after the dry period; `run_time` how long a full
    top-up takes with its soaks; `before` the answer given earlier for the same night.
    """
    begin = max(now, obligation.counts_from)
    due = _due(obligation, windows, begin)
    until = rain.weights(begin, due)
    net = np.nan_to_num(rain.net_mm) * until
    gross = np.nan_to_num(rain.gross_mm) * rain.weights(now, due)
    length = max((due - begin).total_seconds() / 3600.0, 1e-9)
    known = min(1.0, float(until.sum()) / length)

    single = obligation.product.kind.single_event
    if single:
        rained = largest_event(
            np.concatenate([np.broadcast_to(past_mm, (len(net), len(past_mm))), net], axis=1)
        )
        had = obligation.received_mm
        total = np.maximum(rained, had)
    else:
        total = obligation.received_mm + net.sum(axis=1)
    washes_until = max(
        now, obligation.application.ended_at + timedelta(hours=obligation.product.kind.washoff_h)
    )
    flood = obligation.total_received_mm + (np.nan_to_num(rain.net_mm) * rain.weights(now, washes_until)).sum(
        axis=1
    )
    fresh = obligation.product.kind.least_mm if single else 0.0

    measure = _Measure(obligation, costs, total, flood, single)
    hurry = obligation.hurry_at
    late = 0.0
    if hurry is not None and hurry < due:
        by_hurry = (np.nan_to_num(rain.net_mm) * rain.weights(begin, max(hurry, begin))).sum(axis=1)
        late = costs.delay * float((obligation.received_mm + by_hurry < obligation.least_mm).mean())

    missing = obligation.target_mm if single else max(0.0, obligation.target_mm - obligation.received_mm)
    least_missing = max(fresh, obligation.least_mm - (0.0 if single else obligation.received_mm))
    depths = np.unique(
        np.clip(np.array([least_missing, *(missing * np.array([0.25, 0.5, 0.75, 1.0]))]), 0, missing)
    )
    if single:
        depths = depths[depths >= obligation.least_mm - 1e-9]
    usable = [w for w in windows if w.starts_at < due and w.ends_at > begin]
    ways = [Way("rain", float(measure.of(np.zeros(1)).mean()) + late, 0.0)]
    per_depth = measure.of(depths).mean(axis=-1)
    best = int(np.argmin(per_depth))
    if usable:
        first_run = max(usable[0].starts_at, begin)
        ways.append(
            Way(
                "run",
                float(per_depth[best]) + costs.run + _share_late(late, first_run, hurry, due),
                float(depths[best]),
            )
        )
        wait = _best_wait(measure, depths, rain, usable, run_time, costs, now, due, late, hurry)
        if wait is not None:
            ways.append(wait)
    chosen = min(ways, key=lambda w: w.cost)
    kept = next((w for w in ways if w.action == before), None)
    if kept is not None and kept.cost <= chosen.cost + KEEP_WITHIN:
        chosen = kept
    at_gauge = gross.sum(axis=1)
    return Choice(
        action=chosen.action,
        ways=tuple(ways),
        top_up_mm=float(depths[best]),
        look_at=chosen.look_at,
        under_mm=chosen.under_mm,
        look_top_up_mm=chosen.top_up_mm if chosen.action == "wait" else 0.0,
        chance=float((total >= obligation.least_mm - 1e-9).mean()),
        chance_too_much=float((flood > obligation.most_mm).mean()),
        mean_mm=float(at_gauge.mean()),
        low_mm=float(np.quantile(at_gauge, 0.1)),
        high_mm=float(np.quantile(at_gauge, 0.9)),
        share_known=known,
        by=due,
    )


class _Measure:
    """Expected cost of a top-up for every member. Convex, piecewise linear in the depth received."""

    def __init__(
        self, obligation: Obligation, costs: Costs, total: Array, flood: Array, single: bool
    ) -> None:
        self.least, self.target, self.most = obligation.least_mm, obligation.target_mm, obligation.most_mm
        self.costs, self.total, self.flood, self.single = costs, total, flood, single
        steep = costs.shortfall / max(self.least, 1e-9)
        gap = max(self.target - self.least, 1e-9)
        self.steep, self.gentle = steep, min(costs.aim * costs.shortfall / gap, 0.5 * steep)

    def of(self, depths: Array) -> Array:
        """Cost for depths (k,) → (k, m)."""
        top = depths[:, None]
        have = np.maximum(self.total, top) if self.single else self.total + top
        short = self.steep * np.maximum(0.0, self.least - have)
        aim = self.gentle * np.maximum(0.0, self.target - np.maximum(have, self.least))
        lost = self.costs.loss * np.maximum(0.0, self.flood + top - self.most) / max(self.most, 1e-9)
        water = self.costs.water * top / max(self.target, 1e-9)
        return np.asarray(short + aim + lost + water)


def _best_wait(
    measure: _Measure,
    depths: Array,
    rain: Rain,
    windows: Sequence[Window],
    run_time: timedelta,
    costs: Costs,
    now: datetime,
    due: datetime,
    late: float,
    hurry: datetime | None,
) -> Way | None:
    """The best rule "look at L: under x mm in the gauge, run u" over all L, x and u."""
    looks = look_times(windows, run_time, now, min(due, rain.until))
    if not looks:
        return None
    spread = np.stack([rain.weights(now, look) for look in looks])
    read = np.nan_to_num(rain.gross_mm) @ spread.T  # (m, l)
    under = np.array(UNDER_MM)
    run = read.T[:, None, :] < under[None, :, None]  # (l, x, m)
    without = measure.of(np.zeros(1))[0]  # (m,)
    extra = measure.of(depths) + costs.run - without  # (u, m)
    members = run.shape[-1]
    cost = without.mean() + (run.reshape(-1, members) @ extra.T).reshape(*run.shape[:2], -1) / members
    waiting = np.array([_share_late(late, look, hurry, due) for look in looks])
    cost = cost + waiting[:, None, None] + costs.look
    look, x, u = (int(i) for i in np.unravel_index(int(np.argmin(cost)), cost.shape))
    return Way("wait", float(cost[look, x, u]), float(depths[u]), looks[look], float(under[x]))


def look_times(
    windows: Sequence[Window], run_time: timedelta, now: datetime, until: datetime
) -> list[datetime]:
    """Whole hours in the allowed windows that leave time for the run: every hour of the first two
    windows, every third after, and the last moment of each that still leaves time (in whole quarters)."""
    looks: list[datetime] = []
    for number, window in enumerate(windows):
        first = max(window.starts_at, now + timedelta(minutes=45))
        last = min(window.ends_at, until) - run_time
        if last < first:
            continue
        step = 3600 if number < 2 else 3 * 3600
        stamp = -int(-first.timestamp() // step) * step
        while stamp <= last.timestamp():
            looks.append(datetime.fromtimestamp(stamp, now.tzinfo))
            stamp += step
        quarter = datetime.fromtimestamp(last.timestamp() // 900 * 900, now.tzinfo)
        if quarter >= first and quarter not in looks:
            looks.append(quarter)
    return looks


def _share_late(late: float, at: datetime, hurry: datetime | None, due: datetime) -> float:
    """The part of the delay cost that acting at `at` still bears."""
    if hurry is None or at <= hurry:
        return 0.0
    return late * min(1.0, (at - hurry) / max(due - hurry, timedelta(minutes=1)))


def _due(obligation: Obligation, windows: Sequence[Window], begin: datetime) -> datetime:
    """The time by which water is wanted: the due time, or the end of the first window that can still
    serve when that has passed or no allowed hour lies before it."""
    due = obligation.due_at
    if due is not None and due > begin and any(w.starts_at < due for w in windows):
        return due
    if windows:
        return windows[0].ends_at
    return due if due is not None and due > begin else begin + timedelta(hours=24)
