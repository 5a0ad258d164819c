"""Grass coming up from seed, and what must not meet it.

A zone is a seedbed while it is in seed mode, and for some weeks after seed was recorded on it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from advisor.lawn.records import Application
from advisor.lawn.site_values import Site, Zone

YOUNG_D = 60
"""Days after seeding in which grass bears no herbicide: until mown three or four times, about eight
weeks, from memory of extension advice."""


@dataclass(frozen=True, slots=True)
class Seedbed:
    """A zone on which grass comes up from seed.

    `seed` was sown there on the local date `sown_on`; "" and None where the zone is in seed mode. It is
    kept moist until `moist_until`, and its grass is young until `young_until` (local dates, inclusive).
    """

    zone: str
    seed: str
    sown_on: date | None
    moist_until: date
    young_until: date


class SeedConflictKind(StrEnum):
    """How something put down and seed do not go together."""

    HARMS_SEED = "harms seed"
    MAY_NOT_GROW = "may not grow"


@dataclass(frozen=True, slots=True)
class SeedConflict:
    """A product put down on a zone where it hurts seedlings, or seed put where it may not grow.

    `bed` is the seedbed that is harmed. `other` went on the zone before the seed, on the local date
    `other_on`, and `wait_d` days are waited after it.
    """

    kind: SeedConflictKind
    product: str
    zone: str
    bed: Seedbed | None = None
    other: str = ""
    other_on: date | None = None
    wait_d: float = 0.0


def seedbed(zone: Zone, applications: Iterable[Application], site: Site, at: datetime) -> Seedbed | None:
    """The seedbed that a zone is at the moment `at`, None where it is none."""
    local = site.place.zone
    day = at.astimezone(local).date()
    found: list[Seedbed] = []
    if zone.mode == "seed" and zone.mode_until is not None and day <= zone.mode_until:
        found.append(Seedbed(zone.name, "", None, zone.mode_until, zone.mode_until))
    for one in applications:
        product = site.products.get(one.product)
        if product is None or product.kind.form != "seed" or zone.name not in one.zones:
            continue
        sown = one.started_at.astimezone(local).date()
        young = sown + timedelta(days=YOUNG_D)
        if one.started_at <= at and day <= young:
            moist = sown + timedelta(days=product.kind.for_days)
            found.append(Seedbed(zone.name, one.product, sown, moist, young))
    return max(found, key=lambda each: (each.young_until, each.moist_until), default=None)


def seed_conflicts(
    put_down: Sequence[Application], earlier: Sequence[Application], site: Site
) -> tuple[SeedConflict, ...]:
    """What of `put_down` hurts seedlings, or is seed where it may not grow; by product and zone."""
    found: list[SeedConflict] = []
    everything = (*earlier, *put_down)
    zones = {zone.name: zone for zone in site.zones}
    for one in put_down:
        product = site.products.get(one.product)
        if product is None:
            continue
        for name in one.zones:
            if product.kind.harms_seedlings and name in zones:
                bed = seedbed(zones[name], everything, site, one.ended_at)
                if bed is not None:
                    found.append(SeedConflict(SeedConflictKind.HARMS_SEED, one.product, name, bed))
            elif product.kind.form == "seed":
                found += _lies_there(one, name, everything, site)
    return tuple(dict.fromkeys(found))


def _lies_there(
    seed: Application, zone: str, others: Iterable[Application], site: Site
) -> list[SeedConflict]:
    """What went on the zone before the seed and may keep it from growing."""
    found = []
    for one in others:
        product = site.products.get(one.product)
        if product is None or not product.kind.harms_seedlings or zone not in one.zones:
            continue
        wait = timedelta(days=product.kind.seed_after_d)
        if one.ended_at <= seed.started_at < one.ended_at + wait and one.started_at < seed.started_at:
            found.append(
                SeedConflict(
                    SeedConflictKind.MAY_NOT_GROW,
                    seed.product,
                    zone,
                    other=one.product,
                    other_on=one.ended_at.astimezone(site.place.zone).date(),
                    wait_d=product.kind.seed_after_d,
                )
            )
    return found
