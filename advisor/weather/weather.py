"""The one hourly weather object that every source becomes and all advice rests on.

Hours are UTC and labelled by their START; they are contiguous. NaN is unknown, never zero.
Amounts (rain, snow, radiation) belong to the hour; temperature, dew point and wind are taken
as the mean of the hour's two ends where a source gives instants.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

import numpy as np
import numpy.typing as npt

from advisor.advice import Note, NoteKind, NoteLevel
from advisor.errors import SourceError

Array = npt.NDArray[np.float64]
Hours = npt.NDArray[np.datetime64]
NAMES = "<U80"  # what a source's name may take


@dataclass(frozen=True, slots=True)
class SourceUse:
    """A source that this weather rests on: for what, how old, how far it reaches, whom to credit."""

    name: str
    serves: str
    fetched_at: datetime
    reaches_until: datetime
    attribution: str = ""
    members: int = 0


@dataclass(frozen=True, eq=False, slots=True)
class Weather:
    """Hourly weather, past and forecast, for one place.

    Shapes: every series (h,), `members_mm` (m, h) with m ≥ 0; float64, NaN unknown.
    `rain_mm` is total precipitation (snow water included), `snow_mm` the part that fell as snow
    (water equivalent); `members_mm` total precipitation per member, NaN before the members begin
    and past their horizon. `wind10_m_s` is at 10 m. `rs_mj_m2_h` is shortwave radiation per hour.
    `cloud` and `chance` are fractions 0–1; `chance` is the source's own hourly chance of rain.
    `eto_source_mm` is the source's own reference evapotranspiration, a cross-check only.
    `rain_basis` says per hour what the rain rests on: "" unknown, "gauge", "archive" or "model";
    `air_from` whose temperature, humidity, wind and radiation an hour has, "" being the first source's.
    `gauge_mm` is the part of `rain_mm` that the gauge measured, `gauge_share` the share 0–1 of the hour that
    its readings cover: of the hour that is running they tell what has fallen from what is foretold.
    """

    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    starts: Hours
    temp_c: Array
    dew_c: Array
    wind10_m_s: Array
    rs_mj_m2_h: Array
    rain_mm: Array
    snow_mm: Array
    cloud: Array
    chance: Array
    eto_source_mm: Array
    members_mm: Array
    rain_basis: npt.NDArray[np.str_]
    air_from: npt.NDArray[np.str_]
    gauge_mm: Array
    gauge_share: Array
    sources: tuple[SourceUse, ...] = ()
    notes: tuple[Note, ...] = ()

    def index_at(self, when: datetime) -> int:
        """The index of the hour that holds `when` (may be negative or past the end)."""
        first = self.starts[0].astype("datetime64[s]").astype(int)
        return int((when.timestamp() - first) // 3600)

    def starts_at(self, index: int) -> datetime:
        """The aware UTC start of hour `index`, also outside the series."""
        first = int(self.starts[0].astype("datetime64[s]").astype(int))
        return datetime.fromtimestamp(first + 3600 * index, UTC)

    @property
    def hours(self) -> int:
        """How many hours there are."""
        return len(self.starts)


SERIES = (
    "temp_c",
    "dew_c",
    "wind10_m_s",
    "rs_mj_m2_h",
    "rain_mm",
    "snow_mm",
    "cloud",
    "chance",
    "eto_source_mm",
)
BY_HOUR = (*SERIES, "rain_basis", "air_from", "gauge_mm", "gauge_share")
"""All that a weather has by hour, but its hours and its members."""


def failed(failure: SourceError) -> Note:
    """The note of a service's failure, in the failure's own words."""
    return Note(
        level=NoteLevel.WARNING, kind=NoteKind.SERVICE_FAILED, source=failure.source, reason=failure.reason
    )


def hours_between(first: datetime, last: datetime) -> Hours:
    """The hour starts from `first` (floored to the hour) up to but not including `last`, UTC."""
    begin = np.datetime64(int(first.timestamp() // 3600 * 3600), "s")
    count = max(0, -int(-(last.timestamp() - begin.astype(int)) // 3600))
    return begin + np.arange(count) * np.timedelta64(3600, "s")


def blank(
    latitude_deg: float, longitude_deg: float, elevation_m: float, starts: Hours, members: int
) -> Weather:
    """Weather with everything unknown, for a source to fill in through `dataclasses.replace`."""
    h = len(starts)
    unknown: dict[str, Any] = {name: np.full(h, np.nan) for name in SERIES}
    return Weather(
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        elevation_m=elevation_m,
        starts=starts,
        members_mm=np.full((members, h), np.nan),
        rain_basis=np.full(h, "", dtype="<U8"),
        air_from=np.full(h, "", dtype=NAMES),
        gauge_mm=np.zeros(h),
        gauge_share=np.zeros(h),
        **unknown,
    )
