"""The standard test of weather-based irrigation scheduling, run through our own `advise` on open weather.

Six reference zones of the Irrigation Association's climatological test protocol, as the US EPA's WaterSense uses it.
FROM MEMORY, all of it: zones, rules, and limits of passing; the landscape coefficients of fescue and bermuda are
read second-hand; intake and surface accumulation are the rows of data/soil.csv, second-hand too. OUR JUDGEMENT, no
source: the coefficients of ground cover, shrubs and trees, and what share of the sun's demand shade leaves (the rows
of data/exposure.csv, 75 % shade read as shade, 50 % as part shade).

How the zones become zones of ours:

- The printed storage is what may be used before watering. Available water and root depth (from memory) give what the
  soil holds in all, and the zone's allowed depletion is such that the two come to exactly the printed storage.
- Application efficiency E: the uniformity is E and the rules are strict about it, so that gross depth = net / E.
- The turf rows carry the judge's coefficients and the zone its share for shade. We draw ours straight from mid-month
  to mid-month, the judge takes the month's; and below the allowance our turf takes less and less (FAO-56 Ks) while the
  judge counts all that is asked below it as deficit. Rain: our canopy keeps 1 mm, the judge 20 %.
- Any hour is allowed and the supply carries all zones at once, for the protocol knows no owner's hours.

A test is 30 days. It begins with the evening before its first day, when the root zone is half full for the judge, and
a probe in the afternoon says so to us; the weather before reaches back 35 days. Of every season it is tested from its first day on, in
steps of 30 days, where the 30 days have the rain and the demand that the protocol wants.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from functools import lru_cache

import numpy as np
from made import made_site, made_zone
from worth.open_data import OpenYear
from worth.standard_judge import (
    START_SHARE,
    Day,
    JudgedCycle,
    JudgedZone,
    Judgement,
    balance,
    judgement,
    passes,
)

from advisor.advice import PlannedRun
from advisor.lawn.records import ProbeReading
from advisor.lawn.site_values import Decision, Place, Rate, RateBasis, Rules, Site, Supply, Turf, Zone
from advisor.lawn.tables import exposure_table, soil_table
from advisor.replay.made_forecast import RECIPES, MadeForecasts
from advisor.replay.season import Season, live
from advisor.replay.true_lawn import true_lawn
from advisor.science.soil import accumulation_at_slope
from advisor.soil_water.reference_et import daily_reference_et

INCH_MM = 25.4
DAYS = 30
LEAST_RAIN_MM, LEAST_ETO_MM = 0.40 * INCH_MM, 2.5 * INCH_MM
EVENING, PROBED = time(20, 15), time(18)
ZONE_FLOW_L_MIN = 10.0

# Landscape coefficients, January to December, full sun.
FESCUE = (0.61, 0.69, 0.77, 0.84, 0.90, 0.93, 0.93, 0.89, 0.83, 0.75, 0.67, 0.59)  # second-hand
BERMUDA = (0.52, 0.64, 0.70, 0.73, 0.73, 0.71, 0.69, 0.67, 0.64, 0.60, 0.57, 0.53)  # second-hand
GROUND_COVER, SHRUBS, TREES = ((share,) * 12 for share in (0.55, 0.40, 0.55))  # our judgement, no source


@dataclass(frozen=True, slots=True)
class ReferenceZone:
    """One of the six: the printed storage [in], precipitation rate [in/h], efficiency; `held_in_in` and `roots_in`,
    what an inch of soil holds and how deep the roots go, only set the water below the allowance."""

    name: str
    soil: str
    slope_pct: float
    light: str
    storage_in: float
    plants: str
    kc: tuple[float, ...]
    rate_in_h: float
    efficiency: float
    held_in_in: float
    roots_in: float

    @property
    def sun(self) -> float:
        """The share of open-sky demand."""
        return exposure_table()[self.light]

    @property
    def judged(self) -> JudgedZone:
        """As the judge has it, mm."""
        soil = soil_table()[self.soil]
        return JudgedZone(
            storage=self.storage_in * INCH_MM,
            rate_h=self.rate_in_h * INCH_MM,
            intake_h=soil.intake_mm_h,
            accumulation=accumulation_at_slope(soil.accumulation_mm, self.slope_pct),
            efficiency=self.efficiency,
        )


ZONES = (
    ReferenceZone("1", "loam", 6, "shade", 0.85, "fescue", FESCUE, 1.6, 0.55, 0.17, 10.0),
    ReferenceZone("2", "silty clay", 10, "full sun", 0.55, "bermuda", BERMUDA, 1.6, 0.60, 0.17, 8.1),
    ReferenceZone(
        "3", "loamy sand", 8, "full sun", 0.90, "ground cover", GROUND_COVER, 1.4, 0.70, 0.09, 20.0
    ),
    ReferenceZone("4", "sandy loam", 12, "part shade", 2.00, "shrubs", SHRUBS, 1.4, 0.75, 0.13, 28.0),
    ReferenceZone("5", "clay loam", 2, "full sun", 2.25, "trees", TREES, 0.2, 0.80, 0.18, 25.0),
    ReferenceZone("6", "clay", 20, "full sun", 0.55, "bermuda", BERMUDA, 0.35, 0.65, 0.17, 9.2),
)


@dataclass(frozen=True, slots=True, eq=False)
class Period:
    """Thirty days of a season, from the local day `first` on."""

    year: OpenYear
    first: date
    rain_mm: float
    eto_mm: float

    @property
    def qualifies(self) -> bool:
        """Whether it has the rain and the demand that the protocol wants."""
        return self.rain_mm >= LEAST_RAIN_MM and self.eto_mm >= LEAST_ETO_MM

    @property
    def name(self) -> str:
        """Place and first day."""
        return f"{self.year.place} {self.first:%Y-%m-%d}"


@dataclass(frozen=True, slots=True, eq=False)
class Row:
    """What a zone came to in a period by a recipe of forecasts; `days` is the balance behind it, mm."""

    period: Period
    recipe: str
    zone: str
    judged: Judgement
    days: tuple[Day, ...]


def periods_of(year: OpenYear) -> list[Period]:
    """The season in steps of 30 whole days, whether they qualify or not."""
    found: list[Period] = []
    first = year.first
    while first + timedelta(days=DAYS - 1) <= year.last:
        _, rain, eto = daily(year, first)
        found.append(Period(year, first, float(rain.sum()), float(eto.sum())))
        first += timedelta(days=DAYS)
    return found


def daily(year: OpenYear, first: date) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """The 30 local days from `first` on with their gross rain and reference evapotranspiration, mm."""
    days, rain, eto = _truth(year)
    begin = int(np.searchsorted(days, np.datetime64(first)))
    part = slice(begin, begin + DAYS)
    return days[part], rain[part], eto[part]


@lru_cache
def _truth(year: OpenYear) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    demand = daily_reference_et(year.weather, year.time_zone)
    rain = np.bincount(demand.day_index, weights=year.weather.rain_mm, minlength=len(demand.days))
    return demand.days, rain, demand.eto_day_mm


def kc_at(zone: ReferenceZone, latitude_deg: float) -> tuple[float, ...]:
    """The coefficients of a zone, moved by six months where the seasons are the southern ones."""
    return zone.kc if latitude_deg >= 0.0 else zone.kc[6:] + zone.kc[:6]


def our_zone(zone: ReferenceZone, latitude_deg: float) -> Zone:
    """A reference zone as the site file would have it."""
    held_mm = zone.held_in_in * zone.roots_in * INCH_MM
    kc = kc_at(zone, latitude_deg)
    allowed = zone.storage_in * INCH_MM / held_mm
    rate, roots_m = zone.rate_in_h * INCH_MM, zone.roots_in * INCH_MM / 1000.0
    return made_zone(
        zone.name,
        turf=Turf(zone.plants, zone.plants, "warm", kc, allowed, roots_m, "standard test"),
        soil=replace(soil_table()[zone.soil], available_mm_m=1000.0 * zone.held_in_in),
        slope_pct=float(zone.slope_pct),
        exposure=zone.sun,
        exposure_name=zone.light,
        root_depth_m=roots_m,
        rate=Rate(rate, RateBasis.MEASURED, rate, rate),
        uniformity=zone.efficiency,
        allowed_depletion=allowed,
        flow_l_min=ZONE_FLOW_L_MIN,
    )


def site_of(year: OpenYear, decision: Decision | None = None) -> Site:
    """The invented site of the six zones at the place of this weather."""
    place = Place(
        year.place, year.latitude_deg, year.longitude_deg, year.elevation_m, year.time_zone, "metric"
    )
    return made_site(
        *(our_zone(zone, year.latitude_deg) for zone in ZONES),
        place=place,
        rules=Rules(hours=(), finish="window", strict_uniformity=True),
        supply=Supply(ZONE_FLOW_L_MIN * len(ZONES)),
        decision=decision or Decision(),
    )


def judged_rows(period: Period, recipe: str, *, seed: int = 1, decision: Decision | None = None) -> list[Row]:
    """The 30 days lived by our advice, and what the judge says of each zone."""
    year = period.year
    site = site_of(year, decision)
    first = period.first - timedelta(days=1)
    read_at = datetime.combine(first, PROBED, year.time_zone)
    probes = tuple(
        ProbeReading(zone.name, read_at, (1.0 - START_SHARE) * zone.judged.storage) for zone in ZONES
    )
    season = Season(
        site,
        true_lawn(site, year.weather),
        first,
        first + timedelta(days=DAYS - 1),
        evening=EVENING,
        probes=probes,
    )
    lived = live(season, _sky(year, recipe, seed))
    days, rain, eto = daily(year, period.first)
    months = days.astype("datetime64[M]").astype(int) % 12
    rows: list[Row] = []
    for zone in ZONES:
        kc = np.array(kc_at(zone, year.latitude_deg))[months] * zone.sun
        cycles = cycles_of((run for run in lived.planned if run.zone == zone.name), period)
        judged = zone.judged
        found = balance(
            judged,
            etc=(kc * eto).tolist(),
            rain=rain.tolist(),
            cycles=cycles,
            start=START_SHARE * judged.storage,
        )
        rows.append(Row(period, recipe, zone.name, judgement(found), tuple(found)))
    return rows


@lru_cache(maxsize=4)
def _sky(year: OpenYear, recipe: str, seed: int) -> MadeForecasts:
    return MadeForecasts(year.weather, recipe=RECIPES[recipe], seed=seed, local=year.time_zone)


def cycles_of(runs: Iterable[PlannedRun], period: Period) -> list[JudgedCycle]:
    """The cycles in order, each on the local day on which it begins; those of the first evening before midnight count
    on the first day, those after the last midnight on the last."""
    local = period.year.time_zone
    begins = datetime.combine(period.first, time(), local)
    found = []
    for cycle in sorted((c for run in runs for c in run.cycles), key=lambda c: c.starts_at):
        day = (cycle.starts_at.astimezone(local).date() - period.first).days
        begun, ended = ((at - begins) / timedelta(hours=1) for at in (cycle.starts_at, cycle.ends_at))
        found.append(JudgedCycle(min(max(day, 0), DAYS - 1), begun, ended))
    return found


def lived_by_rule(years: Iterable[OpenYear]) -> Iterator[tuple[Period, str]]:
    """What is lived, by rule: every qualifying period of these seasons by honest forecasts; the first one of each
    season by perfect ones and by none, too."""
    for year in years:
        qualified = [period for period in periods_of(year) if period.qualifies]
        for number, period in enumerate(qualified):
            yield period, "honest"
            if number == 0:
                yield period, "perfect"
                yield period, "none"


HEAD = (
    f"{'period':28}{'forecast':9}{'zone':>4}{'adequacy':>10}{'excess':>8}{'direct':>8}{'soak':>7}{'over':>7}"
    f"{'gross':>7}{'ETc':>7}{'deficit':>9}{'rain':>7}"
)


def line(row: Row) -> str:
    """A row of the table; depths in mm, rain as it entered."""
    j = row.judged
    name = row.period.name + (" *" if row.period.year.made_rain else "")
    depths = (
        f"{j.direct:8.1f}{j.soak:7.1f}{j.surplus:7.1f}{j.gross:7.1f}{j.etc:7.1f}{j.deficit:9.1f}{j.rain:7.1f}"
    )
    return f"{name:28}{row.recipe:9}{row.zone:>4}{j.adequacy:10.3f}{j.excess:8.3f}{depths}"


def table(rows: Iterable[Row]) -> list[str]:
    """The rows, those of least adequacy first; * marks made rain."""
    return [HEAD, *(line(row) for row in sorted(rows, key=lambda row: row.judged.adequacy))]


def passed(rows: Sequence[Row]) -> bool:
    """Whether the six zones of one period pass."""
    return passes([row.judged for row in rows])
