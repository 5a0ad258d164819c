"""The lawn as it truly is: what its zones did with all the water of a season, once the sky is known.

The same survey that serves tonight is made once of the whole true weather; its demand, allowance and
entering rain are then the truth that every way of watering is judged by.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from advisor.lawn import Audit, Records, Run, Site
from advisor.science.balance import Balance, root_zone_balance
from advisor.soil_water import RootZone, Water, given_by, irrigation_by_hour, survey
from advisor.weather import Array, Weather


@dataclass(frozen=True, eq=False, slots=True)
class TrueLawn:
    """Axes (zone, hour) over the hours of `weather`, which is the truth: demand without stress, allowed
    depletion as a share `p` of `taw_mm` (z,), what rain entered and what ran off."""

    site: Site
    weather: Weather
    ground: RootZone
    etc_mm: Array
    p: Array
    taw_mm: Array
    net_mm: Array
    runoff_mm: Array

    @property
    def allowed_mm(self) -> Array:
        """Allowed depletion, (z, h)."""
        return np.asarray(self.p * self.taw_mm[:, None])

    def hour(self, when: datetime) -> int:
        """The hour that holds `when`."""
        return self.weather.index_at(when)

    def water(self, runs: Sequence[Run]) -> Water:
        """The rain of the whole truth with what these runs truly gave, by hour."""
        given = given_by(runs, [zone.name for zone in self.site.zones], self.ground.figures)
        begins, ends = self.weather.starts_at(0), self.weather.starts_at(self.weather.hours)
        irrigation = [
            irrigation_by_hour(self.weather, given, z, begins, ends)[0] for z in range(len(self.site.zones))
        ]
        return replace(self.ground.water, irrigation_mm=np.stack(irrigation), given=given)

    def course(self, irrigation_mm: Array, *, start_mm: Array | None = None, hours: slice) -> Balance:
        """The root zone over some hours with irrigation (z, m, k); it begins full where no `start_mm`
        (z, m) is given."""
        start = np.zeros(irrigation_mm.shape[:2]) if start_mm is None else start_mm
        return root_zone_balance(
            depletion_start_mm=start,
            etc_mm=self.etc_mm[:, None, hours],
            water_mm=self.net_mm[:, None, hours] + irrigation_mm,
            taw_mm=self.taw_mm,
            p=self.p[:, None, hours],
        )


def true_lawn(site: Site, truth: Weather, audits: Sequence[Audit] = ()) -> TrueLawn:
    """What a site's zones would do with all of the true weather; `truth` needs no rain members.

    A zone's rate is the newest of the `audits`, else that of the site file.

    Raises CannotAdvise where its demand is not known.
    """
    foretold = replace(truth, members_mm=truth.rain_mm[None, :])
    end = truth.starts_at(truth.hours) - timedelta(hours=1)
    ground = survey(site=site, records=Records(audits=tuple(audits)), weather=foretold, now=end)
    days = ground.reference_et.day_index
    return TrueLawn(
        site=site,
        weather=truth,
        ground=ground,
        etc_mm=np.nan_to_num(ground.etc_mm),
        p=ground.p[:, days],
        taw_mm=ground.taw_mm,
        net_mm=np.nan_to_num(ground.water.net_mm),
        runoff_mm=np.nan_to_num(ground.water.runoff_mm),
    )


def gross(lawn: TrueLawn) -> Array:
    """How much water a zone takes for a mm that counts, (z,)."""
    return np.array([f.multiplier for f in lawn.ground.figures])
