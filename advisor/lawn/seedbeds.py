"""Grass coming up from seed, and what must not meet it.

A zone is a seedbed while it is in seed mode, and for some weeks after seed was recorded on it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from advisor.lawn.records import Application
from advisor.lawn.site_values import Site, Zone
from advisor.wording import short_day

YOUNG_D = 60
"""Days after seeding in which grass bears no herbicide: until mown three or four times, about eight
weeks, from memory of extension advice."""


@dataclass(frozen=True, slots=True)
class Seedbed:
    """Why a zone is a seedbed, until when it is kept moist, and until when its grass is young (local
    dates, inclusive)."""

    zone: str
    why: str
    moist_until: date
    young_until: date


def seedbed(zone: Zone, applications: Iterable[Application], site: Site, at: datetime) -> Seedbed | None:
    """The seedbed that a zone is at the moment `at`, None where it is none."""
    local = site.place.zone
    day = at.astimezone(local).date()
    found: list[Seedbed] = []
    if zone.mode == "seed" and zone.mode_until is not None and day <= zone.mode_until:
        until = zone.mode_until
        found.append(
            Seedbed(zone.name, f"it is in seed mode until {short_day(until, year=True)}", until, until)
        )
    for one in applications:
        product = site.products.get(one.product)
        if product is None or product.kind.form != "seed" or zone.name not in one.zones:
            continue
        sown = one.started_at.astimezone(local).date()
        young = sown + timedelta(days=YOUNG_D)
        if one.started_at <= at and day <= young:
            moist = sown + timedelta(days=product.kind.for_days)
            found.append(
                Seedbed(
                    zone.name, f"{one.product} was sown there on {short_day(sown, year=True)}", moist, young
                )
            )
    return max(found, key=lambda each: (each.young_until, each.moist_until), default=None)


def seed_warnings(
    put_down: Sequence[Application], earlier: Sequence[Application], site: Site
) -> tuple[str, ...]:
    """A sentence for each of `put_down` that hurts seedlings, or that is seed where it may not grow."""
    told: list[str] = []
    everything = (*earlier, *put_down)
    zones = {zone.name: zone for zone in site.zones}
    for one in put_down:
        product = site.products.get(one.product)
        for name in one.zones if product is not None else ():
            assert product is not None
            if product.kind.harms_seedlings and name in zones:
                bed = seedbed(zones[name], everything, site, one.ended_at)
                if bed is not None:
                    told.append(
                        f"{one.product} on {name} can stop or kill grass that comes up from seed, and {bed.why}: "
                        "read its label now"
                    )
            elif product.kind.form == "seed":
                told += _lies_there(one, name, everything, site)
    return tuple(dict.fromkeys(told))


def _lies_there(seed: Application, zone: str, others: Iterable[Application], site: Site) -> list[str]:
    """What went on the zone before the seed and may keep it from growing."""
    told = []
    for one in others:
        product = site.products.get(one.product)
        if product is None or not product.kind.harms_seedlings or zone not in one.zones:
            continue
        wait = timedelta(days=product.kind.seed_after_d)
        if one.ended_at <= seed.started_at < one.ended_at + wait and one.started_at < seed.started_at:
            last = one.ended_at.astimezone(site.place.zone).date()
            told.append(
                f"{seed.product} may not grow on {zone}: {one.product} went there on {short_day(last, year=True)}, and "
                f"seed usually waits {product.kind.seed_after_d:g} days, until {short_day(last + wait, year=True)}; its label decides"
            )
    return told
