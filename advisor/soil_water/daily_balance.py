"""The balance of one zone day by day, term by term, in the field's symbols (FAO-56 eq. 85)."""

from __future__ import annotations

import numpy as np

from advisor.advice import Term
from advisor.soil_water.root_zone import RootZone
from advisor.soil_water.water_received import before_now
from advisor.weather import Array, as_date

DAYS_BACK, DAYS_AHEAD = 10, 5


def balance_terms(root_zone: RootZone) -> tuple[tuple[Term, ...], ...]:
    """Per zone the last ten days and the next five: past from the middle trace, ahead the mean of the
    members without further irrigation. The day that holds `now` is made of both."""
    first, begin = root_zone.first, root_zone.begin
    end = first + root_zone.hours_ahead
    index = root_zone.reference_et.day_index
    today = int(index[first])
    low, high = max(int(index[begin]), today - DAYS_BACK), min(int(index[end - 1]), today + DAYS_AHEAD)
    a = max(begin, int(np.searchsorted(index, low)))
    b = min(end, int(np.searchsorted(index, high, side="right")))
    starts = np.flatnonzero(np.diff(index[a:b], prepend=-1))
    ends = np.append(starts[1:], b - a) - 1
    days = index[a:b][starts]

    def joined(past: Array, ahead: Array) -> Array:
        """(z, p) before now and the mean of (z, m, k) after it, cut to the days shown."""
        return np.concatenate([past[:, a - begin :], ahead[:, :, : b - first].mean(axis=1)], axis=1)

    def summed(hourly: Array) -> Array:
        return np.add.reduceat(hourly, starts, axis=1)

    water = root_zone.water
    fell, entered = (np.nan_to_num(before_now(x, begin, first)) for x in (water.rain_mm, water.net_mm))
    rain = summed(joined(fell[None], root_zone.rain_ahead_mm[None]))
    net = summed(joined(entered, root_zone.net_ahead_mm))
    actual = summed(joined(root_zone.actual_mm[:, 1], root_zone.ahead_actual_mm))
    deep = summed(joined(root_zone.percolation_mm[:, 1], root_zone.ahead_percolation_mm))
    irrigation = summed(water.irrigation_mm[:, a:b])
    potential = summed(root_zone.etc_mm[:, a:b])
    eto = np.add.reduceat(root_zone.reference_et.eto_mm[a:b], starts)
    depletion = joined(root_zone.depletion_mm[:, 1], root_zone.ahead_depletion_mm)[:, ends]
    ks = np.divide(actual, potential, out=np.ones_like(actual), where=potential > 1e-9)
    zones = len(actual)
    columns = [
        np.broadcast_to(eto, actual.shape),
        root_zone.kc[:, days],
        ks,
        actual,
        np.broadcast_to(rain, actual.shape),
        net,
        irrigation,
        deep,
        depletion,
    ]
    rows = np.stack(columns, axis=-1).tolist()
    dates = [as_date(root_zone.reference_et.days[day]) for day in days]
    ahead = (a + starts >= first).tolist()
    return tuple(
        tuple(
            Term(
                day=day,
                eto_mm=row[0],
                kc=row[1],
                ks=row[2],
                etc_mm=row[3],
                rain_mm=row[4],
                effective_rain_mm=row[5],
                irrigation_mm=row[6],
                deep_percolation_mm=row[7],
                depletion_mm=row[8],
                forecast=later,
            )
            for day, later, row in zip(dates, ahead, rows[z], strict=True)
        )
        for z in range(zones)
    )
