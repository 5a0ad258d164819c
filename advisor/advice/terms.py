"""The balance of one zone day by day, term by term, in the field's symbols (FAO-56 eq. 85)."""

from __future__ import annotations

import numpy as np

from advisor.advice.advice import Term
from advisor.advice.ground import Ground
from advisor.weather.civil import as_date
from advisor.weather.weather import Array

DAYS_BACK, DAYS_AHEAD = 10, 5


def balance_terms(ground: Ground) -> tuple[tuple[Term, ...], ...]:
    """Per zone the last ten days and the next five: past from the middle trace, ahead the mean of the
    members without further irrigation. The day that holds `now` is made of both."""
    first, begin = ground.first, ground.begin
    end = first + ground.hours_ahead
    index = ground.demand.day_index
    today = int(index[first])
    low, high = max(int(index[begin]), today - DAYS_BACK), min(int(index[end - 1]), today + DAYS_AHEAD)
    a = max(begin, int(np.searchsorted(index, low)))
    b = min(end, int(np.searchsorted(index, high, side="right")))
    starts = np.flatnonzero(np.diff(index[a:b], prepend=-1))
    ends = np.append(starts[1:], b - a) - 1
    days = index[a:b][starts]

    def joined(past: Array, ahead: Array) -> Array:
        """(z, p) before now and the mean of (z, m, k) after it, cut to the days shown."""
        return np.concatenate([past[:, a - begin :], ahead.mean(axis=1)[:, : b - first]], axis=1)

    def summed(hourly: Array) -> Array:
        return np.add.reduceat(hourly, starts, axis=1)

    water = ground.water
    zones = len(ground.facts)
    rain_ahead = np.broadcast_to(ground.rain_ahead_mm, (zones, *ground.rain_ahead_mm.shape))
    rain_past = np.broadcast_to(np.nan_to_num(water.rain_mm[begin:first]), (zones, first - begin))
    rain = summed(joined(rain_past, rain_ahead))
    net = summed(joined(np.nan_to_num(water.net_mm[:, begin:first]), ground.net_ahead_mm))
    actual = summed(joined(ground.actual_mm[:, 1], ground.ahead_actual_mm))
    deep = summed(joined(ground.percolation_mm[:, 1], ground.ahead_percolation_mm))
    irrigation = summed(water.irrigation_mm[:, a:b])
    potential = summed(ground.etc_mm[:, a:b])
    eto = np.add.reduceat(ground.demand.eto_mm[a:b], starts)
    depletion = joined(ground.depletion_mm[:, 1], ground.ahead_depletion_mm)[:, ends]
    ks = np.divide(actual, potential, out=np.ones_like(actual), where=potential > 1e-9)
    return tuple(
        tuple(
            Term(
                day=as_date(ground.demand.days[day]),
                eto_mm=float(eto[i]),
                kc=float(ground.kc[z, day]),
                ks=float(ks[z, i]),
                etc_mm=float(actual[z, i]),
                rain_mm=float(rain[z, i]),
                effective_rain_mm=float(net[z, i]),
                irrigation_mm=float(irrigation[z, i]),
                deep_percolation_mm=float(deep[z, i]),
                depletion_mm=float(depletion[z, i]),
                forecast=bool(a + starts[i] >= first),
            )
            for i, day in enumerate(days)
        )
        for z in range(zones)
    )
