"""What each member of the rain would make of one obligation: left alone, run, or run after a look.

The cost of a way is reckoned member by member in shares of losing the whole application (1.0): what is
short of the least depth, what is short of the target, what is lost to too much water, the water, the
trouble, and that sooner is better. Water that comes after the due time still saves a part.

Laws that follow from the form. The cost is convex and piecewise linear in the depth, and more rain
lowers what a deeper run is worth, so more rain never asks for a longer run. Whatever is done, a later
due time counts at least as much water as in time, so it never costs more.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cached_property

import numpy as np

from advisor.hours import Window
from advisor.lawn import WITHIN_H, Judgement
from advisor.science.chance import share_of
from advisor.science.events import largest_event
from advisor.science.hour_shares import hour_shares_to
from advisor.watering_in.applications import ZoneApplication, known
from advisor.weather import Array


@dataclass(frozen=True, slots=True)
class Costs:
    """What being wrong costs, relative to the whole application.

    `shortfall` nothing watered in; `aim` the part of it between the least and the target depth;
    `loss` per most-depth of water beyond the most; `water` the target depth of irrigation; `run` and
    `look` the trouble; `delay` nothing received until the due time where sooner is better. `still_saves` is
    the part of a shortfall that late water saves.
    """

    shortfall: float
    loss: float
    water: float
    run: float
    look: float
    delay: float
    aim: float
    still_saves: float


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

    def cut(self, hours: int) -> Rain:
        """The first `hours` hours of it."""
        return Rain(self.first, self.gross_mm[:, :hours], self.net_mm[:, :hours])

    def weights(self, begin: datetime, ends: Sequence[datetime]) -> Array:
        """The fraction of each hour inside [begin, end) for every end; shape (h, ends)."""
        return hour_shares_to(self.first, self.gross_mm.shape[1], begin, ends)


class ExpectedLoss:
    """One open obligation over the members. All costs are of shape (…, m).

    `openings` are the stretches in which the zone may be watered for it, in order; `run_time` how long
    the runs that may be due take. `horizon` is when late water stops to count: the end of the first
    opening that is long enough, or the due time where that is later. `in_time` says that a run can be
    over by the due time, `by` when a run has to be over. `begin` is from when on the members' rain counts:
    that of the hour of `now` is all to come, so no part of it is lost because that hour is running.
    """

    def __init__(
        self,
        *,
        obligation: ZoneApplication,
        rain: Rain,
        openings: Sequence[Window],
        costs: Costs,
        judgement: Judgement,
        run_time: timedelta,
        now: datetime,
    ) -> None:
        self.obligation, self.rain, self.costs, self.judgement = obligation, rain, costs, judgement
        self.run_time, self.now, self.openings = run_time, now, tuple(openings)
        self.begin = max(rain.first, obligation.counts_from)
        due = obligation.due_at or obligation.counts_from + timedelta(hours=WITHIN_H)
        long_enough = [w for w in openings if w.ends_at - w.starts_at >= run_time] or list(openings)
        first = long_enough[0] if long_enough else None
        last = first.ends_at if first is not None else self.begin + timedelta(hours=WITHIN_H)
        self.run_at = first.starts_at if first is not None else None
        self.due, self.horizon = due, max(due, last)
        self.in_time = self.run_at is not None and self.run_at + run_time <= due
        self.by = due if self.in_time or (first is None and due > self.begin) else self.horizon
        flood_h = obligation.product.kind.washoff_h or judgement.costs.flood_h
        ends = [due, self.horizon, self.by, self.begin + timedelta(hours=flood_h)]
        needed = max(*ends, now) - rain.first
        self.rain = rain = rain.cut(-int(-needed // timedelta(hours=1)))
        self._net = known(rain.net_mm)
        weights = rain.weights(self.begin, ends)
        self.share_known = min(
            1.0, float(weights[:, 2].sum()) * 3600.0 / max((self.by - self.begin).total_seconds(), 1.0)
        )
        self._to_horizon = weights[:, 1]
        self.by_due, self.by_horizon = self._total(weights[:, 0]), self._total(self._to_horizon)
        self.by_then = self.by_due if self.by == due else self.by_horizon
        self.flood = obligation.total_received_mm + self._net @ weights[:, 3]
        self._gross = known(rain.gross_mm)
        self.fallen, self.fallen_by_horizon = self._gross @ weights[:, 2], self._gross @ self._to_horizon

    def in_rain(self, rain: Rain, costs: Costs | None = None) -> ExpectedLoss:
        """The same obligation and chances to run in other rain, say in what then fell, at other costs."""
        return ExpectedLoss(
            obligation=self.obligation,
            rain=rain,
            openings=self.openings,
            costs=costs or self.costs,
            judgement=self.judgement,
            run_time=self.run_time,
            now=self.now,
        )

    def _total(self, weights: Array) -> Array:
        """What rain alone brings towards the least depth, with what was had; (m,)."""
        one = self.obligation
        if not one.product.kind.single_event:
            return np.asarray(one.received_mm + self._net @ weights)
        events = largest_event(self._net * weights, so_far_mm=one.event_mm, dry_h=one.event_dry_h)
        return np.asarray(np.maximum(events, one.received_mm))

    def depths(self) -> Array:
        """The top-ups worth weighing (k,), rising: from what is missing of the least depth to the target.

        None is less than what is missing: a run makes up the least even if no rain follows.
        """
        one = self.obligation
        had = 0.0 if one.product.kind.single_event else one.received_mm
        least, whole = max(0.0, one.least_mm - had), max(0.0, one.target_mm - had)
        return np.array(sorted({least + (whole - least) * share for share in (0.0, 0.25, 0.5, 1.0)}))

    @cached_property
    def may_rain(self) -> bool:
        """Whether there is a chance worth a look that useful rain comes before late water stops to count."""
        judged = self.judgement.looks
        useful = max(judged.useful_mm, judged.useful_share * self.obligation.missing_mm)
        return share_of(self.fallen_by_horizon >= useful) >= judged.useful_chance

    def left(self) -> Array:
        """The cost of leaving it to the rain, (m,)."""
        return self._left

    @cached_property
    def _left(self) -> Array:
        return np.asarray(self.top_up_cost(np.zeros(1), True)[0] + self.late_cost(None))

    def run(self, depths: Array, at: datetime) -> Array:
        """The cost of runs of these depths (k,) that start at `at`, (k, m)."""
        in_time = at + self.run_time <= self.due
        return np.asarray(self.top_up_cost(depths, in_time) + self.costs.run + self.late_cost(at))

    def after_look(self, at: datetime, under_mm: float, depth_mm: float) -> Array:
        """The cost of the rule "look at `at`: under so much in the gauge since now, run so deep", (m,)."""
        runs = self.read([at])[:, 0] < under_mm
        return np.asarray(
            np.where(runs, self.run(np.array([depth_mm]), at)[0], self.left()) + self.costs.look
        )

    def read(self, looks: Sequence[datetime]) -> Array:
        """What the gauge shows at each look since now, (m, looks)."""
        return np.asarray(self._gross @ self.rain.weights(self.rain.first, looks))

    def top_up_cost(self, depths: Array, in_time: bool) -> Array:
        """Water too little, too much and spent for top-ups (k,), over by the due time or not; (k, m)."""
        top, one, costs = depths[:, None], self.obligation, self.costs
        short = self._short(self.by_horizon, top)
        if self.horizon > self.due or not in_time:
            punctual = self._short(self.by_due, top if in_time else np.zeros_like(top))
            short = costs.still_saves * short + (1.0 - costs.still_saves) * punctual
        lost = costs.loss * np.maximum(0.0, self.flood + top - one.most_mm) / max(one.most_mm, 1e-9)
        return np.asarray(short + lost + costs.water * top / max(one.target_mm, 1e-9))

    def _short(self, rained: Array, top: Array) -> Array:
        """What too little water costs: steep below the least depth, gentle from there to the target."""
        one, costs = self.obligation, self.costs
        have = np.maximum(rained, top) if one.product.kind.single_event else rained + top
        steep = costs.shortfall / max(one.least_mm, 1e-9)
        gentle = min(costs.aim * costs.shortfall / max(one.target_mm - one.least_mm, 1e-9), 0.5 * steep)
        return np.asarray(
            steep * np.maximum(0.0, one.least_mm - have)
            + gentle * np.maximum(0.0, one.target_mm - np.maximum(have, one.least_mm))
        )

    def late_cost(self, at: datetime | None) -> Array | float:
        """What it costs that the least depth comes later than is best, by rain or by a run at `at`."""
        if self.obligation.hurry_at is None:
            return 0.0
        if at is None:
            return np.asarray(self.costs.delay * self._rain_late)
        return np.asarray(self.late_costs(np.array([at.timestamp()]))[0])

    def late_costs(self, stamps: Array) -> Array:
        """The same for runs at these POSIX times (l,), shape (l, m)."""
        if self.obligation.hurry_at is None:
            return np.zeros((len(stamps), 1))
        hurry, end = self._hurry, self.horizon.timestamp()
        share = np.clip((stamps - hurry) / max(end - hurry, 60.0), 0.0, 1.0)
        return np.asarray(self.costs.delay * np.minimum(self._rain_late, share[:, None]))

    @property
    def _hurry(self) -> float:
        return min(self.obligation.hurry_at or self.due, self.due).timestamp()

    @cached_property
    def _rain_late(self) -> Array:
        """How late rain alone brings the least depth, by member, 0 (in the best time) to 1 (never)."""
        one = self.obligation
        enough = one.received_mm + np.cumsum(self._net * self._to_horizon, axis=1) >= one.least_mm - 1e-9
        never = ~enough.any(axis=1)
        stamps = self.rain.first.timestamp() + 3600.0 * (np.argmax(enough, axis=1) + 1.0)
        span = max(self.horizon.timestamp() - self._hurry, 60.0)
        share = np.clip((stamps - self._hurry) / span, 0.0, 1.0)
        return np.where(never, 1.0, share)
