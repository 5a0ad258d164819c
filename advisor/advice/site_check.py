"""What a site file comes to, as handed out."""

from __future__ import annotations

from datetime import date
from typing import Literal

from advisor.advice.frozen import Frozen
from advisor.lawn import (
    Product,
    Rules,
    Site,
    Zone,
    at_odds,
    declared_figures,
    heartbeat_host,
    label_keys,
    to_measure,
)


class PlaceFound(Frozen):
    """Where the lawn is."""

    latitude_deg: float
    """Latitude in degrees, south negative."""
    longitude_deg: float
    """Longitude in degrees, west negative."""
    elevation_m: float
    """Elevation, in m."""
    time_zone: str
    """The IANA time zone."""
    units: str
    """The units that are shown: "metric" or "us"."""


class ZoneFound(Frozen):
    """One zone."""

    zone: str
    """The zone."""
    area_m2: float
    """Its area, in m²."""
    grass: str
    """The grass."""
    soil: str
    """The soil texture."""
    slope_pct: float
    """The slope, in percent."""
    rate_mm_h: float
    """Gross precipitation rate, in mm/h."""
    rate_low_mm_h: float
    """The least it may honestly be, in mm/h."""
    rate_high_mm_h: float
    """The most it may honestly be, in mm/h."""
    rate_basis: str
    """How the rate is known: "measured", "flow" or "guess"."""
    measured_on: date | None
    """When the rate was measured; null where it was not."""
    uniformity: float
    """Low-quarter distribution uniformity, 0 to 1."""
    uniformity_known: bool
    """Whether it was measured; otherwise it is the usual one of the head."""
    total_available_mm: float
    """Total available water of the root zone, in mm."""
    allowed_mm: float
    """Allowed depletion, in mm."""
    ten_minutes_l: float
    """What ten minutes of run time use, in L."""


class HoursFound(Frozen):
    """A stretch of the day in which water may run."""

    begins: str
    """Its beginning in local time, 21:00."""
    ends: str
    """Its end in local time; not after the beginning where it is on the next day."""


class WateringFound(Frozen):
    """When water may run."""

    hours: tuple[HoursFound, ...]
    """The stretches of the day."""
    weekdays: tuple[int, ...]
    """The days of the week, 0 Monday to 6 Sunday."""
    parity: str
    """The dates: "any", "odd" or "even"."""
    finish: str
    """What runs end by: "sunrise" or "window"."""
    blackouts: int
    """How many stretches of dates are without water."""
    flow_l_min: float | None
    """What the supply gives, in L/min; null where it is not said, so that one zone runs at a time."""


class ProductFound(Frozen):
    """One product."""

    product: str
    """The product."""
    kind: str
    """Its kind."""
    form: str
    """Its form: "liquid", "granule" or "seed"."""
    rate: float | None
    """How much per area: mL/m² of a liquid, else g/m²; null where it is not said."""
    least_mm: float
    """The least water that waters it in, in mm; 0 where it is not watered in."""
    target_mm: float
    """The water to aim for, in mm."""
    most_mm: float
    """The most water before some is lost, in mm."""
    dry_h: float
    """How long it must stay dry, in h."""
    stock: float | None
    """What the site file says is there: mL of a liquid, else g; null where it is not said."""
    from_label: tuple[str, ...]
    """What was taken from its label."""


class RoundFound(Frozen):
    """One round."""

    name: str
    """The round."""
    every_days: int
    """How often, in days."""
    products: tuple[str, ...]
    """Its products."""


class SiteCheck(Frozen):
    """What a site file comes to, and what in it is a guess worth measuring."""

    schema_version: Literal["advisor.site-check/1"] = "advisor.site-check/1"
    """The version of this form."""
    site: str
    """The site."""
    file: str
    """The site file."""
    place: PlaceFound
    """Where it is."""
    zones: tuple[ZoneFound, ...]
    """The zones."""
    watering: WateringFound
    """The watering rules and the supply."""
    products: tuple[ProductFound, ...]
    """The products."""
    rounds: tuple[RoundFound, ...]
    """The rounds."""
    careful: str
    """How careful the decisions are: "thrifty", "balanced" or "cautious"."""
    records: str
    """The file of the records."""
    heartbeat: str | None = None
    """Who is called after an evening that went well: a host, or "secret"; null where nobody is."""
    at_odds: tuple[str, ...]
    """What does not go together, a sentence each."""
    to_measure: tuple[str, ...]
    """What is a guess worth measuring, a sentence each."""


class SiteWritten(Frozen):
    """A starter site file that was written."""

    schema_version: Literal["advisor.site-written/1"] = "advisor.site-written/1"
    """The version of this form."""
    site: str
    """What the lawn is called."""
    file: str
    """The file."""


def site_check(site: Site) -> SiteCheck:
    """What a site comes to."""
    place = site.place
    return SiteCheck(
        site=place.name,
        file=str(site.path),
        place=PlaceFound(
            latitude_deg=place.latitude_deg,
            longitude_deg=place.longitude_deg,
            elevation_m=place.elevation_m,
            time_zone=place.zone.key,
            units=place.units,
        ),
        zones=tuple(_zone(zone) for zone in site.zones),
        watering=_watering(site.rules, site.supply.flow_l_min),
        products=tuple(_product(product) for product in site.products.values()),
        rounds=tuple(
            RoundFound(name=each.name, every_days=each.every_days, products=each.products)
            for each in site.rounds
        ),
        careful=site.decision.dial,
        records=str(site.records_path),
        heartbeat=heartbeat_host(site),
        at_odds=tuple(at_odds(site)),
        to_measure=tuple(to_measure(site)),
    )


def _zone(zone: Zone) -> ZoneFound:
    figures = declared_figures(zone)
    return ZoneFound(
        zone=zone.name,
        area_m2=zone.area_m2,
        grass=zone.turf.name,
        soil=zone.soil.name,
        slope_pct=zone.slope_pct,
        rate_mm_h=zone.rate.rate_mm_h,
        rate_low_mm_h=zone.rate.low_mm_h,
        rate_high_mm_h=zone.rate.high_mm_h,
        rate_basis=zone.rate.basis,
        measured_on=zone.rate.measured_on,
        uniformity=zone.uniformity,
        uniformity_known=zone.uniformity_known,
        total_available_mm=figures.taw_mm,
        allowed_mm=figures.allowed_mm,
        ten_minutes_l=figures.ten_minutes_l,
    )


def _watering(rules: Rules, flow_l_min: float | None) -> WateringFound:
    return WateringFound(
        hours=tuple(HoursFound(begins=f"{begin:%H:%M}", ends=f"{end:%H:%M}") for begin, end in rules.hours),
        weekdays=tuple(sorted(rules.weekdays)),
        parity=rules.parity,
        finish=rules.finish,
        blackouts=len(rules.blackouts),
        flow_l_min=flow_l_min,
    )


def _product(product: Product) -> ProductFound:
    kind = product.kind
    return ProductFound(
        product=product.name,
        kind=kind.key,
        form=kind.form,
        rate=product.rate,
        least_mm=kind.least_mm,
        target_mm=kind.target_mm,
        most_mm=kind.most_mm,
        dry_h=kind.dry_h,
        stock=product.stock,
        from_label=tuple(label_keys(product)),
    )
