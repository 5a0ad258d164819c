"""When one zone may be watered for what lies on it: allowed hours, never in a dry period, a person awake."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from advisor.hours import Window, attended
from advisor.lawn import Site
from advisor.watering_in.applications import ZoneApplication

DAY_MIN = 24 * 60
MINUTE = timedelta(minutes=1)


def look_trouble(at: datetime, site: Site) -> float:
    """What a look at `at` costs beyond the usual: while one would be asleep, and off the full hour."""
    judged = site.judgement.looks
    costs = judged.asleep, judged.asleep_per_h, judged.odd_time
    return _trouble(at, site.place.zone, site.rules.awake, costs)


@lru_cache(maxsize=4096)
def _trouble(
    at: datetime, zone: ZoneInfo, awake: tuple[time, time], costs: tuple[float, float, float]
) -> float:
    getting_up, per_h, odd_time = costs
    local = at.astimezone(zone)
    minute = local.hour * 60 + local.minute
    wakes, sleeps = (t.hour * 60 + t.minute for t in awake)
    to_wake, since = (wakes - minute) % DAY_MIN, (minute - sleeps) % DAY_MIN
    asleep = 0 < to_wake < (wakes - sleeps) % DAY_MIN
    odd = odd_time if local.minute else 0.0
    return getting_up + per_h * min(to_wake, since) / 60.0 + odd if asleep else odd


def dry_until(obligations: Iterable[ZoneApplication], zone_index: int, now: datetime) -> datetime | None:
    """Until when the products on a zone keep it dry, None when nothing does any more."""
    ends = [o.dry_until for o in obligations if o.zone_index == zone_index and o.dry_until is not None]
    return max((end for end in ends if end > now), default=None)


def openings(
    *,
    site: Site,
    windows: Sequence[Window],
    one: ZoneApplication,
    obligations: Iterable[ZoneApplication],
    now: datetime,
    shortest: timedelta = timedelta(),
) -> list[Window]:
    """The parts of `windows` in which the zone of `one` may get water that counts for it.

    Not before it begins to count, nor before the last dry period on the zone is over; a zone moved by
    hand is watered in waking hours only. What is shorter than `shortest`, the least run with its soaks,
    is no chance.
    """
    ends = dry_until(obligations, one.zone_index, now)
    begin = max(now, one.counts_from) if ends is None else max(now, one.counts_from, ends)
    found = [Window(max(w.starts_at, begin), w.ends_at) for w in windows if w.ends_at > begin]
    if not site.zones[one.zone_index].by_hand or not found:
        return [w for w in found if w.ends_at - w.starts_at >= shortest]
    return list(attended(found, site.rules.awake, site.place.zone, least=max(shortest, MINUTE)))
