"""Which night this is, when water may run in it, and the nights that come after."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import lru_cache, partial
from zoneinfo import ZoneInfo

from advisor.advice import ClosedDate, HoursNote
from advisor.hours.window import Window
from advisor.hours.windows import (
    NightWindows,
    allowed_nights,
    closed_dates,
    night_of,
    window_notes,
    windows_for,
)
from advisor.lawn import Rules, Site
from advisor.science.sun import SunTime, sunrise, sunset

NIGHTS_AHEAD = 8
BY_DAY = timedelta(hours=3)  # so long after sunrise and before sunset the day dries (no source)


@dataclass(frozen=True, slots=True)
class Night:
    """Tonight: its local date, its windows from when the owner can act on, and the coming nights that have
    any. `closed` are its dates on which the rules allow no water. `midday` is the middle of the day after,
    from three hours after sunrise to three before sunset, None in a short day."""

    night: date
    windows: tuple[Window, ...]
    later: tuple[NightWindows, ...]
    notes: tuple[HoursNote, ...]
    closed: tuple[ClosedDate, ...]
    sun: SunTime
    midday: Window | None = None

    @property
    def ends_at(self) -> datetime | None:
        """The end of tonight's last window."""
        return self.windows[-1].ends_at if self.windows else None

    @property
    def coming(self) -> tuple[Window, ...]:
        """Tonight's windows and those of the nights after."""
        return (*self.windows, *(w for _, ws in self.later for w in ws))


def look_at_night(site: Site, now: datetime, soonest: datetime | None = None) -> Night:
    """The night that can still be acted on, when water may run in it, and the nights after it.

    Nothing is planned before the owner can act, by `Rules.act_within` or by `soonest` where that was told
    before: the windows begin then, and a night of which less than that is left is over.
    """
    place, rules, soonest = site.place, site.rules, soonest or now + site.rules.act_within
    sun_on = partial(
        sunrise, latitude_deg=place.latitude_deg, longitude_deg=place.longitude_deg, zone=place.zone
    )
    night = night_of(soonest, rules, place.zone, lambda day: sun_on(day=day).at)
    morning = sun_on(day=night + timedelta(days=1))
    evening = sunset(
        day=night + timedelta(days=1),
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        zone=place.zone,
    )
    midday = Window(morning.at + BY_DAY, evening.at - BY_DAY)
    return Night(
        night=night,
        windows=windows_for(rules=rules, night=night, local=place.zone, sunrise_at=morning.at, now=soonest),
        later=_nights_after(night, rules, place.zone, place.latitude_deg, place.longitude_deg),
        notes=window_notes(rules=rules, night=night, local=place.zone, sunrise_at=morning.at),
        closed=closed_dates(rules, night),
        sun=morning,
        midday=midday if midday.starts_at < midday.ends_at else None,
    )


@lru_cache(maxsize=512)  # a season, which every rule lives again
def _nights_after(
    night: date, rules: Rules, local: ZoneInfo, latitude_deg: float, longitude_deg: float
) -> tuple[NightWindows, ...]:
    """The coming nights after `night` that have windows; they do not hang on the time of day."""
    return allowed_nights(
        rules=rules,
        from_night=night + timedelta(days=1),
        local=local,
        sunrise_of=lambda day: (
            sunrise(day=day, latitude_deg=latitude_deg, longitude_deg=longitude_deg, zone=local).at
        ),
        count=NIGHTS_AHEAD,
        within_days=NIGHTS_AHEAD * 2,
    )


def chances_to_run(night: Night, now: datetime) -> tuple[datetime, datetime | None]:
    """When a run could be done with at the latest tonight, and the next chance after tonight.

    Without a window tonight both are moments of the nights after; without any, now and None.
    """
    ends = [ws[-1].ends_at for _, ws in night.later]
    if night.windows:
        return night.windows[-1].ends_at, ends[0] if ends else None
    return now, ends[0] if ends else None
