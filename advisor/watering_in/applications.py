"""Each recorded application becomes, per zone, what it asks of water and what it has had.

Water counts from the end of application, or of the dry period where there is one: rain as far as it
entered the soil, irrigation as the drier part of the zone got it, to the minute.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from advisor.advice import NeedReason, Reason, ReasonKind, Status
from advisor.lawn import Application, Judgement, Kind, Product, Records, Site
from advisor.science.events import GAP_H, WET_MM, running_event
from advisor.soil_water import Water, fallen_weights, irrigation_by_hour
from advisor.watering_in.water_need import label_sets_depth, water_in_need
from advisor.weather import Array, Weather

SHOWN_AFTER = timedelta(days=2)  # a settled application is still shown for so long


@dataclass(frozen=True, slots=True)
class ZoneApplication:
    """What one application asks of one zone, and what that zone has received since.

    Depths in mm of effective water. `received_mm` is what counts towards the least depth: the sum,
    or the largest single event where the product asks for one; `event_mm` is what the event still going
    on has brought and `event_dry_h` the dry hours since. `runoff_mm` ran off before it was watered in.
    `settled_at` is when it had its least depth.
    """

    application: Application
    product: Product
    zone_index: int
    zone: str
    least_mm: float
    target_mm: float
    most_mm: float
    need_reason: NeedReason
    need_source: str
    dry_until: datetime | None
    counts_from: datetime
    hurry_at: datetime | None
    due_at: datetime | None
    received_mm: float
    rain_received_mm: float
    irrigation_received_mm: float
    total_received_mm: float
    event_mm: float
    event_dry_h: int
    lost_mm: float
    runoff_mm: float
    in_dry_period_mm: float
    settled_at: datetime | None
    status: Status

    @property
    def is_open(self) -> bool:
        """Whether it still asks for water."""
        return self.status in (Status.WAITING, Status.SHORT, Status.OVERDUE) or (
            self.status == Status.KEEP_DRY and self.least_mm > 0
        )

    @property
    def missing_mm(self) -> float:
        """What one run has to bring so that it has its least depth; all of it where it wants one event."""
        had = 0.0 if self.product.kind.single_event else self.received_mm
        return max(0.0, self.least_mm - had)


def zone_applications(
    *, site: Site, records: Records, weather: Weather, water: Water, now: datetime
) -> tuple[tuple[ZoneApplication, ...], tuple[Reason, ...]]:
    """The applications of all applications that still matter at `now`, and what is not understood."""
    found: list[ZoneApplication] = []
    unknown: list[Reason] = []
    index = {zone.name: i for i, zone in enumerate(site.zones)}
    judgement, given_up = site.judgement, timedelta(days=site.judgement.applications.given_up_d)
    for application in records.applications:
        if application.started_at > now:
            continue
        product = site.products.get(application.product)
        if product is None:
            if application.ended_at > now - given_up:
                unknown.append(Reason(kind=ReasonKind.PRODUCT_UNKNOWN, products=(application.product,)))
            continue
        for name in application.zones:
            if name not in index:
                if application.ended_at > now - given_up:
                    unknown.append(
                        Reason(kind=ReasonKind.ZONE_UNKNOWN, products=(application.product,), zones=(name,))
                    )
                continue
            if now > _over_at(application, product.kind, given_up):
                continue
            one = _obligation(application, product, (index[name], name), weather, water, now, judgement)
            if _matters(one, now, given_up):
                found.append(one)
    return tuple(found), tuple(dict.fromkeys(unknown))


def _over_at(application: Application, kind: Kind, given_up: timedelta) -> datetime:
    """From then on it cannot matter, whatever water came: told from its times alone, as most are old."""
    open_for = timedelta(hours=kind.dry_h + kind.due_h) + given_up
    return application.ended_at + max(open_for + SHOWN_AFTER, timedelta(days=kind.for_days))


def _matters(one: ZoneApplication, now: datetime, given_up: timedelta) -> bool:
    if one.is_open:
        return now <= (one.due_at or one.counts_from) + given_up
    kept_moist = timedelta(days=one.product.kind.for_days)
    ends = [one.application.ended_at + SHOWN_AFTER, one.application.ended_at + kept_moist]
    ends += [one.settled_at + SHOWN_AFTER] if one.settled_at is not None else []
    ends += [one.dry_until] if one.dry_until is not None else []
    return now <= max(ends)


def _obligation(
    application: Application,
    product: Product,
    where: tuple[int, str],
    weather: Weather,
    water: Water,
    now: datetime,
    judgement: Judgement,
) -> ZoneApplication:
    kind, judged, (zone_index, zone) = product.kind, judgement.applications, where
    need = water_in_need(
        kind,
        application.method,
        application.dilution,
        judged=judgement.need,
        from_label=label_sets_depth(product),
    )
    ended = application.ended_at
    dry_until = ended + timedelta(hours=kind.dry_h) if kind.dry_h > 0 else None
    counts_from = dry_until or ended
    hurry_at = due_at = None
    if need.target_mm > 0:
        due_at = counts_from + timedelta(hours=kind.due_h)
        hurry_at = counts_from + timedelta(hours=kind.hurry_h) if kind.hurry_h is not None else None

    since = fallen_weights(weather, counts_from, now, now)
    rain = known(water.net_mm[zone_index] * since)
    irrigation, _ = irrigation_by_hour(weather, water.given, zone_index, counts_from, now)
    running = min(max(weather.index_at(now), 0), weather.hours)
    got = rain + irrigation
    got = got[: running + 1] if got[running : running + 1].any() else got[:running]
    events = running_event(got)
    had = events if kind.single_event else np.cumsum(got)
    received, total = float(had.max(initial=0.0)), float(got.sum())
    settled = np.flatnonzero(had >= need.least_mm - 1e-9) if need.target_mm > 0 else np.array([], dtype=int)
    settled_at = min(weather.starts_at(int(settled[0]) + 1), now) if len(settled) else None

    exposed = fallen_weights(weather, ended, now, now)
    if len(settled):
        exposed[_dry_again(water.rain_mm, int(settled[0])) :] = 0.0
    ran_off = float(known(water.runoff_mm[zone_index] * exposed).sum())
    in_dry_period = 0.0
    if dry_until is not None:
        fell = known(water.rain_mm * fallen_weights(weather, ended, dry_until, now)).sum()
        _, gross = irrigation_by_hour(weather, water.given, zone_index, ended, min(now, dry_until))
        in_dry_period = float(fell + gross.sum())
    soon = np.minimum(exposed, fallen_weights(weather, ended, ended + timedelta(hours=kind.washoff_h), now))
    entered = float(known(water.net_mm[zone_index] * soon).sum())
    washed = _is_washed(
        kind,
        fell_mm=float(known(water.rain_mm * soon).sum()),
        in_dry_period_mm=in_dry_period,
        hard=need.target_mm <= 0
        or dry_until is not None
        or ran_off >= judged.ran_off_mm
        or entered > judged.leached * need.most_mm,
        caught_short_mm=judged.caught_short_mm,
    )

    return ZoneApplication(
        application=application,
        product=product,
        zone_index=zone_index,
        zone=zone,
        least_mm=need.least_mm,
        target_mm=need.target_mm,
        most_mm=need.most_mm,
        need_reason=need.reason,
        need_source=need.source,
        dry_until=dry_until,
        counts_from=counts_from,
        hurry_at=hurry_at,
        due_at=due_at,
        received_mm=received,
        rain_received_mm=float(rain.sum()),
        irrigation_received_mm=float(irrigation.sum()),
        total_received_mm=total,
        event_mm=float(events[-1]) if len(events) else 0.0,
        event_dry_h=_dry_since(got),
        lost_mm=max(0.0, total - need.most_mm) if need.most_mm > 0 else 0.0,
        runoff_mm=ran_off,
        in_dry_period_mm=in_dry_period if in_dry_period >= judged.disturbing_mm else 0.0,
        settled_at=settled_at,
        status=_status(
            washed=washed,
            dry=dry_until is not None and now < dry_until,
            asks=need.target_mm > 0,
            settled=settled_at is not None,
            overdue=due_at is not None and now > due_at,
            begun=received > judged.trace_mm,
        ),
    )


def _status(*, washed: bool, dry: bool, asks: bool, settled: bool, overdue: bool, begun: bool) -> Status:
    """How it stands; what is said first wins."""
    if washed:
        return Status.WASHED
    if dry:
        return Status.KEEP_DRY
    if not asks:
        return Status.NOTHING_ASKED
    if settled:
        return Status.WATERED_IN
    if overdue:
        return Status.OVERDUE
    return Status.SHORT if begun else Status.WAITING


def _is_washed(
    kind: Kind, *, fell_mm: float, in_dry_period_mm: float, hard: bool, caught_short_mm: float
) -> bool:
    """Whether rain has probably carried the product away.

    What sits on leaves goes with the kind's depth of rain, or with that much water of any sort in its dry
    period. What is to be watered in goes only with rain that is `hard`: before it was watered in, it ran
    off, or far more entered than the product bears.
    """
    limit = kind.washoff_mm if kind.washoff_mm > 0 else caught_short_mm
    if kind.dry_h > 0 and in_dry_period_mm >= limit:
        return True
    return kind.washoff_mm > 0 and fell_mm >= kind.washoff_mm and hard


def _dry_again(rain_mm: Array, hour: int) -> int:
    """The first hour after `hour` in which it does not rain."""
    dry = np.flatnonzero(known(rain_mm[hour + 1 :]) < WET_MM)
    return hour + 1 + int(dry[0]) if len(dry) else len(rain_mm)


def _dry_since(got: Array) -> int:
    """Dry hours since the last wet one, at most what ends an event."""
    wet = np.flatnonzero(got >= WET_MM)
    return min(GAP_H, len(got) - 1 - int(wet[-1])) if len(wet) else GAP_H


def known(values: Array) -> Array:
    """The same, where what is unknown counts as none; any shape."""
    return np.where(np.isnan(values), 0.0, values)
