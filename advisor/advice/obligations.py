"""Each recorded application becomes, per zone, what it asks of water and what it has had."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from advisor.advice.method import water_in_need
from advisor.advice.past import Water, hour_weights
from advisor.lawn.products import Product
from advisor.lawn.records import Application, Records
from advisor.lawn.site import Site
from advisor.science.events import largest_event
from advisor.weather.weather import Array, Weather

SHOWN_AFTER = timedelta(days=2)  # a settled application is still shown for so long
GIVEN_UP_AFTER = timedelta(days=10)  # an unmet one is no longer planned for
DISTURBING_MM = 0.5  # rain in a dry period from here on is told
_DEPTHS = frozenset({"least_mm", "target_mm", "most_mm", "least", "target", "most", "label_minutes"})
CAUGHT_SHORT_MM = 2.5  # rain in a dry period from here on counts as washed (common practice, no source)


@dataclass(frozen=True, slots=True)
class Obligation:
    """What one application asks of one zone, and what that zone has received since.

    Depths in mm of effective water. `received_mm` is what counts towards the least depth: the sum,
    or the largest single event where the product asks for one. `status` is one of "keep dry",
    "waiting", "short", "watered in", "overdue", "washed", "nothing asked".
    """

    application: Application
    product: Product
    zone_index: int
    zone: str
    least_mm: float
    target_mm: float
    most_mm: float
    need_words: str
    need_source: str
    dry_until: datetime | None
    counts_from: datetime
    hurry_at: datetime | None
    due_at: datetime | None
    received_mm: float
    rain_received_mm: float
    irrigation_received_mm: float
    total_received_mm: float
    lost_mm: float
    runoff_mm: float
    in_dry_period_mm: float
    status: str

    @property
    def is_open(self) -> bool:
        """Whether it still asks for water."""
        return self.status in ("waiting", "short", "overdue") or (
            self.status == "keep dry" and self.least_mm > 0
        )


def find_obligations(
    *, site: Site, records: Records, weather: Weather, water: Water, now: datetime
) -> tuple[tuple[Obligation, ...], tuple[str, ...]]:
    """The obligations of all applications that still matter at `now`, and what is not understood."""
    found: list[Obligation] = []
    unknown: list[str] = []
    index = {zone.name: i for i, zone in enumerate(site.zones)}
    for application in records.applications:
        if application.started_at > now:
            continue
        product = site.products.get(application.product)
        if product is None:
            if application.ended_at > now - GIVEN_UP_AFTER:
                unknown.append(
                    f"{application.product} is recorded but the site file has no such product, "
                    "so nothing is known of the water it needs"
                )
            continue
        for name in application.zones:
            if name not in index:
                if application.ended_at > now - GIVEN_UP_AFTER:
                    unknown.append(
                        f"{application.product} is recorded on {name}, a zone the site file no longer has"
                    )
                continue
            one = _obligation(application, product, index[name], name, weather, water, now, site.place.units)
            if _matters(one, now):
                found.append(one)
    return tuple(found), tuple(dict.fromkeys(unknown))


def _matters(one: Obligation, now: datetime) -> bool:
    if one.is_open:
        return now <= (one.due_at or one.counts_from) + GIVEN_UP_AFTER
    return now <= max(one.application.ended_at + SHOWN_AFTER, one.dry_until or now)


def _obligation(
    application: Application,
    product: Product,
    zone_index: int,
    zone: str,
    weather: Weather,
    water: Water,
    now: datetime,
    units: str,
) -> Obligation:
    kind = product.kind
    need = water_in_need(
        kind,
        application.method,
        application.dilution,
        from_label=not _DEPTHS.isdisjoint(product.overrides),
        units=units,
    )
    ended = application.ended_at
    dry_until = ended + timedelta(hours=kind.dry_h) if kind.dry_h > 0 else None
    counts_from = dry_until or ended
    hurry_at = due_at = None
    if need.target_mm > 0:
        due_at = counts_from + timedelta(hours=kind.within_h if kind.within_h is not None else 24.0)
        hurry_at = counts_from + timedelta(hours=kind.hurry_h) if kind.hurry_h is not None else None

    since = hour_weights(weather, counts_from, now)
    rain = _known(water.net_mm[zone_index] * since)
    irrigation = _known(water.irrigation_mm[zone_index] * since)
    runoff = float(_known(water.runoff_mm[zone_index] * since).sum())
    total = float(rain.sum() + irrigation.sum())
    received = float(largest_event(rain + irrigation)) if kind.single_event else total

    washoff = hour_weights(weather, ended, min(now, ended + timedelta(hours=kind.washoff_h)))
    heavy = float(_known(water.rain_mm * washoff).sum())
    wet_while_dry = 0.0
    if dry_until is not None:
        dry = hour_weights(weather, ended, min(now, dry_until))
        wet_while_dry = float(
            _known(water.rain_mm * dry).sum() + _known(water.gross_irrigation_mm[zone_index] * dry).sum()
        )
    lost = max(0.0, total - need.most_mm) if need.most_mm > 0 else 0.0
    washed = (kind.washoff_mm > 0 and heavy >= kind.washoff_mm) or wet_while_dry >= CAUGHT_SHORT_MM

    if washed:
        status = "washed"
    elif dry_until is not None and now < dry_until:
        status = "keep dry"
    elif need.target_mm <= 0:
        status = "nothing asked"
    elif received >= need.least_mm - 1e-9:
        status = "watered in"
    elif due_at is not None and now > due_at:
        status = "overdue"
    else:
        status = "short" if received > 0.2 else "waiting"
    return Obligation(
        application=application,
        product=product,
        zone_index=zone_index,
        zone=zone,
        least_mm=need.least_mm,
        target_mm=need.target_mm,
        most_mm=need.most_mm,
        need_words=need.words,
        need_source=need.source,
        dry_until=dry_until,
        counts_from=counts_from,
        hurry_at=hurry_at,
        due_at=due_at,
        received_mm=received,
        rain_received_mm=float(rain.sum()),
        irrigation_received_mm=float(irrigation.sum()),
        total_received_mm=total,
        lost_mm=lost,
        runoff_mm=runoff,
        in_dry_period_mm=wet_while_dry if wet_while_dry >= DISTURBING_MM else 0.0,
        status=status,
    )


def _known(values: Array) -> Array:
    return np.nan_to_num(values, nan=0.0)


def dry_spans(
    obligations: Sequence[Obligation], zone_index: int, now: datetime
) -> list[tuple[datetime, datetime]]:
    """When a zone must stay dry, from now on."""
    return [
        (o.application.started_at, o.dry_until)
        for o in obligations
        if o.zone_index == zone_index and o.dry_until is not None and o.dry_until > now
    ]
